"""What is assumed cannot break, what disagrees cannot narrow, and the state of the engine comes first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.findings.judge import sort_findings
from boostwright.findings.model import Harm, Verdict
from boostwright.views.numbers import fill
from boostwright.views.words import headline
from tests.findings.test_subjects import build, case, found
from tests.sample import RPM, changed, finding, goal


def _spread(torque_times: float) -> float:
    """Spread of the pump's demand over its value, with a stated curve so much above the computed one."""
    given = case()
    speeds = np.array([2000.0, 3000.0, 4000.0, 5000.0])
    computed = np.interp(speeds * RPM, given.baseline.speeds, given.baseline.result.torque)
    rows = " ".join(f"{t:.2f}" for t in computed * torque_times)
    rest = f'[baseline]\nspeed = "2000 3000 4000 5000 rpm"\ntorque = "{rows} Nm"\nsource = "measured"\n'
    demand = found("fuel.pump_flow", case(build(rest=rest))).demand
    assert demand is not None
    assert demand.sd is not None
    return demand.sd / demand.value


def test_a_stated_curve_narrows_the_air_only_as_far_as_it_agrees() -> None:
    without = found("fuel.pump_flow", case()).demand
    assert without is not None
    assert without.sd is not None
    class_spread = without.sd / without.value
    assert _spread(1.0) < class_spread
    assert (
        _spread(1.25) >= 0.19
    )  # the model gives a fifth less than stated: that much is not known of the air
    assert _spread(1.25) > class_spread


@pytest.mark.parametrize(
    ("code", "rest", "opens"),
    [
        ("fuel.injector_duty", '[injectors]\nflow = "200 cc/min"\n', "No injectors are stated"),
        ("fuel.pump_flow", '[pump]\nflow = "40 L/h"\n', "No pump is stated"),
    ],
)
def test_an_assumed_part_is_said_and_never_breaks(code: str, rest: str, opens: str) -> None:
    hungry = replace(goal(), result=goal().result._replace(fuel_flow=3.0 * goal().result.fuel_flow))
    assumed, stated = found(code, case(line_with=hungry)), found(code, case(build(rest=rest), hungry))
    assert assumed.verdict is Verdict.UNKNOWN
    assert fill(assumed.cause).startswith(opens)
    assert stated.verdict is Verdict.BREAKS
    assert opens not in fill(stated.cause)


def test_assumed_rods_and_pistons_are_said_and_never_break() -> None:
    given = case()
    assert given.strength is not None
    pressed = given.strength.result._replace(peak_pressure=3.0 * given.strength.result.peak_pressure)
    strong = replace(given.strength, result=pressed)
    stated = build(engine='rods = "cast"\npistons = "cast"')
    for code in ("strength.rod_load", "strength.peak_pressure"):
        assert found(code, case(strength=strong)).verdict is Verdict.UNKNOWN
        assert "are assumed" in fill(found(code, case(strength=strong)).cause)
        assert found(code, case(stated, strength=strong)).verdict is Verdict.BREAKS


def test_a_pump_that_is_enough_by_its_middle_is_told_to_be_measured() -> None:
    small = found("fuel.pump_flow", case(build(rest='[pump]\nflow = "40 L/h"\n')))
    need = small.demand
    assert need is not None
    rest = f'[pump]\nflow = "{need.value * 3.6e6 * 1.1:.1f} +/- {need.value * 3.6e6 * 0.2:.1f} L/h"\n'
    near = found("fuel.pump_flow", case(build(rest=rest + 'flow_pressure = "3.6 bar"\nvoltage = "13.5 V"\n')))
    assert near.verdict is not Verdict.HOLDS
    assert "the spread" in fill(near.remedy)
    assert "Fit a pump" not in fill(near.remedy)
    assert "Fit a pump" in fill(small.remedy)


def test_surge_and_choke_never_send_you_both_ways() -> None:
    n = goal().speed.size
    narrow = replace(goal(), flow_over_surge=np.full(n, 1.1), flow_over_choke=np.full(n, 0.97))
    one, other = (found(code, case(line_with=narrow)) for code in ("turbo.surge", "turbo.choke"))
    assert one.verdict is not Verdict.HOLDS
    assert other.verdict is not Verdict.HOLDS
    assert one.remedy == other.remedy
    assert "map" in fill(one.remedy)
    only_surge = replace(narrow, flow_over_choke=np.full(n, 0.3))
    assert "or less" in fill(found("turbo.surge", case(line_with=only_surge)).remedy)


def test_a_sick_engine_is_the_headline_whatever_else_breaks() -> None:
    sick = changed(finding("engine.leak_down"), probability=0.4, verdict=Verdict.BREAKS, harm=Harm.DAMAGE)
    lean = changed(finding(), probability=0.0, verdict=Verdict.BREAKS, harm=Harm.SEVERE)
    ordered = sort_findings((lean, sick))
    assert [f.code for f in ordered] == ["engine.leak_down", "fuel.injector_duty"]
    assert "engine itself" in headline(ordered, Verdict.BREAKS)
    tight = changed(sick, probability=0.7, verdict=Verdict.TIGHT)
    assert sort_findings((lean, tight))[0].code == "fuel.injector_duty"
    assert "engine itself" not in headline((lean, tight), Verdict.BREAKS)

"""Spring, boost wanted, cut and sensor in their order; torque wanted; what nobody reads is said."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from boostwright.build.document import Build
from boostwright.findings.judgement import _not_judged
from boostwright.findings.model import Verdict
from boostwright.readers.build_file import read_build
from boostwright.views.document import to_json
from boostwright.views.numbers import fill
from boostwright.views.terminal import terminal_report
from tests.findings.test_subjects import MINIMAL, build, case, found, maybe
from tests.sample import result


def gate(rows: str) -> str:
    return f"[wastegate]\n{rows}\n"


@pytest.mark.parametrize(
    ("spring", "verdict"),
    [("0.4 bar", Verdict.HOLDS), ("0.6 bar", Verdict.HOLDS), ("0.9 bar", Verdict.BREAKS)],
)
def test_a_spring_stiffer_than_the_wish_breaks(spring: str, verdict: Verdict) -> None:
    """The goal is 0.6 bar; a spring of the goal itself is what one fits."""
    rows = f'spring = {{ value = "{spring}", source = "measured" }}'
    one = found("boost.spring", case(build(rest=gate(rows))))
    assert one.verdict is verdict
    assert one.demand is not None
    assert one.demand.value == pytest.approx(float(spring.split()[0]) * 1e5)


def test_creep_stands_on_the_spring_and_an_assumed_spring_is_silent() -> None:
    spring = 'spring = { value = "0.6 bar", source = "measured" }\n'
    creep = 'creep = { value = "30 kPa", source = "measured" }'
    one = found("boost.spring", case(build(rest=gate(spring + creep))))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(0.9e5)
    assert one.verdict is Verdict.BREAKS
    for code in ("boost.spring", "boost.spring_alone", "boost.cut", "sensor.cut", "goal.torque"):
        assert maybe(code, case()) is None


def test_a_soft_spring_alone_cannot_hold_the_wish() -> None:
    soft = 'spring = { value = "0.25 bar", source = "measured" }\n'
    assert (
        found("boost.spring_alone", case(build(rest=gate(soft + 'control = "spring"')))).verdict
        is Verdict.BREAKS
    )
    assert found("boost.spring_alone", case(build(rest=gate(soft)))).verdict is Verdict.UNKNOWN
    assert maybe("boost.spring_alone", case(build(rest=gate(soft + 'control = "solenoid"')))) is None
    long = 'full_open = { value = "1.0 bar", source = "measured" }\ncontrol = "spring"'
    held = found("boost.spring_alone", case(build(rest=gate(soft + long)))).capacity
    assert held is not None
    assert held.value == pytest.approx(0.625e5)


def test_the_cut_stands_between_boost_and_the_top_of_the_sensor() -> None:
    def with_cut(cut: str, top: str = "250 kPa") -> str:
        return f'[controller]\nboost_cut = "{cut}"\n[pressure_sensor]\nhighest = "{top}"\n'

    assert found("boost.cut", case(build(rest=with_cut("205 kPa")))).verdict is Verdict.HOLDS
    low = found("boost.cut", case(build(rest=with_cut("165 kPa"))))
    assert low.verdict is Verdict.BREAKS
    assert low.demand is not None
    assert low.demand.value == pytest.approx(1.0e5 + 0.6e5 + 8e3 + 10e3)  # creep and spike by default
    stiff = '[wastegate]\nspring = "0.9 bar"\n' + with_cut("205 kPa")
    assert found("boost.cut", case(build(rest=stiff))).verdict is not Verdict.HOLDS
    assert found("sensor.cut", case(build(rest=with_cut("205 kPa")))).verdict is Verdict.HOLDS
    assert found("sensor.cut", case(build(rest=with_cut("205 kPa", "150 kPa")))).verdict is Verdict.BREAKS


def test_torque_wanted_is_set_against_the_torque_computed() -> None:
    def wanting(torque: int) -> Verdict:
        return found("goal.torque", case(_wanting(torque))).verdict

    given = case()
    assert given.goal is not None
    best = float(given.goal.result.torque.max())
    assert wanting(round(0.8 * best)) is Verdict.HOLDS
    assert wanting(round(1.2 * best)) is Verdict.BREAKS
    one = found("goal.torque", case(_wanting(round(1.2 * best))))
    assert "more boost" in fill(one.remedy)


def _wanting(torque: int) -> Build:
    text = MINIMAL.format(engine="", fuel="", rest="").replace("[goal]", f'[goal]\ntorque = "{torque} Nm"')
    return read_build(text.encode())


def test_what_is_stated_and_read_by_nobody_is_said_on_every_door() -> None:
    rest = '[wastegate]\nspring = "0.5 bar"\nvalve_diameter = "26 mm"\n'
    assert _not_judged(build(rest=rest)) == ("wastegate.valve_diameter",)
    told = replace(result(), not_judged=("wastegate.valve_diameter",))
    assert "Stated but not judged yet: wastegate.valve_diameter." in terminal_report(told)
    assert json.loads(to_json(told))["not_judged"] == ["wastegate.valve_diameter"]
    assert "Stated but not judged yet" not in terminal_report(result())

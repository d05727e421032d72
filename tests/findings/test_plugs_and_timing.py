"""Plug gap, heat range and base timing: arithmetic by hand, one direction each, remedies at their word."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.findings.case import Case
from boostwright.findings.model import Verdict
from boostwright.findings.registry import find_all
from boostwright.fitting.data import _spark
from boostwright.systems.ignition import CHARGE_GAS_CONSTANT
from boostwright.systems.stated.ignition import timing_error_of
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import DEG, ENGINE, goal


def plugs(gap: str = "0.65 mm", coil: str = "36 kV", more: str = "plug_heat = 3") -> Build:
    text = f'[ignition]\nsource = "measured"\nplug_gap = "{gap}"\ncoil_voltage = "{coil}"\n{more}\n'
    return build(rest=text)


def dense(mass: float = 8e-4, spark: float = -20.0, T: float = 360.0) -> Case:
    """A case with one charge at every speed."""
    line = goal()
    n = line.speed.size
    cycle = line.result._replace(trapped_mass=np.full(n, mass), charge_temperature=np.full(n, T))
    return case(plugs(), replace(line, result=cycle, used_spark=np.full(n, spark * DEG)))


def on(document: Build, given: Case) -> Case:
    return replace(given, build=document)


@check(
    "limit",
    id="N8",
    note="trapped mass over the volume at the spark, by hand, into 24.36 x + 6.72 sqrt(x) kV; exact",
)
def test_voltage_by_hand() -> None:
    one = found("ignition.spark_voltage", dense())
    a, rod, theta = 0.043, 0.143, -20.0 * DEG
    travel = a * (1 - np.cos(theta)) + rod - np.sqrt(rod**2 - (a * np.sin(theta)) ** 2)
    volume = ENGINE.clearance_volume + np.pi / 4 * 0.086**2 * travel
    x = 8e-4 / volume * CHARGE_GAS_CONSTANT * 293.15 / 1e5 * 0.065  # bar cm
    assert one.demand is not None
    assert one.demand.value == pytest.approx((24.36 * x + 6.72 * np.sqrt(x)) * 1e3, rel=1e-9)


def test_more_charge_and_a_later_spark_and_a_wider_gap_ask_for_more() -> None:
    def asked(given: Case) -> float:
        demand = found("ignition.spark_voltage", given).demand
        assert demand is not None
        return demand.value

    assert asked(dense(9e-4)) > asked(dense(7e-4))
    assert asked(dense(spark=-8.0)) > asked(dense(spark=-25.0))
    assert asked(on(plugs("0.9 mm"), dense())) > asked(on(plugs("0.6 mm"), dense()))
    assert asked(dense(T=420.0)) == pytest.approx(asked(dense(T=330.0)))  # the same molecules


@check("common practice", id="N9", note="10 to 30 % more for the plug of a pair that fires backwards")
def test_a_pair_fires_one_plug_backwards() -> None:
    one, pair = (
        found("ignition.spark_voltage", on(plugs(more=f'coils = "{kind}"'), dense())).demand
        for kind in ("single", "paired")
    )
    assert one is not None
    assert pair is not None
    assert 1.10 <= pair.value / one.value <= 1.30


def test_the_rotors_gap_counts_only_where_nobody_read_the_coil_behind_it() -> None:
    def asked(text: str) -> float:
        demand = found("ignition.spark_voltage", on(build(rest=f"[ignition]\n{text}"), dense())).demand
        assert demand is not None
        return demand.value

    bare = asked('plug_gap = "0.65 mm"')
    assert asked('plug_gap = "0.65 mm"\ncoils = "distributor"') == pytest.approx(bare + 2.0e3)
    assert asked('plug_gap = "0.65 mm"\ncoils = "distributor"\ncoil_voltage = "30 kV"') == pytest.approx(bare)


@pytest.mark.parametrize(
    ("gap", "coil", "verdict"),
    [
        ("0.65 mm", "36 kV", Verdict.HOLDS),
        ("1.2 mm", "36 kV", Verdict.BREAKS),
        ("0.65 mm", "16 kV", Verdict.BREAKS),
    ],
)
def test_gap_against_coil(gap: str, coil: str, verdict: Verdict) -> None:
    assert found("ignition.spark_voltage", on(plugs(gap, coil), dense())).verdict is verdict


def test_the_gap_of_the_remedy_holds() -> None:
    one = found("ignition.spark_voltage", on(plugs("1.1 mm"), dense()))
    assert one.verdict is Verdict.BREAKS
    widest = one.remedy.amounts["widest"].value
    assert 0.5e-3 < widest < 1.1e-3
    again = found("ignition.spark_voltage", on(plugs(f"{widest * 1e3:.3f} mm"), dense()))
    assert again.verdict is Verdict.HOLDS


def test_the_coil_of_the_remedy_is_enough_for_its_gap() -> None:
    one = found("ignition.spark_voltage", on(plugs("0.7 mm", "12 kV"), dense(9e-4, -5.0)))
    stronger = one.remedy.amounts["stronger"].value
    again = found(
        "ignition.spark_voltage", on(plugs("0.5 mm", f"{stronger / 1e3:.1f} kV"), dense(9e-4, -5.0))
    )
    assert again.verdict is Verdict.HOLDS


@pytest.mark.parametrize("kind", ["single", "paired", "distributor"])
@pytest.mark.parametrize(("gap", "coil", "mass"), [(0.8, 15, 5e-4), (1.2, 25, 5e-4), (0.8, 40, 9e-4)])
def test_a_coil_that_lets_the_gap_stay_holds(kind: str, gap: float, coil: float, mass: float) -> None:
    def with_coil(kilovolts: float) -> Build:
        return plugs(f"{gap} mm", f"{kilovolts:.3f} kV", f'coils = "{kind}"')

    one = found("ignition.spark_voltage", on(with_coil(coil), dense(mass, -5.0)))
    assert one.verdict is not Verdict.HOLDS
    needed = one.remedy.amounts["needed"].value
    if needed < 60e3:
        again = found("ignition.spark_voltage", on(with_coil(needed / 1e3 + 1e-3), dense(mass, -5.0)))
        assert again.verdict is Verdict.HOLDS


def test_a_gap_that_nobody_stated_may_hold_but_not_break() -> None:
    one = found("ignition.spark_voltage", on(build(), dense(11e-4, -5.0)))
    assert one.verdict is Verdict.UNKNOWN
    assert fill(one.cause).startswith("Nobody has stated the plugs' gap")


def test_a_coil_that_nobody_stated_is_called_a_usual_one() -> None:
    bare = build(rest='[ignition]\nplug_gap = "0.65 mm"\n')
    assert "nobody has stated this one" in fill(found("ignition.spark_voltage", on(bare, dense())).cause)
    assert "nobody has stated" not in fill(found("ignition.spark_voltage", dense()).cause)


def test_a_minimal_build_gets_one_question_on_ignition_and_no_more() -> None:
    asked = [f.code for f in find_all(case()) if f.code.startswith(("ignition.", "electrics."))]
    assert asked == ["ignition.spark_voltage"]


# --------------------------------------------------------------------------------------------------- heat


@pytest.mark.parametrize(("steps", "verdict"), [(0, Verdict.BREAKS), (4, Verdict.HOLDS)])
def test_heat_range_by_power(steps: int, verdict: Verdict) -> None:
    strong = goal(boost=1.0e5)
    one = found("ignition.plug_heat", case(plugs(more=f"plug_heat = {steps}"), strong))
    assert one.verdict is verdict
    assert int(one.remedy.amounts["wanted"].value) <= 4


def test_the_steps_of_the_remedy_hold() -> None:
    strong = goal(boost=0.8e5)
    one = found("ignition.plug_heat", case(plugs(more="plug_heat = 0"), strong))
    wanted = int(one.remedy.amounts["wanted"].value)
    assert wanted >= 1
    assert (
        found("ignition.plug_heat", case(plugs(more=f"plug_heat = {wanted}"), strong)).verdict
        is Verdict.HOLDS
    )


def test_more_power_and_a_warmer_charge_ask_for_more_steps() -> None:
    def steps(line_with: object) -> float:
        capacity = found("ignition.plug_heat", case(plugs(), line_with)).capacity  # type: ignore[arg-type]
        assert capacity is not None
        return capacity.value

    mild, strong = goal(boost=0.3e5), goal(boost=0.9e5)
    hot = replace(mild, result=mild.result._replace(charge_temperature=mild.result.charge_temperature + 60.0))
    assert steps(strong) > steps(mild)
    assert steps(hot) == pytest.approx(steps(mild) + 0.6, abs=0.01)


def test_thin_air_does_not_make_the_engine_before_weaker() -> None:
    low = found("ignition.plug_heat", case(plugs())).capacity
    high = found("ignition.plug_heat", case(plugs(), ambient_pressure=0.75e5)).capacity
    assert low is not None
    assert high is not None
    assert high.value < low.value


# ------------------------------------------------------------------------------------------------- timing


def timing(
    read: str | None = "10 deg", manual: str | None = "10 deg", locked: str | None = "true", more: str = ""
) -> Build:
    lines = [f'base_timing = "{read}"'] if read else []
    lines += [f'base_timing_manual = "{manual}"'] if manual else []
    lines += [f"timing_locked = {locked}"] if locked else []
    return build(rest='[ignition]\nsource = "measured"\n' + "\n".join(lines) + f"\n{more}\n")


@pytest.mark.parametrize(
    ("document", "verdict"),
    [
        (timing(), Verdict.HOLDS),
        (timing("16 deg"), Verdict.BREAKS),
        (timing("4 deg"), Verdict.BREAKS),
        (timing("16 deg", locked="false"), Verdict.UNKNOWN),
        (timing("10 deg", locked="false"), Verdict.UNKNOWN),
        (timing("10 deg", locked=None), Verdict.UNKNOWN),
        (timing("10 deg", manual=None), Verdict.UNKNOWN),
        (timing(None), Verdict.UNKNOWN),
    ],
)
def test_base_timing(document: Build, verdict: Verdict) -> None:
    assert found("ignition.base_timing", case(document)).verdict is verdict


def test_base_timing_that_nobody_read_is_asked_by_nobody() -> None:
    assert maybe("ignition.base_timing", case(timing(None, None))) is None
    assert maybe("ignition.base_timing", case()) is None


def test_base_timing_that_agrees_is_left_alone() -> None:
    assert fill(found("ignition.base_timing", case(timing())).remedy).startswith("Leave it")
    assert "piston stop" in fill(found("ignition.base_timing", case(timing("16 deg"))).remedy)


def test_the_doubt_of_the_mark_has_a_spread_of_its_own() -> None:
    one = found("controller.timing", case(build(rest='[controller]\ntiming_error = "2.5 +/- 1.0 deg"\n')))
    assert one.demand is not None
    assert one.demand.sd == pytest.approx(0.5 * DEG)
    parts = found("controller.timing", case(timing(None, None, None, PROVEN)))
    assert parts.demand is not None
    assert parts.demand.sd == pytest.approx(0.25 * parts.demand.value)


def test_the_side_of_the_error_is_said() -> None:
    assert "early" in fill(found("ignition.base_timing", case(timing("16 deg"))).cause)
    assert "late" in fill(found("ignition.base_timing", case(timing("4 deg"))).cause)


PROVEN = 'mark_error = "0.3 deg"\nlight_error = "0.3 deg"\ndamper_slip = "0 deg"\ntrigger_drift = "0.4 deg"'


def test_proven_parts_hold_and_a_slipped_damper_breaks() -> None:
    good = found("controller.timing", case(timing(None, None, None, PROVEN)))
    assert good.verdict is Verdict.HOLDS
    slipped = PROVEN.replace('damper_slip = "0 deg"', 'damper_slip = "8 deg"')
    bad = found("controller.timing", case(timing(None, None, None, slipped)))
    assert bad.verdict is Verdict.BREAKS
    assert "damper" in fill(bad.cause)
    assert "hub" in fill(bad.remedy)


def test_an_offset_read_locked_is_taken_out_by_the_remedy() -> None:
    one = found("controller.timing", case(timing("16 deg", more=PROVEN)))
    assert one.verdict is Verdict.BREAKS
    assert one.remedy.amounts["off"].value == pytest.approx(6 * DEG)
    assert one.remedy.amounts["doubt"].value == pytest.approx(np.hypot(np.hypot(0.3, 0.3), 0.4) * DEG)


def test_the_doubt_reaches_knock() -> None:
    def spread(document: Build) -> float:
        demand = found("knock.half_burned", case(document)).demand
        assert demand is not None
        assert demand.sd is not None
        return demand.sd

    wide = timing("16 deg")
    assert timing_error_of(wide).either > 7 * DEG
    assert spread(wide) > spread(build()) > spread(timing(None, None, None, PROVEN))


BEFORE = """
[baseline]
source = "measured"
speed = "2000 3000 4000 5000 rpm"
torque = "150 160 165 150 Nm"
spark = "18 22 25 27 deg"
"""


def test_a_logged_spark_is_shifted_by_what_the_light_read() -> None:
    plain, off = (_spark(timing(read, more=BEFORE)) for read in ("10 deg", "16 deg"))
    assert plain is not None
    assert off is not None
    assert off.value - plain.value == pytest.approx(np.full(4, -6.0 * DEG))


def test_strength_and_knock_name_what_their_doubt_rests_on() -> None:
    parts = case(timing(None, None, None, PROVEN))
    assert "ignition.mark_error" in found("strength.peak_pressure", parts).about
    assert "controller.timing_error" in found("strength.peak_pressure", case()).about

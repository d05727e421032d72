"""The rules, one by one: the arithmetic against an independent one, and that demands follow what they rest
on.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.findings.case import Case, GoalLine, StrengthLine
from boostwright.findings.limits import shipped_limits
from boostwright.findings.model import Finding, Harm, Kind, Verdict
from boostwright.findings.registry import find_all, rules
from boostwright.readers.build_file import read_build
from boostwright.systems.corners import Threshold
from boostwright.systems.engine.types import Fuel
from boostwright.views.numbers import fill
from tests.labels import check
from tests.sample import DEG, ENGINE, RPM, cycles, goal, line

MINIMAL = """
[build]
name = "Test bed"
[goal]
boost = "0.6 bar"
[engine]
class = "four-valve"
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
{engine}
[fuel]
octane = "95 RON"
{fuel}
{rest}
"""


def build(engine: str = "", fuel: str = "", rest: str = "") -> Build:
    """A build with some lines added."""
    return read_build(MINIMAL.format(engine=engine, fuel=fuel, rest=rest).encode())


def case(document: Build | None = None, line_with: GoalLine | None = None, **fields: object) -> Case:
    """A case of invented arrays."""
    with_turbo = goal() if line_with is None else line_with
    strong = StrengthLine(
        with_turbo.speed, with_turbo.mbt_spark - 2 * DEG, 2 * DEG, cycles(with_turbo.speed, 0.9e5)
    )
    made = Case(
        build=document or build(), engine=ENGINE, fuel=Fuel(ron=95.0), ambient_pressure=1.0e5,
        ambient_temperature=298.15, baseline=line(), limits=shipped_limits(), goal=with_turbo,
        strength=strong,
    )  # fmt: skip
    return replace(made, **fields)  # type: ignore[arg-type]


def found(code: str, of: Case) -> Finding:
    """The finding of one rule, which must be there."""
    one = next(r for r in rules() if r.code == code)(of)
    assert one is not None
    return one


def maybe(code: str, of: Case) -> Finding | None:
    return next(r for r in rules() if r.code == code)(of)


# ----------------------------------------------------------------------------------------------------------
# -- all


def test_every_rule_gives_a_whole_finding_and_codes_are_its_own() -> None:
    for one in find_all(case()):
        rule = next(r for r in rules() if r.code == one.code)
        assert one.subject == rule.subject
        assert one.harm is rule.harm
        for phrase in (one.cause, one.remedy, *one.notes):
            text = fill(phrase)
            assert "{" not in text
            assert "nan" not in text.lower()
            assert "not known" not in text
        assert fill(one.cause).endswith(".")
        assert fill(one.remedy).endswith(".")
        assert one.reading.what.endswith((".", "!")) is True
        assert "!" not in fill(one.cause) + fill(one.remedy) + one.reading.what + one.harm_words
        if one.verdict is not Verdict.UNKNOWN:
            assert one.probability is not None
        for field in one.about:
            assert field in case().build or case().build.get(field) is None


def test_without_a_goal_line_only_the_engine_is_judged() -> None:
    codes = {f.code for f in find_all(case(goal=None, strength=None))}
    assert codes <= {
        c for c in codes if c.startswith(("engine.", "baseline.", "strength.piston", "turbo.line"))
    }
    assert "engine.condition" in codes
    assert "baseline.torque_per_litre" in codes


def test_a_turbo_side_that_could_not_be_computed_is_unknown_never_silent() -> None:
    one = found("turbo.line", case(goal=None, strength=None, no_goal="Wheel {trim} outside the ground."))
    assert one.verdict is Verdict.UNKNOWN
    assert fill(one.cause) == "Wheel (trim) outside the ground."
    assert maybe("turbo.line", case()) is None


def test_points_that_did_not_settle_are_left_out() -> None:
    spoilt = goal()
    settled = np.ones(spoilt.speed.size, dtype=bool)
    settled[3] = False
    bad = {
        name: np.where(settled, getattr(spoilt, name), worst)
        for name, worst in (
            ("flow_over_surge", 0.01),
            ("flow_over_choke", 9.0),
            ("tip_speed", 9999.0),
            ("boost", 9e5),
        )
    }
    clean, dirty = case(), case(line_with=replace(spoilt, settled=settled, **bad))
    for code in ("turbo.surge", "turbo.choke", "turbo.tip_speed", "sensor.range", "boost.reached"):
        a, b = found(code, clean), found(code, dirty)
        assert a.demand is not None
        assert b.demand is not None
        assert b.demand.value == pytest.approx(a.demand.value, rel=0.1), code


# ------------------------------------------------------------------------------------------------------
# condition


@pytest.mark.parametrize(
    ("readings", "verdict"),
    [("13.0 13.1 12.9 13.0 bar", Verdict.HOLDS), ("13.0 13.1 9.5 13.0 bar", Verdict.BREAKS)],
)
def test_evenness_of_compression(readings: str, verdict: Verdict) -> None:
    one = found(
        "engine.compression",
        case(build(f'compression_pressure = {{ value = "{readings}", source = "measured" }}')),
    )
    values = [float(v) + 1.0 for v in readings.split()[:4]]  # absolute
    assert one.demand is not None
    assert one.demand.value == pytest.approx(min(values) / max(values), rel=1e-9)
    assert one.verdict in ((verdict, Verdict.TIGHT) if verdict is Verdict.HOLDS else (verdict,))
    assert ("let it out" in fill(one.cause)) is (verdict is Verdict.BREAKS)  # an even engine is not blamed
    if verdict is Verdict.BREAKS:
        assert "cylinder 3" in one.place.words


def test_leak_down_takes_the_worst_cylinder() -> None:
    one = found("engine.leak_down", case(build('leak_down = "6 24 7 6 %"')))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(0.24)
    assert one.verdict is Verdict.BREAKS
    assert "cylinder 2" in one.place.words


@check("common practice", note="a tired engine idles hot below 0.7 to 1 bar")
def test_low_oil_pressure_breaks_and_a_good_one_holds() -> None:
    low = found(
        "engine.oil_idle", case(build('oil_pressure_idle = { value = "0.4 bar", source = "measured" }'))
    )
    good = found(
        "engine.oil_idle", case(build('oil_pressure_idle = { value = "1.6 bar", source = "measured" }'))
    )
    assert low.verdict is Verdict.BREAKS
    assert good.verdict is Verdict.HOLDS


# -------------------------------------------------------------------------------------------------------
# strength


@check("limit", note="definition: mean piston speed is two strokes for each turn")
def test_piston_speed() -> None:
    one = found("strength.piston_speed", case(build('speed_limit = "7000 rpm"')))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(2 * 0.086 * 7000 / 60, rel=1e-12)
    assert one.place.speed == pytest.approx(7000 * RPM)
    forged = found("strength.piston_speed", case(build('speed_limit = "7000 rpm"\npistons = "forged"')))
    assert forged.capacity is not None
    assert one.capacity is not None
    assert forged.capacity.value > one.capacity.value


def test_peak_pressure_is_judged_at_the_hardest_burn_not_at_the_knock_limit() -> None:
    one = found("strength.peak_pressure", case())
    given = case()
    assert given.strength is not None
    assert given.goal is not None
    assert one.demand is not None
    assert one.demand.value == pytest.approx(given.strength.result.peak_pressure.max())
    assert one.demand.value > given.goal.result.peak_pressure.max()
    assert "2.0" in fill(one.cause)  # the worst timing error, in degrees


def test_rod_load_by_hand() -> None:
    """Gas on the piston less its inertia, against the greatest before; slider-crank to second order by
    hand.
    """
    given = case(build('reciprocating_mass = { value = "520 g", source = "measured" }'))
    assert given.strength is not None

    def by_hand(peak: np.ndarray, angle: np.ndarray, speed: np.ndarray) -> np.ndarray:
        r, rod = 0.043, 0.143
        gas = (peak - 101325.0) * math.pi / 4 * 0.086**2
        return gas - 0.520 * r * speed**2 * (np.cos(angle) + r / rod * np.cos(2 * angle))

    strong, base = given.strength, given.baseline
    after = by_hand(strong.result.peak_pressure, strong.result.peak_angle, strong.speed)
    before = by_hand(base.at_mbt.peak_pressure, base.at_mbt.peak_angle, base.speeds)
    one = found("strength.rod_load", given)
    assert one.demand is not None
    assert one.demand.value == pytest.approx(
        after.max() / before.max(), rel=5e-3
    )  # third order of the linkage


@pytest.mark.parametrize(
    ("rods", "before", "offered"),
    [("sintered", 1.05, True), ("sintered", 0.9, True), ("sintered", 0.3, False), ("forged", 0.3, False)],
)
def test_rods_are_offered_only_where_they_help_and_boost_comes_in_time(
    rods: str, before: float, offered: bool
) -> None:
    """Full boost held back to the speed limit is no advice; nor are forged rods where they are fitted, or
    where they would not stand it either.
    """
    base = line()
    slack = cycles(base.speeds)
    weak = base._replace(at_mbt=slack._replace(peak_pressure=slack.peak_pressure * before))
    one = found("strength.rod_load", case(build(f'rods = "{rods}"'), baseline=weak))
    assert one.verdict is Verdict.BREAKS
    said = fill(one.remedy)
    assert ("fit forged rods" in said.lower()) is offered
    assert "hold full boost back" not in said.lower()


# ----------------------------------------------------------------------------------------------------------
# knock


def test_knock_takes_the_latest_boosted_point_and_keeps_two_degrees() -> None:
    given = case()
    one = found("knock.half_burned", given)
    assert given.goal is not None
    latest = float(given.goal.result.ca50[given.goal.boost >= 0.3e5].max())
    assert one.demand is not None
    assert latest < one.demand.value < latest + 4 * DEG
    assert "retreat" in fill(one.cause)


def test_less_octane_at_the_pump_is_worse() -> None:
    chances = [
        found("fuel.octane", case(build(fuel=f'poorest_octane = "{ron} RON"'))).probability
        for ron in (95, 93, 91)
    ]
    assert chances[0] is not None
    assert chances[1] is not None
    assert chances[2] is not None
    assert chances[0] > chances[1] > chances[2]
    assert found("fuel.octane", case()).verdict is Verdict.UNKNOWN


def test_a_later_burn_is_worse_and_a_known_knock_factor_narrows() -> None:
    late = replace(goal(), result=cycles(goal().speed, 1.1e5))
    early = case()
    assert (found("knock.half_burned", case(line_with=late)).probability or 0) < (
        found("knock.half_burned", early).probability or 0
    )
    known = case(build(rest='[model]\nknock = { value = "1.0 +/- 0.1", source = "measured" }'))
    wide, narrow = found("knock.half_burned", early).demand, found("knock.half_burned", known).demand
    assert wide is not None
    assert narrow is not None
    assert wide.sd is not None
    assert narrow.sd is not None
    assert narrow.sd < wide.sd


def test_out_of_reach_is_said_not_numbered() -> None:
    late = replace(goal(), result=cycles(goal().speed, 3.0e5))
    text = fill(found("knock.half_burned", case(line_with=late)).remedy)
    assert "RON" not in text
    assert "together" in text


# ---------------------------------------------------------------------------------------- exhaust, sensor,
# boost


def test_each_exhaust_place_has_its_own_gas_and_material() -> None:
    given = case(build(rest='[manifold]\nmaterial = "ni-resist"'))
    assert given.goal is not None
    r = given.goal.result
    for code, gas in (
        ("exhaust.valve", r.exhaust_valve_temperature),
        ("exhaust.manifold", r.exhaust_port_temperature),
        ("exhaust.turbine", given.goal.turbine_inlet_temperature),
    ):
        one = found(code, given)
        assert one.demand is not None
        assert one.demand.value == pytest.approx(gas.max())
        assert one.demand.kind is Kind.TEMPERATURE
    assert found("exhaust.manifold", given).limit.key == "exhaust_nickel_iron"


def test_knock_is_blamed_for_heat_only_where_it_holds_the_spark_back() -> None:
    late, free = goal(), goal()
    free = replace(free, used_spark=free.mbt_spark)
    late = replace(late, used_spark=late.mbt_spark + 8 * DEG)
    assert "8.0\u00a0deg later" in fill(found("exhaust.valve", case(line_with=late)).cause)
    assert "later than" not in fill(found("exhaust.valve", case(line_with=free)).cause)


def test_a_manifold_of_unknown_material_is_unknown_unless_it_is_cool() -> None:
    assert found("exhaust.manifold", case()).verdict is Verdict.UNKNOWN
    cool = goal()
    cycle = cool.result._replace(exhaust_port_temperature=np.full(12, 800.0))
    assert found("exhaust.manifold", case(line_with=replace(cool, result=cycle))).verdict is Verdict.HOLDS


def test_an_unknown_sensor_is_unknown_and_never_holds() -> None:
    one = found("sensor.range", case())
    assert one.verdict is Verdict.UNKNOWN
    assert one.probability is None
    assert one.capacity is not None
    assert one.capacity.value == 105e3
    for top, verdict in (("300 kPa", Verdict.HOLDS), ("115 kPa", Verdict.BREAKS)):
        known = found("sensor.range", case(build(rest=f'[pressure_sensor]\nhighest = "{top}"')))
        assert known.verdict is verdict
        assert "build file, line" in known.limit.source


@check("limit", id="M1", note="top of the range: outside air, boost, and what stands above it")
def test_what_the_sensor_must_see() -> None:
    rest = '[wastegate]\ncreep = "10 kPa"\nspike = "12 kPa"'
    one = found("sensor.range", case(build(rest=rest)))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(100e3 + 60e3 + 10e3 + 12e3)


def test_boost_that_no_turbine_drives_breaks_and_one_that_comes_late_is_said() -> None:
    weak = replace(goal(), turbine_enough=np.zeros(12, dtype=bool), boost=np.full(12, 0.2e5))
    one = found("boost.reached", case(line_with=weak))
    assert one.verdict is Verdict.BREAKS
    assert maybe("boost.arrival", case(build(rest=""), weak)) is None
    document = read_build(
        MINIMAL.replace('boost = "0.6 bar"', 'boost = "0.6 bar"\nboost_by = "1800 rpm"')
        .format(engine="", fuel="", rest="")
        .encode()
    )
    late = found("boost.arrival", case(document, threshold=Threshold(2300 * RPM, 2400 * RPM, 75 * RPM)))
    assert late.verdict is Verdict.BREAKS
    assert late.harm is Harm.NUISANCE
    assert late.demand is not None
    assert late.demand.value == 2400 * RPM  # from below it comes later than it goes
    assert late.demand.sd == pytest.approx(math.hypot(75, 100) * RPM)
    text = fill(late.cause)
    assert "2300\u00a0rpm" in text
    assert "2400\u00a0rpm" in text
    one = fill(found("boost.arrival", case(document, threshold=Threshold(2300 * RPM, 2301 * RPM, 0.0))).cause)
    assert "same speed" in one
    never = Threshold(math.nan, math.nan, math.nan)
    assert maybe("boost.arrival", case(document, threshold=never)) is None


def test_surge_follows_the_engine_line() -> None:
    near = replace(goal(), flow_over_surge=np.linspace(0.7, 2.0, 12))
    one = found("turbo.surge", case(line_with=near))
    assert one.demand is not None
    counted = near.pressure_ratio > 1.2
    assert one.demand.value == pytest.approx(near.flow_over_surge[counted].min())
    assert one.verdict is Verdict.BREAKS


# -------------------------------------------------------------------------------------------------------
# baseline


def test_the_stated_curve_is_compared_where_it_stands() -> None:
    rest = '[baseline]\nspeed = "2000 3000 4000 rpm"\ntorque = "150 170 250 Nm"\n'
    given = case(build(rest=rest))
    one = found("baseline.stated_torque", given)
    computed = float(np.interp(4000 * RPM, given.baseline.speeds, given.baseline.result.torque))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(1 - computed / 250.0, rel=1e-9)
    assert one.place.speed == pytest.approx(4000 * RPM)
    assert "less than you state" in fill(one.cause)
    wheels = found("baseline.stated_torque", case(build(rest=rest + 'at = "wheels"\n')))
    assert wheels.demand is not None
    assert wheels.demand.value > one.demand.value


@check("published", source="iso1585", note="factor (99/p_d)^1.2 (T/298)^0.6, from memory")
def test_a_stated_curve_is_brought_to_the_air_of_the_place() -> None:
    """2300 m take a quarter of the torque: a curve from the book is no fault of the engine up there."""
    rest = '[baseline]\nspeed = "2000 3000 4000 rpm"\ntorque = "150 170 600 Nm"\n'
    high = {"ambient_pressure": 76.7e3, "ambient_temperature": 288.15}

    def stated_there(more: str) -> float:
        one = found("baseline.stated_torque", case(build(rest=rest + more), **high))
        assert one.demand is not None
        computed = float(np.interp(4000 * RPM, case().baseline.speeds, case().baseline.result.torque))
        return computed / (1 - one.demand.value) / 600.0

    by_book = (0.99 * 76.7 / 99.0) ** 1.2 * (298.0 / 288.0) ** 0.6
    assert stated_there("") == pytest.approx(by_book, rel=1e-6)
    assert stated_there('correction = "iso1585"\n') == pytest.approx(by_book, rel=1e-6)
    on_the_spot = 'source = "measured"\nbarometer = "76.7 kPa"\ntemperature = "15 degC"\n'
    assert stated_there(on_the_spot) == pytest.approx(1.0, rel=1e-6)


@check("common practice", note="85 to 105 N m per litre at its best for a four-valve engine with mild cams")
def test_an_engine_far_below_the_usual_band_is_said() -> None:
    weak = line()
    weak = weak._replace(result=weak.result._replace(torque=0.6 * weak.result.torque))
    assert found("baseline.torque_per_litre", case()).verdict is Verdict.HOLDS
    assert found("baseline.torque_per_litre", case(baseline=weak)).verdict is Verdict.BREAKS

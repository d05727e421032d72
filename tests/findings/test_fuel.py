"""Injectors, pump, rail, line and vapour: arithmetic by hand, remedies taken at their word, worst days."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from boostwright.findings.case import Case, GoalLine
from boostwright.findings.fuel_case import at, fuel_parts, fuel_spread, lines_of
from boostwright.findings.model import Verdict
from boostwright.findings.worst import lines, worst, worst_number
from boostwright.physics.fuel_vapour import blend_vapour_pressure
from boostwright.systems.engine.idle import LightLoad
from boostwright.systems.stated.fuel_side import fuel_side_of, uncertain_of
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import cycles, goal

LIGHT = LightLoad(
    np.array([89.0, 209.0]), np.array([32e3, 35e3]), np.array([2.4e-3, 7.2e-3]), np.array([0.165e-3, 0.5e-3])
)
PLAIN = """
[injectors]
count = 4
flow = {{ value = "{flow} cc/min", source = "measured" }}
flow_pressure = "3 bar"
test_fluid = "petrol"
dead_time = {{ value = "0.9 ms", source = "measured" }}
dead_time_slope = "0.12 ms"
[regulator]
pressure = {{ value = "3.0 bar", source = "measured" }}
droop = "0 %"
reference = "{reference}"
"""


def plain(flow: float = 440.0, reference: str = "manifold", more: str = "") -> str:
    return PLAIN.format(flow=flow, reference=reference) + more


def corner(
    line: GoalLine, name: str = "on a frosty night", pressure: float = 1.02e5, T: float = 261.0
) -> object:
    return SimpleNamespace(name=name, ambient_pressure=pressure, ambient_temperature=T, goal=line)


def with_corners(given: Case, *corners: object) -> object:
    """A case that also has corners, whatever the record itself carries by now."""
    fields = {name: getattr(given, name) for name in given.__dataclass_fields__}
    made = SimpleNamespace(**{**fields, "corners": corners})
    made.stated = lambda key: Case.stated(made, key)  # type: ignore[arg-type]
    made.amount = lambda *a: Case.amount(made, *a)  # type: ignore[arg-type]
    made.word = lambda key: Case.word(made, key)  # type: ignore[arg-type]
    made.left = lambda sd: Case.left(made, sd)  # type: ignore[arg-type]
    return made


# ------------------------------------------------------------------------------------------ the worst place


def test_the_worst_place_is_searched_over_corners_and_names_the_corner() -> None:
    given = case()
    assert given.goal is not None
    assert [line.corner for line in lines(given)] == [given.corner]
    more = replace(goal(), result=cycles(goal().speed, 1.4e5))
    both = with_corners(given, corner(more))
    assert len(lines(both)) == 2  # type: ignore[arg-type]
    value, there = worst_number(both, lambda line: line.goal.result.fuel_flow) or (0.0, None)  # type: ignore[arg-type]
    assert there is not None
    assert value == more.result.fuel_flow.max()
    assert there.corner == "on a frosty night"
    assert there.speed == more.speed[int(np.argmax(more.result.fuel_flow))]


def test_points_that_did_not_settle_and_cases_without_a_line_have_no_worst_place() -> None:
    line = goal()
    only = np.zeros(line.speed.size, dtype=bool)
    only[4] = True
    there = worst(case(line_with=replace(line, settled=only)), lambda line: -line.goal.speed)
    assert there is not None
    assert there.place == 4
    nowhere = replace(line, settled=np.zeros_like(only))
    assert worst(case(line_with=nowhere), lambda line: line.goal.speed) is None
    assert worst(case(goal=None, strength=None), lambda line: line.goal.speed) is None


def test_a_cold_corner_is_where_injectors_and_pump_are_judged() -> None:
    given = case(build(rest=plain()))
    more = replace(goal(), result=cycles(goal().speed, 1.0e5))
    both = with_corners(given, corner(more))
    for code in ("fuel.injector_duty", "fuel.pump_flow"):
        warm, cold = found(code, given), found(code, both)  # type: ignore[arg-type]
        assert cold.corner == "on a frosty night"
        assert cold.demand is not None
        assert warm.demand is not None
        assert cold.demand.value > 1.1 * warm.demand.value


# ------------------------------------------------------------------------------------------------ injectors


@check(
    "limit",
    id="J8",
    note="pulse width and duty by hand: fuel per cylinder and cycle over flow, dead time, two turns",
)
def test_injector_duty_by_hand() -> None:
    given = case(build(fuel='density = { value = "750 kg/m3", source = "measured" }', rest=plain()))
    one = found("fuel.injector_duty", given)
    assert given.goal is not None
    speeds, fuel = given.goal.speed, given.goal.result.fuel_flow
    by_hand = []
    for w, m in zip(speeds, fuel, strict=True):
        turns = 2 * 60.0 / (w * 30 / math.pi)
        pulse = m * turns / 4 / (440e-6 / 60 * 750.0)
        by_hand.append((pulse + 0.9e-3) / turns)
    assert one.demand is not None
    assert one.demand.value == pytest.approx(max(by_hand), rel=1e-9)
    assert one.place.speed == pytest.approx(speeds[int(np.argmax(by_hand))])


@check("limit", id="J9", note="a rail that follows the outside air passes sqrt((dp - boost)/dp)")
def test_an_unreferenced_regulator_costs_flow() -> None:
    flat = replace(goal(), boost=np.full(12, 0.8e5), plenum_pressure=np.full(12, 1.8e5))
    follows = found("fuel.injector_duty", case(build(rest=plain()), flat))
    stays = found("fuel.injector_duty", case(build(rest=plain(reference="atmosphere")), flat))
    assert follows.demand is not None
    assert stays.demand is not None
    assert follows.place.speed is not None
    turns = 4 * math.pi / follows.place.speed
    flux = 0.12e-3 * 12 * 13  # the needle lifts earlier against less pressure: 0.6 of its force is fuel
    lower = 0.9e-3 + flux / 13.5 * (math.sqrt(1 + 0.6 * (220 / 300 - 1)) - 1)
    ratio = (follows.demand.value - 0.9e-3 / turns) / (stays.demand.value - lower / turns)
    assert ratio == pytest.approx(math.sqrt(220 / 300), rel=1e-9)
    assert "Connect the regulator" in fill(stays.remedy)
    assert "Connect" not in fill(follows.remedy)


def test_the_injectors_that_it_names_hold() -> None:
    """The remedy, taken at its word, turns the verdict."""
    small = found("fuel.injector_duty", case(build(rest=plain(200))))
    assert small.verdict is Verdict.BREAKS
    size = small.remedy.amounts["size"].value * 60e6
    large = found("fuel.injector_duty", case(build(rest=plain(math.ceil(size)))))
    assert large.verdict is Verdict.HOLDS


def test_injectors_named_for_an_unreferenced_rail_hold_once_it_is_referenced() -> None:
    small = found("fuel.injector_duty", case(build(rest=plain(200, "atmosphere"))))
    assert small.verdict is Verdict.BREAKS
    size = small.remedy.amounts["size"].value * 60e6
    assert found("fuel.injector_duty", case(build(rest=plain(math.ceil(size))))).verdict is Verdict.HOLDS


def test_more_boost_asks_more_of_injectors_and_pump() -> None:
    less, more = (
        case(line_with=goal(boost=0.3e5)),
        case(line_with=replace(goal(), result=cycles(goal().speed, 1.2e5))),
    )
    for code in ("fuel.injector_duty", "fuel.pump_flow"):
        a, b = found(code, less), found(code, more)
        assert a.demand is not None
        assert b.demand is not None
        assert b.demand.value > a.demand.value * 1.1, code


@check("limit", id="J8", note="idle fuel per cylinder and cycle over flow, plus dead time, by hand")
def test_smallest_pulse_by_hand_and_injectors_too_big_for_idle() -> None:
    def one(flow: float):  # type: ignore[no-untyped-def]
        dense = 'density = { value = "750 kg/m3", source = "measured" }'
        return found(
            "fuel.smallest_pulse", case(build(fuel=dense, rest=plain(flow)), extra={"light_loads": LIGHT})
        )

    usual, huge = one(300), one(1200)
    by_hand = 0.165e-3 * 4 * math.pi / 89.0 / 4 / (300e-6 / 60 * 750.0) + 0.9e-3
    assert usual.demand.value == pytest.approx(by_hand, rel=1e-9)
    assert usual.verdict is Verdict.HOLDS
    assert huge.verdict is Verdict.BREAKS
    size = huge.remedy.amounts["size"].value * 60e6
    assert one(math.floor(size)).probability > 0.8
    assert maybe("fuel.smallest_pulse", case()) is None


# ----------------------------------------------------------------------------------------------------- pump


def test_a_pump_gives_less_at_more_pressure_and_at_less_voltage() -> None:
    rest = '[regulator]\ndroop = "0 %"\nfilter_loss = "0 kPa"\nline_bore = "16 mm"\n'
    rest += '[pump]\nflow = "150 L/h"\nflow_pressure = "{} bar"\nvoltage = "{} V"\n'
    known = found("fuel.pump_flow", case(build(rest=rest.format(3.6, 13.5)))).capacity
    free = found("fuel.pump_flow", case(build(rest=rest.format(0.0, 13.5)))).capacity
    sagging = found("fuel.pump_flow", case(build(rest=rest.format(3.6, 11.5)))).capacity
    assert known is not None
    assert free is not None
    assert sagging is not None
    assert free.value < known.value
    assert sagging.value < known.value
    assert known.value == pytest.approx(150e-3 / 3600, rel=0.01)


@check(
    "common practice",
    note="a pump named 340 L/h is a free-flow figure; at 3 bar, 0.6 bar of boost and 12.8 V some 55 to 80 %"
    " of it arrive",
)
def test_a_pump_named_340_is_a_free_flow_figure() -> None:
    rest = '[pump]\nflow = "340 L/h"\nflow_pressure = "0 bar"\nvoltage = "12.8 V"\n'
    one = found("fuel.pump_flow", case(build(rest=rest)))
    assert one.capacity is not None
    assert 0.55 * 340 < one.capacity.value * 3.6e6 < 0.80 * 340
    assert "free flow" in fill(one.cause)


def test_a_short_pump_says_how_lean_it_gets_and_wires_are_offered() -> None:
    rest = '[pump]\nflow = "80 L/h"\nflow_pressure = "3 bar"\nflow_voltage = "13.5 V"\nvoltage = "11.0 V"\n'
    one = found("fuel.pump_flow", case(build(rest=rest)))
    assert one.verdict is Verdict.BREAKS
    assert one.remedy.amounts["wired"].value > 1.1 * one.remedy.amounts["have"].value
    assert "Wires alone" in fill(one.remedy)
    assert one.cause.amounts["lean"].value > 0.86
    size = one.remedy.amounts["size"].value * 3.6e6
    sure = '{{ value = "{}", source = "measured" }}'
    at_pressure = one.remedy.amounts["pressure"].value / 1e5
    fitted = f"[pump]\nflow = {sure.format(f'{math.ceil(size * 1.02)} +/- 1 L/h')}\n"
    fitted += f'flow_pressure = "{at_pressure:.2f} bar"\nflow_voltage = "11.0 V"\n'
    fitted += f"voltage = {sure.format('11.0 V')}\n"
    again = found("fuel.pump_flow", case(build(rest=fitted)))
    assert again.verdict is Verdict.HOLDS


def test_a_relief_valve_below_rail_and_boost_is_said() -> None:
    rest = '[pump]\nflow = "300 L/h"\nflow_pressure = "3 bar"\nshut_off_pressure = "{} bar"\n'
    low = found("fuel.pump_flow", case(build(rest=rest.format(3.2))))
    high = found("fuel.pump_flow", case(build(rest=rest.format(7))))
    assert "relief valve" in fill(low.cause)
    assert low.verdict is Verdict.BREAKS
    assert "relief valve" not in fill(high.cause)
    assert high.verdict is Verdict.HOLDS


# ----------------------------------------------------------------------------------------------------- rail


@check("limit", id="J9", note="an injector keeps sqrt((dp - boost)/dp) of its flow, over a range of boost")
@pytest.mark.parametrize("boost", [0.2e5, 0.5e5, 1.0e5, 1.6e5])
def test_an_unreferenced_rail_falls_by_the_boost(boost: float) -> None:
    flat = replace(goal(), boost=np.full(12, boost), plenum_pressure=np.full(12, 1.0e5 + boost))
    one = found("fuel.rail_reference", case(build(rest=plain(reference="atmosphere")), flat))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(boost / 3.0e5, rel=1e-9)
    assert one.cause.amounts["share"].value == pytest.approx(math.sqrt((3e5 - boost) / 3e5), rel=1e-9)
    assert one.cause.amounts["lean"].value == pytest.approx(0.85 / math.sqrt((3e5 - boost) / 3e5), rel=1e-9)
    assert (one.verdict is Verdict.BREAKS) is (boost > 0.3e5)
    assert found("fuel.rail_reference", case(build(rest=plain()), flat)).verdict is Verdict.HOLDS


def test_a_returnless_rail_loses_the_line_too() -> None:
    outside = found("fuel.rail_reference", case(build(rest=plain(reference="atmosphere"))))
    in_tank = found("fuel.rail_reference", case(build(rest=plain(reference="tank"))))
    assert outside.demand is not None
    assert in_tank.demand is not None
    feed = in_tank.cause.amounts["feed"].value
    assert feed > 0
    assert in_tank.demand.value == pytest.approx(outside.demand.value + feed / 3e5, rel=1e-6)
    assert "return line" in fill(in_tank.remedy)


def test_a_droop_that_is_measured_counts() -> None:
    drooping = plain().replace('droop = "0 %"', 'droop = { value = "15 %", source = "measured" }')
    one = found("fuel.rail_reference", case(build(rest=drooping)))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(0.15)
    assert one.verdict is Verdict.BREAKS


def test_a_big_pump_on_a_small_return_lifts_the_rail_at_idle() -> None:
    lines_ = 'return_bore = "{}"\nseat_bore = "{}"\n'
    rest = plain(more="") + lines_.format("4.5 mm", "2.5 mm")
    pump = '[pump]\nflow = "{} L/h"\nflow_pressure = "0 bar"\n'
    light = {"light_loads": LIGHT}
    big = found("fuel.idle_pressure", case(build(rest=rest + pump.format(340)), extra=light))
    small = found("fuel.idle_pressure", case(build(rest=rest + pump.format(120)), extra=light))
    assert big.verdict is Verdict.BREAKS
    assert small.verdict is Verdict.HOLDS
    assert big.demand is not None
    assert big.demand.value > 0.1
    seat, back = (f"{big.remedy.amounts[name].value * 1e3:.2f} mm" for name in ("seat", "back"))
    wide = plain(more="") + lines_.format(back, seat)
    mended = found("fuel.idle_pressure", case(build(rest=wide + pump.format(340)), extra=light))
    assert mended.verdict is not Verdict.BREAKS
    assert mended.demand is not None
    assert mended.demand.value == pytest.approx(0.0, abs=1e-6)


def test_a_thin_feed_line_is_said_with_the_bore_that_would_do() -> None:
    pump = '[pump]\nflow = "340 L/h"\nflow_pressure = "0 bar"\n'
    thin = found("fuel.feed_line", case(build(rest=plain() + 'line_bore = "4.5 mm"\n' + pump)))
    assert thin.verdict is Verdict.BREAKS
    bore = thin.remedy.amounts["wide"].value * 1e3
    assert 4.5 < bore < 9.0
    wide = found("fuel.feed_line", case(build(rest=plain() + f'line_bore = "{bore:.1f} mm"\n' + pump)))
    assert wide.verdict is not Verdict.BREAKS


# --------------------------------------------------------------------------------------------------- vapour


def test_winter_fuel_on_a_hot_high_road_boils_at_the_pump() -> None:
    fuel = 'vapour_pressure = { value = "95 kPa", source = "measured" }\n'
    given = case(build(fuel=fuel))
    hot = with_corners(given, corner(goal(), "on the pass in August", 0.78e5, 308.0))
    one = found("fuel.vapour_pump", hot)  # type: ignore[arg-type]
    assert one.verdict is Verdict.BREAKS
    assert one.corner == "on the pass in August"
    assert one.demand is not None
    assert one.demand.value == pytest.approx(float(blend_vapour_pressure(308.0 + 12.0, 95e3, 0.0)))
    assert one.capacity is not None
    assert one.capacity.value == pytest.approx(0.78e5 - 3e3)
    summer = case(build(fuel='vapour_pressure = { value = "55 kPa", source = "measured" }\n'))
    assert found("fuel.vapour_pump", summer).verdict is Verdict.HOLDS


def test_vapour_in_the_rail_hangs_on_rail_pressure() -> None:
    def chance(pressure: float) -> float:
        rest = f'[regulator]\npressure = {{ value = "{pressure} bar", source = "measured" }}\n'
        given = build(fuel='vapour_pressure = { value = "70 kPa", source = "measured" }\n', rest=rest)
        return found("fuel.vapour_rail", case(given, extra={"light_loads": LIGHT})).probability or 0.0

    assert chance(2.0) < chance(2.5) < chance(4.0)


# --------------------------------------------------------------------------------------------------- spread


@check("limit", note="root of the mean squares of one-at-a-time changes, each worked out by itself")
def test_the_spread_side_by_side_is_that_of_one_at_a_time() -> None:
    short = plain(900) + '[pump]\nflow = "60 L/h"\nflow_pressure = "3 bar"\n'
    given = case(build(rest=short))
    there = worst(given, lambda line: lines_of(fuel_parts(given), [line])[0].pump_margin)
    assert there is not None
    for name in ("duty", "pump_available", "difference", "feed_loss", "lam"):
        total = 0.0
        middle = float(getattr(at(fuel_parts(given), there), name)[0])
        for path, value, sd in uncertain_of(given.build):
            for moved in (value + sd, max(value - sd, 0.05 * value)):
                here = at(fuel_side_of(given.build, {path: moved}), there)
                total += 0.5 * (float(getattr(here, name)[0]) - middle) ** 2
        spread = fuel_spread(given, lambda parts, name=name: getattr(at(parts, there), name))  # type: ignore[misc]
        assert spread == pytest.approx(math.sqrt(total), rel=1e-5), name
        assert spread > 0

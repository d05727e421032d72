"""The down pipe: growth, bracing, and the lambda sensor in it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.findings.charge_path import tail
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.worst import lines
from boostwright.physics.down_pipe import PipeSteel, thermal_growth
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import goal

SOUND = 'flex = "bellows"\nflex_length = "220 mm"\nfixed_length = "1.0 m"\nbracket = "engine"'


def exhaust(text: str) -> str:
    return f'[exhaust]\nsource = "measured"\n{text}\n'


def judged(code: str, text: str, hotter: float = 0.0) -> Finding:
    line = goal()
    line = replace(line, turbine_inlet_temperature=line.turbine_inlet_temperature + hotter)
    return found(code, case(build(rest=exhaust(text)), line))


# ------------------------------------------------------------------------------------------------------
# growth


def test_growth_is_that_of_the_wall_between_gas_and_air() -> None:
    of = case(build(rest=exhaust(SOUND)))
    one = found("exhaust.pipe_growth", of)
    gas = np.nanmax(tail(of, lines(of)[0]).temperature)
    wall = one.cause.amounts["wall"].value
    assert 298.15 + 200.0 < wall < gas
    assert one.demand is not None
    assert one.demand.value == pytest.approx(float(thermal_growth(PipeSteel.AUSTENITIC, 1.0, wall, 298.15)))


def test_hotter_gas_a_longer_pipe_and_austenitic_steel_grow_more() -> None:
    base = judged("exhaust.pipe_growth", SOUND).demand
    hot = judged("exhaust.pipe_growth", SOUND, hotter=100.0).demand
    long = judged("exhaust.pipe_growth", SOUND.replace("1.0 m", "1.6 m")).demand
    mild = judged("exhaust.pipe_growth", SOUND + '\nmaterial = "mild-steel"').demand
    assert base is not None
    assert hot is not None
    assert long is not None
    assert mild is not None
    assert hot.value > 1.05 * base.value
    assert 1.4 * base.value < long.value < 1.7 * base.value
    assert mild.value < 0.9 * base.value


@check(
    "common practice",
    note="a metre of pipe without a joint cracks manifolds; 220 mm of bellows take its growth",
)
def test_joint_or_none() -> None:
    assert judged("exhaust.pipe_growth", SOUND).verdict is Verdict.HOLDS
    assert judged("exhaust.pipe_growth", 'flex = "none"\nfixed_length = "1.0 m"').verdict is Verdict.BREAKS
    assert judged("exhaust.pipe_growth", 'flex = "ball"\nfixed_length = "1.0 m"').verdict is not Verdict.HOLDS


def test_a_bracket_to_the_body_before_the_joint_blocks_it() -> None:
    text = SOUND.replace('"engine"', '"body"') + '\nflex_distance = "400 mm"'
    one = judged("exhaust.pipe_growth", text)
    assert one.verdict is Verdict.BREAKS
    assert "bracket to the body" in fill(one.cause)
    assert "to the engine or gearbox" in fill(one.remedy)


def test_the_bellows_of_the_remedy_hold() -> None:
    bad = judged("exhaust.pipe_growth", 'flex = "none"\nfixed_length = "1.0 m"')
    length = 1e3 * bad.remedy.amounts["bellows"].value
    fixed = f'flex = "bellows"\nflex_length = "{length} mm"\nfixed_length = "1.0 m"'
    assert judged("exhaust.pipe_growth", fixed).verdict is Verdict.HOLDS
    half = f'flex = "bellows"\nflex_length = "{0.4 * length} mm"\nfixed_length = "1.0 m"'
    assert judged("exhaust.pipe_growth", half).verdict is not Verdict.HOLDS


def test_nothing_stated_is_one_unknown_that_asks() -> None:
    bare = case()
    one = found("exhaust.pipe_growth", bare)
    assert one.verdict is Verdict.UNKNOWN
    assert "does not say" in fill(one.cause)
    for code in ("exhaust.bracing", "exhaust.sensor_heat", "exhaust.sensor_pressure", "exhaust.sensor_tilt"):
        assert maybe(code, bare) is None


# ------------------------------------------------------------------------------------------------------
# bracing


@check(
    "common practice",
    note="joint or bracket within 300 mm of the turbine; a metre of free pipe cracks manifolds",
)
def test_bracing() -> None:
    assert judged("exhaust.bracing", SOUND + '\nflex_distance = "250 mm"').verdict is Verdict.HOLDS
    assert judged("exhaust.bracing", SOUND + '\nflex_distance = "900 mm"').verdict is Verdict.BREAKS
    free = judged("exhaust.bracing", 'flex = "none"\nbracket = "none"\nfixed_length = "1.2 m"')
    assert free.verdict is Verdict.BREAKS
    assert free.demand is not None
    assert free.demand.value == pytest.approx(1.2)


def test_a_shorter_lever_is_surer() -> None:
    odds = [
        judged("exhaust.bracing", SOUND + f'\nflex_distance = "{mm} mm"').probability
        for mm in (100, 350, 420, 600)
    ]
    assert odds == sorted(odds, key=lambda p: -(p or 0.0))
    assert odds[0] != odds[-1]


# ------------------------------------------------------------------------------------------------------
# sensor


def test_gas_at_the_sensor_cools_on_the_way() -> None:
    near, far = (judged("exhaust.sensor_heat", f'sensor_distance = "{mm} mm"') for mm in (100, 1500))
    assert near.demand is not None
    assert far.demand is not None
    assert near.demand.value > far.demand.value + 20.0
    of = case(build(rest=exhaust('sensor_distance = "20 mm"')))
    at_once = found("exhaust.sensor_heat", of).demand
    assert at_once is not None
    assert at_once.value == pytest.approx(float(np.nanmax(tail(of, lines(of)[0]).temperature)), abs=4.0)


def test_before_the_turbine_it_sees_the_manifold() -> None:
    one = judged("exhaust.sensor_heat", 'sensor_distance = "-150 mm"')
    assert one.demand is not None
    assert one.demand.value == pytest.approx(1130.0)
    pressed = judged("exhaust.sensor_pressure", 'sensor_distance = "-150 mm"')
    assert pressed.demand is not None
    assert pressed.demand.value == pytest.approx(
        1.0e5, rel=1e-6
    )  # 2.0 bar in the manifold less the air outside
    assert pressed.verdict is Verdict.BREAKS
    behind = judged("exhaust.sensor_pressure", 'sensor_distance = "700 mm"')
    assert behind.demand is not None
    assert behind.demand.value == pytest.approx(0.1e5, rel=1e-6)
    assert behind.verdict is Verdict.HOLDS


@check("common practice", note="planar sensors: 930 degC lasting; gas of 1100 degC is too much at any place")
def test_hot_gas_breaks_and_the_place_of_the_remedy_holds() -> None:
    assert judged("exhaust.sensor_heat", 'sensor_distance = "150 mm"', hotter=300.0).verdict is Verdict.BREAKS
    warm = judged("exhaust.sensor_heat", 'sensor_distance = "100 mm"', hotter=110.0)
    assert warm.verdict is not Verdict.HOLDS
    further = warm.remedy.amounts["further"].value
    assert 0.1 < further < 3.0
    moved = judged("exhaust.sensor_heat", f'sensor_distance = "{1e3 * further:.0f} mm"', hotter=110.0)
    assert moved.verdict is Verdict.HOLDS


@check("common practice", note="ten degrees or more above the horizontal, wires up")
def test_tilt() -> None:
    assert judged("exhaust.sensor_tilt", 'sensor_tilt = "45 deg"').verdict is Verdict.HOLDS
    assert judged("exhaust.sensor_tilt", 'sensor_tilt = "0 deg"').verdict is Verdict.BREAKS
    low = judged("exhaust.sensor_tilt", 'sensor_tilt = "5 deg"')
    least = math.degrees(low.remedy.amounts["least"].value)
    assert judged("exhaust.sensor_tilt", f'sensor_tilt = "{least + 0.5} deg"').verdict is Verdict.HOLDS


# ------------------------------------------------------------------------------------------------------
# probe


def test_a_probe_behind_the_turbine_misses_the_turbine_s_work() -> None:
    of = case(build(rest=exhaust('probe = "behind"')))
    one = found("exhaust.probe_place", of)
    line = lines(of)[0]
    fall = np.nanmax(line.goal.turbine_inlet_temperature - tail(of, line).temperature)
    assert one.demand is not None
    assert one.demand.value == pytest.approx(float(fall))
    air, fuel = line.goal.result.air_flow[0], line.goal.result.fuel_flow[0]
    by_hand = air * 1005.0 * (385.0 - 298.15) / ((air + fuel) * 1200.0)  # cp of the exhaust near 1200
    assert one.demand.value == pytest.approx(float(by_hand), rel=0.05)


@check(
    "common practice",
    note="behind the turbine a probe reads 50 to 150 K less; in the collector it sees the gas",
)
def test_where_a_probe_belongs() -> None:
    hot = replace(goal(), compressor_outlet_temperature=goal().compressor_outlet_temperature + 50.0)
    behind = found("exhaust.probe_place", case(build(rest=exhaust('probe = "behind"')), hot))
    assert behind.verdict is Verdict.BREAKS
    assert maybe("exhaust.probe_place", case(build(rest=exhaust('probe = "collector"')), hot)) is None
    assert maybe("exhaust.probe_place", case(line_with=hot)) is None
    mild = found("exhaust.probe_place", case(build(rest=exhaust('probe = "behind"'))))
    assert (mild.probability or 0.0) > (behind.probability or 0.0)


def test_the_boss_that_it_names_is_far_enough_at_every_speed() -> None:
    """From before the turbine: where it is hottest there is not where it is hottest behind it."""
    one = judged("exhaust.sensor_heat", 'sensor_distance = "-500 mm"', hotter=150.0)
    assert one.verdict is Verdict.BREAKS
    further = math.ceil(1e3 * one.remedy.amounts["further"].value)
    again = judged("exhaust.sensor_heat", f'sensor_distance = "{further} mm"', hotter=150.0)
    assert again.verdict is Verdict.HOLDS
    nearer = judged("exhaust.sensor_heat", f'sensor_distance = "{further - 200} mm"', hotter=150.0)
    assert nearer.verdict is not Verdict.HOLDS


def test_a_bracket_of_which_nobody_speaks_is_not_said_to_be_missing() -> None:
    silent = judged("exhaust.bracing", 'flex = "none"\nfixed_length = "1.3 m"')
    none = judged("exhaust.bracing", 'flex = "none"\nfixed_length = "1.3 m"\nbracket = "none"')
    assert silent.verdict is Verdict.UNKNOWN
    assert "whether a bracket carries" in fill(silent.cause)
    assert none.verdict is Verdict.BREAKS


@pytest.mark.parametrize("code", ["exhaust.sensor_heat", "exhaust.pipe_growth"])
def test_a_draw_counts_the_gas_once(code: str) -> None:
    """Its heat is drawn with engine and turbine; what the wall below it does is not."""
    document = build(rest=exhaust(f'{SOUND}\nsensor_distance = "700 mm"'))
    plain, drawn = (found(code, case(document, drawn=d)).demand for d in (False, True))
    assert plain is not None
    assert drawn is not None
    assert drawn.value == plain.value
    assert (drawn.sd or 0.0) < (plain.sd or 0.0)

"""The match with the real cycle at a fixed spark, three speeds."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import CycleResult, Fuel, OperatingPoints
from boostwright.systems.match import MatchResult, MatchSettings, MatchStatus, exhaust_gas, match
from boostwright.systems.turbo import turbo_point
from tests.labels import check
from tests.systems.turbo_parts import AMBIENT, parts

SPEEDS = np.array([1500, 3000, 5500]) * np.pi / 30
FUEL = Fuel(ron=98.0)
ENGINE = four_valve_two_litre(9.0)


@pytest.fixture(scope="module")
def line() -> tuple[MatchResult, list[OperatingPoints]]:
    solver, asked = CycleSolver(ENGINE, FUEL), []

    def run(points: OperatingPoints) -> CycleResult:
        asked.append(points)
        return solver.run(points)

    settings = MatchSettings(spark=-0.25)
    return match(ENGINE, FUEL, parts(), AMBIENT, 60e3, SPEEDS, run, settings=settings), asked


def test_it_settles_in_a_few_calls(line: tuple[MatchResult, list[OperatingPoints]]) -> None:
    result, asked = line
    assert result.settled.all()
    assert len(asked) <= 8  # the last pass asks the compressor's map itself, and asks all points again
    assert all(np.size(points.plenum_pressure) <= SPEEDS.size for points in asked)
    assert int(result.status[0]) == MatchStatus.GATE_SHUT
    assert result.status[1:].tolist() == [MatchStatus.ON_TARGET] * 2


@check(
    "conservation",
    note="the turbo, asked again at the cycle's own flow and temperature, gives its states back; 2e-4",
)
def test_cycle_and_turbo_agree(line: tuple[MatchResult, list[OperatingPoints]]) -> None:
    result, _ = line
    T3 = result.cycle.exhaust_manifold_temperature
    again = turbo_point(
        parts(), AMBIENT, result.cycle.air_flow, result.cycle.fuel_flow, result.points.plenum_pressure, T3,
        exhaust_gas(FUEL, 0.85, T3),
    )  # fmt: skip
    np.testing.assert_allclose(again.plenum_temperature, result.points.plenum_temperature, rtol=2e-4)
    np.testing.assert_allclose(again.exhaust_pressure, result.points.exhaust_pressure, rtol=2e-4)
    assert abs(float(again.surplus[0])) < 5e-3 * float(again.turbine_power[0])


@check(
    "common practice",
    note="a two-litre four at 1.6 bar: manifold pressure before the turbine, temperatures, gate",
)
def test_the_line_is_of_this_world(line: tuple[MatchResult, list[OperatingPoints]]) -> None:
    result, _ = line
    ratio = np.asarray(result.points.exhaust_pressure) / np.asarray(result.points.plenum_pressure)
    assert np.all((ratio > 0.8) & (ratio < 1.5))
    assert np.all(np.diff(ratio) > 0)
    assert np.all(
        (result.cycle.exhaust_manifold_temperature > 750) & (result.cycle.exhaust_manifold_temperature < 1350)
    )
    assert 0.2 < float(result.turbo.gate_share[-1]) < 0.6
    assert np.all(
        (np.asarray(result.points.plenum_temperature) > 298)
        & (np.asarray(result.points.plenum_temperature) < 335)
    )

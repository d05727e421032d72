"""Engine and turbo brought together. The engine is a stand-in, not the cycle: see mean_value_engine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from boostwright.errors import OutOfRange
from boostwright.systems.engine.types import CycleResult, Fuel, OperatingPoints
from boostwright.systems.match import (
    STATUS_WORDS,
    Branch,
    MatchResult,
    MatchSettings,
    MatchStatus,
    boost_deviation,
    exhaust_gas,
    match,
)
from boostwright.systems.turbo import Ambient, TurbineFactors, TurboParts, TurboStatus, turbo_point
from tests.labels import check
from tests.systems.mean_value_engine import MeanValueEngine, two_litre
from tests.systems.turbo_parts import AMBIENT, INCH, parts

RPM = np.pi / 30
SPEEDS = np.array([1500, 2000, 2500, 4000, 6000]) * RPM
PARTS = parts()
FUEL = Fuel()
GOAL = 80e3


def run(
    speeds: np.ndarray = SPEEDS,
    turbo: TurboParts = PARTS,
    runner: MeanValueEngine | None = None,
    ambient: Ambient = AMBIENT,
    goal: float | np.ndarray = GOAL,
    **setting: object,
) -> MatchResult:
    runner = runner or MeanValueEngine()
    return match(
        runner.engine,
        FUEL,
        turbo,
        ambient,
        goal,
        speeds,
        runner,
        settings=MatchSettings(**setting),  # type: ignore[arg-type]
    )


LINE = run()


@check("common practice", note="gate shut below the threshold, on the boost asked for above it")
def test_gate_shut_below_and_on_target_above() -> None:
    assert LINE.settled.all()
    assert LINE.status.tolist() == [MatchStatus.GATE_SHUT] * 2 + [MatchStatus.ON_TARGET] * 3
    plenum = np.asarray(LINE.points.plenum_pressure)
    assert np.all(np.diff(plenum[:3]) > 0)
    np.testing.assert_allclose(plenum[2:], 180e3, rtol=1e-4)
    assert np.all(LINE.turbo.gate_share[:2] < 1e-4)
    assert np.all(np.diff(LINE.turbo.gate_share[2:]) > 0)


@check(
    "conservation",
    note="a fixed point: the turbo at the cycle's flow gives back its states; 2e-4",
)
def test_engine_and_turbo_agree() -> None:
    cycle = LINE.cycle
    gas = exhaust_gas(FUEL, 0.85, cycle.exhaust_manifold_temperature)
    again = turbo_point(
        PARTS, AMBIENT, cycle.air_flow, cycle.fuel_flow, LINE.points.plenum_pressure,
        cycle.exhaust_manifold_temperature, gas,
    )  # fmt: skip
    np.testing.assert_allclose(again.plenum_temperature, LINE.points.plenum_temperature, rtol=2e-4)
    np.testing.assert_allclose(again.exhaust_pressure, LINE.points.exhaust_pressure, rtol=2e-4)
    shut = LINE.status == MatchStatus.GATE_SHUT
    assert np.all(np.abs(again.surplus[shut]) < 2e-3 * again.compressor.power[shut])
    assert np.all(again.surplus[~shut] > 0)


@check("conservation", note="steady shaft: turbine power is compressor power and bearing loss; 0.1 %")
def test_power_on_the_shaft() -> None:
    wanted = LINE.turbo.compressor.power + LINE.turbo.bearing_loss
    np.testing.assert_allclose(LINE.turbo.turbine_power, wanted, rtol=1e-3)


@check(
    "conservation",
    note="mass: turbine and gate pass what the engine takes in; 1e-6 of tolerance 1e-4 in the match",
)
def test_mass_through_engine_and_turbo() -> None:
    out = LINE.turbo.turbine_flow + LINE.turbo.gate_flow
    np.testing.assert_allclose(out, LINE.turbo.exhaust_flow, rtol=1e-12)
    np.testing.assert_allclose(out, LINE.cycle.air_flow + LINE.cycle.fuel_flow, rtol=2e-4)


@check(
    "reference library",
    source="SciPy",
    note="nested brentq over the same parts at one speed with the gate shut; 1e-4",
)
def test_against_nested_root_finding() -> None:
    runner, speed = MeanValueEngine(), 1900 * RPM

    def settled(plenum: float) -> tuple[float, float, float]:
        """Surplus, temperature and exhaust pressure at one plenum pressure, by plain substitution."""
        T, p3 = 300.0, 120e3
        for _ in range(200):
            cycle = runner(OperatingPoints(speed, plenum, T, p3, 0.85, -0.35))
            T3 = cycle.exhaust_manifold_temperature
            point = turbo_point(
                PARTS, AMBIENT, cycle.air_flow, cycle.fuel_flow, plenum, T3, exhaust_gas(FUEL, 0.85, T3)
            )
            T, p3, before = float(point.plenum_temperature), float(point.exhaust_pressure), (T, p3)
            if abs(T / before[0] - 1) + abs(p3 / before[1] - 1) < 1e-12:
                break
        return float(point.surplus), T, p3

    plenum = brentq(lambda p: settled(p)[0], 110e3, 180e3, xtol=1e-3)
    ours = run(np.array([speed]), tolerance=1e-7)
    assert int(ours.status[0]) == MatchStatus.GATE_SHUT
    assert float(ours.points.plenum_pressure[0]) == pytest.approx(plenum, rel=1e-4)
    assert float(ours.points.exhaust_pressure[0]) == pytest.approx(settled(plenum)[2], rel=1e-4)


@check(
    "regression", id="D8",
    note="the two-litre four without pulses, computed once by another program with other gas constants: "
    "114 kPa at 1500 and 151 at 2000 rev/min; 4 kPa, for boost reacts 3-6 times as strongly as the "
    "turbine's power",
)  # fmt: skip
def test_threshold_of_the_reference_engine() -> None:
    np.testing.assert_allclose(np.asarray(LINE.points.plenum_pressure)[:2], [114e3, 151e3], atol=4e3)


def test_one_call_of_the_cycle_a_round() -> None:
    runner = MeanValueEngine()
    line = run(np.linspace(1000, 6500, 30) * RPM, runner=runner)
    assert line.settled.all()
    assert runner.calls == line.rounds.max()
    assert runner.calls <= 8


@check(
    "limit",
    note="a point hangs on its own speed only: alone or among others, any order; the tolerance of the match",
)
def test_speeds_do_not_know_each_other() -> None:
    alone = run(SPEEDS[1:2], tolerance=1e-7)
    among = run(SPEEDS[::-1], tolerance=1e-7)
    np.testing.assert_allclose(among.points.plenum_pressure[3], alone.points.plenum_pressure[0], rtol=1e-6)
    np.testing.assert_allclose(among.points.exhaust_pressure[3], alone.points.exhaust_pressure[0], rtol=1e-6)


@check("common practice", note="a smaller housing brings boost earlier and raises back pressure at speed")
def test_smaller_housing() -> None:
    small = run(turbo=parts(turbine=(0.050, 0.044, 0.45 * INCH)))
    large = run(turbo=parts(turbine=(0.050, 0.044, 0.80 * INCH)))
    assert np.asarray(small.points.plenum_pressure)[1] > np.asarray(large.points.plenum_pressure)[1] + 5e3
    assert (
        np.asarray(small.points.exhaust_pressure)[-1] > 1.05 * np.asarray(large.points.exhaust_pressure)[-1]
    )


@check("common practice", note="at 1600 m the same gauge boost asks more pressure ratio and shaft speed")
def test_altitude() -> None:
    high = Ambient(83.5e3, 287.0)
    line, low = run(SPEEDS[3:], ambient=high), run(SPEEDS[3:], ambient=Ambient(101.3e3, 287.0))
    assert line.settled.all()
    assert np.all(line.turbo.compressor.pressure_ratio > 1.05 * low.turbo.compressor.pressure_ratio)
    assert np.all(line.turbo.compressor.speed > 1.03 * low.turbo.compressor.speed)


@check(
    "common practice", note="a lorry-sized turbo on a two-litre engine never makes the boost, and it says so"
)
def test_lorry_sized_turbo() -> None:
    line = run(turbo=parts((0.066, 0.094), (0.084, 0.078, 1.3 * INCH)))
    assert line.settled.all()
    assert np.all(line.status != MatchStatus.ON_TARGET)
    assert np.all(line.boost(AMBIENT) < 0.45 * GOAL)
    assert np.all(line.boost(AMBIENT)[:3] < 0.1 * GOAL)


def test_a_compressor_that_ends_before_the_goal_says_so() -> None:
    line = run(SPEEDS[-2:], turbo=parts((0.030, 0.041), (0.042, 0.037, 0.35 * INCH)))
    assert line.settled.all()
    assert int(line.status[-1]) == MatchStatus.COMPRESSOR_LIMIT
    assert float(line.turbo.compressor.mach[-1]) == pytest.approx(1.6, rel=2e-3)
    assert np.asarray(line.points.plenum_pressure)[-1] < 180e3


def test_no_boost_at_all_says_so() -> None:
    stiff = replace(PARTS, turbine_factors=TurbineFactors(bearing=1e5))
    line = run(SPEEDS[:2], turbo=stiff)
    assert line.status.tolist() == [MatchStatus.NO_BOOST] * 2
    assert np.all(np.abs(line.boost(AMBIENT)) < 3e3)
    assert "no boost" in STATUS_WORDS[MatchStatus(int(line.status[0]))]


@check("limit", note="where there is one solution both branches find it; the tolerance of the match")
def test_both_branches_meet() -> None:
    lower = run(branch=Branch.LOWER, tolerance=1e-6)
    upper = run(branch=Branch.UPPER, tolerance=1e-6)
    assert lower.settled.all()
    assert lower.status.tolist() == upper.status.tolist()
    np.testing.assert_allclose(lower.points.plenum_pressure, upper.points.plenum_pressure, rtol=1e-4)


class LaterSpark:
    """A spark that goes late from 1.2 to 1.3 bar and heats the exhaust by 210 K, as at the knock limit."""

    def __init__(self, n: int) -> None:
        self.first = np.full(n, -0.35)

    def __call__(
        self, points: OperatingPoints, where: np.ndarray, patience: int = 1
    ) -> tuple[CycleResult, np.ndarray]:
        return MeanValueEngine(spark_heat=700.0)(points), self.spark(points)

    @staticmethod
    def spark(points: OperatingPoints) -> np.ndarray:
        return -0.35 + 0.30 * np.clip((np.asarray(points.plenum_pressure) - 120e3) / 10e3, 0, 1)


def later_spark(points: OperatingPoints) -> tuple[OperatingPoints, CycleResult]:
    points = replace(points, spark=LaterSpark.spark(points))
    return points, MeanValueEngine(spark_heat=700.0)(points)


@check(
    "reference library", source="SciPy",
    note="exhaust that heats up with boost makes three balances at one speed, found by brentq; the outer two "
    "are stable and are the two branches; 1e-3",
)  # fmt: skip
def test_two_branches_at_the_onset() -> None:
    speed = 1600 * RPM

    def surplus(plenum: np.ndarray) -> np.ndarray:
        T, p3 = np.full(plenum.shape, 300.0), np.full(plenum.shape, 120e3)
        for _ in range(60):
            _, cycle = later_spark(OperatingPoints(speed, plenum, T, p3, 0.85, -0.35))
            T3 = cycle.exhaust_manifold_temperature
            gas = exhaust_gas(FUEL, 0.85, T3)
            point = turbo_point(PARTS, AMBIENT, cycle.air_flow, cycle.fuel_flow, plenum, T3, gas)
            change = np.max(np.abs(point.exhaust_pressure - p3))
            T, p3 = point.plenum_temperature, point.exhaust_pressure
            if change < 0.1:
                break
        return point.surplus

    grid = np.linspace(105e3, 175e3, 57)
    ends_at = np.flatnonzero(np.diff(np.sign(surplus(grid))))
    roots = [
        brentq(lambda p: float(surplus(np.array([p]))[0]), grid[i], grid[i + 1], xtol=10.0) for i in ends_at
    ]
    assert len(roots) == 3
    ends = {}
    for branch in Branch:
        line = match(
            two_litre(), FUEL, PARTS, AMBIENT, GOAL, np.array([speed]), MeanValueEngine(),
            spark_for=LaterSpark(1),
            settings=MatchSettings(branch=branch),
        )  # fmt: skip
        assert line.settled.all()
        ends[branch] = float(np.asarray(line.points.plenum_pressure)[0])
    assert ends[Branch.UPPER] == pytest.approx(roots[2], rel=1e-3)
    assert ends[Branch.LOWER] == pytest.approx(roots[0], rel=1e-3)


@check(
    "limit",
    note="past its end the lower branch leads up to the upper one and does not stick at its ghost",
)
def test_past_the_end_of_the_lower_branch() -> None:
    speeds = np.array([1500, 1650, 1700]) * RPM
    ends = []
    for branch in Branch:
        line = match(
            two_litre(), FUEL, PARTS, AMBIENT, GOAL, speeds, MeanValueEngine(), spark_for=LaterSpark(3),
            settings=MatchSettings(branch=branch),
        )  # fmt: skip
        assert line.settled.all()
        ends.append(np.asarray(line.points.plenum_pressure))
    np.testing.assert_allclose(ends[0], ends[1], rtol=1e-3)


@check("limit", note="no spread of boost where the gate has plenty in hand, some where it is shut")
def test_deviation_of_the_boost() -> None:
    deviation = boost_deviation(LINE, two_litre(), FUEL, PARTS, AMBIENT)
    assert np.all(deviation[:2] > 1e3)
    assert np.all(deviation[:2] < 40e3)
    assert np.all(deviation[3:] == 0)
    # One of the moves, made on the whole match instead of along the line, is one part of it.
    worse = PARTS.one_deviation_worse()[1]
    drop = np.asarray(LINE.points.plenum_pressure)[0] - np.asarray(run(turbo=worse).points.plenum_pressure)[0]
    assert 0 < drop < deviation[0]


def test_the_spark_finder_sets_the_spark() -> None:
    runner = MeanValueEngine()

    class Finder:
        first = np.full(SPEEDS.shape, -0.35)

        def __call__(
            self, points: OperatingPoints, where: np.ndarray, patience: int = 1
        ) -> tuple[CycleResult, np.ndarray]:
            return runner(points), np.full(where.shape, -0.21)

    def never(points: OperatingPoints) -> CycleResult:
        raise AssertionError("the cycle runner must not be asked where a spark finder is given")

    line = match(runner.engine, FUEL, PARTS, AMBIENT, GOAL, SPEEDS, never, spark_for=Finder())
    np.testing.assert_allclose(line.points.spark, -0.21, rtol=1e-12)
    assert line.settled.all()


def test_what_did_not_settle_says_so() -> None:
    line = run(max_rounds=1)
    assert np.all(line.status == MatchStatus.UNSETTLED)
    assert not line.settled.any()
    assert np.all(line.change > 1e-4)


def test_a_failed_cycle_does_not_spoil_the_other_speeds() -> None:
    class Failing(MeanValueEngine):
        def __call__(self, points: OperatingPoints) -> CycleResult:
            good = super().__call__(points)
            bad = np.asarray(points.speed) == SPEEDS[2]
            return good._replace(
                air_flow=np.where(bad, np.nan, good.air_flow), status=np.where(bad, 3, good.status)
            )

    line = run(runner=Failing())
    assert int(line.status[2]) == MatchStatus.CYCLE_FAILED
    assert np.isnan(line.turbo.exhaust_pressure[2])
    assert np.isnan(line.turbo.compressor.speed[2])
    others = [0, 1, 3, 4]
    np.testing.assert_allclose(
        np.asarray(line.points.plenum_pressure)[others],
        np.asarray(LINE.points.plenum_pressure)[others],
        rtol=2e-4,
    )


def test_one_goal_for_each_speed() -> None:
    goal = np.array([10e3, 30e3, 50e3, 70e3, 60e3])
    line = run(goal=goal)
    assert np.all(line.status == MatchStatus.ON_TARGET)
    np.testing.assert_allclose(line.boost(AMBIENT), goal, atol=20)
    np.testing.assert_allclose(line.goal_pressure, AMBIENT.pressure + goal)


@check(
    "limit",
    note="no jump along the speed range: neighbours 0.2 % apart differ by less than 2 %, threshold included",
)
def test_the_line_is_continuous() -> None:
    speeds = 1700 * 1.002 ** np.arange(150) * RPM
    line = run(speeds)
    assert line.settled.all()
    for values in (line.points.plenum_pressure, line.points.exhaust_pressure, line.turbo.compressor.speed):
        assert np.max(np.abs(np.diff(np.log(np.asarray(values))))) < 0.02


@pytest.mark.parametrize(
    ("speeds", "goal"), [([0.0, 200.0], GOAL), ([200.0], 0.0), ([np.nan], GOAL), ([200.0], np.nan)]
)
def test_impossible_input_is_refused(speeds: list[float], goal: float) -> None:
    with pytest.raises(OutOfRange, match="above zero"):
        run(np.array(speeds), goal=goal)


def test_every_status_has_words() -> None:
    assert set(STATUS_WORDS) == set(MatchStatus)
    assert TurboStatus.HOLDS == 0

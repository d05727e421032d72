"""The breathing factor: what it is at 1, and whether it stands for a tuned runner."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from boostwright import verbs
from boostwright.physics.gas import cp_fresh, mixture
from boostwright.systems.engine.cycle import RAM_REACH, RAM_WARMTH, RAM_WORK, CycleSolver
from boostwright.systems.engine.types import CycleResult, ModelFactors
from boostwright.systems.stated.engine import factors_of
from tests.labels import check
from tests.systems.engine.cases import PETROL, RPM, WITHOUT_RUNNER, at, engine, solver

FACTORS = ModelFactors()


@check("limit", note="what nobody stated or fitted is 1 at every speed, to the last bit")
def test_a_build_without_a_fit_breathes_as_before() -> None:
    for name in ("sound", "highland"):
        factors = factors_of(verbs.demo_build(name))
        assert np.array_equal(factors.breathing_at(np.linspace(50.0, 900.0, 200)), np.ones(200)), name


@check("limit", note="ln k is level, slope and curve at -1, 0 and 1 of the range, and constant beyond it")
def test_the_factor_over_speed() -> None:
    f = replace(
        FACTORS, breathing=1.1, breathing_slope=0.05, breathing_curve=-0.03, breathing_range=(100.0, 500.0)
    )
    ln = np.log(f.breathing_at(np.array([20.0, 100.0, 300.0, 500.0, 900.0])))
    level = np.log(1.1)
    low, high = level - 0.05 - 0.03, level + 0.05 - 0.03
    assert ln == pytest.approx([low, low, level, high, high], abs=1e-12)


@check(
    "regression",
    note="two of our own models: the factor at equal air beside the runner, which SciPy's integrator holds. "
    "Within 7 K, 6 % of the knock integral and 0.7 % of indicated work, as the page on the fit states. The "
    "factors themselves: another calculation of the same two models, printed to 0.01",
)
@pytest.mark.parametrize(
    ("rpm", "printed"), [(3000.0, 1.07), (4000.0, 1.19), (4500.0, 1.23), (5000.0, 1.22), (6000.0, 1.15)]
)
def test_the_factor_stands_for_a_runner(rpm: float, printed: float) -> None:
    tuned = solver(engine()).run(at(rpm))

    def with_factor(k: float) -> CycleResult:
        return CycleSolver(WITHOUT_RUNNER, PETROL, factors=replace(FACTORS, breathing=k)).run(at(rpm))

    def more_air(k: float) -> float:
        return float(with_factor(k).air_flow[0] / tuned.air_flow[0] - 1.0)

    k = brentq(more_air, 0.9, 1.6, xtol=1e-4)
    same = with_factor(k)
    assert k**RAM_REACH == pytest.approx(printed, abs=0.01)
    assert same.charge_temperature[0] == pytest.approx(tuned.charge_temperature[0], abs=7.0)
    assert same.knock_a[0] == pytest.approx(tuned.knock_a[0], rel=0.06)
    assert same.imep[0] == pytest.approx(tuned.imep[0], rel=0.007)


@check("limit", note="the factor is one on air: 1 +- 0.1 without a runner, on average over the speeds")
def test_the_factor_counts_air() -> None:
    points = at(np.array([1500.0, 2500.0, 3500.0, 4500.0, 5500.0]))
    air = [
        CycleSolver(WITHOUT_RUNNER, PETROL, factors=replace(FACTORS, breathing=b)).run(points).air_flow
        for b in (1.0, 1.05)
    ]
    slope = np.log(air[1] / air[0]) / np.log(1.05)
    assert slope.mean() == pytest.approx(1.0, abs=0.1)


@check(
    "conservation",
    note="what the piston pays for ram stays in the charge: m cp dT = work (k - 1) p V. Heat to the walls "
    "and what flows back take a part: the exponent may be up to a quarter less, and no more than all",
)
def test_the_work_of_ram_stays_in_the_charge() -> None:
    mix = mixture(0.88)
    r = solver(WITHOUT_RUNNER).run(at(4500.0))
    fresh = float(r.air_flow[0] + r.fuel_flow[0]) * 4.0 * np.pi / (4500.0 * RPM) / 4  # of one cylinder [kg]
    swept = WITHOUT_RUNNER.swept_volume
    T = 298.15
    all_of_it = RAM_WORK * 100e3 * swept / (fresh * float(cp_fresh(mix, T)) * T)
    assert 0.75 * all_of_it < RAM_WARMTH < all_of_it

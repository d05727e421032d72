"""Burn durations of the Wiebe law, fitted to the entrainment model of the same engine."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import NotConverged
from boostwright.physics.flame_speed import dilution_factor
from boostwright.physics.kernels.records import WiebeDurations
from boostwright.systems.engine.types import EngineGeometry, Fuel, ModelFactors, OperatingPoints

__all__ = ["BurnFit", "fit_durations", "fitted_durations", "wiebe_exponents"]

Array = NDArray[np.float64]

A = 6.908
KERNEL = 5.0e-4


class BurnFit(NamedTuple):
    """The fit and how well it holds."""

    durations: WiebeDurations
    rms_early: float  # of ln duration spark to 10 % [-]
    rms_main: float  # of ln duration 10 to 90 % [-]
    worst: float  # greatest error of either [-]
    points: int


def _place(x: float) -> float:
    return float(-np.log(1.0 - x * (1.0 - np.exp(-A))) / A)


@lru_cache(maxsize=1)
def wiebe_exponents() -> tuple[float, float, Array]:
    """m + 1 of a Wiebe law against (spark to 10 %)/(10 to 90 %), the law starting at the flame kernel's
    share.

    With z(x) = place(x)^(1/(m+1)) the ratio is (z10 - z0)/(z90 - z10); it grows with m. Returned as first
    ratio, step, and the exponents on equal steps of the ratio.
    """
    e = np.linspace(1.3, 9.0, 800)
    z0, z1, z9 = (_place(x) ** (1.0 / e) for x in (KERNEL, 0.1, 0.9))
    ratio = (z1 - z0) / (z9 - z1)
    grid = np.linspace(ratio[0], ratio[-1], 200)
    return float(grid[0]), float(grid[1] - grid[0]), np.interp(grid, ratio, e)


def _design() -> OperatingPoints:
    """Speed, load, mixture and spark over the ground of the fast path, spread evenly."""
    from scipy.stats import qmc

    u = qmc.Sobol(6, scramble=False).random(64)[1:]
    rpm = 1000.0 * 6.8 ** u[:, 0]
    speed = rpm * np.pi / 30.0
    usual = -(
        11.0 + 8.0 * np.log2(rpm / 1000.0)
    )  # near MBT; the design reaches from 4 degrees before to 26 after
    pressure = 60.0e3 * (3.6 ** u[:, 1])
    return OperatingPoints(
        speed=speed,
        plenum_pressure=pressure,
        plenum_temperature=290.0 + 45.0 * u[:, 2],
        exhaust_pressure=np.maximum(pressure * (0.95 + 0.25 * u[:, 4]), 101.0e3),
        lam=np.round(0.78 + 0.24 * u[:, 3], 2),
        spark=np.radians(usual - 4.0 + 30.0 * u[:, 5] ** 1.5),
    )


_FEWEST: Final = 20  # trial conditions that must burn through, for seven constants
_PLENTY: Final = 45  # so many are enough without lighting sooner
_ADVANCE: Final = math.radians(9.0)
_ADVANCES: Final = 5  # rounds


def fit_durations(engine: EngineGeometry, fuel: Fuel, factors: ModelFactors) -> BurnFit:
    """Run the entrainment model over a spread of conditions and fit both burn durations.

    ln D = c0 + c1 ln S_p + c2 ln S_L + c3 ln rho_u + c4 Z + c5 Z^2 + c6 ln T with the state at spark and
    Z = (CA50 - 8 deg)/10 deg. Where too few conditions burn through in time, all are lit sooner. The form
    follows the older duration correlations (key hires1978). Returns the fit with its residuals; they belong
    to the spread of every figure that the fast path gives. Raises NotConverged where no flame gets through.
    """
    from boostwright.physics.kernels.cycle import R
    from boostwright.systems.engine.cycle import CycleSolver

    solver = CycleSolver(engine, fuel, factors=factors)
    points = _design()
    inputs, r, ok = None, np.empty(0), np.zeros(0, dtype=bool)
    for _ in range(_ADVANCES):
        asked, answer, status, _, _ = solver.solve(points)
        late = np.asarray(answer[:, R.ca90])
        through = (
            (status == 0) & (late > 0) & (answer[:, R.ca50] < np.radians(42.0)) & (answer[:, R.ca10] != 0.0)
        )
        if inputs is None or through.sum() > ok.sum():
            inputs, r, ok = asked, answer, through
        if int(ok.sum()) >= _PLENTY:
            break
        points = replace(points, spark=np.asarray(points.spark) - _ADVANCE)  # a slow flame is lit sooner
    assert inputs is not None
    if int(ok.sum()) < _FEWEST:
        raise NotConverged(
            f"the flame burns through in {int(ok.sum())} of {ok.size} trial conditions only: with a burn"
            f" factor of {factors.burn:.2f} no burn curve can be fitted to it. Check valve sizes, chamber and"
            " plug."
        )
    y = r[:, R.burned]
    mole = y / (y + (1.0 - y) / inputs.gas.burned_moles[inputs.rows])
    T, p = r[:, R.t_spark], r[:, R.p_spark]
    k = inputs.rows
    S_L = (
        inputs.gas.flame_speed[k]
        * (T / 298.0) ** inputs.gas.flame_T[k]
        * (p / 101325.0) ** inputs.gas.flame_p[k]
        * dilution_factor(mole)
    )
    gas_constant = inputs.gas.R_f[k] + y * (inputs.gas.R_b[k] - inputs.gas.R_f[k])
    z = (r[:, R.ca50] - np.radians(8.0)) / np.radians(10.0)
    S_p = engine.stroke * inputs.speed / np.pi
    rho = p / (gas_constant * T)
    x = np.stack([np.ones_like(z), np.log(S_p), np.log(S_L), np.log(rho), z, z**2, np.log(T)], axis=1)[ok]
    early = np.log(r[:, R.ca10] - inputs.spark)[ok]
    main = np.log(r[:, R.ca90] - r[:, R.ca10])[ok]
    a, *_ = np.linalg.lstsq(x, early, rcond=None)
    b, *_ = np.linalg.lstsq(x, main, rcond=None)
    miss_a, miss_b = x @ a - early, x @ b - main
    durations = WiebeDurations(np.ascontiguousarray(a), np.ascontiguousarray(b), *wiebe_exponents())
    return BurnFit(
        durations,
        float(np.sqrt(np.mean(miss_a**2))),
        float(np.sqrt(np.mean(miss_b**2))),
        float(max(np.abs(miss_a).max(), np.abs(miss_b).max())),
        int(ok.sum()),
    )


@lru_cache(maxsize=32)
def fitted_durations(engine: EngineGeometry, fuel: Fuel, factors: ModelFactors) -> WiebeDurations:
    """`fit_durations`, remembered for each engine."""
    return fit_durations(engine, fuel, factors).durations

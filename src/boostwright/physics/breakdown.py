"""Voltage that a spark gap asks for, by gas density and gap, and what a coil leaves over it."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "LEAST_PRODUCT",
    "MOST_PRODUCT",
    "PLUG_SCATTER",
    "PaschenMinimum",
    "VoltageBand",
    "breakdown_voltage",
    "coil_reserve",
    "density_pressure",
    "formula_holds",
    "largest_gap",
    "paschen_minimum",
    "plug_demand",
    "townsend_voltage",
]

Array = NDArray[np.float64]

REFERENCE_TEMPERATURE: Final = 293.15  # at which a pressure stands for the gas's density [K]
FIELD: Final = 24.36e3 * 1e-3  # 24.36 kV/(bar cm) [V/(Pa m)] (kuffel2000)
ROOT: Final = 6.72e3 * 1e-3**0.5  # 6.72 kV/(bar cm)^0.5 [V/(Pa m)^0.5] (kuffel2000)
LEAST_PRODUCT: Final = 10.0
"""Density pressure times gap below which `breakdown_voltage` gives NaN, 0.01 bar cm [Pa m] (our own choice:
there its root term, which has no ground so near the minimum of the curve, makes up three quarters).
"""
MOST_PRODUCT: Final = 1.0e4  # 10 bar cm [Pa m], above which no data back the formula (from memory)
PLUG_SCATTER: Final = (0.70, 1.30)
"""Real plug over even gap [-]: a sharp or hot centre electrode asks for less, a worn, rounded one and a
scattering spark for more (common practice, no source).
"""


def density_pressure(p: ArrayLike, T: ArrayLike) -> Array:
    """Pressure that the same density of gas has at 20 degC, p 293.15/T [Pa]; p [Pa absolute], T [K].

    Breakdown goes by the number of molecules in the gap, not by pressure.
    """
    return np.asarray(np.asarray(p, dtype=np.float64) * REFERENCE_TEMPERATURE / np.asarray(T))


def breakdown_voltage(p: ArrayLike, T: ArrayLike, gap: ArrayLike) -> Array:
    """Peak voltage at which air in an even gap breaks down [V].

    V = 24.36 x + 6.72 sqrt(x) kV, x = p (293.15 K/T) d in bar cm.

    p: absolute, at the spark [Pa]. T: gas at the spark [K]. gap: d [m]. All broadcast. Validity: x from 0.01
    to 10 bar cm (`LEAST_PRODUCT`; NaN below), even field, dry air at rest; petrol vapour and residual gas
    change it by some per cent. Error: 1.5 % on even gaps of 5 to 15 mm in open air; on a plug see
    `plug_demand`. Source: kuffel2000, from memory.
    """
    x = density_pressure(p, T) * np.asarray(gap)
    known = x >= LEAST_PRODUCT
    safe = np.where(known, x, 1.0)
    return np.where(known, FIELD * safe + ROOT * np.sqrt(safe), np.nan)


def formula_holds(p: ArrayLike, T: ArrayLike, gap: ArrayLike) -> NDArray[np.bool_]:
    """Whether density pressure times gap lies on the ground of `breakdown_voltage`, with its arguments.

    A plug at the spark stands at 0.2 to 1 bar cm, well inside.
    """
    x = density_pressure(p, T) * np.asarray(gap)
    return np.asarray((x >= LEAST_PRODUCT) & (x <= MOST_PRODUCT))


def largest_gap(voltage: ArrayLike, p: ArrayLike, T: ArrayLike) -> Array:
    """Gap that breaks down at a voltage, the inverse of `breakdown_voltage` [m].

    sqrt(x) = (sqrt(6.72^2 + 4 24.36 V) - 6.72)/(2 24.36). voltage: [V]. p: [Pa absolute]. T: [K]. For a plug,
    put in the coil's voltage over one plus reserve and over the upper factor of `PLUG_SCATTER`. NaN below
    the ground of the formula.
    """
    V = np.maximum(np.asarray(voltage, dtype=np.float64), 0.0)
    x = ((np.sqrt(ROOT**2 + 4 * FIELD * V) - ROOT) / (2 * FIELD)) ** 2
    return np.where(x >= LEAST_PRODUCT * (1 - 1e-12), x / density_pressure(p, T), np.nan)


class VoltageBand(NamedTuple):
    """What a real plug may ask for. All [V]."""

    low: Array
    usual: Array
    high: Array


def plug_demand(
    p: ArrayLike, T: ArrayLike, gap: ArrayLike, scatter: tuple[float, float] = PLUG_SCATTER
) -> VoltageBand:
    """Voltage that a spark plug asks for at the spark, with the band of real electrodes.

    `breakdown_voltage` times 1 and the two factors of ``scatter``. p: [Pa absolute] and T: [K] of the
    unburned gas at the moment of the spark, an earlier spark being easier. gap: as worn, not as set [m].
    Error: the band, about 95 % of plugs (judgement).
    """
    usual = breakdown_voltage(p, T, gap)
    return VoltageBand(np.asarray(scatter[0] * usual), usual, np.asarray(scatter[1] * usual))


def coil_reserve(coil_voltage: ArrayLike, demand: ArrayLike) -> Array:
    """What a coil has over the demand, V_coil/V_demand - 1 [-]; below 0 it misfires.

    coil_voltage: that it reaches into the load of lead and plug, at its dwell and supply voltage [V]. demand:
    [V]. Ignition trades ask 0.2 to 0.5 over the usual demand (common practice, no source).
    """
    with np.errstate(divide="ignore"):
        return np.asarray(np.asarray(coil_voltage, dtype=np.float64) / np.asarray(demand) - 1.0)


# The simple avalanche theory: its limit tells where the formula above must not go.
TOWNSEND_A: Final = 15.0 / (0.01 * 133.322368)  # 15 /(cm Torr) [1/(Pa m)]
TOWNSEND_B: Final = 365.0 / (0.01 * 133.322368)  # 365 V/(cm Torr) [V/(Pa m)]
SECONDARY: Final = 0.01  # electrons by ion that strikes the cathode [-]


class PaschenMinimum(NamedTuple):
    """The least voltage that can break down any gap."""

    product: float  # density pressure times gap [Pa m]
    voltage: float  # [V]


def paschen_minimum(secondary: float = SECONDARY) -> PaschenMinimum:
    """Least breakdown voltage in air by avalanche theory, pd = e ln(1 + 1/g)/A, V = B pd.

    secondary: g [-]. Against a measured 327 V at 0.567 Torr cm (from memory) 7 % low and half as wide again.
    Source: kuffel2000.
    """
    product = float(np.e * np.log1p(1.0 / secondary) / TOWNSEND_A)
    return PaschenMinimum(product, TOWNSEND_B * product)


def townsend_voltage(p: ArrayLike, T: ArrayLike, gap: ArrayLike, secondary: ArrayLike = SECONDARY) -> Array:
    """Breakdown voltage by avalanche theory, B x/(ln(A x) - ln(ln(1 + 1/g))) [V]; infinity where it has none.

    p: [Pa absolute]. T: [K]. gap: [m]. secondary: g [-]. Validity: E/p of 100 to 800 V/(cm Torr), about x
    below 0.01 bar cm. At the density of a plug it reads 12 % and more too high: there for comparison only.
    Source: kuffel2000, constants from tables of gas discharge.
    """
    x = density_pressure(p, T) * np.asarray(gap)
    with np.errstate(divide="ignore", invalid="ignore"):
        below = np.log(TOWNSEND_A * x / np.log1p(1.0 / np.asarray(secondary)))
        return np.where(below > 0.0, TOWNSEND_B * x / np.where(below > 0.0, below, 1.0), np.inf)

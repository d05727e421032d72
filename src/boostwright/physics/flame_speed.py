"""Laminar burning speed of petrol, ethanol and their blends at engine states.

Every correlation here is a power law, S_L = S_0 (T/T_0)^a (p/p_0)^b, times a factor for residual gas; so is
the blend law that the cycle uses, which makes it cheap. Bomb measurements, not corrected for stretch, differ
by 30-60 % between authors at room temperature and agree within 20 % at engine states; expected error there
+-15 %, and +-30 % of the effect of residual gas.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics import fuel

__all__ = [
    "P_REFERENCE",
    "T_REFERENCE",
    "PowerLaw",
    "blend_law",
    "dilution_factor",
    "gulder_blend",
    "gulder_ethanol",
    "gulder_isooctane",
    "laminar_flame_speed",
    "metghalchi_keck_isooctane",
    "rhodes_keck",
]

Array = NDArray[np.float64]

T_REFERENCE: Final = 298.0  # [K]
P_REFERENCE: Final = 101325.0  # [Pa]
_T_GULDER: Final = 300.0
_P_GULDER: Final = 1.0e5
GULDER_BLEND_LIMIT: Final = 0.2  # greatest ethanol volume share of the published blend law [-]


class PowerLaw(NamedTuple):
    """S_L = speed (T/298 K)^T_exponent (p/1 atm)^p_exponent, before the residual factor."""

    speed: Array  # [m/s]
    T_exponent: Array  # [-]
    p_exponent: Array  # [-]


def _law(speed: ArrayLike, a: ArrayLike, b: ArrayLike) -> PowerLaw:
    return PowerLaw(*(np.asarray(x, dtype=np.float64) for x in (speed, a, b)))


def rhodes_keck(phi: ArrayLike) -> PowerLaw:
    """Petrol (indolene) by Rhodes & Keck 1985 (key rhodes1985; in Heywood 1988 eqs. 9.35-9.38), from memory.

    S_0 = 0.305 - 0.549 (phi - 1.21)^2, a = 2.4 - 0.271 phi^3.51, b = -0.357 + 0.14 phi^2.77.

    phi: equivalence ratio 1/lambda, 0.7..1.5 [-]. S_0 is kept above 0.05 m/s. Measured at 350-550 K and 1-8
    atm.
    """
    f = np.asarray(phi, dtype=np.float64)
    return _law(
        np.maximum(0.305 - 0.549 * (f - 1.21) ** 2, 0.05), 2.4 - 0.271 * f**3.51, -0.357 + 0.14 * f**2.77
    )


def metghalchi_keck_isooctane(phi: ArrayLike) -> PowerLaw:
    """Iso-octane by Metghalchi & Keck 1982 (key metghalchi1982; Heywood 1988 eqs. 9.33-9.34, table 9.4), from
    memory.

    S_0 = 0.263 - 0.847 (phi - 1.13)^2, a = 2.18 - 0.8 (phi - 1), b = -0.16 + 0.22 (phi - 1).

    phi: 0.8..1.5 [-]; 298-700 K, 0.4-50 atm; the fit's own error is 10 %. For comparison only.
    """
    f = np.asarray(phi, dtype=np.float64)
    return _law(
        np.maximum(0.263 - 0.847 * (f - 1.13) ** 2, 0.05), 2.18 - 0.8 * (f - 1), -0.16 + 0.22 * (f - 1)
    )


def _gulder(
    Z: Array | float, W: float, eta: float, xi: float, phi: Array, al: Array | float, be: Array
) -> PowerLaw:
    """Z W phi^eta exp(-xi (phi - 1.075)^2) (T/300)^al (p/1 bar)^be, restated at 298 K and 1 atm."""
    at_reference = np.power(T_REFERENCE / _T_GULDER, al) * np.power(P_REFERENCE / _P_GULDER, be)
    return _law(
        Z * W * phi**eta * np.exp(-xi * (phi - 1.075) ** 2) * at_reference, al * np.ones_like(phi), be
    )


def gulder_isooctane(phi: ArrayLike) -> PowerLaw:
    """Iso-octane by Gulder 1984 (key gulder1984), from memory; phi 0.7..1.4."""
    return gulder_blend(phi, 0.0)


def gulder_blend(phi: ArrayLike, ethanol_share: ArrayLike) -> PowerLaw:
    """Iso-octane with up to 20 % ethanol by volume, Gulder 1984 (key gulder1984), from memory.

    Z = 1 + 0.07 X^0.35, al = 1.56 + 0.23 X^0.46 for the volume share X.
    """
    f, X = np.broadcast_arrays(np.asarray(phi, dtype=np.float64), np.asarray(ethanol_share, dtype=np.float64))
    return _gulder(
        1 + 0.07 * X**0.35, 0.4658, -0.326, 4.48, f, 1.56 + 0.23 * X**0.46, np.full(f.shape, -0.22)
    )


def gulder_ethanol(phi: ArrayLike) -> PowerLaw:
    """Pure ethanol by Gulder 1984 (key gulder1984), from memory; phi 0.7..1.4."""
    f = np.asarray(phi, dtype=np.float64)
    be = np.where(f >= 1, -0.17 / np.sqrt(f), -0.17 * np.sqrt(f))
    return _gulder(1.0, 0.465, 0.25, 6.34, f, 1.75, be)


def blend_law(phi: ArrayLike, ethanol_share: ArrayLike = 0.0) -> PowerLaw:
    """The law that the cycle uses: petrol by Rhodes & Keck times Gulder's ratio of blend to iso-octane.

    Above 20 % ethanol by volume ln S_L runs linearly in the energy share of ethanol to that of pure ethanol;
    so the law stays a power law. (The interpolation is our own.)

    phi: equivalence ratio [-]. ethanol_share: volume share 0..1 [-]. They broadcast.
    """
    f, v = np.broadcast_arrays(np.asarray(phi, dtype=np.float64), np.asarray(ethanol_share, dtype=np.float64))
    base, none = rhodes_keck(f), gulder_blend(f, 0.0)
    low = gulder_blend(f, np.minimum(v, GULDER_BLEND_LIMIT))
    pure = gulder_ethanol(f)
    e20, e = (fuel.ethanol_energy_share(x) for x in (GULDER_BLEND_LIMIT, v))
    s = np.clip((e - e20) / (1 - e20), 0.0, 1.0)
    speed = base.speed * np.exp(
        (1 - s) * np.log(low.speed / none.speed) + s * np.log(pure.speed / none.speed)
    )
    a = (
        base.T_exponent
        + (1 - s) * (low.T_exponent - none.T_exponent)
        + s * (pure.T_exponent - none.T_exponent)
    )
    b = (
        base.p_exponent
        + (1 - s) * (low.p_exponent - none.p_exponent)
        + s * (pure.p_exponent - none.p_exponent)
    )
    return _law(speed, a, b)


def dilution_factor(residual: ArrayLike) -> Array:
    """Factor on S_L of residual gas of mole fraction ``residual`` [-]: 1 - 2.06 x^0.77, not below 0.1
    (rhodes1985).
    """
    return np.asarray(np.maximum(1 - 2.06 * np.power(np.maximum(residual, 0.0), 0.77), 0.1), dtype=np.float64)


def laminar_flame_speed(law: PowerLaw, T: ArrayLike, p: ArrayLike, residual: ArrayLike = 0.0) -> Array:
    """Laminar burning speed [m/s] at unburned temperature ``T`` [K] and pressure ``p`` [Pa].

    residual: mole fraction of burned gas in the unburned [-]. All arguments broadcast.
    """
    return np.asarray(
        law.speed
        * np.power(np.asarray(T) / T_REFERENCE, law.T_exponent)
        * np.power(np.asarray(p) / P_REFERENCE, law.p_exponent)
        * dilution_factor(residual),
        dtype=np.float64,
    )

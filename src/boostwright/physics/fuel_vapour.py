"""Vapour pressure of petrol, ethanol and their blends over temperature."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.fuel import ethanol_mole_share

__all__ = [
    "TEST_TEMPERATURE",
    "blend_vapour_pressure",
    "ethanol_rise",
    "ethanol_vapour_pressure",
    "petrol_vapour_pressure",
]

Array = NDArray[np.float64]

TEST_TEMPERATURE: Final = 310.93  # 100 degF, at which the vapour pressure of petrol is stated [K]
_PSI: Final = 6894.757
_SLOPE: Final = 3.0  # of the distillation curve at 10 % evaporated, petrol (ap42) [degF per % by volume]

# Change of the vapour pressure at 37.8 degC by ethanol, over the share by volume; base petrol of 62 kPa
# (andersen2010, from memory, +-2 kPa) [Pa]. Highest near a tenth; back to the petrol's own near 45 %.
_SHARES: Final = np.array([0.0, 0.05, 0.10, 0.15, 0.20, 0.30, 0.45, 0.60, 0.75, 0.85, 1.0])
_RISE: Final = np.array([0.0, 5.5, 7.0, 6.8, 6.3, 4.5, 0.0, -7.0, -17.0, -26.0, -46.0]) * 1e3


def petrol_vapour_pressure(T: ArrayLike, stated: ArrayLike) -> Array:
    """True vapour pressure of petrol [Pa absolute] at ``T`` [K] from the stated one at 37.8 degC.

    ln p = (0.7553 - 413/F) S^0.5 log10 R - (1.854 - 1042/F) S^0.5 + (2416/F - 2.013) log10 R - 8742/F +
    15.64, with F = T in degrees Rankine, R = stated and p in psi, S = 3 (ap42, section 7.1, from memory).

    stated: as the standard test gives it, vapour over liquid 4 to 1 [Pa]. Range 30..120 kPa, -10..60 degC;
    5 %, above that 10 %.
    """
    F = np.asarray(T, dtype=np.float64) * 1.8 - 0.07
    log_R = np.log10(np.asarray(stated, dtype=np.float64) / _PSI)
    root = np.sqrt(_SLOPE)
    log_p = (0.7553 - 413.0 / F) * root * log_R - (1.854 - 1042.0 / F) * root
    log_p = log_p + (2416.0 / F - 2.013) * log_R - 8742.0 / F + 15.64
    return np.asarray(_PSI * np.exp(log_p))


def ethanol_vapour_pressure(T: ArrayLike) -> Array:
    """Vapour pressure of ethanol [Pa absolute] at ``T`` [K] by the Antoine equation.

    log10 p_mmHg = 8.20417 - 1642.89/(t + 230.300), t in degC (handbook, from memory); -57..80 degC, 1 %.
    """
    t = np.asarray(T, dtype=np.float64) - 273.15
    return np.asarray(133.322 * 10.0 ** (8.20417 - 1642.89 / (t + 230.3)))


def ethanol_rise(ethanol_share: ArrayLike) -> Array:
    """Change of the vapour pressure at 37.8 degC by ethanol [Pa]; share by volume [-].

    A little ethanol raises it, much lowers it: the two do not mix ideally (andersen2010).
    """
    return np.asarray(np.interp(np.asarray(ethanol_share, dtype=np.float64), _SHARES, _RISE))


def blend_vapour_pressure(T: ArrayLike, stated: ArrayLike, ethanol_share: ArrayLike = 0.0) -> Array:
    """Vapour pressure of a blend [Pa absolute] at ``T`` [K].

    p = p_stated (p_petrol(T)/p_petrol(37.8 degC))^(1-x) (p_ethanol(T)/p_ethanol(37.8 degC))^x, x: mole share
    of ethanol. stated: of the blend itself at 37.8 degC [Pa]. Between two known ends; own form, 8 %.
    """
    x = ethanol_mole_share(ethanol_share)
    by_petrol = petrol_vapour_pressure(T, stated) / petrol_vapour_pressure(TEST_TEMPERATURE, stated)
    by_ethanol = ethanol_vapour_pressure(T) / ethanol_vapour_pressure(TEST_TEMPERATURE)
    return np.asarray(np.asarray(stated) * by_petrol ** (1 - x) * by_ethanol**x)

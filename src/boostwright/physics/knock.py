"""End-gas knock: ignition delays, the Livengood-Wu integral, octane, probability, chamber resonance.

A delay formula takes pressure [Pa], unburned core temperature [K] and octane (or composition) and returns
seconds; all arguments broadcast. Defensible formulas differ by 6-10 degrees of spark under boost, so at least
two are asked.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = [
    "OCTANE_EXPONENT",
    "RUSS_GUIDELINES",
    "RussGuidelines",
    "chamber_resonance",
    "douaud_eyzat_delay",
    "guideline_delay",
    "he_delay",
    "knock_onset",
    "knock_probability",
    "knock_warmth_score",
    "livengood_wu",
    "mixture_delay_factor",
    "octane_equivalent",
    "octane_index",
]

Array = NDArray[np.float64]
Delay = Callable[..., Array]

ATMOSPHERE: Final = 101325.0  # [Pa]
OCTANE_EXPONENT: Final = 3.402  # of Douaud & Eyzat [-]
WARMTH_REFERENCE: Final = 830.0  # end gas at the knock limit without boost, 2000 rpm [K] (computed)
SIGMA_LN_INTEGRAL: Final = 0.10  # scatter of ln I over cycles, cylinders and lambda [-] (our own estimate)


def _delay(
    scale: float, octane: ArrayLike, p: ArrayLike, pressure_exponent: float, T: ArrayLike, kelvin: float
) -> Array:
    return np.asarray(
        scale
        * np.power(np.asarray(octane) / 100.0, OCTANE_EXPONENT)
        * np.power(np.asarray(p) / ATMOSPHERE, pressure_exponent)
        * np.exp(kelvin / np.asarray(T)),
        dtype=np.float64,
    )


def douaud_eyzat_delay(p: ArrayLike, T: ArrayLike, octane: ArrayLike) -> Array:
    """Ignition delay [s] by Douaud & Eyzat 1978: 17.68e-3 (ON/100)^3.402 p_atm^-1.7 exp(3800/T).

    p: [Pa]. T: unburned core [K]. octane: research-like number [-]. Fitted to ON 80-100 near 1000-2000 rpm.
    Key douaud1978 (heywood1988 eq. 9.60); constants from memory, agreeing with two independent quotations.
    Exaggerates the effect of pressure by about 40 % against `RUSS_GUIDELINES`: pessimistic for boost.
    """
    return _delay(17.68e-3, octane, p, -1.7, T, 3800.0)


def guideline_delay(p: ArrayLike, T: ArrayLike, octane: ArrayLike) -> Array:
    """Ignition delay [s] of the same form, exponents fitted by us to the octane guidelines of Russ 1996.

    3.56e-3 (ON/100)^3.402 p_atm^-1.24 exp(3721/T). Arguments as in :func:`douaud_eyzat_delay`. Key russ1996
    for the guidelines; the constants are our own.
    """
    return _delay(3.56e-3, octane, p, -1.24, T, 3721.0)


def he_delay(p: ArrayLike, T: ArrayLike, phi: ArrayLike = 1.0, oxygen: ArrayLike = 0.206) -> Array:
    """Ignition delay [s] of iso-octane by He et al. 2005: 1.3e-7 p_atm^-1.05 phi^-0.77 x_O2^-1.41
    exp(33700/(1.987 T)).

    p: [Pa]. T: [K]. phi: equivalence ratio [-]. oxygen: mole fraction, 0..1 [-] (percent inside). Valid
    943-1027 K, 5-23 atm, phi 0.25-1, +-12 %. Below 940 K, where engines knock, it lacks the two-stage region:
    use it for trends only, scaled. Key he2005 (formula read in the abstract).
    """
    return np.asarray(
        1.3e-7
        * np.power(np.asarray(p) / ATMOSPHERE, -1.05)
        * np.power(phi, -0.77)
        * np.power(100.0 * np.asarray(oxygen), -1.41)
        * np.exp(33700.0 / (1.987 * np.asarray(T))),
        dtype=np.float64,
    )


def mixture_delay_factor(
    lam: ArrayLike = 0.95, residual: ArrayLike = 0.0, humidity: ArrayLike = 0.010
) -> Array:
    """Factor on a delay for mixture, residual gas and humidity, beyond what pressure and temperature already
    do.

    (1 + 0.9 |lambda - 0.95|) (1 + 0.5 x_r) (1 + 9 (w - 0.010))

    lam: lambda [-], most knock at 0.95. residual: mole fraction [-]. humidity: kg water per kg dry air [-].
    Fitted by us: lambda to russ1996 (about 2 octane numbers per air-fuel ratio unit), humidity to 1 octane
    number per 4 g/kg (common practice).
    """
    return np.asarray(
        (1 + 0.9 * np.abs(np.asarray(lam) - 0.95))
        * (1 + 0.5 * np.asarray(residual))
        * (1 + 9.0 * (np.asarray(humidity) - 0.010)),
        dtype=np.float64,
    )


def octane_index(ron: ArrayLike, mon: ArrayLike, K: ArrayLike = 0.0) -> Array:
    """Octane index RON - K (RON - MON) [-] (keys kalghatgi2005, zhou2017).

    K: 0 in the research test, 1 in the motor test; 0 +- 0.3 naturally aspirated, -0.4 +- 0.3 under boost (our
    own).
    """
    r = np.asarray(ron, dtype=np.float64)
    return np.asarray(r - np.asarray(K) * (r - np.asarray(mon)))


def livengood_wu(time: ArrayLike, delay: ArrayLike) -> Array:
    """Running knock integral I(t) = int dt/tau [-] along the last axis (key livengood1955).

    The rate 1/tau is taken as exponential between neighbouring times, which is exact for a delay that falls
    exponentially and second-order otherwise.

    time: [s], rising along the last axis. delay: tau [s] at those times, same shape. Returns that shape, I =
    0 first.
    """
    t = np.asarray(time, dtype=np.float64)
    tau = np.asarray(delay, dtype=np.float64)
    t, tau = np.broadcast_arrays(t, tau)
    step = np.diff(t, axis=-1)
    a, b = 1 / tau[..., :-1], 1 / tau[..., 1:]
    ratio = np.log(b / a)
    small = np.abs(ratio) < 1e-5
    mean = np.where(small, (a + b) / 2, (b - a) / np.where(small, 1.0, ratio))
    first = np.zeros((*t.shape[:-1], 1))
    return np.concatenate([first, np.cumsum(mean * step, axis=-1)], axis=-1)


def knock_onset(time: ArrayLike, delay: ArrayLike, factor: float = 1.0) -> Array:
    """Time [s] at which ``factor`` times the knock integral reaches 1, or nan; shape without the last axis.

    Interpolated inside the step with the exponential rate of :func:`livengood_wu`.
    """
    t = np.asarray(time, dtype=np.float64)
    tau = np.asarray(delay, dtype=np.float64)
    t, tau = np.broadcast_arrays(t, tau)
    I = factor * livengood_wu(t, tau)  # noqa: E741
    flat_t, flat_tau, flat_I = (x.reshape(-1, t.shape[-1]) for x in (t, tau, I))
    out = np.full(flat_t.shape[0], np.nan)
    for row in range(len(out)):
        hit = np.flatnonzero(flat_I[row] >= 1.0)
        if not len(hit):
            continue
        k = int(hit[0])
        if k == 0:
            out[row] = flat_t[row, 0]
            continue
        missing = (1.0 - flat_I[row, k - 1]) / factor
        a, b = 1 / flat_tau[row, k - 1], 1 / flat_tau[row, k]
        growth = np.log(b / a) / (flat_t[row, k] - flat_t[row, k - 1])
        wait = missing / a if abs(growth) < 1e-9 * a else np.log1p(growth * missing / a) / growth
        out[row] = flat_t[row, k - 1] + wait
    return out.reshape(t.shape[:-1])


def octane_equivalent(integral_ratio: ArrayLike, octane: ArrayLike) -> Array:
    """Octane numbers that would undo a change of the knock integral by ``integral_ratio`` [-].

    I ~ ON^-3.402, hence ON ((I2/I1)^(1/3.402) - 1). Positive: the change asks for more octane.
    """
    return np.asarray(
        np.asarray(octane) * (np.power(integral_ratio, 1 / OCTANE_EXPONENT) - 1), dtype=np.float64
    )


class RussGuidelines(NamedTuple):
    """Octane requirement per change of one condition, Russ 1996 (key russ1996, read in the abstract); per SI
    unit.
    """

    spark: float  # per rad of advance [1/rad]
    intake_temperature: float  # [1/K]
    intake_pressure: float  # [1/Pa], middle of 3..4 per 10 kPa
    compression_ratio: float  # per unit of ratio [-]
    back_pressure: float  # [1/Pa]
    coolant_temperature: float  # [1/K]


RUSS_GUIDELINES: Final = RussGuidelines(
    spark=float(180 / np.pi),
    intake_temperature=1 / 7,
    intake_pressure=3.5 / 10e3,
    compression_ratio=5.0,
    back_pressure=1 / 30e3,
    coolant_temperature=1 / 10,
)


def knock_probability(integral: ArrayLike, sigma: float = SIGMA_LN_INTEGRAL) -> Array:
    """Share of cycles that knock [-], Phi(ln I/sigma), for the mean cycle's integral ``integral`` [-].

    sigma: scatter of ln I from cycle to cycle [-]; 0.10 is our own estimate from the usual scatter of burn
    speed (65 % of it) and of end-gas temperature.
    """
    from scipy.special import ndtr  # lazily: SciPy is slow to import

    with np.errstate(divide="ignore"):
        return np.asarray(ndtr(np.log(np.asarray(integral, dtype=np.float64)) / sigma))


# Zeros of J_m' for m circumferential and n radial nodes (from memory; tested against SciPy).
_BESSEL_ZEROS: Final = {
    (1, 0): 1.8411837813,
    (2, 0): 3.0542369282,
    (0, 1): 3.8317059702,
    (3, 0): 4.2011889412,
}


def chamber_resonance(bore: ArrayLike, sound_speed: ArrayLike, mode: tuple[int, int] = (1, 0)) -> Array:
    """Frequency rho_mn c/(pi B) [Hz] of a transverse mode of the disc-shaped chamber (key draper1938).

    bore: [m]. sound_speed: of burned gas, 900-1000 [m/s]. mode: (circumferential, radial) nodes, one of
    (1,0), (2,0), (0,1), (3,0).
    """
    if mode not in _BESSEL_ZEROS:
        raise OutOfRange(f"mode {mode} is none of {sorted(_BESSEL_ZEROS)}")
    return np.asarray(
        _BESSEL_ZEROS[mode] * np.asarray(sound_speed) / (np.pi * np.asarray(bore)), dtype=np.float64
    )


def knock_warmth_score(T: ArrayLike) -> Array:
    """How much hotter an end gas is than the one at which knock was set, ln(T/830 K)/ln 1.1 [-].

    T: peak temperature of the unburned gas [K]. Times a coefficient it is added to the logarithm of a knock
    integral, as an exponent of 1/T other than the law's would: a coefficient of 0.1 stands for 870 K more in
    exp(T_a/T). An approximation: the integral grows near the peak.
    """
    return np.asarray(np.log(np.asarray(T, dtype=np.float64) / WARMTH_REFERENCE) / np.log(1.1))

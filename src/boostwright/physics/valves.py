"""Poppet valves: cam lift, effective area, and compressible flow through an opening.

Reference area everywhere: the valve head (inner seat) area, with the coefficient C_f; the curtain coefficient
is C_d = C_f/(4 L/D). Crank angles [rad].
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.nozzle import critical_pressure_ratio

__all__ = [
    "DEFAULT_POWERS",
    "EXHAUST_PORT",
    "INTAKE_PORT",
    "SMOOTHING",
    "CamEvents",
    "PortCoefficient",
    "cam_coefficients",
    "cam_lift",
    "curtain_coefficient",
    "effective_area",
    "flow_coefficient",
    "lift_share",
    "mean_lift_share",
    "mean_mach_index",
    "open_share_at_lift",
    "smooth_flow_function",
    "valve_flow",
    "zero_lift_events",
]

Array = NDArray[np.float64]
Powers = tuple[int, int, int]

DEFAULT_POWERS: Final[Powers] = (10, 18, 26)
# Share of pressure drop below which the square root at equal pressures is rounded off [-].
SMOOTHING: Final = 3.0e-3


# --- Cam ---


def cam_coefficients(powers: Powers = DEFAULT_POWERS) -> tuple[float, float, float, float]:
    """Coefficients of x^2, x^p, x^q, x^r of the five-term cam polynomial [-].

    L/L_max = 1 + C_2 x^2 + C_p x^p + C_q x^q + C_r x^r, whose value, slope and curvature vanish at |x| = 1.
    """
    p, q, r = powers
    return (
        -p * q * r / ((p - 2) * (q - 2) * (r - 2)),
        2 * q * r / ((p - 2) * (q - p) * (r - p)),
        -2 * p * r / ((q - 2) * (q - p) * (r - q)),
        2 * p * q / ((r - 2) * (r - p) * (r - q)),
    )


def lift_share(x: ArrayLike, powers: Powers = DEFAULT_POWERS) -> Array:
    """L/L_max [-] at ``x`` [-], the distance from the lobe's middle over half the opening duration; 0 beyond
    1.
    """
    u = np.abs(np.asarray(x, dtype=np.float64))
    inside = np.minimum(u, 1.0)
    value = np.ones_like(inside)
    for c, k in zip(cam_coefficients(powers), (2, *powers), strict=True):
        value = value + c * inside**k
    return np.asarray(np.where(u < 1.0, np.clip(value, 0.0, 1.0), 0.0))


def mean_lift_share(powers: Powers = DEFAULT_POWERS) -> float:
    """Mean of L/L_max over the opening duration [-]."""
    return float(1.0 + sum(c / (k + 1) for c, k in zip(cam_coefficients(powers), (2, *powers), strict=True)))


def cam_lift(
    theta: ArrayLike, opens: ArrayLike, closes: ArrayLike, lift: ArrayLike, powers: Powers = DEFAULT_POWERS
) -> Array:
    """Valve lift [m] at crank angle ``theta`` [rad], repeating every two turns.

    opens, closes: crank angles at zero lift [rad], closes > opens. lift: greatest lift [m].
    """
    middle = (np.asarray(opens) + np.asarray(closes)) / 2
    half = (np.asarray(closes) - np.asarray(opens)) / 2
    distance = np.mod(np.asarray(theta) - middle + 2 * np.pi, 4 * np.pi) - 2 * np.pi
    return np.asarray(np.asarray(lift) * lift_share(distance / half, powers), dtype=np.float64)


def open_share_at_lift(share: ArrayLike, powers: Powers = DEFAULT_POWERS) -> Array:
    """Share [-] of the zero-lift duration during which the lift exceeds ``share`` times the greatest lift.

    share: 0 <= share < 1 [-].
    """
    s = np.asarray(share, dtype=np.float64)
    lo, hi = np.zeros_like(s), np.ones_like(s)
    for _ in range(60):
        mid = (lo + hi) / 2
        above = lift_share(mid, powers) > s
        lo, hi = np.where(above, mid, lo), np.where(above, hi, mid)
    return np.asarray((lo + hi) / 2)


class CamEvents(NamedTuple):
    """Opening and closing crank angles [rad]."""

    opens: Array
    closes: Array


def zero_lift_events(
    opens: ArrayLike,
    closes: ArrayLike,
    at_lift: ArrayLike,
    lift: ArrayLike,
    powers: Powers = DEFAULT_POWERS,
    lash: ArrayLike = 0.0,
) -> CamEvents:
    """Events at zero lift from events that a cam card states at a small lift.

    The lobe's middle stays, the duration grows by 1/open_share_at_lift((at_lift + lash)/lift).

    opens, closes: stated crank angles [rad]. at_lift: valve lift at which they are stated, often 0.1, 0.5 or
    1 mm [m]. lift: greatest valve lift [m]. lash: valve clearance, if the stated lift is the cam's without it
    [m]. A card's 'duration at 1 mm' taken for a zero-lift duration would lose about 20 % of the opening.
    """
    x = open_share_at_lift((np.asarray(at_lift) + np.asarray(lash)) / np.asarray(lift), powers)
    middle = (np.asarray(opens, dtype=np.float64) + np.asarray(closes)) / 2
    half = (np.asarray(closes) - np.asarray(opens)) / 2 / x
    return CamEvents(np.asarray(middle - half), np.asarray(middle + half))


# --- Opening ---


class PortCoefficient(NamedTuple):
    """C_f = c tanh((L/D)/x0) on valve head area [-]; ``reverse`` multiplies it for backward flow."""

    c: float
    x0: float
    reverse: float


# Shaped by us on the published picture (heywood1988 ch. 6, blair1999; from memory): curtain coefficient
# 0.62-0.70 below L/D 0.1, 0.45-0.50 at 0.25, 0.40 at 0.35. Error of a class default +-10 %.
INTAKE_PORT: Final = PortCoefficient(0.62, 0.235, 1.00)
EXHAUST_PORT: Final = PortCoefficient(0.66, 0.225, 0.92)


def flow_coefficient(lift_over_diameter: ArrayLike, port: PortCoefficient, factor: ArrayLike = 1.0) -> Array:
    """Flow coefficient C_f on valve head area [-]; ``factor`` is the class factor of the port [-]."""
    return np.asarray(
        np.asarray(factor) * port.c * np.tanh(np.asarray(lift_over_diameter) / port.x0), dtype=np.float64
    )


def curtain_coefficient(
    lift_over_diameter: ArrayLike, port: PortCoefficient, factor: ArrayLike = 1.0
) -> Array:
    """The same opening's coefficient on curtain area, C_f/(4 L/D) [-]."""
    return np.asarray(
        flow_coefficient(lift_over_diameter, port, factor) / (4 * np.asarray(lift_over_diameter))
    )


def effective_area(
    lift: ArrayLike, diameter: ArrayLike, count: ArrayLike, port: PortCoefficient, factor: ArrayLike = 1.0
) -> Array:
    """Effective flow area of ``count`` valves, n pi/4 D^2 C_f [m2]; ``lift``, ``diameter`` [m]."""
    D = np.asarray(diameter, dtype=np.float64)
    area = np.asarray(count) * np.pi / 4 * D**2
    return np.asarray(area * flow_coefficient(np.asarray(lift) / D, port, factor))


def mean_mach_index(
    piston_area: ArrayLike,
    mean_piston_speed: ArrayLike,
    mean_effective_area: ArrayLike,
    sound_speed: ArrayLike,
) -> Array:
    """Mean inlet Mach index Z = A_p S_p/(A_mean a) [-] (key taylor1985); filling falls from about 0.5 on."""
    return np.asarray(
        np.asarray(piston_area) * mean_piston_speed / (np.asarray(mean_effective_area) * sound_speed),
        dtype=np.float64,
    )


# --- Flow ---


def smooth_flow_function(pressure_ratio: ArrayLike, gamma: ArrayLike, smoothing: float = SMOOTHING) -> Array:
    """psi = m_dot sqrt(R T0)/(A p0) [-] of an isentropic nozzle.

    psi^2 = 2g/(g-1) (x^(2/g) - x^((g+1)/g)), x = max(p1/p0, critical ratio)

    Near equal pressures psi grows like sqrt(1 - x), whose slope is infinite; psi^2 is therefore multiplied by
    d/sqrt(d^2 + smoothing^2), d = 1 - p1/p0, which makes it linear there and changes nothing elsewhere.

    pressure_ratio: p1/p0, downstream over upstream, 0..1 [-]. gamma: [-]. smoothing: [-]; 0 gives the bare
    formula. Key saintvenant1839 (heywood1988 app. C).
    """
    g = np.asarray(gamma, dtype=np.float64)
    raw = np.asarray(pressure_ratio, dtype=np.float64)
    x = np.maximum(raw, critical_pressure_ratio(g))
    square = 2 * g / (g - 1) * (x ** (2 / g) - x ** ((g + 1) / g))
    if smoothing > 0:
        d = 1 - raw
        square = square * np.where(raw > critical_pressure_ratio(g), d / np.hypot(d, smoothing), 1.0)
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))


def valve_flow(
    area: ArrayLike,
    p_up: ArrayLike,
    T_up: ArrayLike,
    p_down: ArrayLike,
    R: ArrayLike = 287.05,
    gamma: ArrayLike = 1.4,
    smoothing: float = SMOOTHING,
) -> Array:
    """Mass flow A p0/sqrt(R T0) psi [kg/s] from the upstream side.

    area: effective area [m2]. p_up, T_up: total state upstream [Pa, K]. p_down: [Pa], not above p_up. R:
    [J/kg/K].
    """
    psi = smooth_flow_function(np.asarray(p_down) / np.asarray(p_up), gamma, smoothing)
    return np.asarray(np.asarray(area) * p_up / np.sqrt(np.asarray(R) * T_up) * psi, dtype=np.float64)

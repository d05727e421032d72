"""Flow of a perfect gas through an orifice or nozzle, choked or not.

Used wherever a gas passes a restriction: turbine, wastegate, throttle, blow-off valve.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["choked_flow_constant", "critical_pressure_ratio", "flow_function", "nozzle_flow"]

Array = NDArray[np.float64]

_NEARLY_EQUAL = 0.98  # above this pressure ratio the flow function is replaced by a square root


def critical_pressure_ratio(gamma: ArrayLike) -> Array:
    """Downstream over upstream pressure at which the throat chokes, (2/(g+1))^(g/(g-1)) [-].

    gamma: ratio of heat capacities [-]. Source: heywood1988, appendix C, from memory.
    """
    g = np.asarray(gamma, dtype=np.float64)
    return np.asarray((2 / (g + 1)) ** (g / (g - 1)))


def choked_flow_constant(gamma: ArrayLike) -> Array:
    """m sqrt(R T)/(A p) of a choked throat, sqrt(g) (2/(g+1))^((g+1)/(2(g-1))) [-].

    gamma: ratio of heat capacities [-]. Source: heywood1988, appendix C, from memory.
    """
    g = np.asarray(gamma, dtype=np.float64)
    return np.asarray(np.sqrt(g) * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1))))


def flow_function(pressure_ratio: ArrayLike, gamma: ArrayLike) -> Array:
    """Flow function Psi = m sqrt(R T)/(A p) of a nozzle [-].

    Psi = sqrt(2g/(g-1) (x^(2/g) - x^((g+1)/g))), x the pressure ratio, not below the critical one. Above x =
    0.98 the square root Psi(0.98) sqrt((1-x)/0.02) stands in for it (1.2 % low at most, at no flow), so that
    the form is known near zero flow.

    pressure_ratio: downstream over upstream, 0..1 [-]; above 1 counts as 1. gamma: [-]. Both broadcast.
    Source: heywood1988, appendix C, from memory.
    """
    g = np.asarray(gamma, dtype=np.float64)
    x = np.maximum(np.asarray(pressure_ratio, dtype=np.float64), critical_pressure_ratio(g))
    x = np.minimum(x, 1.0)
    inner = np.minimum(x, _NEARLY_EQUAL)
    psi = np.sqrt(2 * g / (g - 1) * (inner ** (2 / g) - inner ** ((g + 1) / g)))
    return np.asarray(psi * np.sqrt(np.minimum(1.0, (1 - x) / (1 - _NEARLY_EQUAL))))


def nozzle_flow(
    area: ArrayLike, p1: ArrayLike, T1: ArrayLike, p2: ArrayLike, R: ArrayLike, gamma: ArrayLike
) -> Array:
    """Mass flow from p1 to p2 through an effective area [kg/s]; negative when p2 is the higher pressure.

    m = A p/sqrt(R T) Psi(x, gamma). The temperature is that of the upstream side; on reverse flow the caller
    must give it for that side.

    area: discharge coefficient times area [m2]. p1, p2: total upstream and static downstream pressure [Pa].
    T1: total temperature of the giving side [K]. R: [J/(kg K)]. gamma: [-]. All broadcast. Source:
    heywood1988, appendix C, from memory.
    """
    p1, p2 = np.asarray(p1, dtype=np.float64), np.asarray(p2, dtype=np.float64)
    high, low = np.maximum(p1, p2), np.minimum(p1, p2)
    flow = (
        np.asarray(area) * high / np.sqrt(np.asarray(R) * np.asarray(T1)) * flow_function(low / high, gamma)
    )
    return np.asarray(np.where(p1 >= p2, flow, -flow))

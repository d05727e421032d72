"""Radial compressor: correction to a reference state, similarity variables, and the operating point on any
map.

States at the inlet are total states, speeds are rad/s, pressure ratios are absolute total-to-total. A map is
a function of flow coefficient and blade Mach number (`CompressorMap`), so one map serves every inlet state;
the estimate from wheel sizes in ``compressor_sizes`` is one such map.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from functools import lru_cache
from typing import Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.roots import bracketed_root

__all__ = [
    "CP_AIR",
    "GAMMA_AIR",
    "R_AIR",
    "CompressorMap",
    "CompressorPoint",
    "MapPoint",
    "PointStatus",
    "actual_flow",
    "actual_speed",
    "blade_mach",
    "corrected_flow",
    "corrected_speed",
    "flow_coefficient",
    "head_coefficient",
    "operating_point",
    "outlet_temperature",
    "pressure_ratio_of_head",
    "tip_speed",
]

Array = NDArray[np.float64]

# Dry air between 250 and 450 K; constant values cost 0.1 % of the work up to a pressure ratio of 3.
R_AIR: Final = 287.05  # [J/(kg K)]
CP_AIR: Final = 1005.0  # [J/(kg K)]
GAMMA_AIR: Final = 1.4  # [-]

_FLOW_RANGE: Final = (1e-3, 1.0)  # of phi M in the scan; beyond it the scan's edge gives the bracket
_SCAN: Final = 64  # blade Mach numbers at which a map is scanned for the first upward crossing
_DOUBT: Final = 0.03  # of the pressure ratio: within it the table does not say whether an end is passed
_NEAR_ENOUGH: Final = 0.02  # of blade Mach number, between a hint and the table: about two rows
_SECANT_STEPS: Final = 6
_SECANT_TOLERANCE: Final = 1e-7  # of the last step
_SECANT_ERROR: Final = (
    1e-9  # of the pressure ratio before it: a map has kinks, past which the slope is another
)


class PointStatus(IntEnum):
    """Where an operating point lies on the map."""

    ON_MAP = 0  # between surge line and line end
    LEFT_OF_SURGE = 1  # less flow than the surge line at this speed
    BEYOND_CHOKE = 2  # more flow than the line end at this speed
    TOO_FAST = 3  # the wanted pressure ratio needs more than the map's highest blade Mach number
    IDLING = 4  # the wanted pressure ratio is below that of the map's lowest speed


class MapPoint(NamedTuple):
    """What a map says at one flow coefficient and blade Mach number; all dimensionless."""

    psi: Array  # isentropic head coefficient
    work: Array  # work coefficient
    eta: Array  # isentropic efficiency
    phi_surge: Array  # flow coefficient of the surge line at this Mach number
    phi_end: Array  # flow coefficient where the speed line ends in choke


class CompressorMap(Protocol):
    """A compressor map in similarity variables. It must be hashable: its first scan is kept."""

    def __hash__(self) -> int:
        """Equal maps have equal hashes."""
        ...

    @property
    def mach_range(self) -> tuple[float, float]:
        """Lowest and highest blade Mach number at which the map may be asked [-]."""
        ...

    def __call__(self, phi: Array, mach: Array) -> MapPoint:
        """Head, work, efficiency and flow limits at flow coefficient `phi` and blade Mach number `mach`."""
        ...

    def head(self, phi: Array, mach: Array) -> Array:
        """The isentropic head coefficient of `__call__` alone; the search for the speed asks for no more."""
        ...


class CompressorPoint(NamedTuple):
    """An operating point; every array has the broadcast shape of the arguments."""

    speed: Array  # shaft speed [rad/s]
    mach: Array  # blade Mach number of the exducer tip on the inlet's speed of sound [-]
    tip_speed: Array  # exducer tip [m/s]
    pressure_ratio: Array  # attained; below the wanted one where status is TOO_FAST [-]
    efficiency: Array  # isentropic [-]
    outlet_temperature: Array  # [K]
    power: Array  # into the air [W]
    surge_ratio: Array  # flow over the surge flow at this speed: below 1 is left of the surge line [-]
    choke_ratio: Array  # flow over the line-end flow at this speed: above 1 is beyond choke [-]
    status: NDArray[np.int64]  # PointStatus

    @property
    def choke_margin(self) -> Array:
        """Share of the line-end flow still free, 1 - choke_ratio [-]."""
        return np.asarray(1.0 - self.choke_ratio)


def corrected_flow(
    m_dot: ArrayLike, T01: ArrayLike, p01: ArrayLike, T_ref: ArrayLike, p_ref: ArrayLike
) -> Array:
    """Mass flow that would pass at the reference state at the same pressure ratio and blade Mach number.

    m_corr = m_dot sqrt(T01 / T_ref) / (p01 / p_ref)

    m_dot: mass flow [kg/s]. T01, p01: total state at the inlet [K], [Pa]. T_ref, p_ref: the reference state
    printed on the map [K], [Pa]. Returns the corrected flow [kg/s]. Exact for a perfect gas of constant
    gamma. Source: watson1982, from memory.
    """
    return np.asarray(
        np.asarray(m_dot) * np.sqrt(np.asarray(T01) / T_ref) / (np.asarray(p01) / p_ref), dtype=np.float64
    )


def actual_flow(
    m_corr: ArrayLike, T01: ArrayLike, p01: ArrayLike, T_ref: ArrayLike, p_ref: ArrayLike
) -> Array:
    """Mass flow [kg/s] at inlet state T01 [K], p01 [Pa] of a corrected flow [kg/s]; inverse of
    `corrected_flow`."""
    return corrected_flow(m_corr, T_ref, p_ref, T01, p01)


def corrected_speed(omega: ArrayLike, T01: ArrayLike, T_ref: ArrayLike) -> Array:
    """Shaft speed with the same blade Mach number at the reference temperature: omega sqrt(T_ref / T01).

    omega: shaft speed [rad/s]. T01: inlet total temperature [K]. T_ref: reference [K]. Returns [rad/s].
    Source: watson1982, from memory.
    """
    return np.asarray(np.asarray(omega) * np.sqrt(T_ref / np.asarray(T01)), dtype=np.float64)


def actual_speed(omega_corr: ArrayLike, T01: ArrayLike, T_ref: ArrayLike) -> Array:
    """Shaft speed [rad/s] at inlet temperature T01 [K] of a corrected speed [rad/s]; inverse of
    `corrected_speed`."""
    return corrected_speed(omega_corr, T_ref, T01)


def tip_speed(omega: ArrayLike, D2: ArrayLike) -> Array:
    """Exducer tip speed U2 = omega D2 / 2 [m/s] of shaft speed omega [rad/s] and exducer diameter D2 [m]."""
    return np.asarray(np.asarray(omega) * np.asarray(D2) / 2, dtype=np.float64)


def blade_mach(
    omega: ArrayLike, D2: ArrayLike, T01: ArrayLike, R: float = R_AIR, gamma: float = GAMMA_AIR
) -> Array:
    """Blade Mach number M = U2 / sqrt(gamma R T01) [-].

    omega: shaft speed [rad/s]. D2: exducer diameter [m]. T01: inlet total temperature [K]. R: gas constant
    [J/(kg K)]. gamma: ratio of heat capacities [-]. Source: dixon2014, from memory.
    """
    return np.asarray(tip_speed(omega, D2) / np.sqrt(gamma * R * np.asarray(T01)), dtype=np.float64)


def flow_coefficient(
    m_dot: ArrayLike, omega: ArrayLike, D2: ArrayLike, T01: ArrayLike, p01: ArrayLike, R: float = R_AIR
) -> Array:
    """Flow coefficient phi = m_dot / (rho01 U2 D2^2) [-], on the square of the exducer diameter.

    m_dot: [kg/s]. omega: [rad/s]. D2: [m]. T01, p01: inlet total state [K], [Pa]. R: [J/(kg K)]. Older papers
    use pi/4 D2^2 instead of D2^2. Source: dixon2014, from memory.
    """
    rho01 = np.asarray(p01) / (R * np.asarray(T01))
    return np.asarray(
        np.asarray(m_dot) / (rho01 * tip_speed(omega, D2) * np.asarray(D2) ** 2), dtype=np.float64
    )


def head_coefficient(pressure_ratio: ArrayLike, mach: ArrayLike, gamma: float = GAMMA_AIR) -> Array:
    """Isentropic head coefficient psi = cp T01 (PR^((gamma-1)/gamma) - 1) / U2^2 [-].

    pressure_ratio: total to total [-]. mach: blade Mach number [-]. The head is on U2^2, not on U2^2/2.
    Source: dixon2014, from memory.
    """
    k = (gamma - 1) / gamma
    return np.asarray(
        (np.asarray(pressure_ratio) ** k - 1) / ((gamma - 1) * np.asarray(mach) ** 2), dtype=np.float64
    )


def pressure_ratio_of_head(psi: ArrayLike, mach: ArrayLike, gamma: float = GAMMA_AIR) -> Array:
    """Pressure ratio PR = (1 + (gamma-1) M^2 psi)^(gamma/(gamma-1)) [-]; inverse of `head_coefficient`."""
    return np.asarray(
        (1 + (gamma - 1) * np.asarray(mach) ** 2 * np.asarray(psi)) ** (gamma / (gamma - 1)), dtype=np.float64
    )


def outlet_temperature(
    T01: ArrayLike, pressure_ratio: ArrayLike, efficiency: ArrayLike, gamma: float = GAMMA_AIR
) -> Array:
    """Total temperature at the compressor outlet, T02 = T01 (1 + (PR^((gamma-1)/gamma) - 1) / eta) [K].

    T01: inlet total temperature [K]. pressure_ratio: total to total [-]. efficiency: isentropic [-]. Heat
    from the turbine housing is not in it. Constant gamma costs 0.3 % of T02 up to a pressure ratio of 3.
    Source: watson1982, from memory.
    """
    k = (gamma - 1) / gamma
    rise = (np.asarray(pressure_ratio) ** k - 1) / np.asarray(efficiency)
    return np.asarray(np.asarray(T01) * (1 + rise), dtype=np.float64)


def operating_point(
    compressor_map: CompressorMap,
    D2: float,
    m_dot: ArrayLike,
    pressure_ratio: ArrayLike,
    T01: ArrayLike,
    p01: ArrayLike,
    near: ArrayLike | None = None,
) -> CompressorPoint:
    """Speed, efficiency and margins at which a map gives this flow and pressure ratio.

    Solves PR(phi, M) = pressure_ratio for the blade Mach number M, with phi M = m_dot / (rho01 a01 D2^2)
    held. The pressure ratio at fixed flow need not rise with speed everywhere (a line in choke, a line left
    of surge), so the map is scanned from low to high speed and the first upward crossing is taken, then
    closed in by the secant method, and by Chandrupatla's where that strays.

    compressor_map: the map. D2: exducer diameter [m]. m_dot: mass flow [kg/s], above 0. pressure_ratio:
    wanted, total to total [-]. T01, p01: inlet total state [K], [Pa]. near: a blade Mach number close to the
    answer, where one is known; it saves time [-]. All broadcast; returns arrays of the broadcast shape. Where
    the map cannot give the pressure ratio, the point at its highest speed comes back with status TOO_FAST.

    Raises OutOfRange for a flow, temperature or pressure that is not positive, NotConverged if the root
    finder does not close. Error: that of the map.
    """
    m, target, T, p = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (m_dot, pressure_ratio, T01, p01))
    )
    shape = m.shape
    m, target, T, p = (a.ravel() for a in (m, target, T, p))
    if not all(np.all(np.isfinite(a) & (a > 0)) for a in (m, target, T, p)):
        raise OutOfRange(
            "A compressor point needs a flow, a pressure ratio, an inlet temperature and an inlet pressure, "
            "each above zero."
        )
    sound = np.sqrt(GAMMA_AIR * R_AIR * T)
    phi_mach = m / (p / (R_AIR * T) * sound * D2**2)
    close = None if near is None else np.broadcast_to(near, shape).ravel()
    mach, cannot, idling = _first_upward_crossing(compressor_map, phi_mach, target, close)

    point = compressor_map(phi_mach / mach, mach)
    surge_ratio = phi_mach / mach / point.phi_surge
    choke_ratio = phi_mach / mach / point.phi_end
    status = np.full(m.shape, int(PointStatus.ON_MAP), dtype=np.int64)
    status[surge_ratio < 1] = PointStatus.LEFT_OF_SURGE
    status[choke_ratio > 1] = PointStatus.BEYOND_CHOKE
    status[idling] = PointStatus.IDLING
    status[cannot] = PointStatus.TOO_FAST
    u2 = mach * sound
    rise = u2**2 * point.work
    return CompressorPoint(
        speed=(2 * u2 / D2).reshape(shape),
        mach=mach.reshape(shape),
        tip_speed=u2.reshape(shape),
        pressure_ratio=pressure_ratio_of_head(point.psi, mach).reshape(shape),
        efficiency=point.eta.reshape(shape),
        outlet_temperature=(T + rise / CP_AIR).reshape(shape),
        power=(m * rise).reshape(shape),
        surge_ratio=surge_ratio.reshape(shape),
        choke_ratio=choke_ratio.reshape(shape),
        status=status.reshape(shape),
    )


class _Scan(NamedTuple):
    """Pressure ratio of a map over blade Mach number (rows) and phi M (columns, even in its logarithm)."""

    mach: Array  # (k,)
    log_flow: Array  # (c,)
    pressure_ratio: Array  # (k, c)


@lru_cache(maxsize=64)
def _scan(compressor_map: CompressorMap) -> _Scan:
    """Tabulate a map once, to find brackets in; answers never come from this table."""
    mach = np.linspace(*compressor_map.mach_range, _SCAN)
    log_flow = np.linspace(np.log(_FLOW_RANGE[0]), np.log(_FLOW_RANGE[1]), 2 * _SCAN)
    flow = np.exp(log_flow)[None, :]
    ratio = pressure_ratio_of_head(compressor_map.head(flow / mach[:, None], mach[:, None]), mach[:, None])
    return _Scan(mach, log_flow, ratio)


def _first_upward_crossing(
    compressor_map: CompressorMap, phi_mach: Array, target: Array, near: Array | None
) -> tuple[Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """Blade Mach number of the wanted pressure ratio, and where it lies above or below the map's speeds."""
    scan = _scan(compressor_map)
    place = np.interp(np.log(phi_mach), scan.log_flow, np.arange(scan.log_flow.size, dtype=np.float64))
    column = np.minimum(place.astype(np.int64), scan.log_flow.size - 2)
    right_share = place - column
    ratio = (1 - right_share) * scan.pressure_ratio[:, column] + right_share * scan.pressure_ratio[
        :, column + 1
    ]
    lowest, highest = scan.mach[0], scan.mach[-1]

    def excess(mach: Array, flow: Array, wanted: Array) -> Array:
        return np.asarray(pressure_ratio_of_head(compressor_map.head(flow / mach, mach), mach) - wanted)

    def at_end(mach: float, near: NDArray[np.bool_]) -> Array:
        found = np.full(target.shape, np.nan)
        if near.any():
            found[near] = excess(np.full(int(near.sum()), mach), phi_mach[near], target[near])
        return found

    # The ends are judged on the map itself, but only where the table leaves a doubt.
    idling = at_end(lowest, ratio[0] > (1 - _DOUBT) * target) >= 0
    cannot = ~idling & (at_end(highest, ratio[-1] < (1 + _DOUBT) * target) < 0)
    below = ratio < target
    below[0], below[-1] = True, False
    first = (below[:-1] & ~below[1:]).argmax(axis=0)
    mach = np.where(idling, lowest, highest)
    sought = ~idling & ~cannot
    if sought.any():
        flow, wanted, at = phi_mach[sought], target[sought], first[sought]
        low, high = (ratio[at + k, np.flatnonzero(sought)] for k in (0, 1))
        rise = np.maximum(high - low, 1e-6)
        start = scan.mach[at] + np.clip((wanted - low) / rise, 0.0, 1.0) * (scan.mach[1] - scan.mach[0])
        if near is not None:
            close = near[sought]
            at = np.where(
                np.abs(close - start) < _NEAR_ENOUGH,
                np.clip(np.searchsorted(scan.mach, close, side="right") - 1, 0, _SCAN - 2),
                at,
            )
            start = np.where(np.abs(close - start) < _NEAR_ENOUGH, close, start)
        found = _closed_in(excess, scan, at, start, rise, flow, wanted)
        cannot[sought], idling[sought] = found > highest, found < lowest
        mach[sought] = np.clip(found, lowest, highest)
    return mach, cannot, idling


def _closed_in(
    excess: Callable[[Array, Array, Array], Array],
    scan: _Scan,
    at: NDArray[np.int64],
    start: Array,
    rise: Array,
    flow: Array,
    wanted: Array,
) -> Array:
    """The crossing itself: secant steps from the table's answer, and a bracketed search where they stray.

    at: row of the table below the crossing. start: blade Mach number there. rise: of the pressure ratio over
    one row. Returns the blade Mach number. Raises NotConverged.
    """
    pitch = scan.mach[1] - scan.mach[0]
    left, right = scan.mach[np.maximum(at - 1, 0)], scan.mach[np.minimum(at + 2, _SCAN - 1)]
    mach, slope = start, rise / pitch
    before, was = start, np.full(start.shape, np.nan)
    closed = np.zeros(start.shape, dtype=bool)
    for turn in range(_SECANT_STEPS):
        error = excess(mach, flow, wanted)
        if turn:
            with np.errstate(divide="ignore", invalid="ignore"):
                measured = (error - was) / (mach - before)
            slope = np.where(np.isfinite(measured) & (measured > 0.05 * rise / pitch), measured, slope)
        step = error / slope
        before, was = mach, error
        mach = np.clip(mach - np.where(closed, 0.0, step), left, right)
        near = (np.abs(step) <= _SECANT_TOLERANCE * mach) & (np.abs(error) <= _SECANT_ERROR * wanted)
        closed = closed | (near & (mach > left) & (mach < right))
        if closed.all():
            return mach
    stray = ~closed
    there, asked = flow[stray], wanted[stray]
    lowest, highest = scan.mach[0], scan.mach[-1]
    a = np.where(excess(left[stray], there, asked) < 0, left[stray], lowest)
    b = np.where(excess(right[stray], there, asked) >= 0, right[stray], highest)
    ends_low, ends_high = excess(a, there, asked) >= 0, excess(b, there, asked) < 0
    root = bracketed_root(lambda x: excess(x, there, asked), a, b)
    lost = ~(root.closed | ends_low | ends_high)
    if lost.any():
        raise NotConverged(
            f"The compressor speed was not found at {int(lost.sum())} of {root.x.size} points."
        )
    mach = np.array(mach)
    mach[stray] = np.where(ends_high, np.inf, np.where(ends_low, -np.inf, root.x))
    return mach

"""Charge-pipe couplers: what pulls a hose off, what holds it, and the leak that a pressure test shows.

The leak's area comes out of the seconds in which a closed charge path loses pressure. The gas is somewhere
between keeping the walls' temperature (slow) and losing none of its heat to them (fast), so both are given.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.atmosphere import R_DRY_AIR
from boostwright.physics.nozzle import choked_flow_constant, critical_pressure_ratio
from boostwright.physics.roots import bracketed_root

__all__ = [
    "DecayTime",
    "LeakArea",
    "PressureAfter",
    "band_friction",
    "band_tension_for",
    "bead_resistance",
    "bend_thrust",
    "decay_time",
    "leak_area",
    "leak_pressure_after",
    "pull_off_force",
]

Array = NDArray[np.float64]

_NODES, _WEIGHTS = (np.asarray(a) for a in np.polynomial.legendre.leggauss(40))


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def pull_off_force(gauge_pressure: ArrayLike, bore: ArrayLike) -> Array:
    """Force that pulls a coupler off its pipe, p pi/4 D^2 [N].

    gauge_pressure: p above ambient [Pa]. bore: D, the hose's inside where it sits on the pipe [m]. Broadcast.
    It acts wherever the run turns or ends and nothing else holds the pipes together. Exact at rest; the
    gas's own momentum (gamma M^2 of the absolute pressure's force: 3 % at Mach 0.15, a tenth of a low boost's
    pull) comes on top.
    """
    return np.asarray(_floats(gauge_pressure) * np.pi / 4 * _floats(bore) ** 2)


def bend_thrust(gauge_pressure: ArrayLike, bore: ArrayLike, bend: ArrayLike) -> Array:
    """Force that a bracket must take off a bend, 2 p pi/4 D^2 sin(bend/2) [N], outward on its middle line.

    bend: angle through which the run turns [rad]; the rest as `pull_off_force`, of which it is the sum over
    both ends. Without a bracket each of the two couplers holds the whole `pull_off_force`.
    """
    return np.asarray(2 * pull_off_force(gauge_pressure, bore) * np.sin(_floats(bend) / 2))


def band_friction(tension: ArrayLike, friction: ArrayLike, gauge_pressure: ArrayLike = 0.0,
                  bore: ArrayLike = 0.0, width: ArrayLike = 0.0) -> Array:  # fmt: skip
    """Axial force that a clamp band holds by friction, mu (2 pi T - p pi D w) [N], not below 0.

    A band of tension T on a radius r presses T/r on each metre of its circle; round the circle that is
    2 pi T, whatever the radius. Pressure that creeps under the hose takes p pi D w off (width 0: none).

    tension: T of the band [N]. friction: mu of hose on pipe; rubber on dry metal 0.4 to 0.8, on an oily one
    0.1 to 0.2 [-] (common practice, no source). gauge_pressure: [Pa]. bore: D [m]. width: w of the band [m].
    All broadcast. The friction of the band on the hose, which leaves less tension far from the screw (10 to
    30 %), and the hose's own grip are left out. Own derivation.
    """
    creep = _floats(gauge_pressure) * np.pi * _floats(bore) * _floats(width)
    return np.asarray(_floats(friction) * np.maximum(2 * np.pi * _floats(tension) - creep, 0.0))


def band_tension_for(force: ArrayLike, friction: ArrayLike) -> Array:
    """Tension at which a band on a plain pipe holds a force, F/(2 pi mu) [N]; inverse of `band_friction`."""
    return np.asarray(_floats(force) / (2 * np.pi * _floats(friction)))


def bead_resistance(tension: ArrayLike, friction: ArrayLike, flank: ArrayLike) -> Array:
    """Axial force that starts a clamped hose up the flank of a bead, 2 pi T (mu + tan b)/(1 - mu tan b) [N].

    The block on a slope: at b = 0 it is `band_friction`; at mu tan b >= 1 friction alone locks it (infinity),
    and the hose, not the bead, lets go first.

    tension: T before it moves [N]; it grows as the band is stretched, so the bead holds at least this.
    friction: mu [-]. flank: angle b of the bead's flank from the pipe's axis [rad]. All broadcast. Holds only
    with the band between bead and hose end: a band ON the bead has none of it. Own derivation, 30 %.
    """
    mu, slope = _floats(friction), np.tan(_floats(flank))
    locked = mu * slope >= 1
    wedge = (mu + slope) / np.where(locked, 1.0, 1 - mu * slope)
    return np.asarray(np.where(locked, np.inf, 2 * np.pi * _floats(tension) * wedge))


class LeakArea(NamedTuple):
    """Effective area of a leak, discharge coefficient included [m2]: the truth lies between."""

    isothermal: Array  # the gas stays as warm as the walls; the larger
    adiabatic: Array  # the gas cools as it expands; the smaller


class DecayTime(NamedTuple):
    """Time in which pressure falls [s]."""

    isothermal: Array  # the longer
    adiabatic: Array


class PressureAfter(NamedTuple):
    """Absolute pressure left after a time [Pa]."""

    isothermal: Array  # the higher
    adiabatic: Array


def _checked(start: ArrayLike, end: ArrayLike, ambient: ArrayLike) -> tuple[Array, Array, Array]:
    p0, p1, pa = np.broadcast_arrays(_floats(start), _floats(end), _floats(ambient))
    if np.any(pa <= 0) or np.any(p1 < pa) or np.any(p0 < p1):
        raise OutOfRange(
            f"Pressure falls from {start!r} to {end!r} Pa with {ambient!r} Pa outside: it must start at the "
            "higher one and end not below the outside. All three are absolute: "
            "add the barometer to a gauge's reading."
        )
    return p0, p1, pa


def _subsonic_part(p0: Array, p1: Array, pa: Array, gamma: float, power: float) -> Array:
    """Integral of (p/p_ref)^-power dp/(p Psi(pa/p)) from p1 to p0 below choking; p_ref is pa [-].

    With p = pa (1 + u^2) the integrand is smooth down to p = pa, where Psi goes like u.
    """
    a, b = np.sqrt(np.maximum(p1 / pa - 1, 0.0)), np.sqrt(np.maximum(p0 / pa - 1, 0.0))
    u = ((a + b) / 2)[..., None] + ((b - a) / 2)[..., None] * _NODES
    x = 1 / (1 + u**2)  # pa/p
    # 1 - x^((g-1)/g) without losing digits near x = 1
    drop = -np.expm1((gamma - 1) / gamma * np.log(x))
    psi = np.sqrt(2 * gamma / (gamma - 1) * x ** (2 / gamma) * drop)
    inside = 2 * u * x ** (1 + power) / np.where(psi > 0, psi, np.inf)
    return np.asarray(((b - a) / 2) * (inside @ _WEIGHTS))


def _area_time(p0: Array, p1: Array, pa: Array, gamma: float, *, adiabatic: bool) -> Array:
    """A t sqrt(R T0)/V [-]: the choked stretch in closed form, the subsonic one by Gauss quadrature."""
    choke = pa / critical_pressure_ratio(gamma)
    C = choked_flow_constant(gamma)
    low, high = np.maximum(p1, choke), np.minimum(p0, choke)  # ends of choked and subsonic stretch
    if not adiabatic:
        choked = np.log(np.maximum(p0 / low, 1.0)) / C
        return np.asarray(choked + _subsonic_part(np.maximum(high, p1), p1, pa, gamma, 0.0))
    n = (gamma - 1) / (2 * gamma)  # sqrt(T/T0) = (p/p0)^n
    choked = np.where(p0 > low, 2 / ((gamma - 1) * C) * np.expm1(n * np.log(np.maximum(p0 / low, 1.0))), 0.0)
    slow = _subsonic_part(np.maximum(high, p1), p1, pa, gamma, n) * (p0 / pa) ** n / gamma
    return np.asarray(choked + slow)


def leak_area(
    seconds: ArrayLike,
    volume: ArrayLike,
    start: ArrayLike,
    end: ArrayLike,
    T: ArrayLike,
    ambient: ArrayLike = 101325.0,
    R: float = R_DRY_AIR,
    gamma: float = 1.4,
) -> LeakArea:
    """Effective leak area Cd A of a closed charge path from the time in which its pressure falls [m2].

    isothermal: A = V/(t sqrt(R T)) integral dp/(p Psi), choked V/(t C sqrt(R T)) ln(p0/p1)
    adiabatic: A = V/(t sqrt(R T) g) integral (p0/p)^((g-1)/2g) dp/(p Psi),
               choked 2 V/((g-1) t C sqrt(R T)) ((p0/p1)^((g-1)/2g) - 1)

    seconds: t [s]. volume: V of pipes, cooler and manifold, hoses that do not grow [m3]. start, end: p0, p1,
    absolute [Pa]. T: of the gas at the start, settled to the walls' [K]. ambient: [Pa]. R: [J/(kg K)]. gamma:
    [-]. All but R and gamma broadcast. Zero where start and end are equal. Error: exact between the bounds
    (up to 1.4 apart); the volume rules. Raises OutOfRange for exchanged or gauge pressures. Source: own
    derivation from saintvenant1839.
    """
    p0, p1, pa = _checked(start, end, ambient)
    scale = _floats(volume) / (_floats(seconds) * np.sqrt(R * _floats(T)))
    return LeakArea(
        np.asarray(scale * _area_time(p0, p1, pa, gamma, adiabatic=False)),
        np.asarray(scale * _area_time(p0, p1, pa, gamma, adiabatic=True)),
    )


def decay_time(
    area: ArrayLike,
    volume: ArrayLike,
    start: ArrayLike,
    end: ArrayLike,
    T: ArrayLike,
    ambient: ArrayLike = 101325.0,
    R: float = R_DRY_AIR,
    gamma: float = 1.4,
) -> DecayTime:
    """Time in which a leak lets the pressure fall [s]; inverse of `leak_area`, whose arguments it has.

    Finite down to ambient itself: the flow dies as the root of the difference does, which dies with it.
    """
    p0, p1, pa = _checked(start, end, ambient)
    scale = _floats(volume) / (_floats(area) * np.sqrt(R * _floats(T)))
    return DecayTime(
        np.asarray(scale * _area_time(p0, p1, pa, gamma, adiabatic=False)),
        np.asarray(scale * _area_time(p0, p1, pa, gamma, adiabatic=True)),
    )


def leak_pressure_after(
    seconds: ArrayLike,
    area: ArrayLike,
    volume: ArrayLike,
    start: ArrayLike,
    T: ArrayLike,
    ambient: ArrayLike = 101325.0,
    R: float = R_DRY_AIR,
    gamma: float = 1.4,
) -> PressureAfter:
    """Absolute pressure left after a time [Pa], `decay_time` solved for the end; ambient once it is reached.

    Arguments as `leak_area`. Where no heat comes back in, gas at ambient pressure is cold; as it warms, a
    closed path would rise a little again: not in it.
    """
    p0, pa = _floats(start), _floats(ambient)
    _checked(p0, np.minimum(p0, np.maximum(p0, pa)), pa)
    wanted = _floats(seconds) * _floats(area) * np.sqrt(R * _floats(T)) / _floats(volume)
    p0, pa, wanted = np.broadcast_arrays(p0, pa, wanted)

    def solve(time_of: Callable[[Array], Array]) -> Array:
        # in s = sqrt(p/pa - 1), in which the time is nearly straight
        top, zero = np.sqrt(np.maximum(p0 / pa - 1, 0.0)), np.zeros(p0.shape)
        over = time_of(pa * np.ones(p0.shape)) <= wanted
        still = np.minimum(wanted, time_of(np.asarray(pa)))
        s = bracketed_root(lambda s: time_of(np.clip(pa * (1 + s**2), pa, p0)) - still, zero, top).x
        return np.asarray(np.where(over, pa, np.where(wanted <= 0, p0, pa * (1 + s**2))))

    return PressureAfter(
        solve(lambda p: _area_time(p0, p, pa, gamma, adiabatic=False)),
        solve(lambda p: _area_time(p0, p, pa, gamma, adiabatic=True)),
    )

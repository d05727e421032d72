"""Heat by radiation: grey surfaces, shields, view factors, and how hot a part near a hot one becomes.

Temperatures are absolute. A part's limit is that of its material's surface, from its maker; near fuel, brake
and power-steering lines the vehicle's manual and the law go before a clearance worked out here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.heat_transfer import STEFAN_BOLTZMANN
from boostwright.physics.roots import bracketed_root

__all__ = [
    "Exposure",
    "allowed_view_factor",
    "blackbody_emission",
    "clearance_for_view_factor",
    "plate_exchange",
    "shield_temperatures",
    "surface_exchange",
    "target_temperature",
    "view_factor_coaxial_discs",
    "view_factor_parallel_rectangles",
    "view_factor_to_cylinder",
    "view_factor_to_disc",
    "view_factor_to_long_cylinder",
    "view_factor_to_sphere",
]

Array = NDArray[np.float64]


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def _emissivity(value: ArrayLike) -> Array:
    e = _floats(value)
    if np.any((e <= 0) | (e > 1)):
        raise OutOfRange(f"An emissivity lies above 0 and not above 1; {value!r} does not.")
    return e


def blackbody_emission(T: ArrayLike) -> Array:
    """Emission of a black surface sigma T^4 [W/m2]. T: [K]. Exact."""
    return np.asarray(STEFAN_BOLTZMANN * _floats(T) ** 4)


def plate_exchange(
    T1: ArrayLike,
    T2: ArrayLike,
    e1: ArrayLike,
    e2: ArrayLike,
    shields: ArrayLike = 0,
    e_shield: ArrayLike = 1.0,
) -> Array:
    """Heat flux between two large close plates with N shields between them [W/m2].

    q = sigma (T1^4 - T2^4)/(1/e1 + 1/e2 - 1 + N (2/es - 1))

    T1, T2: [K]. e1, e2, e_shield: emissivity of plates and of both faces of a shield [-]. shields: N [-]. All
    broadcast. Grey, diffuse surfaces; no conduction through mounts or air. Exact for that. Source:
    incropera2007 ch. 13, from memory.
    """
    resistance = 1 / _emissivity(e1) + 1 / _emissivity(e2) - 1
    resistance = resistance + _floats(shields) * (2 / _emissivity(e_shield) - 1)
    return np.asarray((blackbody_emission(T1) - blackbody_emission(T2)) / resistance)


def shield_temperatures(T1: float, T2: float, e1: float, e2: float, shields: int, e_shield: float) -> Array:
    """Temperature of each of N shields between two large plates, from plate 1 on [K], shape (N,).

    Emission falls from sigma T1^4 by q (1/e1 + 1/es - 1) to the first shield, by q (2/es - 1) from one to the
    next. Arguments, validity as `plate_exchange`.
    """
    q = plate_exchange(T1, T2, e1, e2, shields, e_shield)
    gap = np.arange(shields) * (2 / e_shield - 1) + 1 / e1 + 1 / e_shield - 1
    return np.asarray(((blackbody_emission(T1) - q * gap) / STEFAN_BOLTZMANN) ** 0.25)


def surface_exchange(
    T1: ArrayLike,
    T2: ArrayLike,
    e1: ArrayLike,
    e2: ArrayLike,
    area1: ArrayLike,
    area2: ArrayLike,
    view_factor: ArrayLike,
) -> Array:
    """Heat from surface 1 to surface 2, the two forming an enclosure [W].

    Q = sigma (T1^4 - T2^4)/((1 - e1)/(e1 A1) + 1/(A1 F12) + (1 - e2)/(e2 A2))

    T1, T2: [K]. e1, e2: [-]. area1, area2: [m2]. view_factor: F12, 1 where 1 sees nothing but 2 [-]. All
    broadcast. Exact for grey diffuse surfaces that see each other and nothing else. Source: incropera2007 ch.
    13, from memory.
    """
    e1, e2, A1 = _emissivity(e1), _emissivity(e2), _floats(area1)
    resistance = (1 - e1) / (e1 * A1) + 1 / (A1 * _floats(view_factor)) + (1 - e2) / (e2 * _floats(area2))
    return np.asarray((blackbody_emission(T1) - blackbody_emission(T2)) / resistance)


# --------------------------------------------------------------------------------------- view factors


def _outside(distance: ArrayLike, radius: ArrayLike, what: str) -> tuple[Array, Array]:
    h, r = _floats(distance), _floats(radius)
    if np.any(h < r):
        raise OutOfRange(
            f"The target lies {distance!r} m from the middle of a {what} of radius {radius!r} m: inside it. "
            "The distance counts from the middle: radius plus clearance."
        )
    return h, r


def view_factor_to_sphere(distance: ArrayLike, radius: ArrayLike) -> Array:
    """View factor from a small flat target that faces a sphere's middle, (r/h)^2 [-].

    distance: h from the target to the middle [m]. radius: r [m]. Broadcast. Exact. Source: howell2010, from
    memory.
    """
    h, r = _outside(distance, radius, "sphere")
    return np.asarray((r / h) ** 2)


def view_factor_to_disc(distance: ArrayLike, radius: ArrayLike) -> Array:
    """View factor from a small flat target on the axis of a parallel disc, r^2/(r^2 + h^2) [-].

    distance: h to the disc [m]. radius: r [m]. Broadcast. Exact. Source: howell2010, from memory.
    """
    h, r = _floats(distance), _floats(radius)
    return np.asarray(r**2 / (r**2 + h**2))


def view_factor_to_long_cylinder(distance: ArrayLike, radius: ArrayLike) -> Array:
    """View factor from a small flat target that faces the axis of an endless cylinder, r/h [-].

    distance: h to the axis [m]. radius: r [m]. Broadcast. Exact (crossed strings). Source: howell2010, from
    memory.
    """
    h, r = _outside(distance, radius, "cylinder")
    return np.asarray(r / h)


def view_factor_to_cylinder(
    distance: ArrayLike, radius: ArrayLike, one_way: ArrayLike, other_way: ArrayLike = 0.0
) -> Array:
    """View factor from a small flat target that faces the axis of a cylinder of some length [-].

    Of each side, with L = l/r, H = h/r, X = (1 + H)^2 + L^2, Y = (1 - H)^2 + L^2:
    F = atan(L/sqrt(H^2 - 1))/(pi H) + L/(pi H) ((X - 2 H)/sqrt(X Y) atan sqrt(X (H - 1)/(Y (H + 1)))
        - atan sqrt((H - 1)/(H + 1)))

    distance: h to the axis [m]. radius: r [m]. one_way, other_way: lengths l of the cylinder to either side
    of the target, whose normal meets the axis at right angles [m]. All broadcast. Exact; the ends' faces are
    not seen from there. Source: howell2010, from memory; the tests integrate it.
    """
    h, r = _outside(distance, radius, "cylinder")
    H = h / r

    def side(length: ArrayLike) -> Array:
        L = _floats(length) / r
        X, Y = (1 + H) ** 2 + L**2, (1 - H) ** 2 + L**2
        touching = np.sqrt((H - 1) / (H + 1))
        with np.errstate(divide="ignore", invalid="ignore"):
            far = (X - 2 * H) / np.sqrt(X * Y) * np.arctan(np.sqrt(X / Y) * touching) - np.arctan(touching)
            near = np.arctan2(L, np.sqrt(H**2 - 1))
        return np.asarray(np.where(L > 0, (near + L * np.where(L > 0, far, 0.0)) / (np.pi * H), 0.0))

    return np.asarray(side(one_way) + side(other_way))


def view_factor_parallel_rectangles(width: ArrayLike, length: ArrayLike, gap: ArrayLike) -> Array:
    """View factor between two equal rectangles face to face [-] (catalogue number C-11).

    With X = a/c, Y = b/c: F = 2/(pi X Y) (ln sqrt((1 + X^2)(1 + Y^2)/(1 + X^2 + Y^2)) + X sqrt(1 + Y^2)
    atan(X/sqrt(1 + Y^2)) + Y sqrt(1 + X^2) atan(Y/sqrt(1 + X^2)) - X atan X - Y atan Y)

    width, length: a, b [m]. gap: c [m]. All broadcast. Exact. Source: howell2010, from memory.
    """
    X, Y = _floats(width) / _floats(gap), _floats(length) / _floats(gap)
    x1, y1 = np.sqrt(1 + X**2), np.sqrt(1 + Y**2)
    log = np.log(x1 * y1 / np.sqrt(1 + X**2 + Y**2))
    arcs = X * y1 * np.arctan(X / y1) + Y * x1 * np.arctan(Y / x1) - X * np.arctan(X) - Y * np.arctan(Y)
    return np.asarray(2 / (np.pi * X * Y) * (log + arcs))


def view_factor_coaxial_discs(radius1: ArrayLike, radius2: ArrayLike, gap: ArrayLike) -> Array:
    """View factor from disc 1 to disc 2 on one axis [-] (catalogue number C-41).

    R = r/gap, S = 1 + (1 + R2^2)/R1^2, F = (S - sqrt(S^2 - 4 (r2/r1)^2))/2

    radius1, radius2, gap: [m]. All broadcast. Exact. Source: howell2010, from memory.
    """
    r1, r2, c = _floats(radius1), _floats(radius2), _floats(gap)
    S = 1 + (c**2 + r2**2) / r1**2
    return np.asarray(2 * (r2 / r1) ** 2 / (S + np.sqrt(S**2 - 4 * (r2 / r1) ** 2)))


# ----------------------------------------------------------------------------------- a part near a hot one


class Exposure(NamedTuple):
    """Where a small part is. Fields broadcast."""

    T_source: ArrayLike  # of the hot surface [K]
    e_source: ArrayLike  # its emissivity; 0.8 to 0.95 of rusty cast iron or oxidised steel [-]
    T_air: ArrayLike  # of the air that washes the part [K]
    T_surroundings: ArrayLike  # of what else the part sees [K]
    coefficient: ArrayLike  # to that air [W/(m2 K)]
    e_target: ArrayLike = 0.9  # of the part, which absorbs as it emits; plastic, rubber, paint [-]
    surface_ratio: ArrayLike = 1.0  # whole cooled surface over the face to the source; pi of a round hose [-]


class _Known(NamedTuple):
    """An `Exposure` in arrays."""

    arriving: Array  # from the source, over that from the surroundings, at a view factor of 1 [W/m2]
    surroundings: Array  # sigma T^4 [W/m2]
    T_air: Array
    h: Array
    e: Array
    ratio: Array


def _known(exposure: Exposure) -> _Known:
    around = blackbody_emission(exposure.T_surroundings)
    arriving = _emissivity(exposure.e_source) * (blackbody_emission(exposure.T_source) - around)
    ratio = _floats(exposure.surface_ratio)
    if np.any(ratio < 1):
        raise OutOfRange(
            f"The cooled surface is {exposure.surface_ratio!r} times the face turned to the source; the face "
            "is part of it, so the ratio is 1 or more."
        )
    return _Known(
        arriving, around, _floats(exposure.T_air), _floats(exposure.coefficient),
        _emissivity(exposure.e_target), ratio,
    )  # fmt: skip


def target_temperature(exposure: Exposure, view_factor: ArrayLike) -> Array:
    """Temperature at which a small part near a hot surface rests [K].

    e F es sigma (Ts^4 - Tr^4) = n (h (T - Ta) + e sigma (T^4 - Tr^4)), n the surface ratio, solved for T.

    exposure: `Exposure`. view_factor: F from the part's face to the source [-]. All broadcast. The source
    reflects the surroundings' radiation; the part is small beside it, of one temperature, and no heat comes
    along brackets or from inside. Error: 20 to 40 K by view, emissivity and air speed. Source: incropera2007
    ch. 13, own balance. Raises OutOfRange for an impossible emissivity, ratio or view factor.
    """
    at, F = _known(exposure), _floats(view_factor)
    if np.any((F < 0) | (F > 1)):
        raise OutOfRange(f"A view factor lies between 0 and 1; {view_factor!r} does not.")
    gain = at.e * F * at.arriving
    T_around = _floats(exposure.T_surroundings)

    shape = np.broadcast_shapes(gain.shape, at.T_air.shape, at.h.shape, at.ratio.shape, T_around.shape)
    highest = np.maximum(np.maximum(at.T_air, T_around), _floats(exposure.T_source))
    T = np.array(np.broadcast_to(highest, shape))
    # what is shed grows with T, ever steeper: Newton from above comes down to the root, not across it
    constant = gain / at.ratio + at.h * at.T_air + at.e * at.surroundings
    by_light = at.e * STEFAN_BOLTZMANN
    for _ in range(40):
        cube = by_light * T * T * T
        step = ((at.h + cube) * T - constant) / (at.h + 4 * cube)
        T = T - step
        if not np.any(np.abs(step) > 1e-7):
            break
    return np.asarray(T)


def allowed_view_factor(exposure: Exposure, limit: ArrayLike) -> Array:
    """View factor at which a part just rests at its limit [-]; `target_temperature` solved for F.

    F = n (h (Tl - Ta) + e sigma (Tl^4 - Tr^4))/(e es sigma (Ts^4 - Tr^4))

    exposure: `Exposure`. limit: Tl of the part's material [K]. All broadcast. Below 0: too hot even out of
    sight of the source. Above 1: cool enough however near (by radiation alone).
    """
    at, T = _known(exposure), _floats(limit)
    shed = at.h * (T - at.T_air) + at.e * (blackbody_emission(T) - at.surroundings)
    return np.asarray(at.ratio * shed / (at.e * at.arriving))


def clearance_for_view_factor(
    view_factor: Callable[[Array], Array], allowed: ArrayLike, nearest: float, farthest: float
) -> Array:
    """Distance from which on a source's view factor stays within an allowed one [m].

    view_factor: F of a distance [m], falling with it, such as ``lambda h: view_factor_to_sphere(h + r, r)``;
    the distance may count from the surface or the middle, as that function does. allowed: F [-], any shape.
    nearest, farthest: ends of the search [m], nearest above 0. Returns `nearest` where that is enough,
    infinity where not even `farthest` is.
    """
    if not 0 < nearest < farthest:
        raise OutOfRange(
            f"The search for a clearance runs from {nearest} to {farthest} m; it must rise from above 0."
        )
    F = _floats(allowed)
    low, high = np.full(F.shape, np.log(nearest)), np.full(F.shape, np.log(farthest))
    near, far = view_factor(np.exp(low)), view_factor(np.exp(high))
    roots = bracketed_root(lambda s: view_factor(np.exp(s)) - F, low, high)
    return np.asarray(np.where(near <= F, nearest, np.where(far > F, np.inf, np.exp(roots.x))))

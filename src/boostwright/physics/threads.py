"""Screw threads: diameters of the basic profile, taper, play, stripping, how far unlike threads go."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "PIPE_TAPER",
    "StrippingLength",
    "ThreadDiameters",
    "engaged_length",
    "iso_7_useful_length",
    "largest_play",
    "metric_diameters",
    "npt_effective_length",
    "npt_end_pitch_diameter",
    "npt_tap_drill",
    "sharp_height",
    "stress_area",
    "stripping_length",
    "tap_drill",
    "taper_half_angle",
    "tapered_diameter",
    "turns_until_bound",
    "unified_stress_area",
    "whitworth_diameters",
]

Array = NDArray[np.float64]

PIPE_TAPER: Final = 1.0 / 16.0  # on the diameter, of NPT and of ISO 7
INCH: Final = 0.0254
_SHEAR: Final = 0.6  # shear strength over tensile strength of steel and aluminium (common practice, +-10 %)


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


class ThreadDiameters(NamedTuple):
    """Basic diameters of one thread [m]."""

    pitch: Array  # d2 = D2
    minor: Array  # D1: crest of the internal thread
    root: Array  # d3: rounded root of the external thread


def sharp_height(pitch: ArrayLike, flank_angle: ArrayLike) -> Array:
    """Height of the sharp triangle H = P / (2 tan(angle / 2)) [m].

    pitch: P [m]. flank_angle: the whole angle between two flanks [rad]. Exact.
    """
    return np.asarray(_floats(pitch) / (2 * np.tan(_floats(flank_angle) / 2)))


def metric_diameters(major: ArrayLike, pitch: ArrayLike) -> ThreadDiameters:
    """Diameters of the 60 degree profile of ISO metric and unified threads [m].

    d2 = d - 3/4 H,  D1 = d - 5/4 H,  d3 = d - 17/12 H,  H = sqrt(3)/2 P

    major: d [m]. pitch: P [m]. Exact for the basic profile (iso68). Real threads lie within their tolerance
    class: see `largest_play`. The unified standard rounds the external root a little differently (asmeb11).
    """
    d = _floats(major)
    height = sharp_height(pitch, np.pi / 3)
    return ThreadDiameters(
        np.asarray(d - 0.75 * height), np.asarray(d - 1.25 * height), np.asarray(d - 17 / 12 * height)
    )


def whitworth_diameters(major: ArrayLike, pitch: ArrayLike) -> ThreadDiameters:
    """Diameters of the 55 degree profile of the pipe threads of ISO 228 and ISO 7 [m].

    d2 = d - h,  d1 = d3 = d - 2 h,  h = 2/3 H = 0.640327 P

    major: d, at the gauge plane if the thread is tapered [m]. pitch: P [m]. Exact for the basic profile
    (iso228, iso7), whose standards print h to 6 digits.
    """
    d = _floats(major)
    depth = 2 / 3 * sharp_height(pitch, np.radians(55.0))
    minor = np.asarray(d - 2 * depth)
    return ThreadDiameters(np.asarray(d - depth), minor, minor)


def stress_area(major: ArrayLike, pitch: ArrayLike) -> Array:
    """Stress area of a 60 degree thread As = pi/4 ((d2 + d3) / 2)^2 [m2].

    major: d [m]. pitch: P [m]. Exact by definition (iso898); 0.5 to 2 % above the unified tables.
    """
    found = metric_diameters(major, pitch)
    return np.asarray(np.pi / 4 * np.square((found.pitch + found.root) / 2))


def unified_stress_area(major: ArrayLike, pitch: ArrayLike) -> Array:
    """Stress area of a unified thread As = pi/4 (d - 0.9743 P)^2 [m2].

    major: d [m]. pitch: P [m]. The form printed with the unified tables (asmeb11, from memory).
    """
    return np.asarray(np.pi / 4 * np.square(_floats(major) - 0.9743 * _floats(pitch)))


def tap_drill(major: ArrayLike, pitch: ArrayLike) -> Array:
    """Usual tap drill of a parallel 60 degree thread d - P [m], about 77 % of the thread's depth.

    major: d [m]. pitch: P [m]. Common practice; drills in the rack lie within 0.25 mm.
    """
    return np.asarray(_floats(major) - _floats(pitch))


def npt_end_pitch_diameter(pipe_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Pitch diameter at the small end of an NPT thread E0 = D - (0.05 D + 1.1 inch) p/inch [m].

    pipe_diameter: outside diameter D of the pipe [m]. pitch: p [m]. Defining equation, exact to the printed
    0.0001 inch (asmeb1201, from memory). The formula counts inches: p in it is a number of inches.
    """
    D = _floats(pipe_diameter) / INCH
    return np.asarray(INCH * (D - (0.05 * D + 1.1) * (_floats(pitch) / INCH)))


def npt_effective_length(pipe_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Length of effective external NPT thread L2 = (0.8 D + 6.8 inch) p/inch [m].

    pipe_diameter: outside diameter D of the pipe [m]. pitch: p [m]. Definition (asmeb1201, from memory).
    """
    D = _floats(pipe_diameter) / INCH
    return np.asarray(INCH * (0.8 * D + 6.8) * (_floats(pitch) / INCH))


def npt_tap_drill(pipe_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Minor diameter at the small end of NPT, K0 = E0 - 0.8 p, for a hole that is not reamed [m].

    pipe_diameter: D [m]. pitch: p [m]. Thread depth 0.8 p (asmeb1201, from memory); charts give the nearest
    drill, within 0.2 mm.
    """
    return np.asarray(npt_end_pitch_diameter(pipe_diameter, pitch) - 0.8 * _floats(pitch))


def iso_7_useful_length(gauge_length: ArrayLike, pitch: ArrayLike) -> Array:
    """Useful length of an ISO 7 external thread: gauge length plus 2 3/4 turns to tighten [m].

    gauge_length: small end to gauge plane [m]. pitch: P [m]. For sizes up to 1 (iso7, from memory), +-0.1 mm.
    """
    return np.asarray(_floats(gauge_length) + 2.75 * _floats(pitch))


def taper_half_angle(taper: ArrayLike = PIPE_TAPER) -> Array:
    """Angle between the flank line of a tapered thread and its axis atan(taper / 2) [rad].

    taper: change of diameter over length [-]; 1/16 for NPT and ISO 7. Exact.
    """
    return np.asarray(np.arctan(_floats(taper) / 2))


def tapered_diameter(end_diameter: ArrayLike, distance: ArrayLike, taper: ArrayLike = PIPE_TAPER) -> Array:
    """Diameter of a tapered thread at a distance from its small end, d + taper x [m].

    end_diameter: at the small end [m]. distance: along the axis, to the large end [m]. taper: [-]. Exact.
    """
    return np.asarray(_floats(end_diameter) + _floats(taper) * _floats(distance))


def largest_play(major: ArrayLike, pitch: ArrayLike) -> Array:
    """Largest play on the pitch diameter between a medium bolt and a medium nut, 6g in 6H [m].

    (15 + 11 P) + (1 + 1.32) 90 P^0.4 d^0.1   in micrometres with P and d in millimetres

    major: d [m]. pitch: P [m]. Of metric threads 5 to 30 mm, +-5 % of the tables, which round it (iso965,
    from memory); for other 55 and 60 degree threads an estimate, +-40 %.
    """
    d, P = 1e3 * _floats(major), 1e3 * _floats(pitch)
    return np.asarray(1e-6 * (15 + 11 * P + 2.32 * 90 * P**0.4 * d**0.1))


def engaged_length(turns: ArrayLike, pitch: ArrayLike) -> Array:
    """Length of thread engaged after some turns n P [m]. turns: n [-]. pitch: of the male thread [m]."""
    return np.asarray(_floats(turns) * _floats(pitch))


def turns_until_bound(
    play: ArrayLike,
    male_pitch: ArrayLike,
    female_pitch: ArrayLike,
    flank_angle: ArrayLike,
    taper: ArrayLike = 0.0,
) -> Array:
    """Turns by hand until a male thread binds in a female one [-]; inf if nothing binds, 0 if none start.

    n |P_m - P_f| = (c - taper n P_m) tan(angle / 2)
    n = c tan(angle / 2) / (|P_m - P_f| + taper P_m tan(angle / 2))

    A play c on the pitch diameter lets the thread slide c tan(angle / 2) along its axis. Each turn uses
    up the difference of the pitches and, if either thread is tapered, taper P of the play.

    play: c, female less male pitch diameter where they first meet [m]; negative: they do not start.
    male_pitch, female_pitch: [m]. flank_angle: the larger of the two whole angles lets them further [rad].
    taper: on the diameter [-]. Rigid threads; burrs and a spanner change it by a turn. Our own derivation.
    """
    slide = np.maximum(_floats(play), 0.0) * np.tan(_floats(flank_angle) / 2)
    used = np.abs(_floats(male_pitch) - _floats(female_pitch)) + _floats(taper) * _floats(
        male_pitch
    ) * np.tan(_floats(flank_angle) / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        turns = slide / used
    free = (used == 0) & ~np.isnan(slide)
    return np.asarray(np.where(free, np.where(_floats(play) < 0, 0.0, np.inf), turns))


class StrippingLength(NamedTuple):
    """Thread that must be engaged before the bolt breaks rather than the thread strips [m]."""

    internal: Array  # for the hole or nut
    external: Array  # for the bolt's own thread
    needed: Array  # the longer of the two


def stripping_length(
    major: ArrayLike, pitch: ArrayLike, internal_strength: ArrayLike, external_strength: ArrayLike
) -> StrippingLength:
    """Engaged length of a 60 degree thread at which stripping and breaking take the same force [m].

    L_internal = Rm_e As / (0.6 Rm_i pi d  (1/2 + (d - D2) tan 30 / P))
    L_external = As / (0.6 pi D1 (1/2 + (d2 - D1) tan 30 / P))

    major: d [m]. pitch: P [m]. internal_strength, external_strength: tensile strength Rm of the hole's and of
    the bolt's material [Pa]. Basic sizes; the common form (asmeb11, shigley2015; from memory) with the shear
    strength taken as 0.6 of the tensile strength. Add about 20 % for play, chamfer and first turn; a hot,
    repaired or often used thread needs more.
    """
    d, P = _floats(major), _floats(pitch)
    found = metric_diameters(d, P)
    area, slope = stress_area(d, P), np.tan(np.pi / 6)
    ratio = _floats(external_strength) / _floats(internal_strength)
    internal = np.asarray(ratio * area / (_SHEAR * np.pi * d * (0.5 + (d - found.pitch) * slope / P)))
    external = np.asarray(
        area / (_SHEAR * np.pi * found.minor * (0.5 + (found.pitch - found.minor) * slope / P))
    )
    return StrippingLength(internal, external + 0 * internal, np.asarray(np.maximum(internal, external)))

"""From engine torque to road speed: tyre, gearing, road load and what turns with the car."""

from __future__ import annotations

import math
import re
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.atmosphere import GRAVITY

__all__ = [
    "RotatingMass",
    "TyreSize",
    "acceleration",
    "coast_down_speed",
    "coast_down_time",
    "effective_mass",
    "engine_speed_at",
    "road_load",
    "road_speed_at",
    "tyre_size",
]

Array = NDArray[np.float64]

_SIZE = re.compile(
    r"^\s*(?:P|LT)?\s*(\d{3})\s*/\s*(\d{2,3})\s*Z?\s*[RDB-]?\s*(\d{2}(?:[.,]5)?)(?!\d)", re.IGNORECASE
)
_FULL_SECTION = re.compile(r"^\s*(\d{3})\s*[RDB-]\s*(\d{2})(?!\d)", re.IGNORECASE)
_FULL_SECTION_RATIO: Final = (
    0.82  # height over width of a size that states no ratio; common practice, no source
)
_INCH: Final = 0.0254  # [m]


class TyreSize(NamedTuple):
    """A tyre as its side wall states it."""

    width: float  # section width [m]
    ratio: float  # section height over width [-]
    rim: float  # rim diameter [m]

    @property
    def free_radius(self) -> float:
        """Outer radius without load, rim/2 + ratio width [m]."""
        return self.rim / 2 + self.ratio * self.width


class RotatingMass(NamedTuple):
    """What turns with the car, as a share of its mass: a + b (total ratio)^2."""

    wheels: float  # share of the wheels and shafts [-]
    engine: float  # share of engine and flywheel at a total ratio of one [-]


def tyre_size(text: str) -> TyreSize:
    """The tyre size in a text such as '195/60 R14 86H'.

    text: as moulded on the side wall. Raises OutOfRange when no size is found in it, or one that no road tyre
    has. A size without a ratio ('165 R13') is a full section, 0.82 (common practice, no source).
    """
    found = _SIZE.match(text)
    if found:
        width, ratio = float(found[1]) * 1e-3, float(found[2]) / 100
        rim = float(found[3].replace(",", ".")) * _INCH
    else:
        found = _FULL_SECTION.match(text)
        if not found:
            raise OutOfRange(
                f"The tyre size {text!r} is not understood. Write it as on the side wall: width in mm, "
                "ratio in percent, rim in inches, like '195/60 R14'."
            )
        width, ratio, rim = float(found[1]) * 1e-3, _FULL_SECTION_RATIO, float(found[2]) * _INCH
    if not (0.1 <= width <= 0.4 and 0.2 <= ratio <= 1.0 and 0.25 <= rim <= 0.65):
        raise OutOfRange(
            f"The tyre size {text!r} reads as {width * 1e3:.0f} mm wide, ratio {ratio * 100:.0f} %, rim "
            f"{rim / _INCH:.1f} in. Road tyres are 100 to 400 mm wide, 20 to 100 %, on rims of 10 to 25 in."
        )
    return TyreSize(width, ratio, rim)


def effective_mass(mass: ArrayLike, total_ratio: ArrayLike, rotating: RotatingMass) -> Array:
    """Mass that engine torque has to accelerate, m (1 + a + b (i_g i_f)^2) [kg].

    mass: of the car with all in it [kg]. total_ratio: gear times final drive [-]. rotating: the shares.
    Broadcasts. Source: common practice for passenger cars; wong2001, from memory, has the same form.
    """
    ratio = np.asarray(total_ratio, dtype=np.float64)
    return np.asarray(np.asarray(mass) * (1 + rotating.wheels + rotating.engine * ratio**2))


def road_load(
    speed: ArrayLike,
    mass: ArrayLike,
    drag_area: ArrayLike,
    rolling: ArrayLike,
    density: ArrayLike,
    slope: ArrayLike = 0.0,
) -> Array:
    """Force against the car, 1/2 rho c_d A v^2 + m g (c_r cos(slope) + sin(slope)) [N].

    speed: road speed, still air [m/s]. mass: [kg]. drag_area: c_d A [m2]. rolling: coefficient c_r [-].
    density: of the air [kg/m3]. slope: angle of the road [rad]. All broadcast. Source: wong2001, from memory.
    """
    v, angle = np.asarray(speed, dtype=np.float64), np.asarray(slope, dtype=np.float64)
    drag = np.asarray(density) * np.asarray(drag_area) / 2 * v**2
    weight = np.asarray(mass) * GRAVITY
    return np.asarray(drag + weight * (np.asarray(rolling) * np.cos(angle) + np.sin(angle)))


def acceleration(
    torque: ArrayLike,
    total_ratio: ArrayLike,
    radius: ArrayLike,
    efficiency: ArrayLike,
    load: ArrayLike,
    m_eff: ArrayLike,
) -> Array:
    """Acceleration of the car in a gear, (T i eta / r - F) / m_eff [m/s2].

    torque: at the crank [N m]. total_ratio: i, gear times final drive [-]. radius: rolling radius [m].
    efficiency: of gearbox and axle [-]. load: `road_load` [N]. m_eff: `effective_mass` [kg]. All broadcast.
    The clutch does not slip and no tyre spins. Source: wong2001, from memory.
    """
    pull = np.asarray(torque) * np.asarray(total_ratio) * np.asarray(efficiency) / np.asarray(radius)
    return np.asarray((pull - np.asarray(load)) / np.asarray(m_eff), dtype=np.float64)


def engine_speed_at(speed: ArrayLike, total_ratio: ArrayLike, radius: ArrayLike) -> Array:
    """Crank speed v i / r [rad/s] at road speed v [m/s], total ratio i [-] and rolling radius r [m]."""
    return np.asarray(np.asarray(speed) * np.asarray(total_ratio) / np.asarray(radius), dtype=np.float64)


def road_speed_at(omega: ArrayLike, total_ratio: ArrayLike, radius: ArrayLike) -> Array:
    """Road speed [m/s] at a crank speed [rad/s]; inverse of `engine_speed_at`."""
    return np.asarray(np.asarray(omega) * np.asarray(radius) / np.asarray(total_ratio), dtype=np.float64)


def coast_down_speed(t: ArrayLike, start: float, m_eff: float, F0: float, F2: float) -> Array:
    """Road speed in neutral after a time, v = sqrt(F0/F2) tan(phi0 - t sqrt(F0 F2)/m_eff) [m/s].

    phi0 = atan(v0 sqrt(F2/F0)). t: [s]. start: v0 [m/s]. m_eff: [kg]. F0: constant force [N]. F2: force over
    speed squared [N s2/m2]. Zero after the car stands. Exact for F = F0 + F2 v^2.
    """
    phase = (
        math.atan(start * math.sqrt(F2 / F0)) - np.asarray(t, dtype=np.float64) * math.sqrt(F0 * F2) / m_eff
    )
    return np.asarray(math.sqrt(F0 / F2) * np.tan(np.maximum(phase, 0.0)))


def coast_down_time(start: float, end: float, m_eff: float, F0: float, F2: float) -> float:
    """Time [s] in neutral from one road speed to a lower one; inverse of `coast_down_speed`."""
    k = math.sqrt(F2 / F0)
    return m_eff / math.sqrt(F0 * F2) * (math.atan(start * k) - math.atan(end * k))

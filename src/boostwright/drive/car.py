"""What stands between a car's motion and its engine's power: mass, drag, gearing, each with its spread."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.outside import Outside
from boostwright.drive.rows import Rows
from boostwright.errors import BoostwrightError
from boostwright.library.drive_spreads import drive_spread
from boostwright.library.transient import road
from boostwright.physics.atmosphere import GRAVITY
from boostwright.physics.driveline import RotatingMass, effective_mass
from boostwright.physics.road_power import coast_down_fit, local_slope
from boostwright.systems.stated.road import rolling_radius_of

__all__ = ["Car", "Coast", "Known", "car_of", "coast_of", "with_coast"]

Array = NDArray[np.float64]

_GEARS_MATCH: Final = 0.06  # of a total ratio, within which crank and road speed speak of a gear
_IDLE: Final = 150.0  # crank speed below which the clutch is open while the car rolls [rad/s]
_ROLLS: Final = 4.0  # [m/s]
_SHORTEST: Final = 5.0  # of a coast-down [s]
_BRAKED: Final = 2.5  # times what the class has against it, from which the brakes are on


class Known(NamedTuple):
    """A number and its standard deviation, SI."""

    value: float
    sd: float

    def up(self) -> Known:
        """One standard deviation higher."""
        return Known(self.value + self.sd, self.sd)


class Coast(NamedTuple):
    """Drag and rolling as a coast-down of this drive shows them, with the class as prior."""

    drag_area: Known  # [m2]
    rolling: Known  # [-]
    correlation: float
    start: float  # [s]
    end: float


@dataclass(frozen=True, slots=True)
class Car:
    """One car. ratios: total, gear times final drive, of the gears from the first; empty where not stated.

    assumed: paths of the build that nobody stated and the power hangs on.
    """

    mass: Known  # with all in it [kg]
    drag_area: Known  # [m2]
    rolling: Known  # [-]
    efficiency: Known  # of gearbox and axle [-]
    radius: Known  # rolling radius [m]
    wheels: Known  # share of the car's mass that wheels add by turning [-]
    engine: Known  # the same of the engine, at a total ratio of one [-]
    ratios: tuple[float, ...] = ()
    assumed: tuple[str, ...] = ()
    drag_and_rolling: float = 0.0  # correlation of the two, after a coast-down

    @property
    def turning(self) -> RotatingMass:
        """What turns with the car."""
        return RotatingMass(self.wheels.value, self.engine.value)

    def moved(self) -> tuple[Car, ...]:
        """Cars that each have one number a standard deviation higher; drag and rolling along their axes."""
        found = [
            replace(self, mass=self.mass.up()),
            replace(self, efficiency=self.efficiency.up()),
            replace(self, radius=self.radius.up()),
            replace(self, wheels=self.wheels.up()),
            replace(self, engine=self.engine.up()),
        ]
        a, b, r = self.drag_area, self.rolling, self.drag_and_rolling
        along, across = math.sqrt((1.0 + r) / 2.0), math.sqrt((1.0 - r) / 2.0)
        for size, sign in ((along, 1.0), (across, -1.0)):
            drag = Known(a.value + size * a.sd, a.sd)
            rolling = Known(b.value + sign * size * b.sd, b.sd)
            found.append(replace(self, drag_area=drag, rolling=rolling))
        return tuple(found)

    def gear_of(self, total_ratio: float) -> int:
        """The gear whose total ratio is nearest, 0 where none is near or none is stated."""
        if not self.ratios:
            return 0
        off = np.abs(np.log(np.asarray(self.ratios) / total_ratio))
        return int(np.argmin(off)) + 1 if off.min() < _GEARS_MATCH else 0


def car_of(build: Build) -> Car:
    """The car that a build states, with usual figures for what it does not."""
    usual = road()
    mass, area = build["car.mass"], build["car.drag_area"]
    radius = rolling_radius_of(build)
    ratios: tuple[float, ...] = ()
    if build.get("car.gears") is not None and build.get("car.final_drive") is not None:
        final = build.number("car.final_drive")
        ratios = tuple(g * final for g in build.numbers("car.gears"))
    wanted = ("car.mass", "car.drag_area", "car.tyre", "car.gears", "car.final_drive")
    return Car(
        mass=Known(float(mass.value), math.hypot(mass.sd or 0.0, drive_spread("road", "load"))),
        drag_area=Known(float(area.value), float(area.sd or 0.0)),
        rolling=Known(usual.rolling, drive_spread("road", "rolling")),
        efficiency=Known(usual.efficiency, drive_spread("road", "efficiency")),
        radius=Known(radius, radius * drive_spread("road", "radius")),
        wheels=Known(usual.rotating.wheels, drive_spread("road", "rotating_wheels")),
        engine=Known(usual.rotating.engine, drive_spread("road", "rotating_engine")),
        ratios=ratios,
        assumed=tuple(path for path in wanted if not build.is_stated(path)),
    )


def with_coast(car: Car, coast: Coast | None) -> Car:
    """The car with drag and rolling from a coast-down, where there is one."""
    if coast is None:
        return car
    return replace(car, drag_area=coast.drag_area, rolling=coast.rolling, drag_and_rolling=coast.correlation)


def coast_of(rows: Rows, car: Car, outside: Outside) -> Coast | None:
    """Drag and rolling from the longest coast-down of the drive; None where it holds none.

    A coast-down: the car rolls for five seconds and more, the engine idles with the clutch open, and the
    speed falls no faster than drag and rolling explain. Brakes are in no log: a light foot on them would be
    taken for rolling, so the class stays in it as a prior. Slope and wind are added to the spread.
    """
    if not (rows.has("road_speed") and rows.has("engine_speed")):
        return None
    best: Coast | None = None
    for start, end in _rolling(rows, car):
        found = _fit(rows.cut(start, end), car, outside)
        if found is not None and (best is None or found.end - found.start > best.end - best.start):
            best = found
    return best


def _rolling(rows: Rows, car: Car) -> list[tuple[float, float]]:
    speed, omega = rows.get("road_speed"), rows.get("engine_speed")
    slowest = min(car.ratios) if car.ratios else 2.5
    with np.errstate(invalid="ignore", divide="ignore"):
        free = (speed > _ROLLS) & (omega < _IDLE) & (omega < 0.85 * speed * slowest / car.radius.value)
    if rows.has("gear"):
        free &= ~(rows.get("gear") > 0)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(np.int8)))
    t = rows.t
    runs = [(float(t[a]), float(t[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [(a, b) for a, b in runs if b - a > _SHORTEST]


def _fit(rows: Rows, car: Car, outside: Outside) -> Coast | None:
    v = rows.get("road_speed")
    known = v[np.isfinite(v)]
    if known.size < 6 or known[0] - known[-1] < drive_spread("refuse", "fall"):
        return None
    weight, half_rho = car.mass.value * GRAVITY, 0.5 * outside.density
    m = float(effective_mass(car.mass.value, 0.0, car.turning))
    first = (weight * car.rolling.value, half_rho * car.drag_area.value)
    middle = local_slope(rows.t, v, [0.5 * (rows.t[0] + rows.t[-1])], 2.0)
    fall = float(-middle.slope[0])
    if not 0.0 < fall < _BRAKED * (first[0] + first[1] * float(middle.value[0]) ** 2) / m:
        return None
    prior = (weight * car.rolling.sd, half_rho * car.drag_area.sd)
    try:
        found = coast_down_fit(rows.t, v, m, first, prior)
    except BoostwrightError:
        return None
    # what slope and wind make of it, beside the scatter
    v_mean = float(np.mean(known))
    C = np.array(found.covariance)
    C[0, 0] += min(weight * drive_spread("road", "slope"), prior[0]) ** 2
    C[1, 1] += min(2.0 * found.F2 * drive_spread("road", "wind") / v_mean, prior[1]) ** 2
    sd = np.sqrt(np.diag(C))
    return Coast(
        Known(found.F2 / half_rho, min(float(sd[1]), prior[1]) / half_rho),
        Known(found.F0 / weight, min(float(sd[0]), prior[0]) / weight),
        float(C[0, 1] / (sd[0] * sd[1])),
        float(rows.t[0]),
        float(rows.t[-1]),
    )

"""What injectors and rail say beside the model: air by the fuel that was given, duty, fuel pressure."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.model_at import Predicted
from boostwright.drive.outside import Outside
from boostwright.drive.points import Points
from boostwright.drive.row import Row, sensor_slopes
from boostwright.errors import BoostwrightError
from boostwright.library.drive_spreads import drive_spread
from boostwright.physics.fuel import stoichiometric_air_fuel_ratio
from boostwright.physics.fuel_line import rail_difference
from boostwright.physics.injection import DEAD_TIME_VOLTAGE, dead_time, delivered_mass_flow
from boostwright.systems.fuel_side import FuelParts, fuel_line
from boostwright.systems.stated.fuel_side import fuel_side_of

__all__ = ["fuel_rows"]

Array = NDArray[np.float64]

_SHORTEST: Final = 0.3  # share of a pulse that must be more than dead time, to tell the fuel
_FILM: Final = 0.6  # of a pull, in which its fuel is not yet its lambda [s] (judgement)
_WEAKEST: Final = 6.0  # that any controller works on [V]; a log below it, or none, tells nothing
_PUMP_STEP: Final = 0.03


def fuel_rows(build: Build, points: Points, model: Predicted, outside: Outside) -> list[Row | None]:
    """Air by the injectors, their duty, and the rail; None for what the log does not hold."""
    try:
        parts = fuel_side_of(build)
    except BoostwrightError:
        return []
    rail, logged = _difference(parts, points, outside)
    air = _air(parts, points, model, rail, logged)
    return [*air, _rail(build, parts, points, model, outside, rail) if logged else None]


def _difference(parts: FuelParts, points: Points, outside: Outside) -> tuple[Array, bool]:
    """Pressure across the injectors at the points [Pa], and whether the log holds it."""
    own = points.mean.get("fuel_pressure_difference")
    if own is not None and np.isfinite(own).any():
        return own, True
    gauge = points.mean.get("fuel_pressure")
    if gauge is not None and np.isfinite(gauge).any():
        return gauge + outside.pressure - points.pressure, True
    regulator = parts.regulator
    held = rail_difference(regulator.reference, regulator.pressure, points.pressure, outside.pressure)
    return np.asarray(held) + np.zeros(len(points)), False


def _air(parts: FuelParts, points: Points, model: Predicted, rail: Array, logged: bool) -> list[Row | None]:
    """Air by the fuel that the injectors gave and the lambda that it made, logarithms; and the duty."""
    injectors = parts.injectors
    turn = 4.0 * math.pi / points.speed
    pulse, duty = points.mean.get("injector_pulse"), points.mean.get("injector_duty")
    if pulse is None and duty is not None:
        pulse = duty * turn
    if pulse is None:
        return []
    voltage = points.mean.get("battery_voltage", np.full(len(points), np.nan))
    voltage = np.where(voltage > _WEAKEST, voltage, DEAD_TIME_VOLTAGE)
    known = (injectors.dead_time, injectors.dead_time_slope, injectors.dead_time_difference)
    dead = dead_time(voltage, rail, *known)
    per_volt = (dead_time(voltage + 0.1, rail, *known) - dead) / 0.1
    opened = pulse - dead
    full = duty is None or not np.isfinite(duty).any()
    share = opened / turn if full else duty - dead / turn  # type: ignore[operator]
    calm = points.steady | (points.since > _FILM)  # at tip-in fuel stays on the wall and lambda is of before
    good = calm & (opened > _SHORTEST * pulse) & (rail > 5.0e4) & model.usable & (pulse < 0.97 * turn)
    at = np.flatnonzero(good)
    if not at.size:
        return []
    rate = delivered_mass_flow(
        injectors.flow, rail, parts.density, injectors.rated_difference, injectors.test_density
    )
    ratio = float(stoichiometric_air_fuel_ratio(parts.ethanol_share))
    with np.errstate(invalid="ignore", divide="ignore"):
        air = np.log(rate * opened / turn * injectors.count * ratio * points.mean["lambda"])
    slopes = sensor_slopes("air", points, model, at)
    slopes["sensor.lambda"] = slopes["sensor.lambda"] + 1.0
    slopes["injectors.flow"] = -np.ones(at.size)
    slopes["injectors.dead_time"] = 1.0 / opened[at]
    slopes["sensor.battery_voltage"] = per_volt[at] / opened[at]
    by_pressure = 0.5 / rail[at]
    if logged:
        slopes["sensor.fuel_pressure"] = by_pressure
    else:
        slopes["regulator.pressure"] = -by_pressure
    lam = points.own_sd["lambda"][at] / points.mean["lambda"][at]
    pulse_sd = drive_spread("sensor", "injector_pulse") / opened[at]
    own = np.hypot(lam, pulse_sd)
    form = np.full(at.size, drive_spread("form", "air"))
    row = Row(
        "air_injectors",
        "air by injectors and lambda",
        "mass flow",
        at,
        air[at],
        model.air[at],
        own,
        form,
        slopes,
        True,
    )
    return [row, _duty(row, share[at], dead[at] / turn[at])]


def _duty(row: Row, opened: Array, dead: Array) -> Row:
    """The same as duty of the injectors: what is off in the air is off in the time that they stand open."""
    expected = opened * np.exp(-row.off) + dead
    slopes = {name: opened * slope for name, slope in row.slopes.items()}
    return Row(
        "duty",
        "injector duty",
        "share",
        row.at,
        opened + dead,
        expected,
        opened * row.own_sd,
        opened * row.form_sd,
        slopes,
    )


def _rail(
    build: Build, parts: FuelParts, points: Points, model: Predicted, outside: Outside, rail: Array
) -> Row | None:
    """Pressure across the injectors against regulator, pump and lines at this fuel."""
    at = np.flatnonzero(np.isfinite(rail) & model.usable)
    if not at.size:
        return None

    def of(these: FuelParts) -> Array:
        return np.asarray(
            fuel_line(
                these,
                model.fuel[at],
                points.pressure[at],
                points.speed[at],
                outside.pressure,
                points.mean["lambda"][at],
            ).difference
        )

    try:
        expected = of(parts)
        more = of(fuel_side_of(build, {"pump.flow": build.number("pump.flow") * math.exp(_PUMP_STEP)}))
    except BoostwrightError:
        return None
    slopes = {
        "regulator.pressure": np.ones(at.size),
        "pump.flow": (more - expected) / _PUMP_STEP,
        "sensor.fuel_pressure": np.ones(at.size),
        "sensor.manifold_pressure": np.zeros(at.size),
    }
    key = "fuel_pressure_difference" if "fuel_pressure_difference" in points.own_sd else "fuel_pressure"
    own = np.hypot(points.own_sd[key][at], points.own_sd["manifold_pressure"][at])
    form = np.full(at.size, drive_spread("sensor", "fuel_pressure"))
    return Row(
        "rail", "fuel pressure across the injectors", "pressure", at, rail[at], expected, own, form, slopes
    )

"""A car that an equation drives through one gear, and what a logger makes of it: the truth is known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from boostwright.drive.car import Car, Known
from boostwright.drive.outside import Outside
from boostwright.drive.records import Stretch
from boostwright.drive.rows import Rows

Array = NDArray[np.float64]
RPM = np.pi / 30
G = 9.80665

CAR = Car(
    mass=Known(1200.0, 15.0),
    drag_area=Known(0.68, 0.05),
    rolling=Known(0.012, 0.0015),
    efficiency=Known(0.92, 0.015),
    radius=Known(0.28, 0.004),
    wheels=Known(0.04, 0.01),
    engine=Known(0.0025, 0.0006),
    ratios=(13.8, 7.8, 5.2, 3.88, 3.2),
)
AIR = Outside(98.0e3, 500.0, 293.15, 2.0, 0.5, 0.2, "said")


def torque(omega: Any) -> Any:
    """Of the made engine [N m]: rises to 3500 rpm, falls after it."""
    return 200.0 - 60.0 * ((omega / RPM - 3500.0) / 2500.0) ** 2


def drive(
    gear: int = 3,
    seconds: float = 6.0,
    start: float = 2200.0,
    slope: float = 0.0,
    car: Car = CAR,
    wind: float = 0.0,
) -> tuple[Array, Array]:
    """Time [s] and crank speed [rad/s] of a pull at 1 kHz, from Newton's law written out."""
    i, r = car.ratios[gear - 1], car.radius.value
    m = car.mass.value
    m_eff = m * (1 + car.wheels.value + car.engine.value * i**2)

    def law(_: float, y: Array) -> list[float]:
        v = y[0]
        omega = v * i / r
        drag = 0.5 * AIR.density * car.drag_area.value * (v + wind) ** 2
        against = drag + m * G * (car.rolling.value * np.cos(slope) + np.sin(slope))
        return [(torque(omega) * i * car.efficiency.value / r - against) / m_eff]

    t = np.linspace(0.0, seconds, round(seconds * 1000) + 1)
    run = solve_ivp(law, (0.0, seconds), [start * RPM * r / i], t_eval=t, rtol=1e-9)
    return t, run.y[0] * i / r


def logged(
    t: Array,
    omega: Array,
    gear: int = 3,
    car: Car = CAR,
    *,
    rate: float = 50.0,
    rpm: float = 1.0,
    kmh: float = 0.1,
    noise: float = 0.0,
    seed: int = 1,
    keep: tuple[str, ...] = ("engine_speed", "road_speed", "gear"),
    **more: Array | float,
) -> Rows:
    """Rows at a rate, engine speed in steps of rpm with noise [rpm], road speed in steps of km/h."""
    at = np.arange(t[0], t[-1], 1 / rate)
    w = np.interp(at, t, omega)
    v = w * car.radius.value / car.ratios[gear - 1]
    rng = np.random.default_rng(seed)
    shown = w / RPM + rng.normal(0, noise, at.size) if noise else w / RPM
    values = {
        "engine_speed": np.round(shown / rpm) * rpm * RPM,
        "road_speed": np.round(v * 3.6 / kmh) * kmh / 3.6,
        "gear": np.full(at.shape, float(gear)),
    }
    values = {key: values[key] for key in keep}
    for key, value in more.items():
        values[key] = np.broadcast_to(np.asarray(value, dtype=np.float64), at.shape).copy()
    return Rows(at, np.arange(at.size), values)


def stretch_of(rows: Rows, gear: int = 0) -> Stretch:
    """All of it."""
    return Stretch("pull", float(rows.t[0]), float(rows.t[-1]), 0, int(rows.row[-1]), gear)


def heavier(car: Car, by: float) -> Car:
    """The car with another mass [kg]."""
    return replace(car, mass=Known(car.mass.value + by, car.mass.sd))

"""What the logger sees: lag, dead time, noise, steps and range of each sensor, and each channel's own rate.

First-order lags are exact for a signal held between two moments: y += (1 - exp(-dt/tau)) (x - y). The mixture
reaches its sensor after one working cycle and the filling time of the exhaust between valve and sensor.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from tools.drives import state as s
from tools.drives.car import Car

Array = NDArray[np.float64]
HZ = 100.0  # of the true record
PATH = 0.0022  # exhaust between valves and lambda sensor [m3]


@dataclass(frozen=True)
class Channel:
    """One column of the log, in the unit that it is written in."""

    key: str
    heading: str
    unit: str
    truth: Callable[[Array, Car], Array]
    share: float  # of the rows that bring a new value
    lag: float  # [s]
    delay: float  # [s]
    noise: float
    step: float
    low: float
    high: float
    scatter: float = 0.0  # what two like manoeuvres of one day differ by, from the plan's own draws
    dropped: float = 0.1  # how often a log does without it


def _rpm(y: Array, _: Car) -> Array:
    return y[:, s.W] * 30.0 / math.pi


def _kpa(place: int) -> Callable[[Array, Car], Array]:
    return lambda y, _: y[:, place] / 1e3


def _celsius(place: int) -> Callable[[Array, Car], Array]:
    return lambda y, _: y[:, place] - 273.15


def _plain(place: int, scale: float = 1.0) -> Callable[[Array, Car], Array]:
    return lambda y, _: y[:, place] * scale


def _lambda_at_sensor(y: Array, car: Car) -> Array:
    """Lambda where the sensor sits: later by a cycle and by the gas's way."""
    gas = np.maximum(y[:, s.AIR] + y[:, s.FUEL], 5e-4)
    way = PATH * car.p_a / (287.0 * np.maximum(y[:, s.T_EX] - 80.0, 350.0)) / gas
    late = 4.0 * math.pi / np.maximum(y[:, s.W], 40.0) + np.minimum(way, 1.2)
    t = np.arange(len(y)) / HZ
    reading = np.minimum(y[:, s.LAM], 2.5) + y[:, s.LEAN_MIXED]
    reading = np.where(y[:, s.RUN] > 0.0, reading, 2.5)
    return np.interp(t - late, t, reading)


def _knock_level(y: Array, _: Car) -> Array:
    hits = np.diff(y[:, s.RETARD : s.RETARD + 6], axis=0, prepend=y[:1, s.RETARD : s.RETARD + 6])
    return y[:, s.NOISE_LEVEL] * 100.0 + 7.0 * np.maximum(hits, 0.0).sum(axis=1)


def _gear(y: Array, _: Car) -> Array:
    return np.where(y[:, s.CLUTCH] > 0.3, y[:, s.GEAR], 0.0)


def channels(rng: np.random.Generator, car: Car) -> tuple[Channel, ...]:
    """The logger of one seed: every column that this car could have, before any is dropped."""
    rich = float(rng.choice([0.65, 0.68, 0.70, 0.75]))
    map_top = 1e2 * math.ceil((car.p_a + car.boost + 45e3) / 1e5 * 2.0) / 2.0
    map_noise = float(rng.uniform(0.2, 0.7))
    tau = float(rng.uniform(0.05, 0.14))
    made = [
        Channel("speed", "engine speed", "rpm", _rpm, 1, 0.01, 0.0, 5.0, 1.0, 0, 9000, 10.0, 0.0),
        Channel(
            "map",
            "manifold pressure abs",
            "kPa",
            _kpa(s.P_M),
            1,
            0.012,
            0,
            map_noise,
            0.1,
            10,
            map_top,
            1.5,
            0,
        ),
        Channel(
            "baro",
            "barometer",
            "kPa",
            lambda y, c: np.full(len(y), c.p_a / 1e3),
            0.02,
            0.1,
            0,
            0.04,
            0.1,
            50,
            110,
        ),
        Channel(
            "charge", "charge pressure abs", "kPa", _kpa(s.P_C), 1, 0.01, 0, 0.5, 0.1, 10, map_top, 1.5, 0.4
        ),
        Channel(
            "throttle", "throttle", "%", _plain(s.THETA, 100.0), 1, 0.005, 0, 0.15, 0.1, 0, 100, 0.5, 0.05
        ),
        Channel("pedal", "pedal", "%", _plain(s.PEDAL, 100.0), 0.5, 0.005, 0, 0.1, 0.2, 0, 100, 0.5, 0.25),
        Channel(
            "lambda", "lambda", "-", _lambda_at_sensor, 1, tau, 0.0, 0.004, 0.001, rich, 1.36, 0.010, 0.06
        ),
        Channel(
            "lambda_target",
            "lambda target",
            "-",
            _plain(s.LAM_TARGET),
            0.5,
            0,
            0,
            0,
            0.01,
            0.5,
            1.5,
            0.0,
            0.2,
        ),
        Channel(
            "pulse", "injector pulse", "ms", _plain(s.PULSE, 1e3), 1, 0, 0, 0.01, 0.01, 0, 60, 0.05, 0.15
        ),
        Channel(
            "duty", "injector duty", "%", _plain(s.INJ_DUTY, 100.0), 0.5, 0, 0, 0.1, 0.1, 0, 100, 0.5, 0.15
        ),
        Channel("spark", "spark", "deg", _plain(s.SPARK), 1, 0, 0, 0.0, 0.25, -30, 60, 0.5, 0.08),
        Channel(
            "spark_table",
            "spark from table",
            "deg",
            _plain(s.SPARK_TABLE),
            1,
            0,
            0,
            0,
            0.25,
            -30,
            60,
            0.4,
            0.15,
        ),
        Channel("knock", "knock level", "%", _knock_level, 1, 0, 0, 1.2, 0.4, 0, 100, 1.0, 0.2),
        Channel(
            "intake",
            "intake air after cooler",
            "degC",
            _celsius(s.T_IN),
            0.2,
            2.5,
            0,
            0.15,
            0.5,
            -40,
            140,
            2.0,
            0.08,
        ),
        Channel("coolant", "coolant", "degC", _celsius(s.T_COOL), 0.04, 3, 0, 0.1, 0.5, -40, 140, 2.0, 0.04),
        Channel(
            "oil_temperature",
            "oil temperature",
            "degC",
            _celsius(s.T_OIL),
            0.04,
            5,
            0,
            0.2,
            1,
            -40,
            160,
            0.5,
            0.3,
        ),
        Channel(
            "oil_pressure",
            "oil pressure gauge",
            "kPa",
            _kpa(s.P_OIL),
            0.4,
            0.05,
            0,
            4.0,
            2.0,
            0,
            1000,
            5.0,
            0.12,
        ),
        Channel("rail", "fuel rail abs", "kPa", _kpa(s.P_RAIL), 0.5, 0.02, 0, 2.5, 1.0, 0, 800, 2.0, 0.15),
        Channel("battery", "battery", "V", _plain(s.BATTERY), 0.2, 0.05, 0, 0.03, 0.05, 0, 20, 0.10, 0.06),
        Channel(
            "road_speed",
            "road speed",
            "km/h",
            _plain(s.V, 3.6),
            0.4,
            0.08,
            0.05,
            0.12,
            0.25,
            0,
            300,
            0.2,
            0.12,
        ),
        Channel("gear", "gear", "-", _gear, 0.2, 0, 0.1, 0, 1, 0, 8, 0, 0.4),
        Channel("gate_duty", "gate duty", "%", _plain(s.DUTY, 100.0), 0.5, 0, 0, 0, 0.4, 0, 100, 1.5, 0.15),
        Channel("target", "boost target abs", "kPa", _kpa(s.TARGET), 0.5, 0, 0, 0, 0.5, 0, 400, 0, 0.2),
        Channel(
            "exhaust",
            "exhaust gas before turbine",
            "degC",
            _celsius(s.T_EX),
            0.2,
            1.6,
            0,
            2.0,
            1,
            0,
            1250,
            6,
            0.35,
        ),
        Channel(
            "crankcase", "crankcase gauge", "kPa", _kpa(s.P_CASE), 0.4, 0.1, 0, 0.04, 0.02, -10, 20, 0.04, 0.3
        ),
    ]
    for i in range(int(car.cylinders)):
        name = f"knock retard {i + 1}"
        made.append(
            Channel(
                f"retard_{i + 1}", name, "deg", _plain(s.RETARD + i), 0.5, 0, 0, 0, 0.25, 0, 20, 0.25, 0.1
            )
        )
    return tuple(made)


def noise_free(channel: Channel, y: Array, car: Car) -> Array:
    """The channel at 100 Hz with its dead time, lag and range, without noise and steps."""
    x = channel.truth(y, car)
    late = round(channel.delay * HZ)
    if late:
        x = np.concatenate([np.full(late, x[0]), x[:-late]])
    if channel.lag > 0.0:
        a = 1.0 - math.exp(-1.0 / HZ / channel.lag)
        x = lfilter([a], [1.0, a - 1.0], x, zi=[(1.0 - a) * x[0]])[0]
    return np.clip(x, channel.low, channel.high)


def stepped(channel: Channel, x: Array) -> NDArray[np.int64]:
    """Readings as whole steps of the channel, within its range."""
    low, high = math.ceil(channel.low / channel.step - 1e-9), math.floor(channel.high / channel.step + 1e-9)
    return np.clip(np.rint(x / channel.step), low, high).astype(np.int64)

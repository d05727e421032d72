"""Small recordings made by hand, of which a test knows everything: idle, cruise, pulls, lifts."""

from __future__ import annotations

import math

import numpy as np

from boostwright.drive.review import scene_of
from boostwright.drive.scene import Scene
from boostwright.readers.drive_log.recording import Channel, Clock, Recording

RATE = 50.0
RPM = math.tau / 60


def everyday(seconds: float = 240.0, seed: int = 5) -> dict[str, np.ndarray]:
    """Channels in SI of a drive of pulls, lifts, cruise and idle, warm, noisy and rounded; no fault in it."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    t = np.arange(n) / RATE
    phase = t % 40.0
    full = (phase > 20.0) & (phase < 28.0)
    lift = (phase >= 28.0) & (phase < 32.0)
    idle = phase < 6.0
    throttle = np.where(full, 1.0, np.where(lift | idle, 0.0, 0.12))
    pressure = np.where(full, 150e3, np.where(lift, 25e3, np.where(idle, 32e3, 55e3)))
    speed = np.where(full, 2400 + (phase - 20.0) * 320, np.where(idle, 850, 2300)) * RPM
    pressure, speed = smooth(pressure, 0.3), smooth(speed, 0.4)
    pulse = np.where(lift, 0.0, 0.0008 + 6.2e-8 * pressure)
    target = np.where(full, 0.8, 1.0)
    fuel = smooth(np.where(lift, 1.4, target), 0.1)

    def noisy(x: np.ndarray, sd: float, step: float) -> np.ndarray:
        return np.round((x + rng.normal(0.0, sd, n)) / step) * step

    return {
        "engine_speed": noisy(speed, 0.5, 0.1),
        "manifold_pressure": noisy(pressure, 200.0, 100.0),
        "barometer": np.full(n, 98e3),
        "throttle": np.clip(noisy(throttle, 0.0015, 0.001), 0.0, 1.0),
        "lambda": np.clip(noisy(fuel, 0.004, 0.001), 0.65, 1.36),
        "lambda_target": target,
        "injector_pulse": noisy(pulse, 1e-5, 1e-5),
        "injector_duty": np.clip(noisy(pulse * speed / (4 * math.pi), 1e-3, 1e-3), 0.0, 1.0),
        "spark_advance": noisy(np.full(n, 0.4), 0.0, 0.25 * math.pi / 180),
        "spark_table": noisy(np.full(n, 0.4), 0.0, 0.25 * math.pi / 180),
        "intake_temperature": noisy(305.0 + 8.0 * smooth(full, 3.0), 0.15, 0.5),
        "coolant_temperature": noisy(361.0 + 2.0 * np.sin(t / 30.0), 0.1, 0.5),
        "oil_temperature": noisy(365.0 + 3.0 * np.sin(t / 60.0), 0.2, 1.0),
        "oil_pressure": noisy(120e3 + 700.0 * speed, 4e3, 2e3),
        "fuel_pressure": noisy(300e3 + pressure - 98e3, 2.5e3, 1e3),
        "battery_voltage": noisy(np.full(n, 14.0), 0.03, 0.05),
        "road_speed": np.maximum(noisy(np.where(idle, 0.0, smooth(speed, 0.5) / 10.0), 0.03, 0.07), 0.0),
    }


def smooth(x: np.ndarray, seconds: float) -> np.ndarray:
    """A first-order lag."""
    out, a = np.array(x, dtype=np.float64), 1.0 - math.exp(-1.0 / (RATE * seconds))
    for i in range(1, out.size):
        out[i] = out[i - 1] + a * (x[i] - out[i - 1])
    return out


def recording_of(channels: dict[str, np.ndarray], stamp: np.ndarray | None = None) -> Recording:
    n = next(iter(channels.values())).size
    clock = Clock(np.arange(n) / RATE if stamp is None else stamp, np.arange(n, dtype=np.int64))
    cells = []
    for key, value in channels.items():
        name, _, cylinder = key.partition(" ")
        cells.append(
            Channel(name, np.array(value, dtype=np.float64), 0, key, "", True, 1.0, int(cylinder or 0))
        )
    return Recording("made by hand", (clock,), tuple(cells))


def scene(channels: dict[str, np.ndarray], stamp: np.ndarray | None = None) -> Scene:
    return scene_of(recording_of(channels, stamp))


def between(first: float, last: float) -> slice:
    """Rows of a stretch of time [s]."""
    return slice(int(first * RATE), int(last * RATE))

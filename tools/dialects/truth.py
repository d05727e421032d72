"""The signals that the files are written from: three simulated drives, in SI, at 100 moments a second."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from tools.drives import state as s
from tools.drives.drive import make_drive
from tools.drives.sensors import noise_free

Array = NDArray[np.float64]
BUILDS = Path(__file__).parents[2] / "src" / "boostwright" / "library" / "builds"
DRIVES = (
    ("sound.toml", 4, 6.0),
    ("highland.toml", 11, 5.0),
    ("planted.toml", 11, 5.0),
)  # build, seed, minutes
HIGH, STRONG = 1000.0, 2000.0  # where the second and third drive begin, for `at` [s]
HZ = 100.0

# what one unit is in SI: (scale, offset); written by hand, from the units' definitions
UNITS = {
    "rpm": (2.0 * math.pi / 60.0, 0.0),
    "kPa": (1e3, 0.0),
    "mbar": (1e2, 0.0),
    "hPa": (1e2, 0.0),
    "bar": (1e5, 0.0),
    "psi": (0.45359237 * 9.80665 / 0.0254**2, 0.0),
    "inHg": (3386.389, 0.0),
    "mmHg": (133.322387, 0.0),
    "degC": (1.0, 273.15),
    "degF": (5.0 / 9.0, 273.15 - 32.0 * 5.0 / 9.0),
    "K": (1.0, 0.0),
    "km/h": (1.0 / 3.6, 0.0),
    "mph": (0.44704, 0.0),
    "m/s": (1.0, 0.0),
    "%": (0.01, 0.0),
    "share": (1.0, 0.0),
    "deg": (math.pi / 180.0, 0.0),
    "deg after": (-math.pi / 180.0, 0.0),
    "ms": (1e-3, 0.0),
    "us": (1e-6, 0.0),
    "V": (1.0, 0.0),
    "mV": (1e-3, 0.0),
    "lambda": (1.0, 0.0),
    "AFR petrol": (1.0 / 14.7, 0.0),
    "g/s": (1e-3, 0.0),
    "kg/h": (1.0 / 3600.0, 0.0),
    "lb/min": (0.45359237 / 60.0, 0.0),
    "m": (1.0, 0.0),
    "ft": (0.3048, 0.0),
    "g": (1.0, 0.0),
    "1": (1.0, 0.0),
    "AFR E85": (1.0 / 9.8, 0.0),
    "1000 rpm": (1e3 * 2.0 * math.pi / 60.0, 0.0),
}

# channel of the simulator: key in library/channels.toml, unit that the simulator gives
_OURS = {
    "speed": ("engine_speed", "rpm"),
    "map": ("manifold_pressure", "kPa"),
    "baro": ("barometer", "kPa"),
    "charge": ("charge_pressure", "kPa"),
    "throttle": ("throttle", "%"),
    "pedal": ("pedal", "%"),
    "lambda": ("lambda", "lambda"),
    "lambda_target": ("lambda_target", "lambda"),
    "pulse": ("injector_pulse", "ms"),
    "duty": ("injector_duty", "%"),
    "spark": ("spark_advance", "deg"),
    "spark_table": ("spark_table", "deg"),
    "intake": ("intake_temperature", "degC"),
    "coolant": ("coolant_temperature", "degC"),
    "oil_temperature": ("oil_temperature", "degC"),
    "oil_pressure": ("oil_pressure", "kPa"),
    "battery": ("battery_voltage", "V"),
    "road_speed": ("road_speed", "km/h"),
    "gear": ("gear", "1"),
    "gate_duty": ("gate_duty", "%"),
    "target": ("boost_target", "kPa"),
    "exhaust": ("exhaust_temperature", "degC"),
    "crankcase": ("crankcase_pressure", "kPa"),
}


def to_si(value: Array, unit: str) -> Array:
    """Values in a unit, in SI."""
    scale, offset = UNITS[unit]
    return np.asarray(value * scale + offset)


def in_unit(value: Array, unit: str) -> Array:
    """SI values in a unit."""
    scale, offset = UNITS[unit]
    return np.asarray((value - offset) / scale)


@cache
def signals(number: int) -> dict[str, Array]:
    """Every quantity of a drive in SI by key, with its noise; oil, rail and case pressure are gauge."""
    build, seed, minutes = DRIVES[number]
    drive = make_drive(BUILDS / build, seed, minutes, clean=True, rate=50.0)
    y, car = drive.truth.y, drive.truth.car
    luck = np.random.default_rng(1107)
    made: dict[str, Array] = {}
    for channel in (*drive.logger.present, *drive.logger.absent):
        value = noise_free(channel, y, car)
        if channel.key != "gear":
            value = value + channel.noise * luck.standard_normal(len(value))
        value = np.clip(value, channel.low, channel.high)
        if channel.key in _OURS:
            key, unit = _OURS[channel.key]
            made[key] = to_si(value, unit)
        elif channel.key == "rail":
            made["fuel_pressure"] = value * 1e3 - car.p_a
        elif channel.key == "knock":
            made["knock_level"] = value / 100.0
    made["fuel_pressure_difference"] = made["fuel_pressure"] + car.p_a - made["manifold_pressure"]
    made["air_flow"] = np.maximum(y[:, s.AIR], 0.0)
    made["place"] = np.full(len(y), car.p_a)  # the air outside, without a sensor's noise
    made["back_pressure"] = y[:, s.P_E] + 400.0 * luck.standard_normal(len(y))
    made["turbo_speed"] = np.maximum(y[:, s.W_T] + 15.0 * luck.standard_normal(len(y)), 0.0)
    ratio = np.maximum(made["charge_pressure"] / car.p_a, 1.0)
    hot = 298.0 * (1.0 + (ratio**0.286 - 1.0) / 0.68) + 0.2 * luck.standard_normal(len(y))
    made["compressor_temperature"] = lfilter([0.005], [1.0, -0.995], hot, zi=[0.995 * hot[0]])[0]
    made["altitude"] = 330.0 + 12.0 * np.sin(np.arange(len(y)) / HZ / 21.0)
    made["outside_temperature"] = np.full(len(y), 24.5 + 273.15) + 0.1 * luck.standard_normal(len(y))
    v = np.convolve(noise_free_speed(y), np.ones(40) / 40.0, mode="same")
    made["acceleration"] = np.gradient(v, 1.0 / HZ) / 9.80665 + 0.01 * luck.standard_normal(len(y))
    closed = (made["lambda_target"] > 0.99) & (made["lambda"] < 1.2)
    wander = np.convolve(luck.standard_normal(len(y)), np.exp(-np.arange(300) / 60.0), mode="same")
    made["fuel_trim"] = np.where(closed, 0.02 + 0.002 * wander, 0.0)
    made["fuel_trim_long"] = np.full(len(y), 0.016) + 0.004 * np.round(np.arange(len(y)) / 9000.0)
    load = np.clip((made["manifold_pressure"] - 110e3) / 30e3, 0.0, 1.0)
    hits = np.cumsum(luck.random(len(y)) < 0.004 * load)
    made["knock_count"] = hits.astype(float)
    for cylinder in range(1, 5):
        strikes = (luck.random(len(y)) < 0.0035 * load).astype(float) * luck.uniform(1.0, 4.0, len(y))
        fading = np.exp(-np.arange(200) / 80.0)
        made[f"knock_retard.{cylinder}"] = np.radians(np.convolve(strikes, fading)[: len(y)])
        loud = made["knock_level"] * (0.8 + 0.1 * cylinder) + 0.01 * luck.standard_normal(len(y))
        made[f"knock_level.{cylinder}"] = np.clip(loud + 0.08 * strikes, 0.0, 1.0)
    return made


def noise_free_speed(y: Array) -> Array:
    """Road speed of the true record [m/s]."""
    return np.asarray(y[:, s.V])


def at(key: str, seconds: Array) -> Array:
    """A quantity in SI at moments [s]: the true record's nearest one; a thousand seconds for each drive."""
    number = int(seconds[0] // 1000.0)
    value = signals(number)[key]
    place = np.rint((seconds - 1000.0 * number) * HZ).astype(int)
    if place.max() >= len(value):
        raise ValueError(
            f"drive {number} ends after {len(value) / HZ:.0f} s; asked: {place.max() / HZ:.0f} s"
        )
    return np.asarray(value[place])

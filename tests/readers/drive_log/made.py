"""A short made-up drive of an invented car, and ways to write it down."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

AIR = 98.2  # kPa
HEADS: Mapping[str, tuple[str, str]] = {
    "time": ("Time", "s"),
    "rpm": ("Engine Speed", "rpm"),
    "map": ("Manifold Absolute Pressure", "kPa"),
    "tps": ("Throttle Position", "%"),
    "lambda": ("Lambda", ""),
    "clt": ("Coolant Temp", "°C"),
    "iat": ("Intake Air Temp", "°C"),
    "speed": ("Vehicle Speed", "km/h"),
    "spark": ("Ignition Timing", "deg"),
    "battery": ("Battery", "V"),
}
KEYS = {
    "rpm": "engine_speed",
    "map": "manifold_pressure",
    "tps": "throttle",
    "lambda": "lambda",
    "clt": "coolant_temperature",
    "iat": "intake_temperature",
    "speed": "road_speed",
    "spark": "spark_advance",
    "battery": "battery_voltage",
}
SI: Mapping[str, Callable[[Array], Array]] = {
    "rpm": lambda v: v * np.pi / 30.0,
    "map": lambda v: v * 1e3,
    "tps": lambda v: v / 100.0,
    "lambda": lambda v: v,
    "clt": lambda v: v + 273.15,
    "iat": lambda v: v + 273.15,
    "speed": lambda v: v / 3.6,
    "spark": np.deg2rad,
    "battery": lambda v: v,
}
DIGITS = {
    "time": 2,
    "rpm": 0,
    "map": 1,
    "tps": 1,
    "lambda": 3,
    "clt": 1,
    "iat": 1,
    "speed": 1,
    "spark": 1,
    "battery": 2,
}


def drive(seconds: float = 120.0, rate: float = 10.0, seed: int = 1) -> dict[str, Array]:
    """Columns by short name in the units of HEADS: engine off, start, idle, cruise, three pulls, overrun."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(seconds * rate)) / rate
    share = t / seconds
    running = share > 0.04
    load = np.where(running, 0.22 + 0.1 * np.sin(6.0 * t / 7.0), 0.0)
    gear = 13.0  # rad/s for m/s: 28 km/h for 1000 rpm
    speed = np.where(share > 0.15, np.minimum((share - 0.15) * 160.0, 24.0), 0.0)
    for start in (0.4, 0.58, 0.76):
        inside = (share > start) & (share < start + 0.08)
        after = (share >= start + 0.08) & (share < start + 0.13)
        speed = np.where(inside, 16.0 + (share - start) / 0.08 * 18.0, speed)
        load = np.where(inside, 1.0, np.where(after, 0.0, load))
        speed = np.where(after, 34.0 - (share - start - 0.08) / 0.05 * 10.0, speed)
    rpm = np.where(running, np.maximum(850.0, speed * gear * 30.0 / np.pi * 1.0), 0.0)
    rpm = rpm + np.where(running, rng.normal(0.0, 6.0, len(t)), 0.0)
    overrun = (load < 0.05) & running
    boost = np.where(load > 0.9, 48.0 * np.clip((rpm - 2200.0) / 1400.0, 0.0, 1.0), 0.0)
    pressure = np.where(running, 26.0 + 72.0 * load + boost, AIR)
    pressure = np.where(overrun, 21.0, pressure) + rng.normal(0.0, 0.3, len(t))
    lam = np.where(load > 0.9, 0.84, 1.0) + rng.normal(0.0, 0.006, len(t))
    lam = np.where(overrun | ~running, 1.9, lam)
    return {
        "time": t,
        "rpm": rpm,
        "map": pressure,
        "tps": np.clip(100.0 * load**1.3, 0.0, 100.0),
        "lambda": lam,
        "clt": 62.0 + 28.0 * (1.0 - np.exp(-3.0 * share)),
        "iat": 24.0 + 14.0 * share + 5.0 * (load > 0.9),
        "speed": speed * 3.6,
        "spark": np.where(running, 34.0 - 18.0 * load, 0.0) + rng.normal(0.0, 0.3, len(t)),
        "battery": np.where(running, 14.1, 12.3) + rng.normal(0.0, 0.02, len(t)),
    }


def rounded(columns: Mapping[str, Array]) -> dict[str, Array]:
    """The columns as they are written down."""
    return {k: np.round(v, DIGITS[k]) + 0.0 for k, v in columns.items()}


def cells(columns: Mapping[str, Array], digits: Mapping[str, int] = DIGITS) -> dict[str, list[str]]:
    """The columns as text with a decimal point."""
    return {
        k: [f"{x + 0.0:.{digits.get(k, 3)}f}" for x in np.round(v, digits.get(k, 3))]
        for k, v in columns.items()
    }


def table(
    texts: Mapping[str, Sequence[str]],
    *,
    heads: Mapping[str, str] | None = None,
    separator: str = ",",
    decimal: str = ".",
    end: str = "\n",
    unit_row: bool = False,
    above: str = "",
    trailing: bool = False,
) -> str:
    """A text log; `heads` by short name, else HEADS with the unit in brackets, or below in a row of units."""
    names = list(texts)
    if heads is None:
        heads = {
            n: HEADS[n][0] if unit_row or not HEADS[n][1] else f"{HEADS[n][0]} [{HEADS[n][1]}]" for n in names
        }
    lines = [separator.join(heads[n] for n in names)]
    if unit_row:
        lines.append(separator.join(HEADS[n][1] for n in names))
    for row in zip(*(texts[n] for n in names), strict=True):
        lines.append(separator.join(row).replace(".", decimal) if decimal != "." else separator.join(row))
    if trailing:
        lines = [line + separator for line in lines]
    return above + end.join(lines) + end


def put(folder: Path, text: str | bytes, name: str = "drive.csv", encoding: str = "utf-8") -> Path:
    """Write the log into a folder."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path

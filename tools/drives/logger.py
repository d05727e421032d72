"""The logger: which rows it writes when, what each column holds in them, and what its clock says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tools.drives import state as s
from tools.drives.car import Car
from tools.drives.events import SensorEvent
from tools.drives.sensors import HZ, Array, Channel, noise_free, stepped

RATES = (10.0, 20.0, 25.0, 50.0, 50.0, 50.0, 100.0)
HEATS = 12.0  # seconds after the start in which a lambda sensor reads its lean end, as everyone's does


@dataclass(frozen=True)
class Logger:
    """How one seed's logger works."""

    rate: float  # rows a second
    holds: bool  # a slower channel repeats its last value; else its cell stays empty
    resolution: float  # of the stamps [s]
    drift: float  # of the clock, share
    present: tuple[Channel, ...]
    absent: tuple[Channel, ...]


@dataclass(frozen=True)
class Column:
    """One channel as logged: own rows, what a perfect sensor would have given there, and whole steps."""

    rows: NDArray[np.int64]  # rows that bring a new value
    ideal: Array
    readings: NDArray[np.int64]


@dataclass(frozen=True)
class Log:
    """Rows before the clock's gaps take some away: true times, stamps, and which rows are kept."""

    true: Array
    stamps: Array
    kept: NDArray[np.bool_]
    columns: dict[str, Column]


def choose_logger(
    rng: np.random.Generator, every: tuple[Channel, ...], *, rate: float | None = None
) -> Logger:
    """A logger: rate, habits, and the channels that it lacks."""
    picked = float(rng.choice(RATES))
    retards = bool(rng.random() < 0.12)  # all cylinders or none
    present, absent = [], []
    for channel in every:
        gone = retards if channel.key.startswith("retard") else rng.random() < channel.dropped
        (absent if gone else present).append(channel)
    return Logger(
        rate=rate or picked,
        holds=bool(rng.random() < 0.6),
        resolution=float(rng.choice([0.001, 0.001, 0.005])),
        drift=float(rng.normal(0.0, 3e-5)),
        present=tuple(present),
        absent=tuple(absent),
    )


def _own_rows(
    n: int, logger: Logger, channel: Channel, true: Array, faults: list[SensorEvent], shift: int
) -> NDArray[np.int64]:
    """Rows in which the channel brings a new value."""
    every = max(1, round(1.0 / channel.share))
    rows = np.arange(shift % every, n, every)
    if len(rows) == 0 or rows[0] != 0:
        rows = np.concatenate([[0], rows])
    slow = max(1, round(logger.rate / every))  # new values a second
    for fault in faults:
        if fault.kind == "slow-channel" and fault.channel == channel.key:
            inside = (true[rows] >= fault.start) & (true[rows] < fault.end)
            order = np.cumsum(inside)
            rows = rows[~inside | (order % slow == 1) | (slow == 1)]
    return rows


def _warmed(channel: Channel, x: Array, y: Array) -> Array:
    """The lambda sensor is cold after a start."""
    if channel.key != "lambda":
        return x
    cold = (y[:, s.RUN] > 0.0) & (y[:, s.SINCE_START] < HEATS)
    return np.where(cold, channel.high, x)


def _wrong(
    channel: Channel, value: Array, t: Array, faults: list[SensorEvent], rng: np.random.Generator
) -> Array:
    """What the sensor's own faults make of its readings."""
    for fault in faults:
        if fault.channel != channel.key or fault.kind == "slow-channel":
            continue
        inside = np.flatnonzero((t >= fault.start) & (t < fault.end))
        if len(inside) == 0:
            continue
        value = value.copy()
        if fault.kind == "sensor-frozen":
            value[inside] = value[inside[0]]
        elif fault.kind == "sensor-spikes":
            hit = rng.choice(inside, size=max(1, min(len(inside) // 4, 6)), replace=False)
            value[hit] += (
                fault.strength * np.hypot(channel.noise, channel.step / 3.5) * rng.choice([-1, 1], len(hit))
            )
        elif fault.kind == "sensor-out-of-range":
            value[inside] = channel.high if rng.random() < 0.5 else channel.low
        elif fault.kind == "lambda-cold":
            value[inside] = channel.high
        elif fault.kind == "speed-dropouts":
            hit = rng.choice(inside, size=min(len(inside), int(fault.strength)), replace=False)
            value[hit] *= rng.choice([0.0, 0.5, 2.0], len(hit))
    return value


def _clock(true: Array, logger: Logger, faults: list[SensorEvent]) -> tuple[Array, NDArray[np.bool_]]:
    """Stamps of the rows and which rows are there."""
    stamps = true * (1.0 + logger.drift)
    kept = np.ones(len(true), dtype=bool)
    back = np.zeros(len(true))
    for fault in faults:
        inside = (true >= fault.start) & (true < fault.end)
        if fault.kind == "clock-gap":
            kept[inside] = False
        elif fault.kind == "clock-jump-back":
            back[true >= fault.start] += fault.strength
        elif fault.kind == "clock-repeats":
            at = np.flatnonzero(inside)
            stamps[at] = stamps[at - np.arange(len(at)) % 5]
    stamps = np.round((stamps - back) / logger.resolution) * logger.resolution
    return stamps, kept


def write_down(
    y: Array, car: Car, logger: Logger, faults: list[SensorEvent], rng: np.random.Generator
) -> Log:
    """The log of a true record `y` (100 Hz)."""
    n = int((len(y) - 2) / HZ * logger.rate)
    true = np.arange(n) / logger.rate + rng.uniform(-0.02, 0.02, n) / logger.rate
    true[0] = 0.0
    at = np.minimum((true * HZ).astype(np.int64), len(y) - 1)
    columns = {}
    for channel in logger.present:
        shift = int(rng.integers(0, 1000))
        rows = _own_rows(n, logger, channel, true, faults, shift)
        x = _warmed(channel, noise_free(channel, y, car), y)
        ideal = x[at[rows]]
        value = ideal + channel.noise * rng.standard_normal(len(rows))
        value = _wrong(channel, value, true[rows], faults, rng)
        columns[channel.key] = Column(rows, ideal, stepped(channel, value))
    stamps, kept = _clock(true, logger, faults)
    return Log(true, stamps, kept, columns)

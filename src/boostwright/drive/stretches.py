"""The drive cut into stretches in which the engine does one thing: pulls, lifts, idle, overrun, shifts."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Stretch
from boostwright.drive.signal import Signals
from boostwright.drive.windows import running_max, running_mean, running_min, spans

__all__ = ["Ways", "stretches_of", "ways_of"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

RUNS_FROM = 42.0  # rad/s, 400 rpm: below it the starter turns the engine, or nobody
TURNS_FROM = 6.0  # rad/s: slower is a sensor's noise
STANDS_BELOW = 0.8  # m/s
FULL_SHARE = 0.85  # of the way from closed to the widest that the drive shows
CLOSED_SHARE = 0.03
IDLE_RATIO = 1.35  # over idle speed: above it a closed throttle is overrun
LEAST_PULL = 0.8  # s
LONGEST_SHIFT = 1.3  # s without full throttle between two parts of a pull
LEAST_IDLE = 1.0  # s
LEAST_STEADY = 2.0  # s
LIFT_TIME = 0.5  # s from wide open to closed
AFTER_LIFT = 1.6  # s that belong to a lift


@dataclass(frozen=True, slots=True)
class Ways:
    """What the engine does at each place of the grid, (n,) each.

    opening: throttle (else pedal, else pressure) from 0 closed to 1 widest. gear: 0 unknown.
    ratio: engine speed over road speed of each gear [rad/m], as this drive shows it.
    """

    opening: Array
    running: Mask
    standing: Mask
    closed: Mask
    full: Mask
    idle: Mask
    overrun: Mask
    gear: NDArray[np.int64]
    idle_speed: float
    opening_from: str
    ratio: dict[int, float]


def ways_of(signals: Signals) -> Ways:
    """What the engine does at each place, by throttle, engine speed and road speed."""
    speed = signals["engine_speed"]
    opening, source = _opening(signals)
    running = speed > RUNS_FROM
    if "road_speed" in signals:
        standing = signals["road_speed"] < STANDS_BELOW
    else:
        standing = np.ones(speed.size, dtype=bool)
    closed = opening < CLOSED_SHARE
    full = opening > FULL_SHARE
    quiet = speed[closed & running & standing]
    quiet = quiet[np.isfinite(quiet)]
    idle_speed = float(np.quantile(quiet, 0.3)) if quiet.size else float("nan")
    slow = speed < IDLE_RATIO * idle_speed if np.isfinite(idle_speed) else np.zeros(speed.size, dtype=bool)
    idle = closed & running & standing & slow
    overrun = closed & running & ~slow
    gear, ratio = _gears(signals, speed)
    return Ways(opening, running, standing, closed, full, idle, overrun, gear, idle_speed, source, ratio)


def stretches_of(signals: Signals, ways: Ways) -> tuple[Stretch, ...]:
    """All stretches, by their start."""
    found: list[Stretch] = []

    def add(kind: str, first: int, last: int, gear: int = 0) -> None:
        end = min(last, len(signals) - 1)
        rows = signals.row
        found.append(
            Stretch(
                kind, float(signals.t[first]), float(signals.t[end]), int(rows[first]), int(rows[end]), gear
            )
        )

    speed = signals["engine_speed"]
    for a, b in spans(speed < TURNS_FROM, least=signals.samples(0.3)):
        add("off", a, b)
    for a, b in spans((speed >= TURNS_FROM) & (speed < RUNS_FROM), least=signals.samples(0.15), join=2):
        add("cranking", a, b)
    for a, b in spans(ways.idle, least=signals.samples(LEAST_IDLE), join=signals.samples(0.1)):
        add("idle", a, b)
    for a, b in spans(ways.overrun, least=signals.samples(0.5)):
        add("overrun", a, b)
    _add_pulls(signals, ways, add)
    for a in _lifts(signals, ways):
        add("lift", a, a + signals.samples(AFTER_LIFT))
    for a, b in spans(_steady(signals, ways), least=signals.samples(LEAST_STEADY)):
        add("steady", a, b, _most(ways.gear[a:b]))
    return tuple(sorted(found, key=lambda s: (s.start, s.kind)))


def _opening(signals: Signals) -> tuple[Array, str]:
    for key in ("throttle", "pedal"):
        x = signals.get(key)
        if x is None or not np.isfinite(x).any():
            continue
        low, high = np.nanquantile(x[:: max(1, x.size // 200_000)], [0.02, 0.998])
        if high - low > 0.2:
            return (x - low) / (high - low), key
    x = signals.get("manifold_pressure")
    if x is not None and np.isfinite(x).any():
        low, high = np.nanquantile(x[signals["engine_speed"] > RUNS_FROM], [0.02, 0.998])
        if high > low:
            return (x - low) / (high - low), "manifold_pressure"
    return np.full(len(signals), np.nan), ""


def _gears(signals: Signals, speed: Array) -> tuple[NDArray[np.int64], dict[int, float]]:
    none = np.zeros(speed.size, dtype=np.int64)
    road = signals.get("road_speed")
    written = signals.get("gear")
    gear = none
    if written is not None:
        gear = np.where(np.isfinite(written), np.round(np.nan_to_num(written)), 0).astype(np.int64)
    if road is None:
        return gear, {}
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where((road > 3.0) & (speed > RUNS_FROM), speed / road, np.nan)
    if written is not None:
        known = {}
        for g in range(1, int(gear.max(initial=0)) + 1):
            own = ratio[gear == g]
            own = own[np.isfinite(own)]
            if own.size > 3.0 / signals.step:
                known[g] = float(np.median(own))
        return gear, known
    centres = _clusters(ratio)
    known = {i + 1: c for i, c in enumerate(centres)}
    for g, centre in known.items():
        gear = np.where(np.abs(ratio - centre) < 0.06 * centre, g, gear)
    return gear, known


def _clusters(ratio: Array) -> list[float]:
    """Ratios at which a drive dwells, the lowest gear first: peaks of the histogram over the logarithm."""
    there = ratio[np.isfinite(ratio)]
    if there.size < 100:
        return []
    count, edge = np.histogram(np.log(there), bins=np.arange(np.log(10.0), np.log(600.0), 0.015))
    smooth = np.convolve(count, [0.25, 0.5, 0.25], mode="same")
    top = (smooth[1:-1] >= smooth[:-2]) & (smooth[1:-1] > smooth[2:]) & (smooth[1:-1] > 0.012 * there.size)
    centre = np.exp(0.5 * (edge[:-1] + edge[1:]))[1:-1][top]
    kept: list[float] = []
    for c in sorted(centre, reverse=True):
        if not kept or c < kept[-1] / 1.12:
            near = there[np.abs(there / c - 1.0) < 0.03]
            kept.append(float(np.median(near)))
    return kept[:8]


def _add_pulls(signals: Signals, ways: Ways, add: object) -> None:
    speed = signals["engine_speed"]
    parts = spans(ways.full & ways.running, least=signals.samples(0.3))
    assert callable(add)
    for k, (a, b) in enumerate(parts):
        last = min(b, speed.size - 1)
        if k and a - parts[k - 1][1] < signals.samples(LONGEST_SHIFT):
            add("shift", parts[k - 1][1], a)
        for c, d in _by_gear(ways.gear, a, last):
            if d - c >= signals.samples(LEAST_PULL) and speed[d - 1] > 1.02 * speed[c]:
                add("pull", c, d, _most(ways.gear[c:d]))


def _by_gear(gear: NDArray[np.int64], a: int, b: int) -> list[tuple[int, int]]:
    """A stretch of full throttle cut where the gear changes."""
    change = np.flatnonzero(np.diff(gear[a:b])) + 1
    edges = [a, *(a + change).tolist(), b]
    return list(pairwise(edges))


def _lifts(signals: Signals, ways: Ways) -> list[int]:
    """Where a wide throttle begins to close and is closed within half a second."""
    reach = signals.samples(LIFT_TIME)
    wide = ways.opening > 0.5
    ends = np.flatnonzero(wide[:-1] & ~wide[1:]) + 1
    return [int(i) for i in ends if np.nanmin(ways.opening[i : i + reach], initial=1.0) < 2 * CLOSED_SHARE]


def _steady(signals: Signals, ways: Ways) -> Mask:
    window = signals.samples(LEAST_STEADY)
    speed = running_mean(signals["engine_speed"], signals.samples(0.1))
    opening = running_mean(ways.opening, signals.samples(0.1))
    calm = running_max(speed, window) < 1.04 * running_min(speed, window)
    calm &= running_max(opening, window) - running_min(opening, window) < 0.05
    return np.asarray(calm & ways.running & ~ways.idle & ~ways.full)


def _most(values: NDArray[np.int64]) -> int:
    return int(np.bincount(np.maximum(values, 0)).argmax()) if values.size else 0

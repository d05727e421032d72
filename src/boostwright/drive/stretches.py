"""The drive cut into stretches in which the engine does one thing: pulls, lifts, idle, overrun, shifts."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Stretch
from boostwright.drive.signal import Signals
from boostwright.drive.windows import running_max, running_mean, running_min, spans

__all__ = ["Ways", "outside_pressure", "stretches_of", "ways_of"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

RUNS_FROM = 42.0  # rad/s, 400 rpm: below it the starter turns the engine, or nobody
TURNS_FROM = 6.0  # rad/s: slower is a sensor's noise
STANDS_BELOW = 0.8  # m/s
FULL_SHARE = 0.7  # of the way from closed to the widest that the drive shows: beyond it a throttle passes all
CLOSED_SHARE = 0.03
FULL_BY_PRESSURE = 1.0  # of the way from the deepest vacuum to 3 % below the air outside
CLOSED_BY_PRESSURE = 0.25
IDLE_BELOW = 170.0  # rad/s, 1600 rpm
GEAR_WIDTH = 0.06
IDLE_RATIO = 1.35  # over idle speed: above it a closed throttle is overrun
LEAST_PULL = 0.8  # s
LONGEST_SHIFT = 1.3  # s without full throttle between two parts of a pull
LONGEST_CHANGE = 2.0  # s from one gear to the next
LEAST_IDLE = 1.0  # s
LEAST_STEADY = 2.0  # s
LIFT_TIME = 0.5  # s from wide open to closed
LIFTED = 0.3  # of the way from closed to widest
LIFTED_BY_PRESSURE = 0.45
AFTER_LIFT = 1.6  # s that belong to a lift


@dataclass(frozen=True, slots=True)
class Ways:
    """What the engine does at each place of the grid, (n,) each.

    opening: throttle (else pedal, else pressure) from 0 closed to 1 widest. gear: 0 unknown.
    ratio: engine speed over road speed of each gear [rad/m], as this drive shows it. outside: air pressure
    [Pa].
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
    outside: float


def ways_of(signals: Signals, ratios: tuple[float, ...] = ()) -> Ways:
    """What the engine does at each place, by throttle, engine speed and road speed.

    ratios: engine speed over road speed of each gear as the build states them [rad/m]: they name the gears
    that the drive shows, where the log does not.
    """
    speed = signals["engine_speed"]
    opening, source = _opening(signals)
    running = speed > RUNS_FROM
    if "road_speed" in signals:
        standing = signals["road_speed"] < STANDS_BELOW
    else:
        standing = np.ones(speed.size, dtype=bool)
    by_pressure = source == "manifold_pressure"
    closed = opening < (CLOSED_BY_PRESSURE if by_pressure else CLOSED_SHARE)
    full = opening > (FULL_BY_PRESSURE if by_pressure else FULL_SHARE)
    if by_pressure:
        full &= _boost_is_asked(signals)
    idle_speed = _idle_speed(speed[closed & running & standing])
    slow = speed < IDLE_RATIO * idle_speed if np.isfinite(idle_speed) else np.zeros(speed.size, dtype=bool)
    idle = closed & running & standing & slow
    overrun = closed & running & ~slow
    gear, ratio = _gears(signals, speed, ratios)
    outside = outside_pressure(signals)
    return Ways(
        opening, running, standing, closed, full, idle, overrun, gear, idle_speed, source, ratio, outside
    )


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
    known = np.flatnonzero(ways.gear > 0)
    for i in np.flatnonzero(np.diff(ways.gear[known])):
        if known[i + 1] - known[i] <= signals.samples(LONGEST_CHANGE):
            add("shift", int(known[i]), int(known[i + 1]), int(ways.gear[known[i + 1]]))
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
    under_way = x[(signals["engine_speed"] > RUNS_FROM) & np.isfinite(x)] if x is not None else np.zeros(0)
    if x is not None and under_way.size:
        low = float(np.quantile(under_way, 0.02))
        outside = outside_pressure(signals)
        if outside > 1.3 * low:
            return (x - low) / (0.97 * outside - low), "manifold_pressure"
    return np.full(len(signals), np.nan), ""


def outside_pressure(signals: Signals) -> float:
    """Pressure of the air outside [Pa]: barometer, else manifold while the engine stands, else usual."""
    pressure = signals["manifold_pressure"]
    there = signals["barometer"]
    if np.isfinite(there).any():
        return float(np.nanmedian(there))
    still = pressure[(signals["engine_speed"] < TURNS_FROM) & np.isfinite(pressure)]
    return float(np.median(still)) if still.size > 10 else 98e3


def _boost_is_asked(signals: Signals) -> Mask:
    """Where at least half of the most boost is asked for; everywhere where no target is recorded."""
    target = signals.get("boost_target")
    if target is None or not np.isfinite(target).any():
        return np.ones(len(signals), dtype=bool)
    outside = outside_pressure(signals)
    most = float(np.nanquantile(target, 0.98))
    return np.asarray(target > outside + 0.5 * (most - outside))


def _idle_speed(speed: Array) -> float:
    """The engine speed at which the drive dwells with a closed throttle [rad/s]."""
    slow = speed[speed < IDLE_BELOW]
    if slow.size < 20:
        return float("nan")
    count, edge = np.histogram(slow, bins=np.arange(RUNS_FROM, IDLE_BELOW + 4.0, 4.0))
    top = int(np.convolve(count, np.ones(3), mode="same").argmax())
    near = slow[np.abs(slow - 0.5 * (edge[top] + edge[top + 1])) < 8.0]
    return float(np.median(near))


def _gears(
    signals: Signals, speed: Array, stated: tuple[float, ...]
) -> tuple[NDArray[np.int64], dict[int, float]]:
    written = signals.get("gear")
    gear = np.zeros(speed.size, dtype=np.int64)
    if written is not None:
        gear = np.where(np.isfinite(written), np.round(np.nan_to_num(written)), 0).astype(np.int64)
    if "road_speed" not in signals:
        return gear, {}
    ratio, calm = _ratio(signals, speed)
    if written is not None:
        known = {}
        for g in range(1, int(gear.max(initial=0)) + 1):
            own = ratio[(gear == g) & calm]
            if own.size > signals.samples(1.0):
                known[g] = float(np.median(own))
        return gear, known
    known = _named(_clusters(ratio[calm], signals.samples(1.0)), stated)
    for g, centre in known.items():
        gear[np.abs(ratio - centre) < GEAR_WIDTH * centre] = g
    return gear, known


def _ratio(signals: Signals, speed: Array) -> tuple[Array, Mask]:
    """Engine speed over road speed [rad/m], and where it stands still for a third of a second."""
    road = running_mean(signals["road_speed"], signals.samples(0.2))
    quick = running_mean(speed, signals.samples(0.2))
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where((road > 3.0) & (speed > RUNS_FROM), quick / road, np.nan)
        window = signals.samples(0.4)
        calm = running_max(ratio, window) < 1.03 * running_min(ratio, window)
    return ratio, calm & np.isfinite(ratio)


def _clusters(ratio: Array, least: int) -> list[float]:
    """Ratios at which a drive dwells, the lowest gear first: peaks of the histogram over the logarithm."""
    if ratio.size < least:
        return []
    count, edge = np.histogram(np.log(ratio), bins=np.arange(np.log(5.0), np.log(800.0), 0.015))
    smooth = np.convolve(count, [0.25, 0.5, 0.25], mode="same")
    top = (smooth[1:-1] >= smooth[:-2]) & (smooth[1:-1] > smooth[2:])
    centre = np.exp(0.5 * (edge[:-1] + edge[1:]))[1:-1][top]
    size = smooth[1:-1][top]
    kept: list[float] = []
    for i in np.argsort(-size):
        near = ratio[np.abs(ratio / centre[i] - 1.0) < 0.03]
        if near.size >= least and all(abs(np.log(centre[i] / k)) > 0.11 for k in kept):
            kept.append(float(np.median(near)))
    return sorted(kept, reverse=True)[:9]


def _named(centres: list[float], stated: tuple[float, ...]) -> dict[int, float]:
    """Which gear each ratio is, by the build's own; counted from the lowest seen where it states none."""
    if not stated or not centres:
        return dict(enumerate(centres, start=1))
    off = [min((np.log(c / s) for s in stated), key=abs) for c in centres]
    tyre = float(np.exp(np.median(off)))  # the tyre's true size against the stated one
    named = {}
    for g, ratio in enumerate(stated, start=1):
        near = min(centres, key=lambda c: abs(np.log(c / (ratio * tyre))))
        named[g] = near if abs(np.log(near / (ratio * tyre))) < GEAR_WIDTH else ratio * tyre
    return named


def _add_pulls(signals: Signals, ways: Ways, add: object) -> None:
    speed = signals["engine_speed"]
    parts = spans(ways.full & ways.running, least=signals.samples(0.3))
    if ways.opening_from == "manifold_pressure":
        parts = _with_boost(signals, parts)
    assert callable(add)
    for k, (a, b) in enumerate(parts):
        last = min(b, speed.size - 1)
        if k and not (ways.gear > 0).any() and a - parts[k - 1][1] < signals.samples(LONGEST_SHIFT):
            add("shift", parts[k - 1][1], a)
        for c, d in _by_gear(ways.gear, a, last):
            if d - c >= signals.samples(LEAST_PULL) and speed[d - 1] > 1.02 * speed[c]:
                add("pull", c, d, _most(ways.gear[c:d][ways.gear[c:d] > 0]))


def _with_boost(signals: Signals, parts: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Where no throttle is recorded: the stretches that reach most of the boost that the drive shows."""
    pressure = signals["manifold_pressure"]
    outside = outside_pressure(signals)
    most = float(np.nanquantile(pressure, 0.995))
    return [(a, b) for a, b in parts if np.nanmax(pressure[a:b]) > outside + 0.6 * (most - outside)]


def _by_gear(gear: NDArray[np.int64], a: int, b: int) -> list[tuple[int, int]]:
    """A stretch of full throttle cut where one gear follows another; nobody knows is not another gear."""
    here = gear[a:b]
    known = np.flatnonzero(here > 0)
    cut = np.flatnonzero(np.diff(here[known])) + 1
    edges = [a, *(a + known[cut]).tolist(), b]
    return list(pairwise(edges))


def _lifts(signals: Signals, ways: Ways) -> list[int]:
    """Where a wide throttle begins to close and has lost most of its opening half a second later."""
    reach = signals.samples(LIFT_TIME)
    wide = ways.opening > 0.5
    ends = np.flatnonzero(wide[:-1] & ~wide[1:]) + 1
    least = LIFTED_BY_PRESSURE if ways.opening_from == "manifold_pressure" else LIFTED
    return [int(i) for i in ends if np.nanmin(ways.opening[i : i + reach], initial=1.0) < least]


def _steady(signals: Signals, ways: Ways) -> Mask:
    window = signals.samples(LEAST_STEADY)
    speed = running_mean(signals["engine_speed"], signals.samples(0.1))
    opening = running_mean(ways.opening, signals.samples(0.1))
    calm = running_max(speed, window) < 1.04 * running_min(speed, window)
    calm &= running_max(opening, window) - running_min(opening, window) < 0.05
    return np.asarray(calm & ways.running & ~ways.idle & ~ways.full)


def _most(values: NDArray[np.int64]) -> int:
    return int(np.bincount(np.maximum(values, 0)).argmax()) if values.size else 0

"""Knock by event, transient or sustained, and spark that is late for another reason."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.habit import habit
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene
from boostwright.drive.windows import robust_sd, running_max, running_mean, spans

__all__ = ["knock", "late_spark"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_APART = 1.2  # s between two knocks that belong to one event
_FEW = 3  # knocks from which an event is no longer a transient
_BRIEF = 0.6  # s that a transient lasts at most
_BEFORE = 1.6  # s before a knock in which a tip-in or gear change is its cause
_OPENED = 0.25  # share of the throttle by which a tip-in opens it
_LOUD = 8.0  # robust standard deviations of the level at that speed
_LATE_SURE = 0.3  # s that spark must be late


class _Event(NamedTuple):
    """Knocks that belong together: places of first and last, how many, retard added [rad], where heard."""

    first: int
    last: int
    knocks: int
    size: float
    channel: str
    cylinder: int


def knock(scene: Scene) -> list[Notice]:
    """Events of knock by retard of each cylinder; by the counter or the level where no retard is recorded."""
    signals = scene.signals
    events: list[_Event] = []
    for cylinder in signals.cylinders("knock_retard"):
        events += _by_retard(scene, cylinder)
    least = scene.limit("knock-sustained", "retard")
    events = [e for e in events if e.size >= least - 1e-9]
    if not signals.cylinders("knock_retard"):
        events += _by_count(scene) if "knock_count" in signals else _by_level(scene)
    return [_notice(scene, e) for e in sorted(events)]


def _by_retard(scene: Scene, cylinder: int) -> list[_Event]:
    signals = scene.signals
    retard = signals.get("knock_retard", cylinder)
    if retard is None:
        return []
    rise = np.nan_to_num(np.diff(retard, prepend=np.nan))  # none across a gap, where nobody knows
    step = max(signals.quantum("knock_retard", cylinder), 1e-4)
    at = np.flatnonzero(rise > 1.5 * step)
    return [
        _Event(int(g[0]), int(g[-1]), g.size, float(rise[g].sum()), "knock_retard", cylinder)
        for g in _groups(scene, at)
    ]


def _by_count(scene: Scene) -> list[_Event]:
    count = scene.signals["knock_count"]
    rise = np.nan_to_num(np.diff(count, prepend=np.nan))
    groups = _groups(scene, np.flatnonzero(rise > 0.5))
    return [_Event(int(g[0]), int(g[-1]), int(rise[g].sum()), 0.0, "knock_count", 0) for g in groups]


def _by_level(scene: Scene) -> list[_Event]:
    """Levels far above what the engine's own noise is at that speed and load."""
    signals = scene.signals
    found = []
    for cylinder in signals.cylinders("knock_level"):
        level = signals.get("knock_level", cylinder)
        if level is None:
            continue
        speed, pressure = signals["engine_speed"] / 500.0, np.nan_to_num(signals["manifold_pressure"]) / 1e5
        columns = [np.ones(speed.size), speed, speed**2, pressure, speed * pressure]
        fit = habit(np.nan_to_num(np.array(columns).T), level, scene.ways.running, signals.samples(0.1))
        over = np.where(scene.ways.running, level - fit.usual, 0.0) > _LOUD * max(fit.sd, 1e-6)
        at = np.flatnonzero(over & ~np.roll(over, 1))
        found += [
            _Event(int(g[0]), int(g[-1]), g.size, 0.0, "knock_level", cylinder) for g in _groups(scene, at)
        ]
    return found


def _groups(scene: Scene, at: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    if at.size == 0:
        return []
    return list(np.split(at, np.flatnonzero(np.diff(at) > scene.signals.samples(_APART)) + 1))


def _notice(scene: Scene, event: _Event) -> Notice:
    signals = scene.signals
    lasted = (event.last - event.first) * signals.step
    cause = _cause(scene, event.first)
    sustained = event.knocks >= _FEW and lasted > _BRIEF
    kind = "knock-sustained" if sustained else "knock-transient"
    note = cause or ("" if sustained else "a single knock, not after a tip-in or gear change")
    if sustained and cause:
        note = f"it began {cause}, and went on"
    quantum = signals.quantum("knock_retard", event.cylinder) if event.channel == "knock_retard" else 0.0
    sd = max(quantum / math.sqrt(12.0), 1e-4)
    size = Reading("spark taken away for knock", event.size, sd, "spark angle", event.channel)
    if event.channel != "knock_retard":
        size = Reading("knocks", float(event.knocks), 1.0, "count", event.channel)
    also = [Reading("knocks", float(event.knocks), 0.0, "count", event.channel)]
    if event.cylinder:
        also.append(Reading("cylinder", float(event.cylinder), 0.0, "count", event.channel))
    for key, words, dimension in (
        ("engine_speed", "engine speed", "speed of rotation"),
        ("manifold_pressure", "manifold pressure", "pressure"),
        ("intake_temperature", "intake air", "temperature"),
        ("lambda", "lambda", "mixture"),
    ):
        x = signals[key][event.first : event.last + 1]
        if np.isfinite(x).any():
            also.append(Reading(words, float(np.nanmean(x)), 0.0, dimension, key))
    last = event.last + signals.samples(0.2)
    stretch = scene.stretch_at(event.first, "pull")
    ratio = max(event.size / scene.limit("knock-sustained", "retard"), 1.0) * math.sqrt(event.knocks)
    return scene.notice(
        kind, event.first, last, size, ratio, (event.channel,), stretch=stretch, also=tuple(also), note=note
    )


def _cause(scene: Scene, place: int) -> str:
    """What went before a knock: '' where neither foot nor gearbox moved."""
    near = slice(max(0, place - scene.signals.samples(_BEFORE)), place + 1)
    gear = scene.ways.gear[near]
    if gear.size and gear.min() != gear.max():
        return "after a gear change"
    opening = scene.ways.opening[near]
    opening = opening[np.isfinite(opening)]
    if opening.size and float(opening[-1]) - float(opening.min()) > _OPENED:
        return "after a tip-in"
    return ""


def late_spark(scene: Scene) -> list[Notice]:
    """Spark well behind its table that no knock, gear change, idle control or overrun explains."""
    signals = scene.signals
    late = signals["spark_table"] - signals["spark_advance"]
    knocked = np.zeros(late.size)
    for cylinder in signals.cylinders("knock_retard"):
        knocked = np.fmax(
            knocked, np.nan_to_num(signals["knock_retard"] if not cylinder else _retard(scene, cylinder))
        )
    ways = scene.ways
    settled = signals.samples(_BEFORE)
    gear = ways.gear.astype(np.float64)
    changed = running_max(np.r_[0.0, np.abs(np.diff(gear))], 2 * settled) > 0.0
    shut = running_max((ways.opening < 0.1).astype(np.float64), 2 * settled) > 0.0
    idle = shut | ~ways.running | ~(ways.opening > 0.1)
    if np.isfinite(ways.idle_speed):
        idle |= signals["engine_speed"] < 1.6 * ways.idle_speed
    least = max(scene.limit("spark-late", "least"), 6.0 * robust_sd(late[~idle & ways.running]))
    rest = running_mean(late - knocked, signals.samples(0.2))
    with np.errstate(invalid="ignore"):
        over = (rest > least) & ~changed & ~idle
    found = []
    for a, b in spans(over, least=signals.samples(_LATE_SURE), join=signals.samples(0.5)):
        most = float(np.nanmax(rest[a:b]))
        size = Reading(
            "spark behind its table", most, signals.quantum("spark_advance"), "spark angle", "spark_advance"
        )
        stretch = scene.stretch_at(a, "pull")
        found.append(
            scene.notice("spark-late", a, b, size, most / least, ("spark_advance",), stretch=stretch)
        )
    return found


def _retard(scene: Scene, cylinder: int) -> Array:
    found = scene.signals.get("knock_retard", cylinder)
    return found if found is not None else np.zeros(len(scene.signals))

"""Whether channels hang together as in a car, or were put beside each other by a device."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import LogRefused
from boostwright.library.channels import channel_kinds
from boostwright.readers.drive_log.evidence import Scene, rules
from boostwright.readers.drive_log.mapping import ColumnMapping

__all__ = ["ranks", "turns", "uncoupled"]

Array = NDArray[np.float64]

_TOGETHER = (
    ("throttle", "manifold_pressure"),
    ("pedal", "throttle"),
    ("engine_speed", "road_speed"),
    ("manifold_pressure", "injector_pulse"),
    ("manifold_pressure", "injector_duty"),
    ("manifold_pressure", "air_flow"),
    ("manifold_pressure", "spark_advance"),
    ("engine_speed", "injector_duty"),
    ("engine_speed", "air_flow"),
)
_RISING = _TOGETHER[:3]  # of these, the one never falls where the other rises


def ranks(value: Array) -> Array:
    """The rank of each value (n,), equal ones in the middle of theirs."""
    _, inverse, counts = np.unique(value, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(counts) - 0.5 * (counts - 1))[inverse], dtype=np.float64)


def turns(value: Array) -> int:
    """How often a course crosses its median."""
    above = value > np.median(value)
    return int((above[1:] != above[:-1]).sum())


def uncoupled(scene: Scene, read: dict[str, ColumnMapping], values: dict[str, Array], file: str) -> list[str]:
    """What hangs together in every car does not here; or only one sensor goes with nothing."""
    rule = rules()["emulator"]
    speed = values.get("engine_speed")
    if speed is None or len(speed) < rule["rows"]:
        return []
    good = np.isfinite(speed) & (speed > rule["runs"])
    if good.sum() < rule["rows"] or not _stirs("engine_speed", speed[good]):
        return []
    if "throttle" in values and not _stirs("throttle", values["throttle"][good]):
        return []  # nobody drove
    stamp = scene.stamp[scene.clock_of[read["engine_speed"].column]]
    step = float(np.nanmedian(np.diff(stamp)))
    span = max(1, round(rule["change"] / step)) if step > 0.0 else 1
    seen = []
    for one, other in _TOGETHER:
        if one in values and other in values:
            both = good & np.isfinite(values[one]) & np.isfinite(values[other])
            a, b = values[one][both], values[other][both]
            if len(a) >= rule["rows"] and _stirs(one, a) and _stirs(other, b):
                seen.append((_beyond_chance(a, b, span, (one, other) in _RISING), one, other))
    apart = [pair for pair in seen if pair[0] < 0.0]
    if len(seen) < rule["pairs"] or len(apart) < rule["pairs"] or max(seen)[0] >= rule["sure"]:
        return []
    one, other = max(apart)[1:]
    common = set.intersection(*({a, b} for _, a, b in apart))
    if common and len(apart) == len(seen):
        words = channel_kinds()[common.pop()].words
        return [f"{words} goes with nothing else in the file: what it shows cannot be trusted"]
    names = " and ".join(channel_kinds()[k].words for k in (one, other))
    raise LogRefused(
        "emulator",
        f"hardly anything in {file} hangs together as in a car: {names} do not go together, as if an"
        " emulator played them",
        "Take a log that was recorded in the car, or see whether its columns are what their headings say.",
    )


def _stirs(key: str, value: Array) -> bool:
    """True where a quantity moves enough to be compared: at rest and at idle there is but noise."""
    value = value[np.isfinite(value)]
    return len(value) > 0 and float(np.ptp(np.quantile(value, (0.05, 0.95)))) > rules()["stirs"][key]


def _beyond_chance(a: Array, b: Array, span: int, rising: bool = False) -> float:
    """By how much the rank correlation (n,) of two courses, or of their changes over a span, is no chance."""
    rule = rules()["emulator"]
    # by chance two slow courses agree the better, the seldomer they cross their middle
    crossings = max(min(turns(a), turns(b)), 1)
    chance = float(min(rule["most_apart"], max(rule["apart"], rule["chance"] / math.sqrt(crossings))))
    level = _alike(a, b, rising) - chance
    if level >= rule["plain"]:
        return level
    da, db = a[span:] - a[:-span], b[span:] - b[:-span]
    moving = (np.abs(da) > rule["stirs"] * np.ptp(a)) | (np.abs(db) > rule["stirs"] * np.ptp(b))
    da, db = da[moving], db[moving]
    if len(da) < rule["turns"] or min(turns(da), turns(db)) < rule["turns"] or not (da.std() and db.std()):
        return level
    change = _alike(da, db, rising) - float(rule["change_apart"])
    return min(level, change)  # levels may agree by chance where their changes do not


def _alike(a: Array, b: Array, rising: bool) -> float:
    """Rank correlation, without its sign where the one may fall while the other rises."""
    found = float(np.corrcoef(ranks(a), ranks(b))[0, 1])
    return found if rising else abs(found)

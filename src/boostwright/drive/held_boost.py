"""Whether boost was held to an absolute target, so that a power must not be corrected for the air again."""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.outside import Outside
from boostwright.drive.rows import Rows
from boostwright.library.drive_spreads import drive_spread

__all__ = ["Held", "HeldBoost", "held_boost"]

Array = NDArray[np.float64]


class Held(Enum):
    """What held the boost. The value is the word on every door."""

    ABSOLUTE = "boost held to an absolute target"
    GAUGE = "boost held to a target above the outside air"
    NOT = "boost not held by the control"
    UNKNOWN = "nobody can say what held the boost"


class HeldBoost(NamedTuple):
    """The answer, with the reason in one sentence and how far boost stood from its target [Pa]."""

    held: Held
    why: str
    off: float = float("nan")


def held_boost(pull: Rows, outside: Outside, drive: Rows | None = None) -> HeldBoost:
    """What held the boost in one pull, from the log alone.

    pull: its rows. outside: air of the drive. drive: all rows, in which the outside air may have changed.
    Held: median distance from the target below 4 kPa in the pull's upper half, the gate's duty off its ends.
    Absolute: the target was written absolute and, where the air changed by more than 1.5 kPa over the drive,
    did not go with it.
    """
    boosted = outside.pressure + drive_spread("held", "boosted")
    pressure = pull.get("charge_pressure") if pull.has("charge_pressure") else pull.get("manifold_pressure")
    if not np.isfinite(pressure).any():
        return HeldBoost(Held.UNKNOWN, "The log holds no pressure of the charge.")
    if not float(np.nanmax(pressure)) > boosted:
        return HeldBoost(Held.NOT, "The engine was not under boost.")
    target = pull.get("boost_target")
    if not np.isfinite(target).any():
        return HeldBoost(
            Held.UNKNOWN,
            "No boost target is in the log: whether the control or the spring and the air of the day set the"
            " pressure cannot be told.",
        )
    upper = _upper_half(pull)
    use = upper & np.isfinite(target) & np.isfinite(pressure) & (target > boosted)
    if np.count_nonzero(use) < 5:
        return HeldBoost(Held.NOT, "The target asked for no boost in the upper half of the pull.")
    off = float(np.median(pressure[use] - target[use]))
    if abs(off) > drive_spread("held", "target_off"):
        return HeldBoost(Held.NOT, f"Boost stood {off / 1e3:+.1f} kPa from its target.", off)
    duty = pull.get("gate_duty")[use]
    duty = duty[np.isfinite(duty)]
    edge = drive_spread("held", "authority")
    if duty.size and not edge < float(np.median(duty)) < 1.0 - edge:
        return HeldBoost(
            Held.NOT,
            f"The gate's duty stood at its end ({100 * float(np.median(duty)):.0f} %): the spring held it.",
            off,
        )
    return _absolute(pull, drive, off)


def _absolute(pull: Rows, drive: Rows | None, off: float) -> HeldBoost:
    slope = None if drive is None else _with_the_air(drive)
    if slope is not None:
        if slope > 0.5:
            return HeldBoost(Held.GAUGE, "The target went with the outside air over the drive.", off)
        return HeldBoost(Held.ABSOLUTE, "The target stayed while the outside air changed.", off)
    if "gauge" in pull.notes.get("boost_target", ""):
        return HeldBoost(Held.GAUGE, "The target is written above the outside air, and boost met it.", off)
    return HeldBoost(Held.ABSOLUTE, "The target is written absolute, and boost met it.", off)


def _upper_half(pull: Rows) -> NDArray[np.bool_]:
    omega = pull.get("engine_speed")
    if not np.isfinite(omega).any():
        return np.asarray(pull.t > 0.5 * (pull.t[0] + pull.t[-1]))
    with np.errstate(invalid="ignore"):
        return np.asarray(omega > 0.5 * (np.nanmin(omega) + np.nanmax(omega)))


def _with_the_air(drive: Rows) -> float | None:
    """By how much full targets moved with the outside air, over its change; None where that was small."""
    air, target = drive.get("barometer"), drive.get("boost_target")
    known = np.isfinite(air) & np.isfinite(target)
    if np.count_nonzero(known) < 50:
        return None
    air, target = air[known], target[known]
    full = target > np.quantile(target, 0.9) - drive_spread("held", "boosted")
    air, target = air[full], target[full]
    if air.size < 50 or float(np.ptp(air)) < drive_spread("held", "barometer"):
        return None
    low, high = air < np.median(air), air >= np.median(air)
    if not low.any() or not high.any():
        return None
    change = float(np.mean(air[high]) - np.mean(air[low]))
    if change < 0.4 * drive_spread("held", "barometer"):
        return None
    return float(np.median(target[high]) - np.median(target[low])) / change

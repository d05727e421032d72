"""The spark's true place that a build states: one reading of it, or the parts that its doubt is made of."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from boostwright.build.document import Build

__all__ = ["BASE_TIMING", "BUDGET", "TimingError", "timing_error_of", "timing_fields", "timing_offset_of"]

BUDGET: Final = {
    "ignition.mark_error": "mark",
    "ignition.light_error": "light",
    "ignition.damper_slip": "damper",
    "ignition.trigger_drift": "drift",
}
"""Each field holds what it is at most, 19 times out of 20, to either side."""

BASE_TIMING: Final = ("ignition.base_timing", "ignition.base_timing_manual", "ignition.timing_locked")
_OWN_SPREAD: Final = 0.25  # of a summed doubt, share: the parts are guesses themselves (judgement)


class TimingError(NamedTuple):
    """How far the true spark may be from the commanded one, 19 times out of 20. All [rad]."""

    either: float  # to the worse side
    early: float  # before the commanded one: what strains the parts
    sd: float  # of these figures
    offset: float  # by which a reading with locked advance was early; below 0 late, 0 where none was taken
    doubt: float  # of the parts together, to either side of the offset; NaN where one reading covers all
    parts: dict[str, float]  # by their word; empty where one reading covers all
    known: bool  # whether the file states anything of it


def timing_offset_of(build: Build) -> float | None:
    """By how much base timing was read early against the engine's own manual [rad]; None without a reading
    that counts: both figures stated, and the advance locked.
    """
    read, wanted = build.get("ignition.base_timing"), build.get("ignition.base_timing_manual")
    locked = build.get("ignition.timing_locked")
    if read is None or wanted is None or locked is None or locked.value is not True:
        return None
    return float(read.value) - float(wanted.value)


def _read_free(build: Build) -> float:
    """By how much base timing read with the advance free is off the manual's figure [rad]; 0 without one."""
    read, wanted = build.get("ignition.base_timing"), build.get("ignition.base_timing_manual")
    return 0.0 if read is None or wanted is None else abs(float(read.value) - float(wanted.value))


def timing_error_of(build: Build) -> TimingError:
    """The doubt of the spark.

    A stated `controller.timing_error` goes before everything. Else, where a part of the doubt or a base
    timing is stated, e = |offset| + sqrt(mark^2 + light^2 + damper^2 + drift^2), the
    parts being independent bounds of one coverage; parts that are not stated take their defaults, which sum
    to 2 degrees. Where nothing is stated, the default of `controller.timing_error`, 2 degrees as well.
    """
    whole = build["controller.timing_error"]
    value = abs(float(whole.value))
    if build.is_stated("controller.timing_error"):
        return TimingError(value, value, float(whole.sd or 0.0), 0.0, math.nan, {}, True)
    offset = timing_offset_of(build)
    free = _read_free(build) if offset is None else 0.0
    if offset is None and not free and not any(build.is_stated(path) for path in BUDGET):
        return TimingError(value, value, float(whole.sd or 0.0), 0.0, math.nan, {}, False)
    parts = {word: abs(build.number(path)) for path, word in BUDGET.items()}
    if free:  # an advance that was free hides an offset of that size as well as none
        parts["free"] = free
    doubt = math.hypot(*parts.values())
    off = offset or 0.0
    return TimingError(abs(off) + doubt, max(off, 0.0) + doubt, _OWN_SPREAD * doubt, off, doubt, parts, True)


def timing_fields(build: Build) -> tuple[str, ...]:
    """The fields that the doubt of the spark rests on in this build."""
    found = timing_error_of(build)
    if not found.parts:
        return ("controller.timing_error",)
    base = BASE_TIMING if timing_offset_of(build) is not None or _read_free(build) else ()
    return (*BUDGET, *base)

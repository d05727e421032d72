"""Stamps of a clock in seconds, whatever the form in which it was written."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Final, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.readers.drive_log.cells import clean_column
from boostwright.readers.drive_log.names import time_table

__all__ = ["CLOCK_FORM", "DATE_FORM", "DAY", "ClockPlan", "ClockState", "see_begin", "stamps_of"]

Array = NDArray[np.float64]

DAY: Final = 86400.0
"""Seconds of a day."""

_PARTS: Final = (
    r"^\s*(?P<date>[0-9A-Za-z]{1,4}[-./ ][0-9A-Za-z]{1,9}[-./ ][0-9]{1,4})?[T ,]*"
    r"(?:(?P<h>[0-9]{1,4}):)?(?P<m>[0-9]{1,4}):(?P<s>[0-9]{1,2}(?:[.,:][0-9]+)?)"
    r"\s*(?P<ap>[AaPp])?[.]?[Mm]?[.]?\s*(?P<z>Z|UTC|GMT|[+-][0-9]{2}:?[0-9]{2})?\s*$"
)
CLOCK_FORM: Final = re.compile(_PARTS)
DATE_FORM: Final = re.compile(r"^\s*([0-9]{1,4})[-./ ]([0-9]{1,2}|[A-Za-z]{3,9})[-./ ]([0-9]{1,4})\s*$")
_SERIAL_ZERO: Final = -25569.0 * DAY  # 1899-12-30, from which spreadsheets count


class ClockPlan(NamedTuple):
    """One clock of a table, and how its stamps are written."""

    kind: str  # number, epoch, serial, clock, duration, datetime, parted (date and time of day), rate
    columns: tuple[int, ...]
    factor: float  # seconds of one step of a number
    unit: str
    order: str  # of a date: dmy, mdy, ymd
    sure: bool
    reason: str
    members: tuple[int, ...] = ()  # the columns that it stamps
    dated: ClockPlan | None = None  # another clock of the same rows, which says when that was

    @property
    def every(self) -> tuple[int, ...]:
        """All columns that are needed for it."""
        return self.columns + (self.dated.columns if self.dated is not None else ())


@dataclass(slots=True)
class ClockState:
    """What is carried from one stretch of a file to the next."""

    first: float = math.nan  # the first stamp [s]
    last: float = math.nan
    began: float = math.nan  # by the other clock of the same rows [s since 1970]
    day: float = math.nan  # midnight before the first stamp
    days: int = 0  # times that a clock went over midnight


@cache
def _months() -> dict[str, int]:
    return {name: int(number) for name, number in time_table("months").items()}


def _day(text: str | None, order: str) -> float:
    """Seconds since 1970 of a date's midnight, NaN where it is none."""
    match = DATE_FORM.match(text or "")
    if match is None:
        return math.nan
    middle = match[2]
    month = _months().get(middle[:3].casefold(), 0) if not middle.isdigit() else int(middle)
    if len(match[1]) == 4:
        year, day = int(match[1]), int(match[3])
    elif order == "mdy" and middle.isdigit():
        year, month, day = int(match[3]), int(match[1]), int(middle)
    else:
        year, day = int(match[3]), int(match[1])
    year += 2000 if year < 70 else 1900 if year < 100 else 0
    try:
        return dt.datetime(year, month, day, tzinfo=dt.UTC).timestamp()
    except (ValueError, OverflowError):
        return math.nan


def stamps_of(plan: ClockPlan, columns: list[pl.Series], decimal: str, state: ClockState) -> Array:
    """Stamps (n,) [s] of one stretch, NaN where none is: elapsed as written, others from their first.

    columns: the plan's own, of text or of numbers, n long. state: is carried on.
    """
    stamp = _stamps(plan, columns, decimal, state)
    return stamp if np.isfinite(stamp).all() else np.where(np.isfinite(stamp), stamp, math.nan)


def see_begin(plan: ClockPlan, columns: list[pl.Series], decimal: str, state: ClockState) -> None:
    """Keep what another clock of the same rows says of the first of them."""
    if plan.dated is None or not math.isnan(state.began):
        return
    other = ClockState()
    stamps_of(plan.dated, [column.head(1) for column in columns], decimal, other)
    state.began = other.first


def _stamps(plan: ClockPlan, columns: list[pl.Series], decimal: str, state: ClockState) -> Array:
    if plan.kind in ("number", "epoch", "serial", "rate"):
        column = columns[-1]
        if column.dtype == pl.String:
            value = clean_column(column, decimal or ".").value
        else:
            value = np.array(column.cast(pl.Float64).fill_null(math.nan).to_numpy(), dtype=np.float64)
        if plan.kind == "epoch":  # from the first, so that no digits are lost
            return (
                _from_first(value * plan.factor, state, 0.0)
                if plan.factor == 1.0
                else _epoch(value, plan, state)
            )
        if plan.kind == "serial":
            return np.round(_from_first(value * DAY, state, _SERIAL_ZERO), 5)
        return value * plan.factor
    seconds, days = _text_stamps(columns[-1].cast(pl.String), plan)
    if plan.kind == "parted":
        days = _days_of(columns[0].cast(pl.String), plan.order)
    if plan.kind == "duration":
        return seconds
    if plan.kind == "clock":
        seconds = _over_midnight(seconds, state)
        return _from_first(seconds, state, 0.0)
    if math.isnan(state.day):
        good = days[np.isfinite(days)]
        state.day = float(good[0]) if len(good) else 0.0
    return _from_first((days - state.day) + seconds, state, state.day)  # so that no digits are lost


def _epoch(value: Array, plan: ClockPlan, state: ClockState) -> Array:
    if math.isnan(state.first):
        good = value[np.isfinite(value)]
        if len(good):
            state.first, state.last = float(good[0]) * plan.factor, float(good[0])
    return (value - state.last) * plan.factor


def _from_first(value: Array, state: ClockState, zero: float) -> Array:
    base = state.first - zero
    if math.isnan(state.first):
        good = value[np.isfinite(value)]
        if len(good) == 0:
            return value
        base = float(good[0])
        state.first = base + zero
    return np.round(value - base, 7)


def _over_midnight(seconds: Array, state: ClockState) -> Array:
    good = np.flatnonzero(np.isfinite(seconds))
    if len(good) == 0:
        return seconds
    own = seconds[good]
    before = own[0] if math.isnan(state.last) else state.last
    drops = np.diff(np.concatenate([[before], own])) < -0.5 * DAY
    rises = np.diff(np.concatenate([[before], own])) > 0.5 * DAY  # a late stamp of the day before
    days = state.days + np.cumsum(drops) - np.cumsum(rises)
    state.days, state.last = int(days[-1]), float(own[-1])
    out = seconds.copy()
    out[good] = own + days * DAY
    return out


def _days_of(column: pl.Series, order: str) -> Array:
    words = column.unique().drop_nulls()
    read = pl.Series([_day(w, order) for w in words.to_list()], dtype=pl.Float64)
    if len(words) == 0:
        return np.full(len(column), math.nan)
    found = column.replace_strict(words, read, default=None, return_dtype=pl.Float64)
    return np.array(found.fill_null(math.nan).to_numpy(), dtype=np.float64)


def _text_stamps(column: pl.Series, plan: ClockPlan) -> tuple[Array, Array]:
    parts = column.str.extract_groups(_PARTS).struct.unnest()

    def numbers(name: str) -> Array:
        text = parts[name]
        if name == "s":
            text = text.str.replace(r"[,:]", ".")
        return np.array(text.cast(pl.Float64, strict=False).fill_null(math.nan).to_numpy(), dtype=np.float64)

    hours = np.nan_to_num(numbers("h"), nan=0.0)
    seconds = 3600.0 * hours + 60.0 * numbers("m") + numbers("s")
    if parts["ap"].null_count() < len(parts):
        mark = parts["ap"].str.to_lowercase()
        afternoon = np.array((mark == "p").fill_null(False).to_numpy(), dtype=bool)
        morning = np.array((mark == "a").fill_null(False).to_numpy(), dtype=bool)
        seconds = seconds + np.where(afternoon & (hours < 12), 12 * 3600.0, 0.0)
        seconds = seconds - np.where(morning & (hours == 12), 12 * 3600.0, 0.0)
    if parts["z"].null_count() < len(parts):
        seconds = seconds - _zones(parts["z"])
    days = _days_of(parts["date"], plan.order) if plan.kind == "datetime" else np.zeros(len(column))
    return seconds, days


def _zones(column: pl.Series) -> Array:
    words = column.unique().drop_nulls()

    def seconds(word: str) -> float:
        if word[0] not in "+-":
            return 0.0
        digits = word[1:].replace(":", "")
        return (1.0 if word[0] == "+" else -1.0) * (int(digits[:2]) * 3600.0 + int(digits[2:4]) * 60.0)

    read = pl.Series([seconds(w) for w in words.to_list()], dtype=pl.Float64)
    found = column.replace_strict(words, read, default=None, return_dtype=pl.Float64)
    return np.array(found.fill_null(0.0).to_numpy(), dtype=np.float64)

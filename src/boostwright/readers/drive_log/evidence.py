"""What the values of a column say: their spread, and how well a unit puts them where they belong."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from boostwright.library import read_text
from boostwright.readers.drive_log.pieces import Piece
from boostwright.readers.drive_log.units import LogUnit

__all__ = ["SEA_LEVEL", "Look", "Scene", "range_fit", "rules"]

Array = NDArray[np.float64]

SEA_LEVEL: Final = 101_325.0
_LEVELS: Final = (0.5, 2.0, 10.0, 50.0, 90.0, 98.0, 99.5)
_MOST: Final = 20_000  # rows that are looked at


@cache
def rules() -> Mapping[str, Mapping[str, Any]]:
    """The numbers of log_rules.toml, by table."""
    return tomllib.loads(read_text("log_rules.toml"))


@cache
def _ranges() -> Mapping[str, Mapping[str, tuple[float, float]]]:
    return tomllib.loads(read_text("log_ranges.toml"))


@dataclass(frozen=True, slots=True)
class Look:
    """A column seen from afar: values as written."""

    value: Array  # (n,) some rows in order, NaN where empty
    filled: int
    quantiles: Array  # (7,) 0.5, 2, 10, 50, 90, 98, 99.5 of 100; NaN where it is empty
    distinct: int
    whole: bool  # whole numbers throughout

    @property
    def low(self) -> float:
        """The lowest but for half of a hundred."""
        return float(self.quantiles[0])

    @property
    def middle(self) -> float:
        """The median."""
        return float(self.quantiles[3])

    @property
    def high(self) -> float:
        """The highest but for half of a hundred."""
        return float(self.quantiles[6])


@dataclass(slots=True)
class Scene:
    """The columns of a file side by side, thinned out."""

    looks: dict[int, Look] = field(default_factory=dict)
    stamp: dict[int, Array] = field(default_factory=dict)  # by clock
    clock_of: dict[int, int] = field(default_factory=dict)

    def beside(self, column: int, other: int) -> tuple[Array, Array]:
        """Values of two columns at the same moments (m,), both finite."""
        a, b = self.looks[column].value, self.looks[other].value
        ca, cb = self.clock_of[column], self.clock_of[other]
        if ca != cb:
            ta, tb = self.stamp[ca], self.stamp[cb]
            good = np.isfinite(tb) & np.isfinite(b)
            if good.sum() < 2:
                return np.empty(0), np.empty(0)
            order = np.argsort(tb[good], kind="stable")
            b = np.interp(ta, tb[good][order], b[good][order], left=math.nan, right=math.nan)
        elif not np.isfinite(b).all():
            b = _held(b)
        both = np.isfinite(a) & np.isfinite(b)
        return a[both], b[both]


def _held(value: Array) -> Array:
    """Empty cells hold the last reading: slower channels of a mixed log."""
    at = np.where(np.isfinite(value), np.arange(len(value)), -1)
    last = np.maximum.accumulate(at)
    return np.where(last >= 0, value[np.maximum(last, 0)], math.nan)


def scene_of(whole: dict[int, Piece]) -> Scene:
    """The scene of joined pieces, by clock."""
    scene = Scene()
    for clock, piece in whole.items():
        n = len(piece.stamp)
        step = max(1, -(-n // _MOST))
        held = step > 1
        scene.stamp[clock] = piece.stamp[::step]
        for column, value in piece.value.items():
            thin = _held(value)[::step] if held and not np.isfinite(value[::step]).all() else value[::step]
            scene.looks[column] = look_at(thin, value)
            scene.clock_of[column] = clock
    return scene


def look_at(thin: Array, value: Array | None = None) -> Look:
    """The look of one column. thin: (m,) the rows that are kept; value: (n,) all."""
    good = thin[np.isfinite(thin)]
    if len(good) == 0 and value is not None:
        good = value[np.isfinite(value)][:_MOST]
    if len(good) == 0:
        return Look(thin, 0, np.full(len(_LEVELS), math.nan), 0, False)
    filled = int(np.isfinite(value).sum()) if value is not None else len(good)
    ordered = np.sort(good)
    at = np.minimum((np.array(_LEVELS) / 100.0 * len(ordered)).astype(np.int64), len(ordered) - 1)
    distinct = 1 + int((np.diff(ordered) > 0).sum())
    return Look(thin, filled, ordered[at], distinct, bool(np.all(good == np.round(good))))


def range_fit(key: str, look: Look, unit: LogUnit, shift: float = 0.0) -> float:
    """How well a unit puts a column where the quantity usually is: 1 within all bounds, down to 0.

    shift: is added in SI, the barometer where a gauge pressure is kept absolute.
    """
    if look.distinct == 0:
        return 0.5
    bounds = _ranges().get(key)
    if bounds is None or unit.asks:
        return 0.5
    q = np.sort(unit.to_si(look.quantiles) + shift)
    if not np.isfinite(q).all():
        q = np.nan_to_num(q, nan=0.0)
    width = max(bounds["inside"][1] - bounds["inside"][0], 1e-9)
    score = 1.0
    for name, values in (
        ("inside", (q[1], q[5])),
        ("bottom", (q[0],)),
        ("middle", (q[3],)),
        ("top", (q[6],)),
    ):
        if name not in bounds:
            continue
        low, high = bounds[name]
        own = max(high - low, 0.05 * width)
        for value in values:
            out = max(low - value, value - high, 0.0)
            if out > 0.0:
                score *= max(0.0, 1.0 - 0.25 - 1.6 * out / own)
    least = bounds.get("span", (0.0, 0.0))[0]
    if least and look.distinct > 20 and q[5] - q[1] < least:
        score *= 0.15 + 0.6 * float(q[5] - q[1]) / least
    if look.distinct == 1:
        score *= 0.95
    return score

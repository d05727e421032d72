"""The same reading before and after the conversion: how much it changed, and whether it changed at all."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.library.repeatability import repeatability

__all__ = ["Change", "Sides", "change_of", "latest", "sides_of"]

Array = NDArray[np.float64]

_LEAST = 1e-6  # scatter of a reading of nothing, so that nothing is divided by it [SI, or a share]


class Sides(NamedTuple):
    """The rows of one field on both sides of the conversion, each row one reading of all cylinders."""

    before: tuple[Array, ...]
    after: tuple[Array, ...]
    unplaced: int  # readings of which nobody can tell on which side they stand
    by_field: bool  # whether 'before' is the field of the file itself, for want of an earlier row


class Change(NamedTuple):
    """The change for the worse of the worst cylinder, or of the one value."""

    value: float  # [SI, or a share of what it was]
    sd: float  # by repeatability [same]
    chance: float  # that an unchanged engine shows as much or more [-]
    place: int  # of the worst one
    places: int
    before: float  # there [SI]
    after: float
    counts: tuple[int, int]  # readings on each side


def sides_of(case: Case, field: str) -> Sides | None:
    """Rows of [[readings]] on that field by date or by what they say; None where none stands after.

    Without an earlier row the field's own stated value is the one before. A row without a side of its own
    goes by its date against build.converted_on; up to that day counts as before.
    """
    day = case.stated("build.converted_on")
    converted = None if day is None else day.value
    before: list[Array] = []
    after: list[Array] = []
    unplaced = 0
    for row in case.build.table("readings"):
        if "field" not in row or "value" not in row or str(row["field"].value) != field:
            continue
        values = np.atleast_1d(np.asarray(row["value"].value, dtype=np.float64))
        side = _side(row, converted)
        if side is None:
            unplaced += 1
        else:
            (before if side == "before" else after).append(values)
    by_field = False
    if not before and after and case.build.is_stated(field):
        before.append(np.atleast_1d(np.asarray(case.build[field].value, dtype=np.float64)))
        by_field = True
    if not after and unplaced < 2:
        return None
    return Sides(tuple(before), tuple(after), unplaced, by_field)


def latest(case: Case, field: str) -> tuple[Array, Array] | None:
    """The engine as it stands today: mean of the rows of [[readings]] after the conversion and its standard
    deviation, else what the field itself states (k,) [SI]; None where nobody has read it.
    """
    day = case.stated("build.converted_on")
    after = []
    for row in case.build.table("readings"):
        if "field" not in row or "value" not in row or str(row["field"].value) != field:
            continue
        if _side(row, None if day is None else day.value) == "after":
            value = np.atleast_1d(np.asarray(row["value"].value, dtype=np.float64))
            spread = np.broadcast_to(np.asarray(row["value"].sd or 0.0, dtype=np.float64), value.shape)
            after.append((value, spread))
    if after and len({value.size for value, _ in after}) == 1:
        n = len(after)
        spread = np.sqrt(np.mean([spread**2 for _, spread in after], axis=0) / n)
        return np.mean([value for value, _ in after], axis=0), spread
    stated = case.stated(field)
    if stated is None:
        return None
    values = np.atleast_1d(np.asarray(stated.value, dtype=np.float64))
    spreads = np.zeros_like(values) if stated.sd is None else np.asarray(stated.sd, dtype=np.float64)
    return values, np.broadcast_to(spreads, values.shape)


def _side(row: Mapping[str, Any], converted: dt.date | None) -> str | None:
    if "when" in row:
        return str(row["when"].value)
    date = row["date"].value if "date" in row else None
    if not isinstance(date, dt.date) or not isinstance(converted, dt.date):
        return None
    return "before" if date <= converted else "after"


def change_of(field: str, sides: Sides, worse_is_less: bool, relative: bool) -> Change | None:
    """The change for the worse, with what repeatability alone does; None where rows do not match.

    d = +-(mean after - mean before), sd = s sqrt(1/n_before + 1/n_after), s of one reading at the value
    before. Chance: 1 - Phi(d/sd)^k, the worst of k cylinders of an unchanged engine.

    worse_is_less: a fall is the bad side. relative: as a share of the value before.
    """
    rows = (*sides.before, *sides.after)
    if not sides.before or not sides.after or len({row.size for row in rows}) != 1:
        return None
    old, new = np.mean(sides.before, axis=0), np.mean(sides.after, axis=0)
    sign = -1.0 if worse_is_less else 1.0
    spread = repeatability()[field].spread
    scale = np.maximum(np.abs(old), 1e-9) if relative else np.ones_like(old)
    n = (len(sides.before), len(sides.after))
    one = np.array([spread.at(float(v)) for v in old]) / scale
    sd = np.maximum(one * math.sqrt(1.0 / n[0] + 1.0 / n[1]), _LEAST)
    moved = sign * (new - old) / scale
    i = int(np.argmax(moved))
    below = NormalDist().cdf(float(moved[i] / sd[i]))
    return Change(
        value=float(moved[i]),
        sd=float(sd[i]),
        chance=1.0 - below ** int(old.size),
        place=i,
        places=int(old.size),
        before=float(old[i]),
        after=float(new[i]),
        counts=n,
    )

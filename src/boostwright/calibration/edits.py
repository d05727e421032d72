"""What a person changed in the tables: cell by cell, against the spread, the limits and the shape of each."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from enum import Enum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.records import Calibration, Check, Origin, Table

__all__ = ["CellEdit", "Concern", "Edited", "Trouble", "edited_calibration"]

Array = NDArray[np.float64]

_FLAT: Final = 1e-9  # of the largest value, below which two neighbours count as equal


class Trouble(Enum):
    """What an edit does that deserves a warning. The value is the word for programs."""

    ABOVE = "above its upper limit"
    BELOW = "below its lower limit"
    NO_NUMBER = "a number where none may stand"
    REFUSED = "in a check that does not hold"
    TURN = "against the run of its row or column"

    @property
    def hurts(self) -> bool:
        """Whether it passes knock, mixture or a part, or a check refuses it; not only a table's shape."""
        return self is not Trouble.TURN


class Concern(NamedTuple):
    """One warning about one edited cell."""

    trouble: Trouble
    limit: float  # that it passes, SI; NaN for the others
    why: str  # in words; of a turn, the words of the axis; of a check, what it says
    axis: int = -1  # of a turn
    rising: bool = False  # which way the table went along it
    before: bool = False  # it was beyond the limit before the edit, too


class CellEdit(NamedTuple):
    """One cell that a person changed. old, new: SI. spreads: the change in standard deviations, NaN where
    the cell has none.
    """

    table: str
    at: tuple[int, ...]
    old: float
    new: float
    spreads: float
    concerns: tuple[Concern, ...] = ()


class Edited(NamedTuple):
    """The calibration with the edits in it, checked again, and what was changed: worst first."""

    calibration: Calibration
    cells: tuple[CellEdit, ...]
    tables: tuple[str, ...]  # that were read, changed or not

    @property
    def hurts(self) -> bool:
        """Whether an edit passes a limit or stands in a check that does not hold."""
        return any(concern.trouble.hurts for cell in self.cells for concern in cell.concerns)


def edited_calibration(
    calibration: Calibration,
    values: Mapping[str, Array],
    rounding: Mapping[str, float],
    recheck: Callable[[Calibration], tuple[Check, ...]] | None = None,
) -> Edited:
    """The calibration with a person's values in it.

    values: by table, SI, each of its table's shape; NaN for no number. rounding: by table, the difference
    [SI] up to which a cell counts as unchanged. recheck: the consistency checks of a calibration; None leaves
    them as they are. Edited cells are of `Origin.HAND`, and keep the spread of what the model knows. Raises
    KeyError for a table that is none, ValueError for another shape.
    """
    tables = {table.key: table for table in calibration.tables}
    cells: list[CellEdit] = []
    for key, new in values.items():
        table = calibration.table(key)
        if new.shape != table.value.shape:
            raise ValueError(f"{key}: {new.shape} values, the table has {table.value.shape}")
        changed = _changed(table, new, rounding.get(key, 0.0))
        made = np.where(changed, new, table.value)
        cells += _cell_edits(table, made, changed, rounding.get(key, 0.0))
        origin = table.origin.copy()
        origin[changed] = Origin.HAND
        tables[key] = replace(table, value=made, origin=origin)
    whole = replace(calibration, tables=tuple(tables[table.key] for table in calibration.tables))
    if recheck is not None and cells:
        whole = replace(whole, checks=recheck(whole))
        cells = [_refused(cell, whole.checks, calibration.checks) for cell in cells]
    return Edited(whole, tuple(sorted(cells, key=_weight)), tuple(values))


def _refused(edit: CellEdit, checks: tuple[Check, ...], earlier: tuple[Check, ...]) -> CellEdit:
    """The edit with every check, run again, that names its cell and does not hold."""
    place = (edit.table, edit.at[0], edit.at[1] if len(edit.at) > 1 else 0)
    before = {check.key for check in earlier if check.holds is False and place in check.cells}
    more = tuple(
        Concern(
            Trouble.REFUSED, math.nan, f"{check.words} {check.remedy}".strip(), before=check.key in before
        )
        for check in checks
        if check.holds is False and place in check.cells
    )
    return edit._replace(concerns=(*edit.concerns, *more))


def _weight(edit: CellEdit) -> tuple[bool, bool, float]:
    """What comes first: what passes a limit, what turns a row, then the largest change."""
    hurts = any(concern.trouble.hurts for concern in edit.concerns)
    size = abs(edit.spreads) if math.isfinite(edit.spreads) else math.inf
    return (not hurts, not edit.concerns, -size)


def _changed(table: Table, new: Array, rounding: float) -> NDArray[np.bool_]:
    """Cells that differ by more than the rounding of the file, or have a number where none was."""
    one_empty = np.isnan(table.value) != np.isnan(new)
    apart = np.abs(new - table.value) > rounding
    return np.asarray(one_empty | (np.nan_to_num(apart) & ~np.isnan(new)), dtype=bool)


def _cell_edits(table: Table, new: Array, changed: NDArray[np.bool_], rounding: float) -> list[CellEdit]:
    turns = _turns(table, new, changed, rounding)
    edits = []
    for place in np.argwhere(changed):
        at = tuple(int(i) for i in place)
        old, now, sd = float(table.value[at]), float(new[at]), float(table.sd[at])
        spreads = (now - old) / sd if sd > 0.0 else math.nan
        concerns = (*_limits(table, at, rounding, old, now), *turns.get(at, ()))
        edits.append(CellEdit(table.key, at, old, now, spreads, concerns))
    return edits


def _limits(table: Table, at: tuple[int, ...], rounding: float, old: float, new: float) -> list[Concern]:
    """Which limits the new value of a cell passes."""
    found = []
    if math.isnan(old) and not math.isnan(new):
        found.append(Concern(Trouble.NO_NUMBER, math.nan, " ".join(table.notes)))
    if table.high is not None and new > float(table.high[at]) + rounding:
        edge = float(table.high[at])
        found.append(Concern(Trouble.ABOVE, edge, table.high_why, before=old > edge))
    if table.low is not None and new < float(table.low[at]) - rounding:
        edge = float(table.low[at])
        found.append(Concern(Trouble.BELOW, edge, table.low_why, before=old < edge))
    return found


def _turns(
    table: Table, new: Array, changed: NDArray[np.bool_], rounding: float
) -> dict[tuple[int, ...], list[Concern]]:
    """Edited cells at which a table that only rose, or only fell, along an axis now goes the other way."""
    found: dict[tuple[int, ...], list[Concern]] = {}
    least = max(rounding, _FLAT * float(np.nanmax(np.abs(table.value), initial=0.0)))
    for axis, named in enumerate(table.axes):
        steps = np.diff(table.value, axis=axis)
        known = steps[np.isfinite(steps)]
        rises, falls = bool(np.any(known > least)), bool(np.any(known < -least))
        if rises == falls:  # it goes both ways, or nowhere
            continue
        wrong = np.diff(new, axis=axis) * (1.0 if rises else -1.0) < -least
        for place in np.argwhere(wrong):
            low = tuple(int(i) for i in place)
            high = tuple(i + (k == axis) for k, i in enumerate(low))
            for at in (low, high):
                if changed[at] and not any(c.axis == axis for c in found.get(at, [])):
                    concern = Concern(Trouble.TURN, math.nan, named.words, axis, rises)
                    found.setdefault(at, []).append(concern)
    return found

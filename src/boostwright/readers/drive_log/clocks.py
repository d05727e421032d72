"""Which columns are a clock, and in what form it is written."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.quantity import Dimension
from boostwright.readers.drive_log.cells import is_nothing, read_cell
from boostwright.readers.drive_log.layout import kind_of
from boostwright.readers.drive_log.names import known_words, plain_words, readings, says, time_table
from boostwright.readers.drive_log.stamps import CLOCK_FORM, DATE_FORM, DAY, ClockPlan
from boostwright.readers.drive_log.units import unit_said

__all__ = ["WRITTEN", "find_clocks", "unit_of_steps"]

Array = NDArray[np.float64]

WRITTEN: Final = "the unit is written"
_EPOCH: Final = (
    (1e9, 4.2e9, 1.0, "s"),
    (1e12, 4.2e12, 1e-3, "ms"),
    (1e15, 4.2e15, 1e-6, "us"),
    (1e18, 4.2e18, 1e-9, "ns"),
)
_SERIAL: Final = (20_000.0, 80_000.0)  # days since 1899-12-30, as spreadsheets count


def find_clocks(
    headings: Sequence[str],
    units: Sequence[str],
    rows: Sequence[Sequence[str]],
    told: Mapping[str, str] | None = None,
) -> list[ClockPlan]:
    """The clocks of a table by its headings, its units, and its first rows of text.

    told: by heading, the unit of a clock that a person gave.
    An empty list where no column can be one.
    """
    width = len(headings)
    found: list[tuple[int, str, float]] = []  # column, form, how sure
    for column in range(width):
        cells = [row[column] for row in rows[:400] if column < len(row) and not is_nothing(row[column])]
        if len(cells) < max(1, min(3, len(rows))):
            continue
        form = _form(cells)
        sure = _how_sure(headings[column], units[column], cells, form, column)
        if sure > 0.0:
            found.append((column, form, sure))
    if told:
        units = [told.get(h, u) for h, u in zip(headings, units, strict=True)]
    if any(sure > 0.9 for *_, sure in found):  # a named clock counts, not what only rises like one
        found = [f for f in found if f[2] >= 0.6]
    if not found:
        return []
    plans: list[ClockPlan] = []
    taken: set[int] = set()
    for column, form, _sure in found:
        if column in taken:
            continue
        if form == "date":
            partner = next(
                (
                    c
                    for c, f, _ in found
                    if c != column and f in ("clock", "duration") and abs(c - column) <= 2
                ),
                None,
            )
            if partner is None:
                continue
            taken |= {column, partner}
            plans.append(_plan("parted", (column, partner), headings, units, rows))
        elif form != "date":
            partner = next((c for c, f, _ in found if f == "date" and abs(c - column) <= 2), None)
            if partner is not None and form in ("clock", "duration"):
                taken |= {column, partner}
                plans.append(_plan("parted", (partner, column), headings, units, rows))
            else:
                taken.add(column)
                plans.append(_plan(form, (column,), headings, units, rows))
    return _grouped(plans, headings, rows, width)


def _grouped(
    plans: list[ClockPlan], headings: Sequence[str], rows: Sequence[Sequence[str]], width: int
) -> list[ClockPlan]:
    """One clock for the whole table, or one for each group of columns that stands behind its own."""
    plans = sorted(plans, key=lambda p: p.columns[0])
    if not plans:
        return []
    every = {c for p in plans for c in p.columns}
    heads: list[ClockPlan] = []
    for plan in plans:
        between = heads and any(c not in every for c in range(heads[-1].columns[-1] + 1, plan.columns[0]))
        after = any(c not in every for c in range(plan.columns[-1] + 1, width))
        alike = heads and plan.kind == heads[0].kind and _other_cells(plan, heads[-1], rows)
        if not heads or (between and after and alike and _begins_group(plan, heads[0], headings, rows)):
            heads.append(plan)
    if len(heads) == 1:
        order = {"number": 0, "duration": 1, "epoch": 2, "datetime": 3, "parted": 4, "clock": 5, "serial": 6}
        best = min(plans, key=lambda p: (not p.sure, order.get(p.kind, 9)))
        dated = None
        if best.kind in ("number", "duration"):
            dates = ("datetime", "parted", "epoch", "serial", "clock")
            dated = min(
                (p for p in plans if p.kind in dates), key=lambda p: dates.index(p.kind), default=None
            )
        return [best._replace(members=tuple(c for c in range(width) if c not in every), dated=dated)]
    made = []
    for k, plan in enumerate(heads):
        start = 0 if k == 0 else plan.columns[0]
        end = heads[k + 1].columns[0] if k + 1 < len(heads) else width
        made.append(plan._replace(members=tuple(c for c in range(start, end) if c not in every)))
    return made


def _begins_group(
    plan: ClockPlan, first: ClockPlan, headings: Sequence[str], rows: Sequence[Sequence[str]]
) -> bool:
    """A clock called like the first, or behind an empty column, or just time, or at another pace."""
    at = plan.columns[0]
    mine, others = (plain_words(readings(headings[p.columns[-1]])[0].name) for p in (plan, first))
    if mine == others or not headings[at - 1].strip() or "".join(mine) in known_words("time", "plain"):
        return True
    own, main = (np.array([_number(c) for c in _cells_of(p, rows)]) for p in (plan, first))
    steps, apart = np.diff(own[np.isfinite(own)]), own - main
    apart = apart[np.isfinite(apart)]
    if len(steps) < 3 or len(apart) < 3 or not (steps > 0.0).all():
        return False
    return bool(np.ptp(apart) > 3.0 * np.median(steps))  # it runs at another pace than the first


def _cells_of(plan: ClockPlan, rows: Sequence[Sequence[str]]) -> list[str]:
    at = plan.columns[-1]
    return [row[at] if at < len(row) else "" for row in rows[:200]]


def _other_cells(a: ClockPlan, b: ClockPlan, rows: Sequence[Sequence[str]]) -> bool:
    return _cells_of(a, rows) != _cells_of(b, rows)


def _form(cells: list[str]) -> str:
    forms = Counter(_form_of(c) for c in cells[:200])
    form, count = forms.most_common(1)[0]
    return form if count >= 0.6 * sum(forms.values()) else ""


def _form_of(cell: str) -> str:
    cell = cell.strip()
    if DATE_FORM.match(cell):
        return "date"
    if kind_of(cell) == "number":
        return "number"
    match = CLOCK_FORM.match(cell)
    if match is None:
        return ""
    if match["date"]:
        return "datetime"
    return "clock" if match["h"] else "duration"


def _how_sure(heading: str, unit: str, cells: list[str], form: str, column: int) -> float:
    """From 0 to 1, that a column is a clock, by its heading and its course."""
    if not form:
        return 0.0
    words = set(plain_words(heading))
    only_unit = unit_said(heading, Dimension.TIME) is not None
    named = only_unit or any(says(heading, "time", k) for k in ("elapsed", "clock", "date", "both"))
    in_time = any(
        unit_said(u, Dimension.TIME) is not None for u in (unit, *(r.unit for r in readings(heading))) if u
    )
    partly = bool(words & known_words("time", "partly"))
    if form in ("datetime", "date", "clock", "duration"):
        return 1.0 if named or partly else 0.7 if column <= 2 else 0.3
    values = [v for v in (_number(c) for c in cells) if not math.isnan(v)]
    if len(values) < 2:
        return 0.8 if named else 0.0
    steps = np.diff(values)
    rising = float(np.mean(steps >= 0.0)) if len(steps) else 0.0
    moves = float(np.mean(steps > 0.0)) if len(steps) else 0.0
    if named or (partly and (in_time or column == 0)):
        return 0.95 if rising > 0.7 and moves > 0.0 else 0.0
    if partly and rising > 0.97 and moves > 0.5:
        return 0.6
    if column == 0 and not heading.strip() and rising == 1.0 and len(set(values)) > 2:
        return 0.5
    return 0.0


def _number(cell: str) -> float:
    got = read_cell(cell, "," if "," in cell and "." not in cell else ".", grouped=False)
    return math.nan if got is None else got[0]


def unit_of_steps(values: Array) -> tuple[float, str, bool, str]:
    """Seconds of one step of a clock whose unit nobody said: factor, unit, sure, reason.

    values: (n,) stamps as written.
    """
    values = values[np.isfinite(values)]
    if len(values) == 0:
        return 1.0, "s", False, "no stamp could be read"
    middle = float(np.median(values))
    for low, high, factor, unit in _EPOCH:
        if low <= middle <= high:
            return factor, f"epoch {unit}", True, f"counted in {unit} since 1970 by its size"
    steps = np.diff(values)
    steps = steps[steps > 0]
    step = float(np.median(steps)) if len(steps) else 0.0
    if _SERIAL[0] <= middle <= _SERIAL[1] and 0.0 < step < 0.01:
        return 1.0, "serial", True, "days as a spreadsheet counts them"
    whole = bool(np.all(values == np.round(values)))
    if not whole and step < 2.0:
        if 0.0 < step < 4e-4:
            return 60.0, "min", False, f"steps of {step:.3g} are too short for seconds; taken as minutes"
        return 1.0, "s", True, f"steps of {step:.3g} are usual in seconds"
    if whole and step <= 1.0:
        return 1.0, "s", True, "whole steps of 1 are usual in seconds"
    if step < 5.0:
        return 1.0, "s", False, f"steps of {step:.3g} are seconds of a slow log or ms of a fast one"
    if step <= 2000.0:
        return 1e-3, "ms", True, f"steps of {step:.3g} are usual in ms"
    return 1e-6, "us", True, f"steps of {step:.3g} are usual in microseconds"


def _plan(
    form: str,
    columns: tuple[int, ...],
    headings: Sequence[str],
    units: Sequence[str],
    rows: Sequence[Sequence[str]],
) -> ClockPlan:
    column = columns[-1]
    cells = [row[column] for row in rows if column < len(row)]
    if form == "number":
        texts = (
            units[column],
            headings[column],
            *(r.unit for r in readings(headings[column])),
            *_word_unit(headings[column]),
            *_cell_unit(cells),
        )
        told = (unit_said(u, Dimension.TIME) for u in texts if u)
        said = next((u for u in told if u is not None), None)
        values = np.array([_number(c) for c in cells])
        factor, unit, sure, reason = unit_of_steps(values)
        if unit.startswith("epoch"):
            return ClockPlan("epoch", columns, factor, unit[6:], "", True, reason)
        if said is not None:
            return ClockPlan("number", columns, said.factor, said.name, "", True, WRITTEN)
        if unit == "serial":
            return ClockPlan("serial", columns, DAY, "days", "", True, reason)
        return ClockPlan("number", columns, factor, unit, "", sure, reason)
    dated = columns[0] if form == "parted" else column
    dates = [row[dated] for row in rows if dated < len(row)]
    order, sure = _date_order(dates)
    if form == "clock":
        first = next((m for m in (CLOCK_FORM.match(c.strip()) for c in cells) if m), None)
        clocklike = says(headings[column], "time", "clock")
        if first and not clocklike and int(first["h"] or 0) == 0 and int(first["m"]) < 2 and not first["ap"]:
            form = "duration"
    return ClockPlan(form, columns, 1.0, "", order, sure, "written as date or time")


def _word_unit(heading: str) -> tuple[str, ...]:
    """The unit that a word of the heading is."""
    return tuple(unit for word, unit in time_table("units").items() if word in plain_words(heading))


def _cell_unit(cells: Sequence[str]) -> tuple[str, ...]:
    """The unit behind the numbers of a column, where there is one."""
    found = Counter(got[1] for c in cells[:100] if (got := read_cell(c, ".")) is not None and got[1])
    return (found.most_common(1)[0][0],) if found else ()


def _date_order(cells: Sequence[str]) -> tuple[str, bool]:
    first_big = second_big = False
    for cell in cells[:2000]:
        match = CLOCK_FORM.match(cell.strip())
        text = match["date"] if match and match["date"] else cell
        parts = DATE_FORM.match(text or "")
        if parts is None:
            continue
        if len(parts[1]) == 4:
            return "ymd", True
        if "." in text or not parts[2].isdigit():
            return "dmy", True
        first_big |= int(parts[1]) > 12
        second_big |= int(parts[2]) > 12
    if first_big != second_big:
        return ("dmy" if first_big else "mdy"), True
    return "dmy", True

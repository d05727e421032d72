"""Blocks of text to columns of numbers: one quick pass where all is well, else a careful one."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.readers.drive_log.cells import clean_column, is_nothing, read_cell
from boostwright.readers.drive_log.layout import Layout, split_line
from boostwright.readers.drive_log.stamps import ClockPlan, ClockState
from boostwright.readers.drive_log.units import any_unit, unit_said

__all__ = [
    "Section",
    "column_name",
    "numbers_of",
    "odd_lines",
    "parse",
    "parse_text",
    "tell_columns",
    "torn_lines",
    "without_cut_cell",
    "without_readings",
]

Array = NDArray[np.float64]

_TROUBLE: Final = (pl.exceptions.PolarsError, pl.exceptions.PanicException, UnicodeError)
_SPACES: Final = re.compile(rb"[ \t]+")
_SPACES_AT_START: Final = re.compile(rb"(?m)^[ \t]+")
_POINT: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_COMMA: Final = re.compile(r"[+-]?(?:[0-9]+,?[0-9]*|,[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")


@dataclass(slots=True)
class Section:
    """One table of a text file, with what was learned of its columns while it was read."""

    layout: Layout
    plans: list[ClockPlan]
    first_column: int  # number of its first column among those of the file
    first_clock: int
    is_number: list[bool] = field(default_factory=list)
    decimals: list[str] = field(default_factory=list)
    nothing: set[str] = field(default_factory=set)
    states: list[ClockState] = field(default_factory=list)
    strange: dict[int, tuple[int, str]] = field(default_factory=dict)
    units: dict[int, dict[str, int]] = field(default_factory=dict)
    ragged: int = 0


def column_name(k: int) -> str:
    """How a column is called in a frame."""
    return f"column_{k + 1}"


def tell_columns(section: Section, rows: list[list[str]]) -> None:
    """See from the first rows which columns hold plain numbers throughout."""
    layout = section.layout
    form = _COMMA if layout.decimal == "," else _POINT
    width = layout.width
    section.is_number = [True] * width
    section.decimals = [layout.decimal] * width
    for k in range(width):
        cells = [row[k] for row in rows if k < len(row) and row[k]]
        odd = [c for c in cells if not form.fullmatch(c)]
        words = {c for c in odd if is_nothing(c) and c.casefold() not in ("inf", "-inf", "nan", "+inf")}
        if len(words) <= 6 and len(section.nothing) < 24:
            section.nothing |= words
            odd = [c for c in odd if c not in words and c.casefold() != "nan"]
        section.is_number[k] = not odd
        section.decimals[k] = _own_decimal(cells, layout)
        if section.decimals[k] != layout.decimal:
            section.is_number[k] = False
    for plan in section.plans:
        for own in (plan, plan.dated):
            if own is not None and own.kind not in ("number", "epoch", "serial", "rate"):
                for c in own.columns:
                    section.is_number[c] = False


def _own_decimal(cells: list[str], layout: Layout) -> str:
    """A column's own decimal sign, where it is not that of the table: 1,250 beside 12.5."""
    if layout.decimal == ".":
        return "."
    if layout.decimal == ",":
        with_comma = sum("," in c for c in cells)
        plain = [c for c in cells if re.fullmatch(r"[+-]?[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})", c)]
        return "." if plain and not with_comma else ","
    return layout.decimal


def _prepared(block: bytes, layout: Layout) -> tuple[bytes, str]:
    if layout.separator == " ":
        return _SPACES.sub(b"\t", _SPACES_AT_START.sub(b"", block)), "\t"
    return block, layout.separator


def _see_thousands(block: bytes, section: Section) -> None:
    """Columns with points between their thousands are text: the quick pass would take these for decimals."""
    mark = re.escape(section.layout.separator.encode()) if section.layout.separator != " " else rb"\s"
    if not re.search(rb'(?m)(?:^|%s)"?[+-]?[0-9]{1,3}(?:\.[0-9]{3})+"?(?:%s|\r?$)' % (mark, mark), block):
        return
    text = parse_text(block, section)
    for k, good in enumerate(section.is_number):
        if good and text[column_name(k)].str.contains(r"^\s*\"?[+-]?[0-9]{1,3}(?:\.[0-9]{3})+").any():
            section.is_number[k] = False


def parse(block: bytes, section: Section, wanted: list[int]) -> pl.DataFrame | None:
    """The wanted columns of a block in one quick pass; None where a cell or a row is not as it should be."""
    layout = section.layout
    if layout.decimal == "," and b"." in block:
        _see_thousands(block, section)
    if layout.quoted and block.count(b'"') % 2:
        return None  # an open quotation; Polars panics where one mark alone ends a block
    block, separator = _prepared(block, layout)
    schema: dict[str, pl.DataType | type[pl.DataType]] = {
        column_name(k): pl.Float64 if section.is_number[k] else pl.String for k in range(layout.width)
    }
    schema |= {column_name(layout.width + k): pl.String for k in range(layout.spare)}
    try:
        return pl.read_csv(
            block,
            has_header=False,
            separator=separator,
            schema=schema,
            quote_char='"' if layout.quoted else None,
            decimal_comma=layout.decimal == ",",
            null_values=sorted(section.nothing) or None,
            columns=[column_name(k) for k in wanted],
        )
    except _TROUBLE:
        return None


def parse_text(block: bytes, section: Section) -> pl.DataFrame:
    """All cells of a block as text, whatever its rows look like."""
    layout = section.layout
    block, separator = _prepared(block, layout)
    try:
        return pl.read_csv(
            block,
            has_header=False,
            separator=separator,
            quote_char='"' if layout.quoted else None,
            schema={column_name(k): pl.String for k in range(layout.width)},
            truncate_ragged_lines=True,
            extra_columns="ignore",
            missing_columns="insert",
            encoding="utf8-lossy",
        )
    except _TROUBLE:
        lines = block.decode("utf-8", "replace").split("\n")
        if lines and not lines[-1]:
            lines.pop()
        cells = [line.rstrip("\r").split(separator)[: layout.width] for line in lines]
        return pl.DataFrame(
            {
                column_name(k): [row[k] if k < len(row) and row[k] != "" else None for row in cells]
                for k in range(layout.width)
            },
            schema={column_name(k): pl.String for k in range(layout.width)},
        )


def odd_lines(frame: pl.DataFrame, section: Section) -> NDArray[np.bool_]:
    """Rows (n,) of text cells in which most of what should be numbers is something else."""
    form = r"^\s*\"?[+\-−]?\s?[0-9.,]"
    numbers = [k for k, good in enumerate(section.is_number) if good] or [
        c for plan in section.plans for c in plan.columns
    ]
    bad = np.zeros(frame.height, dtype=np.int32)
    filled = np.zeros(frame.height, dtype=np.int32)
    names = [column_name(k) for k in numbers[:24]]
    stripped = frame.select(pl.col(names).str.strip_chars(' "\r\t'))
    full = stripped.select((pl.all() != "").fill_null(False))
    fit = stripped.select(pl.all().str.contains(form).fill_null(False))
    for name in names:
        has, good = full[name].to_numpy(), fit[name].to_numpy()
        odd = has & ~good
        if odd.any():
            cells = stripped[name].filter(pl.Series(odd)).to_list()
            odd[odd] = [not is_nothing(cell) for cell in cells]
        bad += odd
        filled += has
    labelled = np.zeros(frame.height, dtype=bool)  # a word where the time belongs: Max, Mean, End of log
    for plan in section.plans:
        if plan.columns:
            column = frame[column_name(plan.columns[-1])].str.strip_chars(' "\r\t')
            word = column.str.contains(r"^\p{L}[\p{L} .:]{2,}$").fill_null(False).to_numpy()
            if word.any():
                cells = column.filter(pl.Series(word)).to_list()
                labelled[word] = [not is_nothing(cell) for cell in cells]
    return np.asarray((bad > 0) & (bad >= 0.5 * np.maximum(filled, 1))) | labelled


def torn_lines(block: bytes, section: Section, height: int) -> NDArray[np.bool_]:
    """Lines (n,) with more cells than any row should have: two rows that run into each other."""
    layout = section.layout
    torn = np.zeros(height, dtype=bool)
    if layout.separator == " ":
        return torn
    lines = block.split(b"\n")
    if lines and not lines[-1]:
        lines.pop()
    if len(lines) != height:
        return torn
    mark = layout.separator.encode()
    most = layout.width + layout.spare - 1
    for k, line in enumerate(lines):
        if line.count(mark) > most:
            cells = split_line(line.decode("utf-8", "replace"), layout.separator)
            torn[k] = any(cells[layout.width :])
    section.ragged += int(torn.sum())
    return torn


def without_readings(frame: pl.DataFrame, section: Section, rows: NDArray[np.bool_]) -> pl.DataFrame:
    """The frame with only the clock left in the rows (n,) that were torn."""
    clocks = {c for plan in section.plans for c in plan.columns}
    mask = pl.lit(pl.Series(rows))
    return frame.with_columns(
        pl.when(mask).then(None).otherwise(pl.col(column_name(k))).alias(column_name(k))
        for k in range(section.layout.width)
        if k not in clocks
    )


def without_cut_cell(block: bytes, section: Section) -> bytes:
    """The end of a file without the last cell of a row that was cut off."""
    layout = section.layout
    mark = b" " if layout.separator == " " else layout.separator.encode()
    at = block.rfind(b"\n") + 1
    line = block[at:]
    if line.count(mark) >= layout.width - 1:
        return block
    return block[: at + line.rfind(mark) + 1]


def _in_one_unit(column: pl.Series, decimal: str, unit: str, value: Array) -> Array:
    """The values (n,) of cells in several units, all in the first one; NaN where a unit does not fit."""
    words = column.unique().drop_nulls().to_list()
    read: list[float] = []
    for word in words:
        got = read_cell(word, decimal)
        number, own = got if got is not None else (math.nan, "")
        read.append(_converted(number, own, unit) if own and own != unit else number)
    found = column.replace_strict(words, read, default=None, return_dtype=pl.Float64)
    array = np.array(found.fill_null(math.nan).to_numpy(), dtype=np.float64)
    return np.where(np.isfinite(value), array, value)


def _converted(number: float, own: str, unit: str) -> float:
    for dimension in any_unit(own):
        source, target = unit_said(own, dimension), unit_said(unit, dimension)
        if (
            source is None
            or target is None
            or source.reciprocal
            or target.reciprocal
            or source.kind != target.kind
        ):
            continue
        return (number - source.shift) * source.factor / target.factor + target.shift
    return math.nan


def numbers_of(frame: pl.DataFrame, section: Section, k: int) -> Array:
    """One column of a frame as numbers (n,), NaN where there is none."""
    column = frame[column_name(k)]
    if column.dtype == pl.Float64:
        if column.null_count():
            column = column.fill_null(math.nan)
        array = column.to_numpy()
        return array if np.isfinite(array).all() else np.where(np.isfinite(array), array, math.nan)
    cleaned = clean_column(column, section.decimals[k])
    if cleaned.units:
        known = section.units.setdefault(k, {})
        for unit, count in cleaned.units.items():
            known[unit] = known.get(unit, 0) + count
        if len(known) > 1:
            return _in_one_unit(column, section.decimals[k], next(iter(known)), cleaned.value)
    if cleaned.strange:
        before, example = section.strange.get(k, (0, cleaned.example))
        section.strange[k] = (before + cleaned.strange, example)
    return cleaned.value

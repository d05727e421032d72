"""Cells that are no plain numbers: thousands marks, units, words for nothing, switches, gears."""

from __future__ import annotations

import math
import re
import tomllib
from functools import cache
from typing import Final, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.library import read_text

__all__ = ["Cleaned", "clean_column", "fold", "is_nothing", "nothing_words", "read_cell"]

_PLAIN: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_NUMBER: Final = re.compile(
    r"([+-]?\s?(?:[0-9][0-9.,' _]*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*(.*)", re.DOTALL
)
_PREFIX: Final = re.compile(r"[<>=~≈±]\s*")
_SIGNS: Final = str.maketrans(
    {
        "\u2212": "-",  # minus
        "\u2013": "-",  # dash
        "\u00a0": " ",
        "\u2009": " ",  # thin spaces part thousands
        "\u202f": " ",
        "\u2019": "'",
    }
)
_FEW: Final = 2000
_MOST_UNIQUE: Final = 400_000


@cache
def _words() -> dict[str, list[str]]:
    cells: dict[str, list[str]] = tomllib.loads(read_text("log_words.toml"))["cells"]
    return cells


def fold(text: str) -> str:
    """A cell without spaces around it, quotes and case."""
    return text.translate(_SIGNS).strip().strip('"').strip().casefold()


@cache
def nothing_words() -> frozenset[str]:
    """Words that stand where nothing was measured, folded."""
    return frozenset(_words()["nothing"])


@cache
def _switches() -> dict[str, float]:
    row = _words()
    found = dict.fromkeys(row["yes"], 1.0) | dict.fromkeys(row["no"], 0.0)
    return found | dict.fromkeys(row["neutral"], 0.0) | dict.fromkeys(row["reverse"], -1.0)


def is_nothing(text: str) -> bool:
    """True where a cell says that nothing was measured."""
    return fold(text) in nothing_words()


def read_cell(text: str, decimal: str, grouped: bool = True) -> tuple[float, str] | None:
    """Value and unit text of one cell; NaN for a word that means nothing; None where it is no number.

    decimal: '.' or ',' or '' where the column does not show it. grouped: a thousands mark may stand in it.
    """
    plain = fold(text)
    in_groups = grouped and decimal == "," and re.fullmatch(r"[+-]?[0-9]{1,3}\.[0-9]{3}", plain)
    if _PLAIN.fullmatch(plain) and not in_groups:
        return _finite(plain), ""
    if plain in nothing_words():
        return math.nan, ""
    switch = _switches().get(plain)
    if switch is not None:
        return switch, ""
    match = _NUMBER.fullmatch(_PREFIX.sub("", plain, count=1))
    if match is None:
        return None
    value = _number(match[1].strip().replace("+ ", "+").replace("- ", "-"), decimal, grouped)
    if value is None:
        return None
    unit = match[2].strip()
    return (value, unit) if len(unit) <= 24 and not re.search(r"[0-9]{2}|[:;]", unit) else None


def _number(text: str, decimal: str, grouped: bool) -> float | None:
    text = text.rstrip(" '_")
    points, commas = text.count("."), text.count(",")
    if points and commas:  # the last one parts the decimals
        decimal = "." if text.rfind(".") > text.rfind(",") else ","
        if text.count(decimal) > 1:
            return None
    elif points > 1 or commas > 1:
        decimal = "," if points > 1 else "."
    elif not decimal:
        decimal = "," if commas else "."
    mark = "." if decimal == "," else ","
    whole, _, rest = text.partition(decimal)
    digits = whole.lstrip("+-")
    groups = re.split(r"[ '_]", digits) if mark not in digits else digits.split(mark)
    in_threes = grouped and 1 <= len(groups[0]) <= 3 and all(len(g) == 3 for g in groups[1:])
    if len(groups) > 1 and not in_threes:
        if mark in digits and len(groups) == 2 and not rest:  # the other sign, yet no group of three
            return _plain_number(f"{whole.replace(mark, '.')}")
        return None
    sign = whole[: len(whole) - len(digits)]
    return _plain_number(f"{sign}{''.join(groups)}.{rest}")


def _plain_number(text: str) -> float | None:
    return _finite(text) if _PLAIN.fullmatch(text) else None


def _finite(text: str) -> float:
    value = float(text) if len(text) < 80 else math.nan
    return value if math.isfinite(value) else math.nan


class Cleaned(NamedTuple):
    """A column of text as numbers."""

    value: NDArray[np.float64]  # (n,) NaN where there is none
    units: dict[str, int]  # unit texts in the cells, with their counts
    strange: int  # cells that hold something which is no number and no word for nothing
    example: str  # one of these


def _clean_few(column: pl.Series, decimal: str) -> Cleaned:
    """The same for a short column, cell by cell."""
    value = np.full(len(column), math.nan)
    units: dict[str, int] = {}
    known: dict[str, tuple[float, str] | None] = {}
    strange, example = 0, ""
    for k, text in enumerate(column.to_list()):
        if text is None:
            continue
        if text not in known:
            known[text] = read_cell(text, decimal)
        got = known[text]
        if got is None:
            strange += 1
            example = example or text[:40]
            continue
        value[k] = got[0]
        if got[1]:
            units[got[1]] = units.get(got[1], 0) + 1
    return Cleaned(value, units, strange, example)


def clean_column(column: pl.Series, decimal: str) -> Cleaned:
    """The numbers of a column of text (n,).

    decimal: '.' or ',', or '' where it is not known.
    """
    if len(column) <= _FEW:
        return _clean_few(column, decimal)
    text = column
    plain = text.str.strip_chars(' "\t\r')
    if decimal == ",":
        grouped = plain.str.contains(r"^[+-]?\d{1,3}\.\d{3}$")
        ready = plain.str.replace(",", ".", literal=True, n=1)
        value = ready.cast(pl.Float64, strict=False)
        value = pl.select(
            pl.when(grouped | (plain.str.count_matches(",", literal=True) > 1)).then(None).otherwise(value)
        ).to_series()
    else:
        value = plain.cast(pl.Float64, strict=False)
    failed = value.is_null() & text.is_not_null() & (plain != "")
    units: dict[str, int] = {}
    strange, example = 0, ""
    if failed.any():
        counts = text.filter(failed).value_counts(name="count")
        words, many = counts.to_series(0), counts.to_series(1)
        if len(words) > _MOST_UNIQUE:  # a column of names or marks: no channel
            words, many = words.head(_MOST_UNIQUE), many.head(_MOST_UNIQUE)
        read: list[float] = []
        for word, count in zip(words.to_list(), many.to_list(), strict=True):
            got = read_cell(word, decimal)
            if got is None:
                strange += count
                example = example or word[:40]
                read.append(math.nan)
                continue
            read.append(got[0])
            if got[1]:
                units[got[1]] = units.get(got[1], 0) + count
        values = text.replace_strict(
            words, pl.Series(read, dtype=pl.Float64), default=None, return_dtype=pl.Float64
        )
        value = pl.select(pl.when(failed).then(values).otherwise(value)).to_series()
    array = np.array(value.fill_null(math.nan).to_numpy(), dtype=np.float64)
    array[~np.isfinite(array)] = math.nan
    return Cleaned(array, units, strange, example)

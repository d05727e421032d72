"""Reading of ``oil.toml``: rings, breather, drain, bearings and oil grades that no build file states."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from typing import Any, Final, NamedTuple

from boostwright.library import read_text

__all__ = ["OilConstant", "OilGrade", "oil_constant", "oil_grade"]

_HOT: Final = re.compile(r"(?:\b\d{1,2}\s*W\s*[-/ ]?\s*|\bSAE\s*|^)(16|20|30|40|50|60)\b", re.IGNORECASE)


class OilConstant(NamedTuple):
    """One row of the table."""

    value: float  # SI
    sd: float  # standard deviation, the same unit
    unit: str
    source: str


class OilGrade(NamedTuple):
    """Kinematic viscosity of fresh oil [m2/s]."""

    hot: str  # number after the W
    at_40: float
    at_100: float


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(read_text("oil.toml"))


@cache
def oil_constant(section: str, name: str) -> OilConstant:
    """One row of a section: 'rings', 'breather', 'drain', 'bearing', 'pressure' or 'thinner'."""
    return OilConstant(**_table()[section][name])


def oil_grade(words: str) -> OilGrade | None:
    """The oil of a grade by SAE J300 ('5W-40', '10w40', 'SAE 30'); None when no grade is in the words."""
    found = _HOT.search(words.strip())
    if found is None:
        return None
    row = _table()["grade"][found.group(1)]
    return OilGrade(found.group(1), float(row["at_40"]), float(row["at_100"]))

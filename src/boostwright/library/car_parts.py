"""Reading of ``car_parts.toml``: cooling, clutch, brakes and hot side that no build file states."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["CarConstant", "car_constant", "car_constants", "car_value"]


class CarConstant(NamedTuple):
    """One row of the table."""

    value: float  # SI
    sd: float  # standard deviation, the same unit
    unit: str
    source: str


@cache
def car_constants() -> dict[str, dict[str, CarConstant]]:
    """All rows by section and name."""
    raw = tomllib.loads(read_text("car_parts.toml"))
    return {
        section: {name: CarConstant(**row) for name, row in rows.items()} for section, rows in raw.items()
    }


def car_constant(section: str, name: str) -> CarConstant:
    """One row. Raises KeyError for a row that the table does not have."""
    return car_constants()[section][name]


def car_value(section: str, name: str) -> float:
    """The value of one row [SI]. Raises KeyError for a row that the table does not have."""
    return car_constants()[section][name].value

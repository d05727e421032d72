"""Reading of ``electrics.toml``: battery, starter, pump wiring and plugs as no build file states them."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text

__all__ = ["ElectricConstant", "electric_constant"]


class ElectricConstant(NamedTuple):
    """One row of the table."""

    value: float  # SI
    sd: float  # standard deviation, the same unit
    unit: str
    source: str


@cache
def _table() -> dict[str, dict[str, dict[str, Any]]]:
    return tomllib.loads(read_text("electrics.toml"))


@cache
def electric_constant(section: str, name: str) -> ElectricConstant:
    """One row of a section: 'battery', 'start', 'place', 'fault', 'gas', 'pump', 'hold' or 'plug'."""
    return ElectricConstant(**_table()[section][name])

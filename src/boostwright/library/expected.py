"""Reading of ``expected.toml``: what expected ranges of readings rest on beside the build itself."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text

__all__ = ["ExpectedConstant", "expected_constant"]


class ExpectedConstant(NamedTuple):
    """One row of the table."""

    value: float  # SI
    sd: float  # standard deviation, the same unit
    unit: str
    source: str


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(read_text("expected.toml"))


def expected_constant(name: str) -> ExpectedConstant:
    """One row by its name."""
    return ExpectedConstant(**_table()[name])

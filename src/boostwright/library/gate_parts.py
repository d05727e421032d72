"""Reading of ``gate_parts.toml``: constants of the wastegate that no build file states."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text
from boostwright.physics.wastegate import GateFlow

__all__ = ["GateConstant", "gate_constant", "gate_flow"]


class GateConstant(NamedTuple):
    """One row of the table."""

    value: float  # SI
    sd: float  # standard deviation, the same unit
    unit: str
    source: str


@cache
def _table() -> dict[str, dict[str, GateConstant]]:
    raw: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(read_text("gate_parts.toml"))
    return {
        section: {name: GateConstant(**row) for name, row in rows.items()} for section, rows in raw.items()
    }


def gate_constant(section: str, name: str) -> GateConstant:
    """One row of a section: 'flap', 'poppet', 'diaphragm', 'exhaust' or 'signal'."""
    return _table()[section][name]


def gate_flow(valve: str) -> tuple[GateFlow, GateFlow]:
    """Discharge of a 'flap' or a 'poppet', and one standard deviation of each coefficient."""
    rows = _table()[valve]
    return (
        GateFlow(rows["curtain"].value, rows["port"].value),
        GateFlow(rows["curtain"].sd, rows["port"].sd),
    )

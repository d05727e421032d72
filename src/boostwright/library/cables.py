"""Reading of ``cables.toml``: copper cables, their insulation, joints and how they lie."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from typing import Any, Final, NamedTuple

from boostwright.library import read_text
from boostwright.physics.cable import Joint
from boostwright.physics.cable_heat import Cable

__all__ = [
    "CABLE_TABLES",
    "CableRow",
    "Insulation",
    "JointRow",
    "Lying",
    "between",
    "cable",
    "cables",
    "heat_cable",
    "insulation",
    "insulations",
    "joint",
    "joints",
    "lying",
    "lyings",
    "next_section",
    "section_for",
]

CABLE_TABLES: Final = ("class_5", "vehicle")


class CableRow(NamedTuple):
    """One size of one table."""

    table: str  # one of CABLE_TABLES
    section: float  # nominal [m2]
    resistance_20: float  # most that is permitted [ohm/m]
    spread: float  # one standard deviation, share
    core: float  # width of the conductor [m]
    outer: float  # width over all [m]
    width_spread: float  # share
    standard: str
    source: str
    note: str


class Insulation(NamedTuple):
    """What a cable's cover bears."""

    continuous: float  # [K]
    short_circuit: float  # at the end of at most 5 s [K]
    conductivity: float  # [W/(m K)]
    source: str
    note: str


class JointRow(NamedTuple):
    """One kind of joint."""

    resistance: float  # [ohm]
    sd: float  # [ohm]
    source: str
    note: str


class Lying(NamedTuple):
    """How much of a cable's surface gives heat, by the way it lies."""

    open_share: float
    sd: float
    source: str
    note: str


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(read_text("cables.toml"))


@cache
def cables(table: str = "class_5") -> dict[float, CableRow]:
    """Every size of 'class_5' or 'vehicle' by its nominal section [m2], rising."""
    if table not in CABLE_TABLES:
        raise KeyError(f"no table of cables {table!r}; there are: {', '.join(CABLE_TABLES)}")
    head = dict(_table()[table])
    rows, width = head.pop("rows"), _table()["width"]
    widths = {row["section"]: row for row in width["rows"]}
    return {
        row["section"]: CableRow(
            table=table,
            core=widths[row["section"]]["core"],
            outer=widths[row["section"]]["outer"],
            width_spread=width["spread"],
            **head,
            **row,
        )
        for row in rows
    }


def cable(section: float, table: str = "class_5") -> CableRow:
    """The size of a nominal section [m2], within 1 %. Raises KeyError with the sizes that there are."""
    rows = cables(table)
    for nominal, row in rows.items():
        if abs(section - nominal) <= 0.01 * nominal:
            return row
    there = ", ".join(f"{nominal * 1e6:g}" for nominal in rows)
    raise KeyError(f"no cable of {section * 1e6:g} mm2; there are (mm2): {there}")


def between(section: float, table: str = "class_5") -> CableRow:
    """A cable of any section [m2], such as one sold by a gauge number: the nearest size, brought to it.

    Resistance by length goes with the inverse of the section, widths with its root.
    """
    rows = cables(table)
    row = rows[min(rows, key=lambda nominal: abs(math.log(nominal / section)))]
    ratio = section / row.section
    return row._replace(
        section=section,
        resistance_20=row.resistance_20 / ratio,
        core=row.core * math.sqrt(ratio),
        outer=row.outer * math.sqrt(ratio),
    )


def next_section(section: float, table: str = "class_5") -> float | None:
    """The least nominal section of the table that is no smaller [m2]; None above the largest."""
    return min((s for s in cables(table) if s >= section * (1 - 1e-9)), default=None)


def section_for(resistance_20: float, table: str = "class_5") -> float | None:
    """The least nominal section whose resistance by length is no greater [m2]; None where none is so low.

    resistance_20: permitted at 20 degC [ohm/m], such as `most_resistance` over the length of both paths.
    """
    fits = (s for s, row in cables(table).items() if row.resistance_20 <= resistance_20 * (1 + 1e-9))
    return min(fits, default=None)


def heat_cable(section: float, cover: str, lie: str = "free", table: str = "class_5") -> Cable:
    """A cable of any section [m2], by its cover and lie, as the heat balance wants it."""
    row = between(section, table)
    return Cable(
        row.resistance_20,
        row.outer,
        row.core,
        insulation_conductivity=insulation(cover).conductivity,
        open_share=lying(lie).open_share,
    )


@cache
def insulations() -> dict[str, Insulation]:
    """Every cover by its name."""
    return {name: Insulation(**row) for name, row in _table()["insulation"].items()}


def insulation(name: str) -> Insulation:
    """One cover, such as 'pvc_105'. Raises KeyError."""
    return insulations()[name]


@cache
def joints() -> dict[str, JointRow]:
    """Every kind of joint by its name."""
    return {name: JointRow(**row) for name, row in _table()["joint"].items()}


def joint(name: str) -> Joint:
    """One joint, such as 'crimped_lug', as the circuit's sum wants it. Raises KeyError."""
    row = joints()[name]
    return Joint(row.resistance, row.sd)


@cache
def lyings() -> dict[str, Lying]:
    """Every way to lie by its name."""
    return {name: Lying(**row) for name, row in _table()["lying"].items()}


def lying(name: str) -> Lying:
    """One way to lie, such as 'under_carpet'. Raises KeyError."""
    return lyings()[name]

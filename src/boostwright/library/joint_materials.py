"""Reading of ``joint_materials.toml``: what hoses, fittings and seals stand, what joints are asked for."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text
from boostwright.library.seals import Seal

__all__ = ["Figure", "Material", "asked", "material", "materials", "seal_temperature", "unknown_material"]


class Figure(NamedTuple):
    """A figure with its spread and where it comes from; SI."""

    value: float
    sd: float  # one standard deviation
    source: str


class Material(NamedTuple):
    """What a hose or a fitting stands. Pressures above ambient [Pa]."""

    name: str
    words: str
    pressure: Figure  # [Pa]
    temperature: Figure  # lasting [K]
    ethanol: Figure  # greatest share in petrol [-]
    bad_for: tuple[str, ...]  # words of joints.carries that it does not stand
    hoop: Figure | None = None  # pressure times bore of a hose [Pa m]

    def pressure_at(self, bore: float | None) -> Figure:
        """The pressure that it stands [Pa]; bore: of a hose [m], None for what is no hose."""
        if self.hoop is None or not bore:
            return self.pressure
        value, sd = self.hoop.value / bore, self.hoop.sd / bore
        return Figure(value, sd, self.hoop.source) if value < self.pressure.value else self.pressure


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(read_text("joint_materials.toml"))


def _material(name: str, row: dict[str, Any]) -> Material:
    hoop = row.get("hoop")
    return Material(
        name,
        row["words"],
        Figure(**row["pressure"]),
        Figure(**row["temperature"]),
        Figure(**row["ethanol"]),
        tuple(row["bad_for"]),
        None if hoop is None else Figure(**hoop),
    )


@cache
def materials() -> dict[str, Material]:
    """Every material by its word in a build file."""
    return {name: _material(name, row) for name, row in _table()["material"].items()}


def material(name: str) -> Material:
    """One material. Raises KeyError."""
    return materials()[name]


@cache
def unknown_material(hose: bool) -> Material:
    """What stands in where nobody said what a hose, or anything else, is made of."""
    name = "unknown_hose" if hose else "unknown_metal"
    return _material(name, _table()[name])


@cache
def seal_temperature(seal: Seal) -> Figure | None:
    """What a seal stands [K]; None where the parts themselves are the seal."""
    row = _table()["seal"].get(_SEALS.get(seal, ""))
    return None if row is None else Figure(**row)


_SEALS = {
    Seal.PASTE: "paste",
    Seal.TAPE: "tape",
    Seal.WASHER: "washer",
    Seal.O_RING: "o_ring",
    Seal.GASKET: "gasket",
    Seal.OWN: "own",
}


@cache
def asked(name: str) -> Figure:
    """A figure of what joints are asked for. Raises KeyError."""
    return Figure(**_table()["asked"][name])

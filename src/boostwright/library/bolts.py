"""Reading of ``bolts.toml``: strength by class, heads and holes, friction, tools, settling, materials."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.errors import OutOfRange
from boostwright.library import read_text

__all__ = [
    "BoltMaterial",
    "BoltStrength",
    "Creep",
    "FrictionRow",
    "Gasket",
    "Head",
    "Parent",
    "Settling",
    "Shaking",
    "Warmth",
    "bolt_material",
    "bolt_strength",
    "creep",
    "friction_row",
    "friction_states",
    "gasket",
    "head",
    "heads",
    "parent",
    "property_classes",
    "settling",
    "shaking",
    "tool_spread",
    "tools",
    "warmth",
]

NEAR = 1e-7  # two diameters alike [m]


class BoltStrength(NamedTuple):
    """Lower limits of one property class for a range of diameters."""

    name: str
    over: float  # diameters above this [m]
    to: float  # up to this [m]
    yield_stress: float  # Rp0.2 [Pa]
    tensile: float  # Rm [Pa]
    proof: float | None  # Sp [Pa]; None: its standard gives none
    source: str


class Head(NamedTuple):
    """Hexagon head or nut and its clearance hole [m]."""

    major: float
    face: float  # outer diameter of the bearing face
    hole: float
    source: str
    spread: float  # of the face [m]


class FrictionRow(NamedTuple):
    """Friction of one state of thread and head [-]."""

    name: str
    mean: float
    spread: float  # one standard deviation
    source: str


class Settling(NamedTuple):
    """Settling of rough faces [m]."""

    roughness: float  # largest Rz
    thread: float
    face: float
    joint: float
    source: str
    spread: float  # share of the value

    def whole(self, joints: int, faces: int = 2) -> float:
        """Settling of so many bearing faces (2 with a nut, 1 tapped) and joints between parts [m]."""
        return self.thread + faces * self.face + joints * self.joint


class BoltMaterial(NamedTuple):
    """Elasticity and expansion of bolt or clamped part."""

    name: str
    modulus: float  # at 20 degC [Pa]
    expansion: float  # mean, 20 to about 300 degC [1/K]
    hot_modulus: float | None  # share of the modulus left at 500 degC [-]; None: not to be used there
    source: str
    spread: float


class Creep(NamedTuple):
    """What of a clamp is left at a temperature."""

    name: str
    temperatures: tuple[float, ...]  # [K]
    kept: tuple[float, ...]  # share left [-]
    highest: float  # to which the bolt is used without doubt [K]
    spread: float  # of the share that is lost, as a share of it
    source: str


class Warmth(NamedTuple):
    """Share of the way from coolant to gas temperature that a joint's metal takes [-]."""

    name: str
    part: float
    bolt: float
    spread: float  # of either
    source: str


class Shaking(NamedTuple):
    """What pries at a joint: values with one standard deviation each."""

    mass: tuple[float, float]  # that hangs on it where none is stated [kg]
    acceleration: tuple[float, float]  # [m/s2]
    lever: tuple[float, float]  # overhang over the distance between the outer bolts [-]
    source: str


class Gasket(NamedTuple):
    """A gasket between two faces."""

    name: str
    factor: float  # pressure that must stay on it over the gas pressure [-]
    set: float  # share of the clamp that its set takes [-]
    seat: float  # pressure that beds it in [Pa]; 0: none is asked
    width: float  # usual width of the face around a port [m]
    spread: float  # of factor, set and seat, as a share
    source: str


class Parent(NamedTuple):
    """What a bolt is screwed into."""

    name: str
    strength: float  # tensile [Pa]
    spread: float  # [Pa]
    source: str


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(read_text("bolts.toml"))


@cache
def _strengths() -> tuple[BoltStrength, ...]:
    return tuple(
        BoltStrength(
            name=row["name"],
            over=row["over"],
            to=row["to"],
            yield_stress=row["yield"],
            tensile=row["tensile"],
            proof=row.get("proof"),
            source=_table()[section]["source"],
        )
        for section in ("classes", "stainless", "heat_resisting")
        for row in _table()[section]["rows"]
    )


def property_classes() -> tuple[str, ...]:
    """Names of the property classes, such as '8.8' and 'A2-70'."""
    return tuple(dict.fromkeys(row.name for row in _strengths()))


def bolt_strength(name: str, major: float) -> BoltStrength:
    """Strength of a property class at a diameter [m]. Raises OutOfRange for one that is not in the table."""
    if name not in property_classes():
        raise OutOfRange(
            f"The property class {name!r} is not in the table; it has {', '.join(property_classes())}. It "
            "stands on the bolt's head. A head without marking is taken as 4.6 or less."
        )
    rows = [row for row in _strengths() if row.name == name]
    for row in rows:
        if row.over + NEAR < major <= row.to + NEAR:
            return row
    raise OutOfRange(
        f"A bolt {major * 1e3:.1f} mm wide lies outside class {name}, which goes up to "
        f"{rows[-1].to * 1e3:.0f} mm."
    )


@cache
def heads() -> tuple[Head, ...]:
    """Every row of hexagon heads, smallest first."""
    section = _table()["heads"]
    return tuple(Head(source=section["source"], spread=section["spread"], **row) for row in section["rows"])


def head(major: float) -> Head:
    """Hexagon head and hole of a diameter [m]. Raises OutOfRange for one that is not in the table."""
    for row in heads():
        if abs(row.major - major) < NEAR:
            return row
    sizes = ", ".join(f"M{row.major * 1e3:.0f}" for row in heads())
    raise OutOfRange(f"No hexagon head for a bolt {major * 1e3:.1f} mm wide; the table has {sizes}.")


@cache
def _friction() -> dict[str, FrictionRow]:
    section = _table()["friction"]
    return {row["name"]: FrictionRow(source=section["source"], **row) for row in section["rows"]}


def friction_states() -> tuple[str, ...]:
    """Names of the states of thread and head."""
    return tuple(_friction())


def friction_row(state: str) -> FrictionRow:
    """Friction of a state such as 'oiled'. Raises KeyError."""
    return _friction()[state]


def tools() -> tuple[str, ...]:
    """Names of the tools."""
    return tuple(row["name"] for row in _table()["tools"]["rows"])


def tool_spread(tool: str) -> float:
    """One standard deviation of a tool's torque over its mean [-]. Raises KeyError."""
    return {row["name"]: float(row["spread"]) for row in _table()["tools"]["rows"]}[tool]


def settling(roughness: float) -> Settling:
    """Settling of faces of a roughness Rz [m]. Raises OutOfRange above 160 um."""
    section = _table()["settling"]
    for row in section["rows"]:
        if roughness <= row["roughness"] * (1 + 1e-9):
            return Settling(source=section["source"], spread=section["spread"], **row)
    raise OutOfRange(
        f"A roughness of {roughness * 1e6:.0f} um is rougher than the table's 160 um: face the part, or "
        "count on a preload that is gone after the first heat."
    )


def bolt_material(name: str) -> BoltMaterial:
    """Elasticity and expansion of a material such as 'steel'. Raises KeyError."""
    section = _table()["materials"]
    row = {"hot_modulus": None, **{row["name"]: row for row in section["rows"]}[name]}
    return BoltMaterial(source=section["source"], spread=section["spread"], **row)


def creep(name: str) -> Creep:
    """What creep of the bolt leaves of a clamp, by a class such as '660' or a family such as 'carbon'. Raises
    KeyError.
    """
    section = _table()["creep"]
    row = {row["name"]: row for row in section["rows"]}[name]
    return Creep(
        name,
        tuple(section["temperatures"]),
        tuple(row["kept"]),
        row["highest"],
        section["spread"],
        section["source"],
    )


def warmth(place: str) -> Warmth | None:
    """How warm a joint on the exhaust becomes; None for a place that is not on it."""
    section = _table()["warmth"]
    rows = {row["name"]: row for row in section["rows"]}
    return (
        Warmth(spread=section["spread"], source=section["source"], **rows[place]) if place in rows else None
    )


def shaking(place: str) -> Shaking:
    """What pries at a joint of this place; no mass where the table has none."""
    section = _table()["shaking"]
    row = {row["name"]: row for row in section["rows"]}.get(place, {"mass": 0.0, "spread": 0.0})
    return Shaking(
        (row["mass"], row["spread"]),
        tuple(section["acceleration"]),
        tuple(section["lever"]),
        section["source"],
    )


def gasket(name: str) -> Gasket:
    """A gasket such as 'steel'. Raises KeyError."""
    section = _table()["gaskets"]
    row = {row["name"]: row for row in section["rows"]}[name]
    return Gasket(spread=section["spread"], source=section["source"], **row)


def parent(name: str) -> Parent:
    """What a bolt is screwed into, such as 'aluminium'. Raises KeyError."""
    section = _table()["parents"]
    return Parent(source=section["source"], **{row["name"]: row for row in section["rows"]}[name])

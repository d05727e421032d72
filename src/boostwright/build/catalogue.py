"""The field catalogue: one record for everything that a build file can say.

The records are written as TOML under ``library/fields`` and compiled to one JSON file, which loads in a
millisecond; ``tools/make_catalogue.py`` compiles, a test keeps both alike.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from typing import Any, Final

from boostwright.build.values import Source
from boostwright.errors import UnknownField
from boostwright.library import read_bytes
from boostwright.quantity import Dimension, PressureKind, nearest
from boostwright.uncertainty import Spread

__all__ = [
    "COMPILED",
    "Ask",
    "Catalogue",
    "Default",
    "EngineClass",
    "Field",
    "FieldType",
    "Section",
    "catalogue",
]

COMPILED: Final = "catalogue.json"


class FieldType(Enum):
    """How a field is written."""

    QUANTITY = "quantity"  # a number with its unit, or a bare number where the dimension needs none
    TEXT = "text"
    CHOICE = "choice"  # one word of a list
    FLAG = "flag"  # true or false
    DATE = "date"
    FIELD = "field"  # the name of another field
    VALUE = "value"  # a value of the field that `of` names in the same table


class Ask(Enum):
    """How hard a new build file asks for a field."""

    MUST = "must"  # the file is refused without it
    SHOULD = "should"  # moves a verdict; an evening's work
    MAY = "may"  # the class default does until something hangs on it


@dataclass(frozen=True, slots=True)
class Default:
    """What stands in for a value that nobody stated.

    Either `value` [SI], or `times` x the value of `of` (a field path, or 'swept volume' or 'displacement'),
    or the standard air pressure at the altitude that `air_at` names.
    """

    value: Any = None
    times: float = 0.0
    of: str = ""
    air_at: str = ""
    spread: Spread = field(default_factory=Spread)
    why: str = ""


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a build file can say. Ranges and spreads in SI."""

    path: str  # "engine.bore"; in a list of tables "joints[].from"
    words: str  # what it is, in a few words
    type: FieldType = FieldType.QUANTITY
    dimension: Dimension | None = None
    unit: str = ""  # for display, and as the example
    kind: PressureKind | None = None  # what a bare pressure of this field means
    many: bool = False  # a row of values
    low: float | None = None
    high: float | None = None
    reason: str = ""  # why the range ends there
    usual_low: float | None = None
    usual_high: float | None = None
    usual: str = ""  # the usual range in words, where a pair of numbers is too little
    measure: str = ""  # how to find it out, and with what
    harm: str = ""  # what a wrong value does
    example: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    refused: Mapping[str, str] = field(
        default_factory=dict
    )  # choices that are understood and not modelled: remedy
    spreads: Mapping[Source, Spread] = field(default_factory=dict)
    default: Default | None = None
    ask: Ask = Ask.MAY
    part: int = 1  # from which part of the program on a verdict hangs on it
    used_by: tuple[str, ...] = ()
    chosen: bool = False
    whole: bool = False  # only whole numbers
    counts_from: float = 0.0  # for a cam event: crank angle of its dead centre [rad]
    points: tuple[str, ...] = ()  # for a cam event: the abbreviations that make sense

    @property
    def section(self) -> str:
        """The section that the field belongs to."""
        return self.path.partition(".")[0].removesuffix("[]")

    @property
    def shown_path(self) -> str:
        """The path as a person reads it."""
        return self.path.replace("[]", "")

    @property
    def name(self) -> str:
        """The field's name within its section."""
        return self.path.partition(".")[2]

    def spread_for(self, source: Source) -> Spread:
        """The spread of a value of this source that states none itself."""
        if source is Source.CHOSEN or self.chosen:
            return Spread()
        return self.spreads.get(source) or self.spreads.get(Source.HANDBOOK) or Spread()


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the build file, or one list of tables."""

    name: str
    words: str
    about: str
    many: bool
    required: bool
    part: int
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class EngineClass:
    """A family of engines whose defaults stand in for what nobody stated."""

    name: str
    words: str
    about: str
    defaults: Mapping[str, Default]


class Catalogue:
    """All sections, fields and engine classes."""

    def __init__(self, sections: tuple[Section, ...], classes: Mapping[str, EngineClass]) -> None:
        self.sections: Mapping[str, Section] = {section.name: section for section in sections}
        self.fields: Mapping[str, Field] = {f.path: f for section in sections for f in section.fields}
        self.classes = classes
        self.names_by_section: Mapping[str, Mapping[str, Field]] = {
            section.name: {f.name: f for f in section.fields} for section in sections
        }

    def field(self, path: str) -> Field:
        """The field of that dotted path. Raises UnknownField, which names the nearest ones."""
        known = self.fields.get(path)
        if known is None:
            raise UnknownField(self.unknown(path))
        return known

    def unknown(self, path: str) -> str:
        """One sentence that names the nearest fields to a path that is none."""
        near = nearest(path, self.fields, cutoff=0.5)
        name = path.rpartition(".")[2]
        same = tuple(p for p, f in self.fields.items() if f.name == name and p not in near)[:2]
        listed = same + near
        return f"There is no field '{path}'." + (f" Nearest: {', '.join(listed[:3])}." if listed else "")

    def default(self, path: str, engine_class: str) -> Default | None:
        """The default of a field for an engine class: the class's own, else the field's."""
        known = self.classes.get(engine_class)
        own = known.defaults.get(path) if known else None
        return own or self.field(path).default


@cache
def catalogue() -> Catalogue:
    """The catalogue that ships with the program, loaded once."""
    return from_compiled(json.loads(read_bytes(COMPILED)))


def from_compiled(data: Mapping[str, Any]) -> Catalogue:
    """The catalogue of the compiled form."""
    sections = tuple(_section(record) for record in data["sections"])
    classes = {
        name: EngineClass(
            name,
            record["words"],
            record["about"],
            {path: _default(d) for path, d in record["defaults"].items()},
        )
        for name, record in data["classes"].items()
    }
    return Catalogue(sections, classes)


def _section(record: Mapping[str, Any]) -> Section:
    return Section(
        record["name"],
        record["words"],
        record["about"],
        record.get("many", False),
        record.get("required", False),
        record.get("part", 1),
        tuple(_field(f) for f in record["fields"]),
    )


_DIMENSIONS = {dimension.value: dimension for dimension in Dimension}
_TYPES = {kind.value: kind for kind in FieldType}
_KINDS = {kind.value: kind for kind in PressureKind}
_SOURCES = {source.value: source for source in Source}
_ASKS = {ask.value: ask for ask in Ask}


def _field(record: Mapping[str, Any]) -> Field:
    given = dict(record)
    given["type"] = _TYPES[given.get("type", "quantity")]
    if "dimension" in given:
        given["dimension"] = _DIMENSIONS[given["dimension"]]
    if "kind" in given:
        given["kind"] = _KINDS[given["kind"]]
    if "ask" in given:
        given["ask"] = _ASKS[given["ask"]]
    if "spreads" in given:
        given["spreads"] = {_SOURCES[name]: Spread(*parts) for name, parts in given["spreads"].items()}
    if "default" in given:
        given["default"] = _default(given["default"])
    for name in ("used_by", "points"):
        if name in given:
            given[name] = tuple(given[name])
    return Field(**given)


def _default(record: Mapping[str, Any]) -> Default:
    given = dict(record)
    given["spread"] = Spread(*given.get("spread", ()))
    value = given.get("value")
    if isinstance(value, list):
        given["value"] = tuple(value)
    return Default(**given)

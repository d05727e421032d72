"""Amounts and sentences with this build's own numbers, by the names that the tables of tasks use.

A number that the file does not hold gives no amount and a sentence that says which field to state.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from boostwright.build.catalogue import Field
from boostwright.build.values import Source, StatedValue
from boostwright.planning.tasks import quantities, sentences
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.how import RULES, How, Rule
from boostwright.quantity import Dimension, PressureKind, in_unit, write

__all__ = ["FILE", "How", "amounts", "how_much"]

FILE: Final = "file "
"""A name that begins so asks for what the file says of a field."""
_REGISTERED: Final = (quantities, sentences)  # to import them is to register their rules
_ORIGIN: Final = {
    Source.MEASURED: "measured",
    Source.MAKER: "maker's figure",
    Source.HANDBOOK: "handbook",
    Source.ASSUMED: "assumed",
}

_AGAINST: Final[Mapping[PressureKind | None, str]] = {
    PressureKind.ABSOLUTE: " absolute",
    PressureKind.GAUGE: " gauge",
}


def amounts() -> Mapping[str, Rule]:
    """Every rule by its name."""
    return MappingProxyType(RULES)


def how_much(ground: Ground, name: str) -> How:
    """One rule's answer; 'file SECTION.FIELD' is what the file says of it. Raises KeyError for none."""
    if name.startswith(FILE):
        return _in_the_file(ground, name.removeprefix(FILE))
    return RULES[name](ground)


def _in_the_file(ground: Ground, path: str) -> How:
    """What the file states of a field; nothing where it states nothing."""
    field, value = ground.build.field(path), ground.build.values.get(path)
    dimension = field.dimension or Dimension.COUNT
    if value is None:
        return How(None, dimension)
    known = () if field.chosen or value.source not in _ORIGIN else (_ORIGIN[value.source],)
    words = f"{field.words[0].upper()}{field.words[1:]}: {_shown(field, value)}"
    return How(None, dimension, f"{words} ({', '.join((*known, path))}).")


def _shown(field: Field, value: StatedValue) -> str:
    """A stated value in its field's own unit, with its spread where the file writes one."""
    dimension, unit = field.dimension, field.unit
    if dimension is None:
        return str(value.value)
    if isinstance(value.value, tuple):
        numbers = (write(in_unit(one, unit, dimension), "", dimension) for one in value.value)
        return f"{' '.join(numbers)} {unit}".strip()
    text = write(value.value, unit, dimension, value.sd if "+/-" in value.text else None)
    return text + _AGAINST.get(field.kind, "")

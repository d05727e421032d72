"""Ranges and values of fields in the words and units that the file uses."""

from __future__ import annotations

import math

from boostwright.build.catalogue import Field, FieldType
from boostwright.quantity import Dimension, find_unit, unit_names, write

__all__ = ["allowed_text", "example_line", "offered_units", "usual_text", "value_text"]

_FAR = 2.99  # powers of ten; a unit so far off makes figures that nobody writes for the field


def value_text(known: Field, value: float, sd: float | None = None) -> str:
    """An SI value in the field's display unit, with the dead centre or the kind of pressure."""
    if known.dimension is Dimension.CAM_EVENT:
        angle = math.degrees(value - known.counts_from)
        before = next((p for p in known.points if p.startswith("b")), known.points[0])
        after = next((p for p in known.points if p.startswith("a")), known.points[0])
        return f"{abs(angle):.4g} deg {before if angle < 0 else after}"
    if known.whole or known.dimension is None:
        return f"{value:g}"
    text = write(value, known.unit, known.dimension, sd)
    if known.kind is not None and known.kind.value != "difference":
        text += f" {known.kind.value}"
    return text


def allowed_text(known: Field) -> str:
    """The allowed range or the allowed words of a field."""
    if known.type is FieldType.CHOICE:
        return ", ".join(known.choices)
    if known.type is FieldType.FLAG:
        return "true or false"
    if known.type is FieldType.DATE:
        return "a date"
    if known.type is not FieldType.QUANTITY:
        return "a text"
    if known.low is not None and known.high is not None:
        return f"{value_text(known, known.low)} to {value_text(known, known.high)}"
    if known.low is not None:
        return f"at least {value_text(known, known.low)}"
    if known.high is not None:
        return f"at most {value_text(known, known.high)}"
    return ""


def usual_text(known: Field) -> str:
    """What is usual for a field, in words or as a range."""
    if known.usual:
        return known.usual
    if known.usual_low is not None and known.usual_high is not None:
        return f"{value_text(known, known.usual_low)} to {value_text(known, known.usual_high)}"
    return ""


def example_line(field: Field) -> str:
    """An example of the line that states the field."""
    if field.type in (FieldType.FLAG, FieldType.DATE) or field.whole:
        return f"{field.name} = {field.example}"
    return f'{field.name} = "{field.example}"'


def offered_units(known: Field) -> tuple[str, ...]:
    """The units that a message may offer for a field: none a thousand times off the field's own unit, which
    comes first.
    """
    if known.dimension is None or not known.unit:
        return ()
    own = find_unit(known.unit, known.dimension)
    near = (
        name
        for name in unit_names(known.dimension)
        if name != own.name
        and abs(math.log10(abs(find_unit(name, known.dimension).factor / own.factor))) < _FAR
    )
    return (own.name, *near)

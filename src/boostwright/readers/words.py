"""Texts, choices, flags and dates of a build file."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any, Final

from boostwright.build.catalogue import Ask, Catalogue, Field, FieldType
from boostwright.build.limits import example_line
from boostwright.quantity import Dimension, nearest
from boostwright.readers.refused import Refused, shown, type_name

__all__ = ["LONGEST_TEXT", "leave_out", "read_words"]

LONGEST_TEXT: Final = 1000
"""A text is never longer than this [characters]."""

_NOT_KNOWN: Final = frozenset(
    (
        *("stock", "original", "unknown", "standard", "factory", "oem", "default", "normal"),
        *("none", "tbd", "tba", "n/a", "na", "?", "??", "-"),
    )
)
_VALVE_COUNT: Final = re.compile(r"\s*[0-9]{1,2}\s*-?(?:v|valves?)\s*", re.IGNORECASE)


def leave_out(known: Field, raw: Any) -> str:
    """What to do with a word that stands in place of a value that nobody knows, or '' for any other value."""
    if not isinstance(raw, str):
        return ""
    valves = _VALVE_COUNT.fullmatch(raw) is not None and known.dimension is not Dimension.VOLTAGE
    if raw.strip().strip(".").casefold() not in _NOT_KNOWN and not valves:
        return ""
    if known.ask is Ask.MUST:
        words = f"one of: {', '.join(known.choices)}" if known.choices else f"it like {example_line(known)}"
        return f"The program cannot do without this value: write {words}." + (
            f" {known.measure}" if known.measure else ""
        )
    each = " This field counts the valves of one cylinder." if valves and known.whole else ""
    then = "the usual value of the class is assumed" if known.default else "nothing is assumed in its place"
    return f"If you do not know the value, leave the line out: {then}.{each}"


def read_words(catalogue: Catalogue, known: Field, raw: Any) -> Any:
    """The text, choice, flag, date or field name that the raw value is. Raises Refused."""
    if known.type is FieldType.FLAG:
        if isinstance(raw, bool):
            return raw
        why = f"{type_name(raw)} stands where true or false belongs, without quotes"
        raise Refused("wrong-type", why, "Write true or false.")
    if known.type is FieldType.DATE:
        return _date(raw)
    example = f"Write {example_line(known)}."
    if not isinstance(raw, str):
        raise Refused("wrong-type", f"{type_name(raw)} stands where a text belongs", example)
    text = raw.strip()
    if not text or len(text) > LONGEST_TEXT:
        raise Refused("wrong-type", "the text is empty or too long", example)
    if known.type is FieldType.CHOICE:
        return _choice(known, text)
    if known.type is FieldType.FIELD and text not in catalogue.fields:
        raise Refused(
            "unknown-key", catalogue.unknown(text[:60]).rstrip("."), "Write the name of a field.", "a field"
        )
    return text


def _date(raw: Any) -> date:
    if isinstance(raw, datetime):
        return raw.date()
    if isinstance(raw, date):
        return raw
    if isinstance(raw, str):
        try:
            return date.fromisoformat(raw.strip())
        except ValueError:
            pass
    raise Refused("wrong-type", f"{type_name(raw)} is not a date", "Write 2025-03-31.", "a date")


def _choice(known: Field, text: str) -> str:
    folded = {name.casefold(): name for name in (*known.choices, *known.refused)}
    plain = text.casefold()
    name = folded.get(plain) or folded.get(plain.replace(" ", "-").replace("_", "-"))
    if name in known.choices:
        return str(name)
    listed = ", ".join(known.choices)
    if name is not None:
        other = listed if len(known.choices) > 1 else ""  # a single word is no choice for this engine
        raise Refused("not-modelled", f"'{name}' is not modelled", known.refused[name], other)
    near = nearest(text, known.choices, count=2)
    remedy = f"Did you mean {' or '.join(near)}?" if near else f"Write one of: {listed}."
    raise Refused("wrong-choice", f"'{shown(text)}' is not one of the words for this", remedy, listed)

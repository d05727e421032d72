"""The JSON schema of a build file, made from the catalogue, for editors."""

from __future__ import annotations

from typing import Any, Final

from boostwright.build.catalogue import Ask, Catalogue, Field, FieldType
from boostwright.build.limits import allowed_text, usual_text
from boostwright.build.values import Source
from boostwright.quantity import DIMENSIONLESS

__all__ = ["build_schema"]

# a text with a digit in it; the program itself reads it strictly
_QUANTITY: Final = {"type": "string", "pattern": "[0-9]"}
_NUMBER: Final = {"anyOf": [{"type": "number"}, _QUANTITY]}
_WHOLE: Final = {"anyOf": [{"type": "integer"}, _QUANTITY]}
_TEXT: Final = {"type": "string", "minLength": 1}
_FLAG: Final = {"type": "boolean"}
_ANY: Final[dict[str, Any]] = {}  # a TOML date has no JSON type


def build_schema(known: Catalogue) -> dict[str, Any]:
    """The schema (JSON Schema 2020-12) as plain data, in the catalogue's order."""
    sections: dict[str, Any] = {}
    for section in known.sections.values():
        table: dict[str, Any] = {
            "type": "object",
            "description": section.about,
            "properties": {
                "source": _ref("source"),
                "note": {"type": "string"},
                **{field.name: _field(field) for field in section.fields},
            },
            "additionalProperties": False,
        }
        must = [field.name for field in section.fields if field.ask is Ask.MUST]
        if must:
            table["required"] = must
        sections[section.name] = {"type": "array", "items": table} if section.many else table
    sources = [s.value for s in (Source.MEASURED, Source.MAKER, Source.HANDBOOK, Source.ASSUMED)]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "boostwright build file",
        "type": "object",
        "properties": {"source": _ref("source"), **sections},
        "required": [section.name for section in known.sections.values() if section.required],
        "additionalProperties": False,
        "$defs": {
            "source": {"enum": sources, "description": "where the values come from"},
            "remarks": {
                "type": "object",
                "properties": {
                    "value": _ANY,
                    "values": _ANY,
                    "unit": {"type": "string"},
                    "source": _ref("source"),
                    "spread": {"type": ["string", "number"]},
                    "note": {"type": "string"},
                    "date": _ANY,
                    "with": {"type": "string", "description": "the instrument"},
                },
                "additionalProperties": False,
            },
            "quantity": _with_remarks(_QUANTITY),
            "number": _with_remarks(_NUMBER),
            "whole": _with_remarks(_WHOLE),
            "row": _with_remarks(_row(_QUANTITY)),
            "number-row": _with_remarks(_row(_NUMBER)),
            "text": _with_remarks(_TEXT),
            "flag": _with_remarks(_FLAG),
            "any": _ANY,
        },
    }


def _ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/$defs/{name}"}


def _row(one: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]}


def _with_remarks(plain: dict[str, Any]) -> dict[str, Any]:
    """The plain form, or an inline table with value and remarks; bare numbers may name their unit."""
    numbers = {"type": "array", "items": {"type": ["number", "string"]}, "minItems": 1}
    table = {
        **_ref("remarks"),
        "anyOf": [
            {"required": ["value"], "properties": {"value": {"anyOf": [plain, numbers]}}},
            {"required": ["values"], "properties": {"values": numbers}},
        ],
    }
    return {"anyOf": [plain, table]}


def _field(field: Field) -> dict[str, Any]:
    made: dict[str, Any] = {"description": _description(field)}
    if field.type is FieldType.CHOICE:
        return {**made, **_with_remarks({"enum": list(field.choices)})}
    if field.example:
        made["examples"] = [field.example]
    return {**made, **_ref(_form(field))}


def _form(field: Field) -> str:
    if field.type is FieldType.QUANTITY:
        bare = field.dimension in DIMENSIONLESS
        if field.many:
            return "number-row" if bare else "row"
        return "whole" if field.whole else ("number" if bare else "quantity")
    names = {FieldType.FLAG: "flag", FieldType.DATE: "any", FieldType.VALUE: "any"}
    return names.get(field.type, "text")


def _description(field: Field) -> str:
    parts = [field.words[0].upper() + field.words[1:] + "."]
    if field.kind is not None:
        parts.append(f"A bare pressure is {field.kind.value} here.")
    allowed, usual = allowed_text(field), usual_text(field)
    if allowed and field.type is FieldType.QUANTITY:
        parts.append(f"Allowed {allowed}.")
    if usual:
        parts.append(f"Usual {usual}.")
    return " ".join(parts)

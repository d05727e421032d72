"""The JSON schema of a build file, made from the catalogue, for editors."""

from __future__ import annotations

from typing import Any

from boostwright.build.catalogue import Ask, Catalogue, Field, FieldType
from boostwright.build.limits import allowed_text, usual_text
from boostwright.build.values import Source
from boostwright.quantity import DIMENSIONLESS

__all__ = ["build_schema"]

# a number with comma or point, whatever follows it; the program itself reads it strictly
_QUANTITY = "^[^\\n]*[0-9][^\\n]*$"


def build_schema(known: Catalogue) -> dict[str, Any]:
    """The schema (JSON Schema 2020-12) as plain data, in the catalogue's order."""
    source = {"enum": [s.value for s in (Source.MEASURED, Source.MAKER, Source.HANDBOOK, Source.ASSUMED)]}
    sections: dict[str, Any] = {}
    for section in known.sections.values():
        table: dict[str, Any] = {
            "type": "object",
            "description": section.about,
            "properties": {
                "source": {"$ref": "#/$defs/source"},
                "note": {"type": "string"},
                **{field.name: _field(field) for field in section.fields},
            },
            "additionalProperties": False,
        }
        must = [field.name for field in section.fields if field.ask is Ask.MUST]
        if must:
            table["required"] = must
        sections[section.name] = (
            {"type": "array", "description": section.about, "items": table} if section.many else table
        )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "boostwright build file",
        "type": "object",
        "properties": {"source": {"$ref": "#/$defs/source"}, **sections},
        "required": [section.name for section in known.sections.values() if section.required],
        "additionalProperties": False,
        "$defs": {"source": {**source, "description": "where the values come from"}},
    }


def _field(field: Field) -> dict[str, Any]:
    plain = _plain(field)
    one = plain
    if field.many:
        one = {"anyOf": [plain, {"type": "array", "items": plain, "minItems": 1}]}
    value_key = "values" if field.many else "value"
    properties: dict[str, Any] = {
        "value": one,
        "source": {"$ref": "#/$defs/source"},
        "spread": {"type": ["string", "number"]},
        "note": {"type": "string"},
        "date": {},
        "with": {"type": "string"},
    }
    if field.many:
        properties["values"] = one
        properties["unit"] = {"type": "string"}
        one = {"anyOf": [plain, {"type": "array", "items": plain, "minItems": 1}]}
    table = {
        "type": "object",
        "properties": properties,
        "anyOf": [{"required": ["value"]}, {"required": [value_key]}]
        if field.many
        else [{"required": ["value"]}],
        "additionalProperties": False,
    }
    schema: dict[str, Any] = {"description": _description(field), "anyOf": [one, table]}
    if field.example:
        schema["examples"] = [field.example]
    return schema


def _plain(field: Field) -> dict[str, Any]:
    if field.type is FieldType.FLAG:
        return {"type": "boolean"}
    if field.type is FieldType.CHOICE:
        return {"enum": list(field.choices)}
    if field.type is FieldType.DATE:
        return {}  # TOML dates have no JSON type
    if field.type is FieldType.QUANTITY:
        text: dict[str, Any] = {"type": "string", "pattern": _QUANTITY}
        if field.dimension in DIMENSIONLESS:
            return {"anyOf": [{"type": "integer" if field.whole else "number"}, text]}
        return text
    if field.type is FieldType.VALUE:
        return {"type": ["string", "number", "array"]}
    return {"type": "string", "minLength": 1}


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

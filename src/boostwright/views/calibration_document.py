"""The starting calibration for programs: one JSON document, SI throughout, and its schema."""

from __future__ import annotations

import json
import math
from typing import Any, Final

import numpy as np

from boostwright.calibration.edits import CellEdit, Edited, Trouble
from boostwright.calibration.records import Axis, Calibration, Check, Origin, Setting, Table
from boostwright.findings.notes import deference
from boostwright.quantity import Dimension, PressureKind
from boostwright.views.calibration_page import verdict_words
from boostwright.views.edit_page import concern_words
from boostwright.views.table_csv import Stamp
from boostwright.views.table_words import si_name

__all__ = ["CALIBRATION_FORMAT", "calibration_document", "calibration_record", "calibration_schema"]

CALIBRATION_FORMAT: Final = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""


def calibration_document(calibration: Calibration, stamp: Stamp, edited: Edited | None = None) -> str:
    """The calibration as JSON text ending in a line break; null stands where there is no number."""
    record = calibration_record(calibration, stamp, edited)
    text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    return text.replace("\u00a0", " ")


def calibration_record(
    calibration: Calibration, stamp: Stamp, edited: Edited | None = None
) -> dict[str, Any]:
    """The calibration as plain data. edited: what a person changed, where it holds edits."""
    return {
        "format": CALIBRATION_FORMAT,
        "made_by": {
            "program": "boostwright",
            "version": stamp.version,
            "data": stamp.data,
            "inputs": calibration.fingerprint,
        },
        "build": calibration.name,
        "probability": calibration.probability,
        "verdict": verdict_words(calibration.checks),
        "cautions": list(calibration.cautions),
        "checks": [_check(check) for check in calibration.checks],
        "settings": [_setting(setting) for setting in calibration.settings],
        "tables": [_table(table) for table in calibration.tables],
        "warnings": list(calibration.warnings),
        "not_said": list(calibration.not_said),
        "edits": None if edited is None else [_edit(cell, calibration) for cell in edited.cells],
        "defer": deference(),
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _numbers(values: np.ndarray | None) -> Any:
    """Nested lists with null for not-a-number."""
    if values is None:
        return None
    if values.ndim == 1:
        return [_number(value) for value in values]
    return [_numbers(row) for row in values]


def _kind(dimension: Dimension, pressure: PressureKind | None) -> dict[str, Any]:
    return {
        "dimension": dimension.value,
        "unit": si_name(dimension),
        "pressure": None if pressure is None else pressure.value,
    }


def _check(check: Check) -> dict[str, Any]:
    return {
        "key": check.key,
        "words": check.words,
        "holds": check.holds,
        "cells": [{"table": key, "at": at} for key, *at in check.cells],
        "remedy": check.remedy,
    }


def _setting(setting: Setting) -> dict[str, Any]:
    return {
        "key": setting.key,
        "words": setting.words,
        **_kind(setting.dimension, setting.pressure),
        "value": _number(setting.value),
        "sd": _number(setting.sd),
        "origin": setting.origin.value,
        "why": setting.why,
    }


def _axis(axis: Axis) -> dict[str, Any]:
    return {
        "key": axis.key,
        "words": axis.words,
        **_kind(axis.dimension, axis.pressure),
        "values": _numbers(axis.values),
    }


def _table(table: Table) -> dict[str, Any]:
    plain = [origin.value for origin in table.origin.ravel()]
    origin = np.array(plain, dtype=object).reshape(table.origin.shape).tolist()
    return {
        "key": table.key,
        "words": table.words,
        **_kind(table.dimension, table.pressure),
        "axes": [_axis(axis) for axis in table.axes],
        "value": _numbers(table.value),
        "sd": _numbers(table.sd),
        "origin": origin,
        "visited": table.visited.tolist(),
        "low": _numbers(table.low),
        "low_why": table.low_why,
        "high": _numbers(table.high),
        "high_why": table.high_why,
        "notes": list(table.notes),
    }


def _edit(cell: CellEdit, calibration: Calibration) -> dict[str, Any]:
    table = calibration.table(cell.table)
    return {
        "table": cell.table,
        "at": list(cell.at),
        "old": _number(cell.old),
        "new": _number(cell.new),
        "spreads": _number(cell.spreads),
        "concerns": [
            {
                "trouble": concern.trouble.value,
                "hurts": concern.trouble.hurts,
                "limit": _number(concern.limit),
                "words": concern_words(cell, concern, table),
            }
            for concern in cell.concerns
        ],
    }


# ------------------------------------------------------------------------------------------------- schema

_NUMBER = {"type": ["number", "null"]}
_TEXT = {"type": "string"}


def _object(properties: dict[str, Any], describe: str = "") -> dict[str, Any]:
    made: dict[str, Any] = {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
    return made | ({"description": describe} if describe else {})


def _list(items: dict[str, Any], describe: str = "") -> dict[str, Any]:
    return {"type": "array", "items": items} | ({"description": describe} if describe else {})


def _cells_of(items: dict[str, Any], describe: str = "", none: bool = False) -> dict[str, Any]:
    """A list for one axis, a list of lists for two."""
    forms: list[dict[str, Any]] = [_list(items), _list(_list(items))]
    if none:
        forms.append({"type": "null"})
    return {"anyOf": forms} | ({"description": describe} if describe else {})


def calibration_schema() -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of the document. Every number is SI; null stands for no number."""
    origins = {"enum": [origin.value for origin in Origin]}
    kind = {
        "dimension": {"enum": [dimension.value for dimension in Dimension]},
        "unit": _TEXT,
        "pressure": {"enum": [*(one.value for one in PressureKind), None]},
    }
    named = {"key": _TEXT, "words": _TEXT, **kind}
    place = _list({"type": "integer", "minimum": 0}, "Index along each axis, from 0.")
    concern = _object(
        {
            "trouble": {"enum": [trouble.value for trouble in Trouble]},
            "hurts": {"type": "boolean"},
            "limit": _NUMBER,
            "words": _TEXT,
        }
    )
    edit = _object(
        {"table": _TEXT, "at": place, "old": _NUMBER, "new": _NUMBER, "spreads": _NUMBER}
        | {"concerns": _list(concern)},
        "spreads: the change in standard deviations of the cell.",
    )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "boostwright starting calibration",
        **_object(
            {
                "format": {"const": CALIBRATION_FORMAT},
                "made_by": _object(
                    {"program": {"const": "boostwright"}, "version": _TEXT, "data": _TEXT, "inputs": _TEXT},
                    "Which program, which reference data, and the fingerprint of the inputs.",
                ),
                "build": _TEXT,
                "probability": {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1},
                "verdict": _TEXT,
                "cautions": {"type": "array", "items": _TEXT, "minItems": 1},
                "checks": _list(
                    _object(
                        {
                            "key": _TEXT,
                            "words": _TEXT,
                            "holds": {"type": ["boolean", "null"], "description": "Null: cannot be told."},
                            "cells": _list(_object({"table": _TEXT, "at": place})),
                            "remedy": _TEXT,
                        }
                    )
                ),
                "settings": _list(
                    _object({**named, "value": _NUMBER, "sd": _NUMBER, "origin": origins, "why": _TEXT})
                ),
                "tables": _list(_table_schema(named, origins)),
                "warnings": _list(_TEXT),
                "not_said": _list(_TEXT, "What this controller needs and the model cannot say."),
                "edits": {"anyOf": [{"type": "null"}, _list(edit)]},
                "defer": _TEXT,
            }
        ),
    }


def _table_schema(named: dict[str, Any], origins: dict[str, Any]) -> dict[str, Any]:
    axis = _object({**named, "values": _list({"type": "number"}, "Rising.")})
    return _object(
        {
            **named,
            "axes": {"type": "array", "items": axis, "minItems": 1, "maxItems": 2},
            "value": _cells_of(_NUMBER, "First axis outside, second inside."),
            "sd": _cells_of(_NUMBER, "One standard deviation of the true best value about it."),
            "origin": _cells_of(origins),
            "visited": _cells_of({"type": "boolean"}, "Whether the predicted trajectory comes near."),
            "low": _cells_of(_NUMBER, "Below it an edit passes a limit, `low_why` says which.", none=True),
            "low_why": _TEXT,
            "high": _cells_of(_NUMBER, "The same above.", none=True),
            "high_why": _TEXT,
            "notes": _list(_TEXT),
        }
    )

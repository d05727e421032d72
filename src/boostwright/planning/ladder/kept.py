"""The conditions of a ladder as text and back, bit for bit, so that the match need not run again."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from typing import Any, Final

import numpy as np

from boostwright.build.document import Build
from boostwright.build.values import StatedValue
from boostwright.planning.ladder.conditions import Broken, Condition, Gives, limits_of
from boostwright.planning.ladder.records import Air

__all__ = ["conditions_from", "conditions_text", "mark_of"]

_FORM: Final = 1  # of the text; it grows when a condition gets another field
_NO_MATTER: Final = frozenset({"build", "people", "hours"})  # sections of the file that move no pull
_NOT_KEPT: Final = frozenset({"case", "limits"})  # what it was made from, and what the file says again
_ROWS: Final = {"broken": Broken}
_RECORDS: Final = {"air": Air, "knock": Gives, "strength": Gives}

Conditions = tuple[Condition, "Condition | None"]


def mark_of(build: Build, air: Air, *made_by: str) -> str:
    """SHA-256 of all that the conditions hang on: values of the build to the last bit, maps, the air, and
    what they are made by (versions). Who works when, and which reading a value came from, moves no pull.
    """

    def plain(value: StatedValue) -> list[str]:
        return [repr(value.value), repr(value.sd), value.source.value, repr(value.kind)]

    content: dict[str, Any] = {
        "form": _FORM,
        "made_by": made_by,
        "air": [repr(one) for one in air],
        "values": {p: plain(v) for p, v in build.values.items() if p.split(".")[0] not in _NO_MATTER},
        "tables": {
            name: [{key: plain(value) for key, value in row.items()} for row in rows]
            for name, rows in build.tables.items()
            if name not in _NO_MATTER
        },
        "maps": {path: repr(points) for path, points in build.maps.items()},
        "turbine_map": repr(build.turbine_map),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def conditions_text(made: Conditions, mark: str) -> str:
    """Both conditions as JSON with a check sum; numbers come back to the last bit."""
    body = json.dumps([None if one is None else _plain(one) for one in made])
    return json.dumps({"mark": mark, "sum": hashlib.sha256(body.encode()).hexdigest(), "body": body})


def _plain(one: Condition) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for part in dataclasses.fields(one):
        if part.name not in _NOT_KEPT:
            value = getattr(one, part.name)
            found[part.name] = value.tolist() if isinstance(value, np.ndarray) else value
    return found


def conditions_from(text: str, mark: str, build: Build) -> Conditions | None:
    """What `conditions_text` wrote; None for another mark, an earlier form, and anything damaged."""
    try:
        whole = json.loads(text)
        body = whole["body"]
        if whole["mark"] != mark or whole["sum"] != hashlib.sha256(body.encode()).hexdigest():
            return None
        spring, goal = json.loads(body)
        return _condition(spring, build), None if goal is None else _condition(goal, build)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def _condition(plain: dict[str, Any], build: Build) -> Condition:
    given = dict(plain)
    expected = {part.name for part in dataclasses.fields(Condition)} - _NOT_KEPT
    if given.keys() != expected:
        raise ValueError("another form of condition")
    for name, kind in _RECORDS.items():
        given[name] = None if given[name] is None else kind(*given[name])
    for name, kind in _ROWS.items():
        given[name] = tuple(kind(*row) for row in given[name])
    for name, value in given.items():
        if isinstance(value, list):
            texts = name == "warnings"
            given[name] = tuple(value) if texts else np.array(value, dtype=np.float64)
    return Condition(limits=limits_of(build), **given)

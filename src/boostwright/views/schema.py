"""The JSON schema (draft 2020-12) of the results document."""

from __future__ import annotations

from typing import Any

from boostwright.findings.model import Harm, Kind, Sense, Verdict
from boostwright.views.series import CYCLE_UNITS, GATE_UNITS, GOAL_UNITS, PULL_UNITS

__all__ = ["FORMAT", "results_schema"]

FORMAT = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

_NUMBER = {"type": ["number", "null"]}
_TEXT = {"type": "string"}
_MAYBE_TEXT = {"type": ["string", "null"]}


def _object(properties: dict[str, Any], describe: str = "") -> dict[str, Any]:
    made: dict[str, Any] = {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
    if describe:
        made["description"] = describe
    return made


def _list(items: dict[str, Any], describe: str = "") -> dict[str, Any]:
    return {"type": "array", "items": items} | ({"description": describe} if describe else {})


def results_schema() -> dict[str, Any]:
    """The schema. Every number is SI; null stands for a value that is not known or not a number."""
    kinds = [k.value for k in Kind]
    amount = _object(
        {
            "value": _NUMBER,
            "sd": _NUMBER,
            "kind": {"enum": [*kinds, None]},
            "name": _MAYBE_TEXT,
            "text": _TEXT,
        },
        "A value with its standard deviation, SI, and the text that people see: what follows ± there is"
        " two standard deviations.",
    )
    phrase = _object(
        {"text": _TEXT, "amounts": {"type": "object", "additionalProperties": {"$ref": "#/$defs/amount"}}},
        "A sentence and the amounts in it.",
    )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "boostwright results",
        **_object(_top()),
        "$defs": {"amount": amount, "phrase": phrase, "finding": _finding()},
    }


def _top() -> dict[str, Any]:
    return {
        "format": {"const": FORMAT},
        "made_by": _object(
            {
                "program": {"const": "boostwright"},
                "version": _TEXT,
                "data": _TEXT,
                "inputs": _TEXT,
                "build_file_form": _MAYBE_TEXT,
            },
            "Which program, which reference data, and the fingerprint of the inputs.",
        ),
        "build": _object(
            {
                "name": _TEXT,
                "summary": _list(
                    {
                        "type": "object",
                        "properties": {"label": _TEXT, "text": _TEXT, "value": _NUMBER, "sd": _NUMBER},
                        "required": ["label", "text"],
                    }
                ),
            }
        ),
        "verdict": _object({"word": {"enum": [v.value for v in Verdict]}, "text": _TEXT}),
        "findings": _list({"$ref": "#/$defs/finding"}, "Worst first: by harm times the odds of not holding."),
        "baseline": _series(
            ("speed", "mbt_spark", "knock_spark", "used_spark", *CYCLE_UNITS),
            "The engine before the turbo, full load; every list has one entry for each speed.",
        ),
        "goal": _or_null(
            _series((*GOAL_UNITS, *CYCLE_UNITS), "With the turbo, full load, at the boost that is reached.")
        ),
        "no_goal": {"type": ["string", "null"], "description": "Why there is no line with the turbo."},
        **_with_turbo(),
        "joints": _list(_joint(), "The joints that the file lists, each with its own verdict."),
        "assumed": _list(
            _object(
                {
                    "field": _TEXT,
                    "title": _TEXT,
                    "text": _TEXT,
                    "weight": _NUMBER,
                    "findings": _list(_TEXT),
                }
            ),
            "Values that nobody stated, those that matter most first.",
        ),
        "warnings": _list(_TEXT, "What was left out or taken for granted."),
        "unusual": _list(_TEXT, "What deserves a second look: unusual values, values without a source."),
        "not_judged": _list(_TEXT, "Fields that the file states and that no finding reads yet."),
        "not_covered": _list(_TEXT, "What a 'holds' does not cover."),
        "cautions_defer_to": _TEXT,
        "seconds": {"type": "object", "additionalProperties": _NUMBER},
        "trust": _or_null(_trust()),
    }


def _joint() -> dict[str, Any]:
    return _object(
        {
            "name": _TEXT,
            "parts": _list(_TEXT, "The two parts that it joins."),
            "halves": _list(_TEXT, "Thread, flare, hose or flange of each."),
            "seal": {**_MAYBE_TEXT, "description": "Null when nobody said."},
            "carries": {**_MAYBE_TEXT, "description": "A word of joints.carries, or null."},
            "verdict": {"enum": [verdict.value for verdict in Verdict]},
            "why": {**_MAYBE_TEXT, "description": "A few words where it does not hold, else null."},
        }
    )


def _or_null(schema: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [{"type": "null"}, schema]}


def _with_turbo() -> dict[str, Any]:
    """What stands beside the operating line where there is one."""
    line = (*GOAL_UNITS, *CYCLE_UNITS)
    corner = _object(
        {
            "name": _TEXT,
            "words": _TEXT,
            "ambient_pressure": _NUMBER,
            "ambient_temperature": _NUMBER,
            "poorest_fuel": {"type": "boolean"},
            "line": _series(line, "The operating line on that day."),
        }
    )
    threshold = _object(
        {"coming_down": _NUMBER, "coming_up": _NUMBER, "sd": _NUMBER, "text": _TEXT},
        "Engine speed [rad/s] down to which full boost stands, and from which it comes by itself.",
    )
    gate = _series(tuple(GATE_UNITS), "What spring and control make of the boost, over the speeds of goal.")
    gate["properties"]["gate_area_most"] = {"type": ["number", "null"], "description": "On the stop [m2]."}
    gate["required"].append("gate_area_most")
    return {
        "corners": _list(corner, "The worst days, each with its operating line."),
        "gate_shut": _or_null(_series(line, "The operating line with the gate held shut.")),
        "threshold": _or_null(threshold),
        "arrival": _or_null(_arrival()),
        "gate": _or_null(gate),
    }


def _trust() -> dict[str, Any]:
    """What draws add."""
    odds = _object(
        {
            "probability": _NUMBER,
            "sampling_error": _NUMBER,
            "draws": {"type": "integer"},
            "bound": {"type": ["integer", "null"]},
        },
        "bound: where draws saw one side only, the other happens in fewer than 1 of so many cases.",
    )
    chance = _object({"words": _TEXT, "odds": odds, "counted": {"type": "integer"}, "left_out": _list(_TEXT)})
    three = _object({"low": _NUMBER, "middle": _NUMBER, "high": _NUMBER, "sd": _NUMBER})
    finding = _object(
        {
            "odds": odds,
            "demand": three,
            "capacity": three,
            "corners": {"type": "object", "additionalProperties": _NUMBER},
            "told": _NUMBER,
            "unexplained": _NUMBER,
            "shares": _list(
                _object(
                    {
                        "names": _list(_TEXT),
                        "words": _TEXT,
                        "alone": _NUMBER,
                        "total": _NUMBER,
                        "error": _NUMBER,
                    }
                ),
                "Shares of the variance of what is left, largest first.",
            ),
        },
        "low, middle, high: what 5, 50 and 95 of 100 cases lie below.",
    )
    band = _object({name: {"type": "array"} for name in ("low", "middle", "high", "told")})
    reading = _object(
        {
            "key": _TEXT,
            "words": _TEXT,
            "instrument": _TEXT,
            "when": _TEXT,
            "minutes": _NUMBER,
            "price": _NUMBER,
            "drop": _NUMBER,
            "error": _NUMBER,
            "cost": _NUMBER,
            "rate": _NUMBER,
            "findings": _list(_TEXT),
            "caution": _TEXT,
        }
    )
    return _object(
        {
            "draws": {"type": "integer"},
            "asked": {"type": ["integer", "null"]},
            "failed": {"type": "object", "additionalProperties": {"type": "integer"}},
            "seed": {"type": "integer"},
            "ended": _TEXT,
            "unknowns": {"type": "integer"},
            "whole": chance,
            "safe": chance,
            "findings": {"type": "object", "additionalProperties": finding},
            "bands": {"type": "object", "additionalProperties": band},
            "readings": _list(reading, "What to measure first, the best for its cost first."),
            "read_already": _list(_TEXT, "Keys of readings that the file has as good."),
            "seconds": _NUMBER,
        },
        "Odds, bands and shares from draws of everything that is not known for sure; null for a plain check.",
    )


def _arrival() -> dict[str, Any]:
    numbers = ("start", "arrival", "arrival_sd", "arrival_speed", "arrival_speed_sd", "overshoot")
    pull = _series(tuple(PULL_UNITS), "The throttle opens at 'start'; gear null: crank held or led.")
    pull["properties"] |= {"gear": {"type": ["integer", "null"]}, **dict.fromkeys(numbers, _NUMBER)}
    pull["required"] += ["gear", *numbers]
    return _object(
        {
            "boost": _NUMBER,
            "share": _NUMBER,
            "inertia": _NUMBER,
            "inertia_sd": _NUMBER,
            "volume": _NUMBER,
            "start_shaft": _NUMBER,
            "reference": {"type": "integer"},
            "pulls": _list(pull, "Each pull over time."),
            "assumed": _list(_TEXT, "What of the car nobody stated."),
            "unknowns": _list(
                _object({"what": _TEXT, "share": _NUMBER}), "Where the spread comes from, largest first."
            ),
        },
        "When boost comes after the throttle opens: boost [Pa], share of it that counts as there, inertia"
        " [kg m2], volume [m3], start_shaft [rad/s]; 'reference' counts the pulls from 0.",
    )


def _series(names: tuple[str, ...], describe: str) -> dict[str, Any]:
    lists = {name: {"type": "array"} for name in names}
    return _object({"units": {"type": "object", "additionalProperties": _TEXT}, **lists}, describe)


def _finding() -> dict[str, Any]:
    amount, phrase = {"$ref": "#/$defs/amount"}, {"$ref": "#/$defs/phrase"}
    return _object(
        {
            "code": _TEXT,
            "subject": _TEXT,
            "verdict": {"enum": [v.value for v in Verdict]},
            "probability": {"type": ["number", "null"], "minimum": 0, "maximum": 1},
            "sampling_error": _NUMBER,
            "bound": {"type": ["integer", "null"]},
            "odds": _TEXT,
            "safe_side": {"enum": [s.value for s in Sense]},
            "demand": amount,
            "capacity": amount,
            "margin": amount,
            "place": _object({"speed": _NUMBER, "words": _TEXT}),
            "corner": _TEXT,
            "cause": phrase,
            "remedy": phrase,
            "reading": _object({"what": _TEXT, "seconds": _NUMBER}),
            "harm": _object(
                {"class": {"enum": [h.value for h in Harm]}, "class_words": _TEXT, "words": _TEXT}
            ),
            "weight": _NUMBER,
            "limit": _object(
                {
                    "key": _TEXT,
                    "source": _TEXT,
                    "reason": _TEXT,
                    "edited": {"type": "boolean"},
                    "edit_reason": _MAYBE_TEXT,
                }
            ),
            "cautions": _list(_object({"key": _TEXT, "text": _TEXT})),
            "notes": _list(phrase),
            "rests_on": _list(_TEXT, "Fields of the build file that the finding rests on."),
        }
    )

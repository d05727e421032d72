"""The results as one JSON document: SI numbers for programs, words for people, and its schema.

Numbers are JSON numbers in SI units; a value that is not a number is null. Beside each amount of a finding
stands the text that every other door shows for it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from boostwright.findings.case import BaselineLine, CornerLine, GoalLine
from boostwright.findings.joint_graph import DrawnJoint
from boostwright.findings.model import Amount, Finding, Phrase
from boostwright.findings.notes import deference
from boostwright.findings.result import CheckResult
from boostwright.systems.engine.types import CycleResult
from boostwright.systems.transient.records import Arrival, Pull
from boostwright.systems.wastegate import GateAnswers
from boostwright.views.numbers import fill, say, say_band
from boostwright.views.schema import FORMAT
from boostwright.views.series import CYCLE_UNITS, GATE_UNITS, GOAL_UNITS, PULL_UNITS
from boostwright.views.trust_document import trust_document
from boostwright.views.words import chance_of_whole, headline, odds_of, threshold_words

if TYPE_CHECKING:
    from boostwright.systems.corners import Threshold

__all__ = ["document", "to_json"]


def to_json(result: CheckResult) -> str:
    """The document as text, keys in a fixed order, ending in a line break."""
    return json.dumps(document(result), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def document(result: CheckResult) -> dict[str, Any]:
    """The results as plain lists, dictionaries, numbers and texts, in the form of `schema.results_schema`."""
    return {
        "format": FORMAT,
        "made_by": {
            "program": "boostwright",
            "version": result.version,
            "data": result.data_version,
            "inputs": result.fingerprint,
            "build_file_form": result.created_with or None,
        },
        "build": {
            "name": result.name,
            "summary": [
                {"label": row.label, **(_amount(row.amount) if row.amount else {"text": row.words})}
                for row in result.summary
            ],
        },
        "verdict": {
            "word": result.verdict.value,
            "text": headline(result.findings, result.verdict, chance_of_whole(result)),
        },
        "findings": [_finding(f) for f in result.findings],
        "baseline": _baseline(result.baseline),
        "goal": None if result.goal is None else _goal(result.goal),
        "no_goal": result.no_goal or None,
        "corners": [_corner(c) for c in result.corners],
        "gate_shut": None if result.gate_shut is None else _goal(result.gate_shut),
        "threshold": None if result.threshold is None else _threshold(result.threshold),
        "arrival": None if result.arrival is None else _arrival(result.arrival),
        "gate": None if result.gate is None else _gate(result.gate),
        "joints": [_joint(j) for j in (() if result.drawing is None else result.drawing.joints)],
        "assumed": [
            {
                "field": a.field,
                "title": a.title,
                "text": a.text,
                "weight": _number(a.weight),
                "findings": list(a.findings),
            }
            for a in result.assumed
        ],
        "warnings": list(result.warnings),
        "unusual": list(result.unusual),
        "not_judged": list(result.not_judged),
        "not_covered": list(result.not_covered),
        "cautions_defer_to": deference(),
        "seconds": {name: _number(value) for name, value in result.seconds.items()},
        "trust": None if result.trust is None else trust_document(result.trust),
    }


def _plain(text: str) -> str:
    """The text with ordinary spaces."""
    return text.replace("\u00a0", " ")


def _number(value: float | None) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def _array(values: Any) -> list[Any]:
    array = np.asarray(values)
    if array.dtype == bool or np.issubdtype(array.dtype, np.integer):
        return list(array.tolist())
    if array.ndim > 1:
        return [_array(row) for row in array]
    return [_number(float(v)) for v in array]


def _joint(joint: DrawnJoint) -> dict[str, Any]:
    return {
        "name": joint.name,
        "parts": [part.name for part in joint.parts],
        "halves": list(joint.halves),
        "seal": joint.seal or None,
        "carries": None if joint.carries is None else joint.carries.value,
        "verdict": joint.verdict.value,
        "why": joint.why or None,
    }


def _amount(amount: Amount | None) -> dict[str, Any]:
    if amount is None:
        return {"value": None, "sd": None, "kind": None, "name": None, "text": "not known"}
    return {
        "value": _number(amount.value),
        "sd": _number(amount.sd),
        "kind": amount.kind.value,
        "name": amount.name or None,
        "text": _plain(say_band(amount)),
    }


def _phrase(phrase: Phrase) -> dict[str, Any]:
    return {
        "text": _plain(fill(phrase)),
        "amounts": {name: _amount(amount) for name, amount in phrase.amounts.items()},
    }


def _finding(finding: Finding) -> dict[str, Any]:
    margin = finding.margin
    return {
        "code": finding.code,
        "subject": finding.subject,
        "verdict": finding.verdict.value,
        "probability": _number(finding.probability),
        "sampling_error": _number(finding.sampling_error),
        "bound": finding.bound,
        "odds": _plain(odds_of(finding)),
        "safe_side": finding.sense.value,
        "demand": _amount(finding.demand),
        "capacity": _amount(finding.capacity),
        "margin": {**_amount(margin), "text": _plain(say(margin)) if margin else "not known"},
        "place": {"speed": _number(finding.place.speed), "words": finding.place.words},
        "corner": finding.corner,
        "cause": _phrase(finding.cause),
        "remedy": _phrase(finding.remedy),
        "reading": {"what": finding.reading.what, "seconds": _number(finding.reading.time)},
        "harm": {
            "class": int(finding.harm),
            "class_words": finding.harm.words,
            "words": finding.harm_words,
        },
        "weight": _number(finding.weight),
        "limit": {
            "key": finding.limit.key,
            "source": finding.limit.source,
            "reason": finding.limit.reason,
            "edited": finding.limit.edited,
            "edit_reason": finding.limit.edit_reason or None,
        },
        "cautions": [{"key": c.key, "text": c.text} for c in finding.cautions],
        "notes": [_phrase(note) for note in finding.notes],
        "rests_on": list(finding.about),
    }


def _cycle(cycle: CycleResult) -> dict[str, Any]:
    return {name: _array(getattr(cycle, name)) for name in CYCLE_UNITS}


def _baseline(line: BaselineLine) -> dict[str, Any]:
    return {
        "units": {"speed": "rad/s", "mbt_spark": "rad", "knock_spark": "rad", "used_spark": "rad"}
        | dict(CYCLE_UNITS),
        "speed": _array(line.speeds),
        "mbt_spark": _array(line.mbt_spark),
        "knock_spark": _array(line.knock_spark),
        "used_spark": _array(line.used_spark),
        **_cycle(line.result),
    }


def _goal(line: GoalLine) -> dict[str, Any]:
    own: Mapping[str, str] = GOAL_UNITS
    return {
        "units": dict(own) | dict(CYCLE_UNITS),
        **{name: _array(getattr(line, name)) for name in own},
        **_cycle(line.result),
    }


def _corner(corner: CornerLine) -> dict[str, Any]:
    return {
        "name": corner.name,
        "words": corner.words,
        "ambient_pressure": _number(corner.ambient_pressure),
        "ambient_temperature": _number(corner.ambient_temperature),
        "poorest_fuel": corner.poorest_fuel,
        "line": _goal(corner.goal),
    }


def _threshold(threshold: Threshold) -> dict[str, Any]:
    return {
        "coming_down": _number(threshold.coming_down),
        "coming_up": _number(threshold.coming_up),
        "sd": _number(threshold.deviation),
        "text": _plain(threshold_words(threshold)),
    }


def _gate(gate: GateAnswers) -> dict[str, Any]:
    return {
        "units": {**GATE_UNITS, "gate_area_most": "m2"},
        "gate_area_most": _number(float(gate.gate_area_most)),
        **{name: _array(getattr(gate, name)) for name in GATE_UNITS},
    }


def _arrival(arrival: Arrival) -> dict[str, Any]:
    return {
        "boost": _number(arrival.goal),
        "share": _number(arrival.share),
        "inertia": _number(arrival.inertia),
        "inertia_sd": _number(arrival.inertia_sd),
        "volume": _number(arrival.volume),
        "start_shaft": _number(arrival.start_shaft),
        "reference": arrival.reference,
        "pulls": [_pull(pull) for pull in arrival.pulls],
        "assumed": list(arrival.assumed),
        "unknowns": [{"what": what, "share": _number(share)} for what, share in arrival.unknowns],
    }


def _pull(pull: Pull) -> dict[str, Any]:
    return {
        "units": dict(PULL_UNITS),
        "gear": pull.gear or None,
        "start": _number(pull.start),
        "arrival": _number(pull.arrival),
        "arrival_sd": _number(pull.arrival_sd),
        "arrival_speed": _number(pull.arrival_speed),
        "arrival_speed_sd": _number(pull.arrival_speed_sd),
        "overshoot": _number(pull.overshoot),
        **{name: _array(getattr(pull, name)) for name in PULL_UNITS},
    }

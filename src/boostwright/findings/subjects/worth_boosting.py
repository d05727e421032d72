"""Is this engine worth boosting: the verdict of the gate before money is spent, from all its readings."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.judge import with_probability
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
    Verdict,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.subjects import condition as readings

__all__ = ["condition"]


class _Asked(NamedTuple):
    """One thing that the gate asks for; any one of its fields will do."""

    words: str
    fields: tuple[str, ...]
    judges: tuple[Callable[[Case], Finding | None], ...]


_GATE = (
    _Asked("compression of every cylinder", ("engine.compression_pressure",), (readings.evenness,)),
    _Asked("leak-down of every cylinder", ("engine.leak_down",), (readings.leakage,)),
    _Asked("oil pressure at hot idle", ("engine.oil_pressure_idle",), (readings.oil_at_idle,)),
    _Asked("oil pressure at 3000 rpm", ("engine.oil_pressure_3000",), (readings.oil_at_speed,)),
    _Asked(
        "a test of the coolant for combustion gas, or its pressure hold",
        ("engine.coolant_gas", "engine.coolant_drop"),
        (readings.coolant_gas, readings.coolant_hold),
    ),
)
_ABOUT = tuple(field for asked in _GATE for field in asked.fields)
_RECORD = LimitRecord(
    "readings",
    "the build file",
    "A verdict on the parts says nothing about a worn engine; the weakest reading decides.",
)
_READING = Reading(
    "Warm engine, all plugs out, throttle open, battery charged: five strokes on each cylinder, then"
    " leak-down at top dead centre, then oil pressure hot at idle and at 3000 rpm; cold, the coolant under"
    " a hand pump.",
    7200.0,
)


@rule(
    "engine.condition",
    "Is this engine worth boosting",
    asks="Do compression, leak-down, hot oil pressure and coolant allow money to be spent on boost?",
    demand="readings that are good enough, of those that the build file states",
    capacity="all of them: compression, leak-down, oil pressure at idle and at 3000 rpm, coolant",
    harm=Harm.DAMAGE,
    harm_words="money goes into a tired engine, and boost finishes it",
    sense=Sense.AT_LEAST,
    of_the_file=True,
)
def condition(rule: Rule, case: Case) -> Finding | None:
    """No when a reading breaks; not known while one is missing; else the verdict of the weakest."""
    judged = [found for asked in _GATE for judge in asked.judges if (found := judge(case)) is not None]
    missing = [a.words for a in _GATE if all(case.stated(field) is None for field in a.fields)]
    missing += [f"how sure is {_named([f])}" for f in judged if f.probability is None]
    bad = [f for f in judged if f.verdict is Verdict.BREAKS]
    asked_for = len(judged) + len(missing)
    weakest = min((f.probability or 0.0 for f in judged), default=0.0)
    decided = bool(bad) or not missing
    good = sum(f.verdict in (Verdict.HOLDS, Verdict.TIGHT) for f in judged)
    made = rule.finding(
        Amount(float(good), 0.0, Kind.COUNT, "readings that are good enough") if decided else None,
        Amount(float(asked_for), 0.0, Kind.COUNT, "readings of the gate"),
        _RECORD,
        place=Place(words="the engine as it stands today"),
        cause=_cause(judged, bad, missing),
        remedy=_remedy(judged, bad, missing),
        reading=_READING if missing else min(judged, key=lambda f: f.probability or 0.0).reading,
        about=_ABOUT,
    )
    if decided:  # its readings count one by one where the chance of the whole is told
        return with_probability(made, weakest)
    return replace(made, of_the_file=False)  # what was never read is left out of that chance, and named so


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1]


def _named(found: list[Finding]) -> str:
    return _listed([f.subject[0].lower() + f.subject[1:] for f in found])


def _cause(judged: list[Finding], bad: list[Finding], missing: list[str]) -> Phrase:
    still = f" The file does not state {_listed(missing)}." if missing else ""
    if bad:
        return Phrase(f"Worth boosting: no. What is not good enough: {_named(bad)}.{still}")
    if missing:
        fine = f" What was read is good enough so far: {_named(judged)}." if judged else ""
        return Phrase(
            f"Worth boosting: cannot be told yet.{still}{fine} Boost only suits an engine that is sound to"
            " begin with."
        )
    together = math.prod(f.probability or 0.0 for f in judged)
    weakest = min(judged, key=lambda f: f.probability or 0.0)
    word = "yes" if weakest.verdict is Verdict.HOLDS else "yes by the readings, but not with certainty"
    return Phrase(
        f"Worth boosting: {word}. The least certain reading is {_named([weakest])}; all of them together are"
        " good enough with {together}.",
        {"together": Amount(together, None, Kind.SHARE)},
    )


def _remedy(judged: list[Finding], bad: list[Finding], missing: list[str]) -> Phrase:
    if bad:
        return Phrase(
            f"Buy nothing yet. Put {_named(bad)} right, each as its own finding says, and read again."
        )
    if missing:
        return Phrase(f"Read {_listed(missing)} before you buy parts, and write them into the file.")
    if all(f.verdict is Verdict.HOLDS for f in judged):
        return Phrase("Go on. Keep the readings: the same ones after the conversion show what boost did.")
    weak = [f for f in judged if f.verdict is not Verdict.HOLDS]
    return Phrase(f"Before the dear parts, read again: {_named(weak)}.")

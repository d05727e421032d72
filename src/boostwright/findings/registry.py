"""The register of finding rules: one file per subject under `findings/subjects/`, found by looking there.

A rule is a function with its description beside it. Adding a file adds its rules; no other file changes.
The page `docs/findings.md` is made from these descriptions.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib import import_module

from boostwright.errors import BoostwrightError
from boostwright.findings.case import Case
from boostwright.findings.judge import probability_holds, sort_findings, with_probability
from boostwright.findings.limits import Limit
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
    Verdict,
)
from boostwright.findings.notes import cautions_for

__all__ = ["Rule", "find_all", "rule", "rules"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: what it asks, what it sets against what, what happens if it does not hold, and the
    function.
    """

    code: str  # stable name, 'subject.aspect'
    subject: str  # its heading
    asks: str  # the question, one sentence
    demand: str  # what is asked of the part, and where the number comes from
    capacity: str  # what the part can do, and where that comes from
    harm: Harm
    harm_words: str  # what happens, in words
    sense: Sense
    limits: tuple[str, ...]  # keys in library/limits
    function: Callable[[Rule, Case], Finding | None]
    of_the_file: bool = False  # it judges the file or the model itself, so a draw does not change it

    def __call__(self, case: Case) -> Finding | None:
        """The finding for one build; None when the rule does not apply to it."""
        return self.function(self, case)

    def finding(
        self,
        demand: Amount | None,
        capacity: Amount | None,
        source: Limit | LimitRecord,
        *,
        cause: Phrase,
        remedy: Phrase,
        reading: Reading,
        place: Place = Place(),  # noqa: B008  (frozen)
        corner: str = "",
        notes: tuple[Phrase, ...] = (),
        about: tuple[str, ...] = (),
        undecided: bool = False,
        assumed: str = "",
        at_worst_tight: bool = False,
    ) -> Finding:
        """A finding of this rule with probability, verdict and cautions filled in.

        undecided: what is known does not settle it although both sides have numbers; the verdict is
        'unknown'.
        assumed: a sentence that names the part which nobody stated and which the capacity rests on. It opens
        the cause, and all but a 'holds' becomes 'unknown': an assumed part cannot break.
        at_worst_tight: a matter of comfort alone; it is never said to break.
        """
        if assumed:
            cause = Phrase(f"{assumed} {cause.text}", cause.amounts)
        found = Finding(
            code=self.code,
            subject=self.subject,
            sense=self.sense,
            demand=demand,
            capacity=capacity,
            probability=None,
            verdict=Verdict.UNKNOWN,
            place=place,
            corner=corner,
            cause=cause,
            remedy=remedy,
            reading=reading,
            harm=self.harm,
            harm_words=self.harm_words,
            limit=source.record if isinstance(source, Limit) else source,
            cautions=cautions_for(self.code),
            notes=notes,
            about=about,
            undecided=undecided,
            on_assumed_part=bool(assumed),
            of_the_file=self.of_the_file,
            at_worst_tight=at_worst_tight,
        )
        return with_probability(found, probability_holds(demand, capacity, self.sense))


def rule(
    code: str,
    subject: str,
    *,
    asks: str,
    demand: str,
    capacity: str,
    harm: Harm,
    harm_words: str,
    sense: Sense,
    limits: tuple[str, ...] = (),
    of_the_file: bool = False,
) -> Callable[[Callable[[Rule, Case], Finding | None]], Rule]:
    """Turn a function `(rule, case) -> Finding | None` into a `Rule` with its description beside it."""

    def wrap(function: Callable[[Rule, Case], Finding | None]) -> Rule:
        return Rule(
            code, subject, asks, demand, capacity, harm, harm_words, sense, limits, function, of_the_file
        )

    return wrap


@cache
def rules() -> tuple[Rule, ...]:
    """Every rule of every subject file, by code. Two rules with one code are refused."""
    from boostwright.findings import subjects

    found: dict[str, Rule] = {}
    for name in sorted(_module_names(subjects.__path__)):
        module = import_module(f"{subjects.__name__}.{name}")
        for value in vars(module).values():
            if isinstance(value, Rule):
                if value.code in found:
                    raise BoostwrightError(
                        f"two finding rules are named {value.code!r}; give one of them another name"
                    )
                found[value.code] = value
    return tuple(found[code] for code in sorted(found))


def _module_names(path: object) -> Iterator[str]:
    for info in pkgutil.iter_modules(path):  # type: ignore[arg-type]
        yield info.name


def find_all(case: Case) -> tuple[Finding, ...]:
    """Every finding of every rule for one build, worst first."""
    found = (one(case) for one in rules())
    return sort_findings(f for f in found if f is not None)

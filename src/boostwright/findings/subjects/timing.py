"""The timing mark: is the spark where the controller believes it to be."""

from __future__ import annotations

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule

__all__ = ["mark"]


@rule(
    "controller.timing",
    "Doubt of the timing mark",
    asks="Is the spark near enough to where the controller believes it to be?",
    demand="stated timing error, to either side",
    capacity="most doubt at which a spark table of a boosted engine can still be set",
    harm=Harm.DAMAGE,
    harm_words="the spark stands early by what nobody has checked, and a ring land breaks at the first pull",
    sense=Sense.AT_MOST,
    limits=("timing_mark",),
)
def mark(rule: Rule, case: Case) -> Finding | None:
    """The stated error against the limit; silent where none is stated: then its usual size widens knock."""
    stated = case.stated("controller.timing_error")
    if stated is None or not case.build.is_stated("controller.timing_error"):
        return None
    error = Amount(abs(float(stated.value)), 0.0, Kind.CRANK_DIFFERENCE, "doubt of the timing mark")
    limit = case.limits["timing_mark"]
    return rule.finding(
        error,
        limit.amount,
        limit,
        place=Place(words="at any speed"),
        cause=Phrase(
            "A spark that is early by {error} is, for knock, fuel of as many octane numbers less.",
            {"error": error},
        ),
        remedy=Phrase("Prove top dead centre, mark it anew, and set the controller's offset by the light."),
        reading=Reading("Piston stop from both sides for top dead centre, then a timing light.", 2700.0),
        about=("controller.timing_error",),
    )

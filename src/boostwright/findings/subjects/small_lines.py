"""Small lines on the manifold that will see boost for the first time."""

from __future__ import annotations

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.oil_case import speaks_of
from boostwright.findings.registry import Rule, rule
from boostwright.findings.worst import worst_number

__all__ = ["small_lines"]

_LINES = {
    "small_lines.servo": "the brake servo",
    "small_lines.tank_purge": "the fuel tank's purge line",
    "small_lines.idle_valve": "the idle valve",
    "small_lines.others": "other small lines",
}
_WEAKEST_FIRST = ("open", "untried", "tried")
_WORDS = {
    "open": "nothing stops boost",
    "untried": "the original valve, not tried against pressure",
    "tried": "tried",
}


@rule(
    "lines.boost",
    "Small lines under boost",
    asks="Does every small line on the manifold stand boost that it never saw before?",
    demand="highest plenum pressure of any speed and corner, by the match",
    capacity="what the weakest of the lines stands",
    harm=Harm.SEVERE,
    harm_words="brake help is lost, petrol vapour is blown out, or a hose blows off and the mixture with it",
    sense=Sense.AT_MOST,
    limits=("port_open", "port_untried", "port_tried"),
)
def small_lines(rule: Rule, case: Case) -> Finding | None:
    """Boost against the weakest line; each that is not sure is named. Unknown while none is stated."""
    seen = worst_number(case, lambda line: line.goal.boost)
    if seen is None or not speaks_of(case, "small_lines"):
        return None
    boost, there = seen
    demand = Amount(
        boost, float(np.nan_to_num(there.goal.boost_sd[there.place])), Kind.PRESSURE_GAUGE, "highest boost"
    )
    state = {words: case.word(path) for path, words in _LINES.items()}
    missing = [words for words, how in state.items() if how is None]
    weakest = next((how for how in _WEAKEST_FIRST if how in state.values()), None)
    if weakest is None and not missing:
        return None  # nothing hangs on the manifold
    # a line that nobody described may be an original one
    taken = "untried" if missing and weakest in (None, "tried") else weakest
    assert taken is not None
    limit = case.limits[f"port_{taken}"]
    bad = [f"{words} ({_WORDS[how]})" for words, how in state.items() if how in ("open", "untried")]
    todo = [words for words, how in state.items() if how in (None, "open", "untried")]
    cause = "Every line on the manifold now sees {boost} instead of suction."
    cause += f" Not sure: {_listed(bad)}." if bad else ""
    cause += f" Not described: {_listed(missing)}." if missing else ""
    remedy = "Leave them as they are; pump them up to {boost} once a year."
    if todo:
        remedy = f"Put a one-way valve, a clamp or a plug on {_listed(todo)}, and pump each up to {{proof}}"
        remedy += " before the first start."
    amounts = {"boost": demand, "proof": Amount(1.25 * boost, None, Kind.PRESSURE_GAUGE)}
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(cause, amounts),
        remedy=Phrase(remedy, amounts),
        reading=Reading(
            "Hand pump with a gauge: each line by itself, the wrong way, and watch the needle for a minute."
            " Then the servo test of the vehicle manual.",
            2400.0,
        ),
        undecided=bool(missing) and taken == "untried",
        about=tuple(_LINES),
    )


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1] if words else "none"

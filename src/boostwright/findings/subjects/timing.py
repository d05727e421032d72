"""The timing mark: is the spark where the controller believes it to be, and was it before the conversion."""

from __future__ import annotations

from boostwright.findings.case import Case
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.systems.stated.ignition import (
    BASE_TIMING,
    TimingError,
    timing_error_of,
    timing_fields,
)

__all__ = ["base_timing", "mark"]

_PARTS = {
    "mark": "the mark itself {mark}",
    "light": "the light {light}",
    "damper": "the damper's ring {damper}",
    "drift": "the trigger's drift with speed {drift}",
    "free": "base timing read {free} off with the advance free",
}
_LOCKED_READING = (
    "Warm engine at the manual's idle speed, advance locked as the manual says, dial of the light at zero;"
    " once more at 3000 rpm for the drift. Sleeves, hair and leads clear of belts and fan."
)


@rule(
    "controller.timing",
    "Doubt of the timing mark",
    asks="Is the spark near enough to where the controller believes it to be?",
    demand="timing error to the worse side: as stated, or mark, light, damper and drift together with what"
    " base timing was off",
    capacity="most doubt at which a spark table of a boosted engine can still be set",
    harm=Harm.DAMAGE,
    harm_words="the spark stands early by what nobody has checked, and a ring land breaks at the first pull",
    sense=Sense.AT_MOST,
    limits=("timing_mark",),
)
def mark(rule: Rule, case: Case) -> Finding | None:
    """The error against the limit; silent where nothing is stated: then its usual size widens knock."""
    found = timing_error_of(case.build)
    if not found.known:
        return None
    error = Amount(found.either, found.sd, Kind.CRANK_DIFFERENCE, "doubt of the timing mark")
    limit = case.limits["timing_mark"]
    amounts = {"error": error}
    if found.parts:
        cause, remedy, more = _of_parts(found)
        amounts |= more
    else:
        cause = "A spark that is early by {error} is, for knock, fuel of as many octane numbers less."
        remedy = "Prove top dead centre, mark it anew, and set the controller's offset by the light."
    return rule.finding(
        error,
        limit.amount,
        limit,
        place=Place(words="at any speed"),
        cause=Phrase(cause, amounts),
        remedy=Phrase(remedy, amounts),
        reading=Reading("Piston stop from both sides for top dead centre, then a timing light.", 2700.0),
        about=timing_fields(case.build),
    )


def _of_parts(found: TimingError) -> tuple[str, str, dict[str, Amount]]:
    """Cause and remedy of a doubt that is summed from its parts, and their amounts."""
    largest = max(found.parts, key=lambda word: found.parts[word])
    amounts = {
        word: Amount(value, None, Kind.CRANK_DIFFERENCE) for word, value in found.parts.items() if value > 0.0
    }
    listed = ", ".join(_PARTS[word] for word in found.parts if word in amounts)
    cause = f"Taken together they leave {{error}}: {listed}." if listed else "Nothing is left but {error}."
    amounts["doubt"] = Amount(found.doubt, None, Kind.CRANK_DIFFERENCE)
    first = ""
    if found.offset:
        side = "early" if found.offset > 0.0 else "late"
        amounts["off"] = Amount(abs(found.offset), None, Kind.CRANK_DIFFERENCE)
        cause += f" Base timing itself was read {{off}} {side}."
        first = (
            "Put base timing right first, once, as its own finding says: turn the trigger or change the"
            " controller's offset, never both; that leaves {doubt}. "
        )
    cure = {
        "mark": "Prove top dead centre with a stop and mark it anew",
        "light": "Use a plain light with its dial at zero",
        "damper": "Mark hub and ring, or take the mark to the flywheel",
        "drift": "Enter the pick-up's delay until idle and 3000 rpm agree",
        "free": "Lock the advance as the manual says and read base timing again",
    }[largest]
    return cause, f"{first}{cure}: of the rest it is the largest part.", amounts


@rule(
    "ignition.base_timing",
    "Base timing before the conversion",
    asks="Did the engine's base timing agree with its own manual, read the way that the manual says?",
    demand="base timing read with the light, against the manual's figure",
    capacity="difference that light and mark account for",
    harm=Harm.DAMAGE,
    harm_words="every spark that is commanded later stands off by the same angle",
    sense=Sense.AT_MOST,
    limits=("base_timing",),
)
def base_timing(rule: Rule, case: Case) -> Finding | None:
    """|read - manual|; unknown where the manual's figure is missing or the advance was not locked, or
    where the manual's figure stands without a reading; silent where nothing is stated of it.
    """
    read = case.stated("ignition.base_timing")
    if read is None:
        return _not_read(rule, case)
    manual, locked = case.stated("ignition.base_timing_manual"), case.stated("ignition.timing_locked")
    limit = case.limits["base_timing"]
    shown = {"read": Amount(float(read.value), read.sd, Kind.CRANK_DIFFERENCE)}
    off = None
    if manual is not None:
        difference = float(read.value) - float(manual.value)
        off = Amount(abs(difference), read.sd, Kind.CRANK_DIFFERENCE, "base timing off the manual's figure")
        shown |= {"off": off, "manual": Amount(float(manual.value), 0.0, Kind.CRANK_DIFFERENCE)}
    counts = locked is not None and locked.value is True
    if off is None:
        cause = "The light showed {read}, but the file does not say what this engine's own manual asks for."
        remedy = "Look up base timing in the manual of this very engine, or on the label, and write it down."
    elif not counts:
        said = "was not locked" if locked is not None else "may not have been locked"
        cause = (
            f"The light showed {{read}} where the manual asks for {{manual}}, but the advance {said}: what"
            " was read is what the controller wanted that moment."
        )
        remedy = "Lock the advance as the manual says and read again; only then does {manual} compare."
    else:
        side = "early" if difference > 0.0 else "late"
        cause = (
            f"Read with locked advance, {{read}} is {{off}} {side} of the manual's {{manual}}."
            if (off.value > 0.0)
            else "Read with locked advance it is the manual's {manual} itself."
        )
        remedy = (
            "Leave it; {manual} is what the light must show after the conversion too."
            if off.value <= sure_demand(limit.amount, off, rule.sense, rule.harm)
            else "Prove the mark with a piston stop first; if it is true, turn distributor or trigger until"
            " the light shows {manual}."
        )
    return rule.finding(
        off,
        limit.amount,
        limit,
        place=Place(words="at warm idle"),
        cause=Phrase(cause, shown),
        remedy=Phrase(remedy, shown),
        reading=Reading(_LOCKED_READING, 1800.0),
        about=BASE_TIMING,
        undecided=off is None or not counts,
    )


def _not_read(rule: Rule, case: Case) -> Finding | None:
    """The manual's figure without a reading: a question. Nothing of either: silence."""
    manual = case.stated("ignition.base_timing_manual")
    if manual is None:
        return None
    shown = {"manual": Amount(float(manual.value), 0.0, Kind.CRANK_DIFFERENCE)}
    return rule.finding(
        None,
        case.limits["base_timing"].amount,
        case.limits["base_timing"],
        place=Place(words="at warm idle, advance locked"),
        cause=Phrase("The manual asks for {manual}; the file does not say what the light showed.", shown),
        remedy=Phrase(
            "Read base timing before anything is taken apart, and write it beside {manual}.", shown
        ),
        reading=Reading(_LOCKED_READING, 1800.0),
        about=BASE_TIMING,
    )

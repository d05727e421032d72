"""Recorded readings that stand outside what this build should show, or against what its file states."""

from __future__ import annotations

from boostwright.build.recorded import Recorded, Standing
from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.recorded_words import against, told
from boostwright.findings.registry import Rule, rule

__all__ = ["against_file", "outside"]

_FELL = "Find out why before the next pull, unless something was changed on purpose between the two."
_ONCE_MORE = "The same once more, with another instrument."
_MOST_TOLD = 6  # readings that are written out
_ON_RECORD = Place(words="the job's records")


def _newest(readings: tuple[Recorded, ...]) -> list[Recorded]:
    """The newest reading of each measurement on each side; the others of a run say the same."""
    last: dict[tuple[str, str], Recorded] = {}
    for one in readings:
        last[one.key, one.side] = one
    return list(last.values())


def _stop(one: Recorded) -> str:
    return one.at_once or f"Stop there until it is explained: {one.harm or 'find the cause'}"


def _joined(phrases: list[Phrase]) -> Phrase:
    amounts: dict[str, Amount] = {}
    for phrase in phrases:
        amounts |= dict(phrase.amounts)
    return Phrase(" ".join(phrase.text for phrase in phrases), amounts)


@rule(
    "record.outside",
    "Readings on record",
    asks="Does every recorded reading show what this build should show?",
    demand="newest readings that stand outside their expected range",
    capacity="none; the range is worked out for this build, with the scatter of one reading in it",
    harm=Harm.DAMAGE,
    harm_words="an engine, a part or an instrument is not what the plan takes it for",
    sense=Sense.AT_MOST,
    of_the_file=True,
)
def outside(rule: Rule, case: Case) -> Finding | None:
    """How many stand outside: unknown while one reading alone says so, broken once a second one agrees, and
    at once where the harm that it shows does not wait for one.
    """
    recorded: tuple[Recorded, ...] = case.build.recorded
    if not recorded:
        return None
    newest = _newest(recorded)
    out = [one for one in newest if one.standing in (Standing.OUTSIDE, Standing.FAR) or one.fell]
    holds = [one for one in out if one.repeated >= 2 or not one.values or one.at_once]
    holds.sort(key=lambda one: (not one.at_once, one.key))
    out.sort(key=lambda one: (one not in holds, not one.at_once, one.key))
    cannot_wait = bool(holds) and bool(holds[0].at_once)
    count = Amount(float(len(out)), 0.0, Kind.COUNT, "readings outside")
    if not out:
        cause = Phrase("Every reading on record is inside what this build should show.")
        remedy = Phrase("Go on.")
    else:
        cause = _joined([told(one, f"r{i}_") for i, one in enumerate(out[:_MOST_TOLD])])
        remedy = Phrase(
            _stop(holds[0])
            if holds
            else _FELL
            if any(one.fell for one in out)
            else "Read it again with another instrument or in another way; a second one that agrees holds."
        )
    waiting = [one for one in newest if not one.used and one.standing is Standing.FAR]
    notes = tuple(
        Phrase(f"{one.words} is so far outside that it is not used before a second reading agrees.")
        for one in waiting
    )
    return rule.finding(
        count,
        Amount(0.0, 0.0, Kind.COUNT, "readings outside"),
        LimitRecord("computed", "library/measurements, library/expected.toml", "Worked out for this build."),
        place=_ON_RECORD,
        cause=cause,
        remedy=remedy,
        reading=Reading("None before the cause is found." if cannot_wait else _ONCE_MORE, None),
        notes=notes,
        about=tuple(dict.fromkeys(path for one in out for path in one.fields)),
        undecided=bool(out) and not holds,
    )


@rule(
    "record.against_file",
    "Readings against the file",
    asks="Do recorded readings agree with what the file states of the same thing?",
    demand="readings that lie beyond both spreads from what the file states",
    capacity="none",
    harm=Harm.WEAR,
    harm_words="the verdict rests on one of two figures that cannot both be true",
    sense=Sense.AT_MOST,
    of_the_file=True,
)
def against_file(rule: Rule, case: Case) -> Finding | None:
    """Unknown as long as the two differ: the reading counts, and someone has to say which one is right."""
    recorded: tuple[Recorded, ...] = case.build.recorded
    stated = [one for one in recorded if any(was is not None for was in one.was)]
    if not stated:
        return None
    apart = [one for one in _newest(recorded) if one.contradicts > 0.0]
    cause = (
        _joined([against(one, f"a{i}_") for i, one in enumerate(apart[:_MOST_TOLD])])
        if apart
        else Phrase("What was read agrees with what the file states, within both spreads.")
    )
    remedy = (
        Phrase("Find out which is right, then correct the file or take the reading back.")
        if apart
        else Phrase("Go on.")
    )
    return rule.finding(
        Amount(float(len(apart)), 0.0, Kind.COUNT, "readings against the file"),
        Amount(0.0, 0.0, Kind.COUNT, "readings against the file"),
        LimitRecord("computed", "the build file and the job's records", "Both cannot be true."),
        place=_ON_RECORD,
        cause=cause,
        remedy=remedy,
        reading=Reading(_ONCE_MORE, None),
        about=tuple(dict.fromkeys(path for one in apart for path in one.fields)),
        undecided=bool(apart),
    )

"""Taking a record back, or all of one batch; nothing is deleted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.errors import ReadingError
from boostwright.job.records import Reading, Record, Withdrawal, batch_ids, batch_of, new_id, now, standing
from boostwright.library.measurements import measurements
from boostwright.verbs.readings import LoadedJob, judged_of, load_job
from boostwright.verbs.recording import name_of

if TYPE_CHECKING:
    from boostwright.planning.readings.kept import Kept

__all__ = ["take_back"]


def take_back(path: str | Path, record: str = "", who: str = "", reason: str = "", where: str = "") -> Kept:
    """Withdraw a record; both stay in the store, and its effect is gone everywhere.

    record: its id or the beginning of one, '' for the last that stands. What was written in one go is taken
    back in one go; a longer beginning than the batch has in common takes back one of it. reason: needed where
    a reading shows harm that does not wait. Raises ReadingError where there is none.
    """
    from boostwright.planning.moments import stated_zone
    from boostwright.planning.readings.kept import Kept
    from boostwright.verbs.waiting import add_or_keep

    job = load_job(path, where)
    stand = standing(job.records)
    start = record.strip().casefold()
    if start:
        found = [one for one in stand if one.id.startswith(start)]
        if len({batch_of(one.id) for one in found}) != 1:
            count = "no standing record" if not found else f"{len(found)} records"
            raise ReadingError(f"{count} of that id.", "'boostwright record FILE --list' shows them.")
    elif stand:
        found = [one for one in stand if batch_of(one.id) == batch_of(stand[-1].id)]
    else:
        raise ReadingError("There is nothing to take back.", "Nothing is recorded yet.")
    _explained(job, {one.id for one in found if isinstance(one, Reading)}, reason)
    if not reason.strip() and any(_found_harm(one) for one in found):
        raise ReadingError(
            "That reading found what may hide from the next one: it is not taken back without a reason.",
            "Say why it was a slip with --note.",
        )
    by, moment = name_of(who), now()
    ids = batch_ids(len(found)) if len(found) > 1 else (new_id(),)
    back = [Withdrawal(one, by, moment, taken.id, reason) for one, taken in zip(ids, found, strict=True)]
    zone = stated_zone(job.build)
    return Kept(found[0], waits=add_or_keep(path, back, where), more=tuple(found[1:]), zone=zone)


def _explained(job: LoadedJob, readings: set[str], reason: str) -> None:
    """Raises ReadingError where a reading that stopped the work would go without a word."""
    from boostwright.planning.ladder.gates import says_nothing

    known = {r.measurement for r in job.records if r.id in readings and isinstance(r, Reading)}
    if not says_nothing(reason) or not any(measurements()[k].at_once for k in known if k in measurements()):
        return
    for one in judged_of(job):
        if one.reading.id in readings and one.at_once:
            raise ReadingError(
                f"{one.measurement.words}, {one.reading.text}: harm does not go away by being taken back.",
                "Say in a sentence with --note why it was no true reading; mended is recorded by a new one.",
            )


def _found_harm(record: Record) -> bool:
    """Whether it is a bad answer about a fault that does not show every time."""
    one = measurements().get(record.measurement) if isinstance(record, Reading) else None
    return (
        isinstance(record, Reading) and one is not None and bool(one.hides) and record.answer not in one.good
    )

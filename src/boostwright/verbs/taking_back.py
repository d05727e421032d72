"""Taking a record back, or all of one batch; nothing is deleted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.errors import ReadingError
from boostwright.job.records import Withdrawal, batch_ids, batch_of, new_id, now, standing
from boostwright.verbs.readings import load_job
from boostwright.verbs.recording import name_of

if TYPE_CHECKING:
    from boostwright.planning.readings.kept import Kept

__all__ = ["take_back"]


def take_back(path: str | Path, record: str = "", who: str = "", reason: str = "", where: str = "") -> Kept:
    """Withdraw a record; both stay in the store, and its effect is gone everywhere.

    record: its id or the beginning of one, '' for the last that stands. What was written in one go is taken
    back in one go; a longer beginning than the batch has in common takes back one of it. Raises
    ReadingError where there is none.
    """
    from boostwright.planning.readings.kept import Kept
    from boostwright.verbs.waiting import add_or_keep

    stand = standing(load_job(path, where).records)
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
    by, moment = name_of(who), now()
    ids = batch_ids(len(found)) if len(found) > 1 else (new_id(),)
    back = [Withdrawal(one, by, moment, taken.id, reason) for one, taken in zip(ids, found, strict=True)]
    return Kept(found[0], waits=add_or_keep(path, back, where), more=tuple(found[1:]))

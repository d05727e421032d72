"""What a drive taught, kept with the build as a revision that can be taken back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.drive.learned import Learned
    from boostwright.drive.reviewed import ReviewedDrive
    from boostwright.store import Revision

__all__ = ["keep_drive", "kept_drive", "kept_drives", "record_drive", "undo_drive"]

_KIND = "drive"


def keep_drive(
    build: Build, path: str | Path, drive: ReviewedDrive, log: str | Path, *, who: str = "", where: str = ""
) -> int:
    """Keep a reviewed drive: its log, its verdict, what was noticed and learned; returns its number.

    build: as its file has it. path: that file. log: the file of the recorded drive, kept whole where it is
    not too large; else its name stands alone. Raises HistoryError, OSError.
    """
    from boostwright import __version__
    from boostwright.errors import CannotKeep, HistoryError
    from boostwright.library.version import data_version
    from boostwright.store import open_job
    from boostwright.store.blobs import LARGEST
    from boostwright.verbs.attached import attach_files

    log = Path(log)
    attached = ""
    if log.stat().st_size <= LARGEST:
        note = f"recorded drive, {len(drive.review.pulls)} pulls"
        try:
            attached = attach_files(path, [log], note=note, who=who, where=where)[0].digest
        except (CannotKeep, HistoryError):
            attached = ""
    learned = None if drive.model is None else drive.model.learned
    content = {
        "log": log.name,
        "digest": attached,
        "seconds": drive.review.seconds,
        "pulls": len(drive.review.pulls),
        "faults": sorted({n.kind for n in drive.review.faults}),
        "learned": None if learned is None else learned.to_plain(),
    }
    with open_job(path, where) as job:
        return job.keep(_KIND, build.fingerprint, content, program=__version__, data=data_version()).number


def record_drive(path: str | Path, drive: ReviewedDrive, *, who: str, where: str = "") -> str:
    """Enter the readings of the drive's pull for the step that the ladder is at; a sentence on what was done.

    Good or bad, all of them are entered: the gate is judged by its data. Nothing is where the step that comes
    next is no pull, or the drive holds none for it. Raises HistoryError.
    """
    from dataclasses import replace

    from boostwright.job.records import now
    from boostwright.store import open_job

    step = None if drive.model is None else drive.model.step
    if step is None or step.rung is None or not step.readings:
        why = "" if step is None or not step.why else f": {step.why[-1].rstrip('.')}"
        at = ""
        if step is not None and step.rung is not None:
            at = f" The ladder is at step {step.rung.number}, {step.rung.key}: 'boostwright ladder {path}'"
            at += " says what to do for it."
        return f"No reading was entered{why}.{at}"
    entered = [replace(one, who=who.strip(), time=now()) for one in step.readings]
    with open_job(path, where) as job:
        job.add(*entered)
    count = "1 reading" if len(entered) == 1 else f"{len(entered)} readings"
    return f"{count} entered for {step.rung.key}; 'boostwright ladder {path}' says how the gate stands."


def kept_drive(build: Build, path: str | Path) -> tuple[Learned, int] | None:
    """What the newest kept drive of the file as it stands taught, and its number; None where none did.

    Raises HistoryError when the history cannot be read.
    """
    from boostwright.drive.learned import Learned
    from boostwright.errors import HistoryError
    from boostwright.store import History

    history = History(path)
    revision = history.newest(_KIND, build.fingerprint)
    if revision is None or not isinstance(revision.content, dict) or revision.content.get("learned") is None:
        return None
    try:
        return Learned.from_plain(revision.content["learned"]), revision.number
    except (KeyError, TypeError, ValueError):
        raise HistoryError(
            f"{history.shown}: revision {revision.number} is no drive that this program can read. Review the"
            " log again: the build file itself is whole."
        ) from None


def kept_drives(path: str | Path) -> tuple[Revision, ...]:
    """Every drive that was kept beside a build file or taken back, oldest first. Raises HistoryError."""
    from boostwright.store import History

    return tuple(one for one in History(path).all() if one.kind in (_KIND, f"no {_KIND}"))


def undo_drive(build: Build, path: str | Path) -> int | None:
    """Take the newest drive of the file as it stands back; nothing is deleted. Returns its number, None where
    there is none. Raises HistoryError.
    """
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.store import History

    history = History(path)
    newest = history.newest(_KIND, build.fingerprint)
    if newest is None:
        return None
    taken = {"of": newest.number}
    history.add(f"no {_KIND}", build.fingerprint, taken, program=__version__, data=data_version())
    return newest.number

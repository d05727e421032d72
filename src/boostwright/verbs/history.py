"""The history of a job: what was kept of it, what changed, going back, handing it on as one file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import tzinfo

    from boostwright.job import Record
    from boostwright.store import Document, FileRevision, Job
    from boostwright.store.archive_take import TakenIn
    from boostwright.store.difference import Difference
    from boostwright.store.told import JobHistory, Restored

__all__ = [
    "compare_revisions",
    "export_job",
    "import_job",
    "job_history",
    "keep_file",
    "restore_revision",
    "undo_record",
]


def job_history(path: str | Path, where: str = "", most: int | None = None) -> JobHistory:
    """Everything that is kept of a build, and how its file stands to it.

    most: the last so many records alone, with those that they take back; None for all. Raises HistoryError.
    """
    from boostwright.job import Withdrawal, standing
    from boostwright.store import open_job
    from boostwright.store.told import JobHistory

    with open_job(path, where) as job:
        if most is None:
            records, revisions = job.records(), job.revisions()
            stand = frozenset(one.id for one in standing(records))
            gone = sum(not isinstance(one, Withdrawal) for one in records) - len(stand)
            count = (len(records), len(stand), gone)
        else:
            (records, tally), revisions = job.latest(most), job.revisions()
            stand, count = tally.stand, (tally.records, tally.standing, tally.gone)
        held = _on_disk(Path(path))
        numbers = [one.number for one in revisions if held is not None and one.digest == held.digest]
        file = "none"
        if held is not None and revisions:
            file = "changed" if not numbers else "newest" if numbers[-1] == len(revisions) else "older"
        return JobHistory(
            Path(path).name,
            job.place.shown,
            revisions,
            records,
            stand,
            job.kept(),
            job.attachments(),
            file,
            numbers[-1] if numbers else 0,
            count,
            _zone(Path(path)),
        )


def _zone(path: Path) -> tzinfo | None:
    """The time zone that the build file states; None where it states none or cannot be read."""
    from boostwright.errors import BuildFileError
    from boostwright.planning.moments import stated_zone
    from boostwright.verbs import load_build

    try:
        return stated_zone(load_build(path))
    except (BuildFileError, OSError):
        return None


def _on_disk(path: Path) -> Document | None:
    from boostwright.store.documents import read_document

    return read_document(path) if path.exists() else None


def compare_revisions(path: str | Path, older: int, newer: int | None = None, where: str = "") -> Difference:
    """What changed between two revisions. newer: None for the file as it is on the disk.

    Raises HistoryError, OSError.
    """
    from boostwright.store import open_job
    from boostwright.store.difference import difference
    from boostwright.store.documents import read_document

    with open_job(path, where) as job:
        new = read_document(Path(path)) if newer is None else job.document(newer)
        return difference(job.document(older), new)


def keep_file(
    path: str | Path, who: str = "", why: str = "", where: str = "", *, over: bool = False
) -> tuple[FileRevision, bool]:
    """Keep the build file as it stands; returns its revision, and whether that is new.

    over: keep it as the newest although the store went on since this copy was last the same. Raises
    ConflictError without that, HistoryError, OSError.
    """
    from boostwright.errors import HistoryError
    from boostwright.store import open_job
    from boostwright.store.documents import read_document

    with open_job(path, where) as job:
        if over:
            held, head = read_document(Path(path)), job.head()
            newest = head.number if head else 0
            saved = job.save(held, based_on=newest, who=who, why=why)
            job.hold(saved.number)
            return saved, saved.number > newest
        noted = job.note_build(path, who, why)
        if noted.state == "behind":
            raise HistoryError(
                f"the file holds revision {noted.number}, and the newest is {noted.head}: there is nothing"
                f" in it that is not kept. Bring the newest into it with --restore {noted.head}, or make the"
                " older text the newest with --take-mine."
            )
        return job.revisions()[noted.number - 1], noted.state == "kept"


def restore_revision(
    path: str | Path, number: int, who: str = "", why: str = "", where: str = ""
) -> Restored:
    """Bring a revision back into the build file, and the files that it names; what they hold now is kept
    first.

    Raises HistoryError for a number that is none, OSError where a file cannot be written.
    """
    from boostwright.store import open_job
    from boostwright.store.told import Restored

    file = Path(path)
    with open_job(path, where) as job:
        held = _with_others(file, _on_disk(file), job.document(number))
        old, saved, before = job.restore(number, held, who, why)
        written, left = _write_back(file, old, held)
        job.hold(saved.number)
    return Restored(saved, before, written, left)


def _with_others(file: Path, held: Document | None, coming: Document) -> Document | None:
    """What the file holds, with those files that would be written over although it does not name them."""
    from boostwright.store import Document

    if held is None:
        return None
    others = {}
    for name, content in coming.files.items():
        beside = file.parent / name
        if name not in held.files and _inside(beside, file.parent) and beside.is_file():
            there = beside.read_bytes()
            if there != content:
                others[name] = there
    return Document(held.body, {**held.files, **others}) if others else held


def _write_back(
    file: Path, document: Document, held: Document | None = None
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write the files that differ, the build file last, so that it never names what is not there yet.

    held: what is kept of what they hold now. Raises HistoryError where one holds something else meanwhile.
    """
    written, left = [], []
    for name, content in document.files.items():
        beside = file.parent / name
        if not _inside(beside, file.parent):
            left.append(name)
            continue
        known = None if held is None else held.files.get(name)
        beside.parent.mkdir(parents=True, exist_ok=True)
        if _put(beside, content, known):
            written.append(beside)
    if _put(file, document.body, None if held is None else held.body):
        written.append(file)
    return tuple(written), tuple(left)


def _put(path: Path, content: bytes, known: bytes | None) -> bool:
    """Write a file that holds what is known, or is not there; False where it holds the content already.

    Raises HistoryError where it holds something else: that was written meanwhile, and is kept nowhere.
    """
    from boostwright.errors import HistoryError
    from boostwright.views.files import write_bytes

    there = path.read_bytes() if path.exists() else None
    if there == content:
        return False
    if there is not None and there != known:
        raise HistoryError(
            f"{path.name} was changed while the revision was being brought back, so it was left as it is."
            " Look at it, then run the same command again: what it holds now is kept first."
        )
    write_bytes(path, content)
    return True


def _inside(path: Path, folder: Path) -> bool:
    """True for a place in the folder or below it, wherever links lead."""
    return path.resolve().is_relative_to(folder.resolve()) and path.name not in ("", "..")


def undo_record(path: str | Path, who: str = "", reason: str = "", where: str = "") -> Record | None:
    """Take the last standing record back; nothing is deleted. returns: it, None where there is none."""
    from boostwright.store import open_job

    with open_job(path, where) as job:
        return job.undo(who, reason)


def export_job(path: str | Path, archive: str | Path, where: str = "") -> Path:
    """Write the whole job into one new file. Raises HistoryError, FileExistsError, OSError."""
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.store import open_job
    from boostwright.views.files import new_file

    with open_job(path, where) as job:
        _note(job, Path(path))
        with new_file(Path(archive)) as target:
            job.export(target, program=__version__, data=data_version())
    return Path(archive)


def _note(job: Job, path: Path) -> None:
    if path.exists():
        job.note_build(path, why="before the job was exported")


def import_job(path: str | Path, archive: str | Path, where: str = "") -> tuple[TakenIn, tuple[Path, ...]]:
    """Take an archive in as the job of a build file; where there is no such file yet, the newest revision is
    written.

    returns: how much was new, and the files that were written. Raises ArchiveError, HistoryError, OSError.
    """
    from boostwright.store import open_job

    file = Path(path)
    with open_job(path, where) as job:
        taken = job.take_in(archive)
        head = job.head()
        written: tuple[Path, ...] = ()
        if head is not None and not file.exists():
            written, _ = _write_back(file, job.document(head.number))
            job.hold(head.number)
    return taken, written

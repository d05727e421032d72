"""Photos and logs of a job: bound to what they show, listed, and got out again as they were kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from boostwright.job import Record
    from boostwright.store import Attachment, Job

__all__ = ["Fetched", "attach_files", "attachments", "fetch_files", "records_about"]

Told = Callable[[str], None]
_LONGEST: Final = 120  # characters of a file's name
_LEAST: Final = 6  # digits of an id by which a record is meant
_SAID_FROM: Final = 8_000_000  # what is smaller is copied before anybody wonders [bytes]


class Fetched(NamedTuple):
    """A photo or a log that was got out. path: its file. written: False where that held it already."""

    attachment: Attachment
    path: Path
    written: bool


def attachments(path: str | Path, where: str = "") -> tuple[Attachment, ...]:
    """The photos and logs of a build, oldest first; sizes in bytes. Raises HistoryError."""
    from boostwright.store import open_job

    with open_job(path, where) as job:
        return job.attachments()


def attach_files(
    path: str | Path,
    files: Sequence[str | Path],
    *,
    to: str = "",
    note: str = "",
    who: str = "",
    where: str = "",
    told: Told | None = None,
) -> tuple[Attachment, ...]:
    """Keep photos and logs with a build.

    to: the id of a record, or a measurement, task, part or gate, of which the newest standing problem is
    meant, else the newest standing record; '' for the build as a whole. told: is called with a few words
    while a large one is read. returns: them as kept; one that is there already is kept once. Raises
    HistoryError where there is no such record, or for a file that is empty or too large, and OSError; those
    named before it are kept then.
    """
    from boostwright.store import open_job

    Path(path).stat()  # before a store is made for what is not there
    with open_job(path, where) as job:
        record = _record_of(job, to) if to else None
        of = "" if record is None else record.id
        return tuple(
            job.attach(_content(Path(file), told), Path(file).name, record=of, note=note, who=who)
            for file in files
        )


def _record_of(job: Job, to: str) -> Record:
    """The record that is meant. Raises HistoryError with what is near."""
    from boostwright.errors import HistoryError
    from boostwright.quantity import nearest
    from boostwright.store.records import subject_of

    records = job.standing()
    about = [one for one in records if subject_of(one) == to]
    if about:
        return _meant(about)
    known = [one for one in records if len(to) >= _LEAST and one.id.startswith(to)]
    if len(known) == 1 or any(one.id == to for one in known):
        return next((one for one in known if one.id == to), known[0])
    subjects = dict.fromkeys(subject_of(one) for one in records)
    near = nearest(to, subjects, count=3)
    hint = f"Did you mean {' or '.join(near)}?" if near else "`boostwright history FILE` lists the records."
    raise HistoryError(
        f"nothing is on record of '{to[:60]}' that a photo could be bound to. {hint} Record it first, or"
        " leave --to away: then it stands for the whole build. Nothing was kept."
    )


def records_about(path: str | Path, to: str, where: str = "") -> tuple[Record, ...]:
    """The standing records that `to` can mean: the one that a photo is bound to first, then the others,
    newest first. Raises HistoryError.
    """
    from boostwright.store import open_job
    from boostwright.store.records import subject_of

    with open_job(path, where) as job:
        about = [one for one in job.standing() if subject_of(one) == to]
    if not about:
        return ()
    first = _meant(about)
    return (first, *(one for one in reversed(about) if one is not first))


def _meant(about: Sequence[Record]) -> Record:
    """Of several records of one thing the newest problem, which is what a photo shows; else the last."""
    from boostwright.job import Step, TaskEvent

    troubles = [one for one in about if isinstance(one, TaskEvent) and one.what == Step.PROBLEM.value]
    return troubles[-1] if troubles else about[-1]


def _content(file: Path, told: Told | None) -> bytes:
    """What a file holds, read by pieces; no more than can be kept."""
    from boostwright.store.blobs import LARGEST, PIECE

    pieces, done = [], 0
    with file.open("rb") as opened:
        size = file.stat().st_size
        say = _copying(file.name, size, told)
        while done <= LARGEST and (piece := opened.read(PIECE)):
            pieces.append(piece)
            done += len(piece)
            say(done, size)
    return b"".join(pieces)


def _copying(name: str, size: int, told: Told | None) -> Callable[[int, int], None]:
    def say(done: int, whole: int) -> None:
        if told is not None and size >= _SAID_FROM:
            told(f"copying {name}: {done / 1e6:.0f} of {max(done, whole) / 1e6:.0f} MB")

    return say


def fetch_files(
    path: str | Path,
    numbers: Sequence[int],
    folder: str | Path,
    *,
    over: bool = False,
    where: str = "",
    told: Told | None = None,
) -> tuple[Fetched, ...]:
    """Write photos and logs of a build into a folder, which is made where it is not there.

    numbers: as `attachments` gives them; none for all. over: they may take the place of other files. Every
    file is whole and what was kept (SHA-256), or not there. Raises HistoryError for a number that is none and
    for a content that is not what was kept, FileExistsError before anything is written, OSError.
    """
    import errno

    from boostwright.errors import HistoryError
    from boostwright.store import open_job
    from boostwright.views.files import new_file

    into = Path(folder)
    with open_job(path, where) as job:
        every = job.attachments()
        known = {one.number: one for one in every}
        lost = next((number for number in numbers if number not in known), None)
        if not every or lost is not None:
            there = "none is kept yet" if not every else f"they go from 1 to {every[-1].number}"
            asked = "no photo or log" if lost is None else f"no photo or log {lost}"
            raise HistoryError(f"there is {asked} of this build; {there}. --photos lists them.")
        wanted = [known[number] for number in dict.fromkeys(numbers)] if numbers else list(every)
        places = [into / name for name in _names(wanted, every)]
        same = [_holds(place, one) for place, one in zip(places, wanted, strict=True)]
        for place, held in zip(places, same, strict=True):
            if place.exists() and not held and not over:
                raise FileExistsError(errno.EEXIST, "there is a file of this name", str(place))
        into.mkdir(parents=True, exist_ok=True)
        for place, one, held in zip(places, wanted, same, strict=True):
            if not held:
                with new_file(place, over) as target:
                    job.copy_content(one.digest, target, _copying(one.name, one.size, told))
    return tuple(Fetched(*row) for row in zip(wanted, places, (not held for held in same), strict=True))


def _holds(place: Path, one: Attachment) -> bool:
    """Whether a file holds that content."""
    import hashlib

    if not place.is_file() or place.stat().st_size != one.size:
        return False
    with place.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest() == one.digest


def _names(wanted: Sequence[Attachment], every: Sequence[Attachment]) -> Iterator[str]:
    """A file's name for each: its own, with its number before it where another one has the same."""
    plain = {one.number: safe_name(one.name) for one in every}
    met = [name.casefold() for name in plain.values()]
    for one in wanted:
        name = plain[one.number]
        yield f"{one.number}-{name}" if met.count(name.casefold()) > 1 else name


def safe_name(name: str) -> str:
    """A name as a file in a folder: no way into another one, nothing that a disk refuses.

    It may have come from outside, in an archive.
    """
    last = re.split(r"[/\\]", name)[-1]
    clean = re.sub(r'[\x00-\x1f\x7f<>:"|?*]', "_", last).strip(". ")
    stem, dot, ending = clean.rpartition(".")
    if not dot:
        stem, ending = clean, ""
    ending = ending[:12]
    while stem and len(f"{stem}.{ending}".encode()) > _LONGEST:
        stem = stem[:-1]
    clean = f"{stem}.{ending}" if ending else stem
    return clean if clean.strip("_") else "file"

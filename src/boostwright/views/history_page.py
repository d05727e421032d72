"""What the history of a job says on a terminal and in JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from typing import Any, Final

from boostwright.job import Override, PartEvent, Reading, Record, TaskEvent, Withdrawal, to_plain
from boostwright.library.measurements import measurements
from boostwright.store import Attachment, Revision
from boostwright.store.archive_take import TakenIn
from boostwright.store.difference import Difference
from boostwright.store.told import JobHistory, Restored
from boostwright.views.attached_page import attached_plain, attached_words
from boostwright.views.clock import said_moment, zone_words

__all__ = [
    "HISTORY_FORMAT",
    "choice_words",
    "difference_document",
    "difference_report",
    "history_document",
    "history_report",
    "imported_words",
    "record_words",
    "restored_words",
]

HISTORY_FORMAT = 1
"""The number of the documents' form; it grows when a field changes its meaning or goes away."""

_FILE = {
    "none": "",
    "newest": "The file holds revision {holds}, the newest.",
    "older": "The file holds revision {holds}, not the newest: --restore {newest} brings that into it.",
    "changed": "The file was changed since its last revision: --keep makes that revision {next}, and so does"
    " every command that records something.",
}


_KEPT: Final = {"tables": "edits"}  # kind of an entry of the store: word on the page


def history_report(history: JobHistory, most: int | None, width: int = 80) -> str:
    """What is kept, newest last, as one text ending in a line break. most: lines at most, None for all."""
    width = max(60, min(width, 110))
    lines = [f"History of {history.name}, kept in {history.shown}; {zone_words(history.zone)}", "─" * width]
    rows = _rows(history)
    if not rows:
        lines += textwrap.wrap(
            "Nothing is kept of this build yet. Every command that records something keeps the file too;"
            " --keep does"
            " it now.",
            width,
        )
        return "\n".join(lines) + "\n"
    shown = rows if most is None else rows[-most:]
    before = len(rows) + history.count[0] - len(history.records) - len(shown)
    if before:
        lines.append(f"… {before} before these; --all shows them")
    for _, time, who, words in shown:
        start = f"{said_moment(time, history.zone, named=False)}  {who[:12]:12}  "
        lines += textwrap.wrap(words, width, initial_indent=start, subsequent_indent=" " * len(start))
    lines.append("─" * width)
    lines += textwrap.wrap(_count(history), width)
    told = _FILE[history.file].format(
        holds=history.holds, newest=len(history.revisions), next=len(history.revisions) + 1
    )
    lines += textwrap.wrap(told, width)
    return "\n".join(lines) + "\n"


def _count(history: JobHistory) -> str:
    _, standing, gone = history.count
    parts = (
        (len(history.revisions), "revision", "revisions"),
        (standing, "record that stands", "records that stand"),
        (gone, "taken back", "taken back"),
        (sum(one.kind == "fit" for one in history.kept), "fit", "fits"),
        (sum(one.kind == "drive" for one in history.kept), "recorded drive", "recorded drives"),
        (sum(one.kind == "tables" for one in history.kept), "edit of tables", "edits of tables"),
        (len(history.attachments), "photo or log", "photos and logs"),
    )
    told = [f"{count} {one if count == 1 else many}" for count, one, many in parts if count]
    return ", ".join(told) + "."


def _rows(history: JobHistory) -> list[tuple[str, str, str, str]]:
    """Everything in the order of time: key, time, who, words. What is of one moment stays in the order of
    arrival.
    """
    by_id = {one.id: one for one in history.records}
    rows = [
        ("", one.time, one.who, f"build file: revision {one.number}" + (f", {one.why}" if one.why else ""))
        for one in history.revisions
    ]
    photos: dict[str, list[Attachment]] = {}
    for photo in history.attachments:
        photos.setdefault(photo.record if photo.record in by_id else "", []).append(photo)
    for one in history.records:
        words = record_words(one, by_id)
        words += "".join(f"; {attached_words(photo)}" for photo in photos.get(one.id, ()))
        gone = not isinstance(one, Withdrawal) and one.id not in history.standing
        rows.append(("", one.time, one.who, f"{words} (taken back)" if gone else words))
    rows += [("", entry.time, entry.who, _kept_words(entry, history.kept)) for entry in history.kept]
    for photo in photos.get("", ()):
        rows.append(("", photo.time, photo.who, attached_words(photo)))
    return sorted(rows, key=lambda row: row[1][:19])


def _kept_words(entry: Revision, every: tuple[Revision, ...]) -> str:
    if entry.kind.startswith("no "):
        of = entry.content.get("of") if isinstance(entry.content, dict) else "?"
        return f"{_KEPT.get(entry.kind.removeprefix('no '), entry.kind)} {of}: taken back"
    taken = any(
        later.kind == f"no {entry.kind}"
        and isinstance(later.content, dict)
        and later.content.get("of") == entry.number
        for later in every
    )
    words = f"{_KEPT.get(entry.kind, entry.kind)} {entry.number}"
    if entry.kind == "tables":
        words += f": {_edited_words(entry.content)}"
    return words + (" (taken back)" if taken else "")


def _edited_words(content: object) -> str:
    """Which tables were edited, and in how many cells."""
    cells = content.get("cells") if isinstance(content, dict) else None
    if not isinstance(cells, dict):
        return "not readable"
    count = sum(len(edits) for edits in cells.values() if isinstance(edits, list))
    many = "1 cell" if count == 1 else f"{count} cells"
    return f"{many} of the starting tables edited: {', '.join(cells)}"


def record_words(one: Record, by_id: dict[str, Record] | None = None) -> str:
    """A record in a few words. by_id: the others, so that a withdrawal can say what it takes back."""
    match one:
        case Reading():
            said = one.text or one.answer or ", ".join(f"{value:g}" for value in one.values)
            words = f"read {_subject(one)}: {said}"
            extra = one.note
        case TaskEvent():
            words = f"{one.task}: {one.what}" + (f", {one.kind}" if one.kind else "")
            words += f", seen by {one.witness}" if one.witness else ""
            extra = one.note
        case PartEvent():
            words, extra = f"part {one.part}: {one.what}", one.note
        case Override():
            words, extra = f"gate {one.gate} opened against its data: {one.reason}", ""
            words += f", seen by {one.witness}" if one.witness else ""
        case Withdrawal():
            of = (by_id or {}).get(one.of)
            words = "took back: " + (
                record_words(of, by_id) if of is not None and of is not one else "a record"
            )
            extra = one.reason
    return words + (f" ({extra})" if extra else "")


def choice_words(about: Sequence[Record], to: str) -> str:
    """Which records of one thing there are besides the first, to which a photo was bound."""
    first = about[0].id[:8]
    rows = [f"\n{len(about)} records stand of {to}, and it is bound to {first}. --to ID binds to another:"]
    rows += [f"  {one.id[:8]}  {one.who}: {record_words(one)}" for one in about[1:]]
    return "\n".join(rows)


def _subject(one: Record) -> str:
    if isinstance(one, Reading):
        known = measurements().get(one.measurement)
        return one.measurement if known is None else known.words
    return record_words(one)


def _stamped(version: str, data: str, fingerprint: str, **more: Any) -> str:
    stamp = {"format": HISTORY_FORMAT, "version": version, "data": data, "fingerprint": fingerprint}
    return json.dumps({**stamp, **more}, indent=2, ensure_ascii=False) + "\n"


def history_document(history: JobHistory, version: str, data: str, fingerprint: str) -> str:
    """The same as JSON, all of it: values SI, times UTC. fingerprint: of the file as it stands, '' where it
    cannot be read.
    """
    return _stamped(
        version, data, fingerprint,
        build=history.name,
        store=history.shown,
        file={"state": history.file, "holds": history.holds or None},
        revisions=[
            {"number": r.number, "time": r.time, "who": r.who, "why": r.why, "digest": r.digest}
            for r in history.revisions
        ],
        records=[
            {**to_plain(one), "stands": None if isinstance(one, Withdrawal) else one.id in history.standing}
            for one in history.records
        ],
        fits=[
            {"number": r.number, "time": r.time, "who": r.who, "kind": r.kind, "inputs": r.inputs,
             "program": r.program, "data": r.data, "content": r.content}
            for r in history.kept
        ],
        attachments=[
            attached_plain(a)
            for a in history.attachments
        ],
    )  # fmt: skip


def difference_report(found: Difference, older: str, newer: str, width: int = 80) -> str:
    """What changed, as one text ending in a line break. older, newer: what they are called."""
    width = max(60, min(width, 110))
    lines = [f"From {older} to {newer}", "─" * width]
    if found.none:
        return "\n".join([*lines, "Nothing: they are the same."]) + "\n"
    if found.changes:
        for change in found.changes:
            lines.append(change.field)
            lines += _value("was", change.before or "not stated", width)
            lines += _value("is", change.after or "not stated", width)
    elif found.changes == () and not found.files:
        lines.append("No value changed, only the words around them:")
    for name in found.files:
        lines.append(f"{name}: its content changed")
    if not found.changes and found.lines:
        lines += found.lines
    if found.changes is None:
        lines += textwrap.wrap(
            "One of the two cannot be read as a build, so their lines are compared.", width
        )
    return "\n".join(lines) + "\n"


def _value(word: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, initial_indent=f"    {word:4}", subsequent_indent=" " * 8)


def difference_document(
    found: Difference, older: int, newer: int | None, version: str, data: str, fingerprint: str
) -> str:
    """The same as JSON. newer: None for the file as it stands."""
    changes = None
    if found.changes is not None:
        changes = [
            {"field": c.field, "before": c.before or None, "after": c.after or None, "line": c.line}
            for c in found.changes
        ]
    return _stamped(
        version, data, fingerprint,
        older=older, newer=newer, changes=changes, files=list(found.files), lines=list(found.lines),
    )  # fmt: skip


def restored_words(done: Restored, number: int, file: str) -> str:
    """What going back to a revision did."""
    said = [f"Revision {number} is back, as revision {done.saved.number}."]
    if done.saved.number == number:
        said = [f"Revision {number} is the newest already."]
    if done.before is not None:
        said.append(f"What {file} held before is revision {done.before.number}.")
    names = ", ".join(path.name for path in done.written)
    said.append(f"Written: {names}." if names else f"{file} held it already.")
    if done.left:
        said.append(f"Not written, because it lies outside the folder of {file}: {', '.join(done.left)}.")
    return " ".join(said)


def imported_words(taken: TakenIn, written: list[str], archive: str) -> str:
    """What taking an archive in brought."""
    parts = (
        (taken.revisions, "revision", "revisions"),
        (taken.records, "record", "records"),
        (taken.kept, "fit or edit of tables", "fits and edits of tables"),
        (taken.attachments, "photo or log", "photos and logs"),
    )
    told = [f"{count} {one if count == 1 else many}" for count, one, many in parts if count]
    said = (
        f"New from {archive}: {', '.join(told)}." if told else f"All that is in {archive} was here already."
    )
    return said + (f" Written: {', '.join(written)}." if written else "")

"""The review of a recorded drive on a terminal: the verdict, then what was noticed, worst first."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from boostwright.drive.records import Notice
from boostwright.drive.whole import DriveReview
from boostwright.library.cautions import caution_rows, deference
from boostwright.library.notice_kinds import notice_kinds
from boostwright.views.drive_model import change_lines, model_lines, pull_lines, step_lines
from boostwright.views.drive_words import (
    channel_words,
    moment,
    notice_words,
    place_words,
    reading_words,
)

if TYPE_CHECKING:
    from boostwright.drive.reviewed import ReviewedDrive
    from boostwright.store import Revision

__all__ = ["drive_list", "drive_report", "headline"]

_MOMENTS: Final = 6  # of one kind that are listed
_HARM: Final = {
    "engine": "can cost the engine",
    "part": "can cost a part",
    "drive": "spoils how the car drives",
    "log": "spoils the log",
    "none": "harmless",
}


def drive_report(drive: ReviewedDrive, *, every: bool = False, stamp: str = "", width: int = 80) -> str:
    """The review as one text ending in a line break.

    every: all moments of each kind, what is explained and no fault, and how each column was taken. stamp:
    version and fingerprint, printed at the end.
    """
    width = max(60, min(width, 100))
    review = drive.review
    lines = [f"Recorded drive: {review.file}", "─" * width]
    lines += _wrapped(headline(review), width)
    lines += step_lines(drive, width)
    lines += _wrapped(_size(review), width)
    if drive.remembered:
        lines += _wrapped("Columns are taken as you said for such a log before; --fresh asks again.", width)
    for question in drive.questions:
        lines += _wrapped(
            f"ASKED: column '{question.heading}': {question.why.rstrip('.')}. It is left out until you say"
            f" --column '{question.heading}=QUANTITY UNIT', and for that "
            + ", or ".join(f"'{f'{c.key} {c.unit}'.strip()}'" for c in question.candidates)
            + ".",
            width,
            "",
            "  ",
        )
    for limit in drive.limits:
        lines += _wrapped(f"ONLY IN PART: {limit}", width, "", "  ")
    groups = _grouped(review.faults)
    for number, group in enumerate(groups, 1):
        lines += ["", *_one(number, group, width, every)]
        lines += _wrapped(_together(groups, number), width, "    ", "      ")
    lines += change_lines(drive, width, every)
    lines += pull_lines(drive, width)
    lines += model_lines(drive, width, every)
    explained = [n for n in review.notices if not n.fault]
    if explained and every:
        lines += ["", "Noticed and explained, nothing to mend"]
        for group in _grouped(explained):
            why = _sentence(notice_kinds()[group[0].kind].why)
            lines += _wrapped(f"{notice_words(group[0])}: {_when(group, every)}. {why}", width, "  ", "    ")
    elif explained:
        kinds = ", ".join(f"{notice_kinds()[g[0].kind].words} ({len(g)})" for g in _grouped(explained))
        lines += ["", *_wrapped(f"Noticed and explained, nothing to mend: {kinds}. --all lists them.", width)]
    lines += _cannot(review, width)
    lines += _columns(drive, width, every)
    lines += ["", "─" * width]
    lines += _wrapped(caution_rows()["road"].text, width)
    lines += _wrapped(deference(), width)
    if stamp:
        lines.append(stamp)
    return "\n".join(lines) + "\n"


def drive_list(entries: Sequence[Revision]) -> str:
    """The drives that were kept, newest first, one line each."""
    if not entries:
        return "No drive has been kept with this build yet.\n"
    taken = {one.content.get("of") for one in entries if one.kind != "drive"}
    lines = []
    for one in reversed(entries):
        if one.kind != "drive":
            said = f"drive {one.content.get('of')} taken back"
        else:
            said = f"{one.content['log']}, {one.content['pulls']} pulls, "
            said += f"{len(one.content['faults'])} kinds of fault"
            said += ", taken back" if one.number in taken else ""
        lines.append(f"{one.number:4}  {one.time}  {one.who:12}  {said}")
    return "\n".join(lines) + "\n"


def headline(review: DriveReview) -> str:
    """The verdict in a sentence or two."""
    groups = _grouped(review.faults)
    if not groups:
        return (
            "Nothing was found in this drive that must be mended, as far as its log can show: read what it"
            " cannot show below."
        )
    grave = [g for g in groups if notice_kinds()[g[0].kind].harm == "engine"]
    worst = groups[0][0]
    count = "1 thing was" if len(groups) == 1 else f"{len(groups)} things were"
    if grave:
        can = "it" if len(groups) == 1 else "1 of them" if len(grave) == 1 else f"{len(grave)} of them"
        return (
            f"{count} found, and {can} can cost the engine: no further pull until that is mended. The worst:"
            f" {notice_kinds()[worst.kind].words}, at {moment(worst.start)}."
        )
    return f"{count} found. The worst: {notice_kinds()[worst.kind].words}, at {moment(worst.start)}."


def _size(review: DriveReview) -> str:
    pulls = "1 pull" if len(review.pulls) == 1 else f"{len(review.pulls) or 'no'} pulls"
    return (
        f"{moment(review.seconds)} min, {review.rows} rows, {review.rate:.3g} rows a second,"
        f" {len(review.channels)} channels, {pulls}."
        f" Moments are in the log's own time, which begins at {moment(review.begins)} min; rows count from"
        " 1 below the headings."
    )


def _wrapped(text: str, width: int, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=then or first)


def _sentence(text: str) -> str:
    text = text.rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."


def _grouped(notices: Sequence[Notice]) -> list[list[Notice]]:
    """Notices by kind; kinds by their worst, each with its worst first."""
    groups: dict[str, list[Notice]] = {}
    for notice in notices:
        groups.setdefault(notice.kind, []).append(notice)
    return list(groups.values())


def _together(groups: Sequence[Sequence[Notice]], number: int) -> str:
    """'same moment as 1' where the worst of an earlier kind overlaps this one's by half of the shorter."""
    here = groups[number - 1][0]
    same = []
    for earlier, (other, *_) in enumerate(groups[: number - 1], 1):
        both = min(here.end, other.end) - max(here.start, other.start)
        shorter = min(here.end - here.start, other.end - other.start)
        if both > 0.0 and both >= 0.5 * shorter:
            same.append(str(earlier))
    return f"same moment as {' and '.join(same)}: it may have one cause" if same else ""


def _when(group: Sequence[Notice], every: bool) -> str:
    moments = sorted(n.start for n in group)
    shown = moments if every else moments[:_MOMENTS]
    words = ", ".join(moment(t) for t in shown)
    return words + (f" and {len(moments) - len(shown)} more" if len(moments) > len(shown) else "")


def _one(number: int, group: Sequence[Notice], width: int, every: bool) -> list[str]:
    """One kind of fault: the worst in full, the others by their moments."""
    worst, kind = group[0], notice_kinds()[group[0].kind]
    times = "" if len(group) == 1 else f" · {len(group)} times"
    lines = _wrapped(
        f"{notice_words(worst).upper()}{times} · {_HARM[kind.harm]}", width, f"{number:2}  ", "    "
    )
    lines += _wrapped(reading_words(worst.size), width, "    ", "      ")
    lines += _wrapped(place_words(worst), width, "    ", "      ")
    if worst.note:
        lines += _wrapped(_sentence(worst.note), width, "    ", "      ")
    if worst.channels:
        lines += _wrapped(f"seen in  {channel_words(worst.channels)}", width, "    ", "             ")
    lines += _wrapped(f"why      {kind.why}", width, "    ", "             ")
    for step, change in enumerate(kind.change):
        lead = "do       " if step == 0 else "then     "
        lines += _wrapped(lead + change, width, "    ", "             ")
    if kind.caution:
        lines += _wrapped(f"take care: {caution_rows()[kind.caution].short}", width, "    ", "      ")
    if len(group) > 1:
        lines += _wrapped(f"moments  {_when(group, every)}", width, "    ", "             ")
    return lines


def _cannot(review: DriveReview, width: int) -> list[str]:
    if not review.cannot_show:
        return []
    reasons: dict[str, list[str]] = {}
    for one in review.cannot_show:
        reasons.setdefault(one.reason, []).extend(notice_kinds()[k].words for k in one.kinds)
    lines = ["", "What this log cannot show"]
    for reason, kinds in reasons.items():
        lines += _wrapped(f"{', '.join(dict.fromkeys(kinds))}: {reason}.", width, "  ", "    ")
    return lines


def _columns(drive: ReviewedDrive, width: int, every: bool) -> list[str]:
    """How the columns were taken; without `every` only the unsure ones."""
    review = drive.review
    shown = [c for c in review.channels if every or c.confidence < 0.8]
    lines: list[str] = []
    if shown:
        lines += ["", "Columns, as they were taken" if every else "Columns that were taken with some doubt"]
        for c in shown:
            which = f" of cylinder {c.cylinder}" if c.cylinder else ""
            text = f"{c.heading or '(no heading)'} = {channel_words([c.key])}{which}, {c.unit or 'no unit'}"
            text += f"; sure to {100 * c.confidence:.0f} %, {c.rate:.3g} readings a second"
            lines += _wrapped(text + (f"; {c.note}" if c.note else ""), width, "  ", "    ")
    if review.unknown:
        lines += ["", *_wrapped(f"Not read: {', '.join(repr(h) for h in review.unknown)}.", width)]
    for note in review.notes:
        lines += _wrapped(_sentence(note), width)
    return lines

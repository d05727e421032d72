"""The review of a recorded drive for programs: JSON, and the folder that `--out` leaves."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.library.cautions import caution_rows, deference
from boostwright.library.notice_kinds import notice_kinds
from boostwright.views.drive_model import learned_record, power_record, step_record
from boostwright.views.drive_page import drive_report, headline
from boostwright.views.drive_words import place_words, reading_words
from boostwright.views.files import write_text

if TYPE_CHECKING:
    from boostwright.drive.reviewed import ReviewedDrive

__all__ = ["DRIVE_FORMAT", "drive_document", "drive_record", "write_drive"]

DRIVE_FORMAT: Final = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""


def drive_document(drive: ReviewedDrive, version: str, data: str) -> str:
    """The review as JSON; numbers are SI, times seconds from the start of the log."""
    return (
        json.dumps(drive_record(drive, version, data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    )


def drive_record(drive: ReviewedDrive, version: str, data: str) -> dict[str, Any]:
    """The review as plain data."""
    review = drive.review
    return {
        "format": DRIVE_FORMAT,
        "made_by": {
            "program": "boostwright",
            "version": version,
            "data": data,
            "inputs": drive.fingerprint or None,
        },
        "build": drive.build or None,
        "log": {
            "file": review.file,
            "begins": review.begins,
            "seconds": review.seconds,
            "rows": review.rows,
            "rows_a_second": review.rate,
            "not_read": list(review.unknown),
            "notes": list(review.notes),
            "judged_only_in_part": list(drive.limits),
            "columns_as_said_before": drive.remembered,
        },
        "columns": [
            {
                "heading": c.heading,
                "quantity": c.key,
                "cylinder": c.cylinder or None,
                "unit": c.unit,
                "confidence": c.confidence,
                "readings_a_second": _number(c.rate),
                "step": _number(c.quantum),
                "noise": _number(c.noise),
                "note": c.note,
            }
            for c in review.channels
        ],
        "asked": [
            {
                "heading": q.heading,
                "why": q.why,
                "candidates": [
                    {"quantity": c.key, "unit": c.unit, "confidence": c.confidence, "reason": c.reason}
                    for c in q.candidates
                ],
            }
            for q in drive.questions
        ],
        "verdict": headline(review),
        "notices": [_notice(n) for n in review.notices],
        "pulls": [
            {
                **_stretch(p.stretch),
                "engine_speed_from": p.speed_from,
                "engine_speed_to": p.speed_to,
                "highest_pressure": _number(p.peak),
                "highest_at": _number(p.peak_speed),
                "target": _number(p.target),
                "target_met": p.met,
                "time_to_boost": _number(p.time_to_boost),
                "overshoot": _number(p.overshoot),
                "damping": _number(p.damping),
                "creep": _number(p.creep),
            }
            for p in review.pulls
        ],
        "stretches": [_stretch(s) for s in review.stretches],
        "cannot_show": [{"kinds": list(c.kinds), "reason": c.reason} for c in review.cannot_show],
        "model": _model(drive),
        "caution": caution_rows()["road"].text,
        "deference": deference(),
    }


def _model(drive: ReviewedDrive) -> dict[str, Any] | None:
    if drive.model is None:
        return None
    expectation, learned = drive.model.expectation, drive.model.learned
    return {
        "outside_air": None if expectation is None else expectation.outside.how,
        "powers": [] if expectation is None else [power_record(p) for p in expectation.powers],
        "compared": []
        if expectation is None
        else [
            {
                "quantity": c.key,
                "words": c.words,
                "dimension": c.dimension,
                "start": c.stretch.start,
                "time": c.time.tolist(),
                "engine_speed": c.speed.tolist(),
                "read": _numbers(c.read),
                "read_sd": _numbers(c.read_sd),
                "expected": _numbers(c.expected),
                "expected_sd": _numbers(c.expected_sd),
            }
            for c in expectation.compared
        ],
        "not_compared": [*(() if expectation is None else expectation.cannot), *drive.model.apart],
        "next_step": None if drive.model.step is None else step_record(drive.model.step),
        "learned": None if learned is None else learned_record(learned),
    }


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [_number(float(v)) for v in values]


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "of": reading.of,
        "value": _number(reading.value),
        "sd": _number(reading.sd),
        "dimension": reading.dimension,
        "channel": reading.channel or None,
        "text": reading_words(reading),
    }


def _stretch(stretch: Stretch) -> dict[str, Any]:
    return {
        "kind": stretch.kind,
        "start": stretch.start,
        "end": stretch.end,
        "first_row": stretch.first_row,
        "last_row": stretch.last_row,
        "gear": stretch.gear or None,
    }


def _notice(notice: Notice) -> dict[str, Any]:
    kind = notice_kinds()[notice.kind]
    return {
        "kind": notice.kind,
        "words": kind.words,
        "fault": notice.fault,
        "harm": kind.harm,
        "start": notice.start,
        "end": notice.end,
        "first_row": notice.first_row,
        "last_row": notice.last_row,
        "place": place_words(notice),
        "size": _reading(notice.size),
        "ratio": _number(notice.ratio),
        "channels": list(notice.channels),
        "also": [_reading(one) for one in notice.also],
        "note": notice.note,
        "why": kind.why,
        "change": list(kind.change),
    }


def write_drive(
    drive: ReviewedDrive,
    folder: Path,
    version: str,
    data: str,
    stamp: str,
    progress: Callable[[str], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Write review.txt, review.json and the plots as SVG and PNG; returns the paths. Raises OSError."""
    from boostwright.views.plots.drive import draw_drive

    folder.mkdir(parents=True, exist_ok=True)
    text, plain = folder / "review.txt", folder / "review.json"
    write_text(text, drive_report(drive, every=True, stamp=stamp, width=80))
    write_text(plain, drive_document(drive, version, data))
    return (text, plain, *draw_drive(drive, folder, stamp, version, progress))

"""The commissioning ladder for programs: JSON and CSV, and the folder that `--out` leaves."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from boostwright.findings.notes import deference
from boostwright.job.records import Override, to_plain
from boostwright.library.measurements import measurements
from boostwright.planning.ladder import Expected, Gate, Ladder, Limit, Rung, Stands
from boostwright.quantity import in_unit
from boostwright.views.files import write_text
from boostwright.views.ladder_page import ladder_report, sheet
from boostwright.views.ladder_words import unit_words
from boostwright.views.numbers import fill

__all__ = ["LADDER_FORMAT", "ladder_csv", "ladder_document", "ladder_record", "write_ladder"]

LADDER_FORMAT = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

_COLUMNS = (
    "number",
    "step",
    "state",
    "measurement",
    "words",
    "unit",
    "expect_low",
    "expect_high",
    "broken_off_below",
    "broken_off_above",
    "answers",
    "origin",
    "basis",
    "witness",
    "optional",
    "read",
    "state_of_reading",
    "who",
    "seen_by",
    "time",
)


def ladder_document(ladder: Ladder, version: str, data: str) -> str:
    """The ladder as JSON; numbers are SI, times UTC."""
    return json.dumps(ladder_record(ladder, version, data), indent=2, ensure_ascii=False) + "\n"


def ladder_record(ladder: Ladder, version: str, data: str) -> dict[str, Any]:
    """The ladder as plain data."""
    return {
        "format": LADDER_FORMAT,
        "version": version,
        "data": data,
        "fingerprint": ladder.fingerprint,
        "build": ladder.name,
        "air": {
            "words": ladder.air.words,
            "pressure": ladder.air.pressure,
            "temperature": ladder.air.temperature,
            "given": ladder.air.given,
        },
        "here": ladder.rungs[ladder.here].key if ladder.here < len(ladder.rungs) else None,
        "warnings": list(ladder.warnings),
        "overrides": [_override(one) for one in ladder.overrides],
        "steps": [_step(ladder, rung) for rung in ladder.rungs],
        "defer": deference(),
    }


def _override(one: Override) -> dict[str, Any]:
    return {key: value for key, value in to_plain(one).items() if key != "kind_of_record"}


def _step(ladder: Ladder, rung: Rung) -> dict[str, Any]:
    gate = ladder.gate(rung.key)
    return {
        "step": rung.key,
        "number": rung.number,
        "words": fill(rung.words),
        "state": _state(ladder, rung, gate),
        "open": gate.open,
        "own": gate.own,
        "barred": list(rung.barred),
        "critical": rung.critical,
        "people": list(rung.people),
        "task": rung.task,
        "tasks": list(rung.tasks),
        "waits": list(gate.waits),
        "why_shut": list(gate.why),
        "failed": gate.failed,
        "back": gate.back,
        "override": None if gate.override is None else _override(gate.override),
        "override_refused": gate.refused,
        "do": [fill(one) for one in rung.do],
        "watch": rung.watch,
        "break_off": list(rung.stop),
        "on_break_off": rung.on_stop,
        "evidence": list(rung.evidence),
        "cautions": [one.text for one in rung.cautions],
        "speeds": None if rung.speeds is None else list(rung.speeds),
        "readings": [_reading(stand) for stand in gate.readings],
    }


def _state(ladder: Ladder, rung: Rung, gate: Gate) -> str:
    if rung.barred:
        return "not to be gone"
    if gate.open:
        return "open"
    return "next" if rung.number - 1 == ladder.here else "shut"


def _limit(limit: Limit | None) -> dict[str, Any] | None:
    return None if limit is None else {"value": limit.value, "why": limit.why, "source": limit.source}


def _reading(stand: Stands) -> dict[str, Any]:
    expected, one = stand.expected, measurements()[stand.expected.measurement]
    reading = stand.reading
    return {
        "measurement": expected.measurement,
        "words": one.words,
        "unit": unit_words(one),
        "low": expected.low,
        "high": expected.high,
        "middle": expected.middle,
        "sd": expected.sd,
        "break_off_below": _limit(expected.stop_low),
        "break_off_above": _limit(expected.stop_high),
        "stands": _limit(expected.stands),
        "answers": list(expected.good),
        "origin": expected.origin.value,
        "basis": expected.how,
        "optional": expected.optional,
        "witness": expected.witness,
        "never_overridden": expected.never,
        "state": stand.state.value,
        "why": stand.why,
        "reading": None if reading is None else to_plain(reading),
    }


# -------------------------------------------------------------------------------------------------------- CSV


def ladder_csv(ladder: Ladder) -> str:
    """One row for each reading of each step, numbers in the unit of the column 'unit'."""
    text = io.StringIO()
    table = csv.DictWriter(text, _COLUMNS, lineterminator="\n")
    table.writeheader()
    for rung in ladder.rungs:
        gate = ladder.gate(rung.key)
        for stand in gate.readings:
            table.writerow(_row(ladder, rung, gate, stand))
    return text.getvalue()


def _number(value: float | None, expected: Expected) -> str:
    one = measurements()[expected.measurement]
    if value is None or one.dimension is None:
        return ""
    return f"{in_unit(value, one.unit, one.dimension) if one.unit else value:.6g}"


def _row(ladder: Ladder, rung: Rung, gate: Gate, stand: Stands) -> Mapping[str, Any]:
    expected, reading = stand.expected, stand.reading
    one = measurements()[expected.measurement]
    read = "" if reading is None else reading.answer or " ".join(_number(v, expected) for v in reading.values)
    return {
        "number": rung.number,
        "step": rung.key,
        "state": _state(ladder, rung, gate),
        "measurement": expected.measurement,
        "words": one.words,
        "unit": unit_words(one),
        "expect_low": _number(expected.low, expected),
        "expect_high": _number(expected.high, expected),
        "broken_off_below": _number(None if expected.stop_low is None else expected.stop_low.value, expected),
        "broken_off_above": _number(
            None if expected.stop_high is None else expected.stop_high.value, expected
        ),
        "answers": " or ".join(expected.good),
        "origin": expected.origin.value,
        "basis": expected.how,
        "witness": "yes" if expected.witness else "",
        "optional": "yes" if expected.optional else "",
        "read": read,
        "state_of_reading": stand.state.value,
        "who": "" if reading is None else reading.who,
        "seen_by": "" if reading is None else reading.witness,
        "time": "" if reading is None else reading.time,
    }


def write_ladder(ladder: Ladder, folder: Path, version: str, data: str) -> tuple[Path, ...]:
    """Write ladder.txt, sheet.txt, ladder.csv, ladder.json, and the expected pull as SVG and PNG.

    Returns the paths; the plot is left out where no pull could be computed. Raises OSError.
    """
    from boostwright.views.plots.ladder import draw_pull

    folder.mkdir(parents=True, exist_ok=True)
    stamp = f"boostwright {version} · data {data} · inputs {ladder.fingerprint[:16]}"
    written = []
    for name, text in (
        ("ladder.txt", ladder_report(ladder, every=True, stamp=stamp)),
        ("sheet.txt", sheet(ladder, stamp=stamp)),
        ("ladder.csv", ladder_csv(ladder)),
        ("ladder.json", ladder_document(ladder, version, data)),
    ):
        path = folder / name
        write_text(path, text)
        written.append(path)
    return (*written, *draw_pull(ladder, folder, version))

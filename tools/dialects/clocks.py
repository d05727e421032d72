"""How time is written: one kind of clock, or one fault of it, in each file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from tools.dialects.pairs import Column, answer, clock, column, decimals, grid, keep, lines_of, other
from tools.dialects.plain import text
from tools.dialects.truth import STRONG, Array

START = datetime(2026, 4, 17, 14, 3, 27, 250_000, tzinfo=UTC)


def few(t: Array, begin: float, comma: str = ".", wide: bool = True) -> list[Column]:
    """The columns that most of these files hold."""
    kw = {"begin": begin, "comma": comma}
    made = [
        column("engine speed (rpm)", "engine_speed", t, "rpm", 0, **kw),
        column("manifold pressure (kPa abs)", "manifold_pressure", t, "kPa", 1, **kw),
        column("lambda", "lambda", t, "lambda", 3, **kw),
    ]
    if wide:
        made += [
            column("throttle (%)", "throttle", t, "%", 1, **kw),
            column("road speed (km/h)", "road_speed", t, "km/h", 1, **kw),
        ]
    return made


def plain_file(
    name: str,
    why: str,
    heads: Sequence[Column],
    cols: Sequence[Column],
    separator: str = ",",
    *,
    span: float | None,
    by_row: bool = False,
    **more: object,
) -> None:
    """One table with its columns of stamps in front."""
    table = [*heads, *cols]
    told = answer(
        why, [c for c in table if c.lot != "clock"], rows=len(cols[0].cells), span=span, by_row=by_row, **more
    )
    keep(name, text(lines_of(table, separator)).encode(), told)


def _moments(t: Array) -> list[datetime]:
    return [START + timedelta(milliseconds=round(float(x) * 1e3)) for x in t]


def _iso() -> None:
    t = grid(45.0, 10.0)
    cells = [m.isoformat(timespec="milliseconds").replace("+00:00", "Z") for m in _moments(t)]
    plain_file(
        "clock_iso.csv",
        "ISO 8601 stamps in UTC",
        [clock("timestamp", cells)],
        few(t, 145.0),
        span=float(t[-1]),
        start=START.timestamp(),
    )


def _iso_offset() -> None:
    t = grid(45.0, 10.0)
    cells = [
        f"{(m + timedelta(hours=2)).isoformat(sep=' ', timespec='milliseconds')[:-6]}+0200"
        for m in _moments(t)
    ]
    plain_file(
        "clock_iso_offset.csv",
        "ISO stamps with a blank for the T and an offset of two hours without a colon",
        [clock("recorded at", cells)],
        few(t, STRONG + 278.0),
        span=float(t[-1]),
        start=START.timestamp(),
    )


def _two_columns() -> None:
    t = grid(45.0, 10.0)
    days = [m.strftime("%d.%m.%Y") for m in _moments(t)]
    hours = [m.strftime("%H:%M:%S,") + f"{m.microsecond // 1000:03d}" for m in _moments(t)]
    plain_file(
        "clock_date_and_time.csv",
        "date and time of day in two columns, day first, decimal comma",
        [clock("Datum", days), clock("Uhrzeit", hours)],
        few(t, 145.0, ","),
        ";",
        span=float(t[-1]),
    )


def _epoch_seconds() -> None:
    t = grid(45.0, 10.0)
    cells = [f"{START.timestamp() + x:.3f}" for x in t]
    plain_file(
        "clock_epoch_s.csv",
        "seconds since 1970",
        [clock("time", cells)],
        few(t, STRONG + 278.0),
        span=float(t[-1]),
        start=START.timestamp(),
    )


def _epoch_ms() -> None:
    t = grid(45.0, 10.0)
    cells = [str(round((START.timestamp() + x) * 1e3)) for x in t]
    plain_file(
        "clock_epoch_ms.csv",
        "milliseconds since 1970",
        [clock("unix_ms", cells)],
        few(t, 145.0),
        span=float(t[-1]),
        start=START.timestamp(),
    )


def _midnight() -> None:
    t = grid(45.0, 10.0)
    first = datetime(2026, 4, 17, 23, 59, 38, 500_000, tzinfo=UTC)
    cells = [(first + timedelta(milliseconds=round(float(x) * 1e3))).strftime("%H:%M:%S.%f")[:-3] for x in t]
    plain_file(
        "clock_over_midnight.csv",
        "time of day that runs over midnight",
        [clock("Time", cells)],
        few(t, 145.0),
        span=float(t[-1]),
    )


def _noon() -> None:
    t = grid(45.0, 10.0)
    first = datetime(2026, 4, 17, 12, 59, 35, 100_000, tzinfo=UTC)
    moments = [first + timedelta(milliseconds=round(float(x) * 1e3)) for x in t]
    cells = [m.strftime("%I:%M:%S.") + f"{m.microsecond // 1000:03d} PM" for m in moments]
    plain_file(
        "clock_twelve_hours.csv",
        "a twelve-hour clock that goes from 12:59 PM to 01:00 PM",
        [clock("Time of day", cells)],
        few(t, STRONG + 278.0),
        span=float(t[-1]),
    )


def _elapsed_ms() -> None:
    t = np.round(grid(45.0, 10.0) + 0.003 * np.sin(np.arange(450) * 1.7), 3)
    t[0] = 0.0
    cells = [str(round(float(x) * 1e3) + 182_340) for x in t]
    plain_file(
        "clock_elapsed_ms.csv",
        "milliseconds since switch-on, whole numbers, not from 0, rows a little early and late",
        [clock("ms", cells)],
        few(t, 145.0),
        span=float(t[-1]),
    )


def _elapsed_minutes() -> None:
    t = grid(45.0, 10.0)
    whole = np.round((t + 41.7) * 10).astype(int)
    cells = [f"{x // 600}:{x % 600 / 10:04.1f}" for x in whole]
    plain_file(
        "clock_minutes_seconds.csv",
        "elapsed minutes and seconds",
        [clock("Time (min:s)", cells)],
        few(t, STRONG + 278.0),
        span=float(t[-1]),
    )


def _elapsed_hours() -> None:
    t = grid(45.0, 10.0)
    whole = np.round((t + 3581.3) * 100).astype(int)
    cells = [f"{x // 360000}:{x // 6000 % 60:02d}:{x % 6000 / 100:05.2f}" for x in whole]
    plain_file(
        "clock_elapsed_hours.csv",
        "elapsed hours, minutes and seconds, across the full hour, beside a running number of the row",
        [other("No.", [str(i + 1) for i in range(len(t))]), clock("Elapsed", cells)],
        few(t, 145.0),
        span=float(t[-1]),
    )


def _unitless_last() -> None:
    t = grid(45.0, 10.0)
    cols = few(t, STRONG + 278.0)
    table = [*cols, clock("t", [f"{x:.1f}" for x in t])]
    keep(
        "clock_last_column.csv",
        text(lines_of(table)).encode(),
        answer(
            "the time stands in the last column, called t, without unit", cols, rows=len(t), span=float(t[-1])
        ),
    )


def _whole_seconds() -> None:
    t = grid(45.0, 10.0)
    cells = [(START + timedelta(seconds=float(x))).strftime("%H:%M:%S") for x in t]
    plain_file(
        "clock_whole_seconds.csv",
        "ten rows a second, but the clock shows whole seconds: every stamp stands about ten times",
        [clock("Time", cells)],
        few(t, 145.0),
        span=45.0,
        by_row=True,
    )


def _flushed() -> None:
    t = grid(45.0, 10.0)
    stuck = t[np.arange(len(t)) // 6 * 6]
    plain_file(
        "clock_repeats.csv",
        "rows are stamped when they are written, six at a time: stamps repeat",
        [clock("time (s)", [f"{x:.2f}" for x in stuck])],
        few(t, STRONG + 278.0),
        span=None,
        by_row=True,
    )


def _jumps_back() -> None:
    t = grid(45.0, 10.0)
    stamps = t.copy()
    stamps[180:] -= 4.3
    stamps[330:] += 1.1
    cells = [f"{x:.1f}" for x in stamps]
    for row, word in ((40, "--.-"), (41, "*****"), (200, ""), (310, "1e99x"), (311, "NaN")):
        cells[row] = word
    plain_file(
        "clock_jumps_back.csv",
        "the clock was set back by 4.3 s in the middle, forward by 1.1 s later; five stamps cannot be read",
        [clock("time (s)", cells)],
        few(t, 145.0),
        span=None,
        by_row=True,
    )


def _gaps() -> None:
    t = grid(95.0, 10.0)
    t = t[(t < 12.0) | ((t > 33.0) & (t < 51.0)) | (t > 80.0)]
    plain_file(
        "clock_gaps.csv",
        "recording stopped for 21 s and for 29 s, the clock ran on",
        [clock("Zeit (s)", [decimals(2, ",")(x) for x in t])],
        few(t, 145.0, ","),
        ";",
        span=float(t[-1]),
    )


def _restarted() -> None:
    t = grid(22.0, 10.0)
    both = np.concatenate([t, t + 38.0])
    cols = few(both, 145.0)
    table = [clock("time (s)", [f"{x:.2f}" for x in (*t, *t)]), *cols]
    lines = lines_of(table)
    lines.insert(len(t) + 1, lines[0])
    keep(
        "clock_restarts.csv",
        text(lines).encode(),
        answer(
            "two recordings one after the other in one file: headings again, and the clock begins anew at 0",
            cols,
            rows=len(both),
            span=None,
            by_row=True,
        ),
    )


ALL = (
    _iso,
    _iso_offset,
    _two_columns,
    _epoch_seconds,
    _epoch_ms,
    _midnight,
    _noon,
    _elapsed_ms,
    _elapsed_minutes,
    _elapsed_hours,
    _unitless_last,
    _whole_seconds,
    _flushed,
    _jumps_back,
    _gaps,
    _restarted,
)

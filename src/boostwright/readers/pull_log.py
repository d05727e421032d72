"""A logged full-throttle pull as bytes, to one value for each speed of the torque curve.

    speed [rpm]; lambda; manifold pressure [kPa]; spark [deg]; throttle [%]
    1480; 0,91; 99,2; 12,5; 100
    1525; 0,90; 99,1; 13,0; 100

A row of column names with their units behind them or in a row below, then one moment a line. Semicolons, tabs
or commas part the columns; with commas the decimal sign is a point. Lines that begin with # are remarks.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.catalogue import Field, catalogue
from boostwright.build.faults import Fault, Severity
from boostwright.quantity import Dimension, PressureKind, QuantityError, nearest, read, unit_names
from boostwright.readers.decode import LARGEST_FILE, decode
from boostwright.readers.fault_list import FaultList, Full

__all__ = ["CHANNELS", "PullLog", "read_pull_log"]

Array = NDArray[np.float64]

CHANNELS: Final[dict[str, tuple[str, ...]]] = {  # field of [baseline], or what only sorts the rows: names
    "speed": ("speed", "engine speed", "rpm", "n", "revs"),
    "throttle": ("throttle", "throttle position", "tps", "pedal"),
    "torque": ("torque", "crank torque", "engine torque"),
    "lambda": ("lambda", "mixture", "afr", "wideband"),
    "manifold_pressure": ("manifold pressure", "map", "plenum pressure", "intake pressure"),
    "air_temperature": ("air temperature", "iat", "intake temperature", "intake air temperature"),
    "spark": ("spark", "ignition", "ignition angle", "ignition timing", "advance", "timing"),
    "injector_time": ("injector time", "injection time", "pulse width", "injector pulse"),
    "air_flow": ("air flow", "airflow", "mass air flow", "maf", "air mass flow"),
    "exhaust_temperature": ("exhaust temperature", "egt", "exhaust gas temperature"),
}
MOST_ROWS: Final = 20_000
_MOST_FAULTS: Final = 40
_OPEN: Final = 0.9  # of full throttle; rows below are no pull
_WIDEST: Final = 150.0 * math.pi / 30.0  # half of the window around a speed of the curve [rad/s]
_BRIDGED: Final = (
    400.0 * math.pi / 30.0
)  # widest gap between two rows that a straight line may bridge [rad/s]
_BRACKETED = re.compile(r"^(?P<name>.*?)[\[(](?P<unit>[^\])]*)[\])]?\s*$")
_NUMBERLIKE = re.compile(r"^[+\-]?\s*[.,]?[0-9]")
_NUMBER = re.compile(r"^[+\-]?[0-9.,'\u2019]+(?:[eE][+\-]?[0-9]{1,3})?$")
_EMPTY: Final = ("", "nan", "-", "n/a", "na", "null")
_BARE: Final = {"lambda": "lambda", "afr": "", "spark": "deg", "speed": "rpm"}  # units that need not be said


class PullLog(NamedTuple):
    """What a log says at the speeds of the curve: by field of [baseline], SI; and what deserves a look."""

    values: dict[str, tuple[float, ...]]
    notes: tuple[Fault, ...]


class _Column(NamedTuple):
    channel: str
    at: int
    unit: str
    known: Field | None  # of [baseline]; None for the throttle


def read_pull_log(
    data: bytes, speeds: Sequence[float], file: str = "", barometer: float = 101325.0
) -> PullLog:
    """The log's channels, averaged around each speed of the torque curve.

    data: the file. speeds: crank speeds (n,) [rad/s], rising. barometer: for pressures that say they are
    gauge [Pa]. Rows below nine tenths of full throttle are left out where the log says the throttle. Around a
    speed count the rows within half the way to its neighbours, 150 rpm at most; with none there, a straight
    line between rows less than 400 rpm apart. Raises BuildFileError with every fault that can be read.
    """
    faults = FaultList(_MOST_FAULTS)
    found: dict[str, tuple[float, ...]] = {}
    try:
        found = _read(data, np.asarray(speeds, dtype=np.float64), barometer, faults)
    except Full:
        faults.cut_short()
    return PullLog(found, faults.settled(file or "the log"))


def _read(data: bytes, speeds: Array, barometer: float, faults: FaultList) -> dict[str, tuple[float, ...]]:
    if len(data) > LARGEST_FILE:
        faults.add(
            "too-large", 1, "", f"{len(data)} bytes", f"up to {LARGEST_FILE} bytes",
            "one pull is some seconds long", "Cut the log down to the pull.",
        )  # fmt: skip
        return {}
    lines, spoilt = decode(data)
    for fault in spoilt:
        faults.add(fault.code, fault.line, "", fault.written, fault.allowed, fault.why, fault.remedy)
    rows = [
        (number, line.strip())
        for number, line in enumerate(lines, 1)
        if line.strip(";,\t \r\n") and not line.lstrip().startswith(("#", "//"))
    ]
    columns, body, delimiter = _header(rows, faults)
    if columns is None:
        return {}
    if len(body) > MOST_ROWS:
        faults.add(
            "too-long", body[MOST_ROWS][0], "", f"{len(body)} rows", f"up to {MOST_ROWS}",
            "one pull is some seconds long", "Cut the log down to the pull.",
        )  # fmt: skip
        return {}
    table = _numbers(columns, body, delimiter, barometer, faults)
    if table is None:
        return {}
    return _at_speeds(columns, table, speeds, body[0][0], faults)


def _header(
    rows: list[tuple[int, str]], faults: FaultList
) -> tuple[list[_Column] | None, list[tuple[int, str]], str]:
    """The columns that are read, the rows of numbers, and what parts them."""
    if len(rows) < 2:
        faults.add(
            "missing-value", 1, "", "nothing", "", "there are no rows in this file",
            "Write a row of names, like speed [rpm]; lambda; spark [deg], and one moment a line below.",
        )  # fmt: skip
        return None, [], ";"
    line, text = rows[0]
    delimiter = next((sign for sign in (";", "\t", ",") if sign in text), ";")
    names, body = _cells(text, delimiter), rows[1:]
    below = _cells(body[0][1], delimiter)
    units = [""] * len(names)
    if not any(_NUMBERLIKE.match(cell) for cell in below):
        units = [cell.strip("[]() ") for cell in below] + [""] * len(names)
        line_of_units, body = body[0][0], body[1:]
    else:
        line_of_units = line
    found: dict[str, _Column] = {}
    sound = True
    for at, cell in enumerate(names[:100]):
        match = _BRACKETED.match(cell)
        bare, unit = (match["name"], match["unit"].strip()) if match else (cell, "")
        name = " ".join(re.split(r"[^a-z0-9]+", bare.casefold())).strip()
        channel = next((key for key, known in CHANNELS.items() if name in known), None)
        if channel is None:
            if name:
                near = nearest(name, [n for known in CHANNELS.values() for n in known], count=1, cutoff=0.8)
                faults.add(
                    "unknown-key", line, "", cell, "", f"the column '{cell[:40]}' is not read",
                    f"If it is {near[0]}, call it so." if near else "Nothing to do if it is not needed.",
                    Severity.NOTE, at + 1,
                )  # fmt: skip
            continue
        if channel in found:
            faults.add(
                "duplicate-key", line, channel, cell, "each once", f"{channel} stands twice",
                "Take out or rename one.", column=at + 1,
            )  # fmt: skip
            sound = False
            continue
        unit = next((u for u in (unit, units[at]) if u not in ("", "-", "1")), "")
        unit = unit or _BARE.get(name, _BARE.get(channel, "") if name != "afr" else "")
        known = None if channel == "throttle" else catalogue().field(f"baseline.{channel}")
        sound &= _unit_is_good(channel, unit, known, (line_of_units, at + 1), faults)
        found[channel] = _Column(channel, at, unit, known)
    if "speed" not in found:
        faults.add(
            "missing-key", line, "speed", text, ", ".join(CHANNELS["speed"]),
            "there is no column of engine speed", "Name one column 'speed [rpm]'.",
        )  # fmt: skip
        sound = False
    return (list(found.values()) if sound and body else None), body, delimiter


def _unit_is_good(
    channel: str, unit: str, known: Field | None, where: tuple[int, int], faults: FaultList
) -> bool:
    dimension = known.dimension if known is not None else Dimension.SHARE
    assert dimension is not None
    try:
        read(f"1 {unit}" if unit else "1", dimension)
    except QuantityError as error:
        offered = ", ".join(unit_names(dimension)[:5])
        faults.add(
            error.code, where[0], channel, unit or "no unit", offered, error.why,
            f"Write it behind the column's name: {channel.replace('_', ' ')} [{offered.split(',')[0]}].",
            column=where[1],
        )  # fmt: skip
        return False
    return True


def _numbers(
    columns: list[_Column], body: list[tuple[int, str]], delimiter: str, barometer: float, faults: FaultList
) -> dict[str, Array] | None:
    """By channel, one SI value for each row; NaN where a cell is empty. None with a fault."""
    table = {column.channel: np.full(len(body), math.nan) for column in columns}
    before = len(faults.found)
    for k, (line, text) in enumerate(body):
        cells = _cells(text, delimiter)
        for column in columns:
            cell = cells[column.at] if column.at < len(cells) else ""
            if cell.casefold() in _EMPTY:
                continue
            try:
                value = _value(cell, column, barometer)
            except QuantityError as error:
                faults.add(
                    error.code, line, column.channel, cell, "", error.why, error.remedy,
                    column=column.at + 1,
                )  # fmt: skip
                continue
            known = column.known
            if known is not None and known.low is not None and known.high is not None:
                slow = column.channel == "speed" and 0.0 <= value < known.low  # the car may have stood
                if not (known.low <= value <= known.high or slow):
                    faults.add(
                        "out-of-range", line, column.channel, f"{cell} {column.unit}".strip(), "",
                        f"{known.words}: {known.reason}", "Look at the number and at the column's unit.",
                        column=column.at + 1,
                    )  # fmt: skip
                    continue
            table[column.channel][k] = value
    hard = [f for f in faults.found[before:] if f.severity is Severity.FAULT]
    return None if hard else table


def _value(cell: str, column: _Column, barometer: float) -> float:
    dimension = Dimension.SHARE if column.known is None else column.known.dimension
    assert dimension is not None
    if len(cell) > 40 or not _NUMBER.match(cell):
        raise QuantityError("no-number", "this is no number", "Write one number here, or leave it empty.")
    quantity = read(f"{cell} {column.unit}".strip(), dimension)
    if quantity.kind is PressureKind.GAUGE:
        return quantity.value + barometer
    return quantity.value


def _at_speeds(
    columns: list[_Column], table: dict[str, Array], speeds: Array, line: int, faults: FaultList
) -> dict[str, tuple[float, ...]]:
    if all(column.channel in ("speed", "throttle") for column in columns):
        known = ", ".join(name.replace("_", " ") for name in CHANNELS if name not in ("speed", "throttle"))
        faults.add(
            "missing-value", line, "", "", known, "beside the speed there is no column that can be read here",
            "Name the columns in the first row, like speed [rpm]; lambda; spark [deg]. Is it broken in two?",
        )  # fmt: skip
        return {}
    speed = table["speed"]
    pull = np.isfinite(speed)
    if "throttle" in table:
        pull &= ~(table["throttle"] < _OPEN)
    gaps = np.diff(speeds)
    reach = np.minimum(0.5 * np.minimum(np.append(gaps, np.inf), np.insert(gaps, 0, np.inf)), _WIDEST)
    found = {}
    for column in columns:
        if column.channel in ("speed", "throttle"):
            continue
        good = pull & np.isfinite(table[column.channel])
        at, values = speed[good], table[column.channel][good]
        row = [_near(at, values, float(s), float(r)) for s, r in zip(speeds, reach, strict=True)]
        missing = [f"{s * 30.0 / math.pi:.0f}" for s, v in zip(speeds, row, strict=True) if math.isnan(v)]
        if missing:
            faults.add(
                "missing-value", line, column.channel, "", "",
                f"the pull says nothing of {column.channel.replace('_', ' ')} near {', '.join(missing)} rpm",
                "Log a pull through all speeds of the curve, or take those speeds out of baseline.speed.",
                column=column.at + 1,
            )  # fmt: skip
            continue
        found[column.channel] = tuple(row)
    return found


def _near(at: Array, values: Array, speed: float, reach: float) -> float:
    """Mean of the rows around a speed, or a straight line between the next ones; NaN without either."""
    near = np.abs(at - speed) <= reach
    if near.any():
        return float(values[near].mean())
    below, above = at <= speed, at >= speed
    if not (below.any() and above.any()):
        return math.nan
    low, high = at[below].max(), at[above].min()
    if high - low > _BRIDGED:
        return math.nan
    ends = [float(values[at == end].mean()) for end in (low, high)]
    return float(np.interp(speed, [low, high], ends))


def _cells(text: str, delimiter: str) -> list[str]:
    return [cell.strip().strip('"').strip() for cell in text.split(delimiter)]

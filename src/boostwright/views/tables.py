"""The tables of a report: the engine before the turbo, the operating line with it, and its bands."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import BaselineLine, GoalLine
from boostwright.findings.model import Kind
from boostwright.findings.trust_records import Band
from boostwright.views.units import SHOWN

__all__ = ["Column", "band_table", "baseline_columns", "baseline_table", "goal_columns", "goal_table"]

Array = NDArray[np.float64]


class Column(NamedTuple):
    """One column: two head words, its kind, SI values (n,), decimals shown, what to show for not-a-number."""

    head: tuple[str, str]
    kind: Kind
    values: Array
    decimals: int
    missing: str = "-"


def _before(spark: Array) -> Array:
    return np.asarray(-spark)


def baseline_columns(line: BaselineLine) -> tuple[Column, ...]:
    """The columns of the baseline table."""
    r = line.result
    return (
        Column(("speed", "rpm"), Kind.ENGINE_SPEED, line.speeds, 0),
        Column(("torque", "N m"), Kind.TORQUE, r.torque, 0),
        Column(("power", "kW"), Kind.POWER, r.power, 0),
        Column(("air", "g/s"), Kind.MASS_FLOW, r.air_flow, 0),
        Column(("filling", "%"), Kind.SHARE, r.volumetric_efficiency, 0),
        Column(("MBT", "deg"), Kind.CRANK_ANGLE, _before(line.mbt_spark), 0),
        Column(("knock", "deg"), Kind.CRANK_ANGLE, _before(line.knock_spark), 0, "free"),
        Column(("half", "deg"), Kind.CRANK_ANGLE, r.ca50, 0),
        Column(("peak", "bar"), Kind.PRESSURE, r.peak_pressure, 0),
        Column(("valve", "degC"), Kind.TEMPERATURE, r.exhaust_valve_temperature, 0),
        Column(("burned", "%"), Kind.SHARE, r.residual, 1),
        Column(("fuel", "g/kWh"), Kind.FUEL_PER_WORK, r.fuel_flow / np.maximum(r.power, 1.0), 0),
    )


def goal_columns(line: GoalLine) -> tuple[Column, ...]:
    """The columns of the table with the turbo."""
    r = line.result
    return (
        Column(("speed", "rpm"), Kind.ENGINE_SPEED, line.speed, 0),
        Column(("boost", "bar"), Kind.PRESSURE_GAUGE, line.boost, 2),
        Column(("torque", "N m"), Kind.TORQUE, r.torque, 0),
        Column(("power", "kW"), Kind.POWER, r.power, 0),
        Column(("air", "g/s"), Kind.MASS_FLOW, r.air_flow, 0),
        Column(("charge", "degC"), Kind.TEMPERATURE, line.plenum_temperature, 0),
        Column(("spark", "deg"), Kind.CRANK_ANGLE, _before(line.used_spark), 0),
        Column(("half", "deg"), Kind.CRANK_ANGLE, r.ca50, 0),
        Column(("peak", "bar"), Kind.PRESSURE, r.peak_pressure, 0),
        Column(("valve", "degC"), Kind.TEMPERATURE, r.exhaust_valve_temperature, 0),
        Column(("ratio", ""), Kind.RATIO, line.pressure_ratio, 2),
        Column(("wheel", "m/s"), Kind.VELOCITY, line.tip_speed, 0),
    )


_BASELINE_NOTE = (
    "filling: volumetric efficiency on plenum density. MBT: spark of greatest torque, knock: spark at the"
    " knock limit, both before top dead centre. half: half of the charge burned, after top dead centre."
    " valve: gas at the exhaust valve. burned: burned gas left in the charge."
)
_GOAL_NOTE = (
    "boost: in the plenum, gauge. spark: the one used, before top dead centre (the later of MBT and knock"
    " limit): what this gas allows, no setting for a controller. ratio: compressor pressure ratio. wheel:"
    " compressor tip speed."
)


def baseline_table(line: BaselineLine, width: int) -> list[str]:
    """The baseline as lines of text, with a note that explains its short heads."""
    return _table(baseline_columns(line), width) + _note(_BASELINE_NOTE, width)


def goal_table(line: GoalLine, width: int) -> list[str]:
    """The operating line as lines of text, with its note."""
    return _table(goal_columns(line), width) + _note(_GOAL_NOTE, width)


_BANDS = (
    (("boost", "bar"), "goal.boost", Kind.PRESSURE_GAUGE, 1.0, 2),
    (("torque", "N m"), "goal.torque", Kind.TORQUE, 1.0, 0),
    (("air", "g/s"), "goal.air_flow", Kind.MASS_FLOW, 1.0, 0),
    (("charge", "degC"), "goal.plenum_temperature", Kind.TEMPERATURE, 1.0, 0),
    (("spark", "deg"), "goal.used_spark", Kind.CRANK_ANGLE, -1.0, 0),
    (("exhaust", "degC"), "goal.turbine_inlet_temperature", Kind.TEMPERATURE, 1.0, 0),
    (("duty", "%"), "goal.duty", Kind.SHARE, 1.0, 0),
)


def band_table(speed: Array, bands: Mapping[str, Band], width: int) -> list[str]:
    """What draws make of the operating line: 'low to high' for each speed, as lines of text."""
    speeds = _cells(Column(("speed", "rpm"), Kind.ENGINE_SPEED, speed, 0))
    heads, columns = [("speed", "rpm")], [speeds]
    for head, name, kind, sign, decimals in _BANDS:
        band = bands.get(name)
        if band is None or band.low.shape != speed.shape:
            continue
        ends = sorted((sign * band.low, sign * band.high), key=lambda a: float(np.nansum(a)))
        low, high = (_cells(Column(head, kind, end, decimals)) for end in ends)
        heads.append(head)
        columns.append([f"{a} to {b}" if "-" not in (a, b) else "-" for a, b in zip(low, high, strict=True)])
    widths = [max(len(t) for t in (*h, *c)) for h, c in zip(heads, columns, strict=True)]
    while sum(widths) + 2 * (len(widths) - 1) > width and len(widths) > 2:
        heads, columns, widths = heads[:-1], columns[:-1], widths[:-1]
    rows = [[h[0] for h in heads], [h[1] for h in heads], *(list(r) for r in zip(*columns, strict=True))]
    return ["  ".join(t.rjust(w) for t, w in zip(row, widths, strict=True)).rstrip() for row in rows]


def _note(text: str, width: int) -> list[str]:
    return ["", *textwrap.wrap(text, width)]


def _table(columns: Sequence[Column], width: int) -> list[str]:
    cells = [_cells(c) for c in columns]
    widths = [max(len(h) for h in (*c.head, *column)) for c, column in zip(columns, cells, strict=True)]
    left_out = 0
    while sum(widths) + 2 * (len(widths) - 1) > width and len(widths) > 2:
        cells, columns, widths = cells[:-1], columns[:-1], widths[:-1]
        left_out += 1
    gap = min(3, max(1, (width - sum(widths)) // max(1, len(widths) - 1)))
    rows = [[c.head[0] for c in columns], [c.head[1] for c in columns]]
    rows += [list(row) for row in zip(*cells, strict=True)]
    line: Callable[[Sequence[str]], str] = lambda row: (" " * gap).join(  # noqa: E731
        text.rjust(w) for text, w in zip(row, widths, strict=True)
    )
    lines = [line(row).rstrip() for row in rows]
    if left_out:
        lines += textwrap.wrap(
            f"{left_out} more columns need a wider window; the JSON results hold them.", width
        )
    return lines


def _cells(column: Column) -> list[str]:
    shown = SHOWN[column.kind]
    out = []
    for value in np.asarray(column.values, dtype=float):
        number = (float(value) - shown.offset) / shown.factor
        out.append(f"{number:.{column.decimals}f}" if math.isfinite(number) else column.missing)
    return ["0" if text in ("-0", "-0.0") else text for text in out]

"""Habits that few speak of: what lost power, spreadsheets and scripts leave behind; a log of everything."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tools.dialects.clocks import START, few, plain_file
from tools.dialects.odd import stamps
from tools.dialects.pairs import answer, clock, column, grid, keep, lines_of, other
from tools.dialects.plain import swing, text
from tools.dialects.truth import STRONG, at


def _interleaved() -> None:
    begin, t = 145.0, grid(40.0, 10.0)
    late = grid(39.0, 4.0)
    both, ours = np.concatenate([t, late]), np.arange(len(t) + len(late)) < len(t)
    order = np.argsort(both, kind="stable")
    both, ours = both[order], ours[order]
    cols = [
        column("engine speed (rpm)", "engine_speed", both, "rpm", 0, begin=begin),
        column("manifold pressure (kPa abs)", "manifold_pressure", both, "kPa", 1, begin=begin),
        column("throttle (%)", "throttle", both, "%", 1, begin=begin),
        column("lambda", "lambda", both, "lambda", 3, begin=begin),
        column("exhaust gas (degC)", "exhaust_temperature", both, "degC", 0, begin=begin),
    ]
    known, table = [], [stamps(both), other("device", ["controller" if yes else "gauge" for yes in ours])]
    for i, made in enumerate(cols):
        here = ours if i < 3 else ~ours
        known.append(replace(made, true=made.true[here], seconds=both[here]))
        table.append(
            other(made.heading, [cell if yes else "" for cell, yes in zip(made.cells, here, strict=True)])
        )
    told = answer(
        "rows of two devices in the order of time, a column says whose; each fills its own cells only",
        [*known, table[1]],
        rows=None,  # a reader may part the devices again
        span=float(both[-1]),
    )
    keep("two_sources_interleaved.csv", text(lines_of(table)).encode(), told)


def _epoch_ns() -> None:
    t = grid(45.0, 10.0)
    first = round(START.timestamp() * 1e3)
    cells = [str((first + round(float(x) * 1e3)) * 1_000_000) for x in t]
    plain_file(
        "clock_epoch_ns.csv",
        "nanoseconds since 1970: nineteen digits, more than a float holds",
        [clock("timestamp_ns", cells)],
        few(t, STRONG + 278.0),
        span=float(t[-1]),
        start=START.timestamp(),
    )


def _minutes() -> None:
    t = grid(45.0, 10.0)
    plain_file(
        "clock_decimal_minutes.csv",
        "elapsed time in decimal minutes",
        [clock("Time (min)", [f"{x / 60.0:.6f}" for x in t])],
        few(t, 145.0),
        span=float(t[-1]),
    )


def _spellings() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    kw = {"begin": begin}
    speed = column("engine speed (rpm)", "engine_speed", t, "rpm", 1, write=lambda x: f"{x:.5E}", **kw)
    cols = [
        replace(speed, tolerance=max(speed.tolerance, 0.0053)),
        column(
            "manifold pressure (kPa abs)", "manifold_pressure", t, "kPa", 1, write=lambda x: f"{x:+.1f}", **kw
        ),
        column("λ", "lambda", t, "lambda", 3, write=lambda x: f"{x:.3f}".removeprefix("0"), **kw),
        column(
            "λ target", "lambda_target", t, "lambda", 2, write=lambda x: f"{x:.2f}".removeprefix("0"), **kw
        ),
        column("intake air (°C)", "intake_temperature", t, "degC", 1, write=lambda x: f"{x:05.1f}", **kw),
        other("yaw rate (°/s)", [cell.replace("-", "−") for cell in swing(t, 20.0, 2)]),
        column(
            "acceleration (g)", "acceleration", t, "g", 3, write=lambda x: f"{x:.3f}".replace("-", "−"), **kw
        ),
    ]
    plain_file(
        "number_spellings.csv",
        "exponents, a plus, no zero before the point, zeros in front, a typographic minus; λ as a name",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _knock_correction() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    knock = [
        column(
            f"knock correction {i} (deg)",
            "knock_retard",
            t,
            "deg after",
            2,
            begin=begin,
            cylinder=i,
            lot="may ask",
        )
        for i in range(1, 5)
    ]
    knock = [replace(c, cells=tuple("0.00" if x == "-0.00" else x for x in c.cells)) for c in knock]
    plain_file(
        "knock_correction_negative.csv",
        "what knock takes away is written as a negative correction: the same retard, or a question",
        [stamps(t)],
        [*few(t, begin), *knock],
        span=float(t[-1]),
    )


def _group_row() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    lines = ["Clock,Engine,,,Driver,Car", *lines_of([stamps(t), *cols])]
    told = answer(
        "a row of groups above the headings, empty where a cell was joined with its neighbour",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("group_row.csv", text(lines).encode(), told)


def _line_ends() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    cols = few(t, begin)
    lines = lines_of([stamps(t), *cols])
    told = answer(
        "line ends doubled on their way through two programs: an empty line after each row",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("line_ends_doubled.csv", text(lines, "\r\r\n").encode(), told)


def _lost_power() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    told = answer(
        "power was lost: the space that the logger had set aside is full of zero bytes",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("zero_bytes_at_end.csv", text(lines_of([stamps(t), *cols])).encode() + bytes(4096), told)


def _footer() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    cols = few(t, begin)
    lines = lines_of([stamps(t, "Time (s)"), *cols], ";")
    numbers = [[float(cell) for cell in c.cells] for c in cols]
    lines += [
        "",
        "Minimum;" + ";".join(f"{min(x):g}" for x in numbers),
        "Maximum;" + ";".join(f"{max(x):g}" for x in numbers),
        "Mean;" + ";".join(f"{sum(x) / len(x):.4g}" for x in numbers),
        "End of recording",
    ]
    told = answer(
        "lowest, highest and mean values and a last sentence under the rows: they are no rows",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("summary_at_end.csv", text(lines).encode(), told)


def _everything() -> None:
    t, begin = grid(34.0, 5.0), 151.0
    kw = {"begin": begin}
    cols = [
        column("engine speed (rpm)", "engine_speed", t, "rpm", 0, **kw),
        column("manifold pressure (kPa abs)", "manifold_pressure", t, "kPa", 1, **kw),
        column("charge pressure before throttle (kPa abs)", "charge_pressure", t, "kPa", 1, **kw),
        column("barometer (kPa)", "barometer", t, "kPa", 1, **kw),
        column("exhaust manifold pressure (kPa abs)", "back_pressure", t, "kPa", 1, **kw),
        column("boost target (kPa abs)", "boost_target", t, "kPa", 1, **kw),
        column("throttle (%)", "throttle", t, "%", 1, **kw),
        column("pedal (%)", "pedal", t, "%", 1, **kw),
        column("lambda", "lambda", t, "lambda", 3, **kw),
        column("lambda target", "lambda_target", t, "lambda", 2, **kw),
        column("short-term fuel correction (%)", "fuel_trim", t, "%", 2, **kw),
        column("long-term fuel correction (%)", "fuel_trim_long", t, "%", 2, **kw),
        column("injector pulse (ms)", "injector_pulse", t, "ms", 2, **kw),
        column("injector duty (%)", "injector_duty", t, "%", 1, **kw),
        column("spark advance (deg BTDC)", "spark_advance", t, "deg", 2, **kw),
        column("spark from table (deg BTDC)", "spark_table", t, "deg", 2, **kw),
        column("knock count", "knock_count", t, "1", 0, **kw),
        column("intake air after cooler (degC)", "intake_temperature", t, "degC", 1, **kw),
        column("air after compressor (degC)", "compressor_temperature", t, "degC", 1, **kw),
        column("outside air (degC)", "outside_temperature", t, "degC", 1, **kw),
        column("coolant (degC)", "coolant_temperature", t, "degC", 1, **kw),
        column("oil temperature (degC)", "oil_temperature", t, "degC", 0, **kw),
        column("oil pressure (bar gauge)", "oil_pressure", t, "bar", 2, **kw),
        column("fuel pressure (bar gauge)", "fuel_pressure", t, "bar", 2, **kw),
        column("fuel pressure across injector (bar)", "fuel_pressure_difference", t, "bar", 2, **kw),
        column("battery (V)", "battery_voltage", t, "V", 2, **kw),
        column("road speed (km/h)", "road_speed", t, "km/h", 1, **kw),
        column("gear", "gear", t, "1", 0, **kw),
        column("wastegate duty (%)", "gate_duty", t, "%", 1, **kw),
        column("exhaust gas before turbine (degC)", "exhaust_temperature", t, "degC", 0, **kw),
        column("crankcase pressure (kPa gauge)", "crankcase_pressure", t, "kPa", 2, **kw),
        column("air mass flow (g/s)", "air_flow", t, "g/s", 2, **kw),
        column("turbo speed (rpm)", "turbo_speed", t, "rpm", 0, **kw),
        column("longitudinal acceleration (g)", "acceleration", t, "g", 3, **kw),
        column("altitude (m)", "altitude", t, "m", 1, **kw),
        other("engine torque (Nm)", [f"{x:.0f}" for x in 8e-4 * (at("manifold_pressure", begin + t) - 3e4)]),
        other("steering angle (deg)", swing(t, 150.0, 0)),
    ]
    plain_file(
        "all_quantities.csv",
        "every quantity that a log may hold and that has no cylinder, each clearly named",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


ALL = (
    _interleaved,
    _epoch_ns,
    _minutes,
    _spellings,
    _knock_correction,
    _group_row,
    _line_ends,
    _lost_power,
    _footer,
    _everything,
)

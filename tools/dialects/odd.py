"""Odd tables: doubled and empty headings, metadata, long format, several sources, sick sensors."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tools.dialects.clocks import START, few, plain_file
from tools.dialects.pairs import (
    Column,
    answer,
    blank,
    clock,
    column,
    decimals,
    grid,
    keep,
    lines_of,
    other,
    replaced,
)
from tools.dialects.plain import swing, text
from tools.dialects.truth import HIGH, STRONG, Array


def stamps(t: Array, heading: str = "time (s)", places: int = 2, comma: str = ".") -> Column:
    """Elapsed seconds."""
    return clock(heading, [decimals(places, comma)(float(x)) for x in t])


def _doubled_and_empty() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = [
        column("RPM", "engine_speed", t, "rpm", 0, begin=begin),
        column("MAP (kPa)", "manifold_pressure", t, "kPa", 1, begin=begin),
        column("RPM", "engine_speed", t, "rpm", 0, begin=begin),
        other("", [str(17 * i % 256) for i in range(len(t))]),
        column("Lambda", "lambda", t, "lambda", 3, begin=begin),
        column("TPS (%)", "throttle", t, "%", 1, begin=begin),
        column("Lambda", "lambda", t, "lambda", 2, begin=begin),
        other("", [""] * len(t)),
    ]
    plain_file(
        "headings_doubled_and_empty.csv",
        "two headings stand twice; one column has no heading but figures, one has neither",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _more_fields() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    cols = few(t, begin)
    lines = lines_of([stamps(t), *cols])
    for i in range(1, len(lines)):
        lines[i] += f",{i % 7},ok"
    told = answer(
        "every row has two more cells than there are headings", cols, rows=len(t), span=float(t[-1])
    )
    keep("more_fields_than_headings.csv", text(lines).encode(), told)


def _short_rows() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    rows = [100, 101, 300]
    cols[3] = blank(cols[3], [*rows, 449], [""])
    cols[4] = blank(cols[4], [*rows, 449], [""])
    lines = lines_of([stamps(t), *cols])
    for row in (*rows, len(t) - 1):
        lines[row + 1] = lines[row + 1].rstrip(",")
    told = answer(
        "three rows end early, and the last one breaks off without a line end",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("rows_cut_short.csv", "\n".join(lines).encode(), told)


def _metadata_lines() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    kw = {"begin": begin, "comma": ","}
    cols = [
        column("Engine speed", "engine_speed", t, "rpm", 0, **kw),
        column("Boost pressure (absolute)", "charge_pressure", t, "mbar", 0, **kw),
        column("Manifold pressure (absolute)", "manifold_pressure", t, "mbar", 0, **kw),
        column("Intake air", "intake_temperature", t, "degC", 1, shown="°C", **kw),
        column("Coolant", "coolant_temperature", t, "degC", 1, shown="°C", **kw),
        column("Road speed", "road_speed", t, "km/h", 1, **kw),
    ]
    head = [
        "Recorded with the grey box in the boot",
        "Driver: nobody; car: hatchback, 5 doors",
        "Date;17.04.2026",
        "Start;14:03:27",
        "Sample rate;10;Hz",
        "Limits;0;7000;rpm",
        "",
    ]
    lines = head + lines_of([stamps(t, "Time", comma=","), *cols], ";", unit_row=True)
    told = answer(
        "seven lines about the recording, some with separators and figures, before headings and units",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("metadata_lines.csv", text(lines, "\r\n").encode("latin-1"), told)


def _metadata_cells() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    facts = ["Car;invented hatchback", "Tyres;195/55 R15", "Fuel;petrol, 95 RON", "Weather;dry, 14 °C"]
    lines = lines_of([stamps(t), *cols])
    for i in range(len(lines)):
        lines[i] += "," + (
            f',"{facts[i].split(";")[0]}","{facts[i].split(";")[1]}"' if i < len(facts) else ",,"
        )
    told = answer(
        "facts about the car stand right of the table in the first rows and the heading row",
        cols,
        rows=len(t),
        span=float(t[-1]),
        not_guessed=["Car", "invented hatchback"],
    )
    keep("metadata_cells.csv", text(lines).encode(), told)


def _long(
    separator: str, comma: str, ms: bool, with_unit: bool, begin: float
) -> tuple[list[str], list[Column]]:
    """Lines of a long table: one reading a line, in the order of time."""
    kinds: Sequence[tuple[str, str, str, int, float]] = (
        ("Engine speed", "engine_speed", "rpm", 0, 10.0),
        ("Manifold pressure abs", "manifold_pressure", "kPa", 1, 10.0),
        ("Throttle", "throttle", "%", 1, 5.0),
        ("Lambda", "lambda", "lambda", 3, 5.0),
        ("Road speed", "road_speed", "km/h", 1, 2.5),
        ("Coolant temperature", "coolant_temperature", "degC", 1, 1.0),
    )
    cols, rows = [], []
    for order, (name, key, unit, places, rate) in enumerate(kinds):
        t = grid(32.0, rate)
        shown = "-" if unit == "lambda" else unit
        heading = name if with_unit else f"{name} [{shown}]"
        made = column(heading, key, t, unit, places, begin=begin, comma=comma)
        cols.append(made)
        for x, cell in zip(t, made.cells, strict=True):
            stamp = str(round((START.timestamp() + x) * 1e3)) if ms else decimals(2, comma)(float(x))
            rows.append((round(float(x), 3), order, [stamp, heading, cell] + ([shown] if with_unit else [])))
    return [separator.join(cells) for _, _, cells in sorted(rows)], cols


def _long_format() -> None:
    lines, cols = _long(",", ".", ms=False, with_unit=True, begin=147.0)
    told = answer("long format: time, name, value and unit, one reading a line", cols, rows=None, span=31.9)
    keep("long_format.csv", text(["time_s,signal,value,unit", *lines]).encode(), told)


def _long_format_epoch() -> None:
    lines, cols = _long(";", ",", ms=True, with_unit=False, begin=185.0)
    told = answer(
        "long format, semicolon, decimal comma, epoch in milliseconds, the unit within the name",
        cols,
        rows=None,
        span=31.9,
        start=START.timestamp(),
    )
    keep("long_format_epoch.txt", text(["Zeitstempel;Kanal;Wert", *lines], "\r\n").encode(), told)


def _mixed_rates() -> None:
    t, begin = grid(40.0, 20.0), 145.0
    cols = [
        column("engine speed (rpm)", "engine_speed", t, "rpm", 0, begin=begin),
        column("manifold pressure (kPa abs)", "manifold_pressure", t, "kPa", 1, begin=begin),
        column("lambda", "lambda", t, "lambda", 3, begin=begin, every=2),
        column("road speed (km/h)", "road_speed", t, "km/h", 1, begin=begin, every=4),
        column("coolant (degC)", "coolant_temperature", t, "degC", 1, begin=begin, every=20),
        column("oil temperature (degC)", "oil_temperature", t, "degC", 0, begin=begin, every=40, hold=True),
        column("barometer (kPa)", "barometer", t, "kPa", 1, begin=begin, every=200),
    ]
    plain_file(
        "mixed_rates.csv",
        "slow channels leave their cells empty between readings, one repeats its last value",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _sick_sensors() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    coolant = column("coolant (degC)", "coolant_temperature", t, "degC", 1, begin=begin)
    intake = column("intake air (degC)", "intake_temperature", t, "degC", 1, begin=begin)
    oil = column("oil pressure (kPa gauge)", "oil_pressure", t, "kPa", 0, begin=begin)
    road = column("road speed (km/h)", "road_speed", t, "km/h", 2, begin=begin)
    battery = column("battery (V)", "battery_voltage", t, "V", 2, begin=begin)
    cols = [
        *few(t, begin, wide=False),
        replaced(coolant, slice(60, 450), coolant.cells[60], float(coolant.true[60])),
        replaced(intake, slice(200, 290), "-55.0", 218.15),
        replaced(oil, slice(310, 340), "6553", 6553e3),
        replaced(road, slice(120, 123), "655.35", 655.35 / 3.6),
        replaced(battery, slice(0, 450), "14.10", 14.10),
    ]
    plain_file(
        "sick_sensors.csv",
        "coolant freezes, intake air leaves its scale, oil pressure and speed at full scale, voltage stands",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _side_by_side() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    late = grid(39.0, 4.0) + 0.13
    first = [stamps(t, "ECU time (s)"), *few(t, begin, wide=False)[:2]]
    first.append(column("throttle (%)", "throttle", t, "%", 1, begin=begin))
    second = [
        stamps(late, "gauge time (s)"),
        column("lambda", "lambda", late, "lambda", 3, begin=begin),
        column("exhaust gas (degC)", "exhaust_temperature", late, "degC", 0, begin=begin),
    ]
    left, right = lines_of(first), lines_of(second)
    right += [",,"] * (len(left) - len(right))
    told = answer(
        "two devices side by side, each with its own time and rate; the slower one ends early",
        [*first[1:], *second[1:]],
        rows=len(t),
        span=float(t[-1]),
        clock_rows=[len(t), len(late)],
    )
    keep(
        "two_sources_side_by_side.csv",
        text([f"{a},{b}" for a, b in zip(left, right, strict=True)]).encode(),
        told,
    )


def _stacked() -> None:
    t, begin = grid(40.0, 10.0), HIGH + 240.0
    late = grid(39.0, 5.0) + 0.22
    first = [stamps(t), *few(t, begin, wide=False)[:2]]
    first.append(column("road speed (km/h)", "road_speed", t, "km/h", 1, begin=begin))
    second = [
        stamps(late),
        column("lambda", "lambda", late, "lambda", 3, begin=begin),
        column("fuel pressure (bar gauge)", "fuel_pressure", late, "bar", 2, begin=begin),
        column("oil temperature (degC)", "oil_temperature", late, "degC", 0, begin=begin),
    ]
    lines = ["controller", *lines_of(first), "", "extra sensors", *lines_of(second)]
    told = answer(
        "two devices one under the other: a line with its name, headings, rows, an empty line, and again",
        [*first[1:], *second[1:]],
        rows=len(t) + len(late),
        span=float(t[-1]),
        clock_rows=[len(t), len(late)],
    )
    keep("two_sources_stacked.csv", text(lines).encode(), told)


def _comments() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    lines = lines_of([stamps(t), *cols])
    head, rows = lines[0], lines[1:]
    made = ["# recorded on a closed course", "# 10 rows a second", "# " + head]
    for i, row in enumerate(rows):
        if i in (120, 260):
            made.append(f"# marker {i // 100} pressed")
        made.append(row)
    told = answer(
        "comment lines with #, also between the rows; the headings stand in the last of the first ones",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("comment_lines.csv", text(made).encode(), told)


def _repeated_head() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    kw = {"begin": begin}
    cols = [
        column("Engine speed", "engine_speed", t, "rpm", 0, **kw),
        column("Manifold pressure", "manifold_pressure", t, "kPa", 1, shown="kPa abs", **kw),
        column("Throttle", "throttle", t, "%", 1, **kw),
        column("Spark advance", "spark_advance", t, "deg", 2, shown="deg BTDC", **kw),
    ]
    lines = lines_of([stamps(t, "Time"), *cols], "\t", unit_row=True)
    head, rows = lines[:2], lines[2:]
    made = []
    for i, row in enumerate(rows):
        if i % 120 == 0:
            made += head if i == 0 else ["", *head]
        made.append(row)
    told = answer(
        "headings and units come again every 120 rows, after an empty line",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("headings_repeated.log", text(made).encode(), told)


def _booleans() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    throttle = cols[3].true
    on = lambda yes, no, mask: [yes if x else no for x in mask]  # noqa: E731
    warm = np.sin(t / 9.0) > 0.0
    cols += [
        other("fan on", on("TRUE", "FALSE", warm)),
        other("fuel cut active", on("yes", "no", throttle < 0.01)),
        other("brake", on("ON", "OFF", (throttle < 0.01) & warm)),
        other("closed loop", on("1", "0", throttle < 0.5)),
        other("state", on("overrun", "drive", throttle < 0.01)),
        column("gear", "gear", t, "1", 0, begin=begin, write=lambda x: "N" if round(x) == 0 else f"{x:.0f}"),
    ]
    plain_file(
        "booleans_and_words.csv",
        "true and false in four spellings, a state in words, and N for neutral in the column of the gear",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _thousands(name: str, why: str, mark: str, point: str, separator: str, encoding: str = "utf-8") -> None:
    t, begin = grid(40.0, 10.0), HIGH + 240.0

    def write(places: int):  # type: ignore[no-untyped-def]
        return lambda x: f"{x:,.{places}f}".replace(",", "\0").replace(".", point).replace("\0", mark)

    cols = [
        column("engine speed (rpm)", "engine_speed", t, "rpm", 1, begin=begin, write=write(1)),
        column("charge pressure (mbar abs)", "charge_pressure", t, "mbar", 0, begin=begin, write=write(0)),
        column("exhaust gas (K)", "exhaust_temperature", t, "K", 0, begin=begin, write=write(0)),
        column("injector pulse (us)", "injector_pulse", t, "us", 0, begin=begin, write=write(0)),
        column("lambda", "lambda", t, "lambda", 3, begin=begin, write=write(3)),
        other("steering angle (deg)", swing(t, 95.0, 1, point)),
    ]
    told = answer(why, cols, rows=len(t), span=float(t[-1]))
    keep(name, text(lines_of([stamps(t, comma=point), *cols], separator)).encode(encoding), told)


def _thousands_all() -> None:
    _thousands("thousands_comma.csv", "a comma after the thousands, such cells quoted", ",", ".", ",")
    _thousands("thousands_point.csv", "a point after the thousands, decimal comma", ".", ",", ";")
    _thousands("thousands_apostrophe.csv", "an apostrophe after the thousands", "'", ".", ";")
    _thousands(
        "thousands_blank.csv",
        "a hard blank after the thousands, decimal comma",
        "\u00a0",
        ",",
        ";",
        "latin-1",
    )


def _mixed_everything() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    kw = {"begin": begin, "comma": ","}
    speed = column("Drehzahl", "engine_speed", t, "rpm", 0, shown="1/min", **kw)
    cols = [
        blank(speed, [77, 78], ["n. v."]),
        column("Ladedruck rel.", "charge_pressure", t, "mbar", 0, less="barometer", extra=60.0, **kw),
        column("Luftdruck", "barometer", t, "hPa", 1, every=10, hold=True, **kw),
        column("Lambda", "lambda", t, "lambda", 3, shown="-", every=2, **kw),
        column("Lambda", "lambda", t, "lambda", 2, shown="-", every=2, hold=True, **kw),
        column("Zündung", "spark_advance", t, "deg", 1, shown="°KW v. OT", **kw),
        column("Wasser", "coolant_temperature", t, "degC", 1, shown="°C", every=10, **kw),
        other("Lüfter", ["EIN" if x > 20.0 else "AUS" for x in t]),
        other("", [""] * len(t)),
    ]
    clockwork = clock(
        "Uhrzeit",
        [
            f"23:59:{41 + x:06.3f}".replace(".", ",")
            if x < 19.0
            else f"00:00:{x - 19.0:06.3f}".replace(".", ",")
            for x in np.round(t, 3)
        ],
        "",
    )
    lines = ["Aufzeichnung;7;;;;;;;;", "Fahrzeug;Kombi, erfunden;;;;;;;;", ""]
    table = lines_of([clockwork, *cols], ";", unit_row=True)
    lines += [*table[:202], *table[:2], *table[202:]]
    told = answer(
        "all at once: metadata, German, latin-1, unit row, decimal comma, doubled heading, empty cells, "
        "headings again in the middle, trailing separator, clock over midnight, gauge with barometer",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("all_at_once.csv", text(lines, "\r\n").encode("latin-1"), told)


ALL = (
    _doubled_and_empty,
    _more_fields,
    _short_rows,
    _metadata_lines,
    _metadata_cells,
    _long_format,
    _long_format_epoch,
    _mixed_rates,
    _sick_sensors,
    _side_by_side,
    _stacked,
    _comments,
    _repeated_head,
    _booleans,
    _thousands_all,
    _mixed_everything,
)

"""Separators, encodings, decimal marks, and where units and headings stand."""

from __future__ import annotations

import numpy as np

from tools.dialects.pairs import answer, blank, clock, column, decimals, grid, keep, lines_of, other
from tools.dialects.truth import HIGH, Array, at


def swing(t: Array, size: float, places: int, comma: str = ".") -> list[str]:
    """Cells of a quantity that is nobody's here, like the angle of the steering wheel."""
    value = size * np.sin(t / 3.7) * np.sin(t / 1.9 + 0.4)
    return [decimals(places, comma)(float(x)) for x in value]


def text(lines: list[str], ending: str = "\n") -> str:
    """Lines as a file's text."""
    return ending.join(lines) + ending


def _comma_brackets() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = [
        column("Engine Speed [rpm]", "engine_speed", t, "rpm", 0, begin=begin),
        column("Manifold Absolute Pressure [kPa]", "manifold_pressure", t, "kPa", 1, begin=begin),
        column("Throttle Position [%]", "throttle", t, "%", 1, begin=begin),
        column("Lambda [-]", "lambda", t, "lambda", 3, begin=begin),
        column("Ignition Advance [deg BTDC]", "spark_advance", t, "deg", 2, begin=begin),
        column("Coolant Temperature [degC]", "coolant_temperature", t, "degC", 1, begin=begin),
        column("Vehicle Speed [km/h]", "road_speed", t, "km/h", 1, begin=begin),
        other("Steering Angle [deg]", swing(t, 180.0, 0)),
    ]
    cells = [f"{x:.3f}" for x in t]
    keep(
        "comma_brackets.csv",
        text(lines_of([clock("Time [s]", cells), *cols])).encode(),
        answer(
            "comma between cells, units in square brackets in the headings",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


def _semicolon_german() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    kw = {"begin": begin, "comma": ","}
    cols = [
        column("Motordrehzahl [1/min]", "engine_speed", t, "rpm", 0, **kw),
        column("Saugrohrdruck abs. [mbar]", "manifold_pressure", t, "mbar", 0, **kw),
        column("Drosselklappe [%]", "throttle", t, "%", 1, **kw),
        column("Lambda Ist [-]", "lambda", t, "lambda", 3, **kw),
        column("Lambda Soll [-]", "lambda_target", t, "lambda", 2, **kw),
        column("Zündwinkel [°KW v. OT]", "spark_advance", t, "deg", 2, **kw),
        column("Kühlmitteltemperatur [°C]", "coolant_temperature", t, "degC", 1, **kw),
        column("Ansauglufttemperatur [°C]", "intake_temperature", t, "degC", 1, **kw),
        column("Batteriespannung [V]", "battery_voltage", t, "V", 2, **kw),
        column("Geschwindigkeit [km/h]", "road_speed", t, "km/h", 1, **kw),
        column("Gang", "gear", t, "1", 0, **kw),
        other("Lenkwinkel [°]", swing(t, 180.0, 1, ",")),
    ]
    cells = [decimals(2, ",")(x) for x in t]
    keep(
        "semicolon_german.csv",
        text(lines_of([clock("Zeit [s]", cells), *cols], ";"), "\r\n").encode("latin-1"),
        answer(
            "semicolon, decimal comma, German headings in latin-1, CRLF", cols, rows=len(t), span=float(t[-1])
        ),
    )


def _tab_bom_unit_row() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = [
        column("Engine speed", "engine_speed", t, "rpm", 0, begin=begin),
        column("Charge pressure", "charge_pressure", t, "kPa", 1, begin=begin, shown="kPa abs"),
        column("Manifold pressure", "manifold_pressure", t, "kPa", 1, begin=begin, shown="kPa abs"),
        column("Pedal", "pedal", t, "%", 1, begin=begin),
        column("Injector duty", "injector_duty", t, "%", 1, begin=begin),
        column("Oil pressure", "oil_pressure", t, "bar", 2, begin=begin, shown="bar"),
        column("Oil temperature", "oil_temperature", t, "degC", 0, begin=begin, shown="°C"),
        column("Battery", "battery_voltage", t, "mV", 0, begin=begin),
    ]
    cells = [f"{x:.2f}" for x in t]
    keep(
        "tab_bom_unit_row.tsv",
        b"\xef\xbb\xbf" + text(lines_of([clock("Time", cells), *cols], "\t", unit_row=True), "\r\n").encode(),
        answer(
            "tabs, a byte order mark, a row of units under the headings", cols, rows=len(t), span=float(t[-1])
        ),
    )


def _utf16_tab() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    kw = {"begin": begin, "comma": ","}
    cols = [
        column("Drehzahl (U/min)", "engine_speed", t, "rpm", 0, **kw),
        column("Saugrohrdruck absolut (bar)", "manifold_pressure", t, "bar", 3, **kw),
        column("Drosselklappenöffnung (%)", "throttle", t, "%", 1, **kw),
        column("Wassertemperatur (°C)", "coolant_temperature", t, "degC", 1, **kw),
    ]
    cells = [decimals(1, ",")(x) for x in t]
    keep(
        "utf16_tab.txt",
        text(lines_of([clock("Zeit (s)", cells), *cols], "\t"), "\r\n").encode("utf-16"),
        answer("saved by a spreadsheet as Unicode text: UTF-16, tabs", cols, rows=len(t), span=float(t[-1])),
    )


def _comma_decimal_comma_quoted() -> None:
    t, begin = grid(40.0, 10.0), HIGH + 240.0
    kw = {"begin": begin, "comma": ","}
    cols = [
        column("engine speed (rpm)", "engine_speed", t, "rpm", 1, **kw),
        column("manifold pressure abs (kPa)", "manifold_pressure", t, "kPa", 1, **kw),
        column("throttle (%)", "throttle", t, "%", 1, **kw),
        column("lambda", "lambda", t, "lambda", 3, **kw),
        column("fuel pressure gauge (bar)", "fuel_pressure", t, "bar", 2, **kw),
    ]
    table = [clock("time (s)", [decimals(2, ",")(x) for x in t]), *cols]
    lines = [",".join(f'"{c.heading}"' for c in table)]
    lines += [",".join(f'"{cell}"' for cell in row) for row in zip(*(c.cells for c in table), strict=True)]
    keep(
        "comma_decimal_comma_quoted.csv",
        text(lines).encode(),
        answer(
            "every cell quoted, because comma is both separator and decimal mark",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


def _units_in_cells() -> None:
    t, begin = grid(40.0, 10.0), 145.0

    def with_unit(places: int, unit: str):  # type: ignore[no-untyped-def]
        return lambda x: f"{x:.{places}f} {unit}"

    cols = [
        column("Engine speed", "engine_speed", t, "rpm", 0, begin=begin, write=with_unit(0, "rpm")),
        column("MAP", "manifold_pressure", t, "kPa", 1, begin=begin, write=with_unit(1, "kPa")),
        column("Throttle", "throttle", t, "%", 1, begin=begin, write=lambda x: f"{x:.1f}%"),
        column(
            "Intake air temperature",
            "intake_temperature",
            t,
            "degC",
            1,
            begin=begin,
            write=with_unit(1, "°C"),
        ),
        column("Battery voltage", "battery_voltage", t, "V", 2, begin=begin, write=lambda x: f"{x:.2f}V"),
        column("Road speed", "road_speed", t, "km/h", 1, begin=begin, write=with_unit(1, "km/h")),
        column("Injector pulse width", "injector_pulse", t, "ms", 2, begin=begin, write=with_unit(2, "ms")),
    ]
    cells = [f"{x:.2f} s" for x in t]
    keep(
        "units_in_cells.csv",
        text(lines_of([clock("Time", cells), *cols])).encode(),
        answer("the unit stands in every cell", cols, rows=len(t), span=float(t[-1])),
    )


def _french() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    kw = {"begin": begin, "comma": ","}
    rich = 1.0 / at("lambda", begin + t)
    mixture = column("Richesse (-)", "lambda", t, "lambda", 3, begin=begin, lot="may ask", extra=0.0015)
    mixture = type(mixture)(**{**mixture.__dict__, "cells": tuple(decimals(3, ",")(float(x)) for x in rich)})
    cols = [
        column("Régime moteur (tr/min)", "engine_speed", t, "rpm", 0, **kw),
        column("Pression collecteur abs. (mbar)", "manifold_pressure", t, "mbar", 0, **kw),
        column("Papillon (%)", "throttle", t, "%", 1, **kw),
        mixture,
        column("Avance à l'allumage (° av. PMH)", "spark_advance", t, "deg", 1, **kw),
        column("Température eau (°C)", "coolant_temperature", t, "degC", 1, **kw),
        column("Pression d'huile (bar)", "oil_pressure", t, "bar", 2, **kw),
        column("Vitesse véhicule (km/h)", "road_speed", t, "km/h", 1, **kw),
        column("Rapport engagé", "gear", t, "1", 0, **kw),
        other("Angle volant (°)", swing(t, 120.0, 0, ",")),
    ]
    keep(
        "french.csv",
        text(lines_of([clock("Temps (s)", [decimals(2, ",")(x) for x in t]), *cols], ";")).encode(),
        answer(
            "French headings in UTF-8; richesse is one over lambda, and not lambda itself",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


def _spanish() -> None:
    t, begin = grid(40.0, 10.0), HIGH + 240.0
    kw = {"begin": begin, "comma": ","}
    cols = [
        column("Régimen del motor (rpm)", "engine_speed", t, "rpm", 0, **kw),
        column("Presión absoluta del colector (kPa)", "manifold_pressure", t, "kPa", 1, **kw),
        column("Posición de la mariposa (%)", "throttle", t, "%", 1, **kw),
        column("Avance de encendido (° APMS)", "spark_advance", t, "deg", 1, **kw),
        column("Temperatura del refrigerante (°C)", "coolant_temperature", t, "degC", 1, **kw),
        column("Temperatura del aceite (°C)", "oil_temperature", t, "degC", 0, **kw),
        column("Velocidad (km/h)", "road_speed", t, "km/h", 1, **kw),
        column("Marcha", "gear", t, "1", 0, **kw),
    ]
    keep(
        "spanish.csv",
        text(lines_of([clock("Tiempo (s)", [decimals(2, ",")(x) for x in t]), *cols], ";")).encode("latin-1"),
        answer("Spanish headings in latin-1, semicolon, decimal comma", cols, rows=len(t), span=float(t[-1])),
    )


def _trailing_separators() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = [
        column("RPM", "engine_speed", t, "rpm", 0, begin=begin),
        column("MAP (kPa)", "manifold_pressure", t, "kPa", 1, begin=begin),
        column("TPS (%)", "throttle", t, "%", 1, begin=begin),
        column("IAT (C)", "intake_temperature", t, "degC", 1, begin=begin),
        column("ECT (C)", "coolant_temperature", t, "degC", 1, begin=begin),
    ]
    lines = [line + "," for line in lines_of([clock("Time (s)", [f"{x:.2f}" for x in t]), *cols])]
    keep(
        "trailing_separators.csv",
        text(lines, "\r\n").encode("ascii"),
        answer("every line ends with a separator; short English names", cols, rows=len(t), span=float(t[-1])),
    )


def _suffix_names() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    cols = [
        column("engine_speed_rpm", "engine_speed", t, "rpm", 0, begin=begin),
        column("p_manifold_abs_mbar", "manifold_pressure", t, "mbar", 0, begin=begin),
        column("p_before_throttle_abs_mbar", "charge_pressure", t, "mbar", 0, begin=begin),
        column("throttle_pct", "throttle", t, "%", 1, begin=begin),
        column("lambda_meas", "lambda", t, "lambda", 3, begin=begin),
        column("lambda_target", "lambda_target", t, "lambda", 2, begin=begin),
        column("t_intake_degC", "intake_temperature", t, "degC", 1, begin=begin),
        column("t_exhaust_K", "exhaust_temperature", t, "K", 0, begin=begin),
        column("inj_pulse_us", "injector_pulse", t, "us", 0, begin=begin),
        column("vehicle_speed_kmh", "road_speed", t, "km/h", 1, begin=begin),
        other("yaw_rate_degps", swing(t, 20.0, 2)),
    ]
    keep(
        "suffix_names.csv",
        text(lines_of([clock("t_s", [f"{x:.3f}" for x in t]), *cols])).encode(),
        answer(
            "names as a program writes them, the unit as their last part",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


def _quantity_slash_unit() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    cols = [
        column("Engine speed / rpm", "engine_speed", t, "rpm", 0, begin=begin),
        column("Manifold pressure (absolute) / kPa", "manifold_pressure", t, "kPa", 1, begin=begin),
        column("Air mass flow / (g/s)", "air_flow", t, "g/s", 2, begin=begin),
        column("Road speed / (km/h)", "road_speed", t, "km/h", 1, begin=begin),
        column("Coolant temperature / °C", "coolant_temperature", t, "degC", 1, begin=begin),
        column("Wastegate duty / %", "gate_duty", t, "%", 1, begin=begin),
        column("Longitudinal acceleration / g", "acceleration", t, "g", 3, begin=begin),
        column("Altitude / m", "altitude", t, "m", 1, begin=begin),
        other("Lateral acceleration / g", swing(t, 0.6, 3)),
    ]
    keep(
        "quantity_slash_unit.csv",
        text(lines_of([clock("Time / s", [f"{x:.2f}" for x in t]), *cols])).encode("latin-1"),
        answer(
            "quantity / unit as the standards print it, a degree sign in latin-1",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


def _three_line_head() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    cols = [
        column("Engine\nspeed", "engine_speed", t, "rpm", 0, begin=begin, shown="rev/min"),
        column("Manifold pressure", "manifold_pressure", t, "kPa", 1, begin=begin, shown="kilopascal abs"),
        column("Coolant temp.", "coolant_temperature", t, "degC", 1, begin=begin, shown="deg. C"),
        column("Throttle", "throttle", t, "%", 1, begin=begin, shown="per cent"),
        column("Mass air flow", "air_flow", t, "kg/h", 1, begin=begin, shown="kg/h"),
    ]
    table = [clock("Time", [f"{x:.2f}" for x in t], "sec"), *cols]
    lines = lines_of(table, unit_row=True)
    lines.insert(2, ",".join(["float32"] * len(table)))
    keep(
        "three_line_head.csv",
        text(lines).encode(),
        answer(
            "names (one broken inside quotes), a row of units, a row of data types",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


def _padded_cells() -> None:
    t, begin = grid(40.0, 10.0), HIGH + 240.0
    cols = [
        column("engine speed [rpm]", "engine_speed", t, "rpm", 0, begin=begin),
        column("MAP [kPa]", "manifold_pressure", t, "kPa", 1, begin=begin),
        column("throttle [%]", "throttle", t, "%", 1, begin=begin),
        column("baro [kPa]", "barometer", t, "kPa", 1, begin=begin),
    ]
    table = [clock("time [s]", [f"{x:.2f}" for x in t]), *cols]
    lines = [", ".join(f"{c.heading:>20}" for c in table)]
    lines += [", ".join(f"{cell:>20}" for cell in row) for row in zip(*(c.cells for c in table), strict=True)]
    keep(
        "padded_cells.csv",
        text(lines).encode(),
        answer("cells padded with blanks to line up", cols, rows=len(t), span=float(t[-1])),
    )


def _says_its_separator() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    kw = {"begin": begin, "comma": ","}
    gone = [30, 31, 120, 250]
    cols = [
        column("Engine speed (rpm)", "engine_speed", t, "rpm", 0, **kw),
        blank(
            column("Manifold pressure abs (kPa)", "manifold_pressure", t, "kPa", 1, **kw),
            gone,
            ["NaN", "n/a"],
        ),
        blank(
            column("Lambda", "lambda", t, "lambda", 3, **kw), [5, 6, 7, 200], ["---", "#N/A", "null", "inf"]
        ),
        blank(column("Coolant (°C)", "coolant_temperature", t, "degC", 1, **kw), [0, 1, 399], ["-", "", "?"]),
        column("Throttle (%)", "throttle", t, "%", 1, **kw),
    ]
    lines = ["sep=;", *lines_of([clock("Time (s)", [decimals(2, ",")(x) for x in t]), *cols], ";")]
    keep(
        "nan_words_sep_line.csv",
        b"\xef\xbb\xbf" + text(lines, "\r\n").encode(),
        answer(
            "a first line that names the separator; NaN, n/a, ---, #N/A, null, inf and ? for no value",
            cols,
            rows=len(t),
            span=float(t[-1]),
        ),
    )


ALL = (
    _comma_brackets,
    _semicolon_german,
    _tab_bom_unit_row,
    _utf16_tab,
    _comma_decimal_comma_quoted,
    _units_in_cells,
    _french,
    _spanish,
    _trailing_separators,
    _suffix_names,
    _quantity_slash_unit,
    _three_line_head,
    _padded_cells,
    _says_its_separator,
)

"""Files that are no drive of a petrol engine, or look like one and are none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tools.dialects.clocks import few
from tools.dialects.odd import stamps
from tools.dialects.pairs import Column, answer, column, grid, keep, lines_of, other, refused
from tools.dialects.plain import text
from tools.dialects.truth import UNITS, Array, at, in_unit, to_si

RANGES = (  # heading, places, lowest, highest of a display
    ("engine speed (rpm)", 0, 0.0, 8000.0),
    ("manifold pressure (kPa abs)", 1, 10.0, 250.0),
    ("throttle (%)", 1, 0.0, 100.0),
    ("lambda", 3, 0.65, 1.35),
    ("coolant (degC)", 1, -20.0, 130.0),
    ("intake air (degC)", 1, -20.0, 90.0),
    ("battery (V)", 2, 8.0, 16.0),
    ("road speed (km/h)", 1, 0.0, 250.0),
    ("spark advance (deg BTDC)", 1, -10.0, 50.0),
)


def _table(t: Array, columns: Sequence[tuple[str, int, Array]], separator: str = ",") -> bytes:
    made = [stamps(t), *(other(name, [f"{x:.{places}f}" for x in value]) for name, places, value in columns)]
    return text(lines_of(made, separator)).encode()


def _made(
    heading: str, value: Array, places: int, key: str = "", unit: str = "1", lot: str = "read"
) -> Column:
    """A column of values that do not come from the simulated drive."""
    cells = tuple(f"{x:.{places}f}" for x in value)
    if not key:
        return other(heading, cells)
    tolerance = 0.505 * 10.0**-places * UNITS[unit][0] + 1e-6
    return Column(heading, cells, key, true=to_si(value, unit), tolerance=tolerance, lot=lot)


def _sweeps() -> None:
    t = grid(45.0, 10.0)
    up = 1.0 - np.abs(1.0 - (t / 10.0) % 2.0)
    refused(
        "sweep_together.csv",
        _table(t, [(name, places, low + (high - low) * up) for name, places, low, high in RANGES]),
        "a demonstration: every value runs from its lowest to its highest and back, all together",
        "sweep",
    )
    waves = [
        (name, places, low + (high - low) * (0.5 + 0.5 * np.sin(2.0 * math.pi * (t / (7.0 + 1.3 * i)) + i)))
        for i, (name, places, low, high) in enumerate(RANGES)
    ]
    refused(
        "sweep_waves.csv",
        _table(t, waves),
        "a demonstration: every value swings through its full range, each with its own period",
        "sweep",
        also_about=["emulator"],
    )
    teeth = [
        (name, places, low + (high - low) * ((t / 15.0 + i / 9.0) % 1.0))
        for i, (name, places, low, high) in enumerate(RANGES)
    ]
    refused(
        "sweep_saw_teeth.csv",
        _table(t, teeth),
        "a demonstration: every value climbs evenly to its highest and jumps back, one after the other",
        "sweep",
        also_about=["emulator"],
    )


def _emulators() -> None:
    luck = np.random.default_rng(41)
    t = grid(45.0, 10.0)
    drawn = [(name, places, luck.uniform(low, high, len(t))) for name, places, low, high in RANGES]
    refused(
        "emulator_random.csv",
        _table(t, drawn),
        "an emulator: every value is drawn anew for every row, each within what a car can show",
        "emulator",
        also_about=["sweep"],
    )
    t = grid(45.0, 10.0)
    parts = [
        (
            f"{heading} ({unit})",
            places,
            in_unit(at(key, 120.0 + 41.0 * i % 190.0 + t), "degC" if unit == "°C" else unit),
        )
        for i, (heading, key, unit, places) in enumerate(
            (
                ("engine speed", "engine_speed", "rpm", 0),
                ("manifold pressure", "manifold_pressure", "kPa", 1),
                ("throttle", "throttle", "%", 1),
                ("road speed", "road_speed", "km/h", 1),
                ("spark advance", "spark_advance", "deg", 1),
            )
        )
    ]
    refused(
        "emulator_pieces.csv",
        _table(t, parts),
        "played back from pieces: each column is a real one, but of another minute of the drive",
        "emulator",
    )
    normal = {  # about which everyday value each wanders, and how far
        "engine speed (rpm)": (3000.0, 1600.0),
        "manifold pressure (kPa abs)": (80.0, 45.0),
        "throttle (%)": (40.0, 30.0),
        "lambda": (0.97, 0.10),
        "coolant (degC)": (88.0, 4.0),
        "intake air (degC)": (35.0, 6.0),
        "battery (V)": (14.0, 0.2),
        "road speed (km/h)": (70.0, 45.0),
        "spark advance (deg BTDC)": (22.0, 9.0),
    }
    wandering = []
    t = grid(90.0, 5.0)
    for name, places, low, high in RANGES:
        middle, width = normal[name]
        soft = np.convolve(luck.standard_normal(len(t) + 120), np.exp(-np.arange(121) / 25.0), mode="valid")
        value = middle + width * soft[: len(t)] / np.std(soft)
        wandering.append((name, places, np.clip(value, low, high)))
    refused(
        "emulator_wandering.csv",
        _table(t, wandering),
        "an emulator: every value wanders smoothly about an everyday figure, none knows of the others",
        "emulator",
    )


def _standardised() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    keys = (
        ("engine_speed", "engine speed"),
        ("manifold_pressure", "manifold pressure"),
        ("throttle", "throttle"),
        ("lambda", "lambda"),
        ("coolant_temperature", "coolant temperature"),
        ("intake_temperature", "intake air temperature"),
        ("road_speed", "vehicle speed"),
        ("battery_voltage", "battery voltage"),
    )
    values = {name: at(key, begin + t) for key, name in keys}
    scores = [(name, 4, (x - x.mean()) / x.std()) for name, x in values.items()]
    refused(
        "standardised_scores.csv",
        _table(t, scores),
        "made ready for machine learning: each column less its mean, divided by its deviation",
        "standardised",
    )
    units = [(f"{name}_norm", 5, (x - x.min()) / (x.max() - x.min())) for name, x in values.items()]
    refused(
        "standardised_unit_range.csv",
        _table(t, units),
        "made ready for machine learning: each column from 0 at its lowest to 1 at its highest",
        "standardised",
    )


def _benches() -> None:
    luck = np.random.default_rng(7)
    t = grid(90.0, 2.0)
    step = np.floor(t / 10.0)
    pulse = 1.5 + 1.5 * step
    injector = [
        ("supply voltage (V)", 2, 13.5 + 0.01 * luck.standard_normal(len(t))),
        ("fuel pressure (bar)", 3, 3.0 + 0.003 * luck.standard_normal(len(t))),
        ("injector pulse width (ms)", 2, pulse),
        ("pulse period (ms)", 1, np.full(len(t), 20.0)),
        ("collected mass (g)", 2, np.cumsum((pulse - 0.85) * 0.0045 * 25.0)),
        ("fluid temperature (degC)", 1, 23.0 + 0.004 * t),
    ]
    refused(
        "bench_injector.csv",
        _table(t, injector),
        "an injector on its bench: pulse in steps at one pressure, mass collected; no engine turns",
        "bench",
        also_about=["not a log"],
    )
    speed = 800.0 + 300.0 * step + 4.0 * luck.standard_normal(len(t))
    fan = [
        ("fan speed (rpm)", 0, speed),
        ("static pressure (Pa)", 1, 2.1e-5 * speed**2 + luck.standard_normal(len(t))),
        ("air flow (m3/h)", 0, 0.41 * speed),
        ("motor voltage (V)", 2, np.full(len(t), 12.0) + 0.01 * luck.standard_normal(len(t))),
        ("motor current (A)", 2, 1.2e-9 * speed**3 + 0.8),
        ("air temperature (degC)", 1, np.full(len(t), 21.5)),
    ]
    refused(
        "bench_fan.csv",
        _table(t, fan, ";"),
        "a radiator fan on its bench, speed in steps; its speed is no engine speed",
        "bench",
        also_about=["not a log"],
    )


def _diesels() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    luck = np.random.default_rng(99)
    noise = lambda size: size * luck.standard_normal(len(t))  # noqa: E731
    speed = 780.0 + (at("engine_speed", begin + t) * 30.0 / math.pi - 600.0).clip(0.0) * 0.62
    pedal = at("pedal", begin + t) * 100.0
    load = np.convolve(pedal, np.ones(8) / 8.0, mode="same")
    boost = 99.0 + 1.25 * load * np.clip(speed / 2300.0, 0.2, 1.0) + noise(0.4)
    mass = np.clip(4.0 + 0.58 * load + noise(0.3), 0.0, None) * (pedal > 0.5) + 3.0 * (speed < 900.0)
    lean = np.clip(1.28 + 26.0 / (mass + 1.5), 1.25, 9.0) + noise(0.01)
    rail = 320.0 + 0.24 * speed + 5.5 * load + noise(4.0)
    coolant, road = 84.0 + noise(0.1), speed * 0.027
    plain = [
        _made("engine speed (rpm)", speed, 0, "engine_speed", "rpm"),
        _made("intake manifold pressure (kPa abs)", boost, 1, "manifold_pressure", "kPa"),
        _made("pedal (%)", pedal, 1, "pedal", "%"),
        _made("lambda", lean, 2, "lambda", "lambda"),
        _made("injection quantity (mg/stroke)", mass, 1),
        _made("rail pressure (bar)", rail, 0, "fuel_pressure", "bar", "may read"),
        _made("EGR valve (%)", np.clip(45.0 - 0.6 * load, 0.0, None), 0),
        _made("coolant (degC)", coolant, 1, "coolant_temperature", "degC"),
        _made("particulate filter soot (g)", 7.0 + t / 400.0, 1),
    ]
    bare = [
        _made("rpm", speed, 0, "engine_speed", "rpm"),
        _made("MAP (kPa)", boost, 1, "manifold_pressure", "kPa"),
        _made("lambda", lean, 2, "lambda", "lambda"),
        _made("rail pressure (MPa)", rail / 10.0, 1, "fuel_pressure", "bar", "may read"),
        _made("coolant (degC)", coolant, 1, "coolant_temperature", "degC"),
        _made("road speed (km/h)", road, 1, "road_speed", "km/h"),
    ]
    why = "a diesel: injection quantity, rail at hundreds of bar, always lean, no throttle, no spark"
    bare_why = "a diesel that nothing names: no vacuum, lambda always lean, rail above 300 bar"
    for name, cols, words in (("diesel_plain.csv", plain, why), ("diesel_unnamed.csv", bare, bare_why)):
        told = answer(
            words,
            [replace(c, seconds=t) for c in cols],
            rows=len(t),
            span=float(t[-1]),
            outcome="limited",
            also_right=["refused"],
            reason_about="diesel",
        )
        keep(name, text(lines_of([stamps(t), *cols])).encode(), told)


def _other_things() -> None:
    refused(
        "shopping_list.csv",
        "item,quantity,price\nbread,2,3.10\nmilk,4,1.19\noil 5W-40 (1 l),5,9.80\nspark plugs,4,7.45\n"
        "coolant,2,6.30\nbattery,1,89.00\n".encode("ascii"),
        "a shopping list, with oil, coolant and spark plugs upon it",
        "not a log",
    )
    luck = np.random.default_rng(3)
    t = np.arange(200) * 600.0
    weather = [
        ("air pressure (hPa)", 1, 1009.0 + 4.0 * np.sin(t / 4e4)),
        ("temperature (°C)", 1, 12.0 + 6.0 * np.sin(t / 1.4e4)),
        ("humidity (%)", 0, 70.0 - 18.0 * np.sin(t / 1.4e4)),
        ("wind speed (km/h)", 1, np.abs(9.0 + 5.0 * luck.standard_normal(len(t)))),
        ("wind direction (deg)", 0, luck.uniform(0.0, 360.0, len(t))),
    ]
    refused(
        "weather_station.csv",
        _table(t, weather),
        "a weather station: pressures, temperatures and a speed, but no engine",
        "not a log",
    )
    prose = (
        "Monday. Changed oil and filter.\nThe car idles at 850 rpm now, coolant 88 degrees.\n"
        "Still to do: intercooler pipe, wastegate line; order clamps.\n\nTuesday. Rain.\n"
    )
    refused(
        "diary.txt", prose.encode(), "a diary that speaks of rpm and degrees, but holds no table", "not a log"
    )
    steps = [
        f"2026-04-17T14:{3 + i // 60:02d}:{i % 60:02d}Z INFO worker {i % 3}: {20 + i % 77} ms, page {i}"
        for i in range(200)
    ]
    refused(
        "server.log", text(steps).encode(), "messages of a web server, with stamps on every line", "not a log"
    )
    refused("empty.csv", b"", "a file of no bytes at all", "empty")
    refused(
        "only_blank_lines.csv", b"\xef\xbb\xbf\r\n\r\n  \r\n", "a byte order mark and blank lines", "empty"
    )
    refused(
        "headings_only.csv",
        b"time (s),engine speed (rpm),manifold pressure (kPa abs),lambda\n",
        "headings without a single row",
        "empty",
    )
    page = "<!DOCTYPE html>\n<html>\n<body><p>speed, rpm; 404</p></body></html>\n"
    refused("web_page.csv", page.encode(), "a web page that was saved under the name of a log", "not a log")
    blob = np.random.default_rng(2026).integers(0, 256, 9000, dtype=np.uint8).tobytes()
    refused("binary_blob.csv", blob, "a file of random bytes that is called .csv", "not a log")
    refused(
        "not_mdf.mf4",
        b"time,rpm\n0,800\n" + bytes(64),
        "a file called .mf4 that does not begin as ASAM MDF wants it",
        "not a log",
        also_about=["empty"],
    )


def _track() -> None:
    t, begin = grid(60.0, 5.0), 145.0
    v = at("road_speed", begin + t)
    way = np.cumsum(v) / 5.0
    cols: list[Column] = [
        other("latitude", [f"{51.0 + x * 7e-6:.6f}" for x in way]),
        other("longitude", [f"{9.0 + 3e-6 * x:.6f}" for x in way]),
        column("speed (km/h)", "road_speed", t, "km/h", 1, begin=begin),
        column("altitude (m)", "altitude", t, "m", 1, begin=begin),
        other("satellites", [str(8 + i // 40 % 4) for i in range(len(t))]),
    ]
    told = answer(
        "a satellite receiver alone: where the car went and how fast, nothing of its engine",
        cols,
        rows=len(t),
        span=float(t[-1]),
        outcome="limited",
        also_right=["refused"],
        reason_about="not a log",
    )
    keep("track_only.csv", text(lines_of([stamps(t), *cols])).encode(), told)


def _sound_twins() -> None:
    """Sound logs that resemble what is refused: refusing them is the opposite fault."""
    t, begin = grid(60.0, 5.0), 216.0
    cols = few(t, begin)
    told = answer(
        "a sound log of an idle and nothing else at first: hardly anything moves, and still it is a log",
        cols,
        rows=150,
        span=float(t[149]),
    )
    idle = [stamps(t), *cols]
    cut = [
        Column(**{**c.__dict__, "cells": c.cells[:150], "true": c.true[:150], "seconds": c.seconds[:150]})
        for c in idle
    ]
    told = answer(told["why"].replace(" at first", ""), cut[1:], rows=150, span=float(t[149]))
    keep("twin_idle_only.csv", text(lines_of(cut)).encode(), told)
    t, begin = grid(14.0, 10.0), 151.0
    cols = few(t, begin)
    told = answer(
        "a sound log of one pull: speed, pressure and road speed climb together, as in a demonstration",
        cols,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("twin_one_pull.csv", text(lines_of([stamps(t), *cols])).encode(), told)
    t, begin = grid(45.0, 10.0), 183.0
    shown = few(t, begin)
    e85 = column("lambda", "lambda", t, "lambda", 3, begin=begin)
    shown[2] = Column(
        **{
            **e85.__dict__,
            "cells": tuple(f"{x + 0.09:.3f}" for x in e85.true),
            "true": to_si(e85.true + 0.09, "lambda"),
        }
    )
    told = answer(
        "a sound petrol log with lean cruise and overrun: no diesel, for there is vacuum and a throttle",
        shown,
        rows=len(t),
        span=float(t[-1]),
    )
    keep("twin_lean_petrol.csv", text(lines_of([stamps(t), *shown])).encode(), told)


ALL = (
    _sweeps,
    _emulators,
    _standardised,
    _benches,
    _diesels,
    _other_things,
    _track,
    _sound_twins,
)

"""The simulator's CSV as a recording, by its own headings, so that the review is tested without a reader."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import polars as pl

from boostwright.readers.drive_log.recording import Channel, Clock, Recording

RPM = math.tau / 60
DEGREE = math.pi / 180
KELVIN = 273.15

# heading: key, factor to SI, offset
COLUMNS = {
    "engine speed (rpm)": ("engine_speed", RPM, 0.0),
    "manifold pressure abs (kPa)": ("manifold_pressure", 1e3, 0.0),
    "charge pressure abs (kPa)": ("charge_pressure", 1e3, 0.0),
    "barometer (kPa)": ("barometer", 1e3, 0.0),
    "boost target abs (kPa)": ("boost_target", 1e3, 0.0),
    "throttle (%)": ("throttle", 0.01, 0.0),
    "pedal (%)": ("pedal", 0.01, 0.0),
    "lambda (-)": ("lambda", 1.0, 0.0),
    "lambda target (-)": ("lambda_target", 1.0, 0.0),
    "injector pulse (ms)": ("injector_pulse", 1e-3, 0.0),
    "injector duty (%)": ("injector_duty", 0.01, 0.0),
    "spark (deg)": ("spark_advance", DEGREE, 0.0),
    "spark from table (deg)": ("spark_table", DEGREE, 0.0),
    "knock level (%)": ("knock_level", 0.01, 0.0),
    "intake air after cooler (degC)": ("intake_temperature", 1.0, KELVIN),
    "coolant (degC)": ("coolant_temperature", 1.0, KELVIN),
    "oil temperature (degC)": ("oil_temperature", 1.0, KELVIN),
    "oil pressure gauge (kPa)": ("oil_pressure", 1e3, 0.0),
    "fuel rail abs (kPa)": ("fuel_pressure", 1e3, 0.0),  # absolute in the file, the barometer is taken off
    "battery (V)": ("battery_voltage", 1.0, 0.0),
    "road speed (km/h)": ("road_speed", 1 / 3.6, 0.0),
    "gear (-)": ("gear", 1.0, 0.0),
    "gate duty (%)": ("gate_duty", 0.01, 0.0),
    "exhaust gas before turbine (degC)": ("exhaust_temperature", 1.0, KELVIN),
    "crankcase gauge (kPa)": ("crankcase_pressure", 1e3, 0.0),
}


def recording(path: Path) -> Recording:
    """One drive of tools.drives."""
    table = pl.read_csv(path, infer_schema_length=None, schema_overrides={"time (s)": pl.Float64})
    stamp = _floats(table["time (s)"])
    barometer = 101_325.0
    if "barometer (kPa)" in table.columns:
        barometer = 1e3 * float(np.nanmedian(_floats(table["barometer (kPa)"])))
    channels = []
    for heading in table.columns:
        if heading == "time (s)":
            continue
        cylinder = 0
        if heading.startswith("knock retard "):
            key, factor, offset = "knock_retard", DEGREE, 0.0
            cylinder = int(heading.removeprefix("knock retard ").split()[0])
        else:
            key, factor, offset = COLUMNS[heading]
        if key == "fuel_pressure":
            offset -= barometer
        value = _floats(table[heading]) * factor + offset
        unit = heading[heading.rindex("(") + 1 : -1]
        channels.append(Channel(key, value, 0, heading, unit, True, 1.0, cylinder))
    clock = Clock(stamp, np.arange(stamp.size, dtype=np.int64))
    return Recording(str(path), (clock,), tuple(channels))


def _floats(column: pl.Series) -> np.ndarray:
    return column.cast(pl.Float64).fill_null(float("nan")).to_numpy().astype(np.float64)

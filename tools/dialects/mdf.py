"""ASAM MDF4 files: groups with their own rates, masters by odd names, units as metadata, conversions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tools.dialects.clocks import START
from tools.dialects.pairs import Column, answer, column, grid, keep, other
from tools.dialects.truth import HIGH, UNITS, Array, at, in_unit


def _signal(
    name: str, raw: Array | np.ndarray, t: Array, unit: str, conversion: dict[str, Any] | None = None
) -> Any:
    from asammdf import Signal

    return Signal(samples=raw, timestamps=t, name=name, unit=unit, conversion=conversion)


def _linear(
    name: str, key: str, t: Array, unit: str, a: float, b: float, dtype: str, *, begin: float, shown: str
) -> tuple[Any, Column]:
    """A channel of whole numbers with a linear conversion, physical = a raw + b, and its answer."""
    from asammdf.blocks.conversion_utils import from_dict

    physical = in_unit(at(key, begin + t), unit)
    raw = np.rint((physical - b) / a)
    if raw.min() < 0 or raw.max() > np.iinfo(dtype).max:
        raise ValueError(f"{name}: {raw.min():g} to {raw.max():g} does not fit into {dtype}")
    raw = raw.astype(dtype)
    made = column(name, key, t, unit, 0, begin=begin)
    made = Column(**{**made.__dict__, "tolerance": 0.505 * a * (made.tolerance / 0.505)})
    return _signal(name, raw, t, shown, from_dict({"a": a, "b": b})), made


def _float(
    name: str, key: str, t: Array, unit: str, *, begin: float, shown: str, less: str = "", extra: float = 0.0
) -> tuple[Any, Column]:
    """A channel of floats as they are."""
    value = at(key, begin + t) - (at(less, begin + t) if less else 0.0)
    written = in_unit(value, unit)  # in 24 binary digits
    rounding = 2.0**-23 * float(np.abs(written).max()) * abs(UNITS[unit][0])
    made = column(name, key, t, unit, 9, begin=begin, less=less, extra=extra + rounding)
    return _signal(name, written.astype(np.float32), t, shown), made


def _keep(
    name: str,
    groups: list[tuple[str, list[Any], str]],
    told: dict[str, Any],
    changed: Callable[[Any], None] = lambda _: None,
) -> None:
    """Write groups of signals: name of the group, signals on one clock, name of the master."""
    from asammdf import MDF

    with MDF(version="4.10") as file, TemporaryDirectory() as folder:
        file.header.start_time = datetime.fromtimestamp(START.timestamp(), tz=START.tzinfo)
        for number, (group, signals, master) in enumerate(groups):
            file.append(signals, acq_name=group, comment=group, common_timebase=True)
            clock = file.groups[number].channels[file.masters_db[number]]
            clock.name = master
        changed(file)
        path = Path(folder) / name
        file.save(path, overwrite=True, compression=0)
        keep(name, path.read_bytes(), told)


def _groups() -> None:
    begin, fast, slow, rare = 145.0, grid(40.0, 20.0), grid(40.0, 5.0), grid(40.0, 1.0)
    quick = [
        _linear("EngineSpeed", "engine_speed", fast, "rpm", 0.25, 0.0, "uint16", begin=begin, shown="1/min"),
        _linear(
            "ManifoldPressureAbs",
            "manifold_pressure",
            fast,
            "kPa",
            0.05,
            0.0,
            "uint16",
            begin=begin,
            shown="kPa",
        ),
        _linear(
            "SparkAdvance", "spark_advance", fast, "deg", 0.5, -40.0, "uint8", begin=begin, shown="deg BTDC"
        ),
    ]
    middle = [
        _float("Lambda", "lambda", slow, "lambda", begin=begin, shown=""),
        _linear("ThrottlePosition", "throttle", slow, "%", 0.4, 0.0, "uint8", begin=begin, shown="%"),
        _linear("VehicleSpeed", "road_speed", slow, "km/h", 0.01, 0.0, "uint16", begin=begin, shown="km/h"),
    ]
    last = [
        _linear(
            "CoolantTemperature",
            "coolant_temperature",
            rare,
            "degC",
            1.0,
            -40.0,
            "uint8",
            begin=begin,
            shown="degC",
        ),
        _linear("BatteryVoltage", "battery_voltage", rare, "V", 0.05, 0.0, "uint16", begin=begin, shown="V"),
    ]
    cols = [c for part in (quick, middle, last) for _, c in part]
    told = answer(
        "three groups at 20, 5 and 1 a second; whole numbers, linear conversions; masters t_20, t_5, t_1",
        cols,
        rows=None,
        span=float(fast[-1]),
        clock_rows=[len(fast), len(slow), len(rare)],
        start=START.timestamp(),
    )
    groups = [("fast", quick, "t_20"), ("medium", middle, "t_5"), ("slow", last, "t_1")]
    _keep("mdf_three_rates.mf4", [(g, [s for s, _ in part], m) for g, part, m in groups], told)


def _false_time() -> None:
    begin, t = HIGH + 240.0, grid(45.0, 10.0)
    known = [
        _float("engine speed", "engine_speed", t, "rpm", begin=begin, shown="rpm"),
        _float("manifold pressure", "manifold_pressure", t, "bar", begin=begin, shown="bar abs"),
        _float("lambda", "lambda", t, "lambda", begin=begin, shown="-"),
        _float("injector pulse", "injector_pulse", t, "ms", begin=begin, shown="ms"),
    ]
    clock = _signal("time", 5e5 + 3.0 * np.floor(t), t, "s")  # since the battery was connected: no master
    told = answer(
        "the master is called x_axis; a channel called time counts since the battery was connected",
        [*(c for _, c in known), other("time", [])],
        rows=len(t),
        span=float(t[-1]),
    )
    _keep("mdf_false_time.mf4", [("drive", [clock, *(s for s, _ in known)], "x_axis")], told)


def _gauge() -> None:
    begin, t, slow = 145.0, grid(40.0, 10.0), grid(40.0, 2.0) + 0.35
    known = [
        _float("Drehzahl", "engine_speed", t, "rpm", begin=begin, shown="1/min"),
        _float("Saugrohrdruck", "manifold_pressure", t, "mbar", begin=begin, shown="mbar abs"),
        _float(
            "Ladedruck",
            "charge_pressure",
            t,
            "mbar",
            begin=begin,
            shown="mbar rel",
            less="barometer",
            extra=160.0,
        ),
        _float("Öldruck", "oil_pressure", t, "bar", begin=begin, shown="bar"),
    ]
    rest = [
        _float("Umgebungsdruck", "barometer", slow, "hPa", begin=begin, shown="hPa"),
        _float("Kühlmitteltemperatur", "coolant_temperature", slow, "degC", begin=begin, shown="°C"),
        _float("Abgastemperatur", "exhaust_temperature", slow, "K", begin=begin, shown="K"),
        _float("Außentemperatur", "outside_temperature", slow, "degF", begin=begin, shown="°F"),
    ]
    steer = _signal("Lenkwinkel", (120.0 * np.sin(t / 3.0)).astype(np.float32), t, "°")
    told = answer(
        "German names, units as metadata, gauge pressure, its barometer in a slower group that starts later",
        [*(c for _, c in known), *(c for _, c in rest), other("Lenkwinkel", [])],
        rows=None,
        span=float(t[-1]),
        clock_rows=[len(t), len(slow)],
    )
    groups = [
        ("Motor", [*(s for s, _ in known), steer], "Zeitkanal"),
        ("Umgebung", [s for s, _ in rest], "Zeitkanal"),
    ]
    _keep("mdf_german_gauge.mf4", groups, told)


def _other_masters() -> None:
    """A master in whole milliseconds with a conversion; a group upon the crank's angle; a gear in words."""
    from asammdf.blocks.conversion_utils import from_dict

    begin, t = HIGH + 240.0, grid(45.0, 10.0)
    known = [
        _float("n_engine", "engine_speed", t, "rpm", begin=begin, shown="rpm"),
        _float("p_manifold_abs", "manifold_pressure", t, "kPa", begin=begin, shown="kPa"),
        _float("lambda", "lambda", t, "lambda", begin=begin, shown=""),
        _float("v_vehicle", "road_speed", t, "m/s", begin=begin, shown="m/s"),
        _float("throttle", "throttle", t, "%", begin=begin, shown="%"),
    ]
    gear = column("gear", "gear", t, "1", 0, begin=begin, lot="may read")
    words: dict[str, Any] = {"val_0": 0, "text_0": "neutral"}
    for number in range(1, 6):
        words |= {f"val_{number}": number, f"text_{number}": f"gear {number}"}
    raw = np.rint(at("gear", begin + t)).astype("uint8")
    signals = [*(_on_ms(s) for s, _ in known), _on_ms(_signal("gear", raw, t, "", from_dict(words)))]
    angle = np.arange(-180.0, 180.0, 2.0)
    pressure = _signal("cylinder pressure", (1.0 + 30.0 * np.exp(-((angle / 40.0) ** 2))), angle, "bar")

    def changed(file: Any) -> None:
        clock = file.groups[0].channels[file.masters_db[0]]
        clock.conversion = from_dict({"a": 0.001, "b": 0.0})
        crank = file.groups[1].channels[file.masters_db[1]]
        crank.sync_type, crank.unit = 2, "deg"  # ASAM MDF 4.1, channel block: 2 is angle

    told = answer(
        "the master counts milliseconds and has a conversion to seconds; another group goes by crank angle",
        [*(c for _, c in known), gear, other("cylinder pressure", [])],
        rows=len(t),
        span=float(t[-1]),
    )
    _keep(
        "mdf_other_masters.mf4", [("drive", signals, "ticks"), ("cycle", [pressure], "crank")], told, changed
    )


def _on_ms(signal: Any) -> Any:
    """The signal with its stamps in milliseconds."""
    signal.timestamps = np.round(signal.timestamps * 1e3)
    return signal


ALL = (_groups, _false_time, _gauge, _other_masters)

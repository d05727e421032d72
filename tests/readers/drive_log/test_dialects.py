"""Whole logs as they may come: several habits at once. What each holds is set here."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from boostwright.readers.drive_log import OpenLog, open_log
from tests.readers.drive_log.made import AIR, KEYS, SI, cells, drive, put, rounded

DRIVE = drive(seconds=150.0)
WRITTEN = rounded(DRIVE)
TEXT = cells(DRIVE)
ROWS = [list(row) for row in zip(*TEXT.values(), strict=True)]
ORDER = list(TEXT)


def holds(log: OpenLog, loose: dict[str, float] | None = None) -> None:
    """Every quantity comes back, to half of the last written digit or `loose` in SI, and nothing is asked."""
    assert log.questions == ()
    found = log.read()
    for name, key in KEYS.items():
        channel = found.find(key)
        assert channel is not None, (name, log.mapping)
        off = (loose or {}).get(name, 1e-6)
        np.testing.assert_allclose(channel.value, SI[name](WRITTEN[name]), atol=off, rtol=1e-9, err_msg=name)
    np.testing.assert_allclose(found.clocks[0].stamp, WRITTEN["time"], atol=2e-3)


def changed(**columns: list[str]) -> list[list[str]]:
    return [list(row) for row in zip(*(columns.get(n, TEXT[n]) for n in ORDER), strict=True)]


def test_german_latin1_with_rows_of_units_and_types(tmp_path: Path) -> None:
    heads = [
        "Zeit",
        "Motordrehzahl",
        "Saugrohrdruck",
        "Drosselklappe",
        "Lambdawert",
        "Kühlmitteltemp.",
        "Ansauglufttemp.",
        "Fahrgeschw.",
        "Zündwinkel",
        "Bordnetzspannung",
    ]
    units = ["s", "1/min", "mbar", "%", "-", "°C", "°C", "km/h", "°KW", "V"]
    rows = changed(map=[f"{v * 10:.0f}" for v in WRITTEN["map"]])
    lines = ["Messung 12;Fahrer: N. N.;;;", ";".join(heads), ";".join(units), ";".join(["F64"] * 10)]
    lines += [";".join(row).replace(".", ",") for row in rows]
    holds(open_log(put(tmp_path, "\r\n".join(lines), encoding="latin-1")))


def test_french_with_tabs(tmp_path: Path) -> None:
    heads = [
        "Temps (s)",
        "Régime moteur (tr/min)",
        "Pression collecteur (bar)",
        "Papillon (%)",
        "Lambda",
        "Temp. eau (°C)",
        "Temp. air admission (°C)",
        "Vitesse (km/h)",
        "Avance (°)",
        "Tension batterie (V)",
    ]
    rows = changed(map=[f"{v / 100:.3f}" for v in WRITTEN["map"]])
    lines = ["\t".join(heads)] + ["\t".join(row).replace(".", ",") for row in rows]
    holds(open_log(put(tmp_path, "\n".join(lines), encoding="utf-16")))


def test_spanish_with_a_clock(tmp_path: Path) -> None:
    heads = [
        "Hora",
        "Régimen (rpm)",
        "Presión colector (kPa)",
        "Mariposa (%)",
        "Sonda lambda",
        "Temp. refrigerante (°C)",
        "Temp. admisión (°C)",
        "Velocidad (km/h)",
        "Avance encendido (°)",
        "Batería (V)",
    ]
    late = dt.datetime(2026, 5, 4, 23, 58, 50, tzinfo=dt.UTC)
    clock = [(late + dt.timedelta(seconds=float(t))).strftime("%H:%M:%S.%f")[:-3] for t in WRITTEN["time"]]
    lines = [";".join(heads)] + [";".join(row) for row in changed(time=clock)]
    holds(open_log(put(tmp_path, "\n".join(lines))))


def test_american_units_that_nobody_says(tmp_path: Path) -> None:
    heads = ["Time", "RPM", "Boost", "TPS", "AFR", "ECT", "IAT", "VSS", "Spark Adv", "Batt V"]
    rows = changed(
        map=[f"{(v - AIR) / 6.894757:.2f}" for v in WRITTEN["map"]],
        **{"lambda": [f"{v * 14.7:.2f}" for v in WRITTEN["lambda"]]},
        clt=[f"{v * 1.8 + 32:.1f}" for v in WRITTEN["clt"]],
        iat=[f"{v * 1.8 + 32:.1f}" for v in WRITTEN["iat"]],
        speed=[f"{v / 1.609344:.1f}" for v in WRITTEN["speed"]],
    )
    lines = [",".join(heads)] + [",".join(row) for row in rows]
    log = open_log(put(tmp_path, "\n".join(lines)), place_pressure=AIR * 1e3)
    holds(log, {"map": 40.0, "lambda": 4e-4, "clt": 0.03, "iat": 0.03, "speed": 0.03})
    assert not any(c.unit_said for c in log.mapping.columns if c.key in ("road_speed", "lambda"))


def test_headings_over_two_rows(tmp_path: Path) -> None:
    below = "[s],Speed [rpm],Pressure [kPa],Position [%],[-],Temp [°C],Temp [°C],Speed [km/h],Advance [deg],"
    lines = ["Time,Engine,Manifold,Throttle,Lambda,Coolant,Intake,Road,Spark,Battery", below + "Voltage [V]"]
    holds(open_log(put(tmp_path, "\n".join(lines + [",".join(row) for row in ROWS]))))


def test_runs_of_spaces_and_a_list_of_channels_above(tmp_path: Path) -> None:
    heads = [
        "time_s",
        "rpm",
        "map_kpa",
        "tps_pct",
        "lambda",
        "clt_c",
        "iat_c",
        "speed_kmh",
        "spark_deg",
        "batt_v",
    ]
    lines = ["# columns: 10", "# car  red"] + ["  ".join(heads)] + ["   ".join(row) for row in ROWS]
    holds(open_log(put(tmp_path, "\n".join(lines))))
    above = ["Channel,Unit,Min,Max"] + [f"{h},-,0,{10 * k}" for k, h in enumerate(heads)] + [""]
    lines = above + [",".join(heads)] + [",".join(row) for row in ROWS]
    holds(open_log(put(tmp_path, "\n".join(lines), name="above.csv")))


def test_columns_that_say_the_same_in_every_row(tmp_path: Path) -> None:
    heads = [
        "car",
        "driver",
        "time [s]",
        "rpm",
        "map [kPa]",
        "throttle [%]",
        "lambda",
        "coolant [°C]",
        "iat [°C]",
        "speed [km/h]",
        "ignition [deg]",
        "battery [V]",
    ]
    lines = [",".join(heads)] + [",".join(["red", "me", *row]) for row in ROWS]
    holds(open_log(put(tmp_path, "\n".join(lines))))


@pytest.mark.parametrize("short", ["n", "ub"])
def test_letters_of_formulas_are_asked_about(tmp_path: Path, short: str) -> None:
    names = {"n": "rpm", "ub": "battery"}
    heads = ["t", "rpm", "map", "tps", "lam", "clt", "iat", "vss", "ign", "batt"]
    heads[ORDER.index(names[short])] = short
    log = open_log(put(tmp_path, "\n".join([",".join(heads)] + [",".join(row) for row in ROWS])))
    (question,) = [q for q in log.questions if q.heading == short]
    assert KEYS[names[short]] in {c.key for c in question.candidates}

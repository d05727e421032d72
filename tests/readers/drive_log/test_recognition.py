"""Columns are known by name, unit and values together; what is not sure is asked."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import LogRefused
from boostwright.readers.drive_log import Mapping, OpenLog, open_log
from boostwright.readers.drive_log.names import fits, kind_word, readings
from tests.labels import check
from tests.readers.drive_log.made import AIR, HEADS, KEYS, SI, Array, cells, drive, put, rounded, table

DRIVE = drive()
WRITTEN = rounded(DRIVE)
HEAD = {n: f"{h} [{u}]" if u else h for n, (h, u) in HEADS.items()}
BAR, PSI, INHG = 100.0, 6.894757, 3.386389  # kPa


def opened(
    folder: Path,
    heads: dict[str, str],
    columns: dict[str, Array] | None = None,
    digits: dict[str, int] | None = None,
    **options: object,
) -> OpenLog:
    """A log with some headings and columns changed; '' leaves a column out."""
    values = dict(DRIVE) | (columns or {})
    shown = {n: HEAD.get(n, n) for n in values} | heads
    keep = {n: v for n, v in values.items() if shown[n]}
    texts = cells(keep, dict.fromkeys(keep, 3) | {"rpm": 0} | (digits or {}))
    return open_log(put(folder, table(texts, heads=shown)), **options)  # type: ignore[arg-type]


def taken(log: OpenLog, heading: str) -> tuple[str, str]:
    return next((c.key, c.unit) for c in log.mapping.columns if c.heading == heading)


@pytest.mark.parametrize(
    ("heading", "key"),
    [
        ("RPM", "engine_speed"),
        ("Motordrehzahl [1/min]", "engine_speed"),
        ("Drehzahl_U/min", "engine_speed"),
        ("Régime moteur (tr/min)", "engine_speed"),
        ("Régimen del motor [rpm]", "engine_speed"),
        ("EngineSpeed_rpm", "engine_speed"),
        ("Saugrohrdruck abs. [mbar]", "manifold_pressure"),
        ("Pression collecteur admission (kPa)", "manifold_pressure"),
        ("Presión del colector de admisión [kPa]", "manifold_pressure"),
        ("Ladedruck [bar]", "charge_pressure"),
        ("Ladedruck Soll [bar]", "boost_target"),
        ("Boost target (kPa)", "boost_target"),
        ("Desired boost pressure", "boost_target"),
        ("Drosselklappenstellung [%]", "throttle"),
        ("Position papillon [%]", "throttle"),
        ("Posición mariposa (%)", "throttle"),
        ("Gaspedalstellung", "pedal"),
        ("AFR measured", "lambda"),
        ("Lambda 1", "lambda"),
        ("Lambda Soll", "lambda_target"),
        ("Target AFR", "lambda_target"),
        ("Zündwinkel [°KW]", "spark_advance"),
        ("Avance allumage (°)", "spark_advance"),
        ("Knock Retard Cyl 3 [deg]", "knock_retard"),
        ("Ansauglufttemperatur [°C]", "intake_temperature"),
        ("IAT_degC", "intake_temperature"),
        ("Température d'admission", "intake_temperature"),
        ("Kühlmitteltemp. [°C]", "coolant_temperature"),
        ("Kuehlmitteltemperatur", "coolant_temperature"),
        ("Temp. eau", "coolant_temperature"),
        ("Öltemperatur", "oil_temperature"),
        ("Oeldruck [bar]", "oil_pressure"),
        ("Presión de aceite (bar)", "oil_pressure"),
        ("Fuel Pressure (kPa)", "fuel_pressure"),
        ("Kraftstoffdruck", "fuel_pressure"),
        ("Batteriespannung [V]", "battery_voltage"),
        ("Vitesse véhicule [km/h]", "road_speed"),
        ("Fahrgeschwindigkeit", "road_speed"),
        ("Velocidad", "road_speed"),
        ("Gang", "gear"),
        ("Einspritzzeit [ms]", "injector_pulse"),
        ("Injector Duty Cycle (%)", "injector_duty"),
        ("Wastegate duty (%)", "gate_duty"),
        ("EGT 1 (°C)", "exhaust_temperature"),
        ("Abgastemperatur", "exhaust_temperature"),
        ("Kurbelgehäusedruck (mbar)", "crankcase_pressure"),
        ("MAF (g/s)", "air_flow"),
        ("Luftmasse [kg/h]", "air_flow"),
        ("STFT bank 1 (%)", "fuel_trim"),
        ("Long term fuel trim [%]", "fuel_trim_long"),
        ("Turboladerdrehzahl [1/min]", "turbo_speed"),
        ("Luftdruck [hPa]", "barometer"),
        ("Ambient temp", "outside_temperature"),
        ("Accelerator pedal pos", "pedal"),
        ("Knock count", "knock_count"),
        ("Klopfpegel Zyl. 2", "knock_level"),
    ],
)
def test_headings_of_four_languages(heading: str, key: str) -> None:
    best = max((f for r in readings(heading) for f in fits(r.name)), key=lambda f: f.score)
    assert (best.key, best.score > 0.75) == (key, True), best


@pytest.mark.parametrize(
    "heading",
    [
        "RPM limit",
        "Lambda error",
        "MAP rate of change",
        "MAP sensor voltage",
        "Engine speed error",
        "Idle target rpm",
        "Gearbox oil temperature",
        "Boost cut",
        "Throttle motor current",
        "Knock window",
        "Lap",
        "Lambda sensor status",
        "Spark dwell",
        "TPS voltage",
        "Fan relay",
        "Clutch switch",
        "Steering angle",
        "Latitude",
        "Tyre pressure front left",
    ],
)
def test_headings_that_sound_like_a_quantity_and_are_none(heading: str) -> None:
    sure = [f for r in readings(heading) for f in fits(r.name) if f.score >= 0.6]
    assert sure == []


def test_gauge_or_absolute_by_words() -> None:
    assert kind_word("MAP (abs)") == "absolute"
    assert kind_word("Boost gauge pressure") == "gauge"
    assert kind_word("Saugrohrdruck relativ") == "gauge"
    assert kind_word("MAP") == ""


@check("common practice", note="a manifold shows vacuum at idle, an engine at rest the air's pressure")
@pytest.mark.parametrize(
    ("heading", "scale", "gauge", "unit"),
    [
        ("MAP", 1.0, False, "kPa absolute"),
        ("MAP", BAR, False, "bar absolute"),
        ("MAP", 0.1, False, "mbar absolute"),
        ("MAP", PSI, False, "psi absolute"),
        ("MAP", INHG, False, "inHg absolute"),
        ("Boost", 1.0, True, "kPa gauge"),
        ("Boost", BAR, True, "bar gauge"),
        ("Boost", PSI, True, "psi gauge"),
        ("Manifold pressure [psi]", PSI, True, "psi gauge"),
        ("Manifold pressure [psi]", PSI, False, "psi absolute"),
        ("Manifold pressure [kPa]", 1.0, True, "kPa gauge"),
    ],
)
def test_pressure_unit_and_kind_by_values(
    tmp_path: Path, heading: str, scale: float, gauge: bool, unit: str
) -> None:
    shown = (DRIVE["map"] - (AIR if gauge else 0.0)) / scale
    log = opened(tmp_path, {"map": heading}, {"map": shown}, {"map": 4}, place_pressure=AIR * 1e3)
    assert taken(log, heading) == ("manifold_pressure", unit)
    channel = log.read().find("manifold_pressure")
    assert channel is not None
    np.testing.assert_allclose(channel.value, DRIVE["map"] * 1e3, atol=0.6 * 1e-4 * scale * 1e3)


def test_a_gauge_with_vacuum_in_another_unit(tmp_path: Path) -> None:
    over = (DRIVE["map"] - AIR) / PSI
    shown = np.where(over < 0.0, (DRIVE["map"] - AIR) / INHG, over)
    log = opened(tmp_path, {"map": "Boost"}, {"map": shown}, place_pressure=AIR * 1e3)
    channel = log.read().find("manifold_pressure")
    if channel is None:  # asked: then the right answer is among the candidates
        (question,) = [q for q in log.questions if q.heading == "Boost"]
        assert any(c.unit == "psi above, inHg below" for c in question.candidates)
    else:
        np.testing.assert_allclose(channel.value, DRIVE["map"] * 1e3, atol=20.0)


@pytest.mark.parametrize(
    ("heading", "factor", "shift"),
    [("Coolant", 1.8, 32.0), ("Coolant", 1.0, 273.15), ("Coolant", 1.0, 0.0), ("Coolant_F", 1.8, 32.0)],
)
def test_temperature_unit_by_values(tmp_path: Path, heading: str, factor: float, shift: float) -> None:
    columns = {n: DRIVE[n] * factor + shift for n in ("clt", "iat")}
    log = opened(tmp_path, {"clt": heading, "iat": "Intake air temp"}, columns)
    for name in ("clt", "iat"):
        channel = log.read().find(KEYS[name])
        assert channel is not None, log.questions
        np.testing.assert_allclose(channel.value, SI[name](DRIVE[name]), atol=1e-3)


@check(
    "common practice", note="closed loop holds lambda 1; gauges are scaled by 14.7 for petrol, 14.05 for E10"
)
@pytest.mark.parametrize(("scale", "unit"), [(14.7, "AFR petrol"), (14.05, "AFR E10")])
def test_air_fuel_ratio_by_its_closed_loop(tmp_path: Path, scale: float, unit: str) -> None:
    log = opened(tmp_path, {"lambda": "AFR"}, {"lambda": DRIVE["lambda"] * scale})
    assert taken(log, "AFR") == ("lambda", unit)
    channel = log.read().find("lambda")
    assert channel is not None
    np.testing.assert_allclose(channel.value, DRIVE["lambda"], atol=1e-3)


def test_an_air_fuel_ratio_without_closed_loop_is_asked(tmp_path: Path) -> None:
    rich = 12.2 + 0.5 * np.sin(np.arange(len(DRIVE["time"])) / 40.0)
    log = opened(tmp_path, {"lambda": "AFR"}, {"lambda": rich})
    assert log.read().find("lambda") is None
    (question,) = log.questions
    assert question.heading == "AFR"
    assert {"AFR petrol", "AFR E10"} <= {c.unit for c in question.candidates}
    assert "fuel" in question.why
    answered = open_log(log.path, mapping=log.mapping.answered("AFR", "lambda", "AFR E10"))
    assert answered.questions == ()
    channel = answered.read().find("lambda")
    assert channel is not None
    np.testing.assert_allclose(channel.value, rich / 14.05, atol=1e-3)
    assert (channel.unit_said, channel.confidence) == (True, 1.0)


def test_volts_of_a_sensor_are_not_its_quantity(tmp_path: Path) -> None:
    log = opened(
        tmp_path,
        {"map": "MAP [V]", "lambda": "Wideband (V)"},
        {"map": DRIVE["map"] / 60.0, "lambda": DRIVE["lambda"] * 2.0},
    )
    assert taken(log, "MAP [V]")[0] == taken(log, "Wideband (V)")[0] == ""
    assert {"MAP [V]", "Wideband (V)"} <= set(log.read().unknown)


@check("common practice", note="1000 rpm in the tallest gear is 27 to 47 km/h")
@pytest.mark.parametrize(("factor", "unit"), [(1.0, "km/h"), (1 / 1.609344, "mph")])
def test_road_speed_by_the_gears(tmp_path: Path, factor: float, unit: str) -> None:
    tall = DRIVE["rpm"] * 0.75  # 37 km/h for 1000 rpm: as mph it would be 60
    log = opened(
        tmp_path,
        {"speed": "Speed"},
        {"speed": DRIVE["speed"] * factor, "rpm": np.where(DRIVE["rpm"] > 1200, tall, DRIVE["rpm"])},
    )
    key, found = taken(log, "Speed")
    if key:
        assert (key, found) == ("road_speed", unit)
    else:  # asked, with the right one among the candidates
        (question,) = [q for q in log.questions if q.heading == "Speed"]
        assert unit in {c.unit for c in question.candidates}


def test_shares_of_one_and_percent(tmp_path: Path) -> None:
    log = opened(tmp_path, {"tps": "Throttle"}, {"tps": DRIVE["tps"] / 100.0}, {"tps": 4})
    assert taken(log, "Throttle") == ("throttle", "of one")
    closed = opened(tmp_path, {"tps": "Throttle"}, {"tps": 12.0 + 0.86 * DRIVE["tps"]})
    channel = closed.read().find("throttle")
    assert channel is not None
    assert np.nanmin(channel.value) == pytest.approx(0.12)
    assert "12 %" in channel.note


def test_sign_of_spark_and_of_retard(tmp_path: Path) -> None:
    late = np.where(DRIVE["tps"] > 90, -3.0, 0.0)
    log = opened(
        tmp_path, {"spark": "Spark [deg]", "kr": "Knock retard [deg]"}, {"spark": -DRIVE["spark"], "kr": late}
    )
    spark, retard = log.read().find("spark_advance"), log.read().find("knock_retard")
    assert retard is not None
    np.testing.assert_allclose(retard.value, np.deg2rad(-late), atol=1e-6)
    if spark is None:
        assert any(q.heading == "Spark [deg]" for q in log.questions)
    else:
        np.testing.assert_allclose(spark.value, np.deg2rad(DRIVE["spark"]), atol=1e-4)


def test_pulse_and_duty(tmp_path: Path) -> None:
    load = DRIVE["map"] / AIR * (DRIVE["rpm"] > 100)
    pulse = 1.0 + 9.0 * load
    duty = pulse * DRIVE["rpm"] / 1200.0
    for heading, column, key, unit in (
        ("Injector pulse width", pulse, "injector_pulse", "ms"),
        ("Injector pulse width", pulse * 1e3, "injector_pulse", "us"),
        ("Injector duty", duty, "injector_duty", "%"),
        ("Injector [ms]", pulse, "injector_pulse", "ms"),
        ("Injector [%]", duty, "injector_duty", "%"),
    ):
        log = opened(tmp_path, {"inj": heading}, {"inj": column})
        key_found, unit_found = taken(log, heading)
        assert (key_found, unit_found) == (key, unit), (heading, log.questions)


def test_trims_as_a_factor_and_as_percent(tmp_path: Path) -> None:
    trim = 0.04 * np.sin(np.arange(len(DRIVE["time"])) / 30.0)
    for column in (trim * 100.0, 1.0 + trim, 100.0 + 100.0 * trim):
        log = opened(tmp_path, {"trim": "Short term fuel trim"}, {"trim": column}, {"trim": 5})
        channel = log.read().find("fuel_trim")
        assert channel is not None, log.questions
        np.testing.assert_allclose(channel.value, trim, atol=1e-5)


def test_a_unit_that_cannot_be_true_is_asked(tmp_path: Path) -> None:
    log = opened(tmp_path, {"clt": "Coolant Temp [°F]"})  # 62 to 90 degF would be a cold engine for ever
    assert taken(log, "Coolant Temp [°F]")[0] in ("", "coolant_temperature")
    psi = opened(tmp_path, {"map": "MAP [psi]"})  # 98 psi at rest
    assert taken(psi, "MAP [psi]")[0] == ""
    assert any(q.heading == "MAP [psi]" for q in psi.questions)


def test_the_target_stands_near_what_is_measured(tmp_path: Path) -> None:
    target = np.where(DRIVE["tps"] > 90, 145.0, 100.0)
    log = opened(tmp_path, {"target": "Boost target"}, {"target": target})
    channel = log.read().find("boost_target")
    assert channel is not None, log.questions
    np.testing.assert_allclose(channel.value, target * 1e3)


def test_gauge_pressure_without_a_barometer_is_a_limit(tmp_path: Path) -> None:
    over = DRIVE["map"] - AIR
    log = opened(tmp_path, {"map": "Boost [kPa gauge]"}, {"map": over})
    assert any("barometer" in limit for limit in log.limits)
    channel = log.read().find("manifold_pressure")
    assert channel is not None
    np.testing.assert_allclose(channel.value, (over + 101.325) * 1e3, atol=1.0)
    with_own = opened(
        tmp_path,
        {"map": "Boost [kPa gauge]", "baro": "Barometer [kPa]"},
        {"map": over, "baro": np.full(len(over), AIR)},
    )
    assert with_own.limits == ()
    channel = with_own.read().find("manifold_pressure")
    assert channel is not None
    np.testing.assert_allclose(channel.value, DRIVE["map"] * 1e3, atol=1.0)
    assert "barometer" in channel.note


def test_an_absolute_pressure_at_rest_serves_as_barometer(tmp_path: Path) -> None:
    log = opened(
        tmp_path, {"boost": "Charge pressure [kPa gauge]"}, {"boost": np.maximum(DRIVE["map"] - AIR, 0.0)}
    )
    assert log.air.known
    assert log.air.pressure == pytest.approx(AIR * 1e3, rel=3e-3)


@check("common practice", note="the pressure before the throttle is never below the manifold's")
def test_boost_beside_the_manifold_is_before_the_throttle_high_up_as_well(tmp_path: Path) -> None:
    high = 0.77 * DRIVE["map"]  # at 2200 m
    noise = np.random.default_rng(9).normal(0.0, 0.4, len(high))
    heads = {"boost": "Boost pressure [kPa abs]", "tps": ""}  # nothing says when the engine idles
    driven = {"map": high, "rpm": np.maximum(DRIVE["rpm"], 1600.0)}
    pipe = opened(tmp_path, heads, driven | {"boost": np.maximum(high, 0.77 * AIR) + 1.0 + noise})
    assert taken(pipe, "Boost pressure [kPa abs]") == ("charge_pressure", "kPa absolute")
    below = opened(tmp_path, heads, driven | {"boost": 0.55 * AIR + 3.0 * noise})
    assert taken(below, "Boost pressure [kPa abs]")[0] != "charge_pressure"


def test_a_mapping_is_written_and_read_again(tmp_path: Path) -> None:
    log = opened(tmp_path, {"tps": "Sensor 7"})
    assert taken(log, "Sensor 7")[0] == ""
    answered = log.mapping.answered("Sensor 7", "throttle", "%")
    again = Mapping.from_json(answered.to_json())
    assert again == answered
    assert again.fingerprint == log.mapping.fingerprint
    channel = open_log(log.path, mapping=again).read().find("throttle")
    assert channel is not None
    np.testing.assert_allclose(channel.value, DRIVE["tps"] / 100.0, atol=1e-5)
    left_out = open_log(log.path, mapping=log.mapping.answered(HEAD["rpm"], ""))
    assert left_out.read().find("engine_speed") is None


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        (("No such column", "throttle", "%"), "unknown-column"),
        ((1, "thrust", "N"), "unknown-channel"),
        ((1, "throttle", "kPa"), "unknown-unit"),
        ((1, "lambda", "AFR"), "unknown-unit"),
    ],
)
def test_answers_that_cannot_be(tmp_path: Path, answer: tuple[str | int, str, str], code: str) -> None:
    log = opened(tmp_path, {})
    with pytest.raises(LogRefused) as refused:
        log.mapping.answered(*answer)
    assert refused.value.code == code
    assert refused.value.remedy


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"version": 1, "fingerprint": "", "columns": [{}]}', "null"]
)
def test_what_is_no_mapping(text: str) -> None:
    with pytest.raises(LogRefused, match="no mapping"):
        Mapping.from_json(text)


def test_two_logs_of_one_source_have_one_fingerprint(tmp_path: Path) -> None:
    one = opened(tmp_path, {}).mapping.fingerprint
    shorter = {n: v[:700] for n, v in DRIVE.items()}
    assert opened(tmp_path, {}, shorter).mapping.fingerprint == one
    assert opened(tmp_path, {"tps": "TPS"}).mapping.fingerprint != one


def test_a_file_without_known_headings_is_read_once_a_person_says_what_they_are(tmp_path: Path) -> None:
    shown = {n: f"Sensor {k}" for k, n in enumerate(DRIVE) if n != "time"}
    with pytest.raises(LogRefused, match="shows an engine") as refused:
        opened(tmp_path, shown)
    mapping = refused.value.mapping
    for name, unit in (("rpm", "rpm"), ("map", "kPa absolute"), ("lambda", "lambda")):
        mapping = mapping.answered(shown[name], KEYS[name], unit)
    found = open_log(tmp_path / "drive.csv", mapping=mapping).read()
    assert {c.key for c in found.channels} == {"engine_speed", "manifold_pressure", "lambda"}
    channel = found.find("manifold_pressure")
    assert channel is not None
    np.testing.assert_allclose(channel.value, DRIVE["map"] * 1e3, atol=1.0)


@check("common practice", note="displacement of a car's engine by flow, speed and density in the manifold")
@pytest.mark.parametrize(
    ("displacement", "factor", "units"),
    [
        (2.0, 3.6, {"kg/h"}),  # filled to 85 %: 1.7 L, or 6.1 L in g/s
        (2.0, 1.0, {"g/s"}),  # 1.7 L, or 0.47 L in kg/h
        (1.2, 3.6, {"g/s", "kg/h"}),  # 1.0 L, or 3.7 L in g/s: both are cars
    ],
)
def test_air_flow_by_the_engine_that_it_fills(
    tmp_path: Path, displacement: float, factor: float, units: set[str]
) -> None:
    turns = DRIVE["rpm"] / 120.0
    flow = turns * displacement * 0.85 * DRIVE["map"] / (0.28705 * 310.0)  # g/s
    log = opened(tmp_path, {"flow": "Air mass"}, {"flow": flow * factor})
    key, unit = taken(log, "Air mass")
    if key:
        assert units == {unit}
    else:
        (question,) = log.questions
        assert {c.unit for c in question.candidates} == units


def test_percent_that_never_exceeds_one_is_asked(tmp_path: Path) -> None:
    log = opened(tmp_path, {"tps": "Throttle [%]"}, {"tps": DRIVE["tps"] / 100.0})
    (question,) = log.questions
    assert {c.unit for c in question.candidates} == {"%", "of one"}

"""Build files: how each thing that can be wrong is answered."""

from __future__ import annotations

import re

import pytest

from boostwright.build.catalogue import catalogue
from boostwright.errors import BuildFileError
from boostwright.readers.build_file import read_build
from tests.readers.small_file import SMALL, faults_of, one_fault, read_small, with_line

TEN = b"""\
# ten planted faults; [goal] is missing
[build]
name = "Ten faults"

[engine]
source = "handbook"
class = "four-valve"
cylinders = 4
bore = "86 kg"
stroke = "86 mm"
rod_length = "80 mm"
compresion_ratio = "9.8"
stroke = "84 mm"
speed_limit = "fast"

[place]
source = "measured"
temperature = "25 \xb0C"

[injectors]
source = "maker"
flow = "-440 cc/min"

[baseline]
source = "measured"
speed = "6000 5000 4000 3000 rpm"
torque = "150 160 165 150 Nm"

[controller]
boost_cut = "0.6 bar"
"""


def test_ten_planted_faults_are_answered_at_once() -> None:
    faults = faults_of(TEN)
    lines = TEN.split(b"\n")

    def line_of(text: bytes) -> int:
        return next(n for n, line in enumerate(lines, 1) if line.startswith(text))

    expected = {
        "wrong-unit": (line_of(b"bore"), "engine.bore", "50 mm to 115 mm", "length"),
        "geometry": (line_of(b"rod_length"), "engine.rod_length", "98.9 mm", "stroke"),
        "unknown-key": (line_of(b"compresion"), "engine.compresion_ratio", "", "compression_ratio"),
        "duplicate-key": (line_of(b"stroke") + 3, "engine.stroke", "once", "take the other out"),
        "no-number": (line_of(b"speed_limit"), "engine.speed_limit", "2500 rpm to 11000 rpm", "6500 rpm"),
        "not-utf8": (line_of(b"temperature"), "place.temperature", "UTF-8", "Save the file as UTF-8"),
        "negative": (line_of(b"flow"), "injectors.flow", "60 cc/min to 3000 cc/min", "310 cc/min"),
        "reversed-table": (line_of(b"speed ="), "baseline.speed", "above", "lowest speed"),
        "gauge-absolute": (line_of(b"boost_cut"), "controller.boost_cut", "80 kPa absolute", "161.3 kPa"),
        "missing-section": (len(lines) - 1, "goal", "[goal]", "boost"),
    }
    found = {fault.code: fault for fault in faults}
    assert set(found) == set(expected)
    assert len(faults) == 10
    for code, (line, field, allowed, remedy) in expected.items():
        fault = found[code]
        assert (fault.line, fault.field) == (line, field), code
        assert allowed in fault.allowed, code
        assert remedy in fault.remedy, code
        assert fault.written, code


@pytest.mark.parametrize(
    ("section", "line", "code", "remedy"),
    [
        # wrong unit
        ("engine", 'rod_length = "143 kg"', "wrong-unit", "mm"),
        ("engine", 'rod_length = "143 mmm"', "unknown-unit", "143 mm"),
        ("engine", 'rod_length = "143"', "no-unit", "143 mm"),
        ("engine", "rod_length = 143", "no-unit", '"143 mm"'),
        ("injectors", 'flow = "42 lb/h"', "wrong-unit", "426.2 cc/min of petrol, or 464.2 cc/min"),
        ("fuel", 'octane = "85 MON"', "wrong-unit", "95 RON"),
        ("fuel", "ethanol = 10", "no-unit", '"10 %"'),
        ("fuel", 'lambda_boost = "11.8 AFR"', "no-unit", "AFR petrol"),
        ("engine", 'intake_opens = "20 deg bbdc"', "wrong-unit", "btdc"),
        # gauge and absolute
        ("place", 'barometer = "0.02 barg"', None, ""),
        ("place", 'barometer = "1.0 barg"', "gauge-absolute", ""),
        ("wastegate", 'spring = "0.5 bara"', "gauge-absolute", '"0.5 bar"'),
        ("wastegate", 'spring = "1.5 bara"', None, ""),
        ("regulator", 'pressure = "3 bara"', "gauge-absolute", "without"),
        ("pressure_sensor", 'highest = "0.6 bar"', "gauge-absolute", "161.3 kPa"),
        ("pressure_sensor", 'highest = "10 psi"', "gauge-absolute", "kPa"),
        # out of range, with what may have been meant
        ("engine", 'rod_length = "143 cm"', "out-of-range", "143 mm"),
        ("engine", 'speed_limit = "6.500 rpm"', "out-of-range", "6500 rpm"),
        ("engine", 'rod_length = "143 in"', "out-of-range", "143 mm"),
        ("turbo", 'turbine_housing = "0.60 mm"', "out-of-range", "0.60 in"),
        ("engine", "compression_ratio = 98", "out-of-range", "burette"),
        ("injectors", 'flow = "-440 cc/min"', "negative", "310"),
        ("engine", "compression_ratio = inf", "not-finite", ""),
        ("engine", "compression_ratio = nan", "not-finite", ""),
        # text and numbers
        ("engine", 'intake_valves = "two"', "no-number", ""),
        ("engine", "intake_valves = 2.5", "wrong-type", "whole"),
        ("engine", "intake_valves = true", "wrong-type", ""),
        ("engine", "rod_length = [143, 144]", "wrong-type", ""),
        ("engine", 'pistons = "wood"', "wrong-choice", "cast, hypereutectic, forged"),
        ("engine", 'pistons = "forgd"', "wrong-choice", "forged"),
        ("engine", "pistons = 3", "wrong-type", ""),
        ("blow_off", 'fitted = "yes"', "wrong-type", "true or false"),
        ("build", 'date = "spring"', "wrong-type", "2025-03-31"),
        ("build", "story = 3", "wrong-type", ""),
        ("build", 'story = ""', "wrong-type", ""),
        ("engine", 'source = "my uncle"', "duplicate-key", ""),
        ("turbo", 'source = "my uncle"', "wrong-choice", "measured"),
        ("turbo", 'source = "mesured"', "wrong-choice", '"measured"'),
        # names
        ("engine", 'rodlength = "143 mm"', "unknown-key", "rod_length"),
        ("engine", 'boost = "0.5 bar"', "unknown-key", "[goal]"),
        ("engine", "qqqqqq = 1", "unknown-key", "explain engine"),
        ("enigne", 'rod_length = "143 mm"', "unknown-section", "[engine]"),
        ("flux_capacitor", "x = 1", "unknown-section", "explain"),
        # spreads and inline tables
        ("engine", 'rod_length = { value = "143 mm", spread = "x" }', "no-number", ""),
        ("engine", 'rod_length = { value = "143 +/- 1 mm", spread = "1 mm" }', "two-spreads", "either"),
        ("engine", 'rod_length = { value = "143 mm", sorce = "maker" }', "unknown-key", "source"),
        ("engine", 'rod_length = { source = "maker" }', "missing-value", "value"),
        ("engine", 'rod_length = { value = "143 mm", source = "guess" }', "wrong-choice", "assumed"),
        ("engine", 'rod_length = { value = "143 mm", note = 3 }', "wrong-type", ""),
        # lists
        ("joints", 'name = "x"', "wrong-form", "[[joints]]"),
    ],
)
def test_each_kind_of_mistake(section: str, line: str, code: str | None, remedy: str) -> None:
    if code is None:
        try:
            read_small(section, line)
        except BuildFileError as error:
            pytest.fail(str(error))
        return
    faults = faults_of(with_line(section, line))
    found = [fault for fault in faults if fault.code == code]
    assert found, [fault.sentence() for fault in faults]
    assert remedy in found[0].remedy + found[0].allowed + found[0].why


@pytest.mark.parametrize(
    ("section", "lines", "code", "field"),
    [
        ("engine", 'rod_length = "80 mm"', "geometry", "engine.rod_length"),
        ("engine", 'displacement = "1.6 L"', "geometry", "engine.displacement"),
        ("engine", 'intake_valve_diameter = "50 mm"', "geometry", "engine.intake_valve_diameter"),
        (
            "engine",
            'intake_valve_diameter = "20 mm"\nintake_lift = "11 mm"',
            "geometry",
            "engine.intake_lift",
        ),
        ("engine", 'intake_opens = "3 deg btdc"', "incomplete", "engine.intake_opens"),
        ("engine", 'cam_lift_point = "1 mm"', "incomplete", "engine.cam_lift_point"),
        (
            "engine",
            (
                'intake_opens = "60 deg atdc"\nintake_closes = "20 deg bbdc"\n'
                'exhaust_opens = "50 deg bbdc"\nexhaust_closes = "10 deg atdc"'
            ),
            "geometry",
            "engine.intake_closes",
        ),
        ("engine", 'compression_pressure = "12 12 12 bar"', "uneven-table", "engine.compression_pressure"),
        ("baseline", 'speed = "2000 3000 rpm"', "incomplete", "baseline.speed"),
        ("baseline", 'speed = "2000 3000 rpm"\ntorque = "100 Nm"', "uneven-table", "baseline.torque"),
        ("baseline", 'speed = "3000 2000 rpm"\ntorque = "100 110 Nm"', "reversed-table", "baseline.speed"),
        (
            "baseline",
            'speed = "1000 3000 2000 rpm"\ntorque = "90 100 110 Nm"',
            "unsorted-table",
            "baseline.speed",
        ),
        ("fuel", 'octane = "91 RON"\nmotor_octane = "95 MON"', "order", "fuel.motor_octane"),
        (
            "turbo",
            'compressor_inducer = "60 mm"\ncompressor_exducer = "45 mm"',
            "order",
            "turbo.compressor_inducer",
        ),
    ],
)
def test_what_cannot_fit_together(section: str, lines: str, code: str, field: str) -> None:
    fault = one_fault(section, lines)
    assert (fault.code, fault.field) == (code, field)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('injection = "direct"', "cannot judge this build"),
        ('injection = "carburettor"', "port injection"),
        ('variable_valve_timing = "intake"', "locked"),
        ('variable_valve_timing = "both"', "locked"),
        ('variable_valve_timing = "lift"', "none"),
    ],
)
def test_what_is_not_modelled_is_refused_with_what_can_be_done(line: str, said: str) -> None:
    fault = one_fault("engine", line)
    assert fault.code == "not-modelled"
    assert said in fault.remedy


@pytest.mark.parametrize("refused", [("engine.injection", "direct"), ("engine.class", "direct-injection")])
def test_nobody_is_led_around_the_refusal_of_direct_injection(refused: tuple[str, str]) -> None:
    path, word = refused
    remedy = catalogue().field(path).refused[word]
    assert "not modelled yet" in remedy
    assert "Do not write" in remedy
    for still in ("explain", "keep the file", "another engine"):
        assert still in remedy
    assert one_fault("engine", 'injection = "direct"').allowed == ""


def test_moving_cams_are_only_judged_where_they_are_held() -> None:
    for word, remedy in catalogue().field("engine.variable_valve_timing").refused.items():
        assert "held" in remedy, word
        assert "events" in remedy, word
        assert "If not, this program cannot judge this build" in remedy, word


def test_a_file_that_is_no_build_file_is_told_so_first() -> None:
    report = "Verdict: holds\n" + "  Peak cylinder pressure ....... 89 bar\n\nIt holds.\n" * 80
    other = "[tool]\n" + "".join(f"name_{n} = {n}\n" for n in range(30)) + "[more]\nx = 1\n[most]\ny = 2\n"
    for text in (report, other):
        faults = faults_of(text)
        assert faults[0].code == "no-build-file"
        assert "this is not a build file" in faults[0].why
        assert len(faults) <= 5
    assert "no-build-file" not in {f.code for f in faults_of(TEN)}


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('intake_valves = "16V"', "counts the valves of one cylinder"),
        ('compression_ratio = "stock"', "leave the line out: the usual value of the class is assumed"),
        ('pistons = "original"', "leave the line out: the usual value of the class is assumed"),
        ('compression_pressure = "unknown"', "leave the line out: nothing is assumed in its place"),
    ],
)
def test_a_word_for_not_known_is_answered_with_leaving_the_line_out(line: str, said: str) -> None:
    fault = one_fault("engine", line)
    assert said in fault.remedy
    assert "leave the line out" in fault.remedy


def test_a_word_for_not_known_is_no_answer_where_the_value_is_needed() -> None:
    faults = faults_of(SMALL.replace('"86 mm"\nstroke', '"stock"\nstroke'))
    assert [f.field for f in faults] == ["engine.bore"]
    assert "cannot do without this value" in faults[0].remedy


@pytest.mark.parametrize(
    ("section", "line", "never"),
    [
        ("injectors", 'dead_time = "0.001 ms"', "0001"),
        ("goal", 'boost = "0.5 baar"', r"\b(mPa|Pa|mbar)\b"),
        ("goal", 'boost = "0.5 kg"', r"\b(mPa|Pa|mbar)\b"),
        ("goal", 'boost = "500 mpa"', r"Write .*mPa"),
        ("engine", 'rod_length = "143 kg"', r"\b(m|km|um)\b"),
    ],
)
def test_no_suggestion_is_a_thousand_times_off(section: str, line: str, never: str) -> None:
    text = SMALL.replace('boost = "0.5 bar"', line) if section == "goal" else with_line(section, line)
    faults = faults_of(text)
    assert len(faults) == 1
    assert not re.search(never, faults[0].remedy), faults[0].remedy


def test_notes_tell_unusual_values_from_sections_without_a_source() -> None:
    text = with_line("engine", 'rod_length = "110 mm"').replace('source = "handbook"\n', "")
    notes = read_build(text.encode()).notes
    assert {note.code: note.is_unusual for note in notes} == {"no-source": False, "unusual": True}
    unsourced = next(note for note in notes if not note.is_unusual)
    assert "does not say where its 3 values come from" in unsourced.sentence()
    assert "= 3 values" not in unsourced.sentence()


def test_a_faulty_line_is_not_called_missing_as_well() -> None:
    first = 'intake_opens = "20 deg btdc"\nexhaust_closes = "20 deg atdc"\n'
    fault = one_fault("engine", f'{first}exhaust_opens = "40 deg bbdc"\nintake_closes = "48 deg"')
    assert fault.field == "engine.intake_closes"
    faults = faults_of(with_line("engine", f'{first}intake_closes = "48 deg"'))
    assert [f.field for f in faults] == ["engine.intake_opens", "engine.intake_closes"]
    assert faults[0].why.startswith("exhaust_opens missing")
    fault = one_fault("baseline", 'source = "measured"\nspeed = "2000 3000 rpm"\ntorque = "150 160 kg"')
    assert fault.field == "baseline.torque"
    rows = '\n[[readings]]\nfield = "engine.bor"\nvalue = "12.4 bar"\n'
    assert [f.field for f in faults_of(SMALL + rows)] == ["readings.field"]


@pytest.mark.parametrize("word", ["diesel", "rotary", "two-stroke", "turbo", "direct-injection"])
def test_other_engines_are_refused_in_plain_words(word: str) -> None:
    faults = faults_of(SMALL.replace("four-valve", word))
    assert [f.code for f in faults] == ["not-modelled"]
    assert faults[0].allowed == "four-valve, two-valve"


def test_a_barometer_corrected_to_sea_level_is_noticed() -> None:
    place = 'source = "measured"\naltitude = "1500 m"\nbarometer = "%s"'
    assert [n.code for n in read_small("place", place % "101.6 kPa").notes] == ["unusual"]
    assert not read_small("place", place % "84.9 kPa").notes

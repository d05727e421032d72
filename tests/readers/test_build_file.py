"""Build files: what reads, and how each thing that can be wrong is answered."""

from __future__ import annotations

import math
import re
import timeit
from pathlib import Path

import pytest

from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.build.faults import Fault, Severity
from boostwright.build.values import Source
from boostwright.errors import BuildFileError
from boostwright.library import demo_builds, demo_path
from boostwright.readers.build_file import MOST_FAULTS, read_build, read_build_file

SMALL = """\
[build]
name = "Small"

[goal]
boost = "0.5 bar"

[engine]
source = "handbook"
class = "four-valve"
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
"""


def faults_of(text: str | bytes) -> tuple[Fault, ...]:
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(BuildFileError) as caught:
        read_build(data, "test.toml")
    faults: tuple[Fault, ...] = caught.value.faults
    for fault in faults:
        assert fault.line >= 1
        assert fault.why
        assert fault.remedy
        assert fault.severity is Severity.FAULT
        assert fault.sentence().startswith(f"line {fault.line}")
    return faults


def with_line(section: str, line: str) -> str:
    """The small file with one more line in a section."""
    if f"[{section}]" in SMALL:
        return SMALL.replace(f"[{section}]\n", f"[{section}]\n{line}\n")
    return f"{SMALL}\n[{section}]\n{line}\n"


def one_fault(section: str, line: str) -> Fault:
    faults = faults_of(with_line(section, line))
    assert len(faults) == 1, [f.sentence() for f in faults]
    return faults[0]


def read_small(section: str, line: str) -> Build:
    return read_build(with_line(section, line).encode())


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


def test_sources_and_spreads() -> None:
    build = read_small(
        "engine",
        'rod_length = { value = "143 mm", source = "measured" }\n'
        'compression_ratio = "9.8 +/- 0.2"\nrunner_length = { value = "400 mm", spread = "5 %" }',
    )
    assert build["engine.rod_length"].source is Source.MEASURED
    assert build["engine.rod_length"].sd == pytest.approx(0.1e-3)  # the catalogue's figure for a measured rod
    assert build["engine.bore"].source is Source.HANDBOOK  # the section's
    assert build["engine.compression_ratio"].sd == pytest.approx(0.1)
    assert build["engine.runner_length"].sd == pytest.approx(0.010)
    assert build["goal.boost"].source is Source.CHOSEN
    assert build["goal.boost"].sd == 0
    assert build["engine.intake_lift"].source is Source.ASSUMED
    assert build["engine.intake_lift"].sd > 0
    assert build["engine.bore"].line == SMALL.split("\n").index('bore = "86 mm"') + 1 + 3
    assert build["engine.bore"].text == "86 mm"


def test_source_for_the_whole_file_and_for_none() -> None:
    text = SMALL.replace('source = "handbook"\n', "")
    build = read_build(text.encode())
    assert build["engine.bore"].source is Source.HANDBOOK
    assert [note.code for note in build.notes] == ["no-source"]
    build = read_build(('source = "measured"\n' + text).encode())
    assert build["engine.bore"].source is Source.MEASURED
    assert not build.notes


def test_unusual_is_a_note_and_not_a_fault() -> None:
    build = read_small("engine", 'speed_limit = "9500 rpm"')
    assert [(n.code, n.field, n.severity) for n in build.notes] == [
        ("unusual", "engine.speed_limit", Severity.NOTE)
    ]


def test_gauge_and_absolute_turn_by_the_places_own_air() -> None:
    high = SMALL + '\n[wastegate]\nsource = "measured"\nspring = "1.5 bara"\n'
    high += '[place]\nsource = "measured"\naltitude = "2300 m"\n'
    low = high.replace("2300 m", "0 m")
    for text in (high, low):
        build = read_build(text.encode())
        assert build.number("wastegate.spring") == pytest.approx(150e3 - build.barometer)
        assert [n.code for n in build.notes] == ["pressure-kind"]
    assert read_build(high.encode()).number("wastegate.spring") > read_build(low.encode()).number(
        "wastegate.spring"
    )


def test_inch_and_lambda_and_rows() -> None:
    build = read_build(
        (
            SMALL + "\n[baseline]\nsource = 'measured'\nspeed = { values = [2000, 3000], unit = 'rpm' }\n"
            "torque = ['150 Nm', '160 +/- 4 Nm']\n"
        ).encode()
    )
    assert build.numbers("baseline.speed") == pytest.approx([2000 * math.pi / 30, 3000 * math.pi / 30])
    assert build.numbers("baseline.torque") == (150.0, 160.0)
    assert build["baseline.torque"].sd == pytest.approx((4.5, 2.0))


def test_cam_timing_by_durations_gives_the_four_events() -> None:
    lines = (
        'cam_lift_point = "1 mm"\nintake_duration = "208 deg"\nintake_centre = "107 deg atdc"\n'
        'exhaust_duration = "206 deg"\nexhaust_centre = "109 deg btdc"'
    )
    build = read_small("engine", lines)
    degrees = {name: math.degrees(build.number(f"engine.{name}")) for name in
               ("intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes")}  # fmt: skip
    assert degrees["intake_opens"] == pytest.approx(360 + 107 - 104)
    assert degrees["intake_closes"] == pytest.approx(360 + 107 + 104)
    assert degrees["exhaust_opens"] == pytest.approx(360 - 109 - 103)
    assert degrees["exhaust_closes"] == pytest.approx(360 - 109 + 103)
    assert build["engine.intake_opens"].sd > 0


def test_readings_are_read_as_their_field() -> None:
    rows = '[[readings]]\nfield = "engine.compression_pressure"\nvalue = "12.4 12.6 12.5 12.3 bar"\n'
    build = read_build((SMALL + rows).encode())
    assert build.table("readings")[0]["value"].value[0] == pytest.approx(12.4e5)
    wrong = faults_of(SMALL + rows.replace("bar", "kg"))
    assert wrong[0].code == "wrong-unit"
    unknown = faults_of(SMALL + rows.replace("compression_pressure", "compresion_pressure"))
    assert "compression_pressure" in unknown[0].why


def test_a_broken_file_is_read_to_its_end() -> None:
    text = SMALL.replace('bore = "86 mm"', "bore = 86 mm").replace('name = "Small"', 'name = "Small')
    faults = faults_of(text + 'rod_length = "20 mm"\n')
    assert [f.code for f in faults] == ["broken-value", "broken-value", "out-of-range"]
    assert faults[0].field == "build.name"


def test_nothing_at_all() -> None:
    assert {f.code for f in faults_of(b"")} == {"missing-section"}
    assert {f.field for f in faults_of("# nothing\n\n")} == {"build", "goal", "engine"}
    assert faults_of(b"\xff\xfe\x00")[0].code == "not-utf8"


def test_the_list_of_faults_has_an_end() -> None:
    faults = faults_of(SMALL + "x = 1\ny 2\n" * 2000)
    assert len(faults) <= MOST_FAULTS
    assert faults[-1].code == "too-many"


@pytest.mark.parametrize("name", demo_builds())
def test_demo_builds_read(name: str) -> None:
    build = read_build_file(demo_path(name))
    assert build.name
    assert build.fingerprint == read_build(demo_path(name).read_bytes()).fingerprint
    assert all(v.sd is not None for v in build.stated())


def test_the_readme_example_reads() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    block = readme.partition("```toml\n")[2].partition("```")[0]
    assert "[engine]" in block
    assert read_build(block.encode()).name


PAGE = (Path(__file__).parents[2] / "docs" / "build_file.md").read_text("utf-8")
SHOWN = re.findall(r"`([a-z_]+ = [^`]+)`", PAGE.partition("## Where")[0])


@pytest.mark.parametrize("line", SHOWN)
def test_the_pages_examples_read(line: str) -> None:
    name = line.partition(" ")[0]
    homes = [s for s, names in catalogue().names_by_section.items() if name in names]
    home = "engine" if "engine" in homes else homes[0]
    text = "\n".join(part for part in SMALL.split("\n") if not part.startswith(f"{name} "))
    text = (
        text.replace(f"[{home}]\n", f"[{home}]\n{line}\n")
        if f"[{home}]" in text
        else f"{text}\n[{home}]\n{line}\n"
    )
    try:
        read_build(text.encode())
    except BuildFileError as error:  # cam events and rows are shown one at a time
        left = [fault for fault in error.faults if fault.code != "incomplete"]
        if left:
            pytest.fail(left[0].sentence())


def test_a_file_loads_in_milliseconds() -> None:
    """Thirty times what it takes on a middling machine, so that only a change of kind fails."""
    data = demo_path("sound").read_bytes()
    once = min(timeit.repeat(lambda: read_build(data), number=3, repeat=3)) / 3
    assert once < 0.06


def test_errors_name_the_file_and_the_first_fault() -> None:
    with pytest.raises(BuildFileError, match=r"car\.toml: 1 fault\. First: line 11"):
        read_build(SMALL.replace("86 mm", "86 kg", 1).encode(), "car.toml")


def test_a_missing_unit_is_answered_with_the_unit_of_the_trade() -> None:
    """An A/R of 0.48 is counted in inches; nobody means 0.48 m."""
    text = b'[build]\nname = "x"\n[goal]\nboost = "0.5 bar"\n[engine]\ncylinders = 4\nbore = "83 mm"\n'
    text += b'stroke = "83 mm"\n[turbo]\nturbine_housing = "0.48"\n[fuel]\nethanol = "E10"\n'
    with pytest.raises(BuildFileError) as caught:
        read_build(text)
    remedies = [fault.remedy for fault in caught.value.faults]
    assert any('turbine_housing = "0.48 in"' in remedy for remedy in remedies)
    assert not any("0.48 m" in remedy for remedy in remedies)
    assert any("like ethanol" in remedy for remedy in remedies)  # an example, not advice to fill in 5 %

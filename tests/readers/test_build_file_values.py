"""Build files: what reads, and what it is read as."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from boostwright.build.catalogue import catalogue
from boostwright.build.faults import Severity
from boostwright.build.values import Source
from boostwright.errors import BuildFileError
from boostwright.library import demo_builds, demo_path
from boostwright.readers.build_file import MOST_FAULTS, read_build, read_build_file
from tests.readers.small_file import SMALL, faults_of, read_small


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
    beside = demo_path(name).parent
    again = read_build(demo_path(name).read_bytes(), "", lambda other: (beside / other).read_bytes())
    assert build.fingerprint == again.fingerprint
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


@pytest.mark.parametrize("size", ["banana", "195/65/15", "205 wide"])
def test_a_tyre_that_is_no_tyre_is_refused(size: str) -> None:
    (fault,) = faults_of(f'{SMALL}[car]\ntyre = "{size}"\n')
    assert fault.field == "car.tyre"
    assert "195/60 R14" in fault.remedy


def test_gears_in_the_wrong_order_are_refused() -> None:
    (fault,) = faults_of(f'{SMALL}[car]\ngears = "0.97 1.28 1.95 3.45"\n')
    assert "first gear up" in fault.remedy


@pytest.mark.parametrize(
    ("field", "number", "unit"),
    [
        ("engine.ring_gap", "0.45", "mm"),
        ("engine.ring_gap", "0.014", "in"),
        ("clutch.disc_outer", "8.5", "in"),
    ],
)
def test_a_number_without_unit_is_offered_one_with_which_it_is_possible(
    field: str, number: str, unit: str
) -> None:
    section, name = field.split(".")
    text = SMALL if section == "engine" else f"{SMALL}[{section}]\n"
    (fault,) = faults_of(f'{text}{name} = "{number}"\n')
    assert f'"{number} {unit}"' in fault.remedy


def test_a_number_that_is_possible_in_no_unit_is_offered_none() -> None:
    (fault,) = faults_of(f'{SMALL}ring_gap = "4000"\n')
    assert "possible in none" in fault.remedy


@pytest.mark.parametrize(
    ("rest", "field", "said"),
    [
        ('[battery]\nfuse = "150 A"\nfused = false\n', "battery.fused", "rating is stated"),
        (
            '[[readings]]\nfield = "engine.leak_down"\nvalue = "5 6 5 6 7 %"\n',
            "readings.value",
            "number of cylinders 4",
        ),
    ],
)
def test_what_contradicts_itself_is_refused(rest: str, field: str, said: str) -> None:
    (fault,) = faults_of(SMALL + rest)
    assert fault.field.endswith(field.rpartition(".")[2])
    assert said in fault.why


def test_a_reading_is_not_dated_on_the_other_side_of_the_conversion() -> None:
    text = SMALL.replace('name = "Small"\n', 'name = "Small"\nconverted_on = 2025-06-21\n')
    row = '[[readings]]\nfield = "engine.oil_pressure_idle"\nvalue = "1.5 bar"\nwhen = "{}"\ndate = {}\n'
    (fault,) = faults_of(text + row.format("after", "2025-06-01"))
    assert "2025-06-01" in fault.why
    (fault,) = faults_of(text + row.format("before", "2025-08-01"))
    assert "2025-08-01" in fault.why

"""Ranges with no more digits than a reading tells apart, and what a rail that falls at idle points at."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.build.values import Source
from boostwright.cli.door import main
from boostwright.errors import ReadingError
from boostwright.library.measurements import measurements
from boostwright.planning.readings import Expected, read_written
from boostwright.views.reading_words import range_words

RPM = 0.10471975511965977


@pytest.mark.parametrize(
    ("key", "low", "high", "words"),
    [
        ("idle_speed", 632.4 * RPM, 1067.6 * RPM, "630 to 1070 rpm"),  # a reading scatters by 20 rpm
        ("air_cold", 280.18, 318.15, "7 to 45 degC"),  # by 1 K
        ("cranking_voltage", 9.6, 11.437, "9.6 to 11.4 V"),  # by 0.15 V
    ],
)
def test_digits_are_those_of_the_reading(key: str, low: float, high: float, words: str) -> None:
    expected = Expected(low, high, (low + high) / 2.0, (high - low) / 4.0, "because", "somebody")
    assert range_words(measurements()[key], expected) == words


def test_limits_alone_stay_as_they_are_written() -> None:
    limits = Expected(13.2, 14.8, None, None, "because", "somebody")
    assert range_words(measurements()["charging_voltage"], limits) == "13.2 to 14.8 V"


@pytest.mark.parametrize(("text", "offer"), [("0.9 krpm", "900 rpm"), ("1,05krpm", "1050 rpm")])
def test_thousands_are_offered_in_full(text: str, offer: str) -> None:
    with pytest.raises(ReadingError) as refused:
        read_written(measurements()["idle_speed"], text, 1e5)
    assert f"Did you mean {offer}?" in str(refused.value)


def test_a_rail_that_falls_though_the_file_says_it_does_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "car.toml"
    file.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    stated = verbs.load_build(file)["regulator.reference"]
    text = file.read_text()
    if stated.source is Source.ASSUMED or not stated.line:
        text = text.replace("[regulator]\n", '[regulator]\nreference = "tank"\n')
    else:
        lines = text.splitlines()
        lines[stated.line - 1] = 'reference = "tank"'
        text = "\n".join(lines) + "\n"
    file.write_text(text)
    assert verbs.load_build(file).words("regulator.reference") == "tank"
    main(["record", str(file), "rail_pressure_static", "3.0 bar", "--who", "L"])
    capsys.readouterr()
    assert main(["record", str(file), "rail_pressure_idle", "2.45 bar", "--again", "--who", "L"]) == 3
    said = " ".join(capsys.readouterr().out.split())
    assert "falls at idle as one that does" in said
    assert "regulator.reference is to be corrected" in said

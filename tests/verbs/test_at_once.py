"""Readings whose harm does not wait: said first, kept, and in the way until one inside follows."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.build.recorded import Standing
from boostwright.cli import codes
from boostwright.cli.door import main
from boostwright.library.measurements import measurements
from boostwright.verbs import AskedReading

KEY_OFF = "without oil pressure"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    return path


@pytest.mark.parametrize("key", ["oil_idle_warm", "first_oil_pressure", "oil_pressure_idle"])
def test_no_oil_pressure_says_key_off_first_and_is_kept(
    file: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["record", str(file), key, "0,2 bar", "--who", "Lena"])
    said = capsys.readouterr().out
    assert code == codes.BREAKS
    assert said.startswith("If that is what it shows: KEY OFF NOW, do not start again")
    assert "read it again" not in said
    (record,) = verbs.load_job(file).records
    (judged,) = verbs.judged_of(verbs.load_job(file))
    assert judged.holds_work
    assert judged.reading.id == record.id


def test_a_single_knock_stops_the_pulls(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = main(["record", str(file), "pull_knock", "3", "--who", "Lena"])
    said = capsys.readouterr().out
    assert code == codes.BREAKS
    assert said.startswith("If that is what it shows: Stop. No further pull. Find the cause.")
    assert "before you act" not in said


def test_too_high_an_oil_pressure_is_still_asked_twice(file: Path) -> None:
    kept = verbs.record_reading(file, AskedReading("oil_pressure_idle", "7 bar", who="Lena", sure=True))
    assert kept.judged is not None
    assert kept.judged.state is Standing.FAR
    assert kept.judged.at_once == ""
    assert not kept.judged.holds_work


@pytest.mark.parametrize("key", ["fuel_dry", "brake_feel", "cut_acts", "first_smoke", "walk_round"])
def test_a_wrong_answer_says_what_to_do_first(
    file: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    one = measurements()[key]
    bad = next(a for a in (one.choices or {"no": ""}) if a not in one.good)
    code = main(["record", str(file), key, bad, "--who", "Lena", "--witness", "Tom"])
    assert code == codes.BREAKS
    assert " ".join(capsys.readouterr().out.split()).startswith(f"If that is what it shows: {one.at_once}")


def test_a_good_answer_stops_nothing(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["record", str(file), "pull_knock", "0", "--who", "Lena"]) == codes.FINE
    assert "If that is what it shows" not in capsys.readouterr().out


def test_gas_in_the_coolant_is_not_wiped_by_one_good_answer(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    at = ["--who", "Tom", "--time"]
    assert main(["record", str(file), "coolant_gas", "found", *at, "2025-04-12 09:40"]) == codes.BREAKS
    capsys.readouterr()
    assert main(["record", str(file), "coolant_gas", "none", *at, "2025-04-12 10:10"]) == codes.BREAKS
    said = " ".join(capsys.readouterr().out.split())
    assert "contradicts the reading of 2025-04-12 09:40" in said
    assert "by Tom, which stands" in said
    assert verbs.load_job(file).build.words("engine.coolant_gas") == "found"
    first = verbs.load_job(file).records[0].id
    assert main(["record", str(file), "--undo", first, "--who", "Tom"]) == codes.UNUSABLE
    assert "without a reason" in capsys.readouterr().err
    assert main(["record", str(file), "--undo", first, "--who", "Tom", "--note", "old fluid"]) == codes.FINE
    assert verbs.load_job(file).build.words("engine.coolant_gas") == "none"


def test_a_joint_that_is_dry_again_says_what_it_contradicts(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = ["--who", "Lena", "--witness", "Tom", "--time"]
    assert main(["record", str(file), "fuel_dry", "no", *more, "2025-04-12 09:40"]) == codes.BREAKS
    capsys.readouterr()
    assert main(["record", str(file), "fuel_dry", "yes", *more, "2025-04-12 10:10"]) == codes.FINE
    assert "It contradicts the reading of 2025-04-12 09:40" in " ".join(capsys.readouterr().out.split())
    assert main(["record", str(file), "fuel_dry", "yes", *more, "2025-04-12 10:40"]) == codes.FINE
    assert "contradicts" not in capsys.readouterr().out

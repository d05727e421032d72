"""`boostwright record`: text, JSON, exit codes; and that `check` stands on what is on record."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import main
from boostwright.library.measurements import measurements
from boostwright.views.record_page import RECORD_FORMAT


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    return path


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main(["record", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def flat(text: str) -> str:
    return " ".join(text.split())


def test_what_is_due_has_why_how_and_with_what(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, file)
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    due = verbs.due_readings(verbs.load_job(file))
    assert len(due) > 30
    for one in (row.measurement for row in due):
        assert f"\n{one.key}\n" in out
        assert flat(one.why) in flat(out)
        assert flat(one.how) in flat(out)
    assert "extinguisher" in out
    assert "vehicle manual" in flat(out)


def test_a_good_reading(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, file, "oil_pressure_idle", "1,4", "bar", "--who", "Lena", "--with", "gauge")
    assert code == 0
    assert "1.4 bar gauge" in out
    assert "expected" in out
    assert "inside" in out
    assert "Lena" in out


def test_exit_codes_say_outside_hold_and_refused(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, file, "coolant_drop", "12 kPa")[0] == 3
    code, out, _ = run(capsys, file, "coolant_drop", "13 kPa")
    assert code == 1
    assert "a hold" in flat(out)
    code, out, err = run(capsys, file, "coolant_drop", "13")
    assert (code, out) == (2, "")
    assert "no unit" in err
    code, _, err = run(capsys, file, "oil_pressure_idle", "7 bar")
    assert code == 2
    assert "Really 7 bar gauge?" in err
    assert "--again" in err


def test_after_is_set_against_before(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, file, "compression", "13 13 13 13 bar", "--when", "before")
    _, out, _ = run(capsys, file, "compression", "13 12.9 11.9 13 bar", "--when", "after")
    assert "cylinder 3 of 4" in flat(out)
    assert "scatter" in out
    _, out, _ = run(capsys, file, "compression", "13 12.9 9.9 13 bar", "--when", "after")
    assert "the change is real" in flat(out)


def test_json_carries_its_form_versions_and_fingerprint(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in ([], ["pump_voltage", "13.4 V"], ["--list"], ["--start", "strip.sump"], ["--undo"]):
        code, out, _ = run(capsys, file, *words, "--json")
        document = json.loads(out)
        assert code == (3 if words[:1] == ["--start"] else 0), "out of order"
        assert document["format"] == RECORD_FORMAT
        assert document["fingerprint"] == verbs.load_job(file).build.fingerprint
        assert document["version"]
        assert document["data"]
        assert document["build"] == "Lake hatchback"


def test_the_sheet_goes_out_and_comes_back(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, file, "--table", "--when", "before")
    rows = out.splitlines()
    places = rows[0].split(",").index("value")
    line = next(i for i, row in enumerate(rows) if row.startswith("pump_voltage,"))
    cells = next(csv.reader([rows[line]]))
    cells[places] = "13.4 V"
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow(cells)
    rows[line] = text.getvalue()
    sheet = file.with_name("sheet.csv")
    sheet.write_text("\n".join(rows), encoding="utf-8")
    code, out, _ = run(capsys, file, "--sheet", sheet, "--who", "Lena", "--time", "2025-04-12")
    assert code == 0
    assert "1 new reading" in out
    sheet.write_text("measurement,value\npump_voltage,13.4\n", encoding="utf-8")
    code, _, err = run(capsys, file, "--sheet", sheet)
    assert code == 2
    assert "sheet.csv:2" in err


def test_one_thing_at_a_time(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, file, "pump_voltage", "13.4 V", "--done", "strip.sump")
    assert code == 2
    assert "two things at once" in err


@pytest.mark.parametrize("key", list(measurements()))
def test_every_measurement_explains_itself(file: Path, capsys: pytest.CaptureFixture[str], key: str) -> None:
    code, out, _ = run(capsys, file, "--explain", key)
    assert code == 0
    assert flat(measurements()[key].why) in flat(out)
    assert max(map(len, out.splitlines())) <= 80


def test_a_file_that_is_none_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, tmp_path / "no.toml")[0] == 2
    assert run(capsys, tmp_path)[0] == 2


def test_check_says_what_it_stands_on(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, file, "leak_down", "25 6 5 7 %")
    main(["check", str(file), "--json", "--quiet", "--speeds", "2500 3500 4500 rpm"])
    document = json.loads(capsys.readouterr().out)
    assert any("1 recorded reading used" in warning for warning in document["warnings"])
    findings = {one["code"]: one for one in document["findings"]}
    assert findings["record.outside"]["verdict"] == "unknown"
    assert findings["record.against_file"]["verdict"] == "unknown"
    assert findings["engine.leak_down"]["verdict"] == "breaks"
    run(capsys, file, "--undo")
    main(["check", str(file), "--json", "--quiet", "--speeds", "2500 3500 4500 rpm"])
    document = json.loads(capsys.readouterr().out)
    assert "record.outside" not in {one["code"] for one in document["findings"]}


def test_what_only_the_ladder_can_judge_is_not_called_good(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, file, "map_key_on", "120 kPa")
    assert "NOT judged here" in flat(out)
    _, out, _ = run(capsys, file, "battery_key_on", "12.5 V")
    assert "Inside what this build should show" not in flat(out)
    assert "boostwright ladder" in flat(out)
    _, out, _ = run(capsys, file, "pump_voltage", "13.4 V")
    assert "Inside what this build should show" in flat(out), "read before the conversion: judged here"

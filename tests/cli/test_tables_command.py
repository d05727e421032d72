"""`boostwright tables`: what it prints and writes, what edits of its files do, and its exit codes.

The calibration is one made by hand, so that the command is judged and not the model.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from boostwright import verbs
from boostwright.calibration.records import Calibration, Check
from boostwright.cli import codes, main
from boostwright.verbs import Tabled
from tests.sample_calibration import CAUTION, DEG, sample_calibration

HOLDING = (Check("all", "Everything agrees.", True),)
Asked = dict[str, Any]


@pytest.fixture
def car(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text)
    return tmp_path / "sound.toml"


@pytest.fixture
def asked(car: Path, monkeypatch: pytest.MonkeyPatch) -> Asked:
    """The sample stands in for the model; what it was asked for is kept."""
    seen: Asked = {}
    inputs = verbs.load_build(car).fingerprint
    sample = replace(sample_calibration(HOLDING), fingerprint=inputs)

    def recheck(edited: Calibration) -> tuple[Check, ...]:
        target = edited.table("boost_target").value
        return (Check("all", "Boost stays below 170 kPa.", bool(np.nanmax(target) < 1.7e5)),)

    def made(build: Any, **arguments: Any) -> Tabled:
        seen.update(arguments)
        return Tabled(seen.get("calibration", sample), recheck)

    monkeypatch.setattr(verbs, "tables", made)
    return seen


def run(*words: str | Path) -> int:
    return main(["tables", *map(str, words), "--quiet"])


@pytest.mark.parametrize(
    ("checks", "code"),
    [
        (HOLDING, codes.FINE),
        ((*HOLDING, Check("x", "Not known.", None)), codes.UNKNOWN),
        ((Check("x", "Not known.", None), Check("y", "It breaks.", False)), codes.BREAKS),
    ],
)
def test_the_exit_code_follows_the_checks(
    car: Path, asked: Asked, checks: tuple[Check, ...], code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    asked["calibration"] = sample_calibration(checks)
    assert run(car) == code
    said = capsys.readouterr().out
    assert "Settings" in said
    assert "A starting point for a competent person" in said


def test_breakpoints_and_probability_are_handed_on(car: Path, asked: Asked) -> None:
    assert run(car, "--speeds", "900 2000 4000 rpm", "--pressures", "40 80 120 kPa") == codes.FINE
    np.testing.assert_allclose(asked["speeds"], np.array([900, 2000, 4000]) * np.pi / 30)
    np.testing.assert_allclose(asked["pressures"], [4e4, 8e4, 1.2e5])
    assert asked["probability"] == 0.9
    assert run(car, "--probability", "0.97") == codes.FINE
    assert asked["probability"] == 0.97
    assert asked["speeds"] is None


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--pressures", "0.2 0.6 1.0 bar gauge"), "gauge"),
        (("--pressures", "80 40 120 kPa"), "must rise"),
        (("--pressures", "40 80 5000 kPa"), "between 10 and 400 kPa"),
        (("--pressures", "40 80 120"), "has no unit"),
        (("--speeds", "900 800 4000 rpm"), "must rise"),
        (("--show", "sprak"), "Did you mean 'spark'?"),
        (("--keep",), "--edited"),
        (("--undo", "--edited", "x.csv"), "--undo"),
        (("--json", "--show", "spark"), "--json"),
        (("--edited", "nowhere.csv"), "no such file"),
        (("--undo",), "no kept edits"),
    ],
)
def test_what_cannot_be_meant(
    car: Path, asked: Asked, words: tuple[str, ...], why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(car, *words) == codes.UNUSABLE
    assert why in capsys.readouterr().err


def test_one_table_or_all_in_full(car: Path, asked: Asked, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(car, "--show", "spark") == codes.FINE
    assert "36.0*" in capsys.readouterr().out
    assert run(car, "--show", "all") == codes.FINE
    assert capsys.readouterr().out.count("take care:") == len(sample_calibration().tables)


def test_brief_is_the_verdict_and_the_checks(
    car: Path, asked: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(car, "--brief") == codes.FINE
    said = capsys.readouterr().out
    assert "The one check holds" in said
    assert CAUTION in " ".join(said.split())
    assert "Settings" not in said


def test_the_tables_of_a_demo(car: Path, asked: Asked, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "sound", "--tables", "--out", "demo", "--quiet"]) == codes.FINE
    assert "The one check holds" in capsys.readouterr().out
    assert (car.parent / "demo" / "spark.csv").exists()
    assert main(["demo", "sound", "--tables", "--json", "--quiet"]) == codes.FINE
    assert json.loads(capsys.readouterr().out)["tables"]


def test_json_follows_the_schema_that_is_printed(
    car: Path, asked: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["schema", "tables"]) == codes.FINE
    schema = json.loads(capsys.readouterr().out)
    assert run(car, "--json") == codes.FINE
    jsonschema.Draft202012Validator(schema).validate(json.loads(capsys.readouterr().out))


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without plots, which take the longest by far."""
    monkeypatch.setattr("boostwright.views.plots.calibration.draw_calibration", lambda *_: ())


@pytest.fixture
def out(car: Path, asked: Asked, undrawn: None, capsys: pytest.CaptureFixture[str]) -> Path:
    assert run(car, "--out", "out") == codes.FINE
    assert "CSV files" in capsys.readouterr().out
    return car.parent / "out"


def test_the_folder_holds_everything_and_each_page_its_caution(car: Path, asked: Asked) -> None:
    assert run(car, "--out", "drawn") == codes.FINE
    out = car.parent / "drawn"
    tables = sample_calibration().tables
    names = {path.name for path in out.iterdir()}
    assert {"tables.txt", "tables.json"} <= names
    assert {f"{table.key}.csv" for table in tables} <= names
    assert {f"{table.key}_cells.csv" for table in tables if len(table.axes) == 2} <= names
    assert {"table_spark.png", "table_spark.svg", "table_boost.png"} <= names
    for path in out.glob("*.csv"):
        assert path.read_bytes().startswith(b"\xef\xbb\xbf")
        assert CAUTION in path.read_text("utf-8")
    assert CAUTION in " ".join((out / "tables.txt").read_text("utf-8").split())


def test_files_that_nobody_edited_change_nothing(
    car: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for table in sample_calibration().tables:
        assert run(car, "--edited", out / f"{table.key}.csv") == codes.FINE
        assert f"Nothing is changed in {table.key}" in " ".join(capsys.readouterr().out.split())


def test_files_set_the_breakpoints_that_are_computed(car: Path, out: Path, asked: Asked) -> None:
    assert run(car, "--edited", out / "spark.csv", out / "boost_target.csv") == codes.FINE
    axes = sample_calibration().table("spark").axes
    np.testing.assert_allclose(asked["speeds"], axes[0].values, rtol=1e-6)
    np.testing.assert_allclose(asked["pressures"], axes[1].values, rtol=1e-6)
    assert run(car, "--edited", out / "boost_target.csv") == codes.FINE
    assert asked["speeds"] is None  # boost over speed says nothing of the grid
    other = (out / "lambda_target.csv").read_text().replace(" 6000 6500\n", " 6100 6500\n", 1)
    (out / "lambda_target.csv").write_text(other)
    assert run(car, "--edited", out / "spark.csv", out / "lambda_target.csv") == codes.UNUSABLE


def edit(path: Path, row: str, column: int, value: str) -> None:
    lines = path.read_text("utf-8").split("\n")
    (at,) = (i for i, line in enumerate(lines) if line.startswith(f"{row},"))
    cells = lines[at].split(",")
    cells[column] = value
    lines[at] = ",".join(cells)
    path.write_text("\n".join(lines), "utf-8")


def test_an_edit_past_the_knock_limit_is_told_and_has_its_exit_code(
    car: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(out / "spark.csv", "3000", 10, "9.5")  # 7.7 degrees is the limit there
    assert run(car, "--edited", out / "spark.csv") == codes.BREAKS
    said = " ".join(capsys.readouterr().out.split()).replace("\u00a0", " ")
    assert "1 cell is changed in spark; 1 passes a limit" in said
    assert "spark at 3000 rpm, 175 kPa absolute: 5.20 deg before, 9.50 deg now" in said
    assert "above 7.7 deg: the charge knocks from here on" in said


def test_checks_run_again_on_the_edit(car: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(out / "boost_target.csv", "3000", 1, "172.0")
    assert run(car, "--edited", out / "boost_target.csv") == codes.BREAKS
    assert "does not hold: Boost stays below 170 kPa" in capsys.readouterr().out


def test_every_fault_of_every_file_is_printed(
    car: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(out / "spark.csv", "3000", 10, "late")
    edit(out / "spark.csv", "4000", 2, "1000")
    edit(out / "lambda_target.csv", "4000", 2, "rich")
    assert run(car, "--edited", out / "spark.csv", out / "lambda_target.csv") == codes.UNUSABLE
    said = " ".join(capsys.readouterr().err.split())
    assert "spark.csv: 2 faults" in said
    assert "lambda_target.csv: 1 fault" in said


def test_an_emptied_cell_is_a_fault(car: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Which cells may be empty is known with the table alone."""
    edit(out / "lambda_target.csv", "4000", 2, "")
    assert run(car, "--edited", out / "lambda_target.csv") == codes.UNUSABLE
    assert "this cell is empty" in " ".join(capsys.readouterr().err.split())


def test_faults_and_a_wrong_key_come_before_anything_is_computed(
    car: Path, out: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def never(*_: Any, **__: Any) -> Tabled:
        raise AssertionError("computed")

    monkeypatch.setattr(verbs, "tables", never)
    edit(out / "spark.csv", "3000", 10, "late")
    assert run(car, "--edited", out / "spark.csv") == codes.UNUSABLE
    text = (out / "lambda_target.csv").read_text("utf-8")
    (out / "lambda_target.csv").write_text(text.replace("unit,lambda", "unit,AFR", 1), "utf-8")
    assert run(car, "--edited", out / "lambda_target.csv") == codes.UNUSABLE
    assert run(car, "--show", "sprak") == codes.UNUSABLE
    said = " ".join(capsys.readouterr().err.split())
    assert "computed" not in said.replace("was computed", "")
    assert "spark.csv: 1 fault" in said
    assert "Write lambda" in said
    assert "Did you mean 'spark'?" in said


def test_a_table_that_this_build_lacks(car: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = out / "spark.csv"
    path.write_text(path.read_text("utf-8").replace("table,spark\n", "table,sparks\n", 1), "utf-8")
    assert run(car, "--edited", path) == codes.UNUSABLE
    assert "Did you mean 'spark'?" in " ".join(capsys.readouterr().err.split())


def test_a_file_of_another_state_of_the_build_says_so(
    car: Path, out: Path, asked: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    asked["calibration"] = replace(sample_calibration(HOLDING), fingerprint="0" * 32)
    assert run(car, "--edited", out / "spark.csv") == codes.FINE
    assert "another state of this build" in " ".join(capsys.readouterr().out.split())


def test_edits_are_kept_used_left_out_and_taken_back(
    car: Path, out: Path, asked: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(out / "spark.csv", "3000", 10, "4.0")
    assert run(car, "--edited", out / "spark.csv", "--keep") == codes.FINE
    assert "Kept as revision 1" in capsys.readouterr().out
    assert run(car, "--json") == codes.FINE
    told = json.loads(capsys.readouterr().out)
    assert [one["at"] for one in told["edits"]] == [[4, 9]]
    spark = next(table for table in told["tables"] if table["key"] == "spark")
    assert spark["value"][4][9] == pytest.approx(-4.0 * DEG)
    assert spark["origin"][4][9] == "hand"
    assert run(car, "--no-edits", "--json") == codes.FINE
    assert json.loads(capsys.readouterr().out)["edits"] is None
    assert run(car) == codes.FINE
    assert "kept as revision 1" in " ".join(capsys.readouterr().out.split())
    asked["calibration"] = replace(sample_calibration(HOLDING), tables=sample_calibration().tables[5:])
    assert run(car) == codes.FINE
    assert "this build has no such table any more" in " ".join(capsys.readouterr().out.split())
    del asked["calibration"]
    assert run(car, "--undo") == codes.FINE
    assert "revision 1 are taken back" in capsys.readouterr().out
    assert run(car, "--json") == codes.FINE
    assert json.loads(capsys.readouterr().out)["edits"] is None
    assert run(car, "--edited", out / "lambda_target.csv", "--keep") == codes.UNUSABLE
    assert "nothing to keep" in capsys.readouterr().err


def test_edits_of_the_file_as_it_was_are_left_out_and_said(
    car: Path, out: Path, asked: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(out / "spark.csv", "3000", 10, "4.0")
    assert run(car, "--edited", out / "spark.csv", "--keep") == codes.FINE
    text = car.read_text("utf-8")
    assert 'bore = "' in text
    car.write_text(re.sub(r'(?m)^bore = ".*?"', 'bore = "55 mm"', text, count=1), "utf-8")
    capsys.readouterr()
    assert run(car) == codes.FINE
    assert "Edits kept as revision 1 belong to the file as it was" in capsys.readouterr().out
    assert run(car, "--no-edits") == codes.FINE
    assert "revision 1" not in capsys.readouterr().out


def test_kept_edits_stand_beside_fits_in_the_history(
    car: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(out / "spark.csv", "3000", 10, "4.0")
    assert run(car, "--edited", out / "spark.csv", "--keep") == codes.FINE
    capsys.readouterr()
    assert main(["fit", str(car), "--list"]) == codes.FINE
    assert "Nothing has been kept" in capsys.readouterr().out
    assert main(["history", str(car)]) == codes.FINE
    assert "1 cell of the starting tables edited: spark" in " ".join(capsys.readouterr().out.split())

"""`boostwright torque`: text, JSON, CSV, exit codes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import main
from boostwright.readers.build_file import read_build
from boostwright.views.torque_page import torque_csv, torque_document, torque_report
from tests.systems.fasteners.parts import build_with, joint_text

MIXED = (
    joint_text(name="own flange"),
    joint_text(name="head", clamps="head", whose="car"),
    joint_text(name="turbo", clamps="turbine", whose="part", manual_torque="30 Nm", page="sheet 2"),
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound").split("[[fasteners]]")[0] + "\n".join(MIXED), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    return path


def test_the_sheet_on_a_terminal(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["torque", str(file)]) == 3
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 80
    blocks = said.split("\n\n")
    assert "1 of 3 joints is a hold point" in said.replace("\n", " ")
    head = next(b for b in blocks if " head\n" in b)
    assert "HOLD POINT" in head
    assert not any(character.isdigit() for character in head.split("HOLD POINT")[1].split("set to")[0])
    turbo = next(b for b in blocks if " turbo\n" in b)
    assert "30 N m" in turbo
    assert "sheet 2" in turbo
    own = next(b for b in blocks if "own flange" in b)
    assert "computed, VDI 2230" in own.replace("\n    ", " ")
    assert "vehicle manual" in blocks[-1]


def test_json_csv_and_text_agree(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "new" / "sheet"
    assert main(["torque", str(file), "--json", "--out", str(folder)]) == 3
    printed = json.loads(capsys.readouterr().out)
    kept = json.loads((folder / "torque.json").read_text("utf-8"))
    assert printed == kept
    assert printed["hold_points"] == 1
    rows = list(csv.DictReader(io.StringIO((folder / "torque.csv").read_text("utf-8"))))
    assert [row["joint"] for row in rows] == [j["joint"] for j in kept["joints"]]
    for row, record in zip(rows, kept["joints"], strict=True):
        assert (row["torque_low_Nm"] == "") == (record["torque"] is None) == record["hold_point"]
        assert row["done_by"] == ""
        if record["torque"] is not None:
            assert float(row["torque_high_Nm"]) == pytest.approx(record["torque"][1], rel=0.02)
    assert "HOLD POINT" in (folder / "torque.txt").read_text("utf-8")


def test_nothing_missing_is_fine_and_a_bad_file_is_said(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file.write_text(file.read_text("utf-8").replace(MIXED[1], ""), encoding="utf-8")
    assert main(["torque", str(file)]) == 3  # 30 N m stretch that bolt
    assert "STOP stands on: turbo" in capsys.readouterr().out
    file.write_text(file.read_text("utf-8").replace("30 Nm", "18 Nm"), encoding="utf-8")
    assert main(["torque", str(file)]) == 0
    file.write_text(
        file.read_text("utf-8").replace('clamps = "charge"', 'clamps = "everything"'), encoding="utf-8"
    )
    assert main(["torque", str(file)]) == 2
    assert "everything" in capsys.readouterr().err
    assert main(["torque", str(file.parent / "none.toml")]) == 2


def test_a_file_without_joints_says_what_to_write() -> None:
    build = build_with()
    assert "[[fasteners]]" in torque_report(verbs.torque(build), build.name)
    assert torque_csv(verbs.torque(build)).count("\n") == 1
    assert json.loads(torque_document((), "x", "1", "2", "3"))["joints"] == []


def test_a_name_with_a_comma_or_a_quote_stays_one_cell() -> None:
    build = read_build(
        b'[build]\nname = "x"\n[goal]\nboost = "0.5 bar"\n'
        b'[engine]\ncylinders = 4\nbore = "86 mm"\nstroke = "86 mm"\n'
        b'[fuel]\noctane = "95 RON"\n[[fasteners]]\nname = \'a, "b"\'\n'
    )
    (row,) = csv.DictReader(io.StringIO(torque_csv(verbs.torque(build))))
    assert row["joint"] == 'a, "b"'
    assert row["origin"] == "blank"

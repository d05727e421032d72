"""`boostwright plan`: verdict first, list, folder, errors, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import main

QUICK = ["--quick", "--samples", "500", "--quiet"]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path / "sound.toml"


def test_the_plan_on_a_terminal(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(file), *QUICK]) == 1
    said = capsys.readouterr()
    lines = said.out.splitlines()
    assert lines[0].startswith("Plan: ")
    assert lines[2].startswith("Done by Sunday ")
    assert max(map(len, lines)) <= 80
    assert "A second person" in said.out, "one works alone in this build"
    assert said.err == ""


def test_a_folder_with_everything(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "plan"
    assert main(["plan", str(file), *QUICK, "--json", "--out", str(folder)]) == 1
    said = capsys.readouterr()
    assert json.loads(said.out) == json.loads((folder / "plan.json").read_text("utf-8"))
    assert sorted(p.name for p in folder.iterdir()) == [
        "plan.csv", "plan.ics", "plan.json", "plan.png", "plan.svg", "plan.txt",
    ]  # fmt: skip
    assert "Written to" in said.err


def test_what_is_left_out_says_why(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", str(file), *QUICK, "--left-out"])
    said = capsys.readouterr().out
    assert said.startswith("Left out: ")
    assert "because" in said


def test_more_people_finish_sooner(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", str(file), *QUICK, "--json"])
    alone = json.loads(capsys.readouterr().out)
    main(["plan", str(file), *QUICK, "--json", "--people", "L home, M mechanic, H helper"])
    three = json.loads(capsys.readouterr().out)
    assert three["order"]["finish"] < alone["order"]["finish"]
    assert not three["second_person"]["visits"]


@pytest.mark.parametrize(
    ("extra", "part"),
    [
        (["--at", "Saterday 14:30"], "did you mean Saturday"),
        (["--deadline", "Sunday"], "time of day is missing"),
        (["--at", "Saturday 14:30", "--from-now"], "say two things"),
        (["--people", "L welder"], "no skill"),
        (["--people", "L home,, H"], "a name is missing"),
        (["--samples", "3"], "from 100 to 50000"),
        (["--seconds", "-1"], "from 0.0 to 600.0"),
        (["--evenings", "99"], "from 0 to 60"),
        (["--until", "run.nothing"], "no task 'run.nothing'"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence(
    file: Path, extra: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(file), *QUICK, *extra]) == 2
    said = capsys.readouterr()
    assert part in said.err
    assert "Traceback" not in said.err
    assert said.out == ""


def test_hours_that_cannot_be_read_have_their_line(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = file.read_text("utf-8") + '\n[hours]\nstart = "Saterday 08:00"\n'
    file.write_text(text, encoding="utf-8")
    assert main(["plan", str(file), *QUICK]) == 2
    said = capsys.readouterr().err
    line = next(k for k, row in enumerate(text.splitlines(), 1) if "Saterday" in row)
    assert f"sound.toml:{line}" in said.replace("\n", "")
    assert "Saturday" in said


def test_help_has_examples(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "--help"]) == 0
    said = capsys.readouterr().out
    assert "examples:" in said
    assert "exit codes:" in said

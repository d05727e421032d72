"""`boostwright review`: the page, JSON, the folder, questions that are asked and remembered, exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from boostwright import verbs
from boostwright.cli import main

GIVEN = Path(__file__).parents[1] / "readers" / "drive_logs_given"
ASKS = GIVEN / "speed_without_unit.csv"


@pytest.fixture(autouse=True)
def answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "answers"
    monkeypatch.setenv("BOOSTWRIGHT_LOGS", str(folder))
    return folder


@pytest.fixture
def car(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return path


def test_a_column_that_is_in_doubt_is_asked_for_and_the_answer_is_remembered(
    car: Path, capsys: pytest.CaptureFixture[str], answers: Path
) -> None:
    code = main(["review", str(ASKS), "--build", str(car), "--quick", "--quiet"])
    said = capsys.readouterr().out.replace("\n  ", " ")
    assert code in (1, 3)
    assert "ASKED: column 'Speed'" in said
    assert "road_speed km/h" in said
    assert not answers.exists()
    main(
        ["review", str(ASKS), "--build", str(car), "--quick", "--quiet", "--column", "Speed=road_speed km/h"]
    )
    assert "ASKED" not in capsys.readouterr().out
    assert len(list(answers.iterdir())) == 1
    main(["review", str(ASKS), "--quiet"])  # another day
    assert "ASKED" not in capsys.readouterr().out
    main(["review", str(ASKS), "--quiet", "--fresh"])
    assert "ASKED" in capsys.readouterr().out


def test_json_and_the_folder_say_the_same(
    car: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "drive"
    code = main(
        ["review", str(GIVEN / "afr_beside_lambda.csv"), "--build", str(car), "--json", "--out", str(out)]
    )
    printed = json.loads(capsys.readouterr().out)
    assert printed == json.loads((out / "review.json").read_text("utf-8"))
    assert {c["quantity"] for c in printed["columns"]} >= {"engine_speed", "manifold_pressure", "lambda"}
    assert printed["log"]["rows"] > 100
    assert printed["made_by"]["inputs"]
    text = (out / "review.txt").read_text("utf-8")
    assert max(map(len, text.splitlines())) <= 80
    assert printed["verdict"].split(":")[0][:40] in text.replace("\n", " ")
    assert (out / "drive.png").stat().st_size > 10_000
    faults = [n for n in printed["notices"] if n["fault"]]
    assert code == (0 if not faults else 1 if {n["harm"] for n in faults} & {"engine", "part"} else 3)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("shopping_list.csv", "boostwright:"),
        ("binary_blob.csv", "boostwright:"),
        ("no_such.csv", "there is no file"),
    ],
)
def test_what_is_no_log_is_refused_with_what_to_do(
    name: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", str(GIVEN / name), "--quiet"]) == 2
    said = capsys.readouterr()
    assert words in said.err
    assert said.out == ""


@pytest.mark.parametrize(
    "answer", ["Speed", "=road_speed", "Sped=road_speed km/h", "Speed=road_sped km/h", "Speed=road_speed kg"]
)
def test_an_answer_that_fits_nothing_says_what_would(
    answer: str, capsys: pytest.CaptureFixture[str], answers: Path
) -> None:
    assert main(["review", str(ASKS), "--quiet", "--column", answer]) == 2
    assert capsys.readouterr().err.strip()
    assert not answers.exists()


def test_a_kept_drive_is_listed_used_and_taken_back(
    car: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log = str(GIVEN / "all_quantities.csv")
    assert main(["review", "--build", str(car), "--undo"]) == 2
    main(["review", log, "--build", str(car), "--keep", "--quiet"])
    assert "Kept as drive 1" in capsys.readouterr().out
    assert main(["review", "--build", str(car), "--list"]) == 0
    assert "1  " in capsys.readouterr().out
    build = verbs.load_build(car)
    kept = verbs.kept_drive(build, car)
    assert [one.name for one in verbs.attachments(car)] == ["all_quantities.csv"]
    assert main(["review", "--build", str(car), "--undo"]) == 0
    assert verbs.kept_drive(build, car) is None
    assert len(verbs.kept_drives(car)) == 2  # nothing was deleted
    assert kept is not None
    narrower = [line for line in kept[0].fields if line.after_sd < 0.9 * line.before_sd]
    assert narrower, "a drive with pulls teaches something"


@pytest.mark.parametrize("options", [["--keep"], ["--undo"], ["--list"], []])
def test_options_that_need_more_say_so(options: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    log = [str(ASKS)] if options == ["--keep"] else []
    assert main(["review", *log, *options, "--quiet"]) == 2
    assert "boostwright: " in capsys.readouterr().err


def test_an_answer_that_cannot_be_is_doubted_aloud_and_not_kept(
    answers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = str(GIVEN / "gauge_with_barometer.csv")
    heading = next(
        h for h in Path(log).read_text("utf-8").splitlines()[0].split(",") if "manifold pressure" in h
    )
    main(["review", log, "--quiet", "--column", f"{heading}=manifold_pressure mbar absolute"])
    said = " ".join(capsys.readouterr().out.split())
    assert "ONLY IN PART" in said
    assert "not kept" in said
    assert not answers.exists()


def test_a_record_that_enters_nothing_names_the_step(tmp_path: Path) -> None:
    rung = SimpleNamespace(number=1, key="key_on")
    step = SimpleNamespace(rung=rung, readings=(), why=("the step that comes next is no pull.",))
    drive: Any = SimpleNamespace(model=SimpleNamespace(step=step))
    said = verbs.record_drive(tmp_path / "car.toml", drive, who="me")
    assert "No reading was entered: the step that comes next is no pull." in said
    assert "The ladder is at step 1, key_on: 'boostwright ladder" in said


def test_a_log_that_grows_while_it_is_read_says_so(tmp_path: Path) -> None:
    log = tmp_path / "drive.csv"
    log.write_bytes(ASKS.read_bytes())
    assert not any("changed while" in n for n in verbs.review(log, remember=False).review.notes)

    def writing(words: str) -> None:
        if words.startswith("reviewing"):
            with log.open("ab") as file:
                file.write(b"1")

    notes = verbs.review(log, remember=False, progress=writing).review.notes
    assert any("changed while it was read" in note for note in notes)


def test_gears_that_nobody_names_have_no_number() -> None:
    counted = verbs.review(GIVEN / "afr_bare.csv", remember=False).review
    assert len(counted.pulls) == 3
    assert {pull.stretch.gear for pull in counted.pulls} == {0}  # '?' on the page
    recorded = verbs.review(GIVEN / "all_quantities.csv", remember=False).review
    assert any(one.key == "gear" for one in recorded.channels)
    assert {pull.stretch.gear for pull in recorded.pulls} == {4}

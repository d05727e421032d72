"""`boostwright plan`: verdict first, list, folder, errors, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import main
from boostwright.job.records import TaskEvent, new_id, now
from boostwright.store import open_job

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
        (["--at", "2020-01-01 08:00"], "nothing is on record"),
        (["--deadline", "2020-01-01 08:00"], "it must come after hours.start"),
        (["--deadline", "2099-01-01 08:00"], "more than 60 days"),
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


def test_a_deadline_that_cannot_be_is_no_fault_of_the_file(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for wrong in ("2020-01-01 08:00", "2099-01-01 08:00"):
        assert main(["plan", str(file), *QUICK, "--deadline", wrong]) == 2
        said = capsys.readouterr().err
        assert "sound.toml" not in said
        assert wrong in said
        assert said.rstrip().endswith(".")


def dated(file: Path, more: str = "") -> None:
    text = (
        file.read_text("utf-8") + f'\n[hours]\nstart = "2031-03-01 08:00"\nend = "2031-03-02 20:00"\n{more}'
    )
    file.write_text(text, encoding="utf-8")


def test_a_moment_before_the_first_hour_and_one_past_the_end(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    dated(file)
    assert main(["plan", str(file), *QUICK, "--at", "2031-02-25 12:00"]) == 1
    assert "before the first hour of the work" in capsys.readouterr().out.replace("\n", " ")
    assert main(["plan", str(file), *QUICK, "--at", "2031-03-05 12:00"]) == 1
    said = capsys.readouterr().out.replace("\n", " ")
    assert "no, that is past" in said
    assert "3 days before Wed 5 Mar 12:00" in said
    assert main(["plan", str(file), *QUICK, "--at", "2031-09-05 12:00"]) == 2
    assert "looks no further than" in capsys.readouterr().err


def test_the_first_lines_say_what_to_do_and_what_it_rests_on(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["plan", str(file), *QUICK])
    said = capsys.readouterr().out
    head = said.partition("The way back")[0].replace("\n", " ")
    for part in (
        "not begin taking the car apart", "The last task worth doing is", "of working time are missing",
        "Counted on: ", "at the desk, done before", "after the end every whole Saturday and Sunday",
    ):  # fmt: skip
        assert part in head, part


def test_a_helper_who_leaves_early_is_an_answer_and_no_error(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = file.read_text("utf-8") + '\n[[people]]\nname = "H"\nskill = "helper"\nuntil = "Saturday 09:00"\n'
    file.write_text(text, encoding="utf-8")
    assert main(["plan", str(file), *QUICK]) == 1
    said = capsys.readouterr().out.replace("\n", " ")
    assert "of two-person work have no second person" in said
    assert "With a second person whenever one is needed" in said
    main(["plan", str(file), *QUICK, "--json"])
    document = json.loads(capsys.readouterr().out)
    assert document["chance"]["value"] == 0.0
    assert document["second_person"]["lacking"]
    assert document["worth_doing"]["last"]


def test_a_first_answer_comes_on_stderr_and_the_verdict_before_what_would_help(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from boostwright.planning import levers

    shown: list[str] = []

    def seen(*args: object, **more: object) -> tuple[object, ...]:
        shown.append(capsys.readouterr().out)
        return ()

    monkeypatch.setattr(levers, "levers_for", seen)
    monkeypatch.setattr(verbs, "check", lambda *args, **more: None)
    main(["plan", str(file), "--samples", "300", "--seconds", "0"])
    assert shown[0].startswith("Plan: ")
    assert "Done by Sunday" in shown[0]
    rest = capsys.readouterr()
    assert "Done by Sunday" not in rest.out, "the verdict is said once"
    assert "The way back" in rest.out


def test_a_note_that_says_nothing_is_not_swallowed(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    base = ["record", str(file), "--problem", "strip.nuts"]
    for kind, note, part in (
        ("stud brocken", "third", "Did you mean 'stud broken'"),
        ("time lost", "a while", "says no length of time"),
        ("person left", "Zed", "nobody here is called 'Zed'"),
        ("part missing", "lost the box", "does not say when the part comes"),
    ):
        assert main([*base, "--kind", kind, "--note", note]) == 2
        said = capsys.readouterr()
        assert part.casefold() in said.err.replace("\n", " ").casefold()
        assert said.out == ""
    assert main(["record", str(file), "--done", "strip.nuts", "--kind", "other"]) == 2
    assert "--kind belongs to --problem" in capsys.readouterr().err
    old = TaskEvent(new_id(), "L", now(), "strip.nuts", "problem", note="lost the box", kind="part missing")
    with open_job(file) as job:  # as an older program wrote it
        job.add(old)
    main(["plan", str(file), *QUICK])
    said = capsys.readouterr()
    assert "does not say when the part comes" in said.err.replace("\n", " ")
    assert "NOT UNDERSTOOD: strip.nuts" in said.out

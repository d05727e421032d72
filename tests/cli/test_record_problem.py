"""What `boostwright record` says of a problem, and what becomes of the photos of a task."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import codes
from boostwright.cli.door import main
from boostwright.job.records import TaskEvent
from boostwright.store import open_job

PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    (tmp_path / "stud.png").write_bytes(PNG)
    (tmp_path / "stud.jpg").write_bytes(b"a text")
    return path


def test_a_problem_says_its_kind_and_what_to_do(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said_all = ["record", str(file), "--problem", "strip.nuts", "--kind", "stud broken", "--note", "third"]
    assert main([*said_all, "--who", "Lena"]) == codes.FINE
    said = " ".join(capsys.readouterr().out.split())
    assert "strip.nuts problem, stud broken, by Lena: third" in said
    assert "Stop there and make it safe; no more force on it. Do not start the engine" in said
    assert "boostwright plan FILE" in said
    assert main(["record", str(file), "--list"]) == codes.FINE
    assert "stud broken" in capsys.readouterr().out


def test_hours_lost_stop_nothing(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["record", str(file), "--problem", "strip.nuts", "--kind", "time lost", "--note", "2 h"])
    said = capsys.readouterr().out
    assert "Do not start" not in said
    assert "boostwright plan FILE" in " ".join(said.split())


def test_the_photo_of_a_task_is_kept_with_it(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    args = ["--problem", "strip.nuts", "--note", "third", "--photo", str(file.parent / "stud.png")]
    assert main(["record", str(file), *args, "--photo", str(file.parent / "stud.jpg")]) == codes.FINE
    said = " ".join(capsys.readouterr().out.split())
    assert "stud.png, a picture" in said
    assert "stud.jpg: not a picture by its first bytes; kept as a log" in said
    (event,) = verbs.load_job(file).records
    assert isinstance(event, TaskEvent)
    with open_job(file) as job:
        assert [job.content(digest) for digest in event.photos] == [PNG, b"a text"]
        assert {one.record for one in job.attachments()} == {event.id}


def test_a_photo_that_is_not_there_records_nothing(file: Path) -> None:
    main(["record", str(file), "--problem", "strip.nuts", "--note", "third", "--photo", "nowhere.png"])
    assert verbs.load_job(file).records == ()


def test_a_photo_of_nothing_is_refused(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["record", str(file), "--list", "--photo", str(file.parent / "stud.png")]) == codes.UNUSABLE
    assert "belongs to a measurement or a task" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["", "  "])
def test_nobody_records_nothing(file: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["record", str(file), "idle_speed", "900 rpm", "--who", name]) == codes.UNUSABLE
    assert "names nobody" in capsys.readouterr().err
    assert verbs.load_job(file).records == ()


def test_times_are_those_of_the_place(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    zone = verbs.load_build(file).get("hours.time_zone")
    if zone is None:
        file.write_text(file.read_text() + '\n[hours]\ntime_zone = "Europe/Berlin"\n')
    else:
        file.write_text(file.read_text().replace(str(zone.value), "Europe/Berlin"))
    at = ["--time", "2025-07-12 09:40", "--who", "Lena"]
    assert main(["record", str(file), "charging_voltage", "14.1 V", *at]) == codes.FINE
    assert "2025-07-12 09:40 CEST, Lena" in " ".join(capsys.readouterr().out.split())
    for command in (["record", str(file), "--list"], ["history", str(file)]):
        assert main(command) == codes.FINE
        said = capsys.readouterr().out
        assert "times are those of Europe/Berlin" in " ".join(said.split())
        assert "2025-07-12 09:40  Lena" in said
    main(["record", str(file), "--list", "--json"])
    (kept,) = json.loads(capsys.readouterr().out)["records"]
    assert kept["time"] == "2025-07-12T07:40:00.000+00:00"

"""`boostwright history` with photos and logs: kept, listed, got out as they were, and nothing overwritten."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.cli import main
from boostwright.job import Reading, TaskEvent, Withdrawal, now
from boostwright.store import open_job
from boostwright.store.blobs import LARGEST, PIECE
from boostwright.verbs.attached import safe_name

PHOTO = b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40
LOG = b"time,rpm\n0,900\n"


@pytest.fixture
def car(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BOOSTWRIGHT_WHO", "Ada")
    monkeypatch.delenv("BOOSTWRIGHT_STORE", raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "gauge.jpg").write_bytes(PHOTO)
    (tmp_path / "pull.csv").write_bytes(LOG)
    return path


def ran(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> str:
    assert main(["history", *map(str, words)]) == code
    said = capsys.readouterr()
    return " ".join((said.out if code == 0 else said.err).split())


def with_a_reading(car: Path) -> None:
    with open_job(car) as job:
        job.add(
            Reading("0123456789", "Ben", now(), "compression", (1.1e6,), text="11 bar"),
            TaskEvent("abcdef0123", "Cem", now(), "oil.drill", "done"),
        )


def test_kept_listed_and_got_out_again(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "None is kept yet" in ran(capsys, car, "--photos")
    assert not car.with_name("car.history.sqlite").exists(), "to look leaves no file"
    with_a_reading(car)
    told = ran(capsys, car, "--attach", "gauge.jpg", "--to", "compression", "--note", "cylinder 3")
    assert told.startswith("Kept as photo 1: gauge.jpg, 10.2 kB (cylinder 3), with: read ")
    assert told.endswith(": 11 bar.")
    assert "Kept as log 2: pull.csv, 15 B, with the build." in ran(capsys, car, "--attach", "pull.csv")
    told = ran(capsys, car)
    assert ": 11 bar; photo 1: gauge.jpg, 10.2 kB (cylinder 3)" in told, "a photo stands with its reading"
    assert "Ada log 2: pull.csv, 15 B" in told
    assert "2 photos and logs" in told
    told = ran(capsys, car, "--photos")
    assert "photo 1: gauge.jpg" in told
    assert "2 of them, 10.3 kB" in told
    told = ran(capsys, car, "--fetch", "all", "--into", "out/photos")
    assert told.count("Written: ") == 2
    assert (car.parent / "out/photos/gauge.jpg").read_bytes() == PHOTO
    assert (car.parent / "out/photos/pull.csv").read_bytes() == LOG
    assert sorted(p.name for p in (car.parent / "out/photos").iterdir()) == ["gauge.jpg", "pull.csv"]


def test_a_file_that_is_there_is_left_alone(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(capsys, car, "--attach", "pull.csv", "gauge.jpg")
    into = car.parent / "out"
    into.mkdir()
    (into / "gauge.jpg").write_bytes(b"another photo")
    told = ran(capsys, car, "--fetch", "all", "--into", into, code=2)
    assert "gauge.jpg: there is a file of this name already" in told
    assert "--force" in told
    assert [p.name for p in into.iterdir()] == ["gauge.jpg"], "nothing is written where one is in the way"
    assert (into / "gauge.jpg").read_bytes() == b"another photo"
    ran(capsys, car, "--fetch", 1, 2, "--into", into, "--force")
    assert (into / "gauge.jpg").read_bytes() == PHOTO
    assert "There already, the same: " in ran(capsys, car, "--fetch", 2, "--into", into)


def test_what_was_changed_in_the_store_never_becomes_a_file(
    car: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran(capsys, car, "--attach", "gauge.jpg")
    with sqlite3.connect(car.with_name("car.history.sqlite")) as store:
        store.execute("UPDATE blob SET content = ? WHERE mime = 'image/jpeg'", (PHOTO[:-1] + b"x",))
    store.close()
    assert "not what was put there" in ran(capsys, car, "--fetch", 1, "--into", "out", code=2)
    assert list((car.parent / "out").iterdir()) == []


def test_a_large_one_goes_by_pieces_and_says_so(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    film = car.parent / "film.mp4"
    content = b"\x00\x00\x00\x18ftypisom" + bytes(i % 251 for i in range(1000)) * 9000 + b"end"
    film.write_bytes(content)
    assert len(content) > 2 * PIECE, "else there are no pieces"
    assert main(["history", str(car), "--attach", "film.mp4"]) == 0
    assert "copying film.mp4: 4 of 9 MB" in capsys.readouterr().err
    assert main(["history", str(car), "--fetch", "1", "--into", "out"]) == 0
    assert "copying film.mp4: 8 of 9 MB" in capsys.readouterr().err
    assert (car.parent / "out" / "film.mp4").read_bytes() == content
    assert main(["history", str(car), "--fetch", "1", "--into", "out", "--force", "--quiet"]) == 0
    assert capsys.readouterr().err == ""
    film.write_bytes(b"")
    with film.open("r+b") as opened:
        opened.truncate(LARGEST + 1)
    assert "67 MB at most" in ran(capsys, car, "--attach", "film.mp4", "--quiet", code=2)


def test_two_of_one_name_get_their_numbers(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (car.parent / "b").mkdir()
    (car.parent / "b" / "Gauge.JPG").write_bytes(PHOTO + b"2")
    ran(capsys, car, "--attach", "gauge.jpg", "b/Gauge.JPG", "pull.csv")
    ran(capsys, car, "--fetch", "all", "--into", "out")
    assert sorted(p.name for p in (car.parent / "out").iterdir()) == [
        "1-gauge.jpg",
        "2-Gauge.JPG",
        "pull.csv",
    ]


def test_what_is_meant_by_to(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with_a_reading(car)
    assert "oil.drill: done" in ran(capsys, car, "--attach", "gauge.jpg", "--to", "abcdef")
    assert "oil.drill: done" in ran(capsys, car, "--attach", "pull.csv", "--to", "oil.drill")
    told = ran(capsys, car, "--attach", "pull.csv", "--to", "compresion", code=2)
    assert "Did you mean compression" in told
    with open_job(car) as job:
        job.add(Withdrawal("w", "Ben", now(), "0123456789"))
    assert "nothing is on record" in ran(capsys, car, "--attach", "pull.csv", "--to", "compression", code=2)
    document = json.loads(ran(capsys, car, "--photos", "--json"))
    assert [(one["record"], one["name"]) for one in document["attachments"]] == [
        ("abcdef0123", "gauge.jpg"), ("abcdef0123", "pull.csv"),
    ]  # fmt: skip
    assert {"format", "version", "data", "fingerprint", "build"} <= document.keys()
    assert document["attachments"][0]["size"] == len(PHOTO)


def test_what_is_done_is_told_as_json(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept = json.loads(ran(capsys, car, "--attach", "gauge.jpg", "--json"))["attachments"]
    assert [one["number"] for one in kept] == [1]
    for written in (True, False):
        (one,) = json.loads(ran(capsys, car, "--fetch", 1, "--json", "--into", "out"))["attachments"]
        assert one["written"] is written
        assert Path(one["file"]).read_bytes() == PHOTO


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--fetch", "1"], "there is no photo or log 1 of this build; none is kept yet"),
        (["--fetch", "all"], "none is kept yet"),
        (["--fetch", "0"], "no number of a photo or log"),
        (["--fetch", "x"], "no number of a photo or log"),
        (["--attach", "nothing.jpg"], "nothing.jpg: there is no such file"),
        (["--attach", "."], "this is a folder"),
        (["--to", "oil.drill"], "--to goes with --attach"),
        (["--note", "x", "--photos"], "--note goes with --attach"),
        (["--into", "out"], "--into goes with --fetch"),
        (["--attach", "pull.csv", "--force"], "--force goes with --fetch"),
        (["--attach", "pull.csv", "--fetch", "1"], "not allowed with"),
    ],
)
def test_what_cannot_be_done_is_said(
    car: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert said in ran(capsys, car, *words, code=2)


def test_a_photo_of_no_build_makes_no_history(car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no such file" in ran(capsys, "other.toml", "--attach", "gauge.jpg", code=2)
    assert not car.with_name("other.history.sqlite").exists()


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=200))
@example("../../evil.jpg")
@example("..\\evil.jpg")
@example("...")
@example("/")
@example("ö" * 300 + ".jpg")
@example("a." + "b" * 300)
@example("con\x00.jpg")
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    safe = safe_name(name)
    assert safe == Path(safe).name
    assert safe not in ("", ".", "..")
    assert len(safe.encode("utf-8", "surrogatepass")) <= 140
    assert (tmp_path / safe).resolve().parent == tmp_path.resolve()

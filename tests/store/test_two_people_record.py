"""Two people record at one moment, each with a program and a copy of the build file, into one store: nothing
is lost, and nobody's words are overwritten unsaid.
"""

from __future__ import annotations

import io
import multiprocessing
import os
from contextlib import redirect_stderr, redirect_stdout
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Barrier
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import main
from boostwright.job import Reading, TaskEvent
from boostwright.store import open_job

PEOPLE = ("Ada", "Ben")
TURNS = 5
FORK = multiprocessing.get_context("fork")


def volts(person: str, turn: int) -> str:
    """A reading that nobody else takes."""
    return f"{12.0 + 0.5 * PEOPLE.index(person) + 0.05 * turn:.2f} V"


def edited(text: str, person: str, turn: int) -> str:
    return text + f"# {person} {turn}\n"


def at_work(person: str, file: Path, where: str, edits: bool, start: Barrier, tell: Connection) -> None:
    """What one person does: turns of a reading, a task event and, where wanted, a change of the own copy."""
    os.environ["BOOSTWRIGHT_WHO"] = person
    codes, said = [], io.StringIO()
    text = file.read_text("utf-8")
    start.wait(60.0)
    with redirect_stdout(said), redirect_stderr(said):
        for turn in range(TURNS):
            if edits:
                file.write_text(edited(text, person, turn), encoding="utf-8")
            argv = ["record", str(file), "pump_voltage", volts(person, turn), "--store", where]
            codes.append(main([*argv, "--note", f"{person} {turn}"]))
            with open_job(file, where) as job:
                job.add(
                    TaskEvent(f"{person}{turn}", person, "2026-03-01T10:00:00+00:00", "oil.drill", "started")
                )
    tell.send((codes, said.getvalue()))


def both_at_work(files: dict[str, Path], where: str, edits: bool) -> dict[str, tuple[list[int], str]]:
    """Both at once, each in a process of their own: exit codes of every turn, and all that was said."""
    start = FORK.Barrier(len(files))
    told, running = {}, []
    for person, file in files.items():
        hear, tell = FORK.Pipe(duplex=False)
        one = FORK.Process(target=at_work, args=(person, file, where, edits, start, tell))
        one.start()
        tell.close()
        running.append((person, one, hear))
    for person, one, hear in running:
        told[person] = hear.recv()
        one.join(60.0)
        assert one.exitcode == 0
    return told


def copies(tmp_path: Path) -> dict[str, Path]:
    """A copy of one build for each, in folders of their own."""
    found = {}
    for person in PEOPLE:
        folder = tmp_path / person
        folder.mkdir()
        for name, text in verbs.demo_files("sound").items():
            (folder / name.replace("sound.toml", "car.toml")).write_text(text, encoding="utf-8")
        found[person] = folder / "car.toml"
    return found


def check_records(file: Path, where: str, told: dict[str, tuple[list[int], str]]) -> None:
    """Every reading and every event of both is there, whole, once, and in each one's own order."""
    for person, (codes, said) in told.items():
        assert set(codes) <= {0, 1, 3}, f"{person} was turned away: {said}"
        assert "waits" not in said
    with open_job(file, where) as job:
        records = job.records()
    for person in PEOPLE:
        mine = [one for one in records if one.who == person]
        readings = [one for one in mine if isinstance(one, Reading)]
        assert [one.note for one in readings] == [f"{person} {turn}" for turn in range(TURNS)]
        assert [one.text for one in readings] == [volts(person, turn) for turn in range(TURNS)]
        assert [one.id for one in mine if isinstance(one, TaskEvent)] == [
            f"{person}{t}" for t in range(TURNS)
        ]
    assert len(records) == 2 * TURNS * len(PEOPLE)
    assert len({one.id for one in records}) == len(records)


def test_readings_of_two_programs_are_all_there(tmp_path: Path, where: str) -> None:
    files = copies(tmp_path)
    told = both_at_work(files, where, edits=False)
    check_records(files["Ada"], where, told)
    for file in files.values():
        assert not list(file.parent.glob("*waiting*"))
    with open_job(files["Ada"], where) as job:
        assert len(job.revisions()) == 1, "one text is one revision, whoever records"


def test_one_folder_and_the_history_beside_the_file(tmp_path: Path) -> None:
    file = copies(tmp_path)["Ada"]
    told = both_at_work({"Ada": file, "Ben": file}, "", edits=False)
    check_records(file, "", told)


def test_neither_text_is_written_over_while_both_record(tmp_path: Path, where: str) -> None:
    """Who comes second keeps the text on the disk, is told so by the history, and every reading is there."""
    files = copies(tmp_path)
    plain = files["Ada"].read_text("utf-8")
    told = both_at_work(files, where, edits=True)
    check_records(files["Ada"], where, told)
    wrote = {person: {edited(plain, person, turn) for turn in range(TURNS)} for person in PEOPLE}
    last = {person: edited(plain, person, TURNS - 1) for person in PEOPLE}
    with open_job(files["Ada"], where) as job:
        revisions = job.revisions()
        texts = [job.document(one.number).text for one in revisions]
    assert [one.number for one in revisions] == list(range(1, len(revisions) + 1))
    for one, text in zip(revisions, texts, strict=True):
        assert text in wrote[one.who], "a revision holds what its own writer wrote, and nothing mixed"
    assert len(set(texts)) == len(texts)
    kept = {person: last[person] in texts for person in PEOPLE}
    assert any(kept.values())
    for person, file in files.items():
        assert file.read_text("utf-8") == last[person], "nobody's file was touched"
        history = verbs.job_history(file, where)
        if not kept[person]:
            assert history.file == "changed", "it is said that this text is not kept"
            assert main(["history", str(file), "--keep", "--store", where]) == 2


@pytest.mark.parametrize("kind", ["lost", "changed"])
def test_the_check_on_both_can_fail(tmp_path: Path, kind: str) -> None:
    """A reading that is lost, or one of somebody else's words, is seen."""
    files = copies(tmp_path)
    where = str(tmp_path / "shop.sqlite")
    with open_job(files["Ada"], where) as job:
        for person in PEOPLE:
            for turn in range(TURNS):
                note = "lost" if kind == "changed" and (person, turn) == ("Ben", 2) else f"{person} {turn}"
                one = Reading(
                    f"{person} {turn}",
                    person,
                    "t",
                    "pump_voltage",
                    (1.0,),
                    text=volts(person, turn),
                    note=note,
                )
                if kind == "lost" and (person, turn) == ("Ada", 3):
                    continue
                job.add(one, TaskEvent(f"{person}{turn}", person, "t", "oil.drill", "started"))
    with pytest.raises(AssertionError):
        check_records(files["Ada"], where, dict.fromkeys(PEOPLE, ([0], "")))

"""The build file as a document: each change a revision, none overwritten by another device."""

from __future__ import annotations

import multiprocessing
import threading
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.errors import ConflictError, HistoryError
from boostwright.store import Document, open_job


def written(folder: Path, text: str, name: str = "car.toml") -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_bytes(text.encode())
    return path


def test_a_change_of_the_file_is_a_revision_and_no_change_is_none(tmp_path: Path) -> None:
    path = written(tmp_path, "one")
    with open_job(path) as job:
        assert job.head() is None
        assert job.note_build(who="Ada", why="begun").state == "kept"
        assert job.note_build().state == "same"
        path.write_bytes(b"two\r\n\xff")
        assert job.note_build(who="Ben").number == 2
        first, second = job.revisions()
        assert (first.number, first.who, first.why) == (1, "Ada", "begun")
        assert (second.number, second.who, second.why) == (2, "Ben", "")
        assert job.head() == second
        assert job.document(1).body == b"one"
        assert job.document(2).body == b"two\r\n\xff", "byte for byte"
        with pytest.raises(HistoryError, match="no revision 3 of this build; there are 1 to 2"):
            job.document(3)


def test_the_maps_that_a_build_names_are_kept_with_it(tmp_path: Path) -> None:
    files = next(
        files for name in verbs.demo_builds() if len(files := verbs.demo_files(name)) > 1 and name != "faulty"
    )
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8", newline="")
    build, a_map = list(files)[:2]
    with open_job(tmp_path / build) as job:
        job.note_build()
        assert job.document(1).files == {name: files[name].encode() for name in list(files)[1:]}
        (tmp_path / a_map).write_text(files[a_map] + "\n", encoding="utf-8", newline="")
        assert job.note_build().state == "kept", "another map is another build"


def test_going_back_keeps_what_the_file_holds(tmp_path: Path) -> None:
    path = written(tmp_path, "one")
    with open_job(path) as job:
        job.note_build()
        path.write_text("two")
        job.note_build()
        held = Document(b"not kept yet")
        old, saved, before = job.restore(1, held, "Ada")
        assert old.body == b"one"
        assert before is not None
        assert (before.number, saved.number) == (3, 4)
        assert job.document(3) == held
        assert [job.document(n).body for n in (1, 2, 4)] == [b"one", b"two", b"one"]


def test_an_edit_back_to_an_older_text_is_a_revision_too(tmp_path: Path) -> None:
    path = written(tmp_path, "one")
    with open_job(path) as job:
        job.note_build()
        path.write_text("two")
        job.note_build()
        path.write_text("one")
        assert (job.note_build().state, job.head().number) == ("kept", 3)  # type: ignore[union-attr]


def test_two_devices_never_overwrite_each_other(tmp_path: Path, where: str) -> None:
    ours, theirs = written(tmp_path / "bench", "one"), written(tmp_path / "office", "one")
    with open_job(ours, where) as bench, open_job(theirs, where) as office:
        bench.note_build(who="Ada")
        assert office.note_build().state == "same"
        ours.write_text("two")
        bench.note_build(who="Ada")
        behind = office.note_build()
        assert (behind.state, behind.number, behind.head) == ("behind", 1, 2)
        theirs.write_text("three")
        with pytest.raises(ConflictError) as told:
            office.note_build(who="Ben")
        assert (told.value.mine, told.value.theirs) == ("three", "two")
        assert (told.value.based_on, told.value.number, told.value.who) == (1, 2, "Ada")
        assert [one.number for one in office.revisions()] == [1, 2]
        theirs.write_text("two")  # the same as theirs: nothing to quarrel about
        assert office.note_build().state == "same"


def test_an_unknown_text_does_not_take_over_a_shared_build(tmp_path: Path, where: str) -> None:
    with open_job(written(tmp_path / "bench", "one"), where) as bench:
        bench.note_build(who="Ada")
    with open_job(written(tmp_path / "office", "quite another"), where) as office:
        with pytest.raises(ConflictError, match="no revision that is known"):
            office.note_build(who="Ben")
        assert len(office.revisions()) == 1


def _save_many(path: str, where: str, who: str, count: int) -> None:
    """As a device does it: read the newest, change it, save; where another was quicker, read again."""
    with open_job(path, where) as job:
        for turn in range(count):
            while True:
                head = job.head()
                number = 0 if head is None else head.number
                text = b"" if head is None else job.document(number).body
                try:
                    job.save(Document(text + f"{who} {turn}\n".encode()), based_on=number, who=who)
                    break
                except ConflictError as conflict:
                    if not conflict.theirs.startswith(text.decode()):
                        raise AssertionError("a line that was read has gone") from conflict


def every_line_is_there(path: Path, where: str, people: tuple[str, ...], count: int) -> None:
    with open_job(path, where) as job:
        revisions = job.revisions()
        assert [one.number for one in revisions] == list(range(1, len(people) * count + 1))
        lines = job.document(len(revisions)).text.splitlines()
    assert sorted(lines) == sorted(f"{who} {turn}" for who in people for turn in range(count))
    for who in people:
        assert [line for line in lines if line.startswith(who)] == [f"{who} {turn}" for turn in range(count)]


def test_threads_that_save_at_once_lose_no_line(tmp_path: Path, where: str) -> None:
    people = ("Ada", "Ben", "Cem", "Dea")
    threads = [
        threading.Thread(target=_save_many, args=(str(tmp_path / "car.toml"), where, who, 6))
        for who in people
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join(120.0)
    every_line_is_there(tmp_path / "car.toml", where, people, 6)


def test_programs_that_save_at_once_lose_no_line(tmp_path: Path, where: str) -> None:
    people = ("Ada", "Ben", "Cem")
    context = multiprocessing.get_context("spawn")
    programs = [
        context.Process(target=_save_many, args=(str(tmp_path / "car.toml"), where, who, 6)) for who in people
    ]
    for one in programs:
        one.start()
    for one in programs:
        one.join(120.0)
        assert one.exitcode == 0
    every_line_is_there(tmp_path / "car.toml", where, people, 6)


def test_a_save_on_an_older_revision_is_refused_and_nothing_is_written(tmp_path: Path, where: str) -> None:
    with open_job(tmp_path / "car.toml", where) as job:
        job.save(Document(b"one"), based_on=0, who="Ada")
        job.save(Document(b"two"), based_on=1, who="Ada")
        for based_on in (0, 1, 3):
            with pytest.raises(ConflictError):
                job.save(Document(b"three"), based_on=based_on)
        assert len(job.revisions()) == 2
    with open_job(tmp_path / "other.toml", where) as other, pytest.raises(HistoryError, match="still empty"):
        other.save(Document(b"three"), based_on=4)


def test_what_records_something_keeps_the_changed_file_too(tmp_path: Path) -> None:
    from boostwright.job import TaskEvent, new_id, now
    from boostwright.verbs.waiting import add_or_keep

    path, shop = written(tmp_path, "one"), str(tmp_path / "shop.sqlite")
    assert add_or_keep(path, [TaskEvent(new_id(), "Ada", now(), "oil.drill", "done")], shop) == ""
    path.write_text("two")
    add_or_keep(path, [TaskEvent(new_id(), "Ada", now(), "oil.bung", "done")], shop)
    with open_job(path, shop) as job:
        assert [job.document(one.number).body for one in job.revisions()] == [b"one", b"two"]
        job.save(Document(b"theirs"), based_on=2, who="Ben")
        path.write_text("mine")
        event = TaskEvent(new_id(), "Ada", now(), "oil.wash", "done")
        assert add_or_keep(path, [event], shop) == "", "the record is kept whatever became of the file"
        assert job.records()[-1] == event
        assert len(job.revisions()) == 3

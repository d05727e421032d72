"""What the store answers from its indexes, against the same asked of all records in plain Python."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright.errors import HistoryError
from boostwright.job import Reading, Record, TaskEvent, Withdrawal, new_id, now, standing
from boostwright.store import Job, open_job
from boostwright.store.records import kind_of, subject_of

TIME = "2026-03-01T10:00:00.000+00:00"


@st.composite
def histories(draw: st.DrawFn) -> list[Record]:
    """Records about few subjects; withdrawals of what is there, of others, of what comes later, of none."""
    made: list[Record] = []
    for number in range(draw(st.integers(0, 25))):
        kind = draw(st.sampled_from(("reading", "task", "withdrawal", "withdrawal")))
        time = TIME.replace("10:00", f"10:{draw(st.integers(0, 5)):02}")  # not in the order of arrival
        if kind == "reading":
            made.append(Reading(f"r{number}", "Ada", time, draw(st.sampled_from("abc")), (float(number),)))
        elif kind == "task":
            made.append(TaskEvent(f"r{number}", "Ada", time, draw(st.sampled_from("abc")), "done"))
        else:
            made.append(Withdrawal(f"r{number}", "Ada", time, f"r{draw(st.integers(0, 26))}"))
    return made


def asked_of_all(records: tuple[Record, ...], kind: str) -> dict[str, list[Record]]:
    found: dict[str, list[Record]] = {}
    for one in standing(records):
        if kind_of(one) == kind:
            found.setdefault(subject_of(one), []).append(one)
    return found


def same_answers(job: Job) -> None:
    records = job.records()
    for kind in ("reading", "task"):
        plain = asked_of_all(records, kind)
        assert job.newest(kind) == {subject: found[-1] for subject, found in plain.items()}
        assert job.counts(kind) == {subject: len(found) for subject, found in plain.items()}
        for subject in "abcd":
            assert job.about(kind, subject) == tuple(plain.get(subject, ()))


def same_end(job: Job, most: int) -> None:
    """The last so many by their time, with all that these take back, and the counts of all."""
    records = job.records()
    stand = standing(records)
    by_id = {one.id: one for one in records}
    last = sorted(enumerate(records), key=lambda pair: (pair[1].time, pair[0]))[-most:]
    wanted = {one.id for _, one in last}
    while True:
        meant = {one.of for one in map(by_id.__getitem__, wanted) if isinstance(one, Withdrawal)}
        if not meant & by_id.keys() - wanted:
            break
        wanted |= meant & by_id.keys()
    found, tally = job.latest(most)
    assert found == tuple(one for one in records if one.id in wanted)
    kept = sum(not isinstance(one, Withdrawal) for one in records)
    assert (tally.records, tally.standing, tally.gone) == (len(records), len(stand), kept - len(stand))
    assert tally.stand == {one.id for one in stand} & wanted


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(histories())
def test_the_index_answers_as_all_records_do(
    tmp_path_factory: pytest.TempPathFactory, history: list[Record]
) -> None:
    with open_job(tmp_path_factory.mktemp("h") / "car.toml") as job:
        job.add(*history)
        assert job.records() == tuple(history)
        same_answers(job)
        for most in (1, 4, 40):
            same_end(job, most)


def test_so_it_does_on_a_server(tmp_path: Path, database: str) -> None:
    with open_job(tmp_path / "car.toml", database) as job:
        for number in range(60):
            job.add(Reading(f"a{number}", "Ada", TIME, "abc"[number % 3], (float(number),)))
            job.add(
                Withdrawal(f"b{number}", "Ada", TIME, f"a{number // 2}" if number % 4 else f"b{number - 2}")
            )
        same_answers(job)
        same_end(job, 7)


def test_builds_of_one_store_are_kept_apart(tmp_path: Path, where: str) -> None:
    with open_job(tmp_path / "car.toml", where) as one, open_job(tmp_path / "van.toml", where) as two:
        first, second = (TaskEvent(new_id(), "Ada", now(), "oil.drill", "done") for _ in range(2))
        one.add(first)
        two.add(second)
        two.add(Withdrawal(new_id(), "Ada", now(), first.id))  # of another build: nothing there to take back
        assert one.standing() == (first,)
        assert two.standing() == (second,)
        assert one.newest("task") == {"oil.drill": first}
        assert two.counts("task") == {"oil.drill": 1}


def test_writers_at_once_lose_nothing_and_keep_their_order(tmp_path: Path, where: str) -> None:
    def write(who: str) -> None:
        with open_job(tmp_path / "car.toml", where) as job:
            for turn in range(20):
                job.add(TaskEvent(f"{who}{turn}", who, now(), "oil.drill", "done"))

    threads = [threading.Thread(target=write, args=(who,)) for who in "abcd"]
    for one in threads:
        one.start()
    for one in threads:
        one.join(120.0)
    with open_job(tmp_path / "car.toml", where) as job:
        ids = [one.id for one in job.records()]
    assert len(ids) == 80
    for who in "abcd":
        assert [known for known in ids if known.startswith(who)] == [f"{who}{turn}" for turn in range(20)]


def test_one_job_may_be_used_by_many_threads(tmp_path: Path, where: str) -> None:
    with open_job(tmp_path / "car.toml", where) as job:

        def write(who: str) -> None:
            for turn in range(10):
                job.add(TaskEvent(f"{who}{turn}", who, now(), "oil.drill", "done"))
                assert job.records()

        threads = [threading.Thread(target=write, args=(who,)) for who in "abcd"]
        for one in threads:
            one.start()
        for one in threads:
            one.join(120.0)
        assert len(job.records()) == 40


def test_to_undo_goes_back_one_by_one(tmp_path: Path, where: str) -> None:
    one, two = (TaskEvent(new_id(), "Ada", now(), task, "done") for task in ("oil.drill", "oil.bung"))
    with open_job(tmp_path / "car.toml", where) as job:
        assert job.undo() is None
        job.add(one, two)
        assert job.undo("Ben", "wrong car") == two
        assert job.undo() == one
        assert job.undo() is None
        last = job.records()[2]
        assert isinstance(last, Withdrawal)
        assert (last.who, last.reason, last.of) == ("Ben", "wrong car", two.id)


@pytest.mark.parametrize(
    "one",
    [
        Reading("1", "Ada", TIME, "compression", (float("nan"),)),
        Reading("1", "Ada", TIME, "compression", (float("inf"),)),
        Reading("", "Ada", TIME, "compression", (1.0,)),
        Reading("1\0", "Ada", TIME, "compression", (1.0,)),
        Reading("1", "A\ud800", TIME, "compression", (1.0,)),
        Reading("1", "Ada", TIME, "x" * 5000, (1.0,)),
        Reading("1", 7, TIME, "compression", (1.0,)),  # type: ignore[arg-type]
        Reading("1", "Ada", TIME, "compression", (object(),)),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_kept_is_refused_with_all_that_came_with_it(
    tmp_path: Path, where: str, one: Reading
) -> None:
    with open_job(tmp_path / "car.toml", where) as job:
        with pytest.raises(HistoryError):
            job.add(TaskEvent("t", "Ada", TIME, "oil.drill", "done"), one)
        assert job.records() == ()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=30), st.text(max_size=30))
def test_any_words_come_back_or_are_refused(tmp_path: Path, words: str, who: str) -> None:
    """Notes may hold anything that a keyboard gives; what stands in a column of its own must be clean."""
    one = Reading(new_id(), who, TIME, "compression", (1.0,), note=words, text=words)
    with open_job(tmp_path / "car.toml") as job:
        try:
            job.add(one)
        except HistoryError:
            assert any(sign == "\0" or "\ud800" <= sign <= "\udfff" for sign in who)
        else:
            assert job.records()[-1] == one


def test_a_store_on_which_another_program_sits_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sqlite3

    from boostwright.store import database

    monkeypatch.setattr(database, "_WAIT", 0.2)
    one = TaskEvent(new_id(), "Ada", now(), "oil.drill", "done")
    with open_job(tmp_path / "car.toml") as job:
        job.add(one)
        holder = sqlite3.connect(tmp_path / "car.history.sqlite", isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        assert job.records() == (one,), "to read, nobody waits"
        with pytest.raises(HistoryError, match="held by another program"):
            job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
        holder.execute("ROLLBACK")
        holder.close()
        assert job.records() == (one,)

"""The history beside a build file: nothing lost, nothing changed, clear words when it cannot be read."""

from __future__ import annotations

import contextlib
import multiprocessing
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import HistoryError
from boostwright.store import History


def add(history: History, number: int = 0, inputs: str = "a") -> int:
    return history.add("fit", inputs, {"n": number, "x": [0.1, 2.0]}, program="0", data="d").number


def test_what_was_added_comes_back_in_order_with_who_and_when(tmp_path: Path) -> None:
    history = History(tmp_path / "car.toml")
    assert history.all() == ()
    assert [add(history, k) for k in range(3)] == [1, 2, 3]
    back = History(tmp_path / "car.toml").all()
    assert [r.content["n"] for r in back] == [0, 1, 2]
    assert back[0].content["x"] == [0.1, 2.0]
    assert all(r.who and r.time.endswith("+00:00") for r in back)
    assert (tmp_path / "car.history.sqlite").exists()


def test_the_newest_is_that_of_the_file_as_it_stands_and_can_be_taken_back(tmp_path: Path) -> None:
    history = History(tmp_path / "car.toml")
    add(history, 0, "a")
    add(history, 1, "a")
    add(history, 2, "b")
    found = history.newest("fit", "a")
    assert found is not None
    assert found.number == 2
    history.add("no fit", "a", {"of": 2}, program="0", data="d")
    before = history.newest("fit", "a")
    assert before is not None
    assert before.number == 1
    assert len(history.all()) == 4  # nothing was deleted
    assert history.newest("fit", "c") is None


def _many(path: str, count: int) -> None:
    history = History(path)
    for k in range(count):
        add(history, k)


def test_two_programs_at_once_lose_nothing(tmp_path: Path) -> None:
    file = str(tmp_path / "car.toml")
    context = multiprocessing.get_context("spawn")
    both = [context.Process(target=_many, args=(file, 12)) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join(60.0)
        assert one.exitcode == 0
    assert [r.number for r in History(file).all()] == list(range(1, 25))


def test_a_history_that_is_none_is_said_and_left_alone(tmp_path: Path) -> None:
    history = History(tmp_path / "car.toml")
    path = tmp_path / "car.history.sqlite"
    path.write_bytes(b"this is no history" * 100)
    for act in (history.all, lambda: add(history)):
        with pytest.raises(HistoryError, match="build file itself is whole"):
            act()
    assert path.read_bytes().startswith(b"this is no history")


def test_a_newer_form_is_not_touched(tmp_path: Path) -> None:
    import sqlite3

    history = History(tmp_path / "car.toml")
    add(history)
    with sqlite3.connect(tmp_path / "car.history.sqlite") as store:
        store.execute("PRAGMA user_version = 9")
    with pytest.raises(HistoryError, match="newer"):
        history.all()


def test_hundreds_of_spoilt_files_raise_nothing_but_our_own(tmp_path: Path) -> None:
    history = History(tmp_path / "car.toml")
    for k in range(5):
        add(history, k)
    path = tmp_path / "car.history.sqlite"
    whole = bytearray(path.read_bytes())
    rng = np.random.default_rng(3)
    for _ in range(300):
        spoilt = bytearray(whole)
        for _ in range(int(rng.integers(1, 30))):
            spoilt[int(rng.integers(len(spoilt)))] = int(rng.integers(256))
        if rng.random() < 0.2:
            spoilt = spoilt[: int(rng.integers(1, len(spoilt)))]
        path.write_bytes(bytes(spoilt))
        with contextlib.suppress(HistoryError):
            history.newest("fit", "a")


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(HistoryError, match="nowhere"):
        add(History(tmp_path / "nowhere" / "car.toml"))

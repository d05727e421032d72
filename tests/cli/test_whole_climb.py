"""From the first decision to release through the commands alone: every reading on sheets, every task done."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

import boostwright.planning.ladder as planning
from boostwright import verbs
from boostwright.cli import main
from boostwright.library.measurements import measurements
from boostwright.planning.ladder import Air, Condition
from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.quantity import in_unit
from tests.planning.ladder.made import build, condition, good_values

Row = tuple[str, str, str, str]  # measurement, value with its unit, step, side of the conversion


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The sound build in a folder; its pulls come from the hand-made engine, so that no match runs."""
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")

    def made(_: object, air: Air, __: object = None) -> tuple[Condition, Condition]:
        return condition(air=air), condition(38.0e3, air=air)

    monkeypatch.setattr(planning, "conditions_for", made)
    return tmp_path / "sound.toml"


def said(capsys: pytest.CaptureFixture[str], *words: str, codes: Iterable[int] = (0,)) -> str:
    code = main(list(words))
    text = capsys.readouterr()
    assert code in codes, f"{' '.join(words)}\n{text.out}\n{text.err}"
    return text.out


def in_order() -> list[Task]:
    """Every task, each after all that it waits for."""
    tasks = tasks_for(build())
    known = {task.key: task for task in tasks}
    found: dict[str, Task] = {}

    def add(key: str) -> None:
        if key in found or key not in known:
            return
        for before in (*known[key].after, *(lag.task for lag in known[key].lags)):
            add(before)
        found[key] = known[key]

    for task in tasks:
        add(task.key)
    return list(found.values())


def written(name: str, values: tuple[float, ...], answer: str) -> str:
    one = measurements()[name]
    if one.dimension is None:
        return answer
    numbers = [in_unit(v, one.unit, one.dimension) if one.unit else v for v in values]
    return f"{' '.join(f'{n:.5g}' for n in numbers)} {one.unit}".strip()


def of_holds(tasks: Iterable[Task]) -> list[Row]:
    rows = []
    for task in tasks:
        for name in task.hold.readings if task.hold is not None else ():
            places = 4 if measurements()[name].each in ("cylinder", "injector") else 1
            sides = measurements()[name].sides
            side = sides[0] if task.phase in ("decide", "baseline") else sides[-1]
            rows.append((name, written(name, *good_values(name, places)), "", side))
    return list(dict.fromkeys(rows))


def of_step(step: dict[str, Any]) -> list[Row]:
    rows = []
    for one in step["readings"]:
        if one["middle"] is not None:
            values: tuple[float, ...] = (one["middle"],)
        elif one["low"] is not None:
            values = (0.5 * (one["low"] + one["high"]),)
        else:
            values = ()
        answer = one["answers"][0] if one["answers"] else ""
        rows.append((one["measurement"], written(one["measurement"], values, answer), step["step"], "after"))
    return rows


def groups(tasks: list[Task]) -> list[list[Task]]:
    """Tasks said to be done together: no reading twice, for each hold point asks for one of its own."""
    found: list[list[Task]] = []
    read: set[str] = set()
    for task in tasks:
        names = set(task.hold.readings if task.hold is not None else ())
        if not found or names & read:
            found.append([])
            read = set()
        found[-1].append(task)
        read |= names
    return found


def record(capsys: pytest.CaptureFixture[str], file: Path, rows: list[Row]) -> None:
    """One sheet, read in by the command."""
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(["measurement", "value", "step", "when", "who", "witness"])
    table.writerows([(*row, "Nora", "Theo") for row in rows])
    sheet = file.with_name("sheet.csv")
    sheet.write_text(text.getvalue(), "utf-8")
    if not rows:
        return
    # With its moment: a sheet without one counts for noon, and one reading of a day, told twice, counts once.
    moment = datetime.now(UTC).isoformat(timespec="milliseconds")
    said(capsys, "record", str(file), "--sheet", str(sheet), "--time", moment)


def ladder(capsys: pytest.CaptureFixture[str], file: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(capsys, "ladder", str(file), "--json", codes=(0, 1, 3)))
    return found


def test_every_task_and_every_reading_leads_to_release(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    who = ("--who", "Nora", "--witness", "Theo")
    todo: list[Task] = []
    last = "release"
    passed: list[str] = []
    for task in in_order():
        if task.odds < 0.5:
            said(capsys, "record", str(file), "--skip", task.key, "--who", "Nora")
            continue
        todo.append(task)
        if not task.step:
            continue
        for group in groups(todo[:-1]):
            record(capsys, file, of_holds(group))
            said(capsys, "record", str(file), "--done", *(one.key for one in group), *who)
        made = ladder(capsys, file)
        assert made["here"] == task.step, [s["why_shut"] for s in made["steps"] if s["step"] == made["here"]]
        step = next(one for one in made["steps"] if one["step"] == task.step)
        assert step["waits"] == []
        record(capsys, file, of_step(step))
        said(capsys, "record", str(file), "--done", task.key, *who)  # no note: no hold point left, in order
        passed.append(task.step)
        todo = []
        if task.step == last:
            break
    made = ladder(capsys, file)
    assert made["here"] == "more-boost"
    assert passed == [one["step"] for one in made["steps"] if one["state"] == "open"]
    assert len(passed) == 18

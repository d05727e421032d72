"""`boostwright record`: several tasks at once, patterns, taking back a whole batch, the time of the place."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.cli import main
from boostwright.errors import ReadingError
from boostwright.job.records import TaskEvent, batch_ids, batch_of, standing
from boostwright.planning.tasks import tasks_for
from boostwright.store import open_job
from boostwright.verbs import tasks_meant

TASKS = tasks_for(verbs.demo_build("sound"))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The sound build in a folder of its own."""
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path / "sound.toml"


def run(capsys: pytest.CaptureFixture[str], file: Path, *words: str) -> tuple[int, str, str]:
    code = main(["record", str(file), *words])
    text = capsys.readouterr()
    return code, " ".join(text.out.split()), " ".join(text.err.split())


def done(file: Path) -> list[str]:
    with open_job(file) as job:
        return [r.task for r in standing(job.records()) if isinstance(r, TaskEvent)]


def test_several_at_once_in_the_order_of_the_plan(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, file, "--done", "decide.order", "DECIDE.GOAL", "decide.list", "--who", "Lena")
    assert done(file) == ["decide.goal", "decide.list", "decide.order"]
    for key in done(file):
        assert f"{key} done by Lena" in out


def test_what_was_written_together_is_taken_back_together(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, file, "--done", "decide.paper", "--who", "Lena")
    run(capsys, file, "--done", "decide.goal", "decide.list", "--who", "Lena")
    code, out, _ = run(capsys, file, "--undo")
    assert code == 0
    assert out.count("Taken back: ") == 2
    assert "decide.goal done by Lena" in out
    assert "nothing is deleted" in out
    assert done(file) == ["decide.paper"]
    run(capsys, file, "--undo")
    assert done(file) == []
    assert "nothing to take back" in run(capsys, file, "--undo")[2]


def test_one_of_a_batch_can_be_taken_back_by_its_whole_id(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["record", str(file), "--done", "decide.goal", "decide.list", "--json"])
    document = json.loads(capsys.readouterr().out)
    first, second = document["recorded"]["id"], document["with_it"][0]["id"]
    assert batch_of(first) == batch_of(second)
    run(capsys, file, "--undo", first)
    assert done(file) == ["decide.list"]


def test_a_pattern_is_shown_back_before_it_is_written(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, file, "--done", "decide.*", "--who", "Lena")
    assert code == 2
    assert "NOTHING IS RECORDED YET" in out
    assert "decide.paper" in out
    assert done(file) == []
    run(capsys, file, "--done", "decide.*", "--who", "Lena", "--yes")
    assert done(file) == [t.key for t in TASKS if t.key.startswith("decide.")]
    run(capsys, file, "--undo")
    assert done(file) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--done", ""], "No task is named"),
        (["--done", "  ", "--yes"], "No task is named"),
        (["--done", "decide.goal", ""], "No task is named"),
        (["--done", "decide.goal", "decide.gaol"], "no task 'decide.gaol'. Did you mean decide.goal"),
        (["--done", "nothing.*", "--yes"], "No task of this build is like"),
        (["--done", "decide.goal", "strip.fuel_pressure_off"], "second person"),
        (["--done", "decide.goal", "decide.list", "--torque", "x = 24 Nm"], "where one task is done"),
        (["--problem", "decide.goal"], "needs its words"),
    ],
)
def test_where_one_is_at_fault_none_is_written(
    file: Path, capsys: pytest.CaptureFixture[str], words: list[str], says: str
) -> None:
    code, _, err = run(capsys, file, *words)
    assert code == 2
    assert says in err
    assert done(file) == []


def test_out_of_order_still_ends_with_3(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, file, "--done", "breathing.can", "--who", "L")
    assert code == 3
    assert "OUT OF ORDER" in out
    assert "come before breathing.can" in out


def test_what_comes_before_in_the_same_call_is_in_order(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The can waits for the vent, which the same call says is done; the vent waits for what is not."""
    code, out, _ = run(capsys, file, "--done", "breathing.can", "breathing.vent", "--who", "L")
    assert code == 3
    assert "come before breathing.vent" in out
    assert "come before breathing.can" not in out


def test_a_time_without_a_zone_is_that_of_the_place(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = file.read_text("utf-8")
    zone = '[hours]\ntime_zone = "Asia/Tokyo"\n' if "[hours]" not in text else None
    file.write_text(
        text + "\n" + zone if zone else text.replace("[hours]\n", '[hours]\ntime_zone = "Asia/Tokyo"\n'),
        "utf-8",
    )
    code, _, err = run(capsys, file, "--start", "decide.goal", "--time", "2025-04-12 09:40")
    assert code in (0, 3), err
    run(capsys, file, "pump_voltage", "13.4 V", "--when", "before", "--time", "2025-04-12 09:40")
    with open_job(file) as job:
        times = [datetime.fromisoformat(record.time) for record in job.records()]
    assert len(times) == 2
    for time in times:
        assert time.isoformat() == "2025-04-12T00:40:00+00:00"
    run(capsys, file, "--start", "decide.list", "--time", "2025-04-12 09:40+02:00")
    with open_job(file) as job:
        assert job.records()[-1].time.startswith("2025-04-12T07:40")


@given(st.lists(st.text(max_size=12) | st.sampled_from(["decide.*", "*", "[", "decide.goal"]), max_size=4))
def test_any_names_give_tasks_of_the_plan_in_its_order_or_are_refused(names: list[str]) -> None:
    try:
        found = tasks_meant(names, TASKS)
    except ReadingError:
        known = {task.key for task in TASKS}
        assert any(name.strip().casefold() not in known for name in names)
        return
    assert [t for t in TASKS if t in found] == list(found)
    assert bool(found) == bool(names)


def test_ids_of_a_batch_are_different_and_belong_together() -> None:
    ids = batch_ids(50)
    assert len(set(ids)) == 50
    assert {len(one) for one in ids} == {32}
    assert {batch_of(one) for one in ids} == {batch_of(ids[0])}
    assert batch_of(batch_ids(1)[0]) != batch_of(ids[0])


def test_a_pattern_leaves_out_what_most_likely_does_not_arise() -> None:
    tasks = tasks_for(verbs.demo_build("sound"))
    rare = [task.key for task in tasks if task.odds < 0.5]
    assert "strip.broken_stud" in rare
    meant = {task.key for task in verbs.tasks_meant(("strip.*",), tasks)}
    assert "strip.nuts" in meant
    assert not meant & set(rare)
    assert [task.key for task in verbs.tasks_meant(("strip.broken_stud",), tasks)] == ["strip.broken_stud"]

"""Welding that nobody of the people can do: a trip, a queue of some days, or done before the first bolt."""

from __future__ import annotations

import pytest

from boostwright.library.tasks import task_rows
from boostwright.planning.task import Effort, Task
from boostwright.planning.tasks import tasks_for
from tests.labels import check
from tests.planning.tasks.builds import changed
from tests.planning.tasks.forced import forced

DAY = 86400.0


def tasks(fields: dict[str, str | None] | None = None, welds: bool = False) -> dict[str, Task]:
    with forced({"nobody welds": not welds}):
        return {task.key: task for task in tasks_for(changed(fields or {}))}


def test_the_people_say_whether_somebody_welds() -> None:
    """The demo build names people and none of them welds."""
    task = {task.key: task for task in tasks_for(changed({}))}["oil.to_shop"]
    assert "people.welds" in task.why


@check(
    "common practice",
    note="a small welding job waits from hours to a working week in a shop; likely two days",
)
def test_where_nobody_welds_the_sump_waits_in_a_queue() -> None:
    found = tasks()
    (lag,) = found["oil.bung"].lags
    assert lag.task == "oil.to_shop"
    assert 0.0 < lag.low < lag.seconds < lag.high
    assert lag.high >= 5.0 * DAY
    assert lag.seconds == pytest.approx((0.2 + 4.0 * 2.0 + 5.0) / 6.0 * DAY)
    assert found["oil.to_shop"].after == ("oil.drill",)
    assert "oil.fetch" in found["oil.wash"].after


def test_where_somebody_welds_nobody_drives() -> None:
    found = tasks(welds=True)
    assert not {"oil.to_shop", "oil.fetch"} & found.keys()
    assert found["oil.bung"].lags == ()
    assert found["oil.bung"].after == ("oil.drill",)


def test_a_second_sump_is_done_before_the_first_bolt() -> None:
    found = tasks({"oil.sump_entry": '"second"'})
    assert not {"oil.mark", "oil.drill", "oil.to_shop", "oil.bung", "oil.fetch"} & found.keys()
    assert {"strip.sump", "oil.wash", "oil.sump_on", "decide.second_sump"} <= found.keys()
    second = found["decide.second_sump"]
    assert second.hold is not None
    assert second.hold.readings == ("sump_dry",)
    assert second.phase == "decide"
    assert found["decide.consumables"].after.count("decide.second_sump") == 1
    assert "strip.sump" in found["oil.wash"].after


def test_a_screwed_entry_needs_no_shop() -> None:
    found = tasks({"oil.sump_entry": '"screwed"'})
    assert not {"oil.to_shop", "oil.fetch", "oil.bung", "decide.second_sump"} & found.keys()


@pytest.mark.parametrize("welds", [True, False])
def test_bosses_are_welded_beforehand_and_the_pipe_is_a_branch(welds: bool) -> None:
    found = tasks(welds=welds)
    assert found["decide.boss"].phase == "decide"
    branch = found["turbo.pipe_welded"]
    assert 0.0 < branch.odds < 0.5
    assert "turbo.pipe_welded" in found["turbo.down_pipe"].after
    assert ("queue" in branch.words) is not welds


# ------------------------------------------------------------------------------ what goes stale over a night

PAIRS = {
    ("run.first_fire", "prove.briefing"),
    ("run.walk_round", "run.first_fire"),
    ("run.timing_unlock", "run.timing"),
    ("run.survey", "run.first_drive"),
    ("baseline.timing_drift", "baseline.timing"),
    ("baseline.timing_unlock", "baseline.timing_drift"),
    ("baseline.compression", "baseline.plugs"),
}


@check(
    "common practice",
    note="a briefing is given to those who are there, just before; locked timing stays in nobody's car",
)
def test_what_goes_stale_is_followed_in_the_same_stay() -> None:
    found = tasks()
    assert {(task.key, key) for task in found.values() for key in task.same_stay} == PAIRS
    assert "said anew" in found["run.first_fire"].words


def test_who_shares_a_stay_follows_at_once_and_can_be_manned_alike() -> None:
    """No wait lies between, and both together fit into an evening of three hours."""
    found = tasks()
    for task in found.values():
        for key in task.same_stay:
            assert key in task.after
            assert key not in {lag.task for lag in task.lags}
            assert task.in_one_go
            assert found[key].effort.high + task.effort.high < 3.0 * 3600.0


def test_every_stay_of_the_library_names_what_it_follows() -> None:
    for row in task_rows().values():
        assert set(row.same_stay) <= {key for key, _ in row.after}


def test_three_points_of_a_wait_are_read_as_those_of_a_task() -> None:
    row = task_rows()["oil.bung"].lags[0]
    assert row.points is not None
    (lag,) = tasks()["oil.bung"].lags
    assert lag.seconds == pytest.approx(Effort(*row.points).mean)

"""Durations: the mean of three points, and the totals of the whole job."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from boostwright.planning.task import Effort, Task
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.network import sorted_keys
from boostwright.verbs import demo_build
from tests.labels import check
from tests.planning.tasks.forced import forced

THE_WHOLE_JOB = {
    "battery moved": True,
    "water-cooled turbo": True,
    "coolant is drained": True,
    "relief shim": True,
    "catch can": True,
    "pump wired anew": True,
    "boost above the spring": False,
    "brake fluid is old": False,
    "external gate": False,
    "oil cooler": False,
    "boost is controlled": False,
    "nobody welds": False,
    "second sump": False,
}
"""The job of which the trade's totals speak: battery to the boot, water-cooled turbo, whole fuel side."""

TRADE = {
    "decide": 19.6, "baseline": 9.1, "battery": 5.8, "strip": 7.6, "breathing": 2.6, "oil": 6.1, "turbo": 8.8,
    "fuel": 5.2, "charge": 5.8, "control": 4.3, "prove": 3.4, "run": 12.8,
}  # fmt: skip
"""Expected hours of each phase for a keen home builder, each task counted once: 91 h. Common practice."""


@pytest.fixture(scope="module")
def tasks() -> tuple[Task, ...]:
    with forced(THE_WHOLE_JOB):
        return tasks_for(demo_build("sound"))


def hours(tasks: tuple[Task, ...]) -> dict[str, float]:
    total: dict[str, float] = defaultdict(float)
    for task in tasks:
        total[task.phase] += task.effort.mean * task.odds / 3600.0
    return total


@check("limit", note="(1 + 4 x 2 + 4) / 6 = 2.16667, the mean of the beta distribution on those three points")
def test_mean_of_three_points() -> None:
    assert Effort(1.0, 2.0, 4.0).mean == pytest.approx(2.16667, abs=5e-6)


@check(
    "reference library", source="scipy", note="beta distribution with the shape that the three points give"
)
@given(st.tuples(*[st.floats(1.0, 1e5)] * 3).map(sorted).filter(lambda p: p[2] - p[0] > 1e-3))
def test_mean_of_three_points_against_the_distribution(points: list[float]) -> None:
    low, likely, high = points
    rise = 1.0 + 4.0 * (likely - low) / (high - low)
    fall = 1.0 + 4.0 * (high - likely) / (high - low)
    mean = stats.beta(rise, fall, loc=low, scale=high - low).mean()
    assert Effort(low, likely, high).mean == pytest.approx(mean, rel=1e-9)


@check(
    "common practice",
    note="the job of a keen home builder takes some 91 h, each task counted once, no waits; 15 %",
)
def test_the_whole_job_takes_what_the_trade_says(tasks: tuple[Task, ...]) -> None:
    assert sum(hours(tasks).values()) == pytest.approx(sum(TRADE.values()), rel=0.15)


@check(
    "common practice", note="51 h of them lie between the first bolt and the end of the first warm-up; 15 %"
)
def test_from_the_first_bolt_to_the_first_warm_up(tasks: tuple[Task, ...]) -> None:
    before = {"decide", "baseline", "run"}
    early = {"run.first_fire", "run.walk_round", "run.timing", "run.warm_up"}
    between = tuple(task for task in tasks if task.phase not in before or task.key in early)
    assert sum(hours(between).values()) == pytest.approx(51.0, rel=0.15)


@check("common practice", note="phase by phase within a third; docs/tasks.md shows each difference")
@pytest.mark.parametrize("phase", TRADE)
def test_each_phase_is_of_the_size_that_the_trade_says(tasks: tuple[Task, ...], phase: str) -> None:
    assert hours(tasks)[phase] == pytest.approx(TRADE[phase], rel=1.0 / 3.0)


@check("common practice", note="stands to first fire with any number of hands: some 10 h of work; 25 %")
def test_the_longest_chain_of_work(tasks: tuple[Task, ...]) -> None:
    by_key = {task.key: task for task in tasks}
    longest: dict[str, float] = {}
    for key in sorted_keys({task.key: task.after for task in tasks}):
        before = [longest[one] for one in by_key[key].after if one in longest]
        if key == "strip.stands" or before:
            longest[key] = by_key[key].effort.mean * by_key[key].odds + max(before, default=0.0)
    assert longest["run.first_fire"] / 3600.0 == pytest.approx(10.2, rel=0.25)


def test_the_page_shows_these_hours(tasks: tuple[Task, ...]) -> None:
    """The table of docs/tasks.md is not older than the tables of tasks."""
    page = (Path(__file__).resolve().parents[3] / "docs" / "tasks.md").read_text(encoding="utf-8")
    ours = hours(tasks)
    for phase, told in TRADE.items():
        share = round(100.0 * (ours[phase] / told - 1.0))
        difference = f"{share:+d} %" if share else "0 %"
        assert f"| {phase} | {ours[phase]:.1f} | {told} | {difference}" in page
    assert f"| all | {sum(ours.values()):.1f} | {sum(TRADE.values()):.1f} |" in page
    assert f"{len(tasks)} tasks" in page

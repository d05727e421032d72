"""Broken studs: odds and times."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boostwright.library import read_text
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.studs import broken_studs, hollow_flange, spare_studs, stud_count, stud_effort
from tests.labels import check
from tests.mutation_builds import with_its_map
from tests.planning.tasks.builds import changed


def ground(**fields: str | None) -> Ground:
    return Ground(changed({path.replace("__", "."): value for path, value in fields.items()}))


@check(
    "limit", note="1 - (1 - p)^n, counted out by chance with a fixed seed; 4 standard errors of the sample"
)
def test_odds_of_at_least_one_and_how_many_if_any() -> None:
    found = broken_studs(ground(engine__distance='"200000 km"'))
    rng = np.random.default_rng(7)
    samples = 200_000
    broken = (rng.random((samples, found.studs)) < found.each).sum(axis=1)
    any_breaks = broken > 0
    error = math.sqrt(found.at_least_one * (1.0 - found.at_least_one) / samples)
    assert found.at_least_one == pytest.approx(any_breaks.mean(), abs=4.0 * error)
    spread = broken[any_breaks].std() / math.sqrt(any_breaks.sum())
    assert found.expected == pytest.approx(broken[any_breaks].mean(), abs=4.0 * spread)


def test_studs_are_counted_in_the_file_or_two_a_cylinder_and_one() -> None:
    text = read_text("builds/sound.toml")
    counted = text.replace("count = 9", "count = 10")
    assert stud_count(Ground(with_its_map(counted))) == 10
    assert stud_count(Ground(with_its_map(text[: text.index("[[fasteners]]")]))) == 2 * 4 + 1


@check("limit", note="the more it has run, the likelier; never certain, never impossible")
def test_odds_rise_with_what_the_engine_has_run() -> None:
    odds = [
        broken_studs(ground(engine__distance=f'"{km} km"')).at_least_one
        for km in (1000, 60000, 120000, 250000, 900000)
    ]
    assert odds == sorted(odds)
    assert odds[0] > 0.0
    assert odds[-1] < 1.0


@check(
    "limit",
    note="mean of a lognormal whose median is 60 min and whose 90th hundredth is 240 min, by sampling",
)
def test_the_time_of_one_stud_has_the_mean_of_its_lognormal() -> None:
    sigma = math.log(240.0 / 60.0) / 1.2815515655446004  # normal quantile of 0.9
    rng = np.random.default_rng(3)
    drawn = 60.0 * np.exp(sigma * rng.standard_normal(400_000))
    assert np.quantile(drawn, 0.9) == pytest.approx(240.0, rel=0.01)
    one = ground(engine__distance='"1 km"')
    effort = stud_effort(one)
    expected = broken_studs(one).expected * drawn.mean() * 60.0
    assert effort.mean == pytest.approx(expected, rel=0.02)


def test_the_branch_is_in_the_plan_with_its_odds_and_not_as_a_sure_task() -> None:
    tasks = {task.key: task for task in tasks_for(changed({"engine.distance": '"214000 km"'}))}
    branch = tasks["strip.broken_stud"]
    assert 0.0 < branch.odds < 1.0
    assert branch.odds == broken_studs(ground(engine__distance='"214000 km"')).at_least_one
    branches = {"strip.broken_stud", "turbo.flange_faced", "turbo.pipe_welded"}
    assert all(task.odds == 1.0 for key, task in tasks.items() if key not in branches)
    assert "strip.broken_stud" in tasks["strip.manifold"].after


STATES = ("clean", "rusty", "wasted")


@check("common practice", note="rust breaks studs: order clean, rusty, wasted; how much is judgement")
def test_rust_drives_odds_time_and_spares() -> None:
    found = [ground(engine__exhaust_studs=f'"{state}"') for state in STATES]
    odds = [broken_studs(one).at_least_one for one in found]
    usual = broken_studs(ground()).at_least_one
    assert odds == sorted(odds)
    assert odds[0] < usual < odds[1] < odds[2] < 1.0
    assert odds[2] > 0.5  # a wasted set is expected to break one
    spares = [spare_studs(one) for one in found]
    assert spares == sorted(spares)
    assert spares[0] >= 2
    assert spares[2] == stud_count(found[2])
    nuts = [{task.key: task for task in tasks_for(one.build)}["strip.nuts"] for one in found]
    assert nuts[0].effort.mean < nuts[1].effort.mean < nuts[2].effort.mean
    assert [n.quantity for n in nuts[2].needs if n.item == "stud"] == [float(spares[2])]
    assert ["split the nut" in task.words for task in nuts] == [False, False, True]


def test_the_odds_say_what_they_rest_on() -> None:
    assert "they are rusty" in broken_studs(ground(engine__exhaust_studs='"rusty"')).because


def test_the_oldest_wasted_stud_may_still_come_out() -> None:
    found = broken_studs(ground(engine__exhaust_studs='"wasted"', engine__distance='"900000 km"'))
    assert found.each <= 0.5


@check("common practice", note="penetrant soaks cold over at least one night, and is wetted again")
def test_penetrant_goes_on_cold_the_evening_before() -> None:
    tasks = {task.key: task for task in tasks_for(changed({}))}
    soak, nuts = tasks["baseline.soak"], tasks["strip.nuts"]
    (lag,) = [lag for lag in nuts.lags if lag.task == "baseline.soak"]
    assert lag.seconds >= 8.0 * 3600.0
    (cool,) = soak.lags
    assert cool.task == "baseline.full_load"
    assert cool.seconds >= 2.0 * 3600.0
    assert soak.phase == "baseline"  # of the phases that go on evenings before


@check(
    "common practice",
    note="welds draw a flange; a casting was faced once: order only, the odds are judgement",
)
def test_welded_manifolds_go_to_the_machine_shop_more_often_than_cast_ones() -> None:
    cast, tubular = (hollow_flange(ground(manifold__kind=f'"{kind}"')) for kind in ("cast", "tubular"))
    assert 0.0 < cast < tubular < 1.0
    tasks = {task.key: task for task in tasks_for(changed({"manifold.kind": '"tubular"'}))}
    assert tasks["turbo.flange_faced"].odds == tubular
    assert "turbo.flange_faced" in tasks["turbo.trial_fit"].after

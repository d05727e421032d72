"""Readings of a step from a pull, the verdict of the ladder, and what to change."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from boostwright.drive.learned import BreathingMap, Learned, LearnedLine
from boostwright.drive.next_step import changes_of, next_step
from boostwright.drive.outside import Outside
from boostwright.drive.pull_readings import pull_values
from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.drive.road_power import RoadPower
from boostwright.drive.rows import Rows
from boostwright.library.learned_changes import EFFORTS, learned_changes
from boostwright.planning.ladder import Ladder, State
from tests.labels import check
from tests.planning.ladder import made

RPM = np.pi / 30
AIR = Outside(made.condition().air.pressure, 500.0, 297.0, 2.0, 0.5, 0.2, "said")


@cache
def at_first_pull() -> Ladder:
    """The ladder at its first pull; that the rod was seen is on record."""
    found, records = made.climbed("cut-test")
    rung = found.rungs[found.here]
    assert rung.key == "pull-low"
    return made.ladder([*records, made.reading(rung, "rod_untied", 2000.0)])


def log(ladder: Ladder, to: float | None = None, **other: Any) -> Rows:
    """A pull as the made engine would do it, at 50 rows a second."""
    rung = ladder.rungs[ladder.here]
    assert rung.speeds is not None
    low, high = rung.speeds
    condition = made.condition()
    t = np.arange(0.0, 5.0, 0.02)
    w = np.linspace(low, high if to is None else to, t.size)

    def along(values: np.ndarray) -> np.ndarray:
        return np.interp(w, condition.speed, values)

    p = along(condition.pressure)
    oil = rung.of("pull_oil")
    assert oil is not None
    assert oil.middle is not None or oil.low is not None
    good = oil.middle if oil.middle is not None else 1.2 * oil.low
    values: dict[str, Any] = {
        "engine_speed": w,
        "manifold_pressure": p,
        "lambda": along(condition.lam),
        "injector_duty": along(condition.duty),
        "intake_temperature": along(condition.intake),
        "exhaust_temperature": along(condition.exhaust),
        "fuel_pressure": along(condition.rail) + p - AIR.pressure,
        "oil_pressure": good,
        "crankcase_pressure": 300.0,
        "coolant_temperature": 363.0,
        "knock_retard": 0.0,
        "road_speed": w * 0.05,
        **other,
    }
    return Rows(
        t,
        np.arange(t.size),
        {k: np.broadcast_to(np.asarray(v, dtype=float), t.shape) for k, v in values.items()},
    )


def refused(rows: Rows) -> RoadPower:
    no = np.empty(0)
    stretch = Stretch("pull", float(rows.t[0]), float(rows.t[-1]), 0, int(rows.row[-1]))
    return RoadPower(stretch, no, no, no, no, no, no, no, no, refused=("not asked",))


def verdict(rows: Rows, ladder: Ladder | None = None, notices: tuple[Notice, ...] = ()):  # type: ignore[no-untyped-def]
    return next_step(
        ladder or at_first_pull(), rows, [refused(rows)], AIR, notices, who="N", time=made.at(2100.0)
    )


def test_a_pull_as_expected_opens_its_step() -> None:
    found = verdict(log(at_first_pull()))
    assert found.why == ()
    assert found.opens
    assert found.pull is not None
    assert {r.measurement for r in found.readings} >= {
        "pull_peak",
        "pull_lambda",
        "pull_duty",
        "pull_oil",
        "pull_knock",
    }
    assert all(r.step == "pull-low" and r.when == "after" and r.who == "N" for r in found.readings)
    assert all(s.state.opens for s in found.stands)


@pytest.mark.parametrize(
    ("other", "name", "state"),
    [
        ({"lambda": 0.95}, "pull_lambda", State.BROKEN_OFF),
        ({"manifold_pressure": 180e3}, "pull_peak", State.BROKEN_OFF),
        ({"knock_retard": np.where(np.arange(250) > 200, np.radians(3), 0)}, "pull_knock", State.BROKEN_OFF),
        ({"oil_pressure": 20e3}, "pull_oil", State.BROKEN_OFF),
    ],
)
def test_a_reading_beyond_its_limit_shuts_the_step_and_comes_first(other, name: str, state: State) -> None:  # type: ignore[no-untyped-def]
    found = verdict(log(at_first_pull(), **other))
    assert not found.opens
    stand = next(s for s in found.stands if s.expected.measurement == name)
    assert stand.state is state
    assert found.changes[0].first
    assert any(c.about == name for c in found.changes)


def test_what_the_log_does_not_show_keeps_the_step_shut_and_says_so() -> None:
    found = verdict(log(at_first_pull(), oil_pressure=np.nan, knock_retard=np.nan))
    assert not found.opens
    text = " ".join(found.why)
    assert "oil pressure" in text.lower()
    assert "Knock" in text
    assert "pull_knock" not in {r.measurement for r in found.readings}  # silence of no sensor is no silence


def test_a_pull_of_another_length_does_not_count() -> None:
    ladder = at_first_pull()
    _, high = ladder.rungs[ladder.here].speeds or (0, 0)
    short, long = verdict(log(ladder, high - 800 * RPM)), verdict(log(ladder, high + 800 * RPM))
    assert not short.opens
    assert short.pull is None
    assert "goes from where" in short.why[-1]
    assert "went past" in long.why[-1]


def test_a_step_that_is_no_pull_is_not_opened_by_one() -> None:
    ladder = made.ladder()
    found = verdict(log(at_first_pull()), ladder)
    assert not found.opens
    assert "no pull" in found.why[-1]
    assert found.readings == ()


def test_a_grave_notice_in_the_pull_keeps_it_shut() -> None:
    notice = Notice(
        "knock-past-the-model", True, 1.0, 2.0, 50, 100, Reading("x", 0.1, 0.02, "spark angle"), 5.0, ()
    )
    found = verdict(log(at_first_pull()), notices=(notice,))
    assert not found.opens
    assert verdict(log(at_first_pull()), notices=(notice._replace(start=90.0, end=95.0),)).opens


@check(
    "limit", note="figures of a made pull by hand: peak, creep over 500 rpm, drift of the ratio; round-off"
)
def test_figures_of_a_pull() -> None:
    t = np.arange(0.0, 6.0, 0.02)
    w = np.linspace(2000, 5000, t.size) * RPM
    p = 100e3 + 10.0 * (w / RPM - 2000)  # 10 Pa for each rpm
    values = {
        "engine_speed": w,
        "manifold_pressure": p,
        "road_speed": w / 20 / np.linspace(1.0, 1.03, t.size),
        "lambda": np.where(t < 1.5, 1.1, 0.8),  # a lean moment before the boost has stood for long
        "injector_pulse": np.full(t.shape, 12e-3),
        "knock_retard": np.where((t > 3) & (t < 3.3) | (t > 5), np.radians(2.5), 0.0),
        "oil_pressure": np.where(t < 1.0, 1e5, 4e5),
        "fuel_pressure": np.full(t.shape, 350e3),
    }
    values["manifold_pressure"][150] = 400e3  # one wild reading
    values = {k: np.array(v) for k, v in values.items()}
    rows = Rows(t, np.arange(t.size), values)
    found = {
        k: v[0]
        for k, v in pull_values(Stretch("pull", 0.0, 6.0, 0, 299), rows, replace_air(95e3), None).items()
    }
    assert found["pull_peak"] == pytest.approx(130e3, abs=300)
    assert found["pull_creep"] == pytest.approx(5e3, rel=0.01)
    assert found["clutch_drift"] == pytest.approx(0.02, abs=0.003)
    assert found["pull_duty"] == pytest.approx(12e-3 * 5000 * RPM / (4 * np.pi), rel=0.02)
    assert found["pull_lambda"] == pytest.approx(0.8)
    assert found["pull_knock"] == 2
    assert found["pull_oil"] == pytest.approx(4e5)
    assert found["pull_rail_minus_manifold"] == pytest.approx(350e3 + 95e3 - 130e3, abs=500)
    assert "pull_crankcase" not in found


def replace_air(pressure: float) -> Outside:
    return AIR._replace(pressure=pressure)


def learned(**moved: float) -> Learned:
    """A record in which some unknowns moved by so many spreads, and breathing by 6 % where it was driven."""
    lines = tuple(
        LearnedLine(name, f"words of {name}", "share", 0.0, 1.0, far, 0.3, 0.3, False)
        for name, far in moved.items()
    )
    covered = np.array([[True, False], [True, False]])
    chart = BreathingMap(
        np.array([300.0, 400.0]), np.array([1e5, 1.3e5]), np.where(covered, 1.06, 1.0), np.full((2, 2), 0.01),
        np.full((2, 2), 0.1), covered, np.empty(0), np.empty(0), np.empty(0), np.empty(0),
    )  # fmt: skip
    return Learned("drive.csv", "abc", lines, np.empty((0, 0)), chart, 1.0, 1.0, 9, ())


def test_changes_come_smallest_first_and_what_costs_the_engine_before_all() -> None:
    given = {"form.turbo": 3.0, "sensor.lambda": -2.5, "injectors.flow": 2.2, "model.friction": 0.5}
    found = changes_of((), learned(**given))
    assert [c.effort for c in found] == sorted(c.effort for c in found)
    assert [c.about for c in found] == ["model.breathing", "injectors.flow", "sensor.lambda", "form.turbo"]
    knock = Notice("knock-below-the-model", True, 0, 1, 0, 1, Reading("x", 1, 1, "share"), 3.0, ())
    found = changes_of((knock, knock._replace(start=9.0, ratio=4.0)), learned(**given))
    assert found[0].about == "knock-below-the-model"
    assert found[0].first
    assert found[0].ratio == 4.0
    assert len([c for c in found if c.first]) == 1  # the same thing once
    quiet = replace(learned(), breathing=replace(learned().breathing, factor=np.ones((2, 2))))
    assert changes_of((), quiet) == ()


def test_rules_of_change_are_whole() -> None:
    for rule in learned_changes().values():
        assert rule.effort in EFFORTS
        assert rule.words

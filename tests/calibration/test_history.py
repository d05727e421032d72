"""What the engine's own past without knock takes off the spread."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from boostwright.calibration.grid import Grid
from boostwright.calibration.history import history_of
from boostwright.library.calibration import rule_of
from tests.calibration.conftest import RPM, Small
from tests.labels import check


def one_speed(log_knock: float, slope: float = 2.5) -> tuple[Grid, Any]:
    """A speed with two pressures; the first is the past's own, its spark the sold one, so L is what is
    given.
    """
    rule = rule_of("sold_spark")
    spark = np.radians(np.interp(3000.0, rule.at, rule.value))
    pressures = np.array([100e3, 140e3])
    grid = Grid(
        np.array([3000.0]) * RPM, pressures, np.full(2, 300.0), pressures, np.ones(2, dtype=bool), 100e3
    )
    middle = SimpleNamespace(
        slope=np.full(2, slope), log_knock=np.array([log_knock, 0.0]), used=np.full(2, spark),
        result=SimpleNamespace(status=np.zeros(2, dtype=int)),
    )  # fmt: skip
    return grid, middle


@check(
    "limit",
    note="a hundred thousand normal draws, those that knock where the engine did not are thrown out; 2 % of"
    " a standard deviation, three times the draws' own error",
)
@pytest.mark.parametrize("level", [-0.6, 0.0, 0.4])
def test_it_is_the_draws_that_agree_with_the_past(sound: Small, level: float) -> None:
    grid, middle = one_speed(level)
    changes = np.array([[0.30, 0.40], [0.10, -0.10]])
    together = np.array([[1.0, 0.3], [0.3, 1.0]])
    own = np.array([0.08, 0.05])
    alone = np.array([0.05, 0.12])  # what a cell has for itself: the timing mark
    total = np.sqrt(np.einsum("in,ij,jn->n", changes, together, changes) + own**2 + alone**2)
    found = history_of(sound.build, grid, middle, 0.0, changes, together, own, total)
    random = np.random.default_rng(3)
    n = 100_000
    scores = np.linalg.cholesky(together) @ random.standard_normal((2, n))
    shared = random.standard_normal(n)
    error = changes.T @ scores + own[:, None] * shared
    reading = 2.5 * np.radians(rule_of("sold_spark").spread) * random.standard_normal(n)
    kept = level + error[0] + reading < 0.0
    drawn = error[1][kept] + alone[1] * random.standard_normal(int(kept.sum()))
    assert found.shift[1] == pytest.approx(drawn.mean(), abs=0.02 * total[1])
    assert found.sd[1] == pytest.approx(drawn.std(), rel=0.02)


def test_the_past_only_ever_takes_away(sound: Small) -> None:
    for level in (-3.0, -0.5, 0.0, 0.5):
        grid, middle = one_speed(level)
        total = np.array([0.42, 0.45])
        changes = np.array([[0.4, 0.42]])
        found = history_of(sound.build, grid, middle, 0.0, changes, np.eye(1), np.zeros(2), total)
        assert (found.sd <= total + 1e-12).all()
        assert (found.shift <= 1e-12).all()
    grid, middle = one_speed(-3.0)
    found = history_of(sound.build, grid, middle, 0.0, changes, np.eye(1), np.zeros(2), total)
    assert np.abs(found.shift).max() < 1e-6, "a past that was sure anyway says nothing"


def test_poorer_fuel_than_the_past_had_is_not_excused_by_it(sound: Small) -> None:
    """The scale of the poorest fuel is taken out before the past is asked, and stays in the cells."""
    grid, middle = one_speed(0.3)
    args = (np.array([[0.4, 0.42]]), np.eye(1), np.zeros(2), np.array([0.42, 0.45]))
    plain = history_of(sound.build, grid, middle, 0.0, *args)
    scaled = history_of(sound.build, grid, middle, 0.3, *args)
    assert (scaled.shift > plain.shift).all(), "without the poor fuel the past is less of a surprise"


def test_nothing_is_learnt_without_a_past(sound: Small) -> None:
    grid, middle = one_speed(0.0)
    args = (np.array([[0.4, 0.42]]), np.eye(1), np.zeros(2), np.array([0.42, 0.45]))
    values = {k: v for k, v in sound.build.values.items() if k != "baseline.torque"}
    unknown = replace(sound.build, values=values)
    found = history_of(unknown, grid, middle, 0.0, *args)
    assert not found.told
    assert np.array_equal(found.sd, args[3])
    high = replace(grid, pressures=np.array([50e3, 140e3]))
    assert not history_of(sound.build, high, middle, 0.0, *args).told, "no column near full load"
    hopeless = one_speed(9.0)[1]
    assert not history_of(sound.build, grid, hopeless, 0.0, *args).told, (
        "a past that the model calls impossible"
    )


def test_the_sound_builds_margins_know_its_past(sound: Small) -> None:
    cells, table = sound.made.work.cells, sound.made.calibration.table("spark")
    assert cells.lived
    assert any("ran full load without knock before" in note for note in table.notes)
    before = sound.made.work.score * cells.log_knock_sd
    loaded = sound.made.work.grid.visited & (sound.made.work.grid.pressure > 90e3)
    assert np.median(cells.margin[loaded] / before[loaded]) < 0.9

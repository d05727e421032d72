"""Breakpoints and the gas in the cells."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.calibration.grid import breakpoints, grid_of
from boostwright.errors import OutOfRange
from tests.calibration.conftest import PRESSURES, RPM, SPEEDS, Small


@given(
    count=st.integers(4, 30),
    middle=st.floats(0.0, 1.0),
    sharp=st.floats(0.0, 20.0),
    own=st.floats(0.1, 0.9),
)
def test_breakpoints_rise_and_hold_what_must_be_there(
    count: int, middle: float, sharp: float, own: float
) -> None:
    at = np.linspace(0.0, 1.0, 200)
    density = 1.0 + sharp * np.exp(-(((at - middle) / 0.1) ** 2))
    found = breakpoints(density, at, count, (0.0, own, 1.0), 1e-6)
    assert (np.diff(found) > 0).all()
    assert 2 <= found.size <= count
    for value in (0.0, own, 1.0):
        assert np.abs(found - value).min() < 1e-6


def test_breakpoints_lie_closer_where_the_match_runs(demo: Callable[[str], Small]) -> None:
    for name in ("sound", "highland"):
        build, case, _ = demo(name)
        grid = grid_of(build, case, 165e3)
        gaps = np.diff(grid.pressures)
        high = float(np.nanmax(case.goal.plenum_pressure))  # type: ignore[union-attr]
        near = (grid.pressures[1:] <= high + 2e3) & (grid.pressures[:-1] >= high - 25e3)
        light = grid.pressures[1:] <= 0.9 * case.ambient_pressure
        assert gaps[near].max() < gaps[light].min(), name


def test_idle_outside_air_the_match_and_the_top_have_a_row(sound: Small) -> None:
    build, case, _ = sound
    grid = grid_of(build, case, 165e3)
    assert 220 <= grid.speeds.size * grid.pressures.size <= 280
    idle = float(np.min(case.extra["light_loads"].plenum_pressure))
    high = float(np.nanmax(case.goal.plenum_pressure))  # type: ignore[union-attr]
    for value in (idle, case.ambient_pressure, high, 165e3):
        assert np.abs(grid.pressures - value).min() <= 0.51e3
    for value in (build.number("engine.idle_speed"), build.number("engine.speed_limit")):
        assert np.abs(grid.speeds - value).min() <= 25.1 * RPM


def test_on_the_trajectory_the_cells_have_the_state_of_the_match(sound: Small) -> None:
    build, case, _ = sound
    goal = case.goal
    assert goal is not None
    grid = grid_of(build, case, 165e3, goal.speed, np.unique(np.round(goal.plenum_pressure, 3)))
    for i, p in enumerate(goal.plenum_pressure):
        j = int(np.argmin(np.abs(grid.pressures - p)))
        at = i * grid.pressures.size + j
        assert grid.temperature[at] == pytest.approx(goal.plenum_temperature[i], abs=0.5)
        assert grid.exhaust[at] == pytest.approx(goal.exhaust_pressure[i], rel=2e-3)


def test_back_pressure_and_temperature_never_fall_as_the_charge_grows(demo: Callable[[str], Small]) -> None:
    for name in PRESSURES:
        build, case, _ = demo(name)
        grid = grid_of(build, case, 1.1 * PRESSURES[name][-1])
        exhaust = grid.exhaust.reshape(grid.shape)
        assert (np.diff(exhaust, axis=1) > -1.0).all(), name
        assert (exhaust >= grid.ambient - 1.0).all(), name


def test_the_ground_that_is_driven_is_a_staircase_under_the_trajectory(sound: Small) -> None:
    grid = sound.made.work.grid
    visited = grid.visited.reshape(grid.shape)
    first, last = visited.argmax(axis=1), visited.shape[1] - visited[:, ::-1].argmax(axis=1)
    for row, a, b in zip(visited, first, last, strict=True):
        assert row[a:b].all(), "no holes"
    days = [sound.case.goal, *(corner.goal for corner in sound.case.corners)]
    highest = max(float(np.nanmax(day.plenum_pressure)) for day in days if day is not None)
    below = np.concatenate([[0.0], grid.pressures[:-1]])
    assert not visited[:, below >= highest].any(), "nothing lies wholly above what any day drives"
    high = float(np.nanmax(sound.case.goal.plenum_pressure))  # type: ignore[union-attr]
    column = int(np.searchsorted(grid.pressures, high))
    assert visited[3:, column].all()
    assert not visited[0, column]


@pytest.mark.parametrize(
    ("speeds", "pressures", "words"),
    [
        (np.array([3000.0]) * RPM, None, "at least two"),
        (np.array([3000.0, 2000.0]) * RPM, None, "each above the one before"),
        (np.array([100.0, 2000.0]) * RPM, None, "100 rpm: the engine cycle holds from 500 to 12000 rpm"),
        (None, np.array([50e3, 500e3]), "500 kPa: the engine cycle holds from 20 to 395 kPa"),
        (None, np.array([50e3, np.nan]), "each above the one before"),
    ],
)
def test_breakpoints_outside_the_ground_are_refused(
    sound: Small, speeds: object, pressures: object, words: str
) -> None:
    with pytest.raises(OutOfRange, match=words):
        grid_of(sound.build, sound.case, 165e3, speeds, pressures)  # type: ignore[arg-type]


def test_a_persons_own_breakpoints_are_kept(sound: Small) -> None:
    grid = sound.made.work.grid
    assert np.array_equal(grid.speeds, SPEEDS)
    assert np.array_equal(grid.pressures, PRESSURES["sound"])

"""A drive may take spark out of the tables, never put it in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.calibration.cells import EARLIEST, solver_of
from boostwright.drive.learned import BreathingMap, Learned, LearnedLine, learned_build
from boostwright.drive.learned_spark import LATER, careful_build
from boostwright.systems.engine.spark_grid import spark_grid
from boostwright.verbs import demo_build
from tests.calibration.conftest import Small

NAMES = ("model.knock", "model.knock_warmth", "model.burn", "model.heat", "model.friction")


def taught(way: float) -> Learned:
    """Every field moved by one spread the given way, and known twice as well, all moving together."""
    build, lines = demo_build("sound"), []
    for name in NAMES:
        old = build[name]
        assert old.sd
        after = old.value + way * old.sd
        lines.append(
            LearnedLine(name, name, "ratio", old.value, old.sd, after, 0.5 * old.sd, 0.5, is_field=True)
        )
    chart = BreathingMap(
        np.array([100.0, 500.0]), np.array([60e3, 160e3]), np.ones((2, 2)), np.full((2, 2), 0.02),
        np.full((2, 2), 0.1), np.ones((2, 2), dtype=bool), *(np.zeros(1) for _ in range(4)),
    )  # fmt: skip
    together = 0.3 + 0.7 * np.eye(len(NAMES))
    return Learned("drive.csv", "f" * 16, tuple(lines), together, chart, 1.0, 0.8, 40, ())


def test_a_drive_without_knock_puts_no_spark_in() -> None:
    build, learned = demo_build("sound"), taught(-1.0)
    careful = careful_build(build, learned)
    for name in NAMES[:4]:
        assert careful.build[name].value == build[name].value
        assert careful.build[name].sd == build[name].sd
    assert set(careful.left) == set(NAMES[:4])
    assert "does not prove where knock begins" in careful.words[0]
    assert learned_build(build, learned)["model.knock"].value < build["model.knock"].value


def test_a_drive_that_knocked_takes_spark_out_and_narrows_no_margin() -> None:
    build = demo_build("sound")
    careful = careful_build(build, taught(1.0))
    for name in LATER:
        assert careful.build[name].value > build[name].value
        assert careful.build[name].sd == build[name].sd
    assert set(careful.left) == {"model.knock_warmth", "model.heat"}


@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_the_rest_is_as_the_drive_taught_it(way: float) -> None:
    build, learned = demo_build("sound"), taught(way)
    careful, plain = careful_build(build, learned), learned_build(build, learned)
    assert careful.build["model.friction"].value == plain["model.friction"].value
    assert careful.build["model.friction"].sd == plain["model.friction"].sd
    assert not any(set(pair) & set(NAMES[:4]) for pair in careful.together)


@pytest.mark.parametrize("name", LATER)
def test_what_is_taken_where_it_rises_moves_no_boosted_spark_earlier(sound: Small, name: str) -> None:
    grid, build = sound.made.work.grid, sound.build
    points = grid.points(sound.made.work.cells.lam)
    old = build[name]
    more = replace(build, _defaults={name: replace(old, value=1.1 * old.value)})
    before, after = (spark_grid(solver_of(one), points, earliest=EARLIEST) for one in (build, more))
    limited = (grid.pressure > 90e3) & (before.used > before.best + 0.002)
    limited &= (before.result.status == 0) & (after.result.status == 0)
    assert limited.sum() >= 10
    assert np.all(after.used[limited] >= before.used[limited] - np.radians(0.1))

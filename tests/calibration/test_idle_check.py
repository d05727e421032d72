"""Spark that moves with load or speed near idle is seen."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from boostwright.calibration.idle_check import idle_level
from tests.calibration.conftest import RPM


def judged(spark: list[list[float]], pressures: tuple[float, ...] = (33e3, 46e3, 91e3)) -> Any:
    """The check of a table in degrees before top dead centre at 700, 850 and 1900 rpm; idle at 850."""
    work: Any = SimpleNamespace(
        grid=SimpleNamespace(
            speeds=np.array([700.0, 850.0, 1900.0]) * RPM, pressures=np.array(pressures), ambient=98e3
        ),
        build=SimpleNamespace(number=lambda _: 850.0 * RPM),
    )
    table: Any = SimpleNamespace(value=-np.radians(np.array(spark)))
    return idle_level({"spark": table}, work)


def test_a_level_idle_holds() -> None:
    assert judged([[12, 12, -4], [12, 12, 1], [31, 26, 14]]).holds is True


@pytest.mark.parametrize("where", [(0, 0), (0, 1), (1, 0), (1, 1)])
@pytest.mark.parametrize("by", [-7.0, 7.0])
def test_one_cell_that_parts_from_the_others_is_named(where: tuple[int, int], by: float) -> None:
    spark: list[list[float]] = [[12.0, 12, -4], [12, 12, 1], [31, 26, 14]]
    spark[where[0]][where[1]] += by
    check = judged(spark)
    assert check.holds is False
    assert check.cells == (("spark", *where),)
    assert check.remedy


def test_a_grid_without_idle_cannot_be_told() -> None:
    assert judged([[12, 12, 12]] * 3, (60e3, 80e3, 91e3)).holds is None

"""A compressor map read into a table, against the map itself."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.library import turbo_sizes
from boostwright.physics.compressor import PointStatus, operating_point
from boostwright.physics.compressor_sizes import WheelFactors, WheelMap, wheel_sizes
from boostwright.physics.compressor_table import table_point, tabulated
from tests.labels import check

RECIPE = turbo_sizes.compressor_recipe()
WHEEL = wheel_sizes(0.0445, 0.059, RECIPE)
MAP = WheelMap(WHEEL, RECIPE, WheelFactors())
TABLE = tabulated(MAP)
RNG = np.random.default_rng(7)
FLOW = RNG.uniform(0.02, 0.20, 2000)
RATIO = RNG.uniform(1.02, 4.5, 2000)
EXACT = operating_point(MAP, WHEEL.D2, FLOW, RATIO, 298.15, 98e3)
QUICK = table_point(TABLE, WHEEL.D2, FLOW, RATIO, 298.15, 98e3)
# at its highest speeds this map gives less pressure than just below: the first way up ends in a corner there
BODY = (EXACT.status <= PointStatus.LEFT_OF_SURGE) & (EXACT.choke_ratio < 0.97) & (EXACT.mach < 1.5)


@check("limit", note="a table of the map itself; 2e-4 in the body of the map, by its pitch")
@pytest.mark.parametrize("figure", ["speed", "power", "outlet_temperature", "pressure_ratio"])
def test_close_to_the_map(figure: str) -> None:
    assert BODY.sum() > 1000
    exact, quick = getattr(EXACT, figure)[BODY], getattr(QUICK, figure)[BODY]
    np.testing.assert_allclose(quick, exact, rtol=2e-4)


def test_ends_of_the_map_are_told_alike() -> None:
    for status in (PointStatus.TOO_FAST, PointStatus.IDLING):
        differ = (EXACT.status == status) != (QUICK.status == status)
        assert differ.mean() < 0.01
    assert (EXACT.status == PointStatus.TOO_FAST).sum() > 20


def test_no_work_below_nothing_and_no_speed_off_the_map() -> None:
    quick = table_point(TABLE, WHEEL.D2, np.geomspace(1e-3, 0.6, 400), 1.02, 288.0, 101e3)
    assert np.all(quick.power >= 0)
    low, high = MAP.mach_range
    assert np.all((quick.mach >= low) & (quick.mach <= high))


@check("limit", note="similarity: the same corrected point at any altitude and temperature; round-off")
def test_similarity() -> None:
    T, p = 270.0, 70e3
    here = table_point(TABLE, WHEEL.D2, 0.10, 1.8, 298.15, 100e3)
    same = 0.10 * np.sqrt(298.15 / T) * p / 100e3
    there = table_point(TABLE, WHEEL.D2, same, 1.8, T, p)
    assert float(there.mach) == pytest.approx(float(here.mach), rel=1e-12)

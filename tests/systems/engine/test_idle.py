"""The engine at idle and in slow cruise."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.errors import NotConverged
from boostwright.systems.engine.idle import light_loads
from boostwright.systems.engine.types import ModelFactors
from tests.labels import check
from tests.systems.engine.cases import solver

IDLE = 850 * np.pi / 30


@check(
    "common practice",
    note="a warm engine idles at 25 to 40 kPa in the plenum and on 0.3 to 0.6 L/h per litre",
)
def test_idle_is_where_the_trade_finds_it() -> None:
    engine = solver()
    light = light_loads(engine, 100e3, 298.15, IDLE)
    litres = engine.engine.displacement * 1e3
    assert 25e3 < light.plenum_pressure[0] < 40e3
    assert 0.3 < light.fuel_flow[0] / 745.0 * 3.6e6 / litres < 0.6
    assert light.air_flow[0] / light.fuel_flow[0] == pytest.approx(14.5, abs=0.3)  # lambda 1
    assert light.fuel_flow[1] > 2 * light.fuel_flow[0]


def test_more_friction_and_a_faster_idle_take_more_fuel() -> None:
    usual = light_loads(solver(), 100e3, 298.15, IDLE)
    fast = light_loads(solver(), 100e3, 298.15, 1.3 * IDLE)
    assert fast.fuel_flow[0] > 1.15 * usual.fuel_flow[0]
    assert fast.fuel_flow[1] == pytest.approx(usual.fuel_flow[1])


def test_a_load_that_no_pressure_carries_is_said() -> None:
    stiff = solver(factors=ModelFactors(friction=15.0))
    with pytest.raises(NotConverged, match="idle"):
        light_loads(stiff, 100e3, 298.15, IDLE)

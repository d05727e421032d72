"""Blow-by along an operating line: the settled points as by themselves, nothing at the others."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from boostwright.findings.blow_by_case import blow_by_along
from boostwright.systems.engine.baseline import baseline
from boostwright.systems.engine.blow_by import blow_by_flow
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import Fuel, OperatingPoints
from tests.findings.test_subjects import build

RPM = np.pi / 30.0
SPEEDS = np.array([2000.0, 4000.0, 6000.0]) * RPM


@pytest.mark.parametrize("lost", [0, 2])
def test_a_point_that_did_not_settle_has_no_blow_by(lost: int) -> None:
    solver = CycleSolver(four_valve_two_litre(), Fuel())
    one = np.ones(3)
    spark = np.radians([-15.0, -20.0, -25.0])
    whole = OperatingPoints(SPEEDS, 150e3 * one, 310.0 * one, 170e3 * one, 0.85 * one, spark)
    settled = np.arange(3) != lost
    torn = OperatingPoints(
        SPEEDS, 150e3 * one, 310.0 * one, 170e3 * one, 0.85 * one, np.where(settled, spark, np.nan)
    )
    line: Any = SimpleNamespace(speed=SPEEDS, settled=settled, points=torn)
    day: Any = SimpleNamespace(ambient=SimpleNamespace(pressure=100e3))
    base = baseline(solver, SPEEDS, 100e3, 298.0, 0.88)
    found = blow_by_along(
        build(rest='[breather]\nhose_bore = "18 mm"\n'), solver, base, {"a day": (line, day)}
    )
    assert found is not None
    flow = found.along["a day"]
    assert np.isnan(flow[lost])
    assert flow[settled] == pytest.approx(blow_by_flow(solver, whole, 100e3)[settled], rel=1e-9)


def test_an_engine_without_a_spark_at_the_reading_has_no_blow_by_before() -> None:
    solver = CycleSolver(four_valve_two_litre(), Fuel())
    one = np.ones(3)
    nothing = OperatingPoints(SPEEDS, 98e3 * one, 300.0 * one, 105e3 * one, 0.88 * one, np.nan * one)
    base: Any = SimpleNamespace(speeds=SPEEDS, points=nothing, ambient_pressure=100e3)
    found = blow_by_along(build(rest='[breather]\nhose_bore = "18 mm"\n'), solver, base, {})
    assert found is not None
    assert np.isnan(found.before)

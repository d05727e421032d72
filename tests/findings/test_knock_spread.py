"""How far the knock integral is off, and by what the computed spark is off in a draw."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boostwright.findings.form import Form
from boostwright.systems.engine.types import ModelFactors
from tests.labels import check
from tests.systems.engine.cases import at, solver

RPM = math.pi / 30.0


@check("limit", note="level and tilt: the ends of the speeds, the middle, and no farther out than the ends")
def test_a_spark_is_off_by_level_and_tilt() -> None:
    form = Form(spark_level=0.02, spark_tilt=-0.05)
    top = 6000.0 * RPM
    speeds = np.array([500.0, 1000.0, 3500.0, 6000.0, 7000.0]) * RPM
    assert form.spark_off(speeds, top) == pytest.approx([0.07, 0.07, 0.02, -0.03, -0.03])
    assert not Form().spark_off(speeds, top).any()


@check("limit", note="hotter end gas than where knock was set knocks more, cooler less; all else stays")
def test_knock_grows_with_heat_as_told() -> None:
    usual = solver().run(at(np.array([2000.0, 6000.0]), 98.0))
    warm = solver(factors=ModelFactors(knock_warmth=0.3)).run(at(np.array([2000.0, 6000.0]), 98.0))
    ratio = warm.knock_a / usual.knock_a
    hot = usual.peak_unburned_temperature > 830.0
    assert hot.any()
    assert ((ratio > 1.0) == hot).all()
    assert np.log(ratio) == pytest.approx(
        0.3 * np.log(usual.peak_unburned_temperature / 830.0) / math.log(1.1)
    )
    assert warm.torque == pytest.approx(usual.torque)

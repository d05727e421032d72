"""The pressure sensor: transfer, resolution, range."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.pressure_sensor import (
    Transfer,
    lambda_when_clipped,
    pressure_of_signal,
    required_full_scale,
    resolution,
    seen_pressure,
    signal_of_pressure,
)
from tests.labels import check

PART = Transfer(20e3, 250e3, 0.40, 4.65)


@check("limit", id="M1", note="104 + 80 (1 + 0.15) = 196 kPa absolute; arithmetic")
def test_required_full_scale() -> None:
    assert float(required_full_scale(104e3, 80e3, 0.15)) == pytest.approx(196e3)


@check(
    "limit", id="M2", note="20 to 250 kPa over 0.40 to 4.65 V, ten bits of 5 V: 0.2645 kPa a count; printed"
)
def test_resolution() -> None:
    assert float(resolution(PART)) == pytest.approx(264.5, abs=0.05)
    assert float(resolution(PART, bits=12)) == pytest.approx(264.5 * 1023 / 4095, abs=0.05)


@given(st.floats(20e3, 250e3))
def test_signal_and_pressure_are_inverse_inside(p: float) -> None:
    assert float(pressure_of_signal(PART, signal_of_pressure(PART, p))) == pytest.approx(p, rel=1e-9)


@given(st.floats(0, 500e3))
def test_beyond_its_ends_the_signal_stands_still(p: float) -> None:
    assert 20e3 <= float(seen_pressure(PART, p)) <= 250e3
    assert 0.40 - 1e-12 <= float(signal_of_pressure(PART, p)) <= 4.65 + 1e-12


@check("limit", note="fuel for 105 kPa, air of 160 kPa: lambda by their ratio")
def test_a_clipped_sensor_leans_the_mixture() -> None:
    seen = seen_pressure(Transfer(10e3, 105e3), np.array([90e3, 160e3]))
    assert lambda_when_clipped(0.80, np.array([90e3, 160e3]), seen) == pytest.approx([0.80, 0.80 * 160 / 105])


@check("common practice", note="a naturally aspirated car's sensor ends between 1.05 and 1.7 bar absolute")
def test_a_three_bar_sensor_leaves_room_at_ten_psi_and_a_stock_one_may_not() -> None:
    needed = float(required_full_scale(104e3, 10 * 6894.757, 0.15))
    assert needed < 300e3 * 0.7  # ample room
    assert needed > 170e3  # not even the longest stock range

"""Exponential, logarithm and power of the lanes against the C library's."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.kernels.lanes import fast_exp, fast_log, near_power


@given(st.floats(-690.0, 690.0))
def test_the_exponential(x: float) -> None:
    assert fast_exp(x) == pytest.approx(math.exp(x), rel=1e-14, abs=0.0)


@given(st.floats(1e-300, 1e300))
def test_the_logarithm(x: float) -> None:
    assert abs(fast_log(x) - math.log(x)) <= 1e-15 * max(1.0, abs(math.log(x)))


@given(st.floats(0.52, 1.0), st.floats(0.55, 0.9))
def test_the_power_of_a_pressure_ratio(x: float, n: float) -> None:
    assert near_power(x, n) == pytest.approx(x**n, rel=1e-13, abs=0.0)

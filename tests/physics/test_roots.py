"""Bracketed roots of many independent points."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import elementwise

from boostwright.physics.roots import bracketed_root
from tests.labels import check

CASES = (
    lambda x, c: x**3 - c,
    lambda x, c: np.exp(x) - 1 - c,
    lambda x, c: np.tanh(20 * (x - 0.3 * c)),
    lambda x, c: np.where(x < c / 3, -1.0, 1.0),  # a step: only bisection gets there
    lambda x, c: np.sign(x - c / 3) * np.abs(x - c / 3) ** 0.3,
)


@check("reference library", source="SciPy", note="elementwise.find_root; both to 1e-11")
def test_against_the_library() -> None:
    c = np.linspace(0.1, 2.0, 40)
    for f in CASES:
        left, right = np.zeros(c.size), np.full(c.size, 2.0)
        ours = bracketed_root(lambda x, f=f: f(x, c), left, right)
        theirs = elementwise.find_root(f, (left, right), args=(c,), tolerances={"xrtol": 1e-12})
        assert ours.closed.all()
        np.testing.assert_allclose(ours.x, theirs.x, rtol=3e-11)


@check("limit", note="x^3 = c to the tolerance asked for, whatever the bracket")
@settings(max_examples=60, deadline=None)
@given(c=st.floats(1e-3, 1e3), low=st.floats(0, 0.9), high=st.floats(1.1, 50))
def test_cube_root(c: float, low: float, high: float) -> None:
    root = c ** (1 / 3)
    found = bracketed_root(lambda x: x**3 - c, np.array([low * root]), np.array([high * root]))
    assert found.closed.all()
    np.testing.assert_allclose(found.x, root, rtol=2e-11)


def test_what_cannot_be_closed_says_so() -> None:
    left, right = np.array([0.0, 0.0, 0.0]), np.array([1.0, 1.0, 1.0])
    shift = np.array([0.5, 2.0, np.nan])
    found = bracketed_root(lambda x: x - shift, left, right)
    assert found.closed.tolist() == [True, False, False]
    early = bracketed_root(lambda x: np.cos(x) - x, left[:1], right[:1], max_steps=2)
    assert not early.closed.any()


def test_roots_at_the_ends() -> None:
    found = bracketed_root(lambda x: x - np.array([0.0, 1.0]), np.zeros(2), np.ones(2))
    assert found.closed.all()
    assert found.x.tolist() == [0.0, 1.0]

"""Working hours as one count: two ways to place work agree, and a slow search by minutes with both."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.planning.problem import Window
from boostwright.planning.schedule.hours import Hours, joined, repeated, shared
from boostwright.planning.schedule.solver import _elongations

CUTS = st.lists(st.integers(0, 120), min_size=2, max_size=12, unique=True).map(sorted)


def windows(cuts: list[int]) -> tuple[Window, ...]:
    return tuple(Window(float(a), float(b)) for a, b in zip(cuts[::2], cuts[1::2], strict=False))


def by_minutes(hours: Hours, t: int, d: int) -> tuple[float, float]:
    """The first start at which whole minutes of work lie in one block, looked for one by one."""
    open_at = [any(w.start <= m < w.end for w in hours.windows) for m in range(400)]
    for start in range(t, 400):
        if not open_at[start]:
            continue
        m, left, rest = start, d, 0
        while m < 400 and left > 0:
            if open_at[m]:
                left, rest = left - 1, 0
            else:
                rest += 1
                if rest > hours.bridge:
                    break
            m += 1
        if left == 0:
            return float(start), float(m)
    return math.inf, math.inf


@given(CUTS, st.integers(0, 130), st.integers(1, 60), st.sampled_from([0.0, 3.0, math.inf]))
@settings(max_examples=200, deadline=None)
def test_work_is_placed_where_a_slow_search_finds_it(cuts: list[int], t: int, d: int, bridge: float) -> None:
    hours = Hours(windows(cuts), bridge=bridge)
    one = hours.fit(t, d)
    both = tuple(float(x) for x in hours.place(t, d))
    assert one == pytest.approx(both)
    expected = by_minutes(hours, t, d)
    if math.isfinite(expected[1]):
        assert one == pytest.approx(expected)
    strict = Hours(windows(cuts), bridge=bridge, over=False)
    assert strict.fit(t, d) == pytest.approx(expected)
    assert tuple(float(x) for x in strict.place(t, d)) == pytest.approx(expected)


@given(CUTS, st.floats(0, 130), st.floats(0, 60), st.floats(0, 20), st.sampled_from([0.0, 3.0, math.inf]))
@settings(max_examples=300, deadline=None)
def test_later_or_longer_never_ends_sooner(
    cuts: list[int], t: float, d: float, more: float, bridge: float
) -> None:
    hours = Hours(windows(cuts), bridge=bridge)
    end = hours.place(t, d)[1]
    assert hours.place(t + more, d)[1] >= end - 1e-5
    assert hours.place(t, d + more)[1] >= end - 1e-5


@given(CUTS, st.integers(1, 40), st.sampled_from([0.0, 3.0, math.inf]))
@settings(max_examples=100, deadline=None)
def test_the_starts_that_the_search_may_choose_are_those_that_fit(
    cuts: list[int], d: int, bridge: float
) -> None:
    hours = Hours(windows(cuts), bridge=bridge, over=False)
    if hours.longest < d:
        return
    allowed = {
        t: extra
        for extra, spans in _elongations(hours, d, 0, 140, 10_000).items()
        for a, b in spans
        for t in range(a, b + 1)
    }
    for t in range(141):
        start, end = hours.fit(t, d)
        assert (t in allowed) == (start == t)
        if t in allowed:
            assert allowed[t] == end - t - d


def test_windows_are_joined_shared_and_repeated() -> None:
    some = joined([Window(5.0, 9.0), Window(0.0, 2.0), Window(2.0, 3.0), Window(4.0, 4.0)])
    assert some == (Window(0.0, 3.0), Window(5.0, 9.0))
    assert shared(some, (Window(1.0, 6.0),)) == (Window(1.0, 3.0), Window(5.0, 6.0))
    assert repeated((Window(0.0, 1.0),), 2, period=10.0) == (Window(0, 1), Window(10, 11), Window(20, 21))


def test_pieces_rest_over_the_breaks() -> None:
    hours = Hours((Window(0.0, 4.0), Window(6.0, 9.0)), bridge=math.inf)
    start, end = hours.fit(3.0, 2.0)
    assert (start, end) == (3.0, 7.0)
    assert hours.pieces(start, end) == (Window(3.0, 4.0), Window(6.0, 7.0))
    assert np.array_equal(hours.worked([0.0, 5.0, 7.0, 99.0]), [0.0, 4.0, 5.0, 7.0])

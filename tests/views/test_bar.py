"""The margin bar, as geometry and in characters."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from boostwright.findings.model import Amount, Kind, Sense
from boostwright.views.bar import margin_bar, text_bar
from tests.sample import finding

KINDS = st.sampled_from([Kind.SHARE, Kind.TEMPERATURE, Kind.PRESSURE, Kind.CRANK_ANGLE])
NUMBER = st.floats(-1e4, 1e4).map(lambda x: round(x, 4))
SPREAD = st.floats(0.0, 1e3).map(lambda x: round(x, 4))
WIDTH = st.integers(20, 90)
SENSES = st.sampled_from(list(Sense))


@given(NUMBER, SPREAD, NUMBER, SPREAD, KINDS, SENSES, WIDTH)
def test_both_sides_are_on_the_scale(
    d: float, sd_d: float, c: float, sd_c: float, kind: Kind, sense: Sense, width: int
) -> None:
    bar = margin_bar(finding(demand=Amount(d, sd_d, kind), capacity=Amount(c, sd_c, kind), sense=sense))
    assert bar is not None
    assert bar.low < bar.high
    assert bar.demand is not None
    assert bar.capacity is not None
    for value, sd in (bar.demand, bar.capacity):
        for edge in (value - 2 * sd, value, value + 2 * sd):
            assert bar.low <= max(edge, 0.0 if bar.low == 0.0 else edge) <= bar.high
        assert bar.low <= value
    lines = text_bar(bar, width)
    assert all(len(line) == width for line in lines[:2])
    assert lines[0].count("┃") == 1
    assert "█" in lines[1]


@given(NUMBER, SPREAD, NUMBER, SPREAD, WIDTH)
def test_the_order_on_the_scale_is_the_order_of_the_values(
    d: float, sd_d: float, c: float, sd_c: float, width: int
) -> None:
    bar = margin_bar(finding(demand=Amount(d, sd_d, Kind.RATIO), capacity=Amount(c, sd_c, Kind.RATIO)))
    assert bar is not None
    assert (bar.place(d) <= bar.place(c)) == (d <= c) or bar.place(d) == bar.place(c)
    demand, capacity, _ = text_bar(bar, width)
    tick = demand.index("┃")
    if d < c:
        assert tick <= capacity.rindex("█")
    if d > c:
        assert tick >= capacity.index("█")


@given(NUMBER, st.floats(0.5, 100.0), SENSES, WIDTH)
def test_forbidden_ground_is_on_the_wrong_side_only(c: float, sd: float, sense: Sense, width: int) -> None:
    bar = margin_bar(
        finding(demand=Amount(c, 3 * sd, Kind.RATIO), capacity=Amount(c, sd, Kind.RATIO), sense=sense)
    )
    assert bar is not None
    _, capacity, _ = text_bar(bar, width)
    middle = capacity.index("█")
    safe = capacity[:middle] if sense is Sense.AT_MOST else capacity[middle:]
    assert "╱" not in safe


def test_a_bar_with_one_side_and_with_none() -> None:
    one = margin_bar(finding(capacity=None))
    assert one is not None
    demand, capacity, _ = text_bar(one, 40)
    assert "┃" in demand
    assert set(capacity) == {"·"}
    assert margin_bar(finding(demand=None, capacity=None)) is None

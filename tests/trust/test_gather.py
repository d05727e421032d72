"""From draws to odds and chances: toys whose answers are known exactly."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import special

from boostwright.findings.model import Finding
from boostwright.trust.draw import Draw, Side
from boostwright.trust.gather import bands_of, chance_of, odds_of
from tests.labels import check
from tests.sample import findings

N = 512
NETS = np.arange(N) % 8


def side(
    room: float, demand_sd: float = 0.0, capacity_sd: float = 0.0, limit: str = "a", corner: str = ""
) -> Side:
    return Side(10.0 - room, demand_sd, 10.0, capacity_sd, room, limit, corner, math.nan)


def named(*codes: str) -> list[Finding]:
    return [replace(findings()[0], code=code) for code in codes]


@check("limit", note="a normal room: the mean of Phi(room/left) is Phi(mean/whole spread)")
def test_what_was_not_drawn_is_counted_exactly() -> None:
    z = special.ndtri((np.arange(N) + 0.5) / N)
    draws = [Draw({"x": side(1.0 + 0.6 * float(v), 0.5, 0.62449980)}) for v in z]
    found = odds_of(draws, NETS)["x"]
    assert found.odds.probability == pytest.approx(float(special.ndtr(1.0)), abs=1e-3)
    assert found.demand_sd == pytest.approx(math.hypot(0.6, 0.5), rel=5e-3)
    assert found.demand[1] == pytest.approx(9.0, abs=0.02)
    assert found.demand[2] - found.demand[0] == pytest.approx(2 * 1.6449 * math.hypot(0.6, 0.5), rel=0.02)


@check("limit", note="the same limit: as likely as one; limits of their own: the product")
def test_a_shared_limit_is_shared_and_own_ones_are_not() -> None:
    one = float(special.ndtr(0.8))
    alike = [Draw({"x": side(0.8, 0.0, 1.0, "a"), "y": side(0.8, 0.0, 1.0, "a")})] * N
    apart = [Draw({"x": side(0.8, 0.0, 1.0, "a"), "y": side(0.8, 0.0, 1.0, "b")})] * N
    both = chance_of("", alike, NETS, named("x", "y"), (), 1).odds.probability
    each = chance_of("", apart, NETS, named("x", "y"), (), 1).odds.probability
    # the same inner draws serve every draw here: 64 of them
    assert both == pytest.approx(one, abs=3 * math.sqrt(one * (1 - one) / 64))
    assert each == pytest.approx(one**2, abs=3 * math.sqrt(one**2 * (1 - one**2) / 64))
    assert each < both


@check("limit", note="rooms that follow one unknown to opposite sides: never both")
def test_the_whole_is_not_a_product() -> None:
    z = special.ndtri((np.arange(N) + 0.5) / N)
    draws = [Draw({"x": side(float(v) + 0.2), "y": side(0.2 - float(v))}) for v in z]
    chance = chance_of("", draws, NETS, named("x", "y"), (), 1).odds.probability
    assert chance == pytest.approx(float(special.ndtr(0.2) - special.ndtr(-0.2)), abs=0.005)
    product = np.prod([odds_of(draws, NETS)[c].odds.probability for c in ("x", "y")])
    assert product > 2.0 * chance


def test_a_finding_told_in_fewer_than_half_of_the_draws_has_no_odds() -> None:
    draws = [Draw({"x": side(1.0)} if i % 3 == 0 else {"y": side(1.0)}) for i in range(N)]
    found = odds_of(draws, NETS)
    assert set(found) == {"y"}
    assert found["y"].told == pytest.approx(2 / 3, abs=0.01)


def test_corners_are_counted() -> None:
    draws = [Draw({"x": side(1.0, corner="cold" if i % 4 else "hot")}) for i in range(N)]
    assert odds_of(draws, NETS)["x"].corners == {"cold": 0.75, "hot": 0.25}


def test_bands_leave_out_what_no_draw_gave_and_curves_that_changed_their_length() -> None:
    rng = np.random.default_rng(1)
    draws = [
        Draw(curves={"a": np.array([rng.normal(), np.nan]), "b": np.zeros(3 if i else 4)}) for i in range(400)
    ]
    bands = bands_of(draws)
    assert set(bands) == {"a"}
    assert bands["a"].low[0] == pytest.approx(-1.645, abs=0.25)
    assert np.isnan(bands["a"].high[1])
    assert bands["a"].told == pytest.approx([1.0, 0.0])

"""What a list costs: the moments of the sum in closed form, its quantiles, budget, what to order first."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from boostwright import verbs
from boostwright.planning.parts import Group, Lead, Line, PartsList, State, money, order_first, parts_for
from boostwright.planning.parts.money import moments, sample_sum
from boostwright.planning.parts.records import Band, band_of
from boostwright.readers.build_file import read_build
from tests.labels import check
from tests.planning.parts.complete import plan

SOUND = verbs.demo_build("sound")
TODAY = date(2025, 5, 1)


def line(key: str, band: Band, **more: object) -> Line:
    return Line(key, Group.PART, key, cost=band, **more)  # type: ignore[arg-type]


@check(
    "reference library", id="Y14", source="SciPy", note="lognorm through the same 10 and 90 % points; 1e-9"
)
def test_a_band_is_a_lognormal_through_its_two_points() -> None:
    band = Band(40.0, 180.0, "")
    law = stats.lognorm(band.log_sd, scale=band.middle)
    assert law.ppf([0.1, 0.9]) == pytest.approx([40.0, 180.0], rel=1e-9)
    assert band.mean == pytest.approx(law.mean(), rel=1e-12)


@check(
    "reference library",
    id="Y15",
    source="SciPy",
    note="mean and standard deviation of lognorm; independent sums add",
)
def test_moments_of_a_sum() -> None:
    bands = [Band(40.0, 180.0, ""), Band(5.0, 20.0, ""), Band(250.0, 1100.0, "")]
    laws = [stats.lognorm(band.log_sd, scale=band.middle) for band in bands]
    mean, sd = moments(bands, 0.0)
    assert mean == pytest.approx(sum(law.mean() for law in laws), rel=1e-12)
    assert sd == pytest.approx(math.sqrt(sum(law.var() for law in laws)), rel=1e-12)
    assert moments(bands[:1] * 4, 1.0)[1] == pytest.approx(4.0 * laws[0].std(), rel=1e-12)
    assert moments([], 0.3) == (0.0, 0.0)


@check("limit", id="Y16", note="200 000 draws against the closed moments; four sampling errors")
def test_draws_of_a_sum_have_its_moments() -> None:
    bands = [Band(40.0, 180.0, ""), Band(5.0, 20.0, ""), Band(90.0, 320.0, "")]
    for correlation in (0.0, 0.3, 1.0):
        drawn = sample_sum(bands, correlation, 200_000, 3)
        mean, sd = moments(bands, correlation)
        assert drawn.mean() == pytest.approx(mean, abs=4.0 * sd / math.sqrt(200_000))
        assert drawn.std() == pytest.approx(sd, rel=0.03)


@check(
    "limit",
    id="Y17",
    note="prices that move as one: the points of the sum are the sums of the points; sampling 1 %",
)
def test_prices_that_move_as_one_add_up_point_by_point() -> None:
    bands = [Band(40.0, 180.0, ""), Band(5.0, 20.0, ""), Band(90.0, 320.0, "")]
    drawn = sample_sum(bands, 1.0, 200_000, 1)
    assert np.quantile(drawn, [0.1, 0.9]) == pytest.approx([135.0, 520.0], rel=0.01)


@given(st.floats(0.01, 1e5), st.floats(0.0, 0.3))
def test_a_known_price_lies_in_its_band(value: float, share: float) -> None:
    band = band_of(value, share * value, "a bill")
    assert band.low <= value * (1.0 + 1e-12)
    assert band.high >= value * (1.0 - 1e-12)
    assert band.middle == pytest.approx(value)


def test_what_is_there_is_not_paid_again_and_what_is_not_needed_costs_nothing() -> None:
    paid = band_of(100.0, 0.0, "paid")
    parts = PartsList(
        (
            line("a", paid, state=State.HAVE),
            line("b", paid, state=State.MISSING),
            line("c", paid, state=State.NOT_NEEDED),
            line("d", band_of(7.0, 0.0, ""), state=State.MISSING, needed=False),
        )
    )
    found = money(SOUND, parts)
    assert found.total.middle == pytest.approx(207.0)
    assert found.left.middle == pytest.approx(107.0)
    assert (found.parts.mean, found.spares.mean) == (pytest.approx(200.0), pytest.approx(7.0))


def test_drivers_add_up_and_the_budget_is_compared() -> None:
    found = money(SOUND, parts_for(SOUND, plan()))
    assert sum(driver.of_cost for driver in found.drivers) == pytest.approx(1.0)
    assert sum(driver.of_spread for driver in found.drivers) == pytest.approx(1.0)
    assert found.budget == 3900.0
    assert found.reserve == 450.0
    assert found.over is not None
    assert 0.0 <= found.over[1] <= found.over[0] <= 1.0
    assert found.total.low < found.total.middle < found.total.high


def test_a_budget_in_other_money_is_not_compared() -> None:
    found = money(verbs.demo_build("highland"), parts_for(verbs.demo_build("highland")))
    assert found.over is None
    assert "USD" in found.why_not
    bare = read_build(
        b'[build]\nname = "x"\n[goal]\nboost = "0.5 bar"\n'
        b'[engine]\ncylinders = 4\nbore = "86 mm"\nstroke = "86 mm"\n'
    )
    assert "states no budget" in money(bare, parts_for(bare)).why_not


@check(
    "limit",
    id="Y18",
    note="10 % of lead times are longer: median 10 days, sigma 0.45: 17.8 days, by SciPy's lognorm",
)
def test_what_to_order_first() -> None:
    slow = line("slow", Band(1.0, 2.0, ""), lead=Lead(10.0, 0.45, ""))
    quick = line("quick", Band(1.0, 2.0, ""), lead=Lead(0.5, 0.45, ""))
    there = line("there", Band(1.0, 2.0, ""), lead=Lead(50.0, 0.45, ""), state=State.HAVE)
    due = order_first(PartsList((quick, slow, there)), TODAY + timedelta(15), TODAY)
    assert [one.key for one in due] == ["slow", "quick"]
    wanted = math.ceil(stats.lognorm(0.45, scale=10.0).ppf(0.9))
    assert due[0].days == wanted == 18
    assert due[0].late
    assert due[0].by == TODAY + timedelta(15 - 18)
    assert not due[1].late

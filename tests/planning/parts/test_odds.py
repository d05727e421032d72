"""The odds that something is missing: closed forms, limits, another library, and the draws."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from boostwright.library.supplies import odds
from boostwright.planning.parts import Group, Lead, Line, PartsList, State, missing_odds, sample_missing
from boostwright.planning.parts.odds import any_of, any_together, late_odds
from tests.labels import check

TODAY = date(2025, 5, 1)
DAY = date(2025, 5, 31)


def line(key: str, state: State = State.HAVE, tasks: tuple[str, ...] = ("a.task",), **more: object) -> Line:
    return Line(key, Group.SEAL, key, state=state, tasks=tasks, **more)  # type: ignore[arg-type]


@check("limit", id="Y5", note="1 - (1 - p)^n: 120 lines at 1 and 2 %, ten studs at 5 %; to the printed digit")
def test_at_least_one_of_many() -> None:
    assert any_of([0.01] * 120) == pytest.approx(0.70, abs=0.005)
    assert any_of([0.02] * 120) == pytest.approx(0.91, abs=0.005)
    assert any_of([0.05] * 10) == pytest.approx(0.40, abs=0.005)
    assert any_of([0.01] * 120) == pytest.approx(1.0 - 0.99**120, rel=1e-12)


@check("limit", id="Y6", note="without correlation independent, with all of it the likeliest line alone")
def test_lines_that_hang_together_between_their_limits() -> None:
    each = [0.002, 0.015, 0.3, 0.0, 0.07]
    assert any_together(each, 0.0) == pytest.approx(any_of(each), rel=1e-12)
    assert any_together(each, 1e-9) == pytest.approx(any_of(each), rel=1e-4)
    assert any_together(each, 1.0) == 0.3
    assert any_together(each, 0.9999) == pytest.approx(0.3, abs=0.005)
    assert any_together([], 0.5) == any_together([0.0], 0.5) == 0.0
    assert any_together([0.2, 1.0], 0.5) == 1.0


@check(
    "reference library",
    id="Y7",
    source="SciPy",
    note="multivariate_normal.cdf of the same edges and correlation; its own error is 1e-5",
)
@pytest.mark.parametrize("correlation", [0.1, 0.5, 0.8, 0.95])
def test_one_common_factor_against_the_whole_distribution(correlation: float) -> None:
    each = [0.015, 0.1, 0.4, 0.25]
    edges = stats.norm.ppf(1.0 - np.array(each))
    cov = np.full((4, 4), correlation) + (1.0 - correlation) * np.eye(4)
    none = stats.multivariate_normal(np.zeros(4), cov).cdf(edges)
    assert any_together(each, correlation) == pytest.approx(1.0 - none, abs=3e-5)


@check(
    "reference library", id="Y8", source="SciPy", note="bivariate normal, two lines of 1.5 %; absolute 1e-7"
)
def test_two_lines_against_the_bivariate_normal() -> None:
    edge = stats.norm.ppf(0.985)
    none = stats.multivariate_normal([0.0, 0.0], [[1.0, 0.5], [0.5, 1.0]]).cdf([edge, edge])
    assert any_together([0.015, 0.015], 0.5) == pytest.approx(1.0 - none, abs=1e-7)


shares = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40)


@settings(max_examples=200, deadline=None)
@given(shares, st.floats(0.0, 0.9), st.floats(0.0, 0.9))
def test_hanging_together_lowers_the_odds_and_never_below_the_likeliest(
    each: list[float], one: float, other: float
) -> None:
    weaker, stronger = any_together(each, min(one, other)), any_together(each, max(one, other))
    assert 0.0 <= stronger <= weaker + 1e-7 <= any_of(each) + 2e-7
    assert stronger >= max(each) - 1e-7


# ---------------------------------------------------------------------------------------------- lateness


@check("reference library", id="Y9", source="SciPy", note="lognorm.sf with the same median and sigma; 1e-12")
def test_late_odds_of_what_is_ordered_today() -> None:
    for days in (1, 3, 5, 9, 30):
        ordered = line("x", State.ORDERED, lead=Lead(5.0, 0.45, ""), ordered_on=TODAY)
        wanted = stats.lognorm(0.45, scale=5.0).sf(days)
        assert late_odds(ordered, TODAY + timedelta(days), TODAY) == pytest.approx(wanted, rel=1e-9)


@check("limit", id="Y10", note="what has not come in t days: P(L > t + s) / P(L > t), by SciPy's lognorm")
def test_late_odds_of_what_should_have_come() -> None:
    law = stats.lognorm(0.45, scale=5.0)
    ordered = line("x", State.ORDERED, lead=Lead(5.0, 0.45, ""), ordered_on=TODAY - timedelta(8))
    wanted = law.sf(11) / law.sf(8)
    assert late_odds(ordered, TODAY + timedelta(3), TODAY) == pytest.approx(wanted, rel=1e-9)
    assert wanted > law.sf(11)


@check(
    "limit",
    id="Y11",
    note="there: never late; needed today and not there: late for certain; fixed lead: a step",
)
def test_late_odds_at_their_ends() -> None:
    assert late_odds(line("x"), TODAY, TODAY) == 0.0
    assert late_odds(line("x", State.MISSING), TODAY, TODAY) == 1.0
    assert late_odds(line("x", State.MISSING), TODAY - timedelta(2), TODAY) == 1.0
    sure = line("x", State.MISSING, lead=Lead(5.0, 0.0, ""))
    assert [late_odds(sure, TODAY + timedelta(d), TODAY) for d in (4, 5, 6)] == [1.0, 0.0, 0.0]
    assert late_odds(line("x", State.MISSING, lead=Lead(0.0, 0.4, "")), TODAY, TODAY) == 0.0


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.1, 40.0))
def test_a_later_day_is_never_worse(one: int, other: int, lead: float) -> None:
    ordered = line("x", State.ORDERED, lead=Lead(lead, 0.45, ""), ordered_on=TODAY - timedelta(3))
    early, late = sorted((one, other))
    at = [late_odds(ordered, TODAY + timedelta(days), TODAY) for days in (early, late)]
    assert 0.0 <= at[1] <= at[0] <= 1.0


# ------------------------------------------------------------------------------------------- whole lists


def some_parts() -> PartsList:
    lines = [line(f"have.{n}", tried=n % 3 == 0, seller="one") for n in range(30)]
    lines += [line(f"own.{n}", tasks=("b.task",), where="shop") for n in range(20)]
    lines += [
        line(
            f"post.{n}", State.ORDERED, ("c.task",), lead=Lead(14.0, 0.45, ""), ordered_on=TODAY, seller="two"
        )
        for n in range(6)
    ]
    lines.append(line("lot", State.MISSING, ("a.task", "c.task"), lead=Lead(20.0, 0.45, "")))
    lines.append(line("spare", State.MISSING, needed=False))
    lines.append(line("without", State.NOT_NEEDED))
    return PartsList(tuple(lines))


def test_spares_and_what_is_not_needed_do_not_count() -> None:
    keys = {one.key for one in missing_odds(some_parts(), DAY, TODAY).lines}
    assert not keys & {"spare", "without"}
    assert len(keys) == 57


def test_without_a_day_nothing_is_late() -> None:
    found = missing_odds(some_parts())
    assert found.day is None
    assert all(one.late == 0.0 for one in found.lines)
    known = odds()
    wanted = any_of([known.tried] * 10 + [known.untried] * 47)
    assert found.independent == pytest.approx(wanted, rel=1e-12)
    assert found.unordered == 1


@check(
    "limit",
    id="Y12",
    note="20 000 draws against the quadrature and against the closed form; four sampling errors",
)
@pytest.mark.parametrize("correlation", [None, 0.0])
def test_the_draws_agree_with_the_odds(correlation: float | None) -> None:
    parts, count = some_parts(), 20_000
    found = missing_odds(parts, DAY, TODAY)
    drawn = sample_missing(parts, count, 7, day=DAY, today=TODAY, correlation=correlation)
    wanted = found.together if correlation is None else found.independent
    error = np.sqrt(wanted * (1.0 - wanted) / count)
    assert np.mean(drawn.missing > 0) == pytest.approx(wanted, abs=4.0 * error)
    spread = np.std(drawn.missing) / np.sqrt(count)
    assert np.mean(drawn.missing) == pytest.approx(found.expected, abs=4.0 * spread)
    assert np.mean(drawn.wait > 0.0, axis=0) == pytest.approx(
        [_any(parts, task, found, correlation) for task in drawn.tasks], abs=4.0 * 0.5 / np.sqrt(count)
    )


def _any(parts: PartsList, task: str, found: object, correlation: float | None) -> float:
    kept = PartsList(tuple(one for one in parts.lines if task in one.tasks))
    of_task = missing_odds(kept, DAY, TODAY)
    return of_task.together if correlation is None else of_task.independent


@check(
    "limit",
    id="Y13",
    note="waits of one late line against the lognormal beyond the day; four sampling errors",
)
def test_how_long_a_late_line_makes_its_task_wait() -> None:
    law, days = stats.lognorm(0.45, scale=40.0), 30
    one = line("x", State.ORDERED, lead=Lead(40.0, 0.45, ""), ordered_on=TODAY, tried=True)
    drawn = sample_missing(PartsList((one,)), 40_000, 3, day=TODAY + timedelta(days), today=TODAY)
    wait = drawn.wait[:, 0] / 86400.0
    for beyond in (0.5, 10.0, 30.0):
        wanted = 1.0 - (1.0 - law.sf(days + beyond)) * (1.0 - odds().tried * law.sf(beyond))
        assert np.mean(wait > beyond) == pytest.approx(wanted, abs=4.0 * 0.5 / np.sqrt(40_000))


def test_the_same_seed_draws_the_same_and_another_not() -> None:
    parts = some_parts()
    once, again, other = (sample_missing(parts, 200, seed, day=DAY, today=TODAY) for seed in (5, 5, 6))
    assert np.array_equal(once.wait, again.wait)
    assert not np.array_equal(once.wait, other.wait)
    assert once.wait.shape == (200, 3)
    assert once.tasks == ("a.task", "b.task", "c.task")
    with pytest.raises(ValueError, match="0 samples"):
        sample_missing(parts, 0, 1)


def test_a_list_with_nothing_on_it_is_never_short() -> None:
    empty = PartsList(())
    assert missing_odds(empty, DAY, TODAY).together == 0.0
    assert sample_missing(empty, 10, 1).wait.shape == (10, 0)

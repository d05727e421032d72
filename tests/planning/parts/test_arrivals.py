"""When each line is there: against the closed forms of its lead time, of late and of wrong, and in step."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from boostwright.library.supplies import odds
from boostwright.planning.parts import (
    Group,
    Lead,
    Line,
    PartsList,
    State,
    arrivals,
    missing_odds,
    needed_on,
    order_first,
)
from tests.labels import check

TODAY = date(2025, 5, 1)
COUNT = 40_000
DAY = 86400.0


def line(key: str, state: State = State.MISSING, **more: object) -> Line:
    given: dict[str, object] = {"tasks": ("a.task",), "lead": Lead(20.0, 0.45, ""), "tried": True}
    return Line(key, Group.PART, key, state=state, **(given | more))  # type: ignore[arg-type]


@check(
    "reference library",
    source="SciPy",
    note="lognorm.cdf of the lead time at 5 to 60 days; four sampling errors of 40 000 draws, and the 0.2 %"
    " that are wrong",
)
@pytest.mark.parametrize("gone", [0, 15])
def test_a_line_comes_by_its_lead_time(gone: int) -> None:
    law = stats.lognorm(0.45, scale=20.0)
    one = line("x", State.ORDERED, ordered_on=TODAY - timedelta(gone))
    drawn = arrivals(PartsList((one,)), COUNT, 5, today=TODAY, needed={"x": TODAY + timedelta(30)})
    days = drawn.at[:, 0] / DAY
    for day in (5.0, 15.0, 29.9, 60.0):
        wanted = (law.cdf(gone + day) - law.cdf(gone)) / law.sf(gone)
        assert np.mean(days <= day) == pytest.approx(wanted, abs=4.0 * 0.5 / np.sqrt(COUNT) + 0.002)
    assert drawn.needed == pytest.approx([30 * DAY])
    late = missing_odds(PartsList((one,)), TODAY + timedelta(30), TODAY).lines[0].missing
    assert np.mean(drawn.wait[:, 0] > 0.0) == pytest.approx(late, abs=4.0 * 0.5 / np.sqrt(COUNT))


@check(
    "limit",
    note="with correlation 1 all lines of one order and one lead time come at one moment, with 0 their ranks"
    " have no correlation (four sampling errors); another order is never in step",
)
def test_lines_of_one_order_come_together() -> None:
    lines = [line(key, State.ORDERED, ordered_on=TODAY, seller="one") for key in "ab"]
    lines.append(line("c", State.ORDERED, ordered_on=TODAY, seller="other"))
    needed = dict.fromkeys("abc", TODAY + timedelta(10))

    def ranks(correlation: float | None, a: int, b: int) -> float:
        at = arrivals(
            PartsList(tuple(lines)), COUNT, 3, today=TODAY, needed=needed, correlation=correlation
        ).at
        fine = (at < 300 * DAY).all(axis=1)
        return float(stats.spearmanr(at[fine, a], at[fine, b]).statistic)

    noise = 4.0 / np.sqrt(COUNT)
    assert ranks(0.0, 0, 1) == pytest.approx(0.0, abs=noise)
    assert ranks(0.5, 0, 2) == pytest.approx(0.0, abs=noise)
    assert ranks(1.0, 0, 1) > 0.98  # a few are wrong and come anew
    # Spearman's rank correlation of two normals with correlation r is 6/pi asin(r/2)
    assert ranks(0.5, 0, 1) == pytest.approx(6.0 / np.pi * np.arcsin(0.25), abs=0.02)


def test_what_is_wrong_is_found_when_it_is_needed_and_got_anew() -> None:
    here = line("x", State.HAVE, tried=False)
    drawn = arrivals(PartsList((here,)), COUNT, 9, today=TODAY, needed={"x": TODAY + timedelta(12)})
    wrong = drawn.at[:, 0] > 0.0
    share = odds().untried
    assert np.mean(wrong) == pytest.approx(share, abs=4.0 * np.sqrt(share / COUNT))
    assert drawn.at[wrong, 0].min() > 12 * DAY
    again = drawn.wait[wrong, 0] / DAY
    assert np.median(again) == pytest.approx(20.0, rel=4.0 * 1.2533 * 0.45 / np.sqrt(wrong.sum()))


def test_days_states_and_one_more_sample_leave_the_draws_alone() -> None:
    lines = tuple(line(key, tried=False) for key in "abc")
    days = dict.fromkeys("abc", TODAY + timedelta(9))
    first = arrivals(PartsList(lines), 500, 4, today=TODAY, needed=days)
    again = arrivals(PartsList(lines), 500, 4, today=TODAY, needed=days)
    assert np.array_equal(first.at, again.at)
    have = dataclasses.replace(lines[1], state=State.HAVE)
    other = arrivals(PartsList((lines[0], have, lines[2])), 500, 4, today=TODAY, needed=days)
    assert np.array_equal(first.at[:, [0, 2]], other.at[:, [0, 2]]), "what is said of one line moves no other"
    assert (other.at[:, 1] <= first.at[:, 1]).all()
    assert not np.array_equal(first.at, arrivals(PartsList(lines), 500, 5, today=TODAY, needed=days).at)
    with pytest.raises(ValueError, match="0 samples"):
        arrivals(PartsList(lines), 0, 1)
    assert arrivals(PartsList(()), 7, 1).at.shape == (7, 0)


def test_a_day_that_has_gone_by_counts_as_today() -> None:
    here = line("x", State.HAVE)
    drawn = arrivals(PartsList((here,)), 1000, 1, today=TODAY, needed={"x": TODAY - timedelta(3)})
    assert np.median(drawn.wait) == 0.0


def test_each_line_has_the_day_of_its_first_task_and_is_ordered_before_it() -> None:
    lines = (
        line("a", tasks=("late", "soon")), line("b", tasks=("late",)), line("c", tasks=()),
        line("d", State.HAVE, tasks=("soon",)),
    )  # fmt: skip
    soon, late = TODAY + timedelta(20), TODAY + timedelta(80)
    parts = PartsList(lines)
    needed = needed_on(parts, {"soon": soon, "late": late})
    assert needed == {"a": soon, "b": late, "d": soon}
    due = order_first(parts, None, TODAY, needed)
    assert [one.key for one in due] == ["a", "b"], (
        "what is there needs no order, and what no task needs no day"
    )
    a, b = due
    # 90 % point of a lognormal about 20 days: 20 exp(1.2816 0.45) = 35.6, so 36 whole days
    assert (a.needed, a.days, a.by, a.late) == (soon, 36, soon - timedelta(36), True)
    assert (b.needed, b.by, b.late) == (late, late - timedelta(36), False)
    assert a.odds == pytest.approx(stats.lognorm(0.45, scale=20.0).sf(20.0), abs=1e-12)
    assert b.odds < 0.1
    assert order_first(parts, TODAY + timedelta(50), TODAY)[0].needed == TODAY + timedelta(50)


def test_the_odds_see_the_day_of_each_line() -> None:
    lines = (line("a", tasks=("soon",)), line("b", tasks=("late",), seller="other"))
    soon, late = TODAY + timedelta(20), TODAY + timedelta(80)
    both = missing_odds(PartsList(lines), None, TODAY, {"a": soon, "b": late})
    one = missing_odds(PartsList(lines), soon, TODAY)
    assert both.planned
    assert not one.planned
    assert both.day == soon
    assert both.lines[0] == one.lines[0]
    assert both.lines[1].late < one.lines[1].late
    assert both.together < one.together

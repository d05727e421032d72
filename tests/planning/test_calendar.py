"""People and hours as windows."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import BuildFileError
from boostwright.planning.calendar import SECOND, Calendar, calendar_for
from boostwright.planning.problem import Window
from tests.planning.small_job import BASE, LISBON, MONDAY, build_with

TWO = """
[[people]]
name = "L"
skill = "home"

[[people]]
name = "H"
skill = "helper"
"""


def plan(text: str = TWO, today: datetime = MONDAY, begun: datetime | None = None) -> Calendar:
    return calendar_for(build_with(text), today, LISBON, begun=begun)


def said(calendar: Calendar, windows: tuple[Window, ...]) -> list[str]:
    return [f"{calendar.moment(w.start):%a %H:%M}-{calendar.moment(w.end):%H:%M}" for w in windows]


def test_a_weekend_and_its_evenings() -> None:
    found = plan(f'{TWO}[hours]\nstart = "Saturday 09:00"\nend = "Sunday 20:00"\nevenings = 2\n')
    assert said(found, found.evenings) == ["Thu 18:30-21:30", "Fri 18:30-21:30"]
    assert said(found, found.days) == [
        "Sat 09:00-12:30", "Sat 13:15-19:30", "Sun 08:00-12:30", "Sun 13:15-19:30",
    ]  # fmt: skip
    assert found.moment(found.end).isoformat() == "2026-12-06T20:00:00+00:00"
    assert [w.name for w in found.workers[:2]] == ["L", "H"]
    assert not found.alone


def test_the_next_saturday_is_the_one_that_has_not_come() -> None:
    assert plan().moment(plan().start).day == 5
    late = plan(today=datetime(2026, 12, 5, 9, tzinfo=UTC))
    assert late.moment(late.start).day == 12


def test_work_that_has_begun_stays_with_its_weekend() -> None:
    for begun in (datetime(2026, 12, 3, 19, tzinfo=UTC), datetime(2026, 12, 6, 10, tzinfo=UTC)):
        found = plan(today=datetime(2026, 12, 6, 15, tzinfo=UTC), begun=begun)
        assert found.moment(found.start).day == 5


def test_nobody_works_longer_than_ten_hours_a_day() -> None:
    found = plan(f'{TWO}[hours]\nday_from = "06:00"\nday_until = "24:00"\nevening_until = "24:00"\n')
    for worker in found.workers:
        worked: dict[object, float] = {}
        for window in worker.windows:
            day = found.moment(window.start).date()
            worked[day] = worked.get(day, 0.0) + window.end - window.start
            assert found.moment(window.end - 1.0).date() == day, "past midnight"
        assert max(worked.values()) <= 10 * 3600.0


def test_a_person_comes_and_goes() -> None:
    text = TWO.replace('"helper"', '"helper"\nfrom = "Saturday 14:00"\nuntil = "Sunday 12:00"')
    found = plan(text)
    helper = next(w for w in found.workers if w.name == "H")
    assert said(found, helper.windows[:2]) == ["Sat 14:00-19:30", "Sun 08:00-12:00"]
    assert said(found, helper.windows[2:4]) == ["Sat 14:00-19:30", "Sun 08:00-12:00"], "a week later again"


def test_alone_a_second_person_is_planned_for() -> None:
    found = plan('[[people]]\nname = "L"\n')
    assert found.alone
    second = next(w for w in found.workers if w.name == SECOND)
    assert "helper" in second.can
    assert "lead" not in second.can


def test_who_welds_needs_no_shop() -> None:
    assert any("welder" in w.can for w in plan().workers if w.name == "machine shop")
    own = plan(TWO.replace('skill = "home"', 'skill = "home"\nwelds = true'))
    assert [w.name for w in own.workers if "welder" in w.can] == ["L"]


def test_a_shop_is_shut_on_sunday_and_on_saturday_afternoon() -> None:
    found = plan()
    shop = next(w for w in found.workers if w.name == "machine shop")
    for window in shop.windows:
        opens, closes = found.moment(window.start), found.moment(window.end)
        assert opens.weekday() != 6
        assert opens.weekday() != 5 or closes.hour <= 12


@pytest.mark.parametrize(
    ("text", "written", "part"),
    [
        ('[hours]\nstart = "Saterday 08:00"\n', "Saterday", "did you mean Saturday"),
        ('[hours]\nend = "2026-12-01 08:00"\n', "2026-12-01", "after hours.start"),
        ('[hours]\nday_until = "25:00"\n', "25:00", "no 25:00"),
        ('[hours]\nevening_until = "18:00"\n', "18:00", "after hours.evening_from"),
        ('[hours]\ntime_zone = "Europe/Lisbonne"\n', "Lisbonne", "Europe/Lisbon"),
        ('[hours]\nstart = "Saturday 21:00"\nend = "Saturday 23:00"\n', "Saturday 23:00", "no working hour"),
        ('[[people]]\nname = "L"\nuntil = "noon"\n', "noon", "no day of the week"),
    ],
)
def test_a_time_that_cannot_be_is_a_fault_with_its_line(text: str, written: str, part: str) -> None:
    with pytest.raises(BuildFileError) as refused:
        plan(text)
    fault = refused.value.faults[0]
    assert part in fault.sentence()
    lines = f"{BASE}\n{text}".splitlines()
    assert written in lines[fault.line - 1]


def hours_of(found: Calendar, name: str) -> list[str]:
    windows = next(w.windows for w in found.workers if w.name == name)
    return [f"{found.moment(w.start):%d %b %H:%M}-{found.moment(w.end):%H:%M}" for w in windows]


def test_who_comes_again_comes_by_the_clock_in_every_later_week() -> None:
    """Lisbon's clocks go back on 25 October 2026 and forward on 28 March 2027."""
    text = TWO.replace('name = "H"', 'name = "H"\nfrom = "Saturday 09:00"\nuntil = "Saturday 18:00"')
    for today in (datetime(2026, 10, 14, tzinfo=UTC), datetime(2027, 3, 17, tzinfo=UTC)):
        found = plan(text, today)
        mine = hours_of(found, "H")
        assert len(mine) == 2 * 11, "the first week and the ten that the plan looks on, one break a day"
        assert {one[7:] for one in mine} == {"09:00-12:30", "13:15-18:00"}


def test_who_stays_for_more_than_a_week_is_counted_once() -> None:
    text = TWO.replace('name = "H"', 'name = "H"\nfrom = "2026-12-05 08:00"\nuntil = "2026-12-20 20:00"')
    found = plan(text)
    assert hours_of(found, "H")[:12] == hours_of(found, "L")[:12]
    windows = found.workers[1].windows
    assert all(a.end <= b.start for a, b in pairwise(windows))


def test_a_day_more_before_begins_by_the_clock() -> None:
    """Monday 26 October 2026, the day after the clocks went back; two days before is a Saturday."""
    text = f'{TWO}[hours]\nstart = "Monday 08:00"\nend = "Tuesday 20:00"\n'
    today = datetime(2026, 10, 20, tzinfo=UTC)
    found = calendar_for(build_with(text), today, LISBON, earlier=2)
    assert said(found, found.days)[0] == "Sat 08:00-12:30"


def test_a_night_of_changed_clocks() -> None:
    found = calendar_for(build_with(TWO), datetime(2026, 10, 20, tzinfo=UTC), LISBON)
    saturday, sunday = found.days[0], found.days[2]
    assert sunday.start - saturday.start == 25 * 3600.0
    assert found.moment(sunday.start).hour == 8


def test_time_that_has_passed_is_gone() -> None:
    found = plan()
    now = found.days[1].start + 3600.0
    later = found.from_now(now)
    assert min(w.start for worker in later.workers for w in worker.windows) >= now
    assert later.days[0] == Window(now, found.days[1].end)


def test_a_person_who_leaves_is_gone() -> None:
    found = plan()
    gone = found.without("H", found.days[1].start)
    helper = next(w for w in gone.workers if w.name == "H")
    assert helper.windows == (found.days[0],)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=30), st.text(max_size=30), st.text(max_size=12))
def test_any_hours_are_planned_or_refused_in_words(start: str, end: str, day: str) -> None:
    quoted = ["".join(c for c in text if c.isprintable() and c not in '"\\') for text in (start, end, day)]
    told, found = (), None
    try:
        build = build_with('[hours]\nstart = "{}"\nend = "{}"\nday_until = "{}"\n'.format(*quoted))
        found = calendar_for(build, MONDAY, LISBON)
    except BuildFileError as refused:
        told = refused.faults
    assert (found is None) == bool(told)
    assert found is None or found.end > found.start


@given(st.integers(0, 400), st.integers(0, 6))
def test_windows_never_overlap_and_rise(days: int, evenings: int) -> None:
    text = f"{TWO}[hours]\nevenings = {evenings}\n"
    found = plan(text, MONDAY + timedelta(days=days))
    for worker in found.workers:
        for before, after in zip(worker.windows, worker.windows[1:], strict=False):
            assert before.start < before.end <= after.start
    assert len(found.evenings) == evenings
    assert all(w.end <= found.start for w in found.evenings)

"""Times as people write them, the clocks of a place, and people's hours."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.planning.moments import (
    DAYS,
    MomentError,
    at_clock,
    read_clock,
    read_moment,
    resolved,
    zone_of,
)
from tests.labels import check

LISBON, BERLIN = ZoneInfo("Europe/Lisbon"), ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    ("text", "weekday", "minute"),
    [("Saturday 08:00", 5, 480), ("sat 8:30", 5, 510), ("  Sunday   20.15 ", 6, 1215), ("Mon, 7h05", 0, 425)],
)
def test_a_weekday_and_a_time(text: str, weekday: int, minute: int) -> None:
    assert read_moment(text) == (read_moment(f"{DAYS[weekday]} {minute // 60:02}:{minute % 60:02}"))
    assert (read_moment(text).weekday, read_moment(text).minute) == (weekday, minute)


def test_a_date_and_a_time() -> None:
    assert read_moment("2026-12-05 08:00") == read_moment("2026-12-05T8:00")
    assert read_moment("2026-12-05 08:00").day == date(2026, 12, 5)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("Saterday 08:00", "did you mean Saturday"),
        ("Saturday", "time of day is missing"),
        ("2026-12-05", "time of day is missing"),
        ("2026-02-30 08:00", "calendar has no"),
        ("Saturday 25:00", "no 25:00"),
        ("Saturday 08:61", "no 08:61"),
        ("S 08:00", "no day of the week"),
        ("", "a day and a time"),
        ("Saturday noon", "hours and minutes"),
    ],
)
def test_what_is_no_time_is_told_why(text: str, part: str) -> None:
    with pytest.raises(MomentError, match=part):
        read_moment(text)


@given(st.text(max_size=80))
def test_any_text_is_a_time_or_is_refused_in_words(text: str) -> None:
    told, found = "", None
    try:
        found = read_moment(text)
    except MomentError as mishap:
        told = str(mishap)
    assert (found is None) == (len(told) > 10)
    assert found is None or (0 <= found.minute <= 1440 and 0 <= found.weekday <= 6)


@given(st.dates(date(1970, 1, 1), date(8999, 12, 31)), st.integers(0, 1439))
def test_a_date_comes_back(day: date, minute: int) -> None:
    found = read_moment(f"{day.isoformat()} {minute // 60:02}:{minute % 60:02}")
    assert (found.day, found.minute, found.weekday) == (day, minute, day.weekday())


@given(st.integers(0, 6), st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(0, 1439))
def test_a_weekday_is_the_next_of_its_name(weekday: int, first: date, minute: int) -> None:
    moment = read_moment(f"{DAYS[weekday]} {minute // 60:02}:{minute % 60:02}")
    found = resolved(moment, first, ZoneInfo("UTC"))
    assert found.weekday() == weekday
    assert timedelta(0) <= found.date() - first < timedelta(days=7)


@check(
    "published",
    source="eu2000_84",
    note="articles 2 and 3: summer time ends at 1 am UTC on the last Sunday of October and begins then on the"
    " last Sunday of March; from memory",
)
def test_a_night_in_which_the_clocks_change_is_as_long_as_it_is() -> None:
    longer = at_clock(date(2026, 10, 25), 480, BERLIN) - at_clock(date(2026, 10, 24), 1200, BERLIN)
    shorter = at_clock(date(2026, 3, 29), 480, BERLIN) - at_clock(date(2026, 3, 28), 1200, BERLIN)
    assert longer == timedelta(hours=13)
    assert shorter == timedelta(hours=11)
    assert at_clock(date(2026, 3, 29), 120, BERLIN) == datetime(2026, 3, 29, 1, tzinfo=UTC)


def test_the_end_of_a_day_is_the_beginning_of_the_next() -> None:
    assert at_clock(date(2026, 12, 5), 1440, LISBON) == at_clock(date(2026, 12, 6), 0, LISBON)
    assert read_clock("24:00") == 1440


def test_a_zone_that_is_none_is_told_the_nearest() -> None:
    with pytest.raises(MomentError, match="Europe/Lisbon"):
        zone_of("Europe/Lisbonne")

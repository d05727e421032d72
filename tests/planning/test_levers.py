"""What would help: own ends, hours that are missing, and nothing that only adds makes it worse."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from boostwright.planning.calendar import calendar_for
from boostwright.planning.levers import Lever, levers_for, short_of
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Effort
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

JOB = small_job()
QUICK = Wishes(samples=1000, seconds=0.0)
ALONE = '[[people]]\nname = "L"\n'
TWO = f'{ALONE}[[people]]\nname = "H"\nskill = "helper"\n'
TIGHT = '[hours]\nend = "Saturday 18:00"\n'
MISSING = (Delay("turbo.on", 0.4, Effort(3600.0, 4 * 3600.0, 9 * 3600.0)),)


def tried(text: str, today: datetime = MONDAY, wishes: Wishes = QUICK) -> tuple[Plan, tuple[Lever, ...]]:
    build = build_with(text)
    made = plan_for(build, JOB, today, LISBON, wishes=wishes, delays=MISSING)
    sure = tuple(delay._replace(odds=0.1) for delay in MISSING)
    return made, levers_for(made, build, JOB, today, LISBON, delays=MISSING, sure=sure)


@pytest.mark.parametrize("people", [ALONE, TWO])
@pytest.mark.parametrize("hours", [TIGHT, f"{TIGHT}evenings = 2\n", '[hours]\nend = "Sunday 20:00"\n'])
def test_what_only_adds_is_never_worse_than_the_plan(people: str, hours: str) -> None:
    _, found = tried(people + hours)
    base = found[0]
    assert len(found) > 5
    for lever in found[1:]:
        if lever.words.startswith("without"):
            continue
        assert lever.chance.probability >= base.chance.probability, lever.words
        assert lever.short <= base.short, lever.words
        assert lever.brings == pytest.approx(base.short - lever.short)


def test_more_of_everything_is_never_worse_than_less_of_it() -> None:
    _, found = tried(ALONE + '[hours]\nend = "Saturday 12:00"\n')
    chain = [
        lever
        for lever in found
        if lever.words.startswith(("every part tried in its place before, ", "all that"))
    ]
    assert len(chain) > 1
    assert [lever.short for lever in chain] == sorted((lever.short for lever in chain), reverse=True)
    chances = [lever.chance.probability for lever in chain]
    assert chances == sorted(chances)


def test_without_its_evenings_it_is_no_better() -> None:
    _, found = tried(f"{TWO}{TIGHT}evenings = 3\n")
    without = next(lever for lever in found if lever.words == "without the evenings")
    assert without.short >= found[0].short


def test_every_lever_has_an_end_of_its_own() -> None:
    """On a Monday noon five evenings are left before a Saturday, so that six need another week."""
    made, found = tried(TWO + TIGHT)
    ends = {lever.words: lever.end for lever in found}
    assert ends["as it stands"] == made.calendar.moment(made.calendar.end)
    assert ends["a whole day more before"] == ends["as it stands"]
    late = ends["6 evenings before, the car driven by day, a week later"]
    assert late is not None
    assert (late - made.calendar.moment(made.calendar.end)).days == 7


def test_days_before_the_start_are_counted_to_the_hour() -> None:
    """Sunday noon before: six evenings fit; the plan with none begins at its own midnight, far ahead."""
    _, found = tried(TWO + TIGHT, datetime(2026, 11, 29, 12, tzinfo=UTC))
    assert "6 evenings before, the car driven by day" in {lever.words for lever in found}


def test_a_date_that_stands_is_not_put_off() -> None:
    text = f'{TWO}[hours]\nstart = "2026-12-01 08:00"\nend = "2026-12-01 18:00"\n'
    _, found = tried(text)
    assert not any("later" in lever.words or "6 evenings" in lever.words for lever in found)


@check("limit", note="working hours between two moments, added up by hand from the hours of the days")
def test_missing_hours_are_working_hours() -> None:
    calendar = calendar_for(build_with('[hours]\nend = "Saturday 18:00"\n'), MONDAY, LISBON)
    end = calendar.end
    assert short_of(calendar, end) == 0.0
    assert short_of(calendar, end - 2 * 3600.0) == -2 * 3600.0
    first = min(w.start for w in calendar.after)
    assert short_of(calendar, first) <= 1.5 * 3600.0, "at most what is left of the Saturday"
    evening = next(w for w in calendar.after if calendar.moment(w.start).weekday() == 0)
    later = next(w for w in calendar.after if calendar.moment(w.start).weekday() == 1)
    got = short_of(calendar, later.start + 3600.0) - short_of(calendar, evening.start)
    assert got == evening.end - evening.start + 3600.0
    assert short_of(calendar, float("inf")) == float("inf")


def test_a_day_off_before_is_not_a_day_off_in_every_later_week() -> None:
    build = build_with('[hours]\nend = "Saturday 18:00"\n')
    usual, more = (calendar_for(build, MONDAY, LISBON, earlier=days) for days in (0, 1))
    assert len(more.days) > len(usual.days)
    shift = (usual.zero - more.zero).total_seconds()
    assert [w.start - shift for w in more.after] == [w.start for w in usual.after]

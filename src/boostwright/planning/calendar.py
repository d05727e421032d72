"""People and hours of a build as windows of time: who is there when, from the evenings before to weeks after.

Seconds count from the calendar's zero, a moment in UTC. Nothing here looks at a clock: `today` comes in.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from boostwright.build.document import Build, Row
from boostwright.build.faults import Fault
from boostwright.errors import BuildFileError, OutOfRange
from boostwright.library.working_hours import working_hours
from boostwright.planning.moments import (
    Moment,
    MomentError,
    at_clock,
    read_clock,
    read_moment,
    resolved,
    zone_of,
)
from boostwright.planning.problem import Window, Worker
from boostwright.planning.schedule.hours import joined

__all__ = ["SECOND", "Calendar", "Person", "calendar_for", "cut", "hands_of", "overlap"]

SECOND = "second person"
"""The name of the one who is not there yet, where a person works alone."""

DAY = 86400.0


@dataclass(frozen=True, slots=True)
class Person:
    """Who works on it. comes, goes: texts as in the build file, '' where always there."""

    name: str
    skill: str = "home"
    comes: str = ""
    goes: str = ""
    welds: bool = False
    line: int = 0


@dataclass(frozen=True, slots=True)
class Calendar:
    """The time at hand. All times are seconds from `zero`.

    start, end: of the work, as the build states them. evenings: those before the start. days: the working
    hours between start and end. workers: people with their windows, the shop among them. after: the windows
    past the end that the plan assumes. alone: nobody can give the lead a hand. notes: what was taken for
    granted. light: when there is light enough for the road.
    """

    zero: datetime
    zone: ZoneInfo
    start: float
    end: float
    workers: tuple[Worker, ...]
    evenings: tuple[Window, ...]
    days: tuple[Window, ...]
    after: tuple[Window, ...]
    people: tuple[Person, ...]
    alone: bool = False
    notes: tuple[str, ...] = ()
    places: tuple[tuple[str, int], ...] = ()
    light: tuple[Window, ...] = ()

    def seconds(self, moment: datetime) -> float:
        """Seconds from zero of a moment that knows its zone [s]."""
        return (moment - self.zero).total_seconds()

    def moment(self, seconds: float) -> datetime:
        """The wall-clock time at the place. Raises OverflowError far outside any plan."""
        return (self.zero + timedelta(seconds=seconds)).astimezone(self.zone)

    def from_now(self, now: float) -> Calendar:
        """The same with nothing left of the time before `now` [s]."""
        return dataclasses.replace(
            self,
            workers=tuple(dataclasses.replace(w, windows=cut(w.windows, now)) for w in self.workers),
            evenings=cut(self.evenings, now),
            days=cut(self.days, now),
            after=cut(self.after, now),
        )

    def without(self, name: str, since: float) -> Calendar:
        """The same with one person gone for good from a moment on [s]."""
        return dataclasses.replace(
            self,
            workers=tuple(
                dataclasses.replace(w, windows=tuple(overlap(w.windows, (Window(0.0, since),))))
                if w.name == name
                else w
                for w in self.workers
            ),
        )


def hands_of(calendar: Calendar) -> tuple[Worker, ...]:
    """Who works at the car and has hours left there; not the second person, whom nobody has named."""
    return tuple(w for w in calendar.workers if w.name != SECOND and w.can & {"lead", "helper"} and w.windows)


def cut(windows: Iterable[Window], now: float) -> tuple[Window, ...]:
    """What is left of some windows from `now` on."""
    return tuple(Window(max(w.start, now), w.end) for w in windows if w.end > now)


def overlap(one: Sequence[Window], other: Sequence[Window]) -> list[Window]:
    """Where two rows of windows coincide, in order."""
    found = []
    for a in one:
        for b in other:
            low, high = max(a.start, b.start), min(a.end, b.end)
            if high > low:
                found.append(Window(low, high))
    return sorted(found)


class _Reader:
    """Texts of the build file as moments; a text that is none is a fault with its line."""

    def __init__(self, build: Build) -> None:
        self.build = build
        self.faults: list[Fault] = []

    def text(self, path: str, otherwise: str) -> str:
        found = self.build.get(path)
        return otherwise if found is None else str(found.value)

    def line(self, path: str) -> int:
        found = self.build.get(path)
        return 1 if found is None or found.line is None else found.line

    def wrong(self, path: str, line: int, text: str, mishap: MomentError) -> None:
        why = str(mishap)
        self.faults.append(Fault("time", line, path, f'"{text}"', "", why, "Write it anew, then plan again."))

    def late(self, why: str, asked: str) -> None:
        """The end cannot be: one that was asked for is no fault of the file. Raises OutOfRange for that."""
        if asked:
            raise OutOfRange(f"The end '{asked}' cannot be planned for: {why}.")
        self.wrong("hours.end", self.line("hours.end"), self.text("hours.end", ""), MomentError(why))

    def moment(self, path: str, text: str, line: int | None = None) -> Moment | None:
        try:
            return read_moment(text)
        except MomentError as mishap:
            self.wrong(path, self.line(path) if line is None else line, text, mishap)
            return None

    def clock(self, path: str, otherwise: str) -> int:
        text = self.text(path, otherwise)
        try:
            return read_clock(text)
        except MomentError as mishap:
            self.wrong(path, self.line(path), text, mishap)
            return 0

    def stop(self) -> None:
        if self.faults:
            raise BuildFileError("the times of this build cannot be planned with", tuple(self.faults))


def people_of(build: Build) -> tuple[Person, ...]:
    """The people of the build; one who works alone where it names none."""
    people: list[Person] = []
    for row in build.table("people"):
        timed = [row[key] for key in ("until", "from") if key in row]
        line = next((v.line for v in (*timed, *row.values()) if v.line), 1)
        people.append(
            Person(
                _word(row, "name", f"person {len(people) + 1}"),
                _word(row, "skill", "home"),
                _word(row, "from", ""),
                _word(row, "until", ""),
                bool(row["welds"].value) if "welds" in row else False,
                line,
            )
        )
    return tuple(people) or (Person("you"),)


def _word(row: Row, key: str, otherwise: str) -> str:
    return str(row[key].value) if key in row else otherwise


def calendar_for(
    build: Build,
    today: datetime,
    zone: ZoneInfo,
    *,
    begun: datetime | None = None,
    people: Sequence[Person] | None = None,
    evenings: int | None = None,
    end: str = "",
    earlier: int = 0,
) -> Calendar:
    """The time at hand for one build.

    today: this moment; where the build names a weekday only, the work starts on the next of that name that
    has not come yet. zone: of the computer, where the build states none. begun: when the first work was
    recorded; the plan then stays with that weekend. people, evenings, end: instead of those of the build.
    earlier: whole days by which the work starts earlier. Raises BuildFileError with a fault for every time
    that cannot be read or that contradicts another, OutOfRange for an
    `end` that does.
    """
    table, read = working_hours(), _Reader(build)
    notes: list[str] = []
    zone_name = read.text("hours.time_zone", "")
    if zone_name:
        try:
            zone = zone_of(zone_name)
        except MomentError as mishap:
            read.wrong("hours.time_zone", read.line("hours.time_zone"), zone_name, mishap)
    start_at = read.moment("hours.start", read.text("hours.start", table.start))
    end_at = read.moment("hours.end", end or read.text("hours.end", table.end))
    day_from, day_until = read.clock("hours.day_from", "08:00"), read.clock("hours.day_until", "20:00")
    late_from = read.clock("hours.evening_from", "18:30")
    late_until = read.clock("hours.evening_until", "21:30")
    road_from, road_until = (
        read.clock(path, build.words(path)) for path in ("hours.road_from", "hours.road_until")
    )
    pause_at = read.clock("hours.pause_at", "12:30")
    pause = build.number("hours.pause") / 60.0
    spans = (
        ("day", day_from, day_until),
        ("evening", late_from, late_until),
        ("road", road_from, road_until),
    )
    for path, low, high in spans:
        if high <= low:
            read.wrong(
                f"hours.{path}_until", read.line(f"hours.{path}_until"), read.text(f"hours.{path}_until", ""),
                MomentError(f"it must come after hours.{path}_from; nothing is done past midnight"),
            )  # fmt: skip
    read.stop()
    assert start_at is not None
    assert end_at is not None
    start, finish = _span(start_at, end_at, today, begun, zone, read, end)
    start = _days_on(start, zone, -earlier)
    count = evenings if evenings is not None else _evenings(build, notes)
    for path, usual in (("hours.start", table.start), ("hours.end", table.end)):
        if not build.is_stated(path) and not (path == "hours.end" and end):
            notes.append(f"{path} is not stated; '{usual}' is assumed.")
    last = start.astimezone(zone).date()
    zero = at_clock(last - timedelta(days=count), 0, zone)
    hours = _Hours(zone, zero, (day_from, day_until), (late_from, late_until), (pause_at, pause))
    span = Window((start - zero).total_seconds(), (finish - zero).total_seconds())
    before = [hours.evening(last - timedelta(days=k)) for k in range(count, 0, -1)]
    days = overlap(
        [w for day in _dates(last, finish.astimezone(zone).date()) for w in hours.day(day)], [span]
    )
    if not days:
        read.late("between start and end there is no working hour", end)
        read.stop()
    stated = span.start + earlier * DAY - 3600.0  # a day more before is one day off and not one of every week
    after = hours.afterwards(finish, [w for w in days if w.start >= stated] or days, table.after_weeks)
    whole = [*before, *days, *after]
    everyone = tuple(people) if people is not None else people_of(build)
    if not build.table("people") and people is None:
        notes.append("[people] is not stated; one person who has worked on own cars is assumed.")
    workers = [
        Worker(
            p.name, table.acts_as[p.skill], _presence(p, whole, span, zero, zone, read, table.hands_on_most)
        )
        for p in everyone
    ]
    read.stop()
    workers, alone = _completed(workers, everyone, whole, hours, notes, table.hands_on_most)
    at_the_car = build.count("hours.at_the_car")
    places = {**table.places, "bay": at_the_car, "lift": at_the_car if build.flag("hours.lift") else 1}
    return Calendar(
        zero, zone, span.start, span.end, tuple(workers), tuple(before), tuple(days), tuple(after), everyone,
        alone, tuple(notes), tuple(sorted(places.items())),
        hours.daylight(max(w.end for w in whole), (road_from, road_until)),
    )  # fmt: skip


def _days_on(moment: datetime, zone: ZoneInfo, days: int) -> datetime:
    """The same time of day by the clocks of the place, some days on."""
    return (moment.astimezone(zone) + timedelta(days=days)).astimezone(UTC)  # adds wall-clock time


def _dates(first: date, last: date) -> Iterable[date]:
    return (first + timedelta(days=k) for k in range((last - first).days + 1))


def _evenings(build: Build, notes: list[str]) -> int:
    if build.is_stated("hours.evenings"):
        return build.count("hours.evenings")
    usual = working_hours().evenings
    notes.append(f"hours.evenings is not stated; {usual} free evenings before the start are assumed.")
    return usual


def _span(
    start_at: Moment,
    end_at: Moment,
    today: datetime,
    begun: datetime | None,
    zone: ZoneInfo,
    read: _Reader,
    asked: str = "",
) -> tuple[datetime, datetime]:
    """Start and end of the work. Without a record of work the start still lies ahead."""
    first = (begun or today).astimezone(zone).date()
    if begun is not None and start_at.day is None:
        first -= timedelta(days=6)
    while True:
        start = resolved(start_at, first, zone)
        finish = resolved(end_at, start.astimezone(zone).date(), zone)
        if finish <= start and end_at.day is None:
            finish = resolved(end_at, start.astimezone(zone).date() + timedelta(days=1), zone)
        missed = start < today if begun is None else finish < begun
        if not missed or start_at.day is not None or end_at.day is not None:
            break
        first = start.astimezone(zone).date() + timedelta(days=1)
    at = start.astimezone(zone)
    if finish <= start:
        read.late(f"it must come after hours.start, {at:%A} {at.day} {at:%B %Y} {at:%H:%M}", asked)
    if (finish - start) > timedelta(days=60):
        read.late(
            f"more than 60 days after hours.start, {at:%A} {at.day} {at:%B %Y} {at:%H:%M}, is another kind of"
            " plan",
            asked,
        )
    read.stop()
    return start, finish


@dataclass(frozen=True, slots=True)
class _Hours:
    """Working hours of the place, as minutes of a day."""

    zone: ZoneInfo
    zero: datetime
    whole: tuple[int, int]
    late: tuple[int, int]
    pause: tuple[int, float]

    def _window(self, day: date, low: float, high: float) -> Window:
        low_at, high_at = at_clock(day, round(low), self.zone), at_clock(day, round(high), self.zone)
        return Window((low_at - self.zero).total_seconds(), (high_at - self.zero).total_seconds())

    def evening(self, day: date) -> Window:
        return self._window(day, *self.late)

    def day(self, day: date) -> list[Window]:
        """The windows of a whole day: before and after the midday break; the last leaves time to close up."""
        low, high = self.whole
        high = max(low + 1, high - round(working_hours().close_down / 60.0))
        at, length = self.pause
        if length <= 0.0 or not low < at < high:
            return [self._window(day, low, high)]
        pieces = [self._window(day, low, at)]
        return [*pieces, self._window(day, at + length, high)] if at + length < high else pieces

    def afterwards(self, finish: datetime, days: Sequence[Window], weeks: int) -> list[Window]:
        """Past the end: evenings of the week, and the same days of the week as before the end."""
        first = finish.astimezone(self.zone).date()
        moments = [(self.zero + timedelta(seconds=w.start)).astimezone(self.zone) for w in days]
        busy = {m.weekday() for m in moments} or {5, 6}
        end = (finish - self.zero).total_seconds()
        found: list[Window] = []
        for day in _dates(first, first + timedelta(weeks=weeks)):
            found += self.day(day) if day.weekday() in busy else [self.evening(day)]
        return list(cut(found, end))

    def daylight(self, last: float, light: tuple[int, int]) -> tuple[Window, ...]:
        """When there is light enough for the road, from zero on [s]."""
        first = self.zero.astimezone(self.zone).date()
        days = _dates(first, first + timedelta(days=int(last / DAY) + 1))
        return tuple(self._window(day, *light) for day in days)

    def shop(self, last: float) -> tuple[Window, ...]:
        """Opening hours of the machine shop from zero on [s]."""
        shop, found = working_hours().shop, list[Window]()
        first = self.zero.astimezone(self.zone).date()
        for day in _dates(first, first + timedelta(days=int(last / DAY) + 1)):
            hours = {5: shop.saturday, 6: ()}.get(day.weekday(), shop.week)
            found += [self._window(day, read_clock(a), read_clock(b)) for a, b in hours]
        return tuple(found)


def _presence(
    person: Person,
    whole: Sequence[Window],
    span: Window,
    zero: datetime,
    zone: ZoneInfo,
    read: _Reader,
    most: float,
) -> tuple[Window, ...]:
    """When one person is there: the working hours between coming and going, in each later week again."""
    if not person.comes and not person.goes:
        return _capped(whole, zero, zone, most)
    start = zero + timedelta(seconds=span.start)
    first = start.astimezone(zone).date()
    comes = read.moment("people.from", person.comes, person.line) if person.comes else None
    goes = read.moment("people.until", person.goes, person.line) if person.goes else None
    low, high = 0.0, span.end + 1e9
    if comes is not None:
        at = resolved(comes, first, zone)
        if comes.day is None and at > zero + timedelta(seconds=span.end):
            at = resolved(comes, first - timedelta(days=7), zone)
        low = (at - zero).total_seconds()
    if goes is not None:
        since = max(first, (zero + timedelta(seconds=low)).astimezone(zone).date())
        high = (resolved(goes, since, zone) - zero).total_seconds()
        if high <= low:
            mishap = MomentError("the person goes before having come")
            read.wrong("people.until", person.line, person.goes, mishap)
            return ()
    if goes is None:
        return _capped(overlap(whole, [Window(low, high)]), zero, zone, most)
    came, went = (zero + timedelta(seconds=t) for t in (max(low, span.start), high))
    weeks = 1 + int(max(w.end for w in whole) / (7 * DAY))
    again = [
        Window(*((_days_on(at, zone, 7 * k) - zero).total_seconds() for at in (came, went)))
        for k in range(1, weeks + 1)
    ]
    return _capped(overlap(whole, joined([Window(low, high), *again])), zero, zone, most)


def _capped(windows: Iterable[Window], zero: datetime, zone: ZoneInfo, most: float) -> tuple[Window, ...]:
    """The same with no day longer than `most` [s] of hands-on work; what is too late on a day falls away."""
    worked: dict[date, float] = {}
    found = []
    for window in sorted(windows):
        day = (zero + timedelta(seconds=window.start)).astimezone(zone).date()
        left = most - worked.get(day, 0.0)
        length = min(left, window.end - window.start)
        if length > 0.0:
            found.append(Window(window.start, window.start + length))
            worked[day] = worked.get(day, 0.0) + length
    return tuple(found)


def _completed(
    workers: Sequence[Worker],
    people: Sequence[Person],
    whole: Sequence[Window],
    hours: _Hours,
    notes: list[str],
    most: float,
) -> tuple[list[Worker], bool]:
    """The workers with a welder among them, and with a second person where someone works alone."""
    names: dict[str, int] = {}
    made: list[Worker] = []
    for worker, person in zip(workers, people, strict=True):
        names[worker.name] = names.get(worker.name, 0) + 1
        name = worker.name if names[worker.name] == 1 else f"{worker.name} {names[worker.name]}"
        can = worker.can | {"welder"} if person.welds else worker.can
        made.append(Worker(name, frozenset(can), worker.windows))
    if not any("welder" in w.can for w in made):
        last = max((w.end for w in whole), default=0.0)
        made.append(Worker(working_hours().shop.name, frozenset({"welder"}), hours.shop(last)))
        notes.append("Nobody of the build welds: welding waits for a machine shop's opening hours.")
    hands = [w for w in made if "lead" in w.can or "helper" in w.can]
    alone = len(hands) == 1
    if alone:
        windows = _capped(whole, hours.zero, hours.zone, most)
        made.append(Worker(SECOND, frozenset({"helper", "observer"}), windows))
    return made, alone

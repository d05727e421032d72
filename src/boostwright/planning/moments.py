"""Times as people write them ('Saturday 08:00', '2026-12-05 08:00') and as the plan counts them.

Wall-clock times are read in the time zone of the place and turned into UTC at once, so that a night in which
the clocks change is as long as it is.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from boostwright.build.document import Build
from boostwright.quantity import nearest

__all__ = [
    "DAYS",
    "Moment",
    "MomentError",
    "at_clock",
    "local_zone",
    "read_clock",
    "read_moment",
    "resolved",
    "stated_zone",
    "zone_of",
]

DAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
FORMS: Final = "'Saturday 08:00' or '2026-12-05 08:00'"
_DATED = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]+(.+))?")
_CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})", re.IGNORECASE)
_LONGEST = 60
_LAST_YEAR = 9000


class MomentError(ValueError):
    """A text is no time; the message says why and what can stand there."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A time of a day. day: the date, or None where only a weekday is named. weekday: 0 is Monday.
    minute: of the day, 0 to 1440.
    """

    day: date | None
    weekday: int
    minute: int


def read_clock(text: str) -> int:
    """The minute of the day of '08:00', '8.30' or '24:00', 0 to 1440. Raises MomentError."""
    found = _CLOCK.fullmatch(text.strip()[:_LONGEST]) if text.isascii() else None
    if found is None:
        raise MomentError("a time of day is needed: hours and minutes like '08:00'")
    hours, minutes = int(found[1]), int(found[2])
    if hours > 24 or minutes > 59 or (hours == 24 and minutes):
        raise MomentError(f"a day has no {hours:02}:{minutes:02}; from 00:00 to 24:00")
    return 60 * hours + minutes


def read_moment(text: str) -> Moment:
    """A weekday or a date, with a time of day. Raises MomentError."""
    written = " ".join(text.split())
    if not written or len(written) > _LONGEST or not written.isascii():
        raise MomentError(f"a day and a time are needed: {FORMS}")
    dated = _DATED.fullmatch(written)
    if dated is not None:
        try:
            day = date(int(dated[1]), int(dated[2]), int(dated[3]))
        except ValueError:
            raise MomentError(f"the calendar has no {dated[1]}-{dated[2]}-{dated[3]}") from None
        if day.year > _LAST_YEAR or day.year < 1970:
            raise MomentError("the year must lie between 1970 and 9000")
        if dated[4] is None:
            raise MomentError(f"the time of day is missing: {FORMS}")
        return Moment(day, day.weekday(), read_clock(dated[4]))
    word, _, clock = written.partition(" ")
    weekday = _weekday(word.strip(",."))
    if not clock:
        raise MomentError(f"the time of day is missing: {FORMS}")
    return Moment(None, weekday, read_clock(clock))


def _weekday(word: str) -> int:
    plain = word.casefold()
    if len(plain) >= 2:
        fitting = [i for i, name in enumerate(DAYS) if name.casefold().startswith(plain)]
        if len(fitting) == 1:
            return fitting[0]
    near = nearest(word, DAYS, 1)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise MomentError(f"'{word[:20]}' is no day of the week and no date{hint} Write {FORMS}")


def at_clock(day: date, minute: int, zone: ZoneInfo) -> datetime:
    """The moment in UTC at which the clocks of a place show this minute of this day.

    An hour that the clocks jump over counts as the hour after it; one that comes twice counts the first time.
    """
    midnight = datetime.combine(day, time(), tzinfo=zone)  # adding to it counts wall-clock time
    return (midnight + timedelta(minutes=minute)).astimezone(UTC)


def resolved(moment: Moment, first: date, zone: ZoneInfo) -> datetime:
    """The moment in UTC; a weekday alone is the first of its name on or after the day `first`."""
    day = moment.day
    if day is None:
        day = first + timedelta(days=(moment.weekday - first.weekday()) % 7)
    return at_clock(day, moment.minute, zone)


def zone_of(name: str) -> ZoneInfo:
    """The time zone of that name. Raises MomentError with the nearest names."""
    from zoneinfo import available_timezones

    known = available_timezones()
    if name in known:
        return ZoneInfo(name)
    near = nearest(name, sorted(known), 2)
    hint = f" Near it: {', '.join(near)}." if near else ""
    raise MomentError(f"the time zone database has no '{name[:40]}'.{hint} Write one like 'Europe/Lisbon'")


def local_zone() -> ZoneInfo:
    """The computer's own time zone; UTC where it does not say."""
    wanted = os.environ.get("TZ", "").lstrip(":")
    if not wanted:
        link = Path("/etc/localtime")
        target = str(link.resolve()) if link.exists() else ""
        wanted = target.partition("/zoneinfo/")[2]
    try:
        return zone_of(wanted) if wanted else ZoneInfo("UTC")
    except MomentError:
        return ZoneInfo("UTC")


def stated_zone(build: Build) -> ZoneInfo | None:
    """The time zone of the build's place; None where its file states none, or none that there is."""
    stated = build.get("hours.time_zone")
    try:
        return None if stated is None else zone_of(str(stated.value))
    except MomentError:
        return None

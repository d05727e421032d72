"""When something was read or done, as a person writes it: '2025-04-12 09:40'."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo

from boostwright.errors import ReadingError

__all__ = ["read_moment"]

_HOW = (
    "Write it like 2025-04-12 or '2025-04-12 09:40'; without a zone it is the time of hours.time_zone in the"
    " build file, else this computer's own."
)
_AHEAD = timedelta(minutes=5)  # by which two clocks may differ (judgement)


def read_moment(text: str, latest: datetime | None = None, zone: tzinfo | None = None) -> str:
    """The moment in UTC, ISO 8601 with milliseconds. A day alone is its noon.

    zone: of a moment that names none; None for this computer's own. latest: the present moment; something
    later by more than five minutes has not
    happened. Raises ReadingError.
    """
    plain = text.strip()
    try:
        if len(plain) == 10:
            moment = datetime.fromisoformat(plain).replace(hour=12)
        else:
            moment = datetime.fromisoformat(plain)
        if moment.tzinfo is None and zone is not None:
            moment = moment.replace(tzinfo=zone)
        moment = moment.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        raise ReadingError(f"'{plain[:40]}' is no moment.", _HOW) from None
    present = latest or datetime.now(UTC)
    if len(plain) == 10 and present < moment <= present + timedelta(hours=12):
        moment = present  # today, before noon
    if moment > present + _AHEAD:
        raise ReadingError(f"'{plain}' has not come yet.", "Write when it was read.")
    if moment.year < 1980:
        raise ReadingError(f"'{plain}' is before any such car.", _HOW)
    return moment.isoformat(timespec="milliseconds")

"""Moments of records, kept in UTC, as the clock on the wall of the build's place shows them."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo

__all__ = ["said_moment", "zone_words"]


def said_moment(time: str, zone: tzinfo | None = None, named: bool = True) -> str:
    """'2025-04-12 09:40 CEST' from a moment in UTC, ISO 8601.

    zone: of the place; None for UTC. named: whether the zone is said. What is no moment is said as it stands.
    """
    try:
        moment = datetime.fromisoformat(time)
    except ValueError:
        return time[:16]
    moment = (moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)).astimezone(zone or UTC)
    return f"{moment:%Y-%m-%d %H:%M}" + (f" {moment:%Z}" if named else "")


def zone_words(zone: tzinfo | None) -> str:
    """What stands over a list of moments: 'times are those of Europe/Berlin'."""
    return "times are UTC" if zone is None else f"times are those of {zone}"

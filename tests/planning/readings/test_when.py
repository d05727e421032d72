"""Moments of readings: nothing that has not come yet."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from boostwright.errors import ReadingError
from boostwright.planning.readings.when import read_moment

NOW = datetime(2025, 4, 12, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize("text", ["2025-04-12 08:06+00:00", "2025-04-12 20:00+00:00", "2025-04-14"])
def test_more_than_five_minutes_ahead_has_not_come(text: str) -> None:
    with pytest.raises(ReadingError, match="has not come yet"):
        read_moment(text, NOW)


def test_two_clocks_may_differ_a_little() -> None:
    assert read_moment("2025-04-12 08:04+00:00", NOW) == "2025-04-12T08:04:00.000+00:00"


def test_today_before_noon_is_now() -> None:
    assert read_moment("2025-04-12", NOW) <= "2025-04-12T08:00:00.000+00:00"

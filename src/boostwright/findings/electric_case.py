"""What the findings on battery and cables share: the coldest morning that the file names."""

from __future__ import annotations

from boostwright.findings.case import Case
from boostwright.systems.stated.place import corners_of

__all__ = ["coldest"]


def coldest(case: Case) -> tuple[float, str]:
    """Temperature of the coldest of all days [K], and its name: what a battery wakes up to."""
    days = [(case.ambient_temperature, case.corner)]
    days += [(corner.ambient.temperature, corner.name) for corner in corners_of(case.build)]
    return min(days)

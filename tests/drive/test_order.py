"""The order of what was noticed: what ends an engine within seconds stands before what may later."""

from __future__ import annotations

from boostwright.drive.records import Notice, Reading
from boostwright.drive.review import worst_first
from boostwright.views.drive_page import _together


def noticed(kind: str, start: float, end: float, ratio: float, fault: bool = True) -> Notice:
    size = Reading("by", 1.0, 0.1, "ratio")
    return Notice(kind, fault, start, end, int(start), int(end), size, ratio, ())


def test_lean_at_full_boost_stands_before_an_oil_dip_that_is_further_out() -> None:
    dip = noticed("oil-pressure-dip", 5.0, 6.0, 40.0)
    lean = noticed("lambda-at-its-lean-end", 20.0, 23.0, 5.0)
    sensor = noticed("sensor-frozen", 1.0, 2.0, 90.0)
    assert sorted([sensor, dip, lean], key=worst_first) == [lean, dip, sensor]


def test_one_moment_is_told_as_one_and_two_moments_are_not() -> None:
    lean = [noticed("lambda-at-its-lean-end", 20.0, 23.0, 5.0)]
    duty = [noticed("pulse-at-its-end", 19.5, 22.0, 4.0)]
    dip = [noticed("oil-pressure-dip", 5.0, 6.0, 3.0)]
    groups = [lean, duty, dip]
    assert [_together(groups, n) for n in (1, 2, 3)] == ["", "same moment as 1: it may have one cause", ""]

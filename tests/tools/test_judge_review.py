"""The judge of the review, held against small keys made by hand."""

from __future__ import annotations

from typing import Any, NamedTuple

from tools.drives.events import SENSOR_KINDS
from tools.drives.kinds import NAMES
from tools.judge_review import ACCEPTED, score


class Noticed(NamedTuple):
    kind: str
    fault: bool
    first_row: int
    last_row: int


def key(*events: tuple[str, int, int, bool]) -> dict[str, Any]:
    return {
        "logger": {"rows_a_second": 10.0},
        "true_seconds": 1800.0,
        "events": [
            {"kind": kind, "first_row": first, "last_row": last, "can_be_seen": seen}
            for kind, first, last, seen in events
        ],
    }


def test_every_kind_that_can_be_planted_has_a_name_that_is_accepted():
    assert set(ACCEPTED) == (set(NAMES) - {"none"}) | set(SENSOR_KINDS) | {"lambda-rich-limit"}


def test_an_event_is_found_by_a_notice_of_its_kind_at_its_place_and_only_there():
    planted = key(("creep", 100, 150, True))
    assert score([Noticed("boost-creep", True, 165, 170)], planted).share == 1.0
    assert score([Noticed("boost-creep", True, 175, 180)], planted).share == 0.0
    assert score([Noticed("lean", True, 100, 150)], planted).share == 0.0


def test_one_notice_over_the_whole_drive_finds_nothing():
    planted = key(("knock-tip-in", 5000, 5010, True))
    assert score([Noticed("knock-transient", True, 0, 18000)], planted).share == 0.0


def test_what_cannot_be_seen_counts_for_nobody():
    result = score([], key(("creep", 100, 150, False), ("lean-feed", 300, 340, True)))
    assert (len(result.found), len(result.missed), len(result.beyond_sight)) == (0, 1, 1)


def test_a_fault_where_nothing_was_planted_is_a_false_alarm_and_under_another_name_it_is_misnamed():
    planted = key(("lean-feed", 300, 340, True), ("shift-cut", 700, 705, True))
    notices = [
        Noticed("lean", True, 305, 330),
        Noticed("misfire", True, 310, 330),
        Noticed("surge", True, 900, 910),
        Noticed("torque-cut", False, 1200, 1205),  # explained, not blamed
    ]
    result = score(notices, planted)
    assert [n.kind for n in result.misnamed] == ["misfire"]
    assert [n.kind for n in result.false_alarms] == ["surge"]
    assert result.hours == 0.5

"""The review held against drives that nobody built it with; tools/judge_review.py does it with twenty."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.labels import check
from tools.judge_review import BUILD, Score, judged

SEEDS, CLEAN = (1501, 1502), 2501  # none of them was run while the detectors were written


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> list[Score]:
    folder = tmp_path_factory.mktemp("drives")
    return [judged(BUILD, seed, 25.0, False, folder, model=False)[0] for seed in SEEDS]


@check(
    "limit",
    note="a simulator by another hand, frozen with its key before the detectors; of two drives fewer events "
    "than of twenty, so 80 % stands here where docs/drive_review.md gives the figure of twenty",
)
def test_most_of_what_can_be_seen_is_found(found: list[Score]) -> None:
    events = sum(len(one.found) + len(one.missed) for one in found)
    assert events >= 60
    assert sum(len(one.found) for one in found) >= 0.8 * events


@check("limit", note="the same simulator without faults; two false alarms an hour are allowed")
def test_a_clean_drive_raises_hardly_an_alarm(tmp_path: Path) -> None:
    result, _ = judged(BUILD, CLEAN, 20.0, True, tmp_path, model=False)
    assert len(result.false_alarms) <= 1

"""Whole climbs, drawn: readings from the bands climb, readings far beside them are stopped where they lie.

The readings are made by us from our own ranges: this shows that gates work, not that ranges are right.
"""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.job.records import Record
from boostwright.library.ladder import ladder_steps
from boostwright.planning.ladder import State
from tests.labels import check
from tests.planning.ladder.made import ladder, reading, tasks_done

STEPS = [step.key for step in ladder_steps()]
RELEASE = STEPS.index("release")


def drawn(seed: int, wrong: tuple[str, str] | None = None, sigmas: float = 0.0) -> tuple[list[Record], int]:
    """Records of one climb and how far it came; normal draws within three standard deviations."""
    rng = np.random.default_rng(seed)
    found = ladder()
    records: list[Record] = tasks_done(found)
    for i in range(RELEASE + 1):
        rung = ladder(records).rungs[i]
        for expected in rung.expected:
            if i == 0:  # sensors of a cold engine are set against each other
                rung = ladder(records).rungs[0]
            z = float(np.clip(rng.normal(), -1.95, 1.95))
            if (rung.key, expected.measurement) == wrong:
                z = sigmas
            records.append(reading(rung, expected.measurement, 60.0 * i, z))
        if not ladder(records).gates[i].open:
            break
    return records, ladder(records).here


@check(
    "regression",
    id="LD1",
    note="draws from our own ranges: shows that the gates work, no evidence of the ranges",
)
@pytest.mark.parametrize("seed", range(6))
def test_plausible_readings_climb_to_the_release(seed: int) -> None:
    records, here = drawn(seed)
    assert here == RELEASE + 1
    assert all(
        s.state in (State.GOOD, State.UNUSUAL)
        for g in ladder(records).gates[: RELEASE + 1]
        for s in g.readings
    )


NUMBERS = [
    (rung.key, e.measurement)
    for rung in ladder().rungs[: RELEASE + 1]
    for e in rung.expected
    if e.low is not None and e.high is not None and e.low < e.high and not e.optional
]


@check("regression", id="LD2", note="a reading four standard deviations beside our own middle")
@pytest.mark.parametrize("seed", range(24))
def test_a_reading_four_deviations_off_stops_the_climb_there(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    wrong = NUMBERS[int(rng.integers(len(NUMBERS)))]
    side = 4.0 if rng.random() < 0.5 else -4.0
    records, here = drawn(seed, wrong, side)
    at = STEPS.index(wrong[0])
    assert here == max(0, at - 1)  # broken off: one step back
    gate = ladder(records).gates[at]
    assert not gate.own
    assert gate.failed == 1


@pytest.mark.parametrize("step", STEPS[: RELEASE + 1])
def test_no_step_is_skipped(step: str) -> None:
    """With everything on record but one whole step, the way ends there."""
    records, _ = drawn(3)
    kept = [r for r in records if getattr(r, "step", "") != step]
    found = ladder(kept)
    assert found.rungs[found.here].key == step
    assert not any(g.open for g in found.gates[found.here :])

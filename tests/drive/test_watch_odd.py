"""Odd logs: short, slow, channels missing, empty, standing or wild. No detector fails or answers nonsense."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive.watch_list import WATCHED
from boostwright.errors import OutOfRange
from tests.drive.made import RATE, everyday, scene

WHOLE = everyday(120.0)
ROWS = WHOLE["throttle"].size


def odd_drive(rng: np.random.Generator) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Some of the channels, some of the rows, each channel perhaps spoiled in its own way."""
    channels = {k: v for k, v in WHOLE.items() if k == "engine_speed" or rng.random() < 0.7}
    channels |= {f"knock_retard {c}": np.abs(rng.normal(0.0, 0.01, ROWS)).round(3) for c in (1, 2)}
    if rng.random() < 0.5:
        channels["knock_count"] = np.cumsum(rng.random(ROWS) < 0.001).astype(np.float64)
    count, thin = int(rng.choice([2, 5, 20, 100, 500, 6000])), int(rng.choice([1, 1, 5, 50]))
    first = int(rng.integers(0, ROWS - count + 1))
    channels = {k: v[first : first + count : thin].copy() for k, v in channels.items()}
    for x in channels.values():
        fate = rng.random()
        if fate < 0.08:
            x[:] = np.nan
        elif fate < 0.16:
            x[rng.random(x.size) < 0.7] = np.nan
        elif fate < 0.24:
            x[:] = x[0] if fate < 0.2 else 0.0
        elif fate < 0.3:
            x[rng.random(x.size) < 0.1] *= rng.choice([0.0, -1.0, 1e3, 1e9])
    return channels, np.arange(channels["engine_speed"].size) * thin / RATE


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("seed", range(12))
def test_odd_logs_are_answered(seed: int) -> None:
    rng = np.random.default_rng(seed)
    asked = 0
    for _ in range(12):
        channels, stamp = odd_drive(rng)
        try:
            drive = scene(channels, stamp)
        except OutOfRange:  # no rows, no time or no speed at all: refused before any detector
            continue
        for watch in WATCHED:
            if any(not any(drive.signals.cylinders(k) for k in group) for group in watch.needs):
                continue
            asked += 1
            for notice in watch.find(drive):
                assert np.isfinite(notice.size.value), notice
                assert np.isfinite(notice.ratio), notice
                assert 0 <= notice.first_row <= notice.last_row < stamp.size, notice
    assert asked > 50

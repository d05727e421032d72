"""A guess whose losses are as large as its pressure ends as a point beyond the compressor, and its neighbours
stand."""

from __future__ import annotations

import numpy as np

from boostwright.physics.turbine import ExhaustGas
from boostwright.systems.turbo import TurboPoint, TurboStatus, turbo_point
from tests.systems.turbo_parts import AMBIENT, parts

GAS = ExhaustGas(290.0, 1180.0, 0.18, 1000.0)  # about a rich exhaust; common practice, no source


def test_one_wild_guess_leaves_the_other_points_alone() -> None:
    """An iterate of a match may ask for four times the air that any pipe of this size passes."""
    air = np.array([0.06, 0.60, 0.10])
    plenum = np.array([1.4e5, 3.4e5, 1.5e5])
    others = np.array([0, 2])

    def run(m: np.ndarray, p: np.ndarray) -> TurboPoint:
        return turbo_point(parts(), AMBIENT, m, m / 13.0, p, np.full(m.size, 1100.0), GAS)

    whole, alone = run(air, plenum), run(air[others], plenum[others])
    assert whole.status[1] == TurboStatus.COMPRESSOR_SHORT
    a, b = whole.plenum_temperature[others], alone.plenum_temperature
    np.testing.assert_allclose(a, b, rtol=1e-6)

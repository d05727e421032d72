"""The relief valve's spring and a shim under it."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.relief_spring import shimmed, solid_length, spring_rate
from tests.labels import check


@check(
    "published",
    id="O8",
    source="shigley2015",
    note="formula from memory; wire 2.0, mean 12, 8 turns, 79.3 GPa, a millimetre on a plunger of 14 mm",
)
def test_rate_and_what_a_millimetre_adds() -> None:
    rate = float(spring_rate(2.0e-3, 12.0e-3, 8.0))
    assert rate / 1e3 == pytest.approx(11.47, abs=0.01)
    valve = shimmed(rate, 42e-3, 34e-3, 20e-3, 14e-3, 4e-3, 1e-3)
    plain = shimmed(rate, 42e-3, 34e-3, 20e-3, 14e-3, 4e-3)
    assert float(valve.cracking - plain.cracking) / 1e5 == pytest.approx(0.745, abs=0.001)
    assert float(valve.per_length) == pytest.approx(float(valve.cracking - plain.cracking) / 1e-3)


@check("limit", note="turns that touch before the port is uncovered: no flow would be enough; exact geometry")
def test_a_shim_takes_travel() -> None:
    solid = float(solid_length(2.0e-3, 8.0))
    assert solid == pytest.approx(20e-3)
    valve = shimmed(11.47e3, 42e-3, 34e-3, solid, 14e-3, 4e-3, np.array([0.0, 9.0e-3, 11.0e-3, 15.0e-3]))
    assert valve.travel_left == pytest.approx([14e-3, 5e-3, 3e-3, -1e-3])
    assert np.isfinite(valve.wide_open).tolist() == [True, True, False, False]
    assert np.all(np.diff(valve.cracking) > 0.0)

"""The first peak of a second-order step."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from boostwright.errors import OutOfRange
from boostwright.physics.step_response import damping_from_overshoot, step_peak
from tests.labels import check


@check("limit", id="G3", note="closed form of any text on control; the digits printed there, +/- 0.1 %")
@pytest.mark.parametrize(
    ("zeta", "overshoot", "time"), [(0.3, 0.37233, 3.2933), (0.5, 0.16303, 3.6276), (0.7, 0.04599, 4.3991)]
)
def test_first_peak(zeta: float, overshoot: float, time: float) -> None:
    peak = step_peak(zeta)
    assert float(peak.overshoot) == pytest.approx(overshoot, rel=1e-3)
    assert float(peak.time) == pytest.approx(time, rel=1e-3)


@check(
    "reference library",
    id="G3",
    source="scipy",
    note="signal.step on a fine grid; its step limits the tolerance",
)
@pytest.mark.parametrize("zeta", [0.15, 0.4, 0.8])
def test_against_the_integrated_system(zeta: float) -> None:
    t, y = signal.step(([1.0], [1.0, 2.0 * zeta, 1.0]), T=np.linspace(0.0, 20.0, 200_001))
    top = int(np.argmax(y))
    peak = step_peak(zeta)
    assert float(peak.overshoot) == pytest.approx(y[top] - 1.0, abs=1e-6)
    assert float(peak.time) == pytest.approx(t[top], abs=2e-4)


def test_damping_is_the_inverse() -> None:
    zeta = np.array([0.05, 0.3, 0.6, 0.95])
    assert damping_from_overshoot(step_peak(zeta).overshoot) == pytest.approx(zeta, rel=1e-12)


@pytest.mark.parametrize("bad", [0.0, 1.0, -0.2, float("nan")])
def test_without_a_peak_it_is_refused(bad: float) -> None:
    with pytest.raises(OutOfRange, match="overshoot"):
        step_peak(bad)
    with pytest.raises(OutOfRange, match="overshoot"):
        damping_from_overshoot(bad)

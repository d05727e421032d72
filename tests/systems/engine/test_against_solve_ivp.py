"""The cycle's own integration against SciPy's: the same rate equations, the same hand-over between phases,
everything numerical replaced (see benchmarks/references/ivp.py). The two come together as our steps shrink.
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.references.ivp import IvpCycle, Recipe
from boostwright.physics.kernels.cycle import R
from boostwright.systems.engine.types import BurnLaw
from tests.labels import check
from tests.systems.engine.cases import PETROL, WITHOUT_RUNNER, at, engine, solver

# tolerances: 1e-8 on the closed phase and 1e-7 on the gas exchange hold every figure within 2e-6
TIGHT = Recipe("DOP853", "DOP853", 1.0e-7, 1.0e-8, settled=True)
FIGURES = (
    "work", "pump", "mass", "burned", "t_ivc", "p_max", "heat", "fresh", "m_out", "h_out",
    "knock_a", "knock_c",
)  # fmt: skip
COLUMNS = [getattr(R, name) for name in FIGURES]
ANGLES = [R.a_max, R.ca10, R.ca50, R.ca90]
CASES = [
    pytest.param(engine(), BurnLaw.ENTRAINMENT, 3000.0, id="entrainment, 3000 rpm"),
    pytest.param(engine(), BurnLaw.ENTRAINMENT, 1000.0, id="entrainment, 1000 rpm"),
    pytest.param(engine(), BurnLaw.WIEBE, 6500.0, id="Wiebe, 6500 rpm"),
    pytest.param(WITHOUT_RUNNER, BurnLaw.ENTRAINMENT, 2000.0, id="without runner, 2000 rpm"),
]


def errors(geometry, law: BurnLaw, rpm: float):  # type: ignore[no-untyped-def]
    """Relative errors of ours at working steps and at a quarter of them, and of the angles [rad]."""
    point = at(rpm, 98.0, back=105.0)
    kinds = [solver(geometry, PETROL, burn_law=law, refine=n, tolerance=1.0e-8) for n in (1.0, 4.0)]
    _, rows, status, state, _ = zip(*(kind.solve(point) for kind in kinds), strict=True)
    assert not any(s.any() for s in status)
    truth = IvpCycle(kinds[1], point).converge(state[1][0], TIGHT, 2.5e-7)  # the integrator's own noise
    assert truth.converged
    relative = [row[0, COLUMNS] / truth.columns[COLUMNS] - 1.0 for row in rows]
    angles = [row[0, ANGLES] - truth.columns[ANGLES] for row in rows]
    return dict(zip(FIGURES, np.array(relative).T, strict=True)), np.array(angles)


@check(
    "reference library",
    source="SciPy",
    note="solve_ivp, DOP853, event-aligned; working steps 1e-3 in every figure, knock integrals included; "
    "quarter steps 5e-5, a sixteenth of that and less, as a second-order method has it; pumping work, a "
    "small difference of large ones, twentyfold",
)
@pytest.mark.parametrize(("geometry", "law", "rpm"), CASES)
def test_same_equations_same_answer(geometry, law: BurnLaw, rpm: float) -> None:  # type: ignore[no-untyped-def]
    found, angles = errors(geometry, law, rpm)
    for name, (working, quarter) in found.items():
        slack = 20.0 if name == "pump" else 1.0
        assert abs(quarter) < 5.0e-5 * slack, f"{name} at a quarter of the steps: {quarter:.1e}"
        assert abs(working) < 1.0e-3 * slack, f"{name} at working steps: {working:.1e}"
        # nothing is left over that smaller steps would not take away
        assert abs(quarter) < 0.3 * abs(working) + 5.0e-6 * slack, f"{name}: {working:.1e} to {quarter:.1e}"
    assert np.abs(angles[1]).max() < np.radians(0.01)

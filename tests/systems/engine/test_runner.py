"""The cycle with its inertance runner against plain equations under SciPy's adaptive integrator."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.gas import mixture
from boostwright.physics.kernels.cycle import Z
from boostwright.systems.engine.types import BurnLaw, ModelFactors
from tests.labels import check
from tests.systems.engine.cases import PETROL, RPM, at, engine, solver
from tests.systems.engine.outside_runner import Plain

NO_HEAT = ModelFactors(heat=0.0, port_heating=0.0, evaporated_share=0.0)
START = ("mass", "energy", "port_mass", "port_energy", "runner_flow", "store_mass", "store_enthalpy")


@check(
    "reference library",
    source="SciPy",
    note="motored, no heat loss, runner swinging over all 720 degrees, LSODA at rtol 1e-7 on equations"
    " written out anew: trapped mass, temperature, peak pressure 2e-4, pumping 1e-3, at an eighth"
    " of the step",
)
@pytest.mark.parametrize("rpm", [1500.0, 3500.0, 4500.0, 6000.0])
def test_runner(rpm: float) -> None:
    s = solver(engine(), factors=NO_HEAT, burn_law=BurnLaw.NONE, refine=8.0, tolerance=1e-9)
    inputs, columns, status, state, _ = s.solve(at(rpm, 100.0, back=103.0))
    assert status[0] == 0
    ours = s.figures(inputs, columns, status)
    mix = mixture(0.88, 0.0, PETROL.petrol_heating_value)
    plain = Plain(engine(), mix, rpm * RPM, 100e3, 298.15, 103e3)
    # from our own answer: were it none, two cycles would carry it away by most of what it is off
    start = np.array([state[0, Z[name]] for name in START])
    theirs = plain.run(start, float(state[0, Z["back_enthalpy"]]), 2)
    assert theirs.change < 3e-4
    assert ours.trapped_mass[0] == pytest.approx(theirs.mass, rel=2e-4)
    assert ours.charge_temperature[0] == pytest.approx(theirs.temperature, rel=2e-4)
    assert ours.peak_pressure[0] == pytest.approx(theirs.peak_pressure, rel=2e-4)
    assert ours.pmep[0] == pytest.approx(theirs.pumping, rel=1e-3)

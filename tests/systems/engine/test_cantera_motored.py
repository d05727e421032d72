"""The motored cycle with valves and gas exchange against a Cantera reactor network."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from boostwright.systems.engine.conservation import energy_account
from boostwright.systems.engine.cycle import trace_cycle
from boostwright.systems.engine.types import BurnLaw, CycleResult, ModelFactors
from tests.labels import check
from tests.systems.engine.cases import PETROL, RPM, WITHOUT_RUNNER, at, engine, solver
from tests.systems.engine.outside_motored import Motored, Rig

NO_HEAT = ModelFactors(heat=0.0, port_heating=0.0, evaporated_share=0.0)
SPEEDS = (1200.0, 3000.0, 6000.0)


def ours(rpm: float, refine: float) -> CycleResult:
    s = solver(WITHOUT_RUNNER, factors=NO_HEAT, burn_law=BurnLaw.NONE, refine=refine, tolerance=1e-9)
    result = s.run(at(rpm, 100.0, back=103.0))
    assert result.status[0] == 0
    return result


@lru_cache(maxsize=4)
def theirs(rpm: float) -> Motored:
    ct = pytest.importorskip("cantera")
    near = ours(rpm, 1.0)  # a start near the answer; what it is short of shrinks fivefold in each cycle
    T = float(near.charge_temperature[0])
    p = float(near.trapped_mass[0]) * 276.0 * T / 4.9e-4
    rig = Rig(ct, WITHOUT_RUNNER, rpm * RPM, 100e3, 298.15, 103e3, 0.88)
    found = rig.run(T, p, float(near.exhaust_valve_temperature[0]), 4)
    assert found.change < 2e-4
    return found


def figures(r: CycleResult) -> np.ndarray:
    return np.array([r.trapped_mass[0], r.charge_temperature[0], r.peak_pressure[0], r.pmep[0]])


@check(
    "reference library",
    source="Cantera",
    note="motored cycle, no heat loss, reactor network with the same valves: trapped mass, temperature"
    " at intake closing, peak pressure 2e-4, pumping 4e-4, at an eighth of the step; network at "
    "rtol 1e-7, polynomials of cp 1e-3",
)
@pytest.mark.parametrize("rpm", SPEEDS)
def test_motored_cycle(rpm: float) -> None:
    a, b = figures(ours(rpm, 8.0)), np.array(theirs(rpm)[:4])
    away = np.abs(a / b - 1)
    assert away[:3].max() < 2e-4
    assert away[3] < 4e-4


@check("reference library", source="Cantera", note="the same at the working step: 2e-4, pumping 4e-4")
@pytest.mark.parametrize("rpm", SPEEDS)
def test_motored_cycle_at_the_working_step(rpm: float) -> None:
    away = np.abs(figures(ours(rpm, 1.0)) / np.array(theirs(rpm)[:4]) - 1)
    assert away[:3].max() < 2e-4
    assert away[3] < 4e-4


@check("limit", note="valves shut, no heat: what compression costs expansion gives back, to 1e-6 of it")
def test_closed_part_of_a_motored_cycle_costs_nothing() -> None:
    point = at(3000.0, 100.0, back=103.0)
    t = trace_cycle(WITHOUT_RUNNER, PETROL, point, factors=NO_HEAT, burn_law=BurnLaw.NONE)
    k = np.flatnonzero(t.phase == 0.0)
    assert t.theta[k[0]] == pytest.approx(
        -t.theta[k[-1]], abs=1e-9
    )  # shuts as long before TDC as it opens after
    assert t.pressure[k[-1]] == pytest.approx(t.pressure[k[0]], rel=1e-6)
    assert t.temperature[k[-1]] == pytest.approx(t.temperature[k[0]], rel=1e-6)
    assert t.pressure[k].argmax() == pytest.approx(k.size // 2, abs=1)


@check(
    "conservation", note="motored, with runner: 1e-5 of the energy of the fuel drawn in; mass to round-off"
)
@pytest.mark.parametrize("rpm", [800.0, 3000.0, 6500.0])
def test_account_of_a_motored_cycle(rpm: float) -> None:
    s = solver(engine(), burn_law=BurnLaw.NONE, tolerance=1e-9)
    account = energy_account(s, at(rpm, 100.0, back=103.0))
    assert abs(account.residual) < 1e-5
    assert abs(account.mass_residual) < 1e-12


def test_motoring_costs_work_and_knows_no_burn() -> None:
    r = solver(engine(), burn_law=BurnLaw.NONE).run(at(np.array([1500.0, 5000.0])))
    assert (r.imep < 0).all()
    assert (r.torque < r.imep * 0).all()
    assert r.residual == pytest.approx(0.0, abs=1e-4)

"""Steps, balance and repetition: the cycle solves its own equations, at any speed, at its working step."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from boostwright.physics.kernels.cycle import R
from boostwright.systems.engine.conservation import Account, energy_account
from boostwright.systems.engine.types import BurnLaw, CycleResult, EngineGeometry, ModelFactors
from tests.labels import check
from tests.systems.engine.cases import DEG, WITHOUT_RUNNER, at, engine, solver

ENGINES = {"runner": engine(), "no runner": WITHOUT_RUNNER}
RPM = np.array([800.0, 3000.0, 6500.0])
# What a halving study may leave at the working step. Each is a twentieth or less of what the model itself is
# good for: torque 2 %, charge 2 %, residual 0.5 points of 4, peak pressure 5 %, knock integral 15 %.
LIMITS = {
    "imep": 5e-4,
    "trapped_mass": 3e-4,
    "residual": 2e-3,
    "peak_pressure": 5e-4,
    "knock_a": 1.5e-3,
    "knock_c": 1.5e-3,
    "exhaust_valve_temperature": 3e-4,
}


@lru_cache(maxsize=16)
def refined(name: str, refine: float) -> CycleResult:
    result = solver(ENGINES[name], refine=refine, tolerance=1e-10).run(at(RPM, 100.0, back=103.0))
    assert (result.status == 0).all()
    return result


@check(
    "limit",
    note="exact solution by step halving to 1/16; limits are a twentieth of the model's own error or less",
)
@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize(("figure", "limit"), LIMITS.items())
def test_working_step(name: str, figure: str, limit: float) -> None:
    work, exact = (np.asarray(getattr(refined(name, r), figure)) for r in (1.0, 16.0))
    assert np.abs(work / exact - 1).max() < limit


@check("limit", note="CA50 by step halving to 1/16, 0.02 degrees: a hundredth of its cycle-to-cycle scatter")
@pytest.mark.parametrize("name", ENGINES)
def test_working_step_burn(name: str) -> None:
    assert np.abs(refined(name, 1.0).ca50 - refined(name, 16.0).ca50).max() < 0.02 * DEG


@check(
    "limit",
    note="order of the gas exchange from the pumping work at steps 1/2, 1/4, 1/8: a ratio of 4 is order 2, a "
    "greater one is more; 3.6 at least. At 6500 rev/min the error itself is too small to show one: 5e-4",
)
@pytest.mark.parametrize("name", ENGINES)
def test_order_of_the_gas_exchange(name: str) -> None:
    two, four, eight, exact = (np.asarray(refined(name, r).pmep) for r in (2.0, 4.0, 8.0, 16.0))
    ratio = (two - four)[:2] / (four - eight)[:2]
    assert (ratio > 3.6).all()
    assert abs(refined(name, 1.0).pmep[2] / exact[2] - 1) < 5e-4


@check(
    "limit",
    note="order 2 and no other in the charge, runner included, from steps 1/4, 1/8, 1/16: a ratio of 3.6 to "
    "4.4. Without runner the charge is off by 1e-6 and shows none",
)
def test_order_of_the_charge() -> None:
    four, eight, sixteen = (np.asarray(refined("runner", r).trapped_mass) for r in (4.0, 8.0, 16.0))
    ratio = (four - eight)[:2] / (eight - sixteen)[:2]
    assert (ratio > 3.6).all()
    assert (ratio < 4.4).all()


@check(
    "limit", note="every figure moves by less from 1/4 to 1/8 than from 1/1 to 1/2: the steps lead somewhere"
)
@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize("figure", [*LIMITS, "pmep"])
def test_halving_converges(name: str, figure: str) -> None:
    one, two, four, eight = (np.asarray(getattr(refined(name, r), figure)) for r in (1.0, 2.0, 4.0, 8.0))
    late, early = np.abs(four - eight) / np.abs(eight), np.abs(one - two) / np.abs(eight)
    assert (late < 0.4 * early + 3e-5).all()


# --- Balance ---

BALANCE = {
    "800": at(800.0, 100.0, back=102.0),
    "3000": at(3000.0, 100.0, back=108.0),
    "6500": at(6500.0, 97.0, back=135.0),
    "boost 2000": at(2000.0, 160.0, back=170.0, T=320.0, btdc=2.0),
    "boost 4500": at(4500.0, 180.0, back=210.0, T=320.0, btdc=8.0),
    "part load 2000": at(2000.0, 50.0, back=102.0, lam=1.0),
    "scavenging 2200": at(2200.0, 180.0, back=150.0, T=310.0, btdc=10.0),
}


@lru_cache(maxsize=64)
def balanced(name: str, case: str, refine: float) -> Account:
    return energy_account(solver(ENGINES[name], refine=refine, tolerance=1e-10), BALANCE[case])


@check("conservation", note="energy over all volumes by an independent quadrature; 1e-5 of the fuel energy")
@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize("case", BALANCE)
def test_energy(name: str, case: str) -> None:
    account = balanced(name, case, 1.0)
    assert account.periodicity < 1e-9  # apart from the balance: how far the cycle is from repeating
    assert abs(account.residual) < 1e-5


@check("conservation", note="order 2 or better: an eighth or less after two halvings, with a floor of 3e-7")
@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize("case", BALANCE)
def test_energy_falls_with_the_step(name: str, case: str) -> None:
    one, four = (abs(balanced(name, case, r).residual) for r in (1.0, 4.0))
    assert four < one / 8 + 3e-7


@check("conservation", note="mass in, out and stored, to round-off of a few thousand additions")
@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize("case", BALANCE)
def test_mass(name: str, case: str) -> None:
    assert abs(balanced(name, case, 1.0).mass_residual) < 1e-12


@check(
    "conservation",
    note="flow by the plain valve law at the recorded states against the mass counted: a share of the charge "
    "that falls with the step",
)
@pytest.mark.parametrize("name", ENGINES)
def test_the_valve_law_was_followed(name: str) -> None:
    for case in ("800", "3000", "6500"):
        one, four = (balanced(name, case, r).valve_law for r in (1.0, 4.0))
        assert four < 0.35 * one + 1e-5
        assert four < 0.015


@check("conservation", note="energy of each closed part of the cycle by itself; 1e-5 of the fuel energy")
@pytest.mark.parametrize("case", BALANCE)
def test_energy_of_the_closed_parts(case: str) -> None:
    account = balanced("runner", case, 1.0)
    for part in (account.compression, account.burn, account.expansion):
        assert abs(part) < 1e-5


@check(
    "conservation",
    note="24 points anywhere: 700 to 7000 rev/min, 40 to 250 kPa, early and late spark, fast and slow "
    "burn; 3e-5 of the fuel energy, 1e-5 in four of five",
)
def test_energy_anywhere() -> None:
    rng = np.random.default_rng(1)
    found = []
    for k in range(24):
        kpa = rng.uniform(40, 250)
        point = at(
            700 * 10 ** rng.uniform(0, 1),
            kpa,
            back=rng.uniform(0.75, 1.5) * max(kpa, 90.0),
            lam=round(rng.uniform(0.75, 1.15), 2),
            btdc=rng.uniform(-10, 35),
            T=rng.uniform(280, 340),
        )
        factors = ModelFactors(burn=round(rng.uniform(0.7, 1.3), 1))
        geometry = ENGINES["runner" if k % 2 else "no runner"]
        found.append(abs(energy_account(solver(geometry, factors=factors, tolerance=1e-9), point).residual))
    assert max(found) < 3e-5
    assert np.mean(np.array(found) < 1e-5) > 0.8


@check("conservation", note="the same account for the Wiebe path; 1e-5 of the fuel energy")
def test_energy_of_the_fast_path() -> None:
    account = energy_account(solver(burn_law=BurnLaw.WIEBE, tolerance=1e-10), BALANCE["3000"])
    assert abs(account.residual) < 1e-5


# --- Repetition ---


@check("limit", note="from a cold start and from a far warm state to one and the same cycle")
@pytest.mark.parametrize("geometry", ENGINES.values(), ids=ENGINES.keys())
def test_one_periodic_state(geometry: EngineGeometry) -> None:
    s = solver(geometry, tolerance=1e-9)
    cold = s.run(at(3000.0, 100.0))
    _, _, _, state, _ = s.solve(at(4500.0, 170.0, btdc=5.0))
    warm = s.run(at(3000.0, 100.0), state)
    for figure in ("torque", "trapped_mass", "residual", "knock_a", "exhaust_valve_temperature"):
        assert getattr(warm, figure) == pytest.approx(getattr(cold, figure), rel=2e-8)


@check("limit", note="the tolerance asked for bounds the error of torque and charge that is left (factor 3)")
@pytest.mark.parametrize("tolerance", [1e-3, 1e-4, 1e-5])
def test_tolerance_means_what_it_says(tolerance: float) -> None:
    for geometry in ENGINES.values():
        points = at(np.array([800.0, 2500.0, 5000.0, 6500.0]))
        exact = solver(geometry, tolerance=1e-10).run(points)
        _, _, _, near, _ = solver(geometry, tolerance=1e-8).solve(
            at(np.array([1000.0, 2700, 5200, 6700]), 90.0)
        )
        for start in (None, near):
            loose = solver(geometry, tolerance=tolerance).run(points, start)
            assert (loose.status == 0).all()
            assert np.abs(loose.trapped_mass / exact.trapped_mass - 1).max() < 3 * tolerance
            assert np.abs(loose.torque / exact.torque - 1).max() < 3 * tolerance


AWAY = {  # rev/min, kPa, degrees of spark
    "200 rev/min and 10 kPa": (200.0, 10.0, 0.0),
    "15 rev/min and 1 kPa": (15.0, 1.0, 0.0),
    "spark": (0.0, 0.0, 4.0),
    "next to nothing": (1.0, 0.1, 0.2),
}


@check(
    "limit",
    note="from states converged elsewhere, near and far: what is left of 1e-4 against 1e-11. The state "
    "itself (charge, its temperature, residual share) within 1e-4; work, which belongs to the state a cycle "
    "before, within 2e-4",
)
@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize("law", [BurnLaw.ENTRAINMENT, BurnLaw.WIEBE], ids=lambda law: law.name)
@pytest.mark.parametrize("rpm", [1000.0, 3000.0, 6500.0])
def test_converged_is_converged(name: str, law: BurnLaw, rpm: float) -> None:
    tight = solver(ENGINES[name], burn_law=law, tolerance=1e-11)
    loose = solver(ENGINES[name], burn_law=law, tolerance=1e-4)
    away = np.random.default_rng(int(rpm)).uniform(-1.0, 1.0, (3, 8))
    away /= np.abs(away).max(axis=0)
    points = at(np.full(8, rpm), 98.0, back=105.0).spread()
    spark = np.asarray(points.spark)
    _, exact, _, there, _ = tight.solve(points)
    for how, (speed, pressure, degrees) in AWAY.items():
        begin = at(rpm + speed * away[0], 98.0 + pressure * away[1], back=105.0)
        _, _, _, state, _ = tight.solve(begin.with_spark(spark + degrees * DEG * away[2]))
        _, found, status, state, _ = loose.solve(points, state)
        assert not status.any()
        assert np.abs(found[:, R.work] / exact[:, R.work] - 1).max() < 2e-4, how
        assert np.abs(state[:, 0] / there[:, 0] - 1).max() < 1e-4, how
        assert np.abs(state[:, 12] / there[:, 12] - 1).max() < 1e-4, how
        assert np.abs(state[:, 1] / state[:, 0] - there[:, 1] / there[:, 0]).max() < 1e-4, how

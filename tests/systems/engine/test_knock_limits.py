"""Knock of the whole cycle: the published guidelines, octane, alcohol, boost, probability."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from boostwright.physics.fuel import blend_octane
from boostwright.physics.knock import knock_probability, octane_equivalent
from boostwright.systems.engine.spark import KnockModel, best_spark, knock_spark
from boostwright.systems.engine.types import Fuel, ModelFactors, OperatingPoints
from tests.disagreements import disagreement
from tests.labels import check
from tests.systems.engine.cases import DEG, PETROL, at, engine, solver

A, C = KnockModel.DOUAUD_EYZAT, KnockModel.GUIDELINE
RON = 95.0


@lru_cache(maxsize=4)
def limit(model: KnockModel) -> float:
    """Knock-limited spark at 2000 rev/min, 100 kPa [degrees before TDC]."""
    spark, result = knock_spark(solver(), at(2000.0), model)
    assert float(model.integral(result)[0]) == pytest.approx(1.0, abs=3e-3)
    return float(-spark[0] / DEG)


def octane(model: KnockModel, point: OperatingPoints, changed: object = None) -> float:
    """Octane numbers that a change away from the knock limit asks for."""
    base = float(model.integral(solver().run(at(2000.0, btdc=limit(model))))[0])
    now = float(model.integral((changed or solver()).run(point))[0])  # type: ignore[attr-defined]
    return float(octane_equivalent(now / base, RON))


def share_of_guideline(what: str, model: KnockModel) -> float:
    """Our octane numbers over the guideline's for one change."""
    b = limit(model)
    if what == "spark":
        return octane(model, at(2000.0, btdc=b + 1)) / 1.0
    if what == "intake temperature":
        return octane(model, at(2000.0, btdc=b, T=305.15)) / 1.0
    if what == "manifold pressure":
        return octane(model, at(2000.0, 110.0, back=100.0, btdc=b)) / 3.5
    if what == "compression ratio":
        return octane(model, at(2000.0, btdc=b), solver(engine(compression_ratio=11.0))) / 5.0
    if what == "back pressure":
        return octane(model, at(2000.0, btdc=b, back=130.0)) / 1.0
    hot = solver(factors=ModelFactors(coolant_temperature=378.0))
    return octane(model, at(2000.0, btdc=b), hot) / 1.0


MISSES = {("manifold pressure", A): "K1"}
MISSES |= {("back pressure", model): "K2" for model in KnockModel}
MISSES |= {("coolant temperature", model): "K3" for model in KnockModel}
CHANGES = [
    "spark",
    "intake temperature",
    "manifold pressure",
    "compression ratio",
    "back pressure",
    "coolant temperature",
]


def _case(what: str, model: KnockModel) -> object:
    miss = MISSES.get((what, model))
    return pytest.param(
        what, model, id=f"{what}, {model.name.lower()}", marks=disagreement(miss) if miss else ()
    )


@pytest.mark.parametrize(("what", "model"), [_case(w, m) for m in KnockModel for w in CHANGES])
@check(
    "published",
    source="russ1996",
    note="octane numbers per degree of spark 1, 7 K intake 1, 10 kPa 3-4, unit of compression ratio 5,"
    " 30 kPa back pressure 1, 10 K coolant 1; abstract. 0.7 to 1.4 of each: the rules are rounded"
    " and vary by engine",
)
def test_russ_guidelines(what: str, model: KnockModel) -> None:
    assert 0.7 < share_of_guideline(what, model) < 1.4


@check(
    "published",
    source="russ1996",
    note="abstract: most octane is asked for 5 % rich of stoichiometric; 0.03 either way",
)
def test_mixture_that_knocks_most() -> None:
    lam = np.round(np.arange(0.84, 1.09, 0.02), 2)
    for model in KnockModel:
        integral = model.integral(solver().run(at(2000.0, btdc=limit(model), lam=lam)))
        assert lam[int(np.argmax(integral))] == pytest.approx(0.95, abs=0.031)


def _per_air_fuel_unit(low: float, high: float) -> float:
    on = [octane(A, at(2000.0, btdc=limit(A), lam=lam)) for lam in (low, high)]
    return (on[1] - on[0]) / ((high - low) * 14.6)


@check(
    "published",
    source="russ1996",
    note="abstract: about 2 octane numbers per unit of air-fuel ratio; 0.7 to 1.4 of it",
)
def test_lean_side_of_the_mixture_guideline() -> None:
    assert 1.4 < -_per_air_fuel_unit(0.95, 1.05) < 2.8


@disagreement("K4")
@check(
    "published",
    source="russ1996",
    note="abstract: about 2 octane numbers per unit of air-fuel ratio; 0.7 to 1.4 of it",
)
def test_rich_side_of_the_mixture_guideline() -> None:
    assert 1.4 < _per_air_fuel_unit(0.80, 0.95) < 2.8


# --- Fuel ---


@check(
    "common practice",
    note="better fuel moves the knock limit forward, about a degree a number, and MBT not at all",
)
def test_octane_moves_the_knock_limit_and_not_mbt() -> None:
    rows = [solver(engine(), Fuel(ron=ron, mon=ron - 10)) for ron in (91.0, 95.0, 98.0)]
    knock = [float(-knock_spark(s, at(2500.0, 120.0))[0][0] / DEG) for s in rows]
    best = [float(-best_spark(s, at(2500.0, 120.0))[0][0] / DEG) for s in rows]
    step = np.diff(knock) / np.diff([91.0, 95.0, 98.0])
    assert step.min() > 0.5
    assert step.max() < 1.5
    assert np.ptp(best) < 0.05


@check(
    "common practice",
    note="E85 asks for 35 to 50 % more fuel by mass of air at equal lambda, and knocks far less",
)
def test_alcohol() -> None:
    rows = []
    for share in (0.0, 0.1, 0.85):
        blend = blend_octane(95.0, 85.0, share)
        fuel = Fuel(share, float(blend.ron), float(blend.mon))
        s = solver(engine(), fuel)
        rows.append((s.run(at(2500.0, btdc=20.0)), float(-knock_spark(s, at(2500.0, 130.0))[0][0] / DEG)))
    fuel_flow = [float(r.fuel_flow[0]) for r, _ in rows]
    knock = [float(r.knock_a[0]) for r, _ in rows]
    assert fuel_flow[0] < fuel_flow[1] < fuel_flow[2]
    of_air = [float(r.fuel_flow[0] / r.air_flow[0]) for r, _ in rows]
    assert 1.35 < of_air[2] / of_air[0] < 1.50
    assert knock[0] > knock[1] > knock[2]
    assert rows[0][1] < rows[1][1] < rows[2][1] - 3
    # its evaporation cools the charge, so more of it gets in
    assert rows[2][0].charge_temperature[0] < rows[0][0].charge_temperature[0] - 5


# --- Boost ---


@check(
    "common practice",
    note="boost against the knock limit does not raise peak pressure, it raises exhaust temperature; "
    "on fuel that does not knock peak pressure follows the charge",
)
def test_boost_on_the_knock_limit() -> None:
    for rpm in (2000.0, 3000.0, 4500.0):
        _, bare = knock_spark(solver(), at(rpm, 100.0, back=105.0))
        _, boosted = knock_spark(solver(), at(rpm, 170.0, back=190.0, T=320.0))
        assert boosted.peak_pressure[0] < 1.05 * bare.peak_pressure[0]
        assert boosted.exhaust_valve_temperature[0] > bare.exhaust_valve_temperature[0] + 100
        assert boosted.torque[0] > 1.15 * bare.torque[0]
        _, free = best_spark(solver(), at(rpm, 170.0, back=190.0, T=320.0))
        _, free_bare = best_spark(solver(), at(rpm, 100.0, back=105.0))
        ratio = free.peak_pressure[0] / free_bare.peak_pressure[0]
        assert ratio == pytest.approx(free.trapped_mass[0] / free_bare.trapped_mass[0], rel=0.06)


@check("common practice", note="warm charge and compression ratio cost knock margin; warm charge costs air")
def test_what_costs_knock_margin() -> None:
    warm = solver().run(at(3000.0, btdc=20.0, T=np.array([290.0, 310.0, 330.0])))
    assert (np.diff(warm.knock_a) > 0).all()
    assert (np.diff(warm.knock_c) > 0).all()
    assert (np.diff(warm.air_flow) < 0).all()
    ratio = [solver(engine(compression_ratio=r)).run(at(3000.0, btdc=20.0)) for r in (8.5, 10.0, 11.5)]
    for figure in ("knock_a", "knock_c", "peak_pressure"):
        assert (np.diff([float(getattr(r, figure)[0]) for r in ratio]) > 0).all()


# --- Probability ---


def test_knock_probability_rises_with_spark_pressure_and_heat() -> None:
    run = solver().run
    for points in (
        at(2000.0, btdc=np.arange(10.0, 22.0, 2.0)),
        at(2000.0, np.arange(85.0, 111.0, 5.0), btdc=14.0),
        at(2000.0, btdc=14.0, T=np.arange(280.0, 331.0, 10.0)),
    ):
        assert (np.diff(knock_probability(run(points).knock_a)) > 0).all()


@check(
    "common practice",
    note="near 5 % a degree of retard halves the knocking cycles or better: a factor of 2 to 4",
)
def test_a_degree_of_retard_near_five_percent() -> None:
    spark, _ = knock_spark(solver(), at(2000.0), A, target=float(np.exp(-0.1645)))
    b = -float(spark[0]) / DEG
    share = knock_probability(solver().run(at(2000.0, btdc=np.array([b, b - 1]))).knock_a)
    assert share[0] == pytest.approx(0.05, abs=0.003)
    assert 2.0 < share[0] / share[1] < 4.0


def test_the_spark_found_is_the_spark_asked_for() -> None:
    """The limit is where the integral is 1, from any start, and the petrol is the tests' own."""
    assert PETROL.ron == RON
    for start in (np.radians([-5.0]), np.radians([-40.0])):
        spark, _ = knock_spark(solver(), at(2000.0), A, start=start)
        assert float(-spark[0] / DEG) == pytest.approx(limit(A), abs=0.1)

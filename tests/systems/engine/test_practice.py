"""What a practitioner tries at once: the naturally aspirated class engine at full load."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.systems.engine.baseline import baseline
from tests.labels import check
from tests.systems.engine.cases import DEG, RPM, SPEEDS, at, engine, full_load, solver

MIDDLE = (SPEEDS >= 2500) & (SPEEDS <= 5000)


@check("common practice", note="10:1, four valves, mild cams: 85 to 105 N m per litre at its best")
def test_torque_per_litre() -> None:
    r = full_load().result
    per_litre = r.torque / (solver().engine.displacement * 1e3)
    assert 85 < per_litre.max() < 105
    assert MIDDLE[int(np.argmax(per_litre))]
    assert per_litre[MIDDLE].min() > 80


@check("common practice", note="residual 3.5 to 9 % from 2500 to 5000 rev/min at full load")
def test_residual() -> None:
    residual = full_load().result.residual[MIDDLE]
    assert residual.min() > 0.035
    assert residual.max() < 0.09


@check("common practice", note="half burned 5 to 10 degrees after TDC at MBT, 2500 to 5000 rev/min")
def test_phasing_at_best_spark() -> None:
    half = full_load().at_mbt.ca50[MIDDLE] / DEG
    assert half.min() > 5
    assert half.max() < 10


@check(
    "common practice", note="full-load brake specific fuel consumption 250 to 300 g/kWh, 2500 to 5000 rev/min"
)
def test_fuel_consumption() -> None:
    r = full_load().result
    grams = r.fuel_flow[MIDDLE] / r.power[MIDDLE] * 3.6e9
    assert grams.min() > 250
    assert grams.max() < 300


@check("common practice", note="exhaust gas at the valve 750 to 950 degC, 2500 to 5000 rev/min at full load")
def test_exhaust_temperature() -> None:
    T = full_load().result.exhaust_valve_temperature[MIDDLE] - 273.15
    assert T.min() > 750
    assert T.max() < 950


@check(
    "common practice",
    note="peak pressure of a naturally aspirated engine at full load 45 to 75 bar, from 2000 rev/min up",
)
def test_peak_pressure() -> None:
    bar = full_load().result.peak_pressure[SPEEDS >= 2000] * 1e-5
    assert bar.min() > 45
    assert bar.max() < 75


@check(
    "common practice",
    note="richer cools the exhaust; warmer charge costs air and torque; back pressure costs both",
)
def test_directions() -> None:
    rich = solver().run(at(4000.0, lam=np.array([0.80, 0.85, 0.90, 0.95])))
    assert (np.diff(rich.exhaust_valve_temperature) > 10).all()
    warm = solver().run(at(4000.0, T=np.array([285.0, 300.0, 315.0])))
    assert (np.diff(warm.air_flow) < 0).all()
    assert (np.diff(warm.torque) < 0).all()
    back = solver().run(at(4000.0, back=np.array([101.0, 120.0, 140.0])))
    assert (np.diff(back.torque) < 0).all()
    assert (np.diff(back.residual) > 0).all()
    assert (np.diff(back.pmep) < 0).all()
    plenum = solver().run(at(4000.0, np.array([60.0, 80.0, 100.0, 140.0]), back=110.0, btdc=12.0))
    assert (np.diff(plenum.torque) > 0).all()


@check(
    "common practice",
    note="air of a naturally aspirated engine follows the barometer; torque at 2000 m is 18 to 26 % lower",
)
def test_altitude() -> None:
    here = full_load().result
    high = baseline(solver(), SPEEDS[MIDDLE] * RPM, 79.5e3, 288.0).result
    loss = 1 - high.torque / here.torque[MIDDLE]
    assert loss.min() > 0.18
    assert loss.max() < 0.26


@check(
    "common practice",
    note="a compression ratio of 12 against 9 is worth 3 to 9 % torque on fuel that does not knock",
)
def test_compression_ratio_is_worth_torque() -> None:
    low, high = (solver(engine(compression_ratio=r)).run(at(3000.0)).imep[0] for r in (9.0, 12.0))
    assert 1.03 < high / low < 1.09


@check("limit", note="torque, power, speed and mean pressures are one thing said four ways; 1e-12")
def test_figures_agree() -> None:
    b = full_load()
    r, e = b.result, solver().engine
    assert r.power == pytest.approx(r.torque * b.speeds, rel=1e-12)
    assert r.bmep == pytest.approx(4 * np.pi * r.torque / e.displacement, rel=1e-12)
    assert r.imep - r.fmep == pytest.approx(r.bmep, rel=1e-12)
    air_fuel = r.air_flow / r.fuel_flow
    assert air_fuel == pytest.approx(
        np.full_like(air_fuel, 0.88 * 14.61), rel=3e-3
    )  # stoichiometric ratio as printed

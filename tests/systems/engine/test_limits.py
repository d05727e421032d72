"""Limits that any filling-and-emptying cycle must meet, whatever its constants."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from boostwright.physics.gas import (
    Mixture,
    cp_burned_frozen,
    cp_fresh,
    h_burned_frozen,
    h_fresh,
    mixture,
)
from boostwright.physics.kernels.records import WiebeDurations
from boostwright.physics.slider_crank import cylinder_volume
from boostwright.systems.engine.burn_fit import wiebe_exponents
from boostwright.systems.engine.conservation import energy_account
from boostwright.systems.engine.cycle import CycleSolver, trace_cycle
from boostwright.systems.engine.types import (
    BurnLaw,
    EngineGeometry,
    ModelFactors,
    OperatingPoints,
    ValveTrain,
)
from tests.labels import check
from tests.systems.engine.cases import DEG, PETROL, RPM, WITHOUT_RUNNER, at, engine, solver

NO_HEAT = 1e-9


# --- Twice the pressure, everything twice ---


@check(
    "limit",
    note="no wall heat, burn in fixed angles: the equations are linear in pressure but for dissociation, "
    "which weakens: mass 2e-4, residual 2e-3, imep up to 1 % and peak up to 1.5 % more",
)
@pytest.mark.parametrize("geometry", [engine(), WITHOUT_RUNNER], ids=["runner", "no runner"])
def test_twice_the_pressure(geometry: EngineGeometry) -> None:
    early, main = (np.array([np.log(d * DEG), 0, 0, 0, 0, 0, 0]) for d in (18.0, 25.0))
    s = CycleSolver(
        geometry,
        PETROL,
        factors=ModelFactors(heat=NO_HEAT, port_heating=0.0),
        burn_law=BurnLaw.WIEBE,
        durations=WiebeDurations(early, main, *wiebe_exponents()),
        tolerance=1e-9,
    )
    r = s.run(at(3000.0, np.array([100.0, 200.0]), back=np.array([105.0, 210.0])))
    assert (r.status == 0).all()
    names = ("trapped_mass", "air_flow", "residual", "imep", "peak_pressure", "ca50")
    ratio = {name: float(getattr(r, name)[1] / getattr(r, name)[0]) for name in names}
    assert ratio["trapped_mass"] == pytest.approx(2.0, rel=2e-4)
    assert ratio["air_flow"] == pytest.approx(2.0, rel=2e-4)
    assert ratio["residual"] == pytest.approx(1.0, rel=2e-3)
    assert 2.0 < ratio["imep"] < 2.02
    assert 2.0 < ratio["peak_pressure"] < 2.03
    assert ratio["ca50"] == pytest.approx(1.0, rel=1e-6)


# --- Valves that open and shut at dead centre, wide and at once ---


def _square(width: float) -> EngineGeometry:
    """The class engine with events at the dead centres and ports ``width`` times as wide."""
    close = 0.2 * DEG
    intake = ValveTrain(2, 0.034, 9.5e-3, 2 * np.pi, 3 * np.pi + close, (10, 40, 100), width)
    exhaust = ValveTrain(2, 0.029, 9.0e-3, np.pi - close, 2 * np.pi, (10, 40, 100), width)
    return engine(intake=intake, exhaust=exhaust, runner_length=0.0)


def _mixed(mix: Mixture, T_left: float, clearance: float, swept: float, T_in: float, p: float) -> float:
    """Fresh mass that fills the swept volume when it mixes at pressure ``p`` with what was left."""
    left = p * clearance / (mix.R_b * T_left)

    def fresh(T: float) -> float:
        return (p * (swept + clearance) / T - left * mix.R_b) / mix.R_f

    def excess(T: float) -> float:
        warmed = fresh(T) * float(h_fresh(mix, T) - h_fresh(mix, T_in))
        return warmed - left * float(h_burned_frozen(mix, T_left) - h_burned_frozen(mix, T))

    return fresh(brentq(excess, T_in, 800.0))


@check(
    "limit",
    note="equal pressures, no wall heat, ever wider valves at dead centre: fresh charge and residual mix at "
    "constant pressure; 0.5 % and 2 % at the widest, falling with every doubling of the width",
)
def test_ideal_breathing() -> None:
    factors = ModelFactors(heat=NO_HEAT, port_heating=0.0, evaporated_share=0.0)
    away = []
    for width in (1.0, 2.0, 4.0):
        s = solver(_square(width), factors=factors, refine=4.0)
        point = at(600.0, 100.0, lam=1.0)
        inputs, columns, status, _, _ = s.solve(point)
        assert status[0] == 0
        result = s.figures(inputs, columns, status)
        trace = trace_cycle(s.engine, PETROL, point, factors=factors, refine=4.0)
        T = float(trace.temperature[int(np.argmin(np.abs(trace.theta - 2 * np.pi)))])
        mix, e = inputs.found[0], s.engine
        fresh = result.trapped_mass[0] * (1 - result.residual[0])
        filled = _mixed(mix, T, e.clearance_volume, e.swept_volume, 298.15, 100e3)
        left = 100e3 * e.clearance_volume / (mix.R_b * T)
        away.append((fresh / filled - 1, result.trapped_mass[0] * result.residual[0] / left - 1))
    filling, residual = np.abs(np.array(away)).T
    assert filling[2] < 0.005
    assert residual[2] < 0.02
    assert (filling[1:] < 0.75 * filling[:-1]).all()
    assert (residual[1:] < 0.75 * residual[:-1]).all()


# --- What port and manifold take ---


@check(
    "limit",
    note="port and manifold that take nothing leave the gas as hot as at the valve; such that take all leave"
    " it as cool as what is around the manifold, 330 K; in between the way is monotonous",
)
def test_port_and_manifold_cool_from_none_to_all() -> None:
    behind = []
    for factor in (1e-12, 0.7, 1.0, 1.4, 1e4):
        r = solver(factors=ModelFactors(exhaust_cooling=factor)).run(at(3000.0, 100.0))
        behind.append((r.exhaust_valve_temperature[0], r.exhaust_manifold_temperature[0]))
    valve, manifold = np.array(behind).T
    assert valve == pytest.approx(valve[0], rel=1e-12)  # nothing acts back on the cylinder
    assert manifold[0] == pytest.approx(valve[0], abs=1e-3)
    assert manifold[-1] == pytest.approx(330.0, abs=1.0)
    assert (np.diff(manifold) < -5.0).all()


# --- A short runner is none ---


@check(
    "limit",
    note="lossless runner and port that shrink together against breathing from the plenum: away by less each "
    "time, 0.5 % in charge and residual in the end",
)
@pytest.mark.parametrize("rpm", [1500.0, 3000.0, 6000.0])
def test_a_short_runner_is_none(rpm: float) -> None:
    plain = solver(WITHOUT_RUNNER, refine=4.0).run(at(rpm))
    away = []
    for length, volume in ((0.08, 0.06e-3), (0.02, 0.02e-3), (0.01, 0.01e-3)):
        short = engine(runner_length=length, port_volume=volume, runner_loss=0.0)
        r = solver(short, refine=4.0).run(at(rpm))
        assert r.status[0] == 0
        away.append((r.trapped_mass / plain.trapped_mass - 1, r.residual / plain.residual - 1))
    charge, residual = np.abs(np.array(away))[:, :, 0].T
    assert (np.diff(charge) < 2e-4).all()
    assert charge[-1] < 5e-3
    assert residual[-1] < 5e-3


@check(
    "published",
    source="engelman1973",
    note="tuned speed 60 f/2.1 of the Helmholtz resonator with the mid-stroke volume; from memory; 10 %",
)
def test_tuned_speed() -> None:
    e = engine()
    rpm = np.arange(3000.0, 6001.0, 250.0)
    peak = rpm[int(np.argmax(solver().run(at(rpm, 100.0)).volumetric_efficiency))]
    a = np.sqrt(1.4 * 287.05 * 298.15)
    volume = e.swept_volume * (e.compression_ratio + 1) / (2 * (e.compression_ratio - 1))
    tuned = 60 / 2.1 * a / (2 * np.pi) * np.sqrt(e.runner_area / (e.runner_length * volume))
    assert peak == pytest.approx(tuned, rel=0.10)


# --- The closed part ---


@check(
    "limit",
    note="compression without loss keeps p V^gamma: dlnp/dlnV is -cp/cv all along; 1e-4, from differences",
)
def test_compression_is_isentropic() -> None:
    e = engine()
    t = trace_cycle(e, PETROL, at(3000.0, 100.0), factors=ModelFactors(heat=NO_HEAT), refine=4.0)
    k = np.flatnonzero(t.phase == 0.0)
    lnV = np.log(cylinder_volume(t.theta[k], e.bore, e.stroke, e.rod, e.compression_ratio))
    mix = mixture(0.88, 0.0, PETROL.petrol_heating_value)
    y, T = t.burned_mass[k] / t.mass[k], t.temperature[k]
    cp = (1 - y) * cp_fresh(mix, T) + y * cp_burned_frozen(mix, T)
    R = (1 - y) * mix.R_f + y * mix.R_b
    slope = np.gradient(np.log(t.pressure[k]), lnV, edge_order=2)[2:-2]
    assert slope == pytest.approx(-(cp / (cp - R))[2:-2], rel=1e-4)


@check("conservation", note="wall heat off: none is booked, and the account still closes to 1e-5")
def test_no_heat_is_no_heat() -> None:
    account = energy_account(
        solver(factors=ModelFactors(heat=NO_HEAT), tolerance=1e-9), at(4500.0, 100.0, back=105.0)
    )
    assert abs(account.wall_heat) < 1e-6 * account.fuel_energy
    assert abs(account.residual) < 1e-5


@check("limit", note="a heat factor of 0 is the limit of small ones: torque to 1e-6")
def test_heat_factor_of_zero() -> None:
    none, hardly = (solver(factors=ModelFactors(heat=f)).run(at([1500.0, 5000.0])) for f in (0.0, NO_HEAT))
    assert (none.status == 0).all()
    assert none.torque == pytest.approx(hardly.torque, rel=1e-6)


@check(
    "limit", note="wall temperatures tend to the coolant's as the flux of charge falls: its 0.66th power, 5 %"
)
def test_wall_temperatures_tend_to_the_coolant() -> None:
    r = solver().run(at([600.0, 3000.0, 6000.0], [50.0, 100.0, 100.0], btdc=15.0))
    above = r.wall_temperatures - ModelFactors().coolant_temperature
    flux = r.trapped_mass * (1 - r.residual) * np.array([600.0, 3000.0, 6000.0])
    assert (np.diff(above, axis=0) > 0).all()
    assert above[0] / above[2] == pytest.approx((flux[0] / flux[2]) ** 0.66, rel=0.05)
    assert (np.diff(above, axis=1) < 0).all()  # piston above head above liner


@check(
    "conservation",
    note="energy of the burn alone at 800 rev/min with a burn factor that a user may state; 1e-5",
)
def test_fast_burn_at_low_speed() -> None:
    s = solver(WITHOUT_RUNNER, factors=ModelFactors(burn=1.25), tolerance=1e-9)
    assert abs(energy_account(s, at(800.0, 100.0, btdc=12.0)).burn) < 1e-5


def test_points_keep_their_units() -> None:
    """A guard of the tests' own helper."""
    points = at(3000.0, 100.0, btdc=20.0)
    assert isinstance(points, OperatingPoints)
    assert float(points.speed) == pytest.approx(3000 * RPM)
    assert float(points.spark) == pytest.approx(-20 * DEG)

"""The transient against an independent calculation of one case, another integrator, and its balances."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid, solve_ivp

import boostwright.systems.transient.arrival as module
from boostwright.physics.compressor import operating_point
from boostwright.physics.nozzle import nozzle_flow
from boostwright.physics.shaft import spin_up_time
from boostwright.physics.turbine import isentropic_drop
from boostwright.physics.wastegate import GateFlow
from boostwright.systems.transient import PullRequest
from boostwright.systems.transient.charging import charge_table
from boostwright.systems.transient.spool import Lanes, Run, State, Trace, _drop, moment_of
from boostwright.systems.turbo import Pulses, turbo_point
from boostwright.systems.wastegate import Gate, gate_state
from tests.disagreements import disagreement
from tests.labels import check
from tests.systems.mean_value_engine import RPM
from tests.systems.transient.reference import (
    CAR,
    GAS,
    GOAL,
    INERTIA,
    WARM,
    arrival,
    held,
    led,
)
from tests.systems.turbo_parts import AMBIENT, parts

Array = NDArray[np.float64]
PULLS = (held(2500), held(3000), held(4000), led(2500, 300), led(2000, 300), led(2000, 900))
THEIRS = np.array([2.05, 1.28, 0.69, 1.56, 2.33, 1.55])
THEIRS_HEAVY = np.array([2.58, 1.64, 0.90, 1.91, 2.71, 1.79])
EASY = np.linspace(2000, 6000, 9) * RPM


def times(**changes: object) -> np.ndarray:
    return np.array([p.arrival for p in arrival(*PULLS, **changes).pulls])  # type: ignore[arg-type]


@check(
    "regression",
    id="D9",
    note="time to 90 % of 1.8 bar absolute from 30 000 rpm of the shaft and 850 K, computed once by another "
    "program for the same engine and turbo; its heat lag is stated as 1-3 s first, then 10-30 s, and ours "
    "stands in the middle: 30 %, the error stated for any such time",
)
def test_times_to_boost() -> None:
    ours = times()
    np.testing.assert_allclose(ours, THEIRS, rtol=0.30)
    assert np.array_equal(np.argsort(ours[:3]), np.argsort(THEIRS[:3]))


@check(
    "regression",
    id="D9",
    note="the same with half as much inertia again: change of time against that program, 10 %, the error "
    "stated for comparing two turbos in one car",
)
def test_change_of_time_with_inertia() -> None:
    ratio = times(inertia=1.5 * INERTIA) / times()
    np.testing.assert_allclose(ratio, THEIRS_HEAVY / THEIRS, rtol=0.10)


@disagreement("T1")
@check(
    "regression",
    id="T1",
    note="the same with a manifold that is warm from the start, whose temperature that program does not "
    "state; 30 %",
)
def test_times_with_a_warm_manifold() -> None:
    np.testing.assert_allclose(times(lag=WARM), [1.59, 1.05, 0.60, 1.31, 1.98, 1.37], rtol=0.30)


@check(
    "regression",
    id="D9",
    note="power at the start of the pull at 2500 rpm: turbine 0.95 kW, compressor 0.18 kW by that program; "
    "10 %",
)
def test_powers_at_the_start() -> None:
    trace, *_ = followed(held(2500))
    first = trace.moments[0]
    assert first.turbine[0] == pytest.approx(950, rel=0.10)
    assert first.compressor[0] == pytest.approx(180, rel=0.10)


def followed(*requests: PullRequest, **changes: object) -> tuple[Trace, Run, Lanes, State]:
    """The trace behind an arrival, with what it was computed from."""
    kept: list[tuple[Trace, Run, Lanes, State]] = []
    plain = module.run_lanes

    def keep(run: Run, lanes: Lanes, start: State, *others: object) -> Trace:
        trace = plain(run, lanes, start, *others)  # type: ignore[arg-type]
        kept.append((trace, run, lanes, start))
        return trace

    module.run_lanes = keep
    try:
        arrival(*requests, **changes)  # type: ignore[arg-type]
    finally:
        module.run_lanes = plain
    return kept[0]


@check(
    "conservation",
    note="energy: integral of turbine less compressor less bearings is the gain of I w^2/2; 0.2 %",
)
def test_energy_of_the_shaft() -> None:
    trace, *_ = followed(*PULLS, step=0.01)
    surplus = np.array([m.turbine - m.compressor - m.friction for m in trace.moments])
    put_in = cumulative_trapezoid(surplus, trace.time, axis=0)[-1]
    gained = INERTIA / 2 * (trace.state.shaft[-1] ** 2 - trace.state.shaft[0] ** 2)
    np.testing.assert_allclose(put_in, gained, rtol=2e-3)


@check("conservation", note="mass: what the charge volume takes up is inflow less what the engine draws; 1 %")
def test_mass_of_the_charge_volume() -> None:
    trace, run, lanes, _ = followed(held(3000), step=0.005)
    states = [State(*(c[k] for c in trace.state)) for k in range(trace.time.size)]
    delivered = [run.table.at(lanes.which, s.shaft, s.plenum) for s in states]
    net = np.array([d.flow - m.air for d, m in zip(delivered, trace.moments, strict=True)])[:, 0]
    warmth = np.array([d.temperature[0] for d in delivered])
    rise = cumulative_trapezoid(net * 287.05 * warmth / run.volume, trace.time)[-1]
    assert rise == pytest.approx(trace.state.plenum[-1, 0] - trace.state.plenum[0, 0], rel=0.01)


@check(
    "reference library",
    source="SciPy",
    note="Radau at 1e-5 on the same rates from the same start, the fixed steps of 25 ms against it: time to "
    "boost within 0.5 %, shaft speed along the way within 1 %",
)
def test_against_another_integrator() -> None:
    trace, run, lanes, start = followed(held(3500))
    n = lanes.inertia.size
    scale = np.array([1e4, 1e5, 1e3, 1e3, 1e-3, 300.0])

    def rates(_: float, y: np.ndarray) -> np.ndarray:
        state = State(*(y.reshape(6, n) * scale[:, None]))
        return (np.stack(moment_of(run, lanes, state).rates) / scale[:, None]).ravel()

    y0 = (np.stack(start) / scale[:, None]).ravel()
    end = 1.5  # seconds: boost is there and held
    run_ = solve_ivp(
        rates, (0, end), y0, method="Radau", rtol=1e-5, atol=1e-8, dense_output=True, max_step=0.1
    )
    assert run_.success
    fine = np.linspace(0, end, 4001)
    theirs = run_.sol(fine).reshape(6, n, -1) * scale[:, None, None]
    level = AMBIENT.pressure + 0.9 * (GOAL - AMBIENT.pressure)
    for lane in range(n):
        ours = module._crossing(trace.time, trace.state.plenum[:, lane], level)
        assert ours == pytest.approx(fine[np.argmax(theirs[1, lane] >= level)], rel=5e-3)
        np.testing.assert_allclose(
            np.interp(fine, trace.time, trace.state.shaft[:, lane]), theirs[0, lane], rtol=0.01
        )


@check("limit", note="halving the step of 25 ms moves no time to boost by more than 0.5 %")
def test_step_by_halving() -> None:
    np.testing.assert_allclose(times(), times(step=0.0125), rtol=5e-3)


@check(
    "limit",
    note="with warm walls, little charge volume and a held engine the time goes with inertia: 1.5 times in "
    "1.5; 2 %, what the volume leaves",
)
def test_time_goes_with_inertia() -> None:
    one, other = (
        arrival(held(3000), lag=WARM, volume=1e-3, inertia=f * INERTIA).pulls[0].arrival for f in (1.0, 1.5)
    )
    assert other / one == pytest.approx(1.5, rel=0.02)


@check("limit", note="no pull is faster than the shaft alone at the greatest surplus that it sees, by energy")
def test_no_faster_than_the_energy_allows() -> None:
    trace, *_ = followed(held(3000))
    most = max(float(m.turbine[0] - m.compressor[0] - m.friction[0]) for m in trace.moments)
    top = float(trace.state.shaft[:, 0].max())
    k = int(trace.state.shaft[:, 0].argmax())
    assert trace.time[k] >= float(spin_up_time(trace.state.shaft[0, 0], top, most, INERTIA))


@check(
    "limit",
    note="a held engine ends in the steady point: shaft speed, exhaust pressure and power against the "
    "turbo's own balance at the pressure held, whose map is solved, not tabulated; 1 %",
)
@pytest.mark.parametrize("rpm", [2500, 3500, 5000])
def test_the_end_is_the_steady_point(rpm: float) -> None:
    trace, *_ = followed(
        held(rpm), lag=WARM, duration=6.0, gate_time=0.05, arrived=1.5
    )  # never 'there': no early end
    last, end = trace.moments[-1], [c[-1] for c in trace.state]
    heat = last.temperature
    point = turbo_point(parts(), AMBIENT, last.air, last.air / 12.5, end[1], heat, GAS, pulses(rpm))
    assert end[0] == pytest.approx(point.compressor.speed, rel=0.01)
    assert last.compressor == pytest.approx(point.compressor.power, rel=0.01)
    assert last.exhaust == pytest.approx(point.exhaust_pressure, rel=0.01)
    assert GOAL * 0.97 < end[1][0] < GOAL * 1.005


def pulses(rpm: float) -> Pulses:

    from tests.systems.transient.reference import PULSES, SPEEDS

    flow, power = (float(np.interp(rpm * RPM, SPEEDS, f)) for f in (PULSES.flow, PULSES.power))
    return Pulses(flow, power)


@check(
    "limit", note="the table of delivery against the map solved point by point; 0.5 % of flow, 1 % of power"
)
@pytest.mark.parametrize("rpm", [60_000, 90_000, 120_000])
def test_table_of_delivery(rpm: float) -> None:
    turbo = parts()
    table = charge_table((turbo,), AMBIENT, 5000 * RPM)
    flow = np.linspace(0.6, 0.95, 6) * {60_000: 0.10, 90_000: 0.15, 120_000: 0.19}[rpm]
    density = AMBIENT.pressure / (287.05 * AMBIENT.temperature)
    inlet = AMBIENT.pressure - turbo.inlet.at(flow, density)
    ratio = np.array([_ratio_at(turbo, m, rpm * RPM, p) for m, p in zip(flow, inlet, strict=True)])
    point = operating_point(turbo.compressor_map, turbo.exducer, flow, ratio, AMBIENT.temperature, inlet)
    np.testing.assert_allclose(point.speed, rpm * RPM, rtol=1e-6)
    hot = point.outlet_temperature
    cold = hot - 0.72 * (hot - AMBIENT.temperature)
    plenum = outlet = ratio * inlet
    for _ in range(20):
        plenum = outlet - turbo.charge_pipes.at(flow, plenum / (287.05 * cold))
        plenum = plenum - turbo.cooler.loss.at(flow, (outlet + plenum) / (287.05 * (hot + cold)))  # type: ignore[union-attr]
    same = np.zeros(flow.size, dtype=np.int64)
    got = table.at(same, np.full(flow.size, rpm * RPM), plenum)
    np.testing.assert_allclose(got.flow, flow, rtol=5e-3)
    np.testing.assert_allclose(got.power, point.power, rtol=1e-2)
    np.testing.assert_allclose(got.temperature, cold, rtol=2e-3)


def _ratio_at(turbo: object, m: float, omega: float, inlet: float) -> float:
    from boostwright.physics.compressor import blade_mach, flow_coefficient, pressure_ratio_of_head

    mach = blade_mach(omega, turbo.exducer, AMBIENT.temperature)  # type: ignore[attr-defined]
    phi = flow_coefficient(m, omega, turbo.exducer, AMBIENT.temperature, inlet)  # type: ignore[attr-defined]
    psi = turbo.compressor_map(np.atleast_1d(phi), np.atleast_1d(mach)).psi  # type: ignore[attr-defined]
    return float(pressure_ratio_of_head(psi, mach)[0])


@check("limit", note="drop with one mean heat capacity against the integral; 0.1 %")
def test_drop_in_short() -> None:
    gas = GAS._replace(slope=0.2, cp_ref=1300.0)
    ratio = np.linspace(1.02, 3.0, 40)
    np.testing.assert_allclose(
        _drop(gas, np.full(40, 1150.0), ratio), isentropic_drop(gas, 1150.0, ratio), rtol=1e-3
    )


def test_the_car_is_carried_along() -> None:
    second, third = (arrival(PullRequest(2000 * RPM, g), car=CAR).pulls[0] for g in (2, 3))
    assert second.arrival_speed > third.arrival_speed > 2000 * RPM
    assert second.arrival < third.arrival  # the engine outruns itself to where the exhaust is stronger


@check(
    "limit",
    note="a gate on its spring: at the end the area that its force balance opens passes, through an orifice, "
    "what the turbo's own balance sends past the turbine; 3 %, from 1 % of exhaust pressure",
)
def test_a_sprung_gate_ends_where_it_balances() -> None:
    gate = Gate(
        bench_crack=60e3, diaphragm_area=11e-4, port_diameter=26e-3, rod_travel=8e-3, rate=6e3,
        flow=GateFlow(0.7, 0.85), rod_arm=22e-3, valve_arm=22e-3,
    )  # fmt: skip

    def area(plenum: Array, outlet: Array, inlet: Array, back: Array) -> Array:
        return gate_state(gate, AMBIENT.pressure, plenum, outlet, inlet, back).area

    trace, *_ = followed(held(4000), gate_area=area, arrived=2.0, duration=5.0, lag=WARM)
    last, plenum = trace.moments[-1], trace.state.plenum[-1]
    assert plenum == pytest.approx(trace.state.plenum[-20], rel=2e-3)
    fuel, hot = last.air / 12.5, last.temperature
    point = turbo_point(parts(), AMBIENT, last.air, fuel, plenum, hot, GAS, pulses(4000))
    p3, p4 = point.exhaust_pressure, point.turbine_outlet_pressure
    passes = nozzle_flow(trace.state.gate[-1], p3, hot, p4, 288.5, GAS.gamma(hot))
    assert passes == pytest.approx(point.gate_flow, rel=0.03)
    wanted = gate_state(gate, AMBIENT.pressure, plenum, point.outlet_pressure, p3, p4).area
    assert trace.state.gate[-1] == pytest.approx(wanted, rel=0.03)
    assert 40e3 < plenum[0] - AMBIENT.pressure < 80e3

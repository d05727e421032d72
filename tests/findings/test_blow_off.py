"""The blow-off valve at lift-off: what must pass, what can pass, and where it goes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.findings.case import Case
from boostwright.findings.model import Finding, Verdict
from boostwright.systems.charge_air.lift_off import VALVE_COEFFICIENT, lift_off, time_to_surge, valve_area
from boostwright.systems.engine.idle import LightLoad
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import goal
from tests.systems.turbo_parts import parts

AIR_METER = '[controller]\nload = "air-meter"\n'


def with_valve(valve: str = "", rest: str = "", **line: object) -> Case:
    """A case with a compressor and, where told, a valve."""
    stated = f"[blow_off]\n{valve}\n" if valve else ""
    made = case(build(rest=stated + rest), replace(goal(), **line) if line else None)  # type: ignore[arg-type]
    return replace(made, extra={"turbo_parts": parts()})


def judged(valve: str, **line: object) -> Finding:
    return found("turbo.blow_off", with_valve(valve, **line))


def sizes(diameter: float, lift: float | None = None) -> str:
    h = 0.25 * diameter if lift is None else lift
    return f'source = "measured"\ndiameter = "{diameter} mm"\nlift = "{h} mm"'


# ------------------------------------------------------------------------------------------------------
# model


@check("limit", note="seat and curtain are alike at a quarter of the diameter; beyond it the seat rules")
def test_area_of_the_valve() -> None:
    seat = math.pi / 4 * 0.025**2
    assert float(valve_area(0.025, 0.00625)) == pytest.approx(VALVE_COEFFICIENT * seat)
    assert float(valve_area(0.025, 0.020)) == pytest.approx(VALVE_COEFFICIENT * seat)
    assert float(valve_area(0.025, 0.003)) == pytest.approx(VALVE_COEFFICIENT * math.pi * 0.025 * 0.003)


@check("limit", note="the surge flow is the map's own, asked for by hand at that speed; 1e-6")
def test_surge_flow_is_that_of_the_map() -> None:
    from boostwright.physics.compressor import (
        blade_mach,
        flow_coefficient,
        pressure_ratio_of_head,
        tip_speed,
    )

    turbo = parts()
    T, p, omega = 298.15, 98e3, 11000.0
    mach = blade_mach(omega, turbo.exducer, T)
    at = turbo.compressor_map(np.array(0.05), mach)
    surge = float(at.phi_surge / flow_coefficient(1.0, omega, turbo.exducer, T, p))  # [kg/s]
    m = 1.7 * surge
    made = lift_off(turbo.compressor_map, 3e-4, m, 1.7, tip_speed(omega, turbo.exducer), p, T, 98e3)
    assert float(made.surge_flow) == pytest.approx(surge, rel=1e-6)
    ratio = float(pressure_ratio_of_head(turbo.compressor_map.head(at.phi_surge, mach), mach))
    assert float(made.surge_pressure) == pytest.approx(p * ratio, rel=1e-6)
    assert ratio > 1.3


def test_a_point_that_did_not_settle_stays_blank() -> None:
    made = lift_off(
        parts().compressor_map, 3e-4, [0.1, np.nan], [1.5, np.nan], [340.0, np.nan], 98e3, 298.0, 98e3
    )
    assert np.isfinite(made.valve_flow[0])
    assert np.isnan(made.valve_flow[1])
    assert np.isnan(made.surge_flow[1])


@check("limit", note="8 L filled by 0.1 kg/s at 320 K by 20 kPa: V dp/(m R T) by hand, 17.4 ms; 0.1 %")
def test_time_to_surge() -> None:
    assert float(time_to_surge(8e-3, 0.1, 160e3, 180e3, 320.0)) == pytest.approx(17.42e-3, rel=1e-3)
    assert float(time_to_surge(8e-3, 0.1, 190e3, 180e3, 320.0)) == 0.0


# ------------------------------------------------------------------------------------------------------
# finding


def test_without_a_valve_nothing_gets_away() -> None:
    one = judged("fitted = false")
    assert one.verdict is Verdict.BREAKS
    assert "no valve" in fill(one.cause)
    assert fill(one.remedy).startswith("Fit one")


@check(
    "common practice",
    note="valves of 25 to 30 mm serve two-litre engines of moderate boost; 8 mm serves none",
)
def test_usual_sizes_hold_and_a_toy_does_not() -> None:
    assert judged(sizes(30.0)).verdict is Verdict.HOLDS
    assert judged(sizes(8.0)).verdict is Verdict.BREAKS


def test_larger_is_surer_and_a_disc_that_hardly_opens_is_none() -> None:
    odds = [judged(sizes(d)).probability for d in (10.0, 14.0, 18.0, 26.0)]
    assert odds == sorted(odds, key=lambda p: p or 0.0)
    assert odds[0] != odds[-1]
    assert judged(sizes(30.0, 1.5)).verdict is Verdict.BREAKS


def test_the_seat_of_the_remedy_holds() -> None:
    bad = judged(sizes(10.0))
    seat, travel = bad.remedy.amounts["seat"].value * 1e3, bad.remedy.amounts["travel"].value * 1e3
    assert travel == pytest.approx(seat / 4)
    good = judged(sizes(1.03 * seat, 1.03 * travel))
    assert good.verdict is Verdict.HOLDS
    assert judged(sizes(0.8 * seat, 0.8 * travel)).verdict is not Verdict.HOLDS


def test_a_compressor_closer_to_surge_asks_for_more() -> None:
    far, near = goal(), replace(goal(), flow_over_surge=0.8 * goal().flow_over_surge)
    a = found("turbo.blow_off", replace(case(line_with=far), extra={"turbo_parts": parts()}))
    b = found("turbo.blow_off", replace(case(line_with=near), extra={"turbo_parts": parts()}))
    assert a.demand is not None
    assert b.demand is not None
    assert b.demand.value > 1.1 * a.demand.value


def test_nothing_stated_is_a_usual_valve_that_can_hold_but_not_break() -> None:
    assumed = found("turbo.blow_off", with_valve())
    assert "is assumed" in fill(assumed.cause)
    small = replace(
        goal(), flow_over_surge=0.2 * goal().flow_over_surge
    )  # no valve of usual size passes that
    one = found("turbo.blow_off", replace(case(line_with=small), extra={"turbo_parts": parts()}))
    assert one.verdict is Verdict.UNKNOWN


def test_silent_without_a_compressor() -> None:
    assert maybe("turbo.blow_off", case()) is None
    assert maybe("turbo.blow_off_outlet", case()) is None


# ------------------------------------------------------------------------------------------------------
# outlet


def test_counted_air_into_the_open_breaks_and_everything_else_is_silent() -> None:
    wide_open = sizes(25.0) + '\noutlet = "open"'
    one = found("turbo.blow_off_outlet", with_valve(wide_open, AIR_METER))
    assert one.verdict is Verdict.BREAKS
    assert maybe("turbo.blow_off_outlet", with_valve(wide_open)) is None
    back = sizes(25.0) + '\noutlet = "recirculated"'
    assert maybe("turbo.blow_off_outlet", with_valve(back, AIR_METER)) is None
    assert maybe("turbo.blow_off_outlet", with_valve('fitted = false\noutlet = "open"', AIR_METER)) is None


def test_what_is_lost_is_set_against_the_idle_of_the_cycle() -> None:
    wide_open = sizes(25.0) + '\noutlet = "open"'
    with_idle = with_valve(wide_open, AIR_METER)
    two = np.array([1.0, 1.0])
    with_idle.extra["light_loads"] = LightLoad(two, two, np.array([5e-3, 9e-3]), two)
    one = found("turbo.blow_off_outlet", with_idle)
    assert one.demand is not None
    lost = one.cause.amounts["flow"].value
    assert one.cause.amounts["idle"].value == 5e-3
    assert one.demand.value == pytest.approx(lost / (lost + 5e-3))


# ------------------------------------------------------------------------------------------------------
# spring


def sprung(opens_at: str, idle: float = 35e3, more: str = "") -> Case:
    made = with_valve(f'source = "measured"\nopens_at = "{opens_at}"\n{more}')
    two = np.array([1.0, 1.0])
    made.extra["light_loads"] = LightLoad(two, np.array([idle, 50e3]), two, two)
    return made


@check("limit", note="by hand: 1.0 bar outside, 0.2 bar of boost and 35 kPa behind the throttle make 85 kPa")
def test_the_spring_has_boost_and_vacuum_to_open_it() -> None:
    one = found("turbo.blow_off_spring", sprung("50 kPa"))
    assert one.capacity is not None
    assert one.capacity.value == pytest.approx(85e3)
    assert one.verdict is Verdict.HOLDS
    stiff = found("turbo.blow_off_spring", sprung("110 kPa"))
    assert stiff.verdict is Verdict.BREAKS
    most = stiff.remedy.amounts["most"].value
    assert found("turbo.blow_off_spring", sprung(f"{0.99e-3 * most:.3f} kPa")).verdict is Verdict.HOLDS


def test_a_higher_plenum_leaves_less_to_open_it() -> None:
    low, high = (found("turbo.blow_off_spring", sprung("70 kPa", idle)) for idle in (30e3, 45e3))
    assert (low.probability or 0.0) > (high.probability or 0.0)


def test_an_open_outlet_must_stay_shut_at_idle() -> None:
    wide_open = 'outlet = "open"'
    soft = found("turbo.blow_off_idle", sprung("40 kPa", more=wide_open))
    assert soft.verdict is Verdict.BREAKS
    least = soft.remedy.amounts["least"].value
    held = found("turbo.blow_off_idle", sprung(f"{1.02e-3 * least:.3f} kPa", more=wide_open))
    assert held.verdict is Verdict.HOLDS
    assert maybe("turbo.blow_off_idle", sprung("40 kPa", more='outlet = "recirculated"')) is None
    assert maybe("turbo.blow_off_idle", sprung("40 kPa")) is None


def test_the_spring_is_silent_where_nothing_was_read() -> None:
    assert maybe("turbo.blow_off_spring", with_valve(sizes(25.0))) is None
    assert maybe("turbo.blow_off_spring", with_valve('opens_at = "50 kPa"')) is None  # idle was not run
    none_fitted = sprung("50 kPa", more="fitted = false")
    assert maybe("turbo.blow_off_spring", none_fitted) is None


@check(
    "limit",
    note="pipes, speed line and valve followed in time, shaft speed held: a valve a twentieth larger than"
    " asked for settles short of the surge line, one a twentieth smaller passes it",
)
@pytest.mark.parametrize(("factor", "surges"), [(1.05, False), (0.95, True)])
def test_what_is_asked_for_is_just_what_keeps_off_surge(factor: float, surges: bool) -> None:
    from boostwright.physics.compressor import (
        blade_mach,
        flow_coefficient,
        outlet_temperature,
        pressure_ratio_of_head,
        tip_speed,
    )
    from boostwright.physics.nozzle import nozzle_flow

    turbo, T, p1, omega = parts(), 298.15, 98e3, 11000.0
    mach = blade_mach(omega, turbo.exducer, T)
    per_flow = float(flow_coefficient(1.0, omega, turbo.exducer, T, p1))
    at = turbo.compressor_map(np.array(0.05), mach)
    phi = np.linspace(float(at.phi_surge), float(at.phi_end), 400)
    line = p1 * pressure_ratio_of_head(turbo.compressor_map.head(phi, np.full(400, float(mach))), mach)
    surge = phi[0] / per_flow
    made = lift_off(turbo.compressor_map, 1.0, surge, 1.0, tip_speed(omega, turbo.exducer), p1, T, p1)
    area = factor * surge / float(made.valve_flow)  # that passes so much of what is asked for
    T2 = float(outlet_temperature(T, made.surge_pressure / p1, 0.6))
    start = int(np.argmax(line < 0.97 * line[0]))  # somewhere to the right of the line
    p, dt, volume = float(line[start]), 2e-4, 8e-3
    for _ in range(4000):
        flow = float(np.interp(-p, -line, phi)) / per_flow  # the speed line falls to the right
        valve = float(nozzle_flow(area, p, T2, p1, 287.05, 1.4))
        p += dt * (flow - valve) * 287.05 * T2 / volume
        if p > line[0]:
            break
    assert bool(p > line[0]) is surges


@pytest.mark.parametrize("stated", ['outlet = "recirculated"', "fitted = true", 'lift = "2 mm"'])
def test_a_valve_of_which_nobody_told_the_seat_cannot_break(stated: str) -> None:
    near = {"flow_over_surge": 0.2 * goal().flow_over_surge}  # no valve of usual size passes that
    one = judged(stated, **near)
    assert one.verdict is Verdict.UNKNOWN
    assert "size of the blow-off valve is not stated" in fill(one.cause)
    assert judged(sizes(25.0), **near).verdict is Verdict.BREAKS
    assert judged("fitted = false", **near).verdict is Verdict.BREAKS

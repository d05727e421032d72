"""The fuel side as a whole: conservation, limits of its parts, and what a short pump does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.fuel_line import Reference, line_loss, orifice_loss
from boostwright.physics.pump import PumpCurve, pump_flow
from boostwright.systems.fuel_side import (
    FuelParts,
    Injectors,
    Lines,
    Regulator,
    fuel_line,
    idle_pulse,
    idle_rail,
)
from tests.labels import check

LPH = 1e-3 / 3600
PARTS = FuelParts(
    injectors=Injectors(4, 440e-6 / 60, 3e5, 683.8, 0.95e-3, 0.12e-3, 3e5),
    pump=PumpCurve(200 * LPH, 13.5),
    pump_voltage=12.8,
    regulator=Regulator(Reference.MANIFOLD, 3e5, 0.02, 0.6 * np.pi / 4 * 3.5e-3**2),
    lines=Lines(7e-3, 4.0, 6e-3, 4.0, 8e3, 100 * LPH),
    density=745.0,
)
SPEED = np.linspace(150.0, 680.0, 9)
FUEL = np.linspace(1.5e-3, 11e-3, 9)


def short(parts: FuelParts, flow: float) -> FuelParts:
    return replace(parts, pump=parts.pump._replace(free_flow=flow * LPH))


def with_reference(parts: FuelParts, reference: Reference) -> FuelParts:
    return replace(parts, regulator=replace(parts.regulator, reference=reference))


def test_an_ample_pump_leaves_the_rail_alone() -> None:
    line = fuel_line(PARTS, FUEL, 1.6e5, SPEED, 1e5, 0.80)
    assert np.all(line.pump_margin > 1)
    assert line.difference == pytest.approx(line.set_difference)
    assert line.lam == pytest.approx(0.80)
    assert line.fuel_flow == pytest.approx(FUEL)
    assert np.all(np.diff(line.duty) > 0)


@check("conservation", note="what the pump pushes through the feed line is what its own curve gives there")
@given(st.sampled_from(list(Reference)), st.floats(40, 400), st.floats(9.5, 14.5))
@settings(max_examples=40, deadline=None)
def test_pump_and_line_agree(reference: Reference, flow: float, volts: float) -> None:
    parts = replace(with_reference(short(PARTS, flow), reference), pump_voltage=volts)
    line = fuel_line(parts, FUEL, 1.5e5, SPEED, 1e5, 0.80)
    assert pump_flow(parts.pump, line.pump_pressure, volts) == pytest.approx(
        line.pump_available, rel=1e-6, abs=2e-9
    )


@check("conservation", note="with a short pump the injectors take exactly what the pump gives at that rail")
@given(st.sampled_from(list(Reference)), st.floats(15, 45))
@settings(max_examples=40, deadline=None)
def test_a_sagging_rail_closes(reference: Reference, flow: float) -> None:
    big = replace(PARTS, injectors=replace(PARTS.injectors, flow=900e-6 / 60))
    parts = with_reference(short(big, flow), reference)
    line = fuel_line(parts, FUEL, 1.5e5, SPEED, 1e5, 0.80)
    sags = line.pump_margin < 1
    assert sags[-1]
    taken = line.fuel_flow / parts.density
    lines = parts.lines
    loss = line_loss(taken, lines.feed_bore, lines.feed_length, parts.density)
    loss = loss + lines.filter_loss * (taken / lines.filter_flow) ** 1.3
    given_ = pump_flow(parts.pump, line.difference + 0.5e5 + loss, parts.pump_voltage)
    assert given_[sags] == pytest.approx(taken[sags], rel=1e-5)
    assert np.all(line.difference[sags] < line.set_difference[sags])
    assert np.all(line.lam[sags] > 0.80)
    ratio = np.sqrt(line.difference / line.set_difference)
    assert line.lam == pytest.approx(0.80 / ratio)


@check("limit", note="an injector open all the time passes its flow and no more: lambda grows with the rest")
def test_injectors_that_never_close() -> None:
    small = replace(PARTS, injectors=replace(PARTS.injectors, flow=150e-6 / 60))
    line = fuel_line(small, FUEL, 1.6e5, SPEED, 1e5, 0.80)
    full = line.open_time > 4 * np.pi / SPEED
    assert full.any()
    assert line.fuel_flow[full] == pytest.approx(4 * line.injector_flow[full])
    assert line.lam[full] == pytest.approx(0.80 * FUEL[full] / line.fuel_flow[full])


@check("limit", id="J9", note="J9 through the whole system: sqrt((dp - boost)/dp)")
@given(st.floats(0.1e5, 1.4e5))
@settings(max_examples=25, deadline=None)
def test_an_unreferenced_rail_in_the_whole(boost: float) -> None:
    parts = replace(PARTS, regulator=replace(PARTS.regulator, droop=0.0))
    a = fuel_line(parts, 4e-3, 1e5 + boost, 400.0, 1e5)
    b = fuel_line(with_reference(parts, Reference.ATMOSPHERE), 4e-3, 1e5 + boost, 400.0, 1e5)
    assert float(a.open_time[0] / b.open_time[0]) == pytest.approx(np.sqrt((3e5 - boost) / 3e5), rel=1e-9)


def test_less_voltage_and_thin_air_leave_less_pump() -> None:
    usual = fuel_line(PARTS, FUEL, 1.6e5, SPEED, 1e5)
    sagging = fuel_line(replace(PARTS, pump_voltage=11.0), FUEL, 1.6e5, SPEED, 1e5)
    high = fuel_line(PARTS, FUEL, 1.6e5, SPEED, 0.78e5)  # the same plenum is more boost up there
    assert np.all(sagging.pump_available < usual.pump_available)
    assert np.all(high.pump_available < usual.pump_available)
    outside = with_reference(PARTS, Reference.ATMOSPHERE)
    assert np.all(
        fuel_line(outside, FUEL, 1.6e5, SPEED, 0.78e5).difference
        < fuel_line(outside, FUEL, 1.6e5, SPEED, 1e5).difference
    )


def test_what_is_not_known_stays_unknown() -> None:
    fuel = FUEL.copy()
    fuel[3] = np.nan
    line = fuel_line(PARTS, fuel, 1.6e5, SPEED, 1e5)
    for values in line:
        assert np.isnan(values[3])
        assert np.all(np.isfinite(np.delete(values, 3)))


@check("conservation", note="at idle pump flow is return flow and what idle takes; seat and line carry it")
@given(st.floats(150, 500), st.floats(2.0e-3, 6e-3), st.floats(4e-3, 9e-3))
@settings(max_examples=40, deadline=None)
def test_the_idle_rail_closes(flow: float, seat: float, bore: float) -> None:
    parts = replace(
        short(PARTS, flow),
        regulator=replace(PARTS.regulator, seat_area=0.6 * np.pi / 4 * seat**2),
        lines=replace(PARTS.lines, return_bore=bore),
    )
    rail = idle_rail(parts, 0.18e-3, 33e3, 1e5)
    gauge = float(rail.difference[0]) + 33e3 - 1e5
    total = float(rail.return_flow[0]) + 0.18e-3 / 745.0
    lines = parts.lines
    feed = float(line_loss(total, lines.feed_bore, lines.feed_length, 745.0))
    feed += lines.filter_loss * (total / lines.filter_flow) ** 1.3
    assert float(pump_flow(parts.pump, gauge + feed, parts.pump_voltage)) == pytest.approx(total, rel=1e-5)
    back = float(orifice_loss(rail.return_flow[0], parts.regulator.seat_area, 745.0))
    back += float(line_loss(rail.return_flow[0], bore, 4.0, 745.0))
    if rail.overrun[0] > 0:
        assert back == pytest.approx(gauge, rel=1e-5)
    else:
        assert back <= gauge * (1 + 1e-9)
        assert rail.difference[0] == pytest.approx(3e5)


def test_a_wider_seat_never_lifts_the_idle_rail_and_a_bigger_pump_never_lowers_it() -> None:
    def overrun(flow: float, seat: float) -> float:
        parts = replace(
            short(PARTS, flow), regulator=replace(PARTS.regulator, seat_area=0.6 * np.pi / 4 * seat**2)
        )
        return float(idle_rail(parts, 0.18e-3, 33e3, 1e5).overrun[0])

    assert overrun(400, 2.5e-3) > overrun(400, 3.0e-3) >= overrun(400, 6e-3)
    assert overrun(400, 2.5e-3) > overrun(250, 2.5e-3) >= overrun(80, 2.5e-3) == 0.0


def test_bigger_injectors_leave_a_shorter_pulse_at_idle() -> None:
    pulses = [
        float(
            idle_pulse(
                replace(PARTS, injectors=replace(PARTS.injectors, flow=q * 1e-6 / 60)),
                0.18e-3,
                89.0,
                33e3,
                1e5,
            )[0]
        )
        for q in (200, 440, 1000)
    ]
    assert pulses[0] > pulses[1] > pulses[2] > 0.95e-3

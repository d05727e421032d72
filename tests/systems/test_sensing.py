"""What the controller sees, and what a single failure makes of boost and mixture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.fuel_line import Reference
from boostwright.physics.pressure_sensor import Transfer
from boostwright.physics.pump import pump_flow
from boostwright.readers.build_file import read_build
from boostwright.systems.failures import Stop, overboost, sagged, signal_lost, stops, weak_pump
from boostwright.systems.sensing import Controller, LoadFrom, PressureSensor, Reaction, seen_of
from boostwright.systems.stated.fuel_side import fuel_side_of, uncertain_of
from boostwright.systems.stated.sensing import controller_of, pressure_sensor_of
from tests.findings.test_subjects import MINIMAL
from tests.labels import check

CONTROLLER = Controller(
    LoadFrom.PRESSURE, 1.9e5, 2.2e5, 0.85e5, None, None, False, Reaction.UNKNOWN, Reaction.UNKNOWN
)
LONG, SHORT = (PressureSensor(Transfer(20e3, top), True) for top in (250e3, 105e3))
SHUT = np.array([1.4e5, 1.8e5, 2.3e5, 2.6e5])
AIR = np.array([0.05, 0.09, 0.14, 0.16])


def read(rest: str):  # type: ignore[no-untyped-def]
    return read_build(MINIMAL.format(engine="", fuel="", rest=rest).encode())


@check("limit", note="fuel goes with the pressure seen: beyond the sensor's end lambda grows by p/p_end")
@given(st.floats(0.5e5, 3e5))
def test_a_controller_by_pressure_leans_beyond_its_sensor(p: float) -> None:
    seen = seen_of(CONTROLLER, SHORT, 0.80, p, 0.1)
    assert float(seen.lam[0]) == pytest.approx(0.80 * max(1.0, p / 105e3))
    assert bool(seen.clipped[0]) is (p > 105e3)
    assert not seen.cuts.any()  # its cut lies beyond what it can see


def test_a_meter_leans_beyond_its_own_end_and_not_with_pressure() -> None:
    by_air = replace(CONTROLLER, load=LoadFrom.AIR_METER, meter_highest=0.10)
    seen = seen_of(by_air, SHORT, 0.80, SHUT, AIR)
    assert seen.lam == pytest.approx([0.80, 0.80, 0.80 * 1.4, 0.80 * 1.6])
    unknown = replace(by_air, meter_highest=None)
    assert seen_of(unknown, SHORT, 0.80, SHUT, AIR).lam == pytest.approx(0.80)


def test_a_cut_within_the_sensors_range_trips() -> None:
    assert CONTROLLER.cut_trips(LONG)
    assert not CONTROLLER.cut_trips(SHORT)
    assert not replace(CONTROLLER, boost_cut=None).cut_trips(LONG)
    assert list(seen_of(CONTROLLER, LONG, 0.8, SHUT, AIR).cuts) == [False, False, True, True]


def test_a_shut_gate_is_caught_by_the_cut_or_by_nothing() -> None:
    caught = overboost(SHUT, AIR, 0.80, CONTROLLER, LONG, 5e3)
    assert caught.pressure == pytest.approx([1.4e5, 1.8e5, 1.95e5, 1.95e5])
    assert caught.stop == (Stop.TURBO, Stop.TURBO, Stop.CUT, Stop.CUT)
    assert caught.lam == pytest.approx(0.80)
    free = overboost(SHUT, AIR, 0.80, CONTROLLER, SHORT, 5e3)
    assert free.pressure == pytest.approx(SHUT)
    assert set(free.stop) == {Stop.NOTHING}
    assert free.lam == pytest.approx(0.80 * SHUT / 105e3)


@given(st.floats(1.1e5, 3e5), st.floats(1.2e5, 2.4e5), st.floats(0, 0.2e5))
def test_a_cut_never_lets_more_through_than_the_turbo_gives(p: float, cut: float, rise: float) -> None:
    one = overboost(p, 0.1, 0.8, replace(CONTROLLER, boost_cut=cut), LONG, rise)
    assert float(one.pressure[0]) <= p
    assert float(one.pressure[0]) <= max(cut + rise, 0.0) or one.stop[0] is Stop.TURBO


def test_a_lost_signal_leans_by_pressure_and_not_by_air() -> None:
    assert float(signal_lost(CONTROLLER, 0.8, 1.6e5, 1.0e5)) == pytest.approx(1.28)
    assert float(signal_lost(replace(CONTROLLER, load=LoadFrom.AIR_METER), 0.8, 1.6e5, 1e5)) == 0.8


def test_reactions() -> None:
    assert stops(Reaction.UNKNOWN) is None
    assert stops(Reaction.STOPS) is True
    assert stops(Reaction.NOTHING) is False


def test_what_a_build_states_arrives() -> None:
    rest = """
[controller]
load = "air-meter"
boost_cut = "180 kPa"
meter_highest = "150 g/s"
sensor_fault = "limits"
lean_guard = "none"
[throttle]
kind = "electronic"
[pressure_sensor]
highest = "250 kPa"
lowest = "20 kPa"
voltage_lowest = "0.40 V"
voltage_highest = "4.65 V"
"""
    own = controller_of(read(rest))
    assert own.load is LoadFrom.AIR_METER
    assert own.boost_cut == pytest.approx(180e3)
    assert own.meter_highest == pytest.approx(0.15)
    assert own.electronic_throttle
    assert own.on_sensor_fault is Reaction.STOPS
    assert own.on_lean is Reaction.NOTHING
    sensor = pressure_sensor_of(read(rest))
    assert sensor.known
    assert tuple(sensor.transfer) == pytest.approx((20e3, 250e3, 0.40, 4.65))


@check("common practice", note="a sensor of unknown transfer is taken to end at 105 kPa absolute")
def test_an_unknown_sensor_ends_at_105_kPa() -> None:
    sensor = pressure_sensor_of(read(""))
    assert not sensor.known
    assert float(np.asarray(sensor.transfer.highest)) == pytest.approx(105e3)
    assert controller_of(read("")).on_lean is Reaction.UNKNOWN


def test_the_fuel_side_that_a_build_states() -> None:
    rest = """
[pump]
flow = "255 L/h"
flow_pressure = "3 bar"
flow_voltage = "13.5 V"
voltage = "12.4 V"
shut_off_pressure = "7 bar"
[regulator]
reference = "tank"
pressure = "3.5 bar"
"""
    parts = fuel_side_of(read(rest))
    assert parts.regulator.reference is Reference.TANK
    assert float(pump_flow(parts.pump, 3e5, 13.5)) == pytest.approx(255e-3 / 3600)
    assert float(np.asarray(parts.pump.relief_pressure)) == pytest.approx(7e5)
    assert parts.injectors.dead_time_difference == pytest.approx(3.5e5)
    moved = fuel_side_of(read(rest), {"pump.voltage": 11.0, "injectors.dead_time": 2e-3})
    assert moved.pump_voltage == 11.0
    assert moved.injectors.dead_time == 2e-3
    names = {name for name, _, _ in uncertain_of(read(rest))}
    assert {"pump.flow", "regulator.pressure", "regulator.seat_bore"} <= names
    assert all(sd > 0 for _, _, sd in uncertain_of(read(rest)))


def test_less_voltage_and_a_weak_pump_change_only_themselves() -> None:
    parts = fuel_side_of(read(""))
    low = sagged(parts, 1.8)
    assert low.pump_voltage == pytest.approx(parts.pump_voltage - 1.8)
    assert low.injectors.voltage == pytest.approx(parts.injectors.voltage - 1.8)
    assert low.regulator == parts.regulator
    half = weak_pump(parts, 0.5)
    assert pump_flow(half.pump, 3e5, 12.5) == pytest.approx(0.5 * pump_flow(parts.pump, 3e5, 12.5))

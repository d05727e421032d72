"""The oil of an engine with a turbo on it: pressure over speed, bottle, idle, heat of pulls."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.library.oil import oil_constant
from boostwright.systems.oil import (
    READ_AT,
    OilHeat,
    OilSide,
    after_pulls,
    bearing_by_bottle,
    bore_by_bottle,
    drain_of,
    feed_at,
    gauge_pressure,
    head_of,
    idle_with_turbo,
    minutes_to,
)
from tests.labels import check

RPM = math.pi / 30.0
LITRE_A_MINUTE = 1e-3 / 60.0
SIDE = OilSide(
    idle_speed=850 * RPM, idle_pressure=1.5e5, middle_pressure=4.0e5, growth=1.15, top_speed=6200 * RPM,
    slide=0.5, at_40=85e-6, at_100=14.2e-6, temperature=383.15, restrictor=math.inf, bearing=1.0e-12,
    drain_bore=16e-3, drain_slope=0.7, drain_drop=0.2, air=0.45, law=1.0,
)  # fmt: skip
HEAT = OilHeat(extra=6e3, conductance=80.0, store=26e3, before=373.15)


@check("limit", note="the line of pressure passes through what was read, and never falls; exact")
def test_pressure_passes_through_the_readings() -> None:
    assert gauge_pressure(SIDE, 850 * RPM) == pytest.approx(1.5e5)
    assert gauge_pressure(SIDE, 3000 * RPM) == pytest.approx(4.0e5)
    assert gauge_pressure(SIDE, 6200 * RPM) == pytest.approx(4.6e5)
    assert gauge_pressure(SIDE, 500 * RPM) == pytest.approx(1.5e5)
    steps = [gauge_pressure(SIDE, n * RPM) for n in range(600, 7000, 200)]
    assert np.all(np.diff(steps) >= 0.0)
    assert gauge_pressure(replace(SIDE, idle_speed=3500 * RPM), 3000 * RPM) == pytest.approx(4.0e5)


@pytest.mark.parametrize("bore", [math.inf, 3e-3, 1.2e-3])
@check("limit", note="a bottle at hot idle, read back through feed and bearing at hot idle; exact")
def test_a_bottle_reads_back(bore: float) -> None:
    flow = 0.6 * LITRE_A_MINUTE
    bearing = bearing_by_bottle(flow, SIDE.idle_pressure, bore, SIDE.at_40, SIDE.at_100)
    side = replace(SIDE, restrictor=bore, bearing=bearing)
    assert feed_at(side, side.idle_speed, READ_AT).flow == pytest.approx(flow, rel=1e-9)


def test_a_bottle_that_no_restrictor_lets_through_leaves_a_wide_bearing() -> None:
    bearing = bearing_by_bottle(3.0 * LITRE_A_MINUTE, 1.5e5, 0.8e-3, SIDE.at_40, SIDE.at_100)
    assert math.isfinite(bearing)
    assert bearing > 5.0e-12


@check(
    "limit", note="a bearing of a twentieth of the pressure behind the bore found takes just that flow; exact"
)
def test_least_bore_of_a_bottle() -> None:
    flow = 3.0 * LITRE_A_MINUTE
    bore = bore_by_bottle(flow, 1.5e5)
    bearing = bearing_by_bottle(flow, 1.5e5, bore, SIDE.at_40, SIDE.at_100)
    at = feed_at(replace(SIDE, restrictor=bore, bearing=bearing), SIDE.idle_speed, READ_AT)
    assert at.flow == pytest.approx(flow, rel=1e-9)
    assert at.behind == pytest.approx(0.05 * 1.5e5, rel=1e-9)
    assert bore_by_bottle(flow, 0.0) == 0.0


@check(
    "limit", note="a bearing that takes nothing leaves the reading; one that takes all the pump gives, half"
)
def test_the_turbo_takes_its_share_at_idle() -> None:
    tight = replace(SIDE, bearing=1e-20)
    assert idle_with_turbo(tight, 1e-4) == pytest.approx(1.5e5, rel=1e-6)
    taken = feed_at(SIDE, SIDE.idle_speed, READ_AT).flow
    assert idle_with_turbo(SIDE, taken) == pytest.approx(0.75e5)
    assert idle_with_turbo(SIDE, 1e-4) < idle_with_turbo(SIDE, 2e-4) < 1.5e5


@check(
    "common practice",
    note="a gauge shows up to 0.3 bar less at hot idle once a plain bearing is fed; 1.7 litres, 850 rpm",
)
def test_fall_at_hot_idle() -> None:
    pump = oil_constant("pump", "idle").value * 850.0 / 60.0 * 1.7e-3
    assert 0.05e5 < 1.5e5 - idle_with_turbo(SIDE, pump) < 0.3e5


def test_each_thing_moves_the_flow_its_own_way() -> None:
    usual = feed_at(SIDE, 4000 * RPM).flow
    assert feed_at(replace(SIDE, temperature=403.15), 4000 * RPM).flow > usual
    assert feed_at(replace(SIDE, middle_pressure=3e5), 4000 * RPM).flow < usual
    assert feed_at(replace(SIDE, restrictor=1e-3), 4000 * RPM).flow < 0.5 * usual
    assert feed_at(replace(SIDE, bearing=1.3e-12), 4000 * RPM).flow == pytest.approx(1.3 * usual)
    fixed, sliding = (
        feed_at(replace(SIDE, slide=s, temperature=403.15), 4000 * RPM).flow for s in (0.0, 1.0)
    )
    assert sliding < fixed
    at_reading = feed_at(replace(SIDE, slide=1.0), 4000 * RPM, READ_AT).flow
    assert sliding == pytest.approx(at_reading, rel=1e-9)  # pressure and viscosity fall alike


def test_drain_and_column() -> None:
    at = feed_at(SIDE, SIDE.top_speed)
    assert drain_of(replace(SIDE, law=0.8), at) == pytest.approx(0.8 * drain_of(SIDE, at))
    assert drain_of(replace(SIDE, drain_slope=-0.1), at) == 0.0
    assert head_of(replace(SIDE, drain_drop=0.1)) == pytest.approx(0.5 * head_of(SIDE))
    assert head_of(replace(SIDE, drain_drop=-0.05)) == 0.0


@check(
    "common practice",
    note="crankcase under half of the drain's head, about 0.5 kPa for 150 mm: clear oil 1.2",
)
def test_column_of_150_mm() -> None:
    assert 0.5e3 < head_of(replace(SIDE, drain_drop=0.15)) < 0.9e3


@check(
    "limit", note="a pull without end, pulls without a pause, and no pull at all; exact for one time constant"
)
def test_oil_after_pulls() -> None:
    end = HEAT.before + HEAT.extra / HEAT.conductance
    assert after_pulls(HEAT, 1e6, 0.0, 1) == pytest.approx(end)
    assert after_pulls(HEAT, 10.0, 0.0, 3) == pytest.approx(after_pulls(HEAT, 30.0, 0.0, 1))
    assert after_pulls(HEAT, 10.0, 1e9, 3) == pytest.approx(after_pulls(HEAT, 10.0, 0.0, 1))
    assert after_pulls(HEAT, 0.0, 5.0, 3) == pytest.approx(HEAT.before)
    assert after_pulls(HEAT, 10.0, 20.0, 3) < after_pulls(HEAT, 10.0, 5.0, 3)


@check("conservation", note="short pulls from cold: heat in over heat held; 1 % for what already leaves")
def test_first_seconds_hold_all_the_heat() -> None:
    assert after_pulls(HEAT, 2.0, 0.0, 1) - HEAT.before == pytest.approx(2.0 * 6e3 / 26e3, rel=0.01)


@check("limit", note="time to a temperature is the inverse of the temperature after that time; 1e-9")
def test_minutes_to_a_limit() -> None:
    time = minutes_to(HEAT, 403.15)
    assert after_pulls(HEAT, time, 0.0, 1) == pytest.approx(403.15, rel=1e-9)
    assert minutes_to(HEAT, 370.0) == 0.0
    assert minutes_to(HEAT, 500.0) == math.inf

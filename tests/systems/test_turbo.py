"""One operating point of the turbo side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.physics.compressor import CP_AIR, R_AIR
from boostwright.physics.compressor_sizes import WheelFactors
from boostwright.physics.turbine import Bearing, ExhaustGas, isentropic_drop
from boostwright.systems.turbo import (
    Ambient,
    Cooler,
    Pulses,
    Restriction,
    TurbineFactors,
    TurboPoint,
    TurboStatus,
    turbo_point,
    unboosted_plenum_pressure,
)
from tests.labels import check
from tests.systems.turbo_parts import AMBIENT, COOLER, EXHAUST, INCH, parts

RPM = np.pi / 30
PARTS = parts()
GAS = ExhaustGas(290.0, 1305.0, 0.24, 1150.0)
OLD_CONSTANTS = ExhaustGas(288.5, 1190.0, 0.0, 1150.0)
FLOW = np.array([0.0902, 0.1217, 0.1480, 0.1632])
T3 = np.array([1100.0, 1150.0, 1190.0, 1215.0])


def full_load(**others: object) -> TurboPoint:
    turbo = others.pop("parts", PARTS)
    return turbo_point(turbo, AMBIENT, FLOW, FLOW / 12.5, 180e3, T3, GAS, **others)  # type: ignore[arg-type]


@check(
    "regression", id="D7",
    note="a two-litre four at 1.8 bar, computed once by another program with the same relations and gas "
    "constants but a cooler by conductance: exhaust pressure 2 %, gate share 2 points, the rest 1 %",
)  # fmt: skip
def test_reference_engine() -> None:
    air = np.array([0.0902, 0.1059, 0.1217, 0.1363, 0.1480, 0.1575, 0.1632, 0.1660])
    T = np.array([1100, 1125, 1150, 1170, 1190, 1202, 1215, 1225.0])
    compact = Pulses(
        np.array([0.977, 0.983, 0.988, 0.993, 0.995, 0.997, 0.998, 0.998]),
        np.array([1.04, 1.03, 1.02, 1.01, 1.01, 1.0, 1.0, 1.0]),
    )
    ours = turbo_point(PARTS, AMBIENT, air, air / 12.5, 180e3, T, OLD_CONSTANTS, compact)
    rpm = np.array([109374, 111010, 113131, 115511, 117694, 119801, 121237, 122024.0])
    p3 = np.array([172.4, 184.0, 196.8, 209.8, 221.0, 231.1, 237.7, 241.4])
    share = np.array([20.7, 26.9, 31.2, 33.9, 35.8, 36.7, 37.2, 37.3])
    power = np.array([7.24, 8.42, 9.69, 10.96, 12.06, 13.07, 13.75, 14.11])
    friction = np.array([0.30, 0.30, 0.32, 0.33, 0.34, 0.35, 0.36, 0.36])
    np.testing.assert_allclose(ours.compressor.speed / RPM, rpm, rtol=0.01)
    np.testing.assert_allclose(ours.exhaust_pressure / 1e3, p3, rtol=0.02)
    np.testing.assert_allclose(100 * ours.gate_share, share, atol=2.0)
    np.testing.assert_allclose(ours.compressor.power / 1e3, power, rtol=0.01)
    np.testing.assert_allclose(ours.bearing_loss / 1e3, friction, atol=0.006)
    assert np.all(ours.status == TurboStatus.HOLDS)


@check("conservation", note="mass: turbine and gate together pass air and fuel; 1e-12")
def test_mass() -> None:
    point = full_load()
    np.testing.assert_allclose(point.turbine_flow + point.gate_flow, FLOW * (1 + 1 / 12.5), rtol=1e-12)
    assert np.all((point.gate_share > 0) & (point.gate_share < 1))


@check(
    "conservation",
    note="energy: turbine power is compressor power and bearing loss, from temperatures; 1e-3",
)
def test_energy_on_the_shaft() -> None:
    point = full_load()
    into_air = FLOW * CP_AIR * (point.compressor.outlet_temperature - AMBIENT.temperature)
    drop = isentropic_drop(GAS, T3, point.exhaust_pressure / point.turbine_outlet_pressure)
    from_gas = point.turbine_flow * point.turbine_efficiency * drop
    np.testing.assert_allclose(from_gas, into_air + point.bearing_loss, rtol=1e-3)
    np.testing.assert_allclose(point.turbine_power, point.compressor.power + point.bearing_loss, rtol=1e-9)


@check(
    "conservation",
    note="pressure: each loss stands between its two stations; 1e-6, the settling of the losses",
)
def test_pressures_along_the_charge_side() -> None:
    point = full_load()
    ambient_density = AMBIENT.pressure / (R_AIR * AMBIENT.temperature)
    np.testing.assert_allclose(point.inlet_pressure, AMBIENT.pressure - PARTS.inlet.at(FLOW, ambient_density))
    T_mean = (point.compressor.outlet_temperature + point.plenum_temperature) / 2
    pipes = PARTS.charge_pipes.at(FLOW, 180e3 / (R_AIR * point.plenum_temperature))
    p_mean = (180e3 + pipes + point.outlet_pressure) / 2
    core = COOLER.loss.at(FLOW, p_mean / (R_AIR * T_mean))
    np.testing.assert_allclose(point.outlet_pressure, 180e3 + pipes + core, rtol=1e-6)
    np.testing.assert_allclose(
        point.compressor.pressure_ratio, point.outlet_pressure / point.inlet_pressure, rtol=1e-6
    )


@check(
    "limit",
    note="isothermal flow through one restriction, density at the mean pressure; exact",
)
def test_exhaust_back_pressure() -> None:
    point = full_load()
    wanted = point.compressor.power + point.bearing_loss
    T4 = T3 - wanted / (point.exhaust_flow * GAS.cp(T3))
    mean_density = (point.turbine_outlet_pressure + AMBIENT.pressure) / 2 / (GAS.R * T4)
    np.testing.assert_allclose(
        point.turbine_outlet_pressure - AMBIENT.pressure,
        EXHAUST.at(point.exhaust_flow, mean_density),
        rtol=1e-9,
    )


def test_a_turbine_that_cannot_make_it_says_so() -> None:
    point = turbo_point(PARTS, AMBIENT, 0.045, 0.0036, 180e3, 1000.0, GAS)
    assert int(point.status) == TurboStatus.TURBINE_SHORT
    assert float(point.surplus) < 0
    assert float(point.gate_share) == 0.0
    assert float(point.turbine_power) < float(point.compressor.power + point.bearing_loss)


def test_a_compressor_that_cannot_make_it_says_so() -> None:
    point = turbo_point(PARTS, AMBIENT, 0.12, 0.0096, 600e3, 1150.0, GAS)
    assert int(point.status) == TurboStatus.COMPRESSOR_SHORT
    assert float(point.compressor.pressure_ratio) < float(point.outlet_pressure / point.inlet_pressure)


@check(
    "limit",
    note="at the edge the gate closes: share and surplus reach zero together, and nothing jumps there",
)
def test_the_gate_closes_smoothly() -> None:
    plenum = np.linspace(150e3, 180e3, 1201)  # the turbine runs out within this range
    point = turbo_point(PARTS, AMBIENT, 0.0600, 0.0048, plenum, 1030.0, GAS)
    assert 0 < np.argmax(point.surplus < 0) < 1200
    for name in (
        "exhaust_pressure",
        "plenum_temperature",
        "turbine_power",
        "turbine_outlet_pressure",
        "expansion_ratio",
    ):
        values = getattr(point, name)
        assert np.max(np.abs(np.diff(values) / values[1:])) < 0.002, name
    edge = int(np.argmax(point.surplus < 0))
    assert float(point.gate_share[edge - 1]) < 1e-3
    assert float(point.gate_share[edge]) == 0.0


@check("limit", note="no jump: steps of 0.1 % in any input move nothing by more than 1 %")
@pytest.mark.parametrize("vary", ["air", "plenum", "temperature"])
def test_outputs_are_continuous(vary: str) -> None:
    steps = 1.001 ** np.arange(250)
    here = {"air": np.full(250, 0.11), "plenum": np.full(250, 165e3), "temperature": np.full(250, 1080.0)}
    here[vary] = here[vary] * steps
    point = turbo_point(
        PARTS, AMBIENT, here["air"], here["air"] / 12.5, here["plenum"], here["temperature"], GAS
    )
    for name, values in point._asdict().items():
        if name in ("compressor", "status"):
            continue
        assert np.max(np.abs(np.diff(values)) / np.maximum(np.abs(values[1:]), 1e-9)) < 0.01, name


@check(
    "limit",
    note="similarity: ambient, plenum and flow scaled by s give the same ratios; the bearing breaks it, so "
    "it is made s times as weak; settling of the losses 1e-6",
)  # fmt: skip
@settings(max_examples=15, deadline=None)
@given(s=st.floats(0.6, 1.1))
def test_thin_air(s: float) -> None:
    square = replace(PARTS, cooler=replace(COOLER, loss=Restriction(4e3, 0.15, 2.0)))  # no 1.8th powers
    here = full_load(parts=square)
    there = turbo_point(
        replace(square, turbine_factors=TurbineFactors(bearing=s)),
        Ambient(s * AMBIENT.pressure, AMBIENT.temperature),
        s * FLOW, s * FLOW / 12.5, s * 180e3, T3, GAS,
    )  # fmt: skip
    np.testing.assert_allclose(there.compressor.speed, here.compressor.speed, rtol=1e-6)
    np.testing.assert_allclose(there.expansion_ratio, here.expansion_ratio, rtol=1e-6)
    np.testing.assert_allclose(there.gate_share, here.gate_share, atol=1e-6)
    np.testing.assert_allclose(there.exhaust_pressure, s * here.exhaust_pressure, rtol=1e-6)


@check(
    "common practice",
    note="a smaller housing asks more exhaust pressure at power and has more to give at low flow",
)
def test_smaller_housing() -> None:
    small, large = parts(turbine=(0.050, 0.044, 0.45 * INCH)), parts(turbine=(0.050, 0.044, 0.80 * INCH))
    at_power = [
        float(turbo_point(p, AMBIENT, 0.16, 0.0128, 180e3, 1200.0, GAS).exhaust_pressure)
        for p in (small, large)
    ]
    assert at_power[0] > 1.05 * at_power[1]
    at_low = [
        float(turbo_point(p, AMBIENT, 0.055, 0.0044, 160e3, 1020.0, GAS).surplus) for p in (small, large)
    ]
    assert at_low[0] > at_low[1]


@check("common practice", note="the same gauge pressure at 1600 m asks more pressure ratio and shaft speed")
def test_altitude_asks_more_of_the_compressor() -> None:
    high = Ambient(83.5e3, 298.15)
    low = turbo_point(PARTS, AMBIENT, 0.12, 0.0096, AMBIENT.pressure + 70e3, 1150.0, GAS)
    up = turbo_point(PARTS, high, 0.12 * 153.5 / 170, 0.0096 * 153.5 / 170, high.pressure + 70e3, 1150.0, GAS)
    assert float(up.compressor.pressure_ratio) > 1.05 * float(low.compressor.pressure_ratio)
    assert float(up.compressor.speed) > 1.03 * float(low.compressor.speed)


@check("limit", note="a perfect cooler gives ambient air, none gives the compressor's")
def test_coolers_at_their_limits() -> None:
    none = full_load(parts=parts(cooler=None))
    np.testing.assert_array_equal(none.plenum_temperature, none.compressor.outlet_temperature)
    free = Restriction(0.0, 0.15, 2.0)
    perfect = full_load(parts=parts(cooler=Cooler(free, effectiveness=1.0)))
    np.testing.assert_allclose(perfect.plenum_temperature, AMBIENT.temperature)
    by_core = full_load(parts=parts(cooler=Cooler(COOLER.loss, conductance=250.0, cooling_flow=0.5)))
    assert np.all(np.diff(by_core.cooler_effectiveness) < 0)


@check("limit", note="pulses that carry more power and less flow ask less mean exhaust pressure; direction")
def test_pulses() -> None:
    steady = full_load()
    pulsed = full_load(pulses=Pulses(flow=0.95, power=1.10))
    assert np.all(pulsed.exhaust_pressure < steady.exhaust_pressure)
    assert np.all(pulsed.surplus > steady.surplus)


@check("limit", note="each factor pushes the way its name says; direction")
def test_factors() -> None:
    middle = full_load()
    worse = full_load(parts=parts(wheel_factors=WheelFactors(efficiency=-0.05)))
    assert np.all(worse.compressor.power > middle.compressor.power)
    assert np.all(worse.plenum_temperature > middle.plenum_temperature)
    wide = full_load(parts=parts(turbine_factors=TurbineFactors(area=1.12)))
    assert np.all(wide.surplus < middle.surplus)
    better = full_load(parts=parts(turbine_factors=TurbineFactors(efficiency=0.03)))
    assert np.all(better.exhaust_pressure < middle.exhaust_pressure)
    rolling = full_load(parts=parts(bearing=Bearing.ROLLING))
    np.testing.assert_allclose(rolling.bearing_loss / middle.bearing_loss, 150 / 250)


@check("limit", note="arrays of any shape, each entry on its own; settling of the losses")
def test_shapes_broadcast() -> None:
    grid = turbo_point(PARTS, AMBIENT, FLOW, FLOW / 12.5, np.array([[150e3], [180e3]]), T3, GAS)
    assert grid.exhaust_pressure.shape == (2, 4)
    np.testing.assert_allclose(grid.exhaust_pressure[1], full_load().exhaust_pressure, rtol=1e-7)
    one = turbo_point(PARTS, AMBIENT, FLOW[2], FLOW[2] / 12.5, 180e3, T3[2], GAS)
    assert one.exhaust_pressure.shape == ()
    np.testing.assert_allclose(one.exhaust_pressure, full_load().exhaust_pressure[2], rtol=1e-7)


@check("limit", note="no flow, no loss: the plenum sees ambient pressure")
def test_unboosted_plenum() -> None:
    assert float(unboosted_plenum_pressure(PARTS, AMBIENT, 0.0)) == AMBIENT.pressure
    flow = np.linspace(0.01, 0.2, 10)
    assert np.all(np.diff(unboosted_plenum_pressure(PARTS, AMBIENT, flow)) < 0)


@pytest.mark.parametrize("bad", [{"air": 0.0}, {"plenum": -1.0}, {"temperature": np.nan}, {"fuel": 0.0}])
def test_impossible_input_is_refused(bad: dict[str, float]) -> None:
    given_ = {"air": 0.1, "fuel": 0.008, "plenum": 150e3, "temperature": 1100.0} | bad
    with pytest.raises(OutOfRange, match="above zero"):
        turbo_point(
            PARTS, AMBIENT, given_["air"], given_["fuel"], given_["plenum"], given_["temperature"], GAS
        )


def test_parts_outside_the_ground_are_refused() -> None:
    with pytest.raises(OutOfRange, match="give a measured map"):
        parts(compressor=(0.090, 0.120))
    with pytest.raises(OutOfRange, match="inches"):
        parts(turbine=(0.050, 0.044, 0.60))

"""Compressor: reference states, similarity variables, outlet temperature, operating point."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants
from scipy.optimize import brentq

from boostwright.errors import OutOfRange
from boostwright.library.turbo_sizes import compressor_recipe
from boostwright.physics.compressor import (
    CP_AIR,
    GAMMA_AIR,
    R_AIR,
    PointStatus,
    actual_flow,
    actual_speed,
    blade_mach,
    corrected_flow,
    corrected_speed,
    flow_coefficient,
    head_coefficient,
    operating_point,
    outlet_temperature,
    pressure_ratio_of_head,
)
from boostwright.physics.compressor_sizes import WheelMap, flow_limits, wheel_sizes
from boostwright.physics.cooler import cooled_temperature
from tests.labels import check

RPM = np.pi / 30
INCH_OF_MERCURY = 3386.389  # conventional, 0 degC [Pa]
WHEEL = wheel_sizes(0.0445, 0.0590, compressor_recipe())
MAP = WheelMap(WHEEL, compressor_recipe())


def real_air(p: float, T: float) -> tuple[float, float]:
    """Enthalpy [J/kg] and entropy [J/(kg K)] of air."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI("Hmass", "P", p, "T", T, "Air"), PropsSI("Smass", "P", p, "T", T, "Air")


@check(
    "reference library", id="C1", source="CoolProp",
    note="air after lemmon2000; 0.1 % of work and 0.4 K are what constant cp and gamma cost up to PR 3",
)  # fmt: skip
@pytest.mark.parametrize(
    ("ratio", "T_then", "work_then"), [(1.5, 334.76, 36.78e3), (1.8, 352.63, 54.77e3), (2.0, 363.37, 65.59e3),
    (2.5, 387.17, 89.63e3), (3.0, 407.72, 110.44e3)],
)  # fmt: skip
def test_isentropic_compression_against_real_air(ratio: float, T_then: float, work_then: float) -> None:
    from CoolProp.CoolProp import PropsSI

    T1, p1 = 298.15, 98e3
    h1, s1 = real_air(p1, T1)
    T2s = PropsSI("T", "P", p1 * ratio, "Smass", s1, "Air")
    work = PropsSI("Hmass", "P", p1 * ratio, "Smass", s1, "Air") - h1
    assert T2s == pytest.approx(T_then, abs=0.01)  # the library has not moved
    assert work == pytest.approx(work_then, abs=10)
    ours = float(outlet_temperature(T1, ratio, 1.0))
    assert ours == pytest.approx(T2s, abs=0.4)
    assert CP_AIR * (ours - T1) == pytest.approx(work, rel=1e-3)


@check("reference library", id="C2", source="CoolProp", note="0.3 %: constant cp and gamma at PR 2 and 3")
@pytest.mark.parametrize(("ratio", "then"), [(2.0, 388.56), (3.0, 449.85)])
def test_real_compression_against_real_air(ratio: float, then: float) -> None:
    from CoolProp.CoolProp import PropsSI

    T1, p1, eta = 298.15, 98e3, 0.72
    h1, s1 = real_air(p1, T1)
    h2s = PropsSI("Hmass", "P", p1 * ratio, "Smass", s1, "Air")
    T2 = PropsSI("T", "P", p1 * ratio, "Hmass", h1 + (h2s - h1) / eta, "Air")
    assert pytest.approx(then, abs=0.01) == T2
    assert float(outlet_temperature(T1, ratio, eta)) == pytest.approx(T2, rel=3e-3)


@check("limit", id="C7", note="exact arithmetic; 0.01 % is half of the last digit printed")
@pytest.mark.parametrize(
    ("T_ref", "p_ref", "expected"),
    [
        (288.15, 101.325e3, 0.16071),
        (298.15, 100e3, 0.15593),
        (constants.convert_temperature(85, "F", "K"), 28.4 * INCH_OF_MERCURY, 0.14886),
        (545 / 1.8, 13.95 * constants.psi, 0.14883),
    ],
)
def test_reference_state_matters(T_ref: float, p_ref: float, expected: float) -> None:
    corrected = corrected_flow(0.150, 303.15, 97e3, T_ref, p_ref)
    assert float(corrected) == pytest.approx(expected, rel=1e-4)
    assert float(actual_flow(corrected, 303.15, 97e3, T_ref, p_ref)) == pytest.approx(0.150, rel=1e-14)


@check("limit", id="C7", note="exact arithmetic; half of the last digit printed")
def test_corrected_flow_at_a_common_reference() -> None:
    assert float(corrected_flow(0.0600, 298.15, 97.5e3, 302.8, 96.2e3)) == pytest.approx(0.0587, abs=5e-5)


@check("limit", note="at the reference state nothing is corrected; and back again")
def test_correction_is_neutral_at_the_reference() -> None:
    assert float(corrected_flow(0.1, 298.15, 1e5, 298.15, 1e5)) == 0.1
    assert float(corrected_speed(9000.0, 298.15, 298.15)) == 9000.0
    there = corrected_speed(9000.0, 320.0, 288.15)
    assert float(actual_speed(there, 320.0, 288.15)) == pytest.approx(9000.0, rel=1e-14)


@check(
    "limit",
    id="C8",
    note="exact arithmetic; 0.2 % covers the rounding of cp and gamma in the printed figures",
)
def test_charge_density_gain() -> None:
    T2 = outlet_temperature(298.15, 1.8, 0.72)
    T_plenum = cooled_temperature(T2, 298.15, 0.70)
    assert float(T2) == pytest.approx(373.9, rel=2e-3)
    assert float(T_plenum) == pytest.approx(320.9, rel=2e-3)
    assert 1.8 * 298.15 / float(T_plenum) * 0.97 == pytest.approx(1.622, rel=2e-3)


@check(
    "limit", note="head and pressure ratio are inverse to each other; a worked value at M 1 and psi 0.4054"
)
def test_head_and_pressure_ratio() -> None:
    assert float(pressure_ratio_of_head(0.4054, 1.0)) == pytest.approx((1 + 0.4 * 0.4054) ** 3.5, rel=1e-14)
    ratio, mach = np.linspace(1.05, 4, 20), np.linspace(0.3, 1.5, 20)
    np.testing.assert_allclose(pressure_ratio_of_head(head_coefficient(ratio, mach), mach), ratio, rtol=1e-13)


def reference_line() -> tuple[np.ndarray, ...]:
    """Flow [kg/s], pressure ratio, speed [rpm], efficiency, T2 [K], flow over surge, over line end, power
    [kW].
    """
    rows = """
    0.0600 1.819 107386 0.668 381 0.90 0.33 5.02
    0.0754 1.830 108238 0.692 379 1.12 0.42 6.16
    0.0902 1.842 109374 0.712 378 1.32 0.50 7.24
    0.1059 1.857 111010 0.729 377 1.51 0.58 8.42
    0.1217 1.875 113131 0.741 377 1.68 0.65 9.69
    0.1363 1.894 115511 0.746 378 1.82 0.72 10.96
    0.1480 1.911 117694 0.747 379 1.91 0.78 12.06
    0.1575 1.926 119801 0.743 381 1.96 0.82 13.07
    0.1632 1.935 121237 0.738 382 1.98 0.84 13.75
    0.1660 1.940 122024 0.735 383 1.99 0.85 14.11
    """
    return tuple(np.array([[float(x) for x in r.split()] for r in rows.strip().splitlines()]).T)


@check(
    "regression", id="C9",
    note="a two-litre four at 1.8 bar computed once by another program with the same recipe; tolerances: the "
    "printed digits of flow and pressure ratio move speed by 0.1 %, the rest by a unit of the last digit",
)  # fmt: skip
def test_operating_line_of_the_reference_engine() -> None:
    flow, ratio, rpm, eta, T2, over_surge, over_end, power = reference_line()
    inlet = 100e3 - 2.5e3 * (flow / 0.15) ** 2
    point = operating_point(MAP, WHEEL.D2, flow, ratio, 298.15, inlet)
    np.testing.assert_allclose(point.speed / RPM, rpm, rtol=1e-3)
    np.testing.assert_allclose(point.efficiency, eta, atol=1e-3)
    np.testing.assert_allclose(point.outlet_temperature, T2, atol=1.0)
    np.testing.assert_allclose(point.surge_ratio, over_surge, atol=1e-2)
    np.testing.assert_allclose(point.choke_ratio, over_end, atol=1e-2)
    np.testing.assert_allclose(point.power / 1e3, power, rtol=2e-3)
    assert point.status.tolist() == [PointStatus.LEFT_OF_SURGE] + [PointStatus.ON_MAP] * 9


@check(
    "conservation", note="the air's enthalpy rise is the rotor's work, m cp (T2 - T1) = m lam U2^2; rounding"
)
def test_energy_into_the_air() -> None:
    flow = np.linspace(0.05, 0.2, 9)
    point = operating_point(MAP, WHEEL.D2, flow, 1.9, 310.0, 96e3)
    heat = flow * CP_AIR * (point.outlet_temperature - 310.0)
    np.testing.assert_allclose(point.power, heat, rtol=1e-3)  # cp 1005 against gamma R/(gamma-1) = 1004.7
    phi = flow_coefficient(flow, point.speed, WHEEL.D2, 310.0, 96e3)
    np.testing.assert_allclose(point.power, flow * point.tip_speed**2 * MAP(phi, point.mach).work, rtol=1e-12)
    # Efficiency, pressure ratio and outlet temperature tell one story.
    np.testing.assert_allclose(
        point.outlet_temperature, outlet_temperature(310.0, 1.9, point.efficiency), rtol=2e-4
    )


@check(
    "limit",
    note="similarity: one corrected point has one pressure ratio and efficiency at any altitude; rounding",
)
@settings(max_examples=40, deadline=None)
@given(flow=st.floats(0.04, 0.2), ratio=st.floats(1.1, 2.6), T=st.floats(250, 330), p=st.floats(60e3, 110e3))
def test_same_corrected_point_at_any_inlet_state(flow: float, ratio: float, T: float, p: float) -> None:
    here = operating_point(MAP, WHEEL.D2, flow, ratio, 298.15, 100e3)
    there = operating_point(MAP, WHEEL.D2, actual_flow(flow, T, p, 298.15, 100e3), ratio, T, p)
    assert float(there.efficiency) == pytest.approx(float(here.efficiency), rel=1e-8)
    assert float(corrected_speed(there.speed, T, 298.15)) == pytest.approx(float(here.speed), rel=1e-8)
    assert float(there.surge_ratio) == pytest.approx(float(here.surge_ratio), rel=1e-8)
    assert int(there.status) == int(here.status)


@check("limit", note="the solved point is on the map it was taken from; root tolerance 1e-11")
@settings(max_examples=60, deadline=None)
@given(mach=st.floats(0.2, 1.59), place=st.floats(-0.3, 1.0))
def test_the_solve_finds_the_point_it_came_from(mach: float, place: float) -> None:
    limits = flow_limits(WHEEL, compressor_recipe(), mach)
    phi = np.asarray(limits.surge + place * (limits.end - limits.surge))
    ratio = pressure_ratio_of_head(MAP(phi, np.asarray(mach)).psi, mach)
    speed = mach * np.sqrt(GAMMA_AIR * R_AIR * 298.15) * 2 / WHEEL.D2
    flow = phi * 1e5 / (R_AIR * 298.15) * speed * WHEEL.D2**3 / 2
    point = operating_point(MAP, WHEEL.D2, flow, ratio, 298.15, 1e5)
    assert float(point.mach) == pytest.approx(mach, rel=1e-8)
    assert float(point.pressure_ratio) == pytest.approx(float(ratio), rel=1e-9)


@check(
    "reference library",
    source="SciPy",
    note="brentq on the map itself, without the scan; its own tolerance 1e-12",
)
def test_speed_against_a_scalar_root_finder() -> None:
    flow, ratio, T, p = 0.11, 2.1, 305.0, 97e3
    phi_mach = flow / (p / (R_AIR * T) * np.sqrt(GAMMA_AIR * R_AIR * T) * WHEEL.D2**2)

    def excess(mach: float) -> float:
        psi = MAP(np.asarray(phi_mach / mach), np.asarray(mach)).psi
        return float(pressure_ratio_of_head(psi, mach)) - ratio

    mach = brentq(excess, 0.5, 1.6, xtol=1e-14, rtol=1e-12)
    point = operating_point(MAP, WHEEL.D2, flow, ratio, T, p)
    assert float(point.mach) == pytest.approx(mach, rel=1e-10)
    assert float(blade_mach(point.speed, WHEEL.D2, T)) == pytest.approx(mach, rel=1e-10)


@check("limit", note="no jump: steps of 0.1 % in flow or pressure ratio move nothing by more than 1 %")
@pytest.mark.parametrize("vary", ["flow", "ratio"])
def test_outputs_are_continuous(vary: str) -> None:
    steps = 1.001 ** np.arange(1600)
    if vary == "flow":
        flow, ratio = 0.045 * steps[:1400], np.full(1400, 1.8)  # from far left of surge to choke
    else:
        flow, ratio = np.full(1000, 0.11), 1.05 * steps[:1000]
    point = operating_point(MAP, WHEEL.D2, flow, ratio, 298.15, 1e5)
    usable = point.choke_ratio <= 1  # beyond choke the speed runs away, as it should
    usable &= point.status != PointStatus.TOO_FAST
    assert usable.sum() > 700
    assert set(point.status[usable]) >= {PointStatus.ON_MAP}
    for name in ("speed", "efficiency", "outlet_temperature", "power", "surge_ratio", "choke_ratio"):
        values = getattr(point, name)[usable]
        assert np.max(np.abs(np.diff(values)) / values[1:]) < 0.01, name


@check(
    "limit", note="right of surge a line's pressure ratio rises with speed at fixed flow and falls with flow"
)
def test_shape_of_the_map() -> None:
    recipe = compressor_recipe()
    mach = np.linspace(0.5, 1.5, 41)
    for flow_mach in np.linspace(0.02, 0.2, 25):  # phi M is the corrected flow
        limits = flow_limits(WHEEL, recipe, mach)
        inside = (flow_mach / mach > limits.surge) & (flow_mach / mach < limits.end)
        if inside.sum() > 1:
            ratio = pressure_ratio_of_head(MAP(flow_mach / mach, mach).psi, mach)[inside]
            assert np.all(np.diff(ratio) > 0)
    for one in mach:
        limits = flow_limits(WHEEL, recipe, one)
        phi = np.linspace(limits.peak, limits.end, 50)
        assert np.all(np.diff(MAP(phi, np.asarray(one)).psi) < 0)


def test_a_point_outside_the_map_says_so() -> None:
    too_much = operating_point(MAP, WHEEL.D2, 0.1, 6.0, 298.15, 1e5)
    assert int(too_much.status) == PointStatus.TOO_FAST
    assert float(too_much.pressure_ratio) < 6.0
    assert float(too_much.mach) == pytest.approx(1.6)
    idle = operating_point(MAP, WHEEL.D2, 0.03, 0.99, 298.15, 1e5)
    assert int(idle.status) == PointStatus.IDLING
    choked = operating_point(MAP, WHEEL.D2, 0.2, 1.25, 298.15, 1e5)
    assert int(choked.status) == PointStatus.BEYOND_CHOKE
    assert float(choked.choke_margin) < 0


@pytest.mark.parametrize(
    "bad", [(0.0, 1.5, 298.0, 1e5), (0.1, -1.0, 298.0, 1e5), (0.1, 1.5, 0.0, 1e5), (np.nan, 1.5, 298.0, 1e5)]
)
def test_impossible_input_is_refused(bad: tuple[float, float, float, float]) -> None:
    with pytest.raises(OutOfRange, match="above zero"):
        operating_point(MAP, WHEEL.D2, *bad)

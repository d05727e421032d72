"""Forces, areas and signal pressures of a wastegate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from boostwright.library.gate_parts import gate_constant, gate_flow
from boostwright.physics.nozzle import nozzle_flow
from boostwright.physics.wastegate import (
    Actuator,
    GateFlow,
    area_for_flow,
    bleed_share,
    crack_pressure,
    duty_for_opening,
    free_travel,
    gate_area,
    lift_for_area,
    opening_between_orifices,
    opening_of_duty,
    rod_travel,
    signal_between_orifices,
    signal_pressure,
    signal_pressure_for_travel,
    valve_lift,
)
from tests.labels import check

P0 = 100e3
FLAP = GateFlow(0.70, 0.85)
GATE = Actuator(
    F0=95.0, k_s=8e3, A_d=1134e-6, A_v=np.pi / 4 * 0.025**2, x_max=8e-3, a=0.022, b=0.022, fall=0.1
)

pressures = st.floats(0.0, 200e3)
forces = st.floats(20.0, 200.0)


@check("limit", id="G2", note="F0 = p A_d: 45 mm effective diaphragm at 0.50 bar is 79.5 N; 0.1 %")
def test_preload_of_a_known_diaphragm() -> None:
    area = np.pi / 4 * 0.045**2
    gate = GATE._replace(F0=79.5, A_d=area)
    assert float(crack_pressure(gate, P0, P0, P0)) == pytest.approx(0.50e5, rel=1e-3)


@check("limit", id="G2", note="twice the preload is twice the crack pressure where no exhaust acts; exact")
@given(forces)
def test_twice_the_preload(force: float) -> None:
    one, two = (float(crack_pressure(GATE._replace(F0=f), P0, P0, P0)) for f in (force, 2 * force))
    assert two == pytest.approx(2 * one, rel=1e-12)


@check("limit", note="without a valve area the exhaust does nothing: crack pressure is F0/A_d; exact")
@given(forces, pressures)
def test_no_valve_area(force: float, exhaust: float) -> None:
    gate = GATE._replace(F0=force, A_v=0.0)
    assert float(crack_pressure(gate, P0 + exhaust, P0, P0)) == pytest.approx(force / 1134e-6, rel=1e-12)


@check("limit", note="torques of rod and valve about the shaft, counted by hand; 1e-12")
def test_levers_by_hand() -> None:
    gate = GATE._replace(a=0.030, b=0.020, fall=0.0)
    p_sig, p3, p4, friction = P0 + 75e3, 240e3, 130e3, 3.0
    travel = float(free_travel(gate, p_sig, p3, p4, P0, friction))
    opening = 75e3 * 1134e-6 * 0.030 + (p3 - p4) * np.pi / 4 * 0.025**2 * 0.020
    closing = (95.0 + 8e3 * travel + friction) * 0.030
    assert opening == pytest.approx(closing, rel=1e-12)
    assert float(valve_lift(gate, travel)) == pytest.approx(travel * 2 / 3, rel=1e-12)


@check("conservation", note="the rod stands where its forces cancel, the diaphragm's area falling; 1e-9")
@given(pressures, pressures, st.floats(0.0, 0.15), st.floats(-5.0, 5.0))
def test_forces_cancel(boost: float, exhaust: float, fall: float, friction: float) -> None:
    gate = GATE._replace(fall=fall)
    x = float(free_travel(gate, P0 + boost, P0 + exhaust, P0, P0, friction))
    area = 1134e-6 * (1 - fall * x / 8e-3)
    left = boost * area + exhaust * np.pi / 4 * 0.025**2 - 95.0 - 8e3 * x - friction
    assert abs(left) < 1e-9 * (95.0 + boost * 1134e-6 + exhaust * 5e-4)
    assert 0.0 <= float(rod_travel(gate, P0 + boost, P0 + exhaust, P0, P0, friction)) <= 8e-3


@given(st.floats(0.0, 8e-3), pressures, st.floats(0.0, 0.15))
def test_signal_for_travel_is_the_inverse(x: float, exhaust: float, fall: float) -> None:
    gate = GATE._replace(fall=fall)
    signal = float(signal_pressure_for_travel(gate, x, P0 + exhaust, P0, P0))
    if signal < 0:  # the exhaust alone holds it further open: the area's fall is not counted on suction
        return
    assert float(free_travel(gate, P0 + signal, P0 + exhaust, P0, P0)) == pytest.approx(x, abs=1e-12)


@given(pressures, pressures, st.floats(100.0, 20e3))
def test_more_pressure_never_shuts_it(boost: float, exhaust: float, more: float) -> None:
    here = float(rod_travel(GATE, P0 + boost, P0 + exhaust, P0, P0))
    assert float(rod_travel(GATE, P0 + boost + more, P0 + exhaust, P0, P0)) >= here
    assert float(rod_travel(GATE, P0 + boost, P0 + exhaust + more, P0, P0)) >= here
    assert float(rod_travel(GATE, P0 + boost, P0 + exhaust, P0, P0, 3.0)) <= here


def test_exhaust_on_a_stem_opens_against_the_outside_air() -> None:
    with_stem = GATE._replace(A_stem=50e-6)
    gain = crack_pressure(GATE, 200e3, 120e3, P0) - crack_pressure(with_stem, 200e3, 120e3, P0)
    assert float(gain) == pytest.approx(100e3 * 50e-6 / 1134e-6, rel=1e-12)


@check("limit", note="a little lift is the curtain, a great lift the port; 1e-6 and 1 %")
def test_area_at_both_ends() -> None:
    assert float(gate_area(1e-5, 0.025, FLAP)) == pytest.approx(0.70 * np.pi * 0.025 * 1e-5, rel=1e-6)
    assert float(gate_area(0.025, 0.025, FLAP)) == pytest.approx(0.85 * np.pi / 4 * 0.025**2, rel=0.01)
    assert float(gate_area(0.0, 0.025, FLAP)) == 0.0


@check(
    "regression",
    note="independent calculation of the same flap of 25 mm: 0.2, 1.2, 2.0, 3.5, 4.5, 4.9 mm give 13, 65, "
    "109, 190, 239, 261 mm2; half a digit of lift, 0.05 mm, is 2 to 3 mm2, and half a digit of area",
)  # fmt: skip
@pytest.mark.parametrize(
    ("lift", "area", "slack"),
    [(0.2, 13, 3.3), (1.2, 65, 3.3), (2.0, 109, 3.3), (3.5, 190, 3.2), (4.5, 239, 2.7), (4.9, 261, 2.4)],
)
def test_area_of_a_known_flap(lift: float, area: float, slack: float) -> None:
    assert float(gate_area(lift * 1e-3, 0.025, FLAP)) * 1e6 == pytest.approx(area, abs=slack)


@check("common practice", note="the whole port is reached at a lift of 0.30 to 0.35 diameters: 80 to 95 %")
def test_where_the_port_takes_over() -> None:
    lift = np.array([0.30, 0.35]) * 0.025
    share = gate_area(lift, 0.025, FLAP) / (0.85 * np.pi / 4 * 0.025**2)
    assert np.all(share > 0.80)
    assert np.all(share < 0.95)


@given(st.floats(0.0, 0.02), st.floats(0.01, 0.05))
def test_lift_for_area_is_the_inverse(lift: float, diameter: float) -> None:
    if lift > 0.5 * diameter:  # there area hardly hangs on lift any more
        return
    area = gate_area(lift, diameter, FLAP)
    assert float(lift_for_area(area, diameter, FLAP)) == pytest.approx(lift, rel=1e-9, abs=1e-15)
    assert np.isinf(lift_for_area(0.86 * np.pi / 4 * diameter**2, diameter, FLAP))


@check("limit", id="G1", note="bypass flow is the nozzle's: area for flow gives the flow back; 1e-12")
@given(st.floats(1e-4, 0.1), st.floats(105e3, 350e3))
def test_area_and_flow(flow: float, p3: float) -> None:
    area = area_for_flow(flow, p3, 1150.0, 104e3, 290.0, 1.285)
    assert float(nozzle_flow(area, p3, 1150.0, 104e3, 290.0, 1.285)) == pytest.approx(flow, rel=1e-12)


@check(
    "limit", id="G1",
    note="choked bypass by hand, m = CdA p/sqrt(R T) sqrt(g) (2/(g+1))^((g+1)/(2(g-1))), at 3 to 1; 1e-4",
)  # fmt: skip
def test_choked_bypass_by_hand() -> None:
    g, R, T, p3, area = 1.285, 290.0, 1150.0, 300e3, 200e-6
    by_hand = area * p3 / np.sqrt(R * T) * np.sqrt(g) * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
    assert float(area_for_flow(by_hand, p3, T, 100e3, R, g)) == pytest.approx(area, rel=1e-4)


@check("limit", note="no duty: the whole boost; a three-port valve wide open: the outside air; exact")
def test_ends_of_the_signal() -> None:
    assert float(signal_pressure(180e3, P0, bleed_share(0.0, 0.8))) == 180e3
    assert float(signal_pressure(180e3, P0, bleed_share(1.0, 1.0))) == P0
    assert float(signal_pressure(180e3, P0, bleed_share(0.35, 0.8))) == pytest.approx(P0 + 0.72 * 80e3)


def test_duty_is_dead_below_and_full_above() -> None:
    opening = opening_of_duty(np.array([0.0, 0.07, 0.475, 0.875, 1.0]), 0.075, 0.875)
    np.testing.assert_allclose(opening, [0, 0, 0.5, 1, 1])
    np.testing.assert_allclose(duty_for_opening([0.0, 0.5, 1.0], 0.075, 0.875), [0.075, 0.475, 0.875])


@check("limit", note="two orifices at 1 kPa: (p2-ps)/(ps-pamb) = (A_vent/A_in)^2; 1 % of the share")
@pytest.mark.parametrize("ratio", [0.3, 1.0, 2.0])
def test_two_orifices_at_small_boost(ratio: float) -> None:
    p2 = P0 + 1e3
    lost = (p2 - float(signal_between_orifices(p2, P0, 1.0, ratio))) / 1e3
    assert lost == pytest.approx(ratio**2 / (1 + ratio**2), rel=0.01)


@check("conservation", note="mass between two orifices, by SciPy's brentq on the nozzle's flow; 1e-9")
@pytest.mark.parametrize("boost", [20e3, 80e3, 160e3])
@pytest.mark.parametrize("ratio", [0.3, 1.0, 3.0])
def test_two_orifices_pass_the_same(boost: float, ratio: float) -> None:
    p2 = P0 + boost

    def excess(ps: float) -> float:
        return float(
            nozzle_flow(1e-6, p2, 350.0, ps, 287.05, 1.4)
            - nozzle_flow(ratio * 1e-6, ps, 350.0, P0, 287.05, 1.4)
        )

    there = brentq(excess, P0, p2, xtol=1e-9)
    assert float(signal_between_orifices(p2, P0, 1.0, ratio)) == pytest.approx(there, rel=1e-9)


@given(st.floats(1e3, 200e3), st.floats(0.02, 1.0), st.floats(0.2, 4.0))
def test_opening_between_orifices_is_the_inverse(boost: float, opening: float, ratio: float) -> None:
    signal = signal_between_orifices(P0 + boost, P0, opening, ratio)
    assert P0 < float(signal) < P0 + boost
    back = float(opening_between_orifices(signal, P0 + boost, P0, ratio))
    assert back == pytest.approx(opening, rel=1e-4)


def test_no_boost_nothing_to_bleed() -> None:
    assert float(signal_between_orifices(95e3, P0, 0.5, 1.0)) == pytest.approx(95e3)
    assert np.isnan(opening_between_orifices(99e3, 180e3, P0, 1.0))


def test_every_constant_of_the_table_says_where_it_comes_from() -> None:
    for section, names in {
        "flap": ("curtain", "port"), "poppet": ("curtain", "port"), "diaphragm": ("effective", "fall",
        "hysteresis"), "exhaust": ("pulse_share",), "signal": ("bleed_gain", "three_port_gain", "dead",
        "full"),
    }.items():  # fmt: skip
        for name in names:
            row = gate_constant(section, name)
            assert row.sd > 0
            assert "judgement" in row.source or "from memory" in row.source
    assert gate_flow("flap")[0] == FLAP

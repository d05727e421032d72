"""Fuel pumps: pressure, voltage, relief valve, energy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics import pump
from tests.labels import check

LPH = 1e-3 / 3600


@check("limit", id="L1", note="energy: p Q <= eta V I; printed digits")
def test_energy_bound() -> None:
    assert float(pump.hydraulic_power(200 * LPH, 4e5)) == pytest.approx(22.2, abs=0.03)
    assert float(pump.hydraulic_power(200 * LPH, 4e5)) / 0.30 == pytest.approx(74.1, abs=0.05)
    assert float(pump.pump_current(200 * LPH, 4e5, 13.5, 0.30)) == pytest.approx(5.49, abs=0.005)


@check("limit", id="L2", note="affinity laws, exponent 2: 13.5 to 12 V, flow 0.889, shut-off 0.790; printed")
def test_affinity_is_the_limit_of_exponent_two() -> None:
    curve = pump.PumpCurve(1.0, 13.5, 8e5, voltage_exponent=2.0)
    assert float(pump.pump_flow(curve, 0.0, 12.0)) == pytest.approx(0.889, abs=5e-4)
    assert float(pump.pump_pressure(curve, 0.0, 12.0)) / 8e5 == pytest.approx(0.790, abs=5e-4)


@check("limit", id="L2", note="a displacement pump on a direct-current motor, exponent 1, bounds from above")
@given(st.floats(9, 13.4), st.floats(0.0, 6e5))
def test_the_usual_curve_lies_between_its_two_limits(volts: float, p: float) -> None:
    flows = [
        float(pump.pump_flow(pump.PumpCurve(1.0, 13.5, 12.5e5, voltage_exponent=m), p, volts))
        for m in (2.0, pump.VOLTAGE_EXPONENT, 1.0)
    ]
    assert flows[0] <= flows[1] + 1e-12
    assert flows[1] <= flows[2] + 1e-12


@given(st.floats(60, 500), st.floats(0, 5e5), st.floats(11, 14.5), st.floats(0, 9e5), st.floats(8, 15))
def test_less_with_pressure_more_with_voltage(q: float, at: float, v0: float, p: float, v: float) -> None:
    curve = pump.curve_through(q * LPH, at, v0, relief_pressure=7e5)
    assert float(pump.pump_flow(curve, at, v0)) == pytest.approx(q * LPH, rel=1e-9)
    here, more = (float(pump.pump_flow(curve, x, v)) for x in (p, p + 0.3e5))
    assert 0 <= more <= here
    assert float(pump.pump_flow(curve, p, v + 0.5)) >= here
    assert here <= float(np.asarray(curve.free_flow)) * v / v0 * (1 + 1e-9)


@given(st.floats(0.02, 0.98), st.floats(9, 15), st.sampled_from([np.inf, 6e5, 9e5]))
def test_pressure_at_a_flow_is_the_inverse(share: float, volts: float, relief: float) -> None:
    curve = pump.PumpCurve(340 * LPH, 13.5, relief_pressure=relief)
    flow = share * float(pump.pump_flow(curve, 0.0, volts))
    p = pump.pump_pressure(curve, flow, volts)
    assert float(pump.pump_flow(curve, p, volts)) == pytest.approx(flow, rel=1e-6)


def test_above_its_relief_valve_nothing_reaches_the_rail() -> None:
    curve = pump.PumpCurve(340 * LPH, 13.5, relief_pressure=6e5)
    assert float(pump.pump_flow(curve, 6e5 * (1 + pump.RELIEF_OVERRIDE), 13.5)) == 0.0
    assert float(pump.pump_flow(curve, 6e5, 13.5)) > 0.0


@check("common practice", note="about 10 % of flow for each volt, +-3, at 3 bar")
def test_a_volt_is_a_tenth_of_the_flow() -> None:
    curve = pump.curve_through(255 * LPH, 3e5, 13.5)
    lost = 1 - float(pump.pump_flow(curve, 3e5, 12.5)) / (255 * LPH)
    assert 0.07 < lost < 0.13


@check(
    "common practice", note="a pump named 340 L/h is a free-flow figure: at 3 bar two thirds to nine tenths"
)
def test_free_flow_is_not_what_arrives() -> None:
    curve = pump.curve_through(340 * LPH, 0.0, 13.5)
    share = float(pump.pump_flow(curve, 3e5, 13.5)) / (340 * LPH)
    assert 0.66 < share < 0.9
    assert float(pump.pump_flow(curve, 3.7e5, 12.6)) < 0.72 * 340 * LPH

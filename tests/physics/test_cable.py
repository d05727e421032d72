"""Copper cables: resistance, gauge numbers, voltage drop, short-circuit withstand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.library import cables as library
from boostwright.physics import cable
from tests.labels import check

MM2 = 1e-6
C = 273.15


@check("published", id="P3", source="iec60028", note="0.017241 ohm mm2/m over 50 mm2; printed digits")
def test_ideal_resistance() -> None:
    assert float(cable.ideal_resistance(50 * MM2)) == pytest.approx(0.3448e-3, abs=5e-8)


@check(
    "limit",
    id="P3",
    note="50 mm2 of class 5 has 1.12 times a solid bar's resistance; rounded to two decimals",
)
def test_nominal_section_is_not_metal_section() -> None:
    row = library.cable(50 * MM2)
    assert row.resistance_20 / float(cable.ideal_resistance(row.section)) == pytest.approx(1.12, abs=5e-3)
    metal = cable.copper_section(row.resistance_20)
    assert float(metal) < row.section
    assert float(cable.ideal_resistance(metal)) == pytest.approx(row.resistance_20, rel=1e-12)


@check("published", id="P3", source="iec60028", note="0.00393/K at 20 degC; exact by definition")
def test_temperature_coefficient() -> None:
    found = cable.resistance_at(1.0, np.array([20.0, 21.0, 120.0]) + C)
    assert found == pytest.approx([1.0, 1.00393, 1.393], rel=1e-12)


@check(
    "published",
    id="P4",
    source="astmb258",
    note="2/0, 1/0, 1, 2, 4, 6, 8; printed to 0.01 mm2, of which half is our tolerance, and 67.43 is 67.431",
)
@pytest.mark.parametrize(
    ("gauge", "area"),
    [(-1, 67.43), (0, 53.48), (1, 42.41), (2, 33.63), (4, 21.15), (6, 13.30), (8, 8.37)],
)
def test_american_gauge(gauge: int, area: float) -> None:
    assert float(cable.awg_area(gauge)) == pytest.approx(area * MM2, abs=0.0051 * MM2)


@check("limit", id="P4", note="the two diameters that define the scale: 36 is 0.005 inch, 4/0 is 0.46 inch")
def test_american_gauge_ends() -> None:
    assert cable.awg_diameter([36, -3]) == pytest.approx([0.127e-3, 11.684e-3], rel=1e-12)


@check("limit", id="P5", note="200 A, 50 mm2 class 5, 5 m one way, at 20 and 60 degC; 0.1 %, printed digits")
def test_voltage_drop() -> None:
    row = library.cable(50 * MM2)
    at = np.array([20.0, 60.0]) + C
    circuit = cable.circuit_resistance(5 * row.resistance_20, 0.0, T=at)
    assert cable.voltage_drop(200.0, circuit.total) == pytest.approx([0.386, 0.447], rel=1e-3)
    assert cable.voltage_drop(200.0, circuit.total) == pytest.approx([0.386, 0.386 * 1.1572], rel=1e-9)


@check("limit", id="P5", note="a second cable back is a second cable: trap of the one-way length")
def test_both_paths_count() -> None:
    one = cable.circuit_resistance(2e-3, 0.0)
    both = cable.circuit_resistance(2e-3, 2e-3)
    assert float(both.total) == pytest.approx(2 * float(one.total), rel=1e-12)
    assert float(both.back) == pytest.approx(float(both.feed), rel=1e-12)


@check("limit", note="spread: joints in squares, the cables' as one share; hand sum")
def test_joints_and_their_spread() -> None:
    joints = [cable.Joint(1e-3, 3e-4), cable.Joint(2e-3, 4e-4)]
    found = cable.circuit_resistance(2e-3, 1e-3, joints, cable_spread=0.1)
    assert float(found.total) == pytest.approx(6e-3, rel=1e-12)
    assert float(found.joints) == pytest.approx(3e-3, rel=1e-12)
    assert float(found.sd) == pytest.approx(np.sqrt(3e-4**2 + 4e-4**2 + 3e-4**2), rel=1e-12)
    alone = cable.circuit_resistance(2e-3, 1e-3, joints)
    assert float(alone.sd) == pytest.approx(5e-4, rel=1e-12)


@check("limit", note="inverse of the drop: cables of the answer lose with the joints what is permitted")
def test_most_resistance() -> None:
    joints = 0.6e-3
    most = cable.most_resistance(0.5, 200.0, joints)
    assert float(cable.voltage_drop(200.0, most + joints)) == pytest.approx(0.5, rel=1e-12)
    assert float(cable.most_resistance(0.1, 200.0, joints)) < 0.0


@check("limit", note="Ohm's law; no resistance at all: no bound")
def test_fault_current() -> None:
    assert cable.fault_current(12.6, [6e-3, 0.0], [4e-3, 0.0]) == pytest.approx([1260.0, np.inf])


@check(
    "published",
    id="P6",
    source="iec60364",
    note="k of PVC 70 to 160 degC 115, of cross-linked polyethylene 90 to 250 degC 143; half a digit",
)
def test_short_circuit_factor() -> None:
    found = cable.short_circuit_factor(np.array([70.0, 90.0]) + C, np.array([160.0, 250.0]) + C)
    assert found / MM2**-1 == pytest.approx([115.0, 143.0], abs=0.5)
    assert found / MM2**-1 == pytest.approx([115.0, 143.1], rel=2e-3)


@check("published", id="P6", source="iec60949", note="50 mm2 for 1 s from 70 to 160 degC: 5750 A; 0.2 %")
def test_short_circuit_current() -> None:
    found = cable.short_circuit_current(50 * MM2, 1.0, 70 + C, 160 + C)
    assert float(found) == pytest.approx(5750.0, rel=2e-3)


@check(
    "limit",
    id="P6",
    note="K from heat capacity, resistivity and zero: sqrt(3.45e6 x 254.5/1.7241e-8); 226 is rounded",
)
def test_short_circuit_constant_is_copper() -> None:
    own = np.sqrt(cable.COPPER_VOLUME_CAPACITY * (20.0 + 234.5) / cable.COPPER_RESISTIVITY_20)
    assert own * MM2 == pytest.approx(226.0, abs=0.5)


@given(st.floats(0.5, 120), st.floats(50, 5000), st.floats(0.0, 90.0), st.floats(20.0, 150.0))
def test_short_circuit_functions_are_inverses(mm2: float, current: float, start: float, rise: float) -> None:
    T1, T2 = start + C, start + rise + C
    t = cable.short_circuit_time(mm2 * MM2, current, T1, T2)
    assert float(cable.short_circuit_current(mm2 * MM2, t, T1, T2)) == pytest.approx(current, rel=1e-9)
    assert float(cable.adiabatic_temperature(mm2 * MM2, current, t, T1)) == pytest.approx(T2, rel=1e-9)
    assert float(cable.short_circuit_time(mm2 * MM2, 2 * current, T1, T2)) == pytest.approx(float(t) / 4)


@check("limit", note="an end below the start is no withstand, and no number; no current is for ever")
def test_short_circuit_bad_input() -> None:
    assert np.isnan(cable.short_circuit_factor(160 + C, 70 + C))
    assert float(cable.short_circuit_factor(70 + C, 70 + C)) == 0.0
    assert float(cable.short_circuit_time(MM2, 0.0, 70 + C, 160 + C)) == np.inf


def test_everything_broadcasts() -> None:
    assert cable.short_circuit_time(np.ones((3, 1)) * MM2, np.ones(4), 300.0, 400.0).shape == (3, 4)
    assert cable.circuit_resistance(np.ones((2, 1)), 0.0, [], T=[300.0, 310.0]).total.shape == (2, 2)
    assert cable.awg_area([1, 2]).dtype == np.float64

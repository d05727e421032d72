"""Terminal voltage of a load behind its wiring."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from boostwright.physics import pump_wiring as wiring
from boostwright.physics.pump_wiring import SupplyPath
from tests.labels import check

OLD = SupplyPath(feed=0.050, relay=0.005, fuse=0.006, connector=0.014, back=0.025)  # 0.100 ohm in all


@check("limit", note="a resistor behind a resistor divides the voltage")
def test_voltage_divider() -> None:
    found = wiring.linear_operating_point(14.0, OLD, 0.0, 1.0 / 1.3)
    assert float(found.voltage) == pytest.approx(14.0 * 1.3 / 1.4, rel=1e-12)
    assert float(found.current) == pytest.approx(10.0, rel=1e-12)
    assert float(found.drop) == pytest.approx(1.0, rel=1e-12)
    assert float(found.heat) == pytest.approx(10.0, rel=1e-12)


@check("limit", note="a load of fixed current loses R I")
def test_fixed_current() -> None:
    found = wiring.linear_operating_point(13.5, OLD, [0.0, 12.0], 0.0)
    assert found.voltage == pytest.approx([13.5, 12.3], rel=1e-12)


@check("limit", note="no resistance: the source's own voltage, by both ways")
def test_without_wiring() -> None:
    none = SupplyPath()
    assert float(wiring.linear_operating_point(13.5, none, 3.0, 0.5).voltage) == pytest.approx(
        13.5, rel=1e-12
    )
    found = wiring.operating_point(13.5, none, lambda V: 3.0 + 0.5 * V)
    assert float(found.voltage) == pytest.approx(13.5, rel=1e-12)
    assert float(found.heat) == pytest.approx(0.0, abs=1e-9)


@check("limit", note="a load of fixed power: V = (Vs + sqrt(Vs^2 - 4 R P))/2, the upper of two answers")
@given(st.floats(9, 15), st.floats(0.005, 0.3), st.floats(0.02, 0.95))
@settings(deadline=None)
def test_fixed_power(source: float, R: float, share: float) -> None:
    power = share * source**2 / (4 * R)
    found = wiring.operating_point(source, SupplyPath(feed=R), lambda V: power / V)
    assert float(found.voltage) == pytest.approx(source / 2 * (1 + np.sqrt(1 - share)), rel=1e-9)
    assert float(found.current * found.voltage) == pytest.approx(power, rel=1e-9)


@check("limit", note="more power than Vs^2/(4 R) goes through no path: no answer")
def test_power_that_the_path_cannot_carry() -> None:
    power = np.array([0.9, 1.1]) * 13.5**2 / 0.4
    found = wiring.operating_point(13.5, OLD, lambda V: power / V)
    assert np.isfinite(found.voltage).tolist() == [True, False]
    assert np.isnan(found.current[1])
    assert np.isnan(wiring.linear_operating_point(1.0, OLD, 20.0, 0.0).voltage)
    assert np.isnan(wiring.linear_operating_point(13.5, OLD, 200.0, -11.0).voltage)


@given(st.floats(9, 15), st.floats(0.0, 0.3), st.floats(0.0, 10.0), st.floats(-0.5, 1.5))
@settings(deadline=None)
def test_both_ways_agree(source: float, R: float, a: float, b: float) -> None:
    one = wiring.linear_operating_point(source, SupplyPath(back=R), a, b)
    two = wiring.operating_point(source, SupplyPath(back=R), lambda V: a + b * V)
    assume(a + b * float(one.voltage) >= 0.0)  # else the load would feed the source
    assert float(two.voltage) == pytest.approx(float(one.voltage), rel=1e-9)
    assert 0.0 <= float(one.voltage) <= source * (1 + 1e-12)


@check(
    "conservation", note="drops of the parts sum to the drop; power of the source is that of load and path"
)
@given(st.floats(9, 15), st.floats(0.5, 2.0))
@settings(deadline=None)
def test_drops_and_power(source: float, b: float) -> None:
    def current(V: NDArray[np.float64]) -> NDArray[np.float64]:
        return b * np.sqrt(np.maximum(V, 0.0))

    found = wiring.operating_point(source, OLD, current)
    assert sum(float(np.asarray(x)) for x in found.parts) == pytest.approx(float(found.drop), rel=1e-9)
    given_off = source * float(found.current)
    used = float(found.voltage) * float(found.current) + float(found.heat)
    assert used == pytest.approx(given_off, rel=1e-12)
    assert float(found.drop) == pytest.approx(0.100 * float(found.current), rel=1e-9)


@check(
    "limit", note="a meter's three readings give the path back; the permitted path leaves the wanted voltage"
)
def test_resistances() -> None:
    found = wiring.linear_operating_point(13.8, OLD, 4.0, 0.6)
    again = wiring.measured_resistance(13.8, found.voltage, found.current)
    assert float(again) == pytest.approx(0.100, rel=1e-9)
    assert float(wiring.path_resistance(OLD)) == pytest.approx(0.100, rel=1e-12)
    most = wiring.permitted_resistance(13.8, 13.3, 4.0 + 0.6 * 13.3)
    left = wiring.linear_operating_point(13.8, SupplyPath(feed=most), 4.0, 0.6)
    assert float(left.voltage) == pytest.approx(13.3, rel=1e-12)
    assert float(wiring.permitted_resistance(12.0, 13.0, 10.0)) < 0.0


@check("limit", note="more resistance, less voltage and less current; order only")
def test_order() -> None:
    paths = SupplyPath(feed=np.linspace(0.0, 0.4, 9))
    found = wiring.operating_point(13.5, paths, lambda V: 2.0 + 0.7 * V)
    assert np.all(np.diff(found.voltage) < 0.0)
    assert np.all(np.diff(found.current) < 0.0)


def test_everything_broadcasts() -> None:
    path = SupplyPath(feed=np.full((3, 1), 0.05), relay=0.005)
    loads = np.array([0.5, 0.7])
    for found in (
        wiring.linear_operating_point(13.5, path, 1.0, loads),
        wiring.operating_point(13.5, path, lambda V: 1.0 + loads * V),
    ):
        assert found.voltage.shape == found.current.shape == found.heat.shape == (3, 2)

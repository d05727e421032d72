"""Vapour pressure of petrol, ethanol and blends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.fuel_vapour import (
    TEST_TEMPERATURE,
    blend_vapour_pressure,
    ethanol_rise,
    ethanol_vapour_pressure,
    petrol_vapour_pressure,
)
from tests.labels import check

PSI = 6894.757
FAHRENHEIT = np.array([40.0, 50, 60, 70, 80, 90, 100])


@check(
    "published",
    source="ap42",
    note="table 7.1-2, gasoline of RVP 13, 10, 7 psi, 40 to 100 degF, from memory; two printed digits, 4 %",
)
@pytest.mark.parametrize(
    ("stated", "printed"),
    [
        (13, [4.7, 5.7, 6.9, 8.3, 9.9, 11.7, 13.8]),
        (10, [3.4, 4.2, 5.2, 6.2, 7.4, 8.8, 10.5]),
        (7, [2.3, 2.9, 3.5, 4.3, 5.2, 6.2, 7.4]),
    ],
)
def test_petrol_over_temperature(stated: float, printed: list[float]) -> None:
    T = (FAHRENHEIT - 32) / 1.8 + 273.15
    assert petrol_vapour_pressure(T, stated * PSI) / PSI == pytest.approx(printed, rel=0.04)


@check("reference library", id="L4", source="CoolProp", note="ethanol at 37.8 degC 15.93 kPa; 1 %")
def test_ethanol() -> None:
    CP = pytest.importorskip("CoolProp.CoolProp")
    assert float(ethanol_vapour_pressure(310.95)) == pytest.approx(15.93e3, rel=1e-2)
    for T in (290.0, 320.0, 345.0):
        assert float(ethanol_vapour_pressure(T)) == pytest.approx(
            CP.PropsSI("P", "T", T, "Q", 0, "Ethanol"), rel=2e-2
        )


@check(
    "reference library",
    id="L4",
    source="CoolProp",
    note="n-heptane 11.18, toluene 7.12 kPa at 37.8 degC, 2 %: far below the 45 to 100 of petrol, which its"
    " lightest parts make",
)
def test_heavy_parts_of_petrol_lie_far_below_it() -> None:
    CP = pytest.importorskip("CoolProp.CoolProp")
    for name, kPa in (("Heptane", 11.18), ("Toluene", 7.12)):
        vapour = CP.PropsSI("P", "T", 310.95, "Q", 0, name)
        assert vapour == pytest.approx(kPa * 1e3, rel=2e-2)
        assert vapour < 0.3 * float(petrol_vapour_pressure(310.95, 60e3))


@check("published", source="andersen2010", note="a tenth of ethanol raises it by about 7 kPa; from memory")
def test_a_little_ethanol_raises_and_much_lowers() -> None:
    assert 5e3 < float(ethanol_rise(0.10)) < 9e3
    assert float(ethanol_rise(0.85)) < -15e3
    assert 62e3 + float(ethanol_rise(1.0)) == pytest.approx(float(ethanol_vapour_pressure(310.93)), rel=0.05)


@given(st.floats(40e3, 100e3), st.floats(265, 345), st.floats(0, 1))
def test_a_blend_goes_through_its_stated_point_and_rises(stated: float, T: float, share: float) -> None:
    at = float(blend_vapour_pressure(TEST_TEMPERATURE, stated, share))
    assert at == pytest.approx(stated, rel=1e-9)
    here, warmer = (float(blend_vapour_pressure(t, stated, share)) for t in (T, T + 5))
    assert warmer > 1.05 * here

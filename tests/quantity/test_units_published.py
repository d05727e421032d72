"""Conversion factors against published values and against a reference library."""

from __future__ import annotations

from typing import Any

import pytest

from boostwright.quantity import Dimension, find_unit, read, unit_names
from tests.labels import check

D = Dimension


@check(
    "published",
    id="B5",
    source="nistsp811",
    note="2008, appendix B.8, from memory; tolerance half of the last digit given here",
)
@pytest.mark.parametrize(
    ("text", "dimension", "value", "tolerance"),
    [
        ("1 in", D.LENGTH, 0.0254, 0.0),
        ("1 mi", D.LENGTH, 1609.344, 0.0),
        ("1 lb", D.MASS, 0.45359237, 0.0),
        ("1 psi", D.PRESSURE, 6894.757, 5e-4),
        ("1 inHg", D.PRESSURE, 3386.389, 5e-4),
        ("1 mmHg", D.PRESSURE, 133.3224, 5e-5),
        ("1 inH2O", D.PRESSURE, 249.0889, 5e-5),
        ("1 atm", D.PRESSURE, 101325.0, 0.0),
        ("1 kgf/cm2", D.PRESSURE, 98066.5, 0.0),
        ("1 lb-ft", D.TORQUE, 1.355818, 5e-7),
        ("1 lb-in", D.TORQUE, 0.1129848, 5e-8),
        ("1 hp", D.POWER, 745.6999, 5e-5),
        ("1 PS", D.POWER, 735.4988, 5e-5),
        ("1 lb/h", D.MASS_FLOW, 1.259979e-4, 5e-11),
        ("1 lb/min", D.MASS_FLOW, 7.559873e-3, 5e-10),
        ("1 cfm", D.VOLUME_FLOW, 4.719474e-4, 5e-11),
        ("1 mph", D.SPEED, 0.44704, 0.0),
        ("1 US gal", D.VOLUME, 3.785412e-3, 5e-10),
        ("1 imp gal", D.VOLUME, 4.54609e-3, 0.0),
        ("1 lbf/in", D.SPRING_RATE, 175.1268, 5e-5),
        ("32 degF", D.TEMPERATURE, 273.15, 1e-9),
        ("212 degF", D.TEMPERATURE, 373.15, 1e-9),
    ],
)
def test_factor(text: str, dimension: Dimension, value: float, tolerance: float) -> None:
    assert read(text, dimension).value == pytest.approx(value, rel=1e-12, abs=tolerance)


_PINT_NAMES = {
    "US gal": "gallon",
    "imp gal": "imperial_gallon",
    "US qt": "quart",
    "US gal/h": "gallon/hour",
    "imp gal/h": "imperial_gallon/hour",
    "lb-ft": "force_pound*foot",
    "lb-in": "force_pound*inch",
    "kgf m": "kilogram_force*meter",
    "PS": "metric_horsepower",
    "hp": "horsepower",
    "Nm": "newton*meter",
    "kgf": "kilogram_force",
    "lbf": "force_pound",
    "kgf/mm": "kilogram_force/millimeter",
    "lbf/in": "force_pound/inch",
    "kgf/cm2": "kilogram_force/centimeter**2",
    "mm2": "mm**2",
    "cm2": "cm**2",
    "m2": "m**2",
    "in2": "inch**2",
    "m3": "m**3",
    "mm3": "mm**3",
    "in3": "inch**3",
    "m3/s": "m**3/s",
    "m3/h": "m**3/hour",
    "cfm": "foot**3/minute",
    "kg/m3": "kg/m**3",
    "kg m2": "kg*m**2",
    "kg mm2": "kg*mm**2",
    "kg cm2": "kg*cm**2",
    "L/h": "liter/hour",
    "kg/h": "kg/hour",
    "lb/h": "pound/hour",
    "lb": "pound",
    "t": "metric_ton",
    "h": "hour",
    "min": "minute",
    "days": "day",
    "in": "inch",
    "inHg": "inHg",
    "inH2O": "inch*water*gravity",
    "mmH2O": "kilogram_force/meter**2",
    "rpm": "revolution/minute",
    "Hz": "revolution/second",
    "cc/min": "milliliter/minute",
    "cc": "milliliter",
    "V": "volt",
    "A": "ampere",
    "mA": "milliampere",
    "mohm": "milliohm",
    "kohm": "kiloohm",
    "deg": "degree",
    "rad": "radian",
    "g/min": "gram/minute",
    "oz": "ounce",
    "thou": "thou",
}
# the library rounds the densities of conventional columns of mercury and water differently
_COLUMNS = {"inHg": 3e-5, "inH2O": 1e-4}
# a temperature has an offset, an angle from a dead centre a sign, the others no unit of the library
_WITHOUT = {D.TEMPERATURE, D.CAM_EVENT, D.SPARK, D.MIXTURE, D.OCTANE, D.MONEY, D.SHARE, D.RATIO, D.COUNT}


@pytest.fixture(scope="module")
def registry() -> Any:
    """The reference library's units."""
    return pytest.importorskip("pint").UnitRegistry()


@check("reference library", id="J6", source="pint", note="same definitions; tolerance for binary fractions")
@pytest.mark.parametrize(
    ("dimension", "name"),
    [(d, n) for d in D if d not in _WITHOUT for n in unit_names(d)],
    ids=lambda part: part if isinstance(part, str) else part.value,
)
def test_factor_against_pint(registry: Any, dimension: Dimension, name: str) -> None:
    if name == "inH2O":
        theirs = (
            registry.Quantity(1, "inch") * registry.Quantity(1000.0, "kg/m**3") * registry.Quantity(1, "g_n")
        )
    elif dimension is D.TEMPERATURE_DIFFERENCE and name != "K":
        theirs = registry.Quantity(1, f"delta_{name}")
    else:
        theirs = registry.Quantity(1, _PINT_NAMES.get(name, name))
    assert find_unit(name, dimension).factor == pytest.approx(
        theirs.to_base_units().magnitude, rel=_COLUMNS.get(name, 1e-12)
    )


@check(
    "published",
    id="J1",
    source="heywood1988",
    note="equation 3.6, from memory: AFR = 34.56 (4 + y)/(12.011 + 1.008 y), ethanol by its atoms; "
    "gauges are scaled to 14.7 by custom, so within 1 %",
)
@pytest.mark.parametrize(
    ("name", "stoichiometric"),
    [("AFR petrol", 14.60), ("AFR E10", 14.01), ("AFR E85", 9.80), ("AFR ethanol", 9.00)],
)
def test_stoichiometric_ratios(name: str, stoichiometric: float) -> None:
    assert 1 / find_unit(name, D.MIXTURE).factor == pytest.approx(stoichiometric, rel=0.01)

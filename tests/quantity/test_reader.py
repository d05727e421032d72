"""Reading written quantities: what a person types, and what is refused with which words."""

from __future__ import annotations

import math
import timeit

import pytest

from boostwright.quantity import Dimension, PressureKind, QuantityError, read, read_many

D = Dimension


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("0.6 bar", D.PRESSURE, 60e3),
        ("0,7 bar", D.PRESSURE, 70e3),
        ("1,8 L", D.VOLUME, 1.8e-3),
        ("0,750 bar", D.PRESSURE, 75e3),  # a leading zero settles the comma
        ("1,85 L", D.VOLUME, 1.85e-3),
        ("1.998 L", D.VOLUME, 1.998e-3),
        ("440 cc/min", D.VOLUME_FLOW, 440e-6 / 60),
        ("255 L/h", D.VOLUME_FLOW, 0.255 / 3600),
        ("255 l/H", D.VOLUME_FLOW, 0.255 / 3600),
        ("25 degC", D.TEMPERATURE, 298.15),
        ("25 °C", D.TEMPERATURE, 298.15),
        ("-40 F", D.TEMPERATURE, 233.15),
        ("10 K", D.TEMPERATURE_DIFFERENCE, 10.0),
        ("18 degF", D.TEMPERATURE_DIFFERENCE, 10.0),
        ("6500 RPM", D.ROTATION, 6500 * 2 * math.pi / 60),
        ("86mm", D.LENGTH, 0.086),
        ("1 1/2 in", D.LENGTH, 0.0381),
        ('7/16"', D.LENGTH, 0.0111125),
        ("½ in", D.LENGTH, 0.0127),
        ("1 mm", D.LENGTH, 0.001),
        ("9.8:1", D.RATIO, 9.8),
        ("9.8", D.RATIO, 9.8),
        ("85 %", D.SHARE, 0.85),
        ("95 RON", D.OCTANE, 95.0),
        ("RON 95", D.OCTANE, 95.0),
        ("lambda 0.88", D.MIXTURE, 0.88),
        ("0,88 lambda", D.MIXTURE, 0.88),
        ("20 deg btdc", D.CAM_EVENT, math.radians(-20)),
        ("56 deg abdc", D.CAM_EVENT, math.radians(56)),
        ("12 degrees after TDC", D.CAM_EVENT, math.radians(12)),
        ("18 deg", D.SPARK, math.radians(18)),  # a spark counts backwards from the dead centre
        ("18 deg btdc", D.SPARK, math.radians(18)),
        ("18 deg BTDC", D.SPARK, math.radians(18)),
        ("18° BTDC", D.SPARK, math.radians(18)),
        ("18 degrees before TDC", D.SPARK, math.radians(18)),
        ("3 deg ATDC", D.SPARK, math.radians(-3)),
        ("10 deg crank", D.ANGLE, math.radians(10)),
        ("1.5e3 rpm", D.ROTATION, 1500 * 2 * math.pi / 60),
        ("−5 degC", D.TEMPERATURE, 268.15),
        ("6.5\u00a0bar", D.PRESSURE, 650e3),
        ("50 mm²", D.AREA, 50e-6),
        ("120 lb-ft", D.TORQUE, 162.6981),
        ("120 lbf·ft", D.TORQUE, 162.6981),
        ("22 kg mm²", D.INERTIA, 22e-6),
        ("2500 €", D.MONEY, 2500.0),
    ],
)
def test_reads_what_people_write(text: str, dimension: Dimension, value: float) -> None:
    assert read(text, dimension).value == pytest.approx(value, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "pascal"),
    [
        ("0.6 bar", None, 60e3),
        ("10 psig", PressureKind.GAUGE, 68947.57),
        ("14.7 psia", PressureKind.ABSOLUTE, 101352.9),
        ("1.2 bara", PressureKind.ABSOLUTE, 120e3),
        ("1.2 bar(a)", PressureKind.ABSOLUTE, 120e3),
        ("1.2 BarG", PressureKind.GAUGE, 120e3),
        ("180 kPa abs", PressureKind.ABSOLUTE, 180e3),
        ("80 kPa gauge", PressureKind.GAUGE, 80e3),
    ],
)
def test_gauge_and_absolute_are_told_apart(text: str, kind: PressureKind | None, pascal: float) -> None:
    quantity = read(text, D.PRESSURE)
    assert quantity.kind is kind
    assert quantity.value == pytest.approx(pascal, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "dimension", "value", "sd"),
    [
        ("440 +/- 15 cc/min", D.VOLUME_FLOW, 440e-6 / 60, 7.5e-6 / 60),
        ("440 cc/min +/- 15", D.VOLUME_FLOW, 440e-6 / 60, 7.5e-6 / 60),
        ("440 cc/min ± 15 cc/min", D.VOLUME_FLOW, 440e-6 / 60, 7.5e-6 / 60),
        ("440 cc/min ± 3 %", D.VOLUME_FLOW, 440e-6 / 60, 6.6e-6 / 60),
        ("440 ± 3 % cc/min", D.VOLUME_FLOW, 440e-6 / 60, 6.6e-6 / 60),
        ("440+-15 cc/min", D.VOLUME_FLOW, 440e-6 / 60, 7.5e-6 / 60),
        ("25 +/- 2 degC", D.TEMPERATURE, 298.15, 1.0),
        ("82,5 +/- 0,04 mm", D.LENGTH, 0.0825, 0.00002),
        ("3.0 bar +/- 0.5 psi", D.PRESSURE, 300e3, 1723.69),
        ("10 % +/- 2 %", D.SHARE, 0.10, 0.01),  # of a share, points
        ("9.8 +/- 0.2", D.RATIO, 9.8, 0.1),
        ("18 +/- 2 deg BTDC", D.SPARK, math.radians(18), math.radians(1)),
        ("-3 +/- 2 deg atdc", D.SPARK, math.radians(3), math.radians(1)),
    ],
)
def test_spreads_are_two_standard_deviations(
    text: str, dimension: Dimension, value: float, sd: float
) -> None:
    quantity = read(text, dimension)
    assert quantity.value == pytest.approx(value, rel=1e-9)
    assert quantity.sd == pytest.approx(sd, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "dimension", "code", "said"),
    [
        ("1,500 rpm", D.ROTATION, "ambiguous-number", "1.500 or as 1500"),
        ("1,998 L", D.VOLUME, "ambiguous-number", "1.998 or as 1998"),
        ("6 500 rpm", D.ROTATION, "ambiguous-number", "thousands"),
        ("6'500 rpm", D.ROTATION, "ambiguous-number", "thousands"),
        ("1.500.000 mm", D.LENGTH, "ambiguous-number", "thousands"),
        ("1,500.5 rpm", D.ROTATION, "ambiguous-number", "thousands"),
        ("0.6", D.PRESSURE, "no-unit", "0.6 bar"),
        ("440 ± 3 %", D.VOLUME_FLOW, "no-unit", "cc/min"),
        ("20", D.CAM_EVENT, "no-unit", "btdc"),
        ("12.5 AFR", D.MIXTURE, "no-unit", "without its fuel"),
        ("86 kg", D.LENGTH, "wrong-unit", "mass"),
        ("0.6 mm", D.PRESSURE, "wrong-unit", "length"),
        ("86 mmm", D.LENGTH, "unknown-unit", "86 mm?"),
        ("440 ccmin", D.VOLUME_FLOW, None, ""),
        ("440 cc/mim", D.VOLUME_FLOW, "unknown-unit", "440 cc/min"),
        ("500 mpa", D.PRESSURE, "unknown-unit", "MPa or mPa"),
        ("4 cylinders", D.COUNT, "unknown-unit", "Write 4"),
        ("138 146 153 Nm", D.TORQUE, "two-numbers", "several"),
        ("12-13 bar", D.PRESSURE, "two-numbers", "+/-"),
        ("12 to 13 bar", D.PRESSURE, "two-numbers", "+/-"),
        ("1 +/- 2 +/- 3 bar", D.PRESSURE, "two-numbers", "+/-"),
        ("half a bar", D.PRESSURE, "no-number", "begin with a number"),
        ("", D.PRESSURE, "no-number", ""),
        ("nan bar", D.PRESSURE, "no-number", ""),
        ("1e999 bar", D.PRESSURE, "not-finite", ""),
        ("9" * 80 + " bar", D.PRESSURE, "not-finite", ""),
        ("1/0 in", D.LENGTH, "no-number", "zero"),
        ("x" * 500, D.PRESSURE, "no-number", "too long"),
        ("٣ bar", D.PRESSURE, "no-number", ""),
    ],
)
def test_refuses_in_plain_words(text: str, dimension: Dimension, code: str | None, said: str) -> None:
    if code is None:
        read(text, dimension)
        return
    with pytest.raises(QuantityError) as caught:
        read(text, dimension)
    assert caught.value.code == code
    assert said in str(caught.value)
    assert caught.value.remedy.strip()


def test_a_comma_is_never_dropped() -> None:
    """'1,8 L' is 1.8, never 18; '0,7 bar' is 0.7, never 0: what other readers do without a word."""
    assert read("1,8 L", D.VOLUME).value == pytest.approx(1.8e-3)
    assert read("0,7 bar", D.PRESSURE).value == pytest.approx(70e3)


def test_rows() -> None:
    row = read_many("1500 2000; 2500,5 rpm", D.ROTATION)
    assert [q.value * 60 / (2 * math.pi) for q in row] == pytest.approx([1500, 2000, 2500.5])
    listed = read_many("8, 9,5, 22 %", D.SHARE)  # a comma before a space parts, one before a digit is decimal
    assert [q.value for q in listed] == pytest.approx([0.08, 0.095, 0.22])
    with pytest.raises(QuantityError, match="no unit"):
        read_many("1500 2000 2500", D.ROTATION)
    with pytest.raises(QuantityError, match="can be read as"):
        read_many("1,500 2,000 rpm", D.ROTATION)


def test_a_value_costs_microseconds() -> None:
    """Ten times the microseconds that it takes on a middling machine, so that only a change of kind fails."""
    once = min(timeit.repeat(lambda: read("440 cc/min", D.VOLUME_FLOW), number=1000, repeat=5)) / 1000
    assert once < 100e-6


@pytest.mark.parametrize("text", ["bar1e308", "1e308 bar", "1 +/- 1e308 bar"])
def test_a_number_that_is_finite_only_in_its_own_unit_is_refused(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        read(text, Dimension.PRESSURE)
    assert caught.value.code == "not-finite"

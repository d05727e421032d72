"""Texts of readings: units, commas, gauge and absolute, one value for each cylinder, and whatever else."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from boostwright.errors import ReadingError
from boostwright.library.measurements import Measurement, measurements
from boostwright.planning.readings.written import Written, measurement_named, read_written
from boostwright.quantity import write

AIR = 101325.0
KEYS = tuple(measurements())
NUMBERS = tuple(key for key, one in measurements().items() if one.dimension is not None and one.unit)


def read(key: str, text: str, places: int | None = 4) -> tuple[float, ...]:
    return read_written(measurements()[key], text, AIR, places).values


@pytest.mark.parametrize(
    ("key", "text", "values"),
    [
        ("oil_pressure_idle", "1,5 bar", [1.5e5]),
        ("oil_pressure_idle", "1.5 barg", [1.5e5]),
        ("oil_pressure_idle", "22 psi", [151684.6]),
        ("oil_pressure_idle", "2.5 bara", [2.5e5 - AIR]),
        ("idle_manifold_pressure", "31 kPa", [31e3]),
        ("idle_manifold_pressure", "0.31 bara", [31e3]),
        ("coolant_cold", "14 degC", [287.15]),
        ("compression", "13,1 13,2 13,1 13,2 bar", [13.1e5, 13.2e5, 13.1e5, 13.2e5]),
        ("compression", "13.1; 13.2; 13.1; 13.2 bar", [13.1e5, 13.2e5, 13.1e5, 13.2e5]),
        ("leak_down", "6 5 7 6 %", [0.06, 0.05, 0.07, 0.06]),
        ("timing_idle", "10 deg", [math.radians(10)]),
        ("parasitic_current", "35 mA", [0.035]),
        ("full_load_lambda", "0.89 lambda", [0.89]),
    ],
)
def test_values_are_read_in_their_units(key: str, text: str, values: list[float]) -> None:
    assert read(key, text) == pytest.approx(values, rel=1e-5)


def test_a_spread_is_kept() -> None:
    found = read_written(measurements()["oil_pressure_idle"], "1.5 +/- 0.1 bar", AIR)
    assert found.sd == pytest.approx(0.05e5)
    assert read_written(measurements()["oil_pressure_idle"], "1.5 bar", AIR).sd is None


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("oil_pressure_idle", "7", "no unit"),
        ("oil_pressure_idle", "0.7", "no unit"),
        ("oil_pressure_idle", "70 bar", "Possible"),
        ("oil_pressure_idle", "1.5 V", "pressure belongs here"),
        ("idle_manifold_pressure", "-65 kPa", "negative"),
        ("compression", "13.1 13.2 bar", "2 values for 4 cylinders"),
        ("compression", "13.1 13.2 13.1 13.2 13.0 bar", "5 values for 4 cylinders"),
        ("compression", "13.1 13.2 13.1 130 bar", "Possible"),
        ("leak_down", "6 5 7 160 %", "Possible"),
        ("coolant_gas", "maybe", "no answer"),
        ("go_signed", "perhaps", "neither yes nor no"),
        ("oil_pressure_idle", "", "no value"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(key: str, text: str, says: str) -> None:
    with pytest.raises(ReadingError, match=says) as refused:
        read(key, text)
    assert refused.value.remedy


def test_a_number_without_unit_is_never_given_one() -> None:
    """'7' may be 0.7 bar read wrong: no message makes it '7 bar'."""
    with pytest.raises(ReadingError) as refused:
        read("oil_pressure_idle", "7")
    assert "7 bar" not in str(refused.value)


def taken(key: str, text: str) -> Written | None:
    """What was read, None where it was refused in words; anything else is a mishap."""
    try:
        return read_written(measurements()[key], text, AIR, 4)
    except ReadingError:
        return None


@given(key=st.sampled_from(KEYS), text=st.text(max_size=60))
@example(key="compression", text="1e999 bar")
@example(key="compression", text="nan nan nan nan bar")
@example(key="leak_down", text="٣ ٣ ٣ ٣ %")
@example(key="air_cold", text="-273.15 degC")
def test_any_text_is_read_or_refused(key: str, text: str) -> None:
    one = measurements()[key]
    found = taken(key, text)
    if found is None:
        return
    _is_possible(one, found.values)
    assert bool(found.values) != bool(found.answer)
    assert found.sd is None or found.sd >= 0.0


_PARTS = (
    "13", "1,5", "0.7", "-3", "1e3", "bar", "barg", "bara", "psi", "kPa", "%", "degC", "V", "mA", "deg",
    "+/-", "rpm", "lambda", ";", " ", "/", "Nm", "g/s", "yes", "none",
)  # fmt: skip


@given(key=st.sampled_from(KEYS), parts=st.lists(st.sampled_from(_PARTS), min_size=1, max_size=8))
def test_any_mixture_of_numbers_and_units_is_read_or_refused(key: str, parts: list[str]) -> None:
    found = taken(key, " ".join(parts))
    if found is not None:
        _is_possible(measurements()[key], found.values)


def _is_possible(one: Measurement, values: tuple[float, ...]) -> None:
    for value in values:
        assert math.isfinite(value)
        if one.possible is not None:
            slack = 1e-9 * abs(value)
            assert one.possible[0] - slack <= value <= one.possible[1] + slack


@given(key=st.sampled_from(NUMBERS), share=st.floats(0.001, 0.999))
def test_what_is_written_is_read_back(key: str, share: float) -> None:
    one = measurements()[key]
    assert one.dimension is not None
    if one.possible is None:
        return
    low, high = one.possible
    value = low + share * (high - low)
    text = write(value, one.unit, one.dimension, digits=9)
    if one.each:
        numbers, unit = text.rsplit(" ", 1)
        text = f"{numbers} {numbers} {numbers} {unit}"
    found = read(key, text, 3 if one.each else None)
    assert found[0] == pytest.approx(value, rel=1e-7, abs=1e-7 * (high - low))


def test_names_are_forgiving_and_near_ones_are_offered() -> None:
    assert measurement_named("Oil pressure-idle").key == "oil_pressure_idle"
    with pytest.raises(ReadingError, match="leak_down"):
        measurement_named("leak_dwn")

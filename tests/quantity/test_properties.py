"""Properties of reading and writing quantities, on values that nobody chose."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.quantity import (
    COVERAGE,
    Dimension,
    QuantityError,
    find_unit,
    in_unit,
    nearest,
    read,
    read_many,
    read_number,
    unit_names,
    write,
)
from boostwright.quantity.units import units_with_key
from tests.labels import check

UNITS = [(dimension, name) for dimension in Dimension for name in unit_names(dimension)]
PLAIN_NUMBERS = st.floats(min_value=1e-3, max_value=1e6)


@check("limit", note="writing and reading back: exact up to the rounding of binary fractions")
@given(unit=st.sampled_from(UNITS), number=PLAIN_NUMBERS)
def test_a_written_number_reads_back(unit: tuple[Dimension, str], number: float) -> None:
    dimension, name = unit
    quantity = read(f"{number!r} {name}", dimension)
    assert in_unit(quantity.value, name, dimension) == pytest.approx(number, rel=1e-12, abs=1e-9)


@check("limit", note="comma and point are the same number")
@given(whole=st.integers(0, 99999), decimals=st.integers(0, 99))
def test_comma_reads_as_point(whole: int, decimals: int) -> None:
    assert read_number(f"{whole},{decimals:02d}") == read_number(f"{whole}.{decimals:02d}")


@given(whole=st.integers(1, 999), decimals=st.integers(0, 999))
def test_three_digits_after_a_comma_are_never_guessed(whole: int, decimals: int) -> None:
    with pytest.raises(QuantityError) as caught:
        read_number(f"{whole},{decimals:03d}")
    assert caught.value.code == "ambiguous-number"


@check("limit", note="the spread that is read is the written half width over the coverage factor")
@given(unit=st.sampled_from(UNITS), number=PLAIN_NUMBERS, half=st.floats(1e-3, 1e3))
def test_spread_scales_with_its_unit(unit: tuple[Dimension, str], number: float, half: float) -> None:
    dimension, name = unit
    quantity = read(f"{number!r} +/- {half!r} {name}", dimension)
    assert quantity.sd is not None
    factor = abs(find_unit(name, dimension).factor)
    assert quantity.sd == pytest.approx(half * factor / COVERAGE, rel=1e-12)


@given(
    unit=st.sampled_from([u for u in UNITS if u[0] is not Dimension.MONEY]),
    number=st.floats(0.01, 1e5),
    digits=st.integers(4, 9),
)
def test_what_we_write_we_read(unit: tuple[Dimension, str], number: float, digits: int) -> None:
    dimension, name = unit
    known = find_unit(name, dimension)
    value = number * known.factor + known.offset
    text = write(value, name, dimension, digits=digits)
    assert read(text, dimension).value == pytest.approx(value, rel=10.0 ** (1 - digits))


@given(text=st.text(max_size=60), dimension=st.sampled_from(Dimension))
def test_any_text_is_a_quantity_or_refused(text: str, dimension: Dimension) -> None:
    for reader in (read, read_many):
        try:
            found = reader(text, dimension)
        except QuantityError as error:
            said = (error.code, error.why, error.remedy)
            if not all(said):
                pytest.fail(f"{text!r}: {said}")
        else:
            values = [found.value] if hasattr(found, "value") else [q.value for q in found]
            assert all(math.isfinite(value) for value in values)


@given(
    text=st.lists(
        st.sampled_from(
            ["1", "0", "9", ",", ".", "+/-", "±", " ", "%", "bar", "e", "-", "/", "1e308", "g", "'"]
        ),
        max_size=12,
    ).map("".join)
)
def test_near_misses_do_not_break_the_reader(text: str) -> None:
    with contextlib.suppress(QuantityError):
        assert math.isfinite(read(text, Dimension.PRESSURE).value)


@given(unit=st.sampled_from(UNITS))
def test_units_are_found_in_any_case(unit: tuple[Dimension, str]) -> None:
    dimension, name = unit
    assert find_unit(name, dimension).name == name
    for spelling in (name.upper(), name.lower()):
        found = [u.name for u in units_with_key(spelling, dimension)]
        assert found, spelling


def test_nearest_spellings() -> None:
    names = ("bore", "stroke", "rod_length", "compression_ratio")
    assert nearest("compresion-ratio", names)[0] == "compression_ratio"
    assert nearest("Borre", names)[0] == "bore"
    assert nearest("zzzzzz", names) == ()
    assert nearest("x" * 100000, names) == ()

"""Relief springs that cannot be: each is refused with its line, what is allowed, and what to measure."""

from __future__ import annotations

import pytest

from boostwright.readers.build_file import read_build
from tests.readers.small_file import SMALL, faults_of

SPRING = """
[oil]
source = "measured"
relief_wire = "2.0 mm"
relief_outside = "14 mm"
relief_turns = 8
relief_free_length = "42 mm"
relief_fitted_length = "34 mm"
relief_plunger = "14 mm"
relief_port_travel = "4 mm"
"""


def changed(name: str, text: str) -> str:
    old = next(line for line in SPRING.splitlines() if line.startswith(f"{name} ="))
    return SMALL + SPRING.replace(old, f"{name} = {text}")


def test_a_spring_that_can_be_is_read() -> None:
    build = read_build((SMALL + SPRING).encode())
    assert build.number("oil.relief_free_length") == pytest.approx(0.042)
    assert build.notes == ()


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("relief_free_length", '"19 mm"', "shorter by itself than its own coils"),
        ("relief_fitted_length", '"18 mm"', "shorter fitted than its own coils"),
        ("relief_fitted_length", '"45 mm"', "a fitted spring is shorter than a free one"),
        ("relief_outside", '"5 mm"', "cannot be wound so narrow"),
        ("relief_turns", "20", "shorter by itself than its own coils"),
    ],
)
def test_a_spring_that_cannot_be_is_refused_with_line_and_remedy(name: str, text: str, says: str) -> None:
    written = changed(name, text)
    faults = faults_of(written)
    told = [f for f in faults if says in f.why]
    assert told, [f.sentence() for f in faults]
    fault = told[0]
    assert fault.field.startswith("oil.relief_")
    line = written.splitlines()[fault.line - 1]
    assert line.startswith(fault.field.partition(".")[2])
    assert fault.allowed
    assert fault.remedy


def test_solid_length_is_named() -> None:
    fault = next(f for f in faults_of(changed("relief_free_length", '"19 mm"')) if "coils" in f.why)
    assert "20 mm" in fault.why  # 2.0 mm of wire, 8 turns and two closed ends
    assert "20 mm" in fault.allowed

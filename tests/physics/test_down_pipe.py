"""Growth of a hot exhaust pipe."""

from __future__ import annotations

import pytest

from boostwright.physics.down_pipe import PipeSteel, mean_expansion, thermal_growth
from tests.labels import check

ZERO = 273.15


@check(
    "published",
    source="en10088",
    note="table of 1.4301, 100 to 500 degC, from memory; straight lines go through it",
)
@pytest.mark.parametrize(
    ("celsius", "printed"), [(100, 16.0), (200, 16.5), (300, 17.0), (400, 17.5), (500, 18.0)]
)
def test_austenitic(celsius: float, printed: float) -> None:
    assert 1e6 * float(mean_expansion(PipeSteel.AUSTENITIC, celsius + ZERO)) == pytest.approx(
        printed, abs=1e-9
    )


@check(
    "published",
    source="en10088",
    note="table of 1.4512, 100 to 500 degC, from memory; straight lines go through it",
)
@pytest.mark.parametrize(
    ("celsius", "printed"), [(100, 10.5), (200, 11.0), (300, 11.5), (400, 12.0), (500, 12.0)]
)
def test_ferritic(celsius: float, printed: float) -> None:
    assert 1e6 * float(mean_expansion(PipeSteel.FERRITIC, celsius + ZERO)) == pytest.approx(printed, abs=1e-9)


@check("limit", note="1 m by 480 K at 18.0e-6 is 8.64 mm by hand; none where it stays cold")
def test_growth() -> None:
    grown = float(thermal_growth(PipeSteel.AUSTENITIC, 1.0, 500 + ZERO, 20 + ZERO))
    assert grown == pytest.approx(8.64e-3, rel=1e-6)
    assert float(thermal_growth(PipeSteel.MILD, 1.0, 293.15, 293.15)) == 0.0
    two = float(thermal_growth(PipeSteel.AUSTENITIC, 2.0, 500 + ZERO, 20 + ZERO))
    assert two == pytest.approx(2 * grown)


@check(
    "common practice",
    note="stainless tube grows half as much again as ferritic and a fifth more than mild steel",
)
def test_order_of_steels() -> None:
    at = [float(mean_expansion(steel, 600 + ZERO)) for steel in PipeSteel]
    austenitic, ferritic, mild = at
    assert 1.4 < austenitic / ferritic < 1.65
    assert 1.15 < austenitic / mild < 1.4

"""The ideal fuel-air cycle against Cantera's own equilibrium at constant entropy."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from boostwright.physics import fuel, gas, ideal_cycle
from tests.labels import check


@check(
    "reference library",
    id="I3",
    source="Cantera",
    note="states, work and imep of our petrol; 0.5 % as for any table-based gas",
)
@pytest.mark.parametrize(("phi", "T1", "p1"), [(1.0, 333.0, 1.0e5), (1.2, 333.0, 1.0e5), (1.2, 330.0, 1.7e5)])
def test_fuel_air_cycle(
    burned: Any, elements: Callable[..., dict[str, float]], phi: float, T1: float, p1: float
) -> None:
    mix = gas.mixture(1 / phi)
    found = ideal_cycle.fuel_air_cycle(mix, 9.0, T1, p1)
    v1 = mix.R_f * T1 / p1
    v2 = v1 / 9.0
    u2 = float(gas.h_fresh(mix, found.T[1])) - found.p[1] * v2
    burned.TPX = 2500.0, 50e5, elements(fuel.PETROL.carbon, fuel.PETROL.hydrogen, 0.0, 1 / phi)
    burned.UV = u2, v2
    burned.equilibrate("UV")
    assert found.T[2] == pytest.approx(burned.T, rel=5e-3)
    assert found.p[2] == pytest.approx(burned.P, rel=5e-3)
    burned.SV = burned.entropy_mass, v1
    burned.equilibrate("SV")
    assert found.T[3] == pytest.approx(burned.T, rel=5e-3)
    work = float(gas.h_fresh(mix, T1)) - p1 * v1 - burned.int_energy_mass
    assert found.work == pytest.approx(work, rel=5e-3)


@check(
    "reference library",
    id="I3",
    source="Cantera",
    note="an independent run, for iso-octane; petrol differs: 1.5 %",
)
@pytest.mark.parametrize(
    ("phi", "p1", "T1", "p3", "imep"),
    [(1.0, 1e5, 333, 84.19e5, 15.22e5), (1.2, 1.7e5, 330, 150.1e5, 26.05e5)],
)
def test_close_to_iso_octane(phi: float, p1: float, T1: float, p3: float, imep: float) -> None:
    found = ideal_cycle.fuel_air_cycle(gas.mixture(1 / phi), 9.0, T1, p1)
    assert found.p[2] == pytest.approx(p3, rel=0.015)
    assert found.imep == pytest.approx(imep, rel=0.015)


def test_compression_pays_and_richness_does_not() -> None:
    at = [ideal_cycle.fuel_air_cycle(gas.mixture(1.0), r, 333.0, 1e5).efficiency for r in (8.0, 9.5, 11.0)]
    assert at[0] < at[1] < at[2] < 1 - 11.0**-0.4  # and below the air-standard cycle
    rich = ideal_cycle.fuel_air_cycle(gas.mixture(0.8), 9.5, 333.0, 1e5)
    assert rich.efficiency < at[1]

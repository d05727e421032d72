"""Cantera states for the gas tests: built here, not by the tool that made the tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

SPECIES = ("N2", "O2", "CO2", "H2O", "CO", "H2", "OH", "H", "O", "NO", "N", "Ar")


@pytest.fixture(scope="session")
def ct() -> Any:
    return pytest.importorskip("cantera")


@pytest.fixture(scope="session")
def burned(ct: Any) -> Any:
    """Twelve-species burned gas on NASA polynomials."""
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    return ct.Solution(thermo="ideal-gas", species=[known[n] for n in SPECIES])


@pytest.fixture(scope="session")
def with_fuel(ct: Any) -> Any:
    """The same with iso-octane vapour."""
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    return ct.Solution(thermo="ideal-gas", species=[known[n] for n in (*SPECIES, "C8H18,isooctane")])


@pytest.fixture(scope="session")
def iso_octane_in_air() -> Callable[[float], dict[str, float]]:
    """Species amounts of 1 mol iso-octane vapour in dry air at the equivalence ratio phi."""

    def make(phi: float) -> dict[str, float]:
        oxygen = 12.5 / phi
        air = {"O2": 1.0, "N2": 0.78084 / 0.20946, "Ar": 0.0097 / 0.20946}
        return {"C8H18,isooctane": 1.0, **{name: share * oxygen for name, share in air.items()}}

    return make


@pytest.fixture(scope="session")
def elements() -> Callable[..., dict[str, float]]:
    """Species amounts that carry the elements of 1 mol C_c H_h O_o with dry air at lambda."""

    n, a = 0.78084 / 0.20946, 0.0097 / 0.20946

    def make(c: float, h: float, o: float, lam: float) -> dict[str, float]:
        oxygen = lam * (c + h / 4 - o / 2)
        return {"CO": c, "H2": h / 2, "O2": oxygen + (o - c) / 2, "N2": n * oxygen, "Ar": a * oxygen}

    return make

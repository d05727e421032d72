"""Coefficients between a round part and air."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from boostwright.physics import convection
from tests.disagreements import disagreement
from tests.labels import check


@pytest.fixture(scope="module")
def ht() -> Any:
    return pytest.importorskip("ht")


@check(
    "reference library", id="U4", source="ht", note="Churchill & Chu at its own Pr; the same equation, 0.01 %"
)
@pytest.mark.parametrize("rayleigh", [1e2, 1e4, 7.5e5, 1e9])
def test_free_convection_nusselt(ht: Any, rayleigh: float) -> None:
    theirs = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=0.7, Gr=rayleigh / 0.7)
    assert float(convection.free_convection_nusselt(rayleigh)) == pytest.approx(theirs, rel=1e-4)


@check("published", id="U4", source="churchill1975", note="60 mm, 600 K in 330 K air, worked apart; 1 %")
def test_free_convection_at_one_state() -> None:
    nusselt = float(convection.free_convection_nusselt(1.071e6 * 0.698, 0.698))
    assert nusselt == pytest.approx(13.37, rel=0.01)
    assert nusselt * 0.03773 / 0.06 == pytest.approx(8.41, rel=0.01)  # air at 465 K of a property library


@disagreement("U4")
@check("published", id="U4", source="churchill1975", note="60 mm, 600 K in 330 K air, worked apart; 1 %")
def test_free_convection_coefficient() -> None:
    assert float(convection.free_convection_coefficient(0.06, 600.0, 330.0)) == pytest.approx(8.41, rel=0.01)


@check("reference library", id="U5", source="ht", note="Churchill & Bernstein; the same equation, 0.01 %")
@pytest.mark.parametrize("reynolds", [5e2, 2.655e4, 3e5])
def test_cross_flow_nusselt(ht: Any, reynolds: float) -> None:
    theirs = ht.Nu_cylinder_Churchill_Bernstein(Re=reynolds, Pr=0.7)
    assert float(convection.cross_flow_nusselt(reynolds)) == pytest.approx(theirs, rel=1e-4)


@check("published", id="U5", source="churchill1977", note="Nu 92.95 at Re 2.655e4, worked apart; 0.5 %")
def test_cross_flow_at_one_state() -> None:
    assert float(convection.cross_flow_nusselt(2.655e4)) == pytest.approx(92.95, rel=5e-3)


@disagreement("U4")
@check("published", id="U5", source="churchill1977", note="15 m/s, 60 mm, 600 K in 330 K, worked apart; 1 %")
def test_cross_flow_coefficient() -> None:
    h = float(convection.cross_flow_coefficient(15.0, 0.06, 600.0, 330.0))
    assert h == pytest.approx(92.95 * 0.03773 / 0.06, rel=0.01)


@check(
    "limit",
    note="heat transfer with our own air laws is off by no more than what those laws are off by: 2.5 %",
)
def test_coefficients_are_off_by_the_air_laws_only() -> None:
    still = float(convection.free_convection_coefficient(0.06, 600.0, 330.0))
    moving = float(convection.cross_flow_coefficient(15.0, 0.06, 600.0, 330.0))
    assert still == pytest.approx(8.41, rel=0.025)
    assert moving == pytest.approx(92.95 * 0.03773 / 0.06, rel=0.025)


@check("published", id="U6", source="gnielinski1976", note="Nu 103.8 at Re 5e4, Pr 0.7, worked apart; 0.5 %")
def test_pipe() -> None:
    assert float(convection.pipe_nusselt(5e4, 0.7)) == pytest.approx(103.8, rel=5e-3)


@check("reference library", id="U6", source="ht", note="Gnielinski with its own friction factor; 0.01 %")
@pytest.mark.parametrize(("reynolds", "prandtl"), [(5e3, 0.7), (5e4, 0.7), (1e5, 6.0)])
def test_pipe_against_a_library(ht: Any, reynolds: float, prandtl: float) -> None:
    friction = (0.790 * np.log(reynolds) - 1.64) ** -2
    theirs = ht.turbulent_Gnielinski(Re=reynolds, Pr=prandtl, fd=friction)
    assert float(convection.pipe_nusselt(reynolds, prandtl)) == pytest.approx(theirs, rel=1e-4)


def test_directions() -> None:
    speeds = convection.cross_flow_coefficient(np.array([0.0, 1.0, 5.0, 20.0]), 0.01, 400.0, 330.0)
    assert np.all(np.diff(speeds) > 0)
    assert float(convection.free_convection_nusselt(0.0)) == pytest.approx(0.36)
    hotter = convection.free_convection_coefficient(0.02, np.array([340.0, 400.0, 500.0]), 330.0)
    assert np.all(np.diff(hotter) > 0)

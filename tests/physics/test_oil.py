"""Oil: viscosity, what a feed lets through, what a drain takes home."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.oil import (
    drain_flow,
    drain_head,
    film_thickness,
    full_pipe_gravity_flow,
    kinematic_viscosity,
    oil_density,
    restricted_flow,
    restrictor_flow,
    turbo_oil_heat,
)
from tests.labels import check

AT_40, AT_100 = 64e-6, 10.9e-6
LITRE_A_MINUTE = 1e-3 / 60.0
HALF = np.radians(30.0)


@check(
    "published",
    id="O1",
    source="astmd341",
    note="equation from memory, evaluated by hand through 64 and 10.9 mm2/s; 0.2 % is that of the rounding",
)
def test_viscosity_between_and_beyond_two_points() -> None:
    ours = kinematic_viscosity(np.array([80.0, 120.0, 150.0]) + 273.15, AT_40, AT_100) * 1e6
    assert ours == pytest.approx([17.41, 7.403, 4.635], rel=2e-3)
    assert kinematic_viscosity(np.array([313.15, 373.15]), AT_40, AT_100) == pytest.approx([AT_40, AT_100])


@check(
    "limit",
    id="O3",
    note="an exact formula, worked by hand: 1.0 mm under 4 bar, 1.5 mm under 3 bar, 840 kg/m3; physics 25 %",
)
def test_thin_restrictor() -> None:
    ours = restrictor_flow(np.array([4e5, 3e5]), np.array([1.0e-3, 1.5e-3]), 840.0) / LITRE_A_MINUTE
    assert ours == pytest.approx([0.887, 1.729], rel=1e-3)


@check(
    "reference library",
    id="O4",
    source="fluids",
    note="worked example of its metering module, 7.7023 kg/s of water, which counts it as a gas that "
    "expands: less that factor the plain formula with 0.61 lies within 1.5 %. Its law holds far above the "
    "Reynolds numbers of oil in a hole of 1 mm, so it says nothing there",
)
def test_coefficient_of_a_thin_plate() -> None:
    from fluids.flow_meter import ISO_5167_ORIFICE, differential_pressure_meter_solver, orifice_expansibility

    theirs = differential_pressure_meter_solver(
        D=0.07366,
        D2=0.05,
        P1=200000.0,
        P2=183000.0,
        rho=999.1,
        mu=0.0011,
        k=1.33,
        meter_type=ISO_5167_ORIFICE,
        taps="D",
    )
    assert theirs == pytest.approx(7.7023, rel=5e-4)
    approach = 1.0 / np.sqrt(1.0 - (0.05 / 0.07366) ** 4)
    ours = 999.1 * float(restrictor_flow(17e3, 0.05, 999.1)) * approach
    expands = orifice_expansibility(D=0.07366, Do=0.05, P1=200000.0, P2=183000.0, k=1.33)
    assert ours == pytest.approx(theirs / expands, rel=0.015)


@check(
    "limit",
    id="O5",
    note="Hagen and Poiseuille: 16 mm, 30 degrees, 11.44 mPa s, 840 kg/m3; by hand 34.75; 34.8 comes "
    "of a viscosity of more digits. Reynolds 3387 says that it is not laminar: the flow by "
    "friction factors must lie below",
)
def test_laminar_flow_through_a_full_drain_is_too_much() -> None:
    flow = float(full_pipe_gravity_flow(16e-3, HALF, 11.44e-3, 840.0))
    assert flow / LITRE_A_MINUTE == pytest.approx(34.8, rel=2e-3)
    assert 4.0 * flow * 840.0 / (np.pi * 16e-3 * 11.44e-3) == pytest.approx(3387.0, rel=2e-3)
    assert drain_flow(16e-3, HALF, 11.44e-3, 840.0) < 0.5 * flow


@check("limit", id="O6", note="a half-full laminar pipe carries half of the full one, by symmetry; exact")
def test_half_full_is_half() -> None:
    thick = 0.2  # Pa s, cold: laminar
    full = float(full_pipe_gravity_flow(16e-3, HALF, thick, 880.0))
    assert drain_flow(16e-3, HALF, thick, 880.0) == pytest.approx(0.5 * full, rel=1e-6)


@check("limit", id="O7", source="nusselt1916", note="1 l/min over 16 mm at 30 degrees; last digit of 2.05")
def test_film() -> None:
    film = film_thickness(LITRE_A_MINUTE / 16e-3, HALF, 11.44e-3, 840.0)
    assert float(film) * 1e3 == pytest.approx(2.05, abs=0.01)


@check("limit", note="no restrictor, no clearance to speak of: each end alone; the sum of both losses is p")
def test_restrictor_and_bearing_share_the_pressure() -> None:
    p, mu, rho, wide = 4e5, 9e-3, 830.0, 1e9
    assert restricted_flow(p, 1e-3, wide, mu, rho) == pytest.approx(restrictor_flow(p, 1e-3, rho), rel=1e-6)
    assert restricted_flow(p, np.inf, 1.1e-12, mu, rho) == pytest.approx(p * 1.1e-12 / mu)
    both = float(restricted_flow(p, 1e-3, 1.1e-12, mu, rho))
    lost = 0.5 * rho * (both / (0.61 * 0.25 * np.pi * 1e-6)) ** 2 + mu * both / 1.1e-12
    assert lost == pytest.approx(p, rel=1e-9)
    assert restricted_flow(-1e5, 1e-3, 1.1e-12, mu, rho) == 0.0


@check("limit", note="a flat or rising drain takes nothing; steeper, wider and thinner oil each take more")
def test_a_drain_by_slope_bore_and_oil() -> None:
    assert drain_flow(16e-3, 0.0, 0.01, 840.0) == 0.0
    assert drain_flow(16e-3, -0.1, 0.01, 840.0) == 0.0
    usual = drain_flow(16e-3, 0.5, 0.01, 840.0)
    assert drain_flow(16e-3, 0.7, 0.01, 840.0) > usual
    assert drain_flow(19e-3, 0.5, 0.01, 840.0) > usual
    assert drain_flow(16e-3, 0.5, 0.03, 840.0) < usual


@check("common practice", note="100 mm of oil are 0.8 kPa; none where the outlet lies below the level")
def test_head_of_oil() -> None:
    assert drain_head(np.array([0.1, -0.05]), 830.0) == pytest.approx([814.0, 0.0], rel=1e-3)
    assert float(oil_density(388.15)) == pytest.approx(805.0, abs=10.0)


@check("conservation", note="1 l/min of 800 kg/m3 warmed by 30 K at 2200 J/kg/K, by hand")
def test_heat_of_the_oil() -> None:
    assert float(turbo_oil_heat(LITRE_A_MINUTE, 800.0, 30.0)) == pytest.approx(880.0, rel=1e-6)

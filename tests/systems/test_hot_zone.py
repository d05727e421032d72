"""Parts near the hot side: walls, balances on the road, the soak after a stop, trends, the trade's rules."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from boostwright.physics.convection import cross_flow_coefficient, free_convection_coefficient
from boostwright.physics.heat_transfer import STEFAN_BOLTZMANN
from boostwright.systems.hot_zone import Bay, HotPart, Neighbour, wall_temperature, warmed
from tests.labels import check

HOT = HotPart(wall=980.0, emissivity=0.85, radius=0.07, length=0.0, heat=2.3e4)
BAY = Bay(moving=345.0, standing=345.0, speed=1.6, pressure=1.0e5)
LINE = Neighbour(0.12, 0.012, 3.14, 1.6e4, 0.9, 0, 0.3)


@check("limit", note="no view of the source: the part is as warm as the air; within 0.1 K at 100 m")
def test_far_away_it_is_as_warm_as_the_air() -> None:
    far = warmed(replace(LINE, distance=100.0), HOT, BAY)
    assert far.driving == pytest.approx(345.0, abs=0.1)
    assert far.standing == pytest.approx(345.0, abs=0.1)


@check(
    "conservation", note="what reaches the part by radiation is what air and surroundings take, counted apart"
)
def test_on_the_road_the_part_is_in_balance() -> None:
    T = float(warmed(LINE, HOT, BAY).driving)
    view = (0.07 / 0.19) ** 2
    gain = 0.9 * view * 0.85 * STEFAN_BOLTZMANN * (980.0**4 - 345.0**4)
    h = float(cross_flow_coefficient(1.6, 0.012, 380.0, 345.0, 1.0e5))
    shed = 3.14 * (h * (T - 345.0) + 0.9 * STEFAN_BOLTZMANN * (T**4 - 345.0**4))
    assert shed == pytest.approx(gain, rel=1e-6)


@check("reference library", source="scipy", note="a heavy part under ten minutes of load by solve_ivp; 4 K")
def test_what_is_heavy_has_not_come_to_rest_when_the_load_ends() -> None:
    heavy = replace(LINE, heat=1.2e5, surface=4.0, size=0.18)
    view = (0.07 / 0.19) ** 2
    h = float(cross_flow_coefficient(1.6, 0.18, 380.0, 345.0, 1.0e5))
    gain = 0.9 * view * 0.85 * STEFAN_BOLTZMANN * (980.0**4 - 345.0**4)

    def slope(_: float, T: np.ndarray) -> np.ndarray:
        shed = 4.0 * (h * (T - 345.0) + 0.9 * STEFAN_BOLTZMANN * (T**4 - 345.0**4))
        return np.asarray((gain - shed) / 1.2e5)

    run = solve_ivp(slope, (0, 600), [345.0], max_step=5.0, rtol=1e-8)
    ours = float(warmed(heavy, HOT, BAY._replace(lasting=600.0)).driving)
    assert ours == pytest.approx(float(run.y[0][-1]), abs=4.0)
    assert ours < float(warmed(heavy, HOT, BAY).driving) - 10.0


@check("reference library", source="scipy", note="the two lumps of the soak by solve_ivp; steps of 20 s: 3 K")
def test_the_soak_against_a_general_solver() -> None:
    bay = BAY._replace(standing=365.0)
    ours = warmed(LINE, HOT, bay)
    view = (0.07 / 0.19) ** 2
    still = float(free_convection_coefficient(0.012, 380.0, 345.0, 1.0e5))
    wall_air = float(free_convection_coefficient(0.1, 700.0, 365.0, 1.0e5))

    def slopes(_: float, state: np.ndarray) -> list[float]:
        wall, part = state
        emitted = STEFAN_BOLTZMANN * (wall**4 - 365.0**4)
        own = STEFAN_BOLTZMANN * (part**4 - 365.0**4)
        shed = 3.14 * (still * (part - 365.0) + 0.9 * own)
        return [
            -(0.85 * emitted + wall_air * (wall - 365.0)) / 2.3e4,
            (0.9 * view * 0.85 * emitted - shed) / 1.6e4,
        ]

    run = solve_ivp(slopes, (0, 900), [980.0, float(ours.driving)], max_step=2.0, rtol=1e-8)
    assert float(ours.standing) == pytest.approx(float(run.y[1].max()), abs=3.0)


@pytest.mark.parametrize(
    ("part", "hot", "bay"),
    [
        ({"distance": 0.20}, {}, {}),
        ({"emissivity": 0.3}, {}, {}),
        ({"shields": 1}, {}, {}),
        ({}, {"wall": 900.0}, {}),
        ({}, {"emissivity": 0.6}, {}),
        ({}, {"radius": 0.05}, {}),
        ({}, {}, {"speed": 3.0}),
        ({}, {}, {"moving": 335.0, "standing": 335.0}),
    ],
)
def test_what_keeps_a_part_cooler(
    part: dict[str, float], hot: dict[str, float], bay: dict[str, float]
) -> None:
    base = warmed(LINE, HOT, BAY)
    other = warmed(replace(LINE, **part), HOT._replace(**hot), BAY._replace(**bay))  # type: ignore[arg-type]
    assert other.driving < base.driving - 1.0
    assert other.standing <= base.standing


def test_two_sheets_are_better_than_one_and_a_bright_one_better_than_a_dirty_one() -> None:
    one, two = (warmed(replace(LINE, shields=n), HOT, BAY).driving for n in (1, 2))
    assert two < one
    bright = warmed(replace(LINE, shields=1, shield_emissivity=0.1), HOT, BAY).driving
    assert bright < one


def test_a_part_never_becomes_hotter_than_what_it_lies_beside() -> None:
    near = warmed(replace(LINE, distance=0.0), HOT, BAY)
    assert 345.0 < near.driving < 980.0
    assert near.standing < 980.0


def test_a_wall_lies_between_its_gas_and_the_air_and_follows_the_gas() -> None:
    gas, flow = np.array([900.0, 1100.0, 1250.0]), np.array([0.03, 0.08, 0.13])
    wall = wall_temperature(gas, flow, 0.042, 5e-3, 350.0)
    assert np.all((wall > 350.0) & (wall < gas))
    assert np.all(np.diff(wall) > 0)
    assert np.all(wall_temperature(gas, 1.5 * flow, 0.042, 5e-3, 350.0) > wall)


@check("common practice", note="walls of the hot side at full load: 600 to 900 degC, glowing in the dark")
def test_walls_as_the_trade_sees_them() -> None:
    wall = wall_temperature(np.array([1180.0]), np.array([0.11]), 0.042, 5e-3, 350.0) - 273.15
    assert 600.0 < float(wall[0]) < 900.0


@check(
    "common practice", note="'fuel and brake lines 150 mm from a turbine, or shielded': between 80 and 250 mm"
)
def test_clearance_as_the_trade_keeps_it() -> None:
    distances = np.linspace(0.03, 0.5, 200)
    hot = HOT._replace(wall=1050.0)
    most = np.array(
        [warmed(replace(LINE, distance=d), hot, BAY._replace(standing=358.0)).most for d in distances]
    )
    enough = float(distances[np.flatnonzero(most <= 273.15 + 130.0)[0]])
    assert 0.08 < enough < 0.25

"""Heat soak of a charge cooler."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from boostwright.errors import OutOfRange
from boostwright.physics.heat_soak import (
    CP_CHARGE,
    Stretch,
    cooling_conductance,
    heat_soak,
    wall_effectiveness,
)
from tests.labels import check

AIR = 298.15


def steady(duration: float, rate: float, T2: float, e: float, K: float, steps: int = 50) -> Stretch:
    return Stretch(duration, *(np.full(steps, float(v)) for v in (rate, T2, e, K)))


@check(
    "common practice",
    id="E11",
    note="4 kg of aluminium, 0.15 kg/s: 25 to 30 s on the charge side alone, 4 to 8 s with ram air; a "
    "6.5 litre core at 4 to 10 m/s",
)
def test_time_constants() -> None:
    rate, heat = 0.15 * CP_CHARGE, 900.0 * 4.0
    e = float(wall_effectiveness(500.0, 0.15))
    alone = heat / (rate * e)
    assert 24.5 < alone < 30.5  # half of the last digit
    K = float(cooling_conductance(0.66, e, rate))
    assert 4.0 < heat / (rate * e + K) < 8.0


@check("limit", id="E12", note="constant flow: the wall follows one exponential to its balance; 1e-12")
def test_constant_flow_is_one_exponential() -> None:
    soak = heat_soak((steady(10.0, 120.0, 390.0, 0.9, 200.0),), 3600.0, AIR)
    total = 120.0 * 0.9 + 200.0
    end = (120.0 * 0.9 * 390.0 + 200.0 * AIR) / total
    expected = end + (AIR - end) * math.exp(-total * 10.0 / 3600.0)
    assert soak.wall[0][-1] == pytest.approx(expected, rel=1e-12)
    assert soak.charge[0][-1] == pytest.approx(390.0 - 0.9 * (390.0 - expected), rel=1e-12)


@check(
    "reference library",
    id="E12",
    source="scipy",
    note="solve_ivp on pulls with rising flow and temperature; the steps of 0.1 s hold them constant, 0.1 K",
)
def test_against_an_ode_solver() -> None:
    k = 80
    t = (np.arange(k) + 0.5) / k
    pull = Stretch(8.0, 50 + 100 * t, 330 + 60 * t, 0.95 - 0.1 * t, 120 + 80 * t)
    pause = steady(20.0, 10.0, 310.0, 0.99, 60.0, 200)
    soak = heat_soak((pull, pause, pull, pause, pull), 3600.0, AIR)

    def rate(time: float, wall: np.ndarray) -> list[float]:
        time = time % 28.0
        if time < 8.0:
            x = time / 8.0
            C, T2, e, K = 50 + 100 * x, 330 + 60 * x, 0.95 - 0.1 * x, 120 + 80 * x
        else:
            C, T2, e, K = 10.0, 310.0, 0.99, 60.0
        return [(C * e * (T2 - wall[0]) - K * (wall[0] - AIR)) / 3600.0]

    solved = solve_ivp(rate, (0.0, 64.0), [AIR], rtol=1e-9, atol=1e-9, max_step=0.2)
    assert soak.wall[-1][-1] == pytest.approx(solved.y[0, -1], abs=0.1)


@check(
    "conservation",
    id="E13",
    note="heat into the wall less heat to the air is what the wall holds; exact steps, so the sum over"
    " short steps agrees as their length",
)
def test_heat_is_conserved() -> None:
    stretch = steady(8.0, 120.0, 390.0, 0.9, 200.0, 8000)
    wall = heat_soak((stretch,), 3600.0, AIR).wall[0]
    before = np.concatenate([[AIR], wall[:-1]])
    middle = (wall + before) / 2
    balance = np.sum(120.0 * 0.9 * (390.0 - middle) - 200.0 * (middle - AIR)) * 1e-3
    assert balance == pytest.approx(3600.0 * (wall[-1] - AIR), rel=1e-6)


@given(
    eps=st.floats(0.05, 0.85),
    rate=st.floats(20.0, 300.0),
    T2=st.floats(320.0, 450.0),
    room=st.floats(0.02, 0.14),
)
def test_a_long_pull_ends_at_the_coolers_own_effectiveness(
    eps: float, rate: float, T2: float, room: float
) -> None:
    e = eps + room
    K = float(cooling_conductance(eps, e, rate))
    soak = heat_soak((steady(1e5, rate, T2, e, K, 3),), 3600.0, AIR)
    assert soak.charge[0][-1] == pytest.approx(T2 - eps * (T2 - AIR), rel=1e-9)


def test_each_pull_starts_warmer_and_standing_air_is_worse() -> None:
    pull = steady(8.0, 120.0, 380.0, 0.92, 250.0)
    ends = {}
    for name, K in (("moving", 150.0), ("standing", 10.0)):
        pause = steady(20.0, 5.0, 300.0, 0.99, K)
        soak = heat_soak((pull, pause, pull, pause, pull), 3600.0, AIR)
        ends[name] = [soak.charge[i][-1] for i in (0, 2, 4)]
        assert ends[name] == sorted(ends[name])
        assert AIR < ends[name][0] < ends[name][-1] < 380.0
    assert ends["standing"][-1] > ends["moving"][-1] + 2.0


def test_no_flow_and_no_wind_keep_the_wall_as_it_is() -> None:
    soak = heat_soak((steady(60.0, 0.0, 300.0, 0.0, 0.0),), 3600.0, AIR, 340.0)
    assert soak.wall[0] == pytest.approx(np.full(50, 340.0))


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="charge side"):
        cooling_conductance(0.8, 0.7, 100.0)
    with pytest.raises(OutOfRange, match="not above zero"):
        heat_soak((), 0.0, AIR)

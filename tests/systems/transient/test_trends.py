"""How the arrival of boost answers to turbo, car, gate and walls; what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.systems.transient import HeatLag, PullRequest
from boostwright.systems.transient.variants import blades_of, inertia_share, other_turbines
from tests.labels import check
from tests.systems.mean_value_engine import RPM
from tests.systems.transient.reference import CAR, COLD, GOAL, INERTIA, WARM, arrival, held
from tests.systems.turbo_parts import AMBIENT, INCH, parts

SECOND, THIRD, FOURTH = (PullRequest(2000 * RPM, gear) for gear in (2, 3, 4))


@check("common practice", note="a smaller housing brings boost earlier, a heavier shaft and cold walls later")
def test_what_brings_boost_earlier() -> None:
    usual = arrival(held(3000)).pulls[0].arrival
    tight = parts(turbine=(0.050, 0.044, 0.45 * INCH))
    assert arrival(held(3000), turbo=tight).pulls[0].arrival < usual
    assert arrival(held(3000), inertia=2 * INERTIA).pulls[0].arrival > usual
    assert arrival(held(3000), lag=WARM).pulls[0].arrival < usual
    assert arrival(held(3000), start_shaft=60_000 * RPM).pulls[0].arrival < usual
    assert arrival(held(3000), volume=30e-3).pulls[0].arrival > usual


@check("common practice", note="a lorry's turbo on two litres makes no boost at 2500 rpm, and it says so")
def test_a_turbo_far_too_large_never_arrives() -> None:
    lorry = parts((0.066, 0.0910), (0.082, 0.072, 1.15 * INCH))
    pull = arrival(held(2500), turbo=lorry, inertia=2.5e-4, with_spread=True).pulls[0]
    assert np.isnan(pull.arrival)
    assert np.isnan(pull.arrival_speed)
    assert np.isnan(pull.arrival_sd)
    assert pull.peak < 0.5 * (GOAL - AMBIENT.pressure)


@check("common practice", note="higher gear: boost at a lower engine speed, but later; a loaded car likewise")
def test_gears_and_load() -> None:
    answer = arrival(SECOND, THIRD, FOURTH, car=CAR)
    speeds = [p.arrival_speed for p in answer.pulls]
    assert speeds == sorted(speeds, reverse=True)
    assert [p.arrival for p in answer.pulls] == sorted(p.arrival for p in answer.pulls)
    laden = arrival(THIRD, car=replace(CAR, mass=CAR.mass + 500)).pulls[0]
    assert laden.arrival_speed < answer.pulls[1].arrival_speed
    assert answer.in_gear(3) is answer.pulls[1]
    assert answer.in_gear(5) is None
    assert answer.held is None


def test_a_pull_ends_at_the_top_speed() -> None:
    pull = arrival(PullRequest(4500 * RPM, 1), car=CAR, top_speed=5000 * RPM).pulls[0]
    assert pull.ends_at_top
    assert np.all(pull.crank < 5100 * RPM)


def test_the_spread_comes_from_named_things_and_the_changes_help() -> None:
    answer = arrival(THIRD, held(3000), car=CAR, with_spread=True)
    assert sum(share for _, share in answer.unknowns) == pytest.approx(1.0)
    assert {"inertia of the shaft", "efficiency of the turbine"} <= {words for words, _ in answer.unknowns}
    pull = answer.pulls[0]
    assert 0.1 * pull.arrival < pull.arrival_sd < pull.arrival
    assert pull.arrival_speed_sd > 0
    speeds = [pull.arrival_speed, *(r.arrival_speed for r in answer.housings)]
    assert speeds == sorted(speeds, reverse=True)
    assert all(r.arrival < pull.arrival for r in answer.wheels)
    assert answer.pulls[1].crank[0] == answer.pulls[1].crank[-1]
    assert answer.held is answer.pulls[1]


@check("limit", note="a gate by its own balance: slower, more overshoot; opening early, less boost")
def test_a_gate_of_its_own() -> None:
    def gate(crack: float) -> object:
        return lambda plenum, outlet, inlet, back: 4e-4 * np.clip((outlet - crack) / 8e3, 0.0, 1.0)

    quick, slow = (arrival(held(4000), gate_area=gate(GOAL), gate_time=t).pulls[0] for t in (0.05, 0.4))
    assert slow.peak > quick.peak + 2e3
    assert slow.overshoot == slow.peak - (GOAL - AMBIENT.pressure)
    early = arrival(held(4000), gate_area=gate(140e3)).pulls[0]
    assert early.peak < 0.75 * (GOAL - AMBIENT.pressure)
    assert np.isnan(early.arrival)


@check("limit", note="easy driving leaves the shaft slower than boost does, faster at more engine speed")
def test_shaft_in_easy_driving() -> None:
    slow, fast = (arrival(PullRequest(n * RPM, 4), car=CAR, start_shaft=None) for n in (1600, 3200))
    assert 5000 * RPM <= slow.start_shaft < fast.start_shaft < 60_000 * RPM


@check("limit", note="walls: no heat transfer, none taken; infinite, all; Nu ~ Re^0.75, less with more flow")
@given(st.floats(0.005, 0.3), st.floats(0.01, 3.0))
def test_share_of_the_walls(flow: float, units: float) -> None:
    lag = HeatLag(units, 0.06, 0.5, 2.0, 20.0)
    assert WARM.share(np.array([flow]))[0] == 0
    assert COLD.share(np.array([flow]))[0] == 1
    low, high = lag.share(np.array([flow, 2 * flow]))
    assert 0 < high < low < 1
    assert lag.share(np.array([0.06]))[0] == pytest.approx(1 - np.exp(-units))


@settings(max_examples=8, deadline=None)
@given(
    st.floats(1500, 5500), st.integers(1, 5), st.floats(5e-6, 3e-4), st.floats(2e-3, 40e-3),
    st.floats(120e3, 260e3), st.floats(600.0, 1100.0),
)  # fmt: skip
def test_any_case_stays_finite(
    rpm: float, gear: int, inertia: float, volume: float, goal: float, warmth: float
) -> None:
    pull = arrival(
        PullRequest(rpm * RPM, gear), car=CAR, inertia=inertia, inertia_sd=0.3 * inertia, volume=volume,
        goal_pressure=goal, start_temperature=warmth, duration=3.0,
    ).pulls[0]  # fmt: skip
    for column in (pull.boost, pull.crank, pull.shaft):
        assert np.all(np.isfinite(column))
    assert np.all(pull.shaft >= 523)
    assert pull.peak < 1.25 * (goal - AMBIENT.pressure)
    assert np.isnan(pull.arrival) or 0 <= pull.arrival <= 3.0


@pytest.mark.parametrize(
    ("requests", "changes", "words"),
    [
        ((), {}, "at least one pull"),
        ((PullRequest(200.0, 3),), {}, "needs a car"),
        ((PullRequest(200.0, 9),), {"car": CAR}, "there is no gear 9"),
        ((PullRequest(0.0),), {}, "above zero"),
        ((PullRequest(200.0),), {"inertia": 0.0}, "above zero"),
        ((PullRequest(200.0),), {"volume": float("nan")}, "above zero"),
        ((PullRequest(200.0),), {"reference": 1}, "reference among them"),
    ],
)
def test_what_makes_no_sense_is_refused(
    requests: tuple[PullRequest, ...], changes: dict[str, object], words: str
) -> None:
    with pytest.raises(OutOfRange, match=words):
        arrival(*requests, **changes)  # type: ignore[arg-type]


@check(
    "limit", note="another turbine's blades: those of the sizes themselves where nothing else is known; exact"
)
def test_blades_of_another_size() -> None:
    usual = parts()
    smaller = parts(turbine=(0.045, 0.0396, 0.50 * INCH))
    one, two = blades_of(smaller, usual), blades_of(smaller, smaller)
    assert one == pytest.approx(two, rel=1e-9)
    assert one.area < blades_of(usual, usual).area
    assert inertia_share(usual) == pytest.approx(1.6 / (1.6 + 0.55 * (59 / 50) ** 5), rel=1e-9)
    assert [v.words for v in other_turbines(usual)] == [""] * 5

"""Fuses: the band between the gates, pulses, and the cable behind."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.library import cables, fuses
from boostwright.physics import cable, cable_heat, fuse
from tests.labels import check

BLADE = fuses.fuse_type("blade").gates
BOLTED = fuses.fuse_type("bolted").gates
MM2 = 1e-6


@check(
    "published",
    id="P7",
    source="iso8820",
    note="110 % at least 100 h, 135 % 0.75 to 600 s, 200 % 0.15 to 5 s, 350 % 0.04 to 0.5 s, 600 % 0.02 to "
    "0.1 s; from memory, not found in print; exact",
)
@pytest.mark.parametrize(
    ("ratio", "earliest", "latest"),
    [(1.1, 360000.0, np.inf), (1.35, 0.75, 600.0), (2.0, 0.15, 5.0), (3.5, 0.04, 0.5), (6.0, 0.02, 0.1)],
)
@pytest.mark.parametrize("by_steps", [False, True])
def test_gates_of_a_blade_fuse(ratio: float, earliest: float, latest: float, by_steps: bool) -> None:
    found = fuse.opening_band(BLADE, 20.0, ratio * 20.0, by_steps=by_steps)
    assert float(found.earliest) == pytest.approx(earliest, rel=1e-6)
    assert float(found.latest) == pytest.approx(latest, rel=1e-6)


@check("limit", id="P7", note="straight in log over log: half way between two gates lies the geometric mean")
def test_between_two_gates() -> None:
    found = fuse.opening_band(BLADE, 10.0, 10.0 * np.sqrt(2.0 * 3.5))
    assert float(found.earliest) == pytest.approx(np.sqrt(0.15 * 0.04), rel=1e-9)
    assert float(found.latest) == pytest.approx(np.sqrt(5.0 * 0.5), rel=1e-9)
    steps = fuse.opening_band(BLADE, 10.0, 10.0 * np.sqrt(2.0 * 3.5), by_steps=True)
    assert (float(steps.earliest), float(steps.latest)) == (0.04, 5.0)


@check("limit", id="P7", note="below the first gate it holds; up to the first latest time nothing is certain")
def test_below_the_gates() -> None:
    found = fuse.opening_band(BLADE, 10.0, [0.0, 10.9, 13.0, 13.5])
    assert np.isinf(found.earliest).tolist() == [True, True, False, False]
    assert np.isinf(found.latest).tolist() == [True, True, True, False]


@check("limit", id="P7", note="past the last gate t I^2 stays; the latest has the floor of the arc's time")
def test_past_the_gates() -> None:
    found = fuse.opening_band(BLADE, 10.0, [120.0, 5000.0])
    assert found.earliest == pytest.approx([0.02 / 4, 0.02 * (60 / 5000) ** 2], rel=1e-9)
    assert found.latest == pytest.approx([0.1 / 4, 0.005], rel=1e-9)


@given(st.sampled_from([BLADE, BOLTED]), st.floats(0.5, 40.0), st.floats(1.0, 1.5))
@settings(deadline=None)
def test_order_of_the_band(gates: fuse.FuseGates, ratio: float, more: float) -> None:
    here, there = (fuse.opening_band(gates, 30.0, 30.0 * x) for x in (ratio, ratio * more))
    assert float(here.earliest) <= float(here.latest)
    assert float(there.earliest) <= float(here.earliest) * (1 + 1e-12)
    assert float(there.latest) <= float(here.latest) * (1 + 1e-12)
    steps = fuse.opening_band(gates, 30.0, 30.0 * ratio, by_steps=True)
    assert float(steps.earliest) <= float(here.earliest) * (1 + 1e-12)
    assert float(steps.latest) >= float(here.latest) * (1 - 1e-12)


@check(
    "common practice", note="0.1 to 0.2 % by kelvin from 23 degC: at 80 degC a 100 A fuse acts as one of 91"
)
def test_rating_by_temperature() -> None:
    assert fuse.rating_at(100.0, [296.15, 353.15, 243.15]) == pytest.approx([100.0, 91.45, 107.95], rel=1e-9)
    hot = fuse.opening_band(BLADE, fuse.rating_at(20.0, 353.15), 40.0)
    assert float(hot.earliest) < float(fuse.opening_band(BLADE, 20.0, 40.0).earliest)
    assert float(fuse.rating_at(100.0, 2000.0)) == 0.0


@check("limit", note="a pulse just shorter than the earliest time is lived through, one just longer is not")
def test_pulses() -> None:
    earliest = float(fuse.opening_band(BOLTED, 200.0, 600.0).earliest)
    found = fuse.survives_pulse(BOLTED, 200.0, 600.0, np.array([0.99, 1.01]) * earliest)
    assert found.survives.tolist() == [True, False]
    assert found.margin == pytest.approx([1 / 0.99, 1 / 1.01], rel=1e-9)
    assert not fuse.survives_pulse(BOLTED, 200.0, 600.0, 0.5 * earliest, share=0.4).survives
    assert bool(fuse.survives_pulse(BOLTED, 200.0, 150.0, 1e9).survives)
    assert float(fuse.survives_pulse(BOLTED, 200.0, 600.0, 0.0).margin) == np.inf


# A fuse as one lump: C dT/dt = I^2 - T/k, opens at T = 1; its rest temperature is 1 at 1.1 times the rating.
K = 1 / 1.1**2


def lump_opens(current: NDArray[np.float64], time_constant: float) -> NDArray[np.float64]:
    end = K * current**2
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(end > 1.0, -time_constant * np.log1p(-1.0 / end), np.inf)


def lump_after(current: float, time: float, start: float, time_constant: float) -> float:
    end = K * current**2
    return float(end + (start - end) * np.exp(-time / time_constant))


@check(
    "limit",
    note="a fuse as one lump with its own exact curve as gates: where a falling course sums to below 1 it "
    "has not opened; 1e-3 for the 400 gates",
)
@given(st.floats(3.0, 8.0), st.floats(1.2, 3.0), st.floats(0.05, 0.95), st.floats(0.01, 0.99))
@settings(deadline=None, max_examples=60)
def test_the_sum_is_safe_where_currents_fall(first: float, second: float, use: float, part: float) -> None:
    tau = 10.0
    ratio = np.geomspace(1.1001, 20.0, 400)
    own = fuse.FuseGates(ratio, lump_opens(ratio, tau), lump_opens(ratio, tau))
    times = use * np.array([part, 1 - part]) * lump_opens(np.array([first, second]), tau)
    assert float(fuse.pulse_use(own, 1.0, [first, second], times)) == pytest.approx(use, rel=1e-3)
    heat = lump_after(second, times[1], lump_after(first, times[0], 0.0, tau), tau)
    assert heat < 1.0


@check(
    "limit",
    note="the same lump: a long weak stretch first makes the plain sum too low; as preload it is safe",
)
def test_a_warm_fuse_needs_the_preload() -> None:
    tau, weak, strong = 10.0, 1.0, 6.0
    ratio = np.geomspace(1.1001, 20.0, 400)
    own = fuse.FuseGates(ratio, lump_opens(ratio, tau), lump_opens(ratio, tau))
    pulse = 0.5 * float(lump_opens(np.array(strong), tau))
    opened = lump_after(strong, pulse, lump_after(weak, 1e4, 0.0, tau), tau) > 1.0
    assert opened
    assert float(fuse.pulse_use(own, 1.0, [weak, strong], [1e4, pulse])) < 1.0
    assert float(fuse.pulse_use(own, 1.0, [strong], [pulse], preload=weak)) > 1.0


@check(
    "limit",
    id="P7",
    note="rule: continuous current of the cable at or above the fuse's rating; 1.45/1.35 more",
)
def test_rating_rule() -> None:
    found = fuse.rating_rule(BLADE, [15.0, 30.0], 10.0, 22.0)
    assert found.cable == pytest.approx([22 / 15, 22 / 30], rel=1e-12)
    assert (found.cable >= 1.0).tolist() == [True, False]
    assert found.overload == pytest.approx(found.cable * 1.45 / 1.35, rel=1e-12)
    assert found.load == pytest.approx([1.125, 2.25], rel=1e-12)
    never = fuse.FuseGates(np.array([1.0, 2.0]), np.array([9.0, 3.0]), np.array([np.inf, np.inf]))
    assert float(fuse.rating_rule(never, 10.0, 5.0, 20.0).overload) == 0.0


def withstand(section: float, cover: str = "pvc_105") -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    wire, bears = cables.heat_cable(section * MM2, cover), cables.insulation(cover)
    G = cable_heat.cooling_conductance(wire, bears.short_circuit, 313.15)
    return lambda current: cable_heat.time_to_temperature(
        wire.resistance_20, current, bears.short_circuit, 343.15, 313.15, G
    )


@check("limit", id="P7", note="the worst margin and its place are those of a search by brute force")
@pytest.mark.parametrize(("section", "rating"), [(1.5, 15.0), (1.5, 30.0), (0.5, 20.0), (4.0, 40.0)])
def test_worst_margin(section: float, rating: float) -> None:
    bears = withstand(section)
    found = fuse.cable_protection(BLADE, rating, bears, rating, 800.0)
    gates = rating * BLADE.ratio
    currents = np.concatenate((np.linspace(rating, 800.0, 200_001), gates, gates * (1 - 1e-9)))
    currents = currents[currents <= 800.0]
    ratio = bears(currents) / np.where(
        np.isinf(bears(currents)), 1.0, fuse.opening_band(BLADE, rating, currents).latest
    )
    assert found.margin == pytest.approx(float(ratio.min()), rel=1e-5)  # steps of 4 mA about a flat place
    assert found.protects == bool(ratio.min() >= 1.0)
    if np.isfinite(found.latest):
        assert found.margin == pytest.approx(found.withstand / found.latest, rel=1e-12)
    assert float(bears(np.array([found.current]))[0]) == pytest.approx(found.withstand, rel=1e-12)


@check(
    "common practice", id="P7", note="15 A on 1.5 mm2 is usual, 40 A on 1.5 mm2 burns; 200 A on 50 mm2 holds"
)
def test_well_known_pairs() -> None:
    assert fuse.cable_protection(BLADE, 15.0, withstand(1.5), 15.0, 800.0).protects
    burns = fuse.cable_protection(BLADE, 40.0, withstand(1.5), 15.0, 800.0)
    assert not burns.protects
    assert burns.bare is not None
    assert burns.bare[0] < 1.35 * 40.0
    assert burns.margin == 0.0
    assert fuse.cable_protection(BOLTED, 200.0, withstand(50.0), 100.0, 1900.0).protects


@check(
    "limit", note="a cable that bears everything is protected by anything; one that bears nothing by nothing"
)
def test_protection_limits() -> None:
    ever = fuse.cable_protection(BLADE, 20.0, lambda current: np.full(current.shape, np.inf), 1.0, 500.0)
    assert (ever.protects, ever.margin, ever.bare) == (True, np.inf, None)
    never = fuse.cable_protection(BLADE, 20.0, lambda current: np.zeros(current.shape), 1.0, 500.0)
    assert (never.protects, never.margin) == (False, 0.0)
    assert never.bare == pytest.approx((1.0, 500.0))


@check(
    "limit", note="constant k A: equal I^2 t on both sides leaves one margin, to the last gate and past it"
)
def test_protection_against_the_short_circuit_alone() -> None:
    area = 2.5 * MM2

    def bears(current: NDArray[np.float64]) -> NDArray[np.float64]:
        return cable.short_circuit_time(area, current, 343.15, 433.15)

    found = fuse.cable_protection(BLADE, 20.0, bears, 120.0, 400.0)
    by_hand = float(bears(np.array([120.0]))[0]) / 0.1
    assert found.margin == pytest.approx(by_hand, rel=1e-6)


@check(
    "limit", id="P7", note="by steps the worst place lies just below a gate, with the time of the gate before"
)
def test_worst_margin_by_steps() -> None:
    def bears(current: NDArray[np.float64]) -> NDArray[np.float64]:
        return 3e4 * (27.0 / current) ** 6

    found = fuse.cable_protection(BLADE, 20.0, bears, 27.0, 60.0, by_steps=True)
    assert found.current == pytest.approx(40.0, rel=1e-8)
    assert found.latest == pytest.approx(600.0, rel=1e-12)
    assert found.margin == pytest.approx(float(bears(np.array([40.0]))[0]) / 600.0, rel=1e-7)


@check("limit", note="half of the least current that ever opens it, for long before: a quarter of its heat")
def test_preload_by_hand() -> None:
    found = fuse.pulse_use(BLADE, 20.0, [70.0], [0.01], preload=11.0)
    assert float(found) == pytest.approx(0.25 + 0.01 / 0.04, rel=1e-9)


def test_a_bigger_cable_or_a_smaller_fuse_never_protects_less() -> None:
    by_cable = [
        fuse.cable_protection(BLADE, 20.0, withstand(s), 20.0, 500.0).margin for s in (0.5, 1.0, 2.5, 6.0)
    ]
    assert by_cable == sorted(by_cable)
    by_fuse = [
        fuse.cable_protection(BLADE, r, withstand(1.0), 10.0, 500.0).margin for r in (30.0, 20.0, 10.0, 5.0)
    ]
    assert by_fuse == sorted(by_fuse)
    steps = fuse.cable_protection(BLADE, 15.0, withstand(1.5), 15.0, 500.0, by_steps=True)
    assert steps.margin <= fuse.cable_protection(BLADE, 15.0, withstand(1.5), 15.0, 500.0).margin


@check("limit", note="each column is that of its own function; a fuse that fits passes all three")
def test_choice_of_a_main_fuse() -> None:
    start, cable_50 = [(700.0, 0.1), (220.0, 5.0)], withstand(50.0)
    ratings = fuses.fuse_type("bolted").ratings
    found = fuse.choose_ratings(BOLTED, ratings, cable_50, 1900.0, start, 80.0, share=0.4, preload=20.0)
    assert [row.rating for row in found] == list(ratings)
    for row in found:
        used = float(fuse.pulse_use(BOLTED, row.rating, [700.0, 220.0], [0.1, 5.0], 20.0))
        assert row.holds == pytest.approx(0.4 / used, rel=1e-12)
        assert row.carries == pytest.approx(0.75 * row.rating / 80.0, rel=1e-12)
        bare = fuse.cable_protection(BOLTED, row.rating, cable_50, row.rating, 1900.0)
        assert row.protects == bare.margin
        assert row.fits == (row.holds > 1 and row.carries >= 1 and row.protects >= 1)
    fits = [row.rating for row in found if row.fits]
    assert fits
    assert not found[0].fits
    assert not found[-1].fits
    assert 150.0 < min(fits) <= max(fits) < 350.0


@check(
    "limit",
    note="nothing asked: all in order; a short below the rating, which never opens it, harms a thin wire",
)
def test_choice_without_demands() -> None:
    (row,) = fuse.choose_ratings(BLADE, [30.0], withstand(2.5), 25.0)
    assert (row.holds, row.carries, row.protects, row.fits) == (np.inf, np.inf, np.inf, True)
    (weak,) = fuse.choose_ratings(BLADE, [10.0], withstand(2.5), 25.0, load=9.0)
    assert weak.carries == pytest.approx(7.5 / 9.0, rel=1e-12)
    assert (weak.protects, weak.fits) == (np.inf, False)
    (thin,) = fuse.choose_ratings(BLADE, [30.0], withstand(0.5), 25.0)
    assert (thin.protects, thin.fits) == (0.0, False)


def test_a_short_above_the_breaking_current_is_said() -> None:
    assert fuse.cable_protection(BLADE, 15.0, withstand(1.5), 15.0, 999.0).interrupts
    assert not fuse.cable_protection(BLADE, 15.0, withstand(1.5), 15.0, 1001.0).interrupts


@pytest.mark.parametrize(
    ("ratio", "earliest", "latest", "says"),
    [
        ([1.0], [1.0], [2.0], "two gates or more"),
        ([1.0, 2.0], [1.0], [2.0, 1.0], "two gates or more"),
        ([2.0, 1.0], [2.0, 1.0], [3.0, 2.0], "must rise"),
        ([1.0, 2.0], [1.0, 2.0], [3.0, 2.5], "open later"),
        ([1.0, 2.0], [2.0, 1.0], [1.5, 0.9], "earliest after latest"),
        ([1.0, 2.0], [2.0, 0.0], [3.0, 0.9], "open later"),
    ],
)
def test_gates_out_of_order_are_refused(
    ratio: list[float], earliest: list[float], latest: list[float], says: str
) -> None:
    gates = fuse.FuseGates(np.array(ratio), np.array(earliest), np.array(latest))
    with pytest.raises(OutOfRange, match=says):
        fuse.opening_band(gates, 10.0, 20.0)


def test_a_range_or_a_withstand_without_sense_is_refused() -> None:
    for low, high in ((0.0, 100.0), (100.0, 100.0), (100.0, np.inf)):
        with pytest.raises(OutOfRange, match="range of fault currents"):
            fuse.cable_protection(BLADE, 15.0, withstand(1.5), low, high)
    with pytest.raises(OutOfRange, match="one time for each"):
        fuse.cable_protection(BLADE, 15.0, lambda current: np.array(1.0), 10.0, 100.0)
    with pytest.raises(OutOfRange, match="no number"):
        fuse.cable_protection(BLADE, 15.0, lambda current: current * np.nan, 10.0, 100.0)


def test_everything_broadcasts() -> None:
    found = fuse.opening_band(BLADE, np.array([[10.0], [20.0]]), np.array([15.0, 30.0, 90.0]))
    assert found.earliest.shape == found.latest.shape == (2, 3)
    assert fuse.pulse_use(BLADE, 20.0, np.ones((4, 2)) * 30.0, [0.1, 0.2]).shape == (4,)
    assert fuse.rating_rule(BLADE, [10.0, 15.0], 5.0, 20.0).load.shape == (2,)

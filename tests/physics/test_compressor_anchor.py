"""One known point narrows the estimate of a compressor from wheel sizes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.library.compressor_points import shape_band
from boostwright.library.turbo_sizes import compressor_band, compressor_recipe
from boostwright.physics.compressor import GAMMA_AIR, R_AIR, operating_point, pressure_ratio_of_head
from boostwright.physics.compressor_anchor import KnownPoint, PointPlace, Reading, anchored
from boostwright.physics.compressor_sizes import WheelFactors, WheelMap, flow_limits, wheel_sizes
from tests.labels import check

RPM = np.pi / 30
RECIPE = compressor_recipe()
WHEEL = wheel_sizes(0.0445, 0.0590, RECIPE)
MAP = WheelMap(WHEEL, RECIPE)
BAND, SHAPE = compressor_band(), shape_band()
SOUND = np.sqrt(GAMMA_AIR * R_AIR * 298.0)
PER_FLOW = 1e5 / (R_AIR * 298.0) * SOUND * WHEEL.D2**2


def speed_of(mach: float) -> float:
    return float(mach * SOUND * 2 / WHEEL.D2)


def end_flow(mach: float, factor: float = 1.0) -> float:
    return float(flow_limits(WHEEL, RECIPE, mach).end) * mach * PER_FLOW * factor


@check(
    "limit", id="C20",
    note="a flow in choke at a known speed hangs on one factor only: mean and variance of two normal "
    "readings of one number; the linear answer is exact in the logarithm",
)  # fmt: skip
@settings(max_examples=20, deadline=None)
@given(off=st.floats(-0.2, 0.2), sd=st.floats(0.002, 0.1))
def test_choke_flow_at_a_known_speed(off: float, sd: float) -> None:
    flow = end_flow(1.2) * np.exp(off)
    point = KnownPoint(PointPlace.CHOKE, Reading(flow, sd * flow), speed=Reading(speed_of(1.2), 1e-9))
    found = anchored(MAP, BAND, SHAPE, point)
    prior = BAND.choke**2 - SHAPE.choke**2
    noise = sd**2 + SHAPE.choke**2
    assert np.log(found.factors.choke) == pytest.approx(off * prior / (prior + noise), rel=1e-6, abs=1e-9)
    left = prior * noise / (prior + noise)
    assert found.band.choke == pytest.approx(np.sqrt(left + SHAPE.choke**2), rel=1e-6)
    assert found.surprise == pytest.approx(abs(off) / np.sqrt(prior + noise), rel=1e-6, abs=1e-9)
    # Surge is told half of it by its correlation; head and efficiency nothing.
    surge = BAND.surge**2 - SHAPE.surge**2
    told = SHAPE.choke_and_surge * np.sqrt(prior * surge) * off / (prior + noise)
    assert np.log(found.factors.surge) == pytest.approx(told, rel=1e-6, abs=1e-9)
    assert found.factors.head == pytest.approx(1.0, abs=1e-9)
    assert found.band.head == pytest.approx(BAND.head, rel=1e-6)


@check("limit", note="a reading without any worth leaves the estimate and its band as they were")
def test_a_worthless_reading_changes_nothing() -> None:
    point = KnownPoint(
        PointPlace.LINE,
        Reading(0.14, 100.0),
        Reading(1.9, 100.0),
        Reading(speed_of(1.0), 1e6),
        Reading(0.7, 10.0),
    )
    found = anchored(MAP, BAND, SHAPE, point)
    np.testing.assert_allclose(found.factors, WheelFactors(), atol=1e-2)
    np.testing.assert_allclose(found.band, BAND, rtol=1e-3)
    assert found.touched == ()


@check("limit", note="a reading of which nothing is in doubt, of a map that has one shape, is met")
def test_a_sure_reading_is_met() -> None:
    true = WheelFactors(1.0, 1.0, 1.12, 0.02)
    mach, phi = np.asarray(1.05), np.asarray(0.085)
    there = MAP.with_factors(true)(phi, mach)
    ratio = float(pressure_ratio_of_head(there.psi, mach))
    point = KnownPoint(
        PointPlace.LINE,
        Reading(float(phi * mach) * PER_FLOW, 1e-6),
        Reading(ratio, 1e-5),
        Reading(speed_of(1.05), 0.01),
        Reading(float(there.eta), 1e-5),
    )
    stiff = SHAPE._replace(choke=1e-4, surge=1e-4, head=1e-4, speed=1e-4, efficiency=1e-5)
    found = anchored(MAP, BAND, stiff, point)
    met = MAP.with_factors(found.factors)(phi, mach)
    assert float(pressure_ratio_of_head(met.psi, mach)) == pytest.approx(ratio, rel=1e-4)
    assert float(met.eta) == pytest.approx(float(there.eta), abs=1e-4)
    assert found.factors.head == pytest.approx(true.head, rel=2e-3)
    assert found.band.head < 0.02
    assert {"head", "efficiency"} <= {one.factor for one in found.touched}


@check(
    "limit", id="C21",
    note="wheels drawn from the band, each read once with its spread: what the narrowed band says of the "
    "error must be so; of 150 draws a standard deviation is known to 6 %, three times that is allowed",
)  # fmt: skip
def test_the_narrowed_band_is_what_it_says() -> None:
    chance = np.random.default_rng(11)
    wrong, said = [], []
    for _ in range(150):
        common = chance.standard_normal() * np.sqrt(BAND.choke**2 - SHAPE.choke**2)
        here, elsewhere = SHAPE.choke * chance.standard_normal(2)
        flow = end_flow(1.1) * np.exp(common + here + 0.02 * chance.standard_normal())
        point = KnownPoint(PointPlace.CHOKE, Reading(flow, 0.02 * flow), speed=Reading(speed_of(1.1), 1.0))
        found = anchored(MAP, BAND, SHAPE, point)
        wrong.append(common + elsewhere - np.log(found.factors.choke))  # at another speed of the same wheel
        said.append(found.band.choke)
    assert np.std(np.array(wrong) / np.array(said)) == pytest.approx(1.0, abs=0.18)


@check(
    "limit", id="C22",
    note="left by one known point on three open maps: 7, 6, 14 % of pressure ratio less one, 2.2, 1.5, 4 % "
    "of speed, 1.9 and 1.7 points of efficiency; the band must lie between their mean and the wide one",
)  # fmt: skip
def test_a_point_on_a_line_narrows_as_open_maps_say() -> None:
    eta = float(MAP(np.asarray(0.085), np.asarray(1.0)).eta)
    flow = 0.085 * PER_FLOW
    ratio = float(pressure_ratio_of_head(MAP.head(np.asarray(0.085), np.asarray(1.0)), 1.0))
    point = KnownPoint(
        PointPlace.LINE,
        Reading(flow, 0.02 * flow),
        Reading(ratio, 0.01 * ratio),
        Reading(speed_of(1.0), 0.005 * speed_of(1.0)),
        Reading(eta, 0.015),
    )
    band = anchored(MAP, BAND, SHAPE, point).band
    assert 0.09 < band.head < 0.15 < BAND.head
    assert 0.026 < band.speed < 0.05 < BAND.speed
    assert 0.018 < band.efficiency < 0.035 < BAND.efficiency
    assert band.choke == pytest.approx(BAND.choke, rel=1e-2)  # of which such a point says next to nothing


@check(
    "limit",
    note="a pressure ratio places a point in choke or surge as its speed does; same flow, same factor",
)
@pytest.mark.parametrize("place", [PointPlace.CHOKE, PointPlace.SURGE])
def test_by_pressure_ratio_or_by_speed(place: PointPlace) -> None:
    mach = 1.1
    limits = flow_limits(WHEEL, RECIPE, mach)
    phi = limits.end if place is PointPlace.CHOKE else limits.surge
    flow = float(phi) * mach * PER_FLOW
    ratio = float(pressure_ratio_of_head(MAP.head(phi, np.asarray(mach)), mach))
    for factor in (1.0, 1.08):
        known = Reading(factor * flow, 0.001 * flow)
        by_speed = anchored(MAP, BAND, SHAPE, KnownPoint(place, known, speed=Reading(speed_of(mach), 1e-6)))
        by_ratio = anchored(MAP, BAND, SHAPE, KnownPoint(place, known, Reading(ratio, 1e-9)))
        one = by_speed.factors.choke if place is PointPlace.CHOKE else by_speed.factors.surge
        other = by_ratio.factors.choke if place is PointPlace.CHOKE else by_ratio.factors.surge
        assert one == pytest.approx(1.0, abs=1e-9) if factor == 1.0 else one > 1.01
        assert (other - 1.0) * (one - 1.0) >= -1e-12  # to the same side; the head shares in it by ratio
        assert other == pytest.approx(one, abs=0.04)


def test_efficiency_without_a_speed() -> None:
    flow, ratio = 0.12, 1.8
    eta = float(operating_point(MAP, WHEEL.D2, flow, ratio, 298.0, 1e5).efficiency)
    point = KnownPoint(
        PointPlace.LINE, Reading(flow, 1e-3), Reading(ratio, 0.01), efficiency=Reading(eta + 0.03, 0.01)
    )
    found = anchored(MAP, BAND, SHAPE, point)
    assert 0.01 < found.factors.efficiency < 0.03
    assert found.band.efficiency < BAND.efficiency


def test_a_surprising_point_is_said_to_be_one() -> None:
    flow = 2.0 * end_flow(1.2)
    found = anchored(
        MAP, BAND, SHAPE, KnownPoint(PointPlace.CHOKE, Reading(flow, 1e-3), speed=Reading(speed_of(1.2), 1.0))
    )
    assert found.surprise > 3.0


@pytest.mark.parametrize(
    ("point", "words"),
    [
        (KnownPoint(PointPlace.LINE, Reading(0.1, 0.01), Reading(1.8, 0.01)), "known_speed"),
        (KnownPoint(PointPlace.CHOKE, Reading(0.2, 0.01)), "known_speed or turbo.known_pressure_ratio"),
        (KnownPoint(PointPlace.SURGE, Reading(0.1, 0.01), Reading(5.9, 0.01)), "absolute over absolute"),
    ],
)
def test_a_point_that_tells_nothing_is_refused(point: KnownPoint, words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        anchored(MAP, BAND, SHAPE, point)

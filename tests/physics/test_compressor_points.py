"""A map from points, asked inside and outside its ground: shape, continuity, distance, growing spread."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from boostwright.library.compressor_points import points_band, widening
from boostwright.physics.compressor import (
    R_AIR,
    PointStatus,
    actual_flow,
    corrected_speed,
    head_coefficient,
    operating_point,
    pressure_ratio_of_head,
)
from boostwright.physics.compressor_fit import radial_distance
from boostwright.physics.compressor_points import (
    HIGHEST_ABOVE,
    LineForm,
    MapBand,
    Outside,
    PointsMap,
    line_head,
    outside_of,
    speed_line,
    surge_side_head,
    widened,
)
from boostwright.physics.compressor_sizes import WheelFactors
from tests.labels import check

D2 = 0.0439
FORM = LineForm(
    (0.0679, -0.0617, 0.0500), (0.0952, 0.0874, -0.0533), (0.4898, -0.0061, -0.0194), (1.195, 0.717)
)
LINES = (0.6, 0.8, 1.0, 1.2, 1.4)
MAP = PointsMap(
    form=FORM,
    lines=LINES,
    surge_share=(0.30, 0.32, 0.37, 0.46, 0.55),
    end_share=(0.85, 0.88, 0.91, 0.94, 0.97),
    work=(0.75, -0.02, 0.02, -2.2, 0.4),
    surface=None,
    best_efficiency=0.82,
    rms_ratio=0.53,
)


def per_flow(T: float = 298.0, p: float = 1e5) -> float:
    """Flow over phi M [kg/s]."""
    return float(p / (R_AIR * T) * np.sqrt(1.4 * R_AIR * T) * D2**2)


@check(
    "published", id="C18", source="leufven2013",
    note="a worked line of this form for an open map of a 44 mm wheel, from memory: at M 1 phi_z 0.0562, "
    "phi_c 0.1293, psi_z 0.464, c 1.91; phi 0.09 gives z 0.462, psi 0.405, pressure ratio 1.692; last digit",
)  # fmt: skip
def test_a_worked_speed_line() -> None:
    line = speed_line(FORM, 1.0)
    for ours, theirs, half in zip(line, (0.0562, 0.1293, 0.464, 1.91), (5e-5, 5e-5, 5e-4, 5e-3), strict=True):
        assert float(ours) == pytest.approx(theirs, abs=half)
    z = (0.09 - float(line.top)) / float(line.zero - line.top)
    assert z == pytest.approx(0.462, abs=5e-4)
    psi = line_head(line, 0.09)
    assert float(psi) == pytest.approx(0.405, abs=5e-4)
    assert float(pressure_ratio_of_head(psi, 1.0)) == pytest.approx(1.692, abs=5e-4)


@check(
    "limit", note="a point on the line has no radial distance; half the head and flow of one is half as far"
)
@settings(max_examples=50, deadline=None)
@given(mach=st.floats(0.5, 1.4), z=st.floats(0.02, 0.98))
def test_points_on_a_line_have_no_distance(mach: float, z: float) -> None:
    line = speed_line(FORM, mach)
    phi = line.top + z * (line.zero - line.top)
    psi = line_head(line, phi)
    assert float(radial_distance(FORM, phi, psi, np.asarray(mach))) == pytest.approx(0.0, abs=1e-12)
    nearer = line.top + 0.5 * z * (line.zero - line.top)
    assert float(radial_distance(FORM, nearer, 0.5 * psi, np.asarray(mach))) == pytest.approx(-0.5, rel=1e-12)


@check("limit", note="right of surge the pressure ratio rises with speed at one flow: lines never cross")
def test_speed_lines_do_not_cross() -> None:
    mach = np.linspace(0.3, HIGHEST_ABOVE * 1.4, 120)[:, None]
    surge, end = MAP.limits(mach)
    flow = np.linspace(0.02, 0.2, 90)[None, :]
    phi = flow / mach
    inside = (phi >= surge) & (phi <= end)
    ratio = pressure_ratio_of_head(MAP.head(phi, mach), mach)
    both = inside[1:] & inside[:-1]
    assert both.sum() > 1000
    assert np.all(np.diff(ratio, axis=0)[both] > 0)


@check(
    "limit", note="right of its top a line falls with flow; the efficiency lies below one; head times speed"
)
@pytest.mark.parametrize("mach", [0.4, 0.6, 0.9, 1.2, 1.45])
def test_a_line_falls_right_of_its_top(mach: float) -> None:
    line = speed_line(FORM, min(mach, 1.4))
    phi = np.linspace(float(line.top), 1.5 * float(line.zero), 200)
    at = MAP(phi, np.full(200, mach))
    assert np.all(np.diff(at.psi) <= 1e-15)
    assert np.all((at.eta > 0) & (at.eta < 1))
    np.testing.assert_array_equal(at.psi, MAP.head(phi, np.full(200, mach)))


@check("limit", note="past choke the pressure ratio falls on, continuously, to one half and no lower")
def test_past_choke() -> None:
    line = speed_line(FORM, 1.0)
    phi = float(line.zero) * np.array([1.0, 1.0 + 1e-9, 1.2, 5.0])
    ratio = pressure_ratio_of_head(MAP.head(phi, np.ones(4)), 1.0)
    assert ratio[0] == pytest.approx(1.0, abs=1e-3)
    assert ratio[1] == pytest.approx(ratio[0], abs=1e-6)
    assert ratio[1] > ratio[2] > ratio[3]
    assert ratio[3] == pytest.approx(0.5)


@check(
    "limit", id="C19",
    note="the cubic's own values: the line's head and no slope at the top, the head of air that turns with "
    "the wheel at no flow, a rise with the square of a reversed flow",
)  # fmt: skip
def test_left_of_surge() -> None:
    still = 0.5 * (1 - 0.53**2)
    head = surge_side_head(np.array([-0.02, -1e-9, 0.0, 0.06, 0.06 - 1e-6]), 0.06, 0.5, 0.53)
    assert head[2] == pytest.approx(still, rel=1e-12)
    assert head[1] == pytest.approx(still, rel=1e-9)
    assert head[0] == pytest.approx(still + 10 * 0.02**2, rel=1e-12)
    assert head[3] == pytest.approx(0.5, rel=1e-12)
    assert (head[3] - head[4]) / 1e-6 == pytest.approx(0.0, abs=1e-3)
    middle = surge_side_head(0.03, 0.06, 0.5, 0.53)
    assert float(middle) == pytest.approx((0.5 + still) / 2, rel=1e-12)


@check(
    "limit",
    note="at rest the wheel is a restriction: 0.9 at the flow that chokes Mach 0.6, and 1 without flow",
)
def test_at_rest() -> None:
    mach = np.asarray(0.05)
    choked = 0.6 * float(speed_line(FORM, 0.6).zero)
    share = 0.05 / (0.3 * 0.6)

    def ratio(flow: float) -> float:
        return float(pressure_ratio_of_head(MAP.head(np.asarray(flow / 0.05), mach), mach))

    turned = float(pressure_ratio_of_head(line_head(speed_line(FORM, 0.3), choked / 0.05), 0.05))
    assert ratio(choked) == pytest.approx(share * turned + (1 - share) * 0.9, rel=1e-9)
    assert ratio(1e-9) > 1.0
    turning = pressure_ratio_of_head(MAP.head(np.asarray(0.05), np.asarray(0.18)), 0.18)
    just_below = pressure_ratio_of_head(MAP.head(np.asarray(0.05), np.asarray(0.18 - 1e-9)), 0.18)
    assert float(just_below) == pytest.approx(float(turning), abs=1e-7)


@check("limit", note="below half the lowest line a line keeps its shape: incompressible similarity; exact")
def test_slow_lines_are_similar() -> None:
    phi = np.linspace(0.03, 0.1, 9)
    np.testing.assert_array_equal(MAP.head(phi, np.full(9, 0.25)), MAP.head(phi, np.full(9, 0.29)))


@check(
    "limit",
    note="similarity: one corrected point has one pressure ratio and efficiency at any altitude; rounding",
)
@settings(max_examples=30, deadline=None)
@given(flow=st.floats(0.03, 0.09), ratio=st.floats(1.1, 2.3), T=st.floats(250, 330), p=st.floats(60e3, 110e3))
def test_same_corrected_point_at_any_inlet_state(flow: float, ratio: float, T: float, p: float) -> None:
    here = operating_point(MAP, D2, flow, ratio, 298.0, 100e3)
    there = operating_point(MAP, D2, actual_flow(flow, T, p, 298.0, 100e3), ratio, T, p)
    assert float(there.efficiency) == pytest.approx(float(here.efficiency), rel=1e-7)
    assert float(corrected_speed(there.speed, T, 298.0)) == pytest.approx(float(here.speed), rel=1e-8)
    assert int(there.status) == int(here.status)


@check("limit", note="the solved point is on the map it was taken from; root tolerance")
@settings(max_examples=60, deadline=None)
@given(mach=st.floats(0.3, 1.4), place=st.floats(0.0, 1.0))
@example(mach=1.4, place=0.75)
def test_the_solve_finds_the_point_it_came_from(mach: float, place: float) -> None:
    surge, end = (float(v) for v in MAP.limits(mach))
    phi = surge + place * (end - surge)
    ratio = float(pressure_ratio_of_head(MAP.head(np.asarray(phi), np.asarray(mach)), mach))
    point = operating_point(MAP, D2, phi * mach * per_flow(), ratio, 298.0, 1e5)
    assert float(point.mach) == pytest.approx(mach, rel=1e-7)
    assert float(point.pressure_ratio) == pytest.approx(ratio, rel=1e-9)


@check(
    "limit", note="no jump: steps of 0.1 % in flow, pressure ratio, and speed move nothing by more than 1 %"
)
def test_outputs_are_continuous() -> None:
    steps = 1.001 ** np.arange(1500)
    for flow, ratio in (
        (0.025 * steps[:1300], np.full(1300, 1.7)),
        (np.full(1000, 0.06), 1.04 * steps[:1000]),
    ):
        point = operating_point(MAP, D2, flow, ratio, 298.0, 1e5)
        usable = (point.choke_ratio <= 1) & (point.status != PointStatus.TOO_FAST)
        assert usable.sum() > 500
        for name in ("speed", "efficiency", "outlet_temperature", "power", "surge_ratio", "choke_ratio"):
            values = getattr(point, name)[usable]
            assert np.max(np.abs(np.diff(values)) / values[1:]) < 0.01, name
    mach = 0.06 * steps[: int(np.log(HIGHEST_ABOVE * 1.4 / 0.06) / np.log(1.001))]
    for phi in (0.01, 0.03, 0.05, 0.08):
        at = MAP(np.full(mach.shape, phi), mach)
        ratio = pressure_ratio_of_head(at.psi, mach)
        for values in (ratio, at.work, at.phi_surge, at.phi_end):
            assert np.max(np.abs(np.diff(values)) / values[1:]) < 0.01


@check(
    "limit",
    note="no fit is asked more than 5 % above its highest line; and there the choke flow does not fall",
)
def test_the_map_ends_five_per_cent_above_its_highest_line() -> None:
    assert MAP.mach_range[1] == pytest.approx(1.05 * LINES[-1])
    point = operating_point(MAP, D2, 0.08, 6.0, 298.0, 1e5)
    assert int(point.status) == PointStatus.TOO_FAST
    assert float(point.mach) == pytest.approx(1.05 * LINES[-1])
    fast = np.linspace(1.4, 1.47, 30)
    flow = MAP.limits(fast)[1] * fast
    assert np.all(np.diff(flow) >= -1e-12)
    assert np.all(np.diff(flow) <= flow[0] / 1.4 * np.diff(fast) * (1 + 1e-9))


# -------------------------------------------------------------------------------------- ground and spread


@check("limit", note="inside is inside, edges included; the distances are what their names say")
def test_how_far_outside() -> None:
    surge, end = (float(v) for v in MAP.limits(1.0))
    phi = np.array([surge, end, 0.5 * (surge + end), 0.8 * surge, 1.1 * end])
    outside = MAP.outside(phi, 1.0)
    assert outside.inside.tolist() == [True, True, True, False, False]
    assert outside.left[3] == pytest.approx(0.2)
    assert outside.right[4] == pytest.approx(0.1)
    fast = MAP.outside(0.05, np.array([0.3, 1.4 * 1.03]))
    assert fast.slower[0] == pytest.approx(0.5)
    assert fast.faster[1] == pytest.approx(0.03)
    flow = np.array([0.03, 0.06, 0.085])
    point = operating_point(MAP, D2, flow, 1.6, 298.0, 1e5)
    here = MAP.outside(flow / per_flow() / point.mach, point.mach)
    for one, other in zip(outside_of(point, MAP.lines), here, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-12)


@check("limit", note="inside, the spread is the map's; outside it grows with the distance, from the edge on")
@settings(max_examples=60, deadline=None)
@given(
    near=st.tuples(*[st.floats(0, 0.3)] * 4),
    more=st.tuples(*[st.floats(0, 0.3)] * 4),
)
def test_the_spread_grows_outside(near: tuple[float, ...], more: tuple[float, ...]) -> None:
    table = points_band()
    band = MapBand(table.flow, table.surge, table.head, table.speed, table.efficiency)
    zero = np.zeros(())
    inside = widened(band, Outside(zero, zero, zero, zero), widening())
    assert [float(v) for v in inside] == pytest.approx(list(band))
    here = widened(band, Outside(*map(np.asarray, near)), widening())
    there = widened(band, Outside(*(np.asarray(a + b) for a, b in zip(near, more, strict=True))), widening())
    for base, a, b in zip(band, here, there, strict=True):
        assert float(base) <= float(a) <= float(b)
    just = widened(band, Outside(*(np.asarray(1e-9),) * 4), widening())
    for base, a in zip(band, just, strict=True):
        assert float(a) == pytest.approx(float(base), abs=1e-7)


@check("limit", note="each factor moves what it says and leaves the rest: exact")
def test_factors_move_what_they_say() -> None:
    phi, mach = np.linspace(0.05, 0.1, 7), np.full(7, 1.0)
    plain = MAP(phi, mach)
    wider = MAP.with_factors(WheelFactors(choke=1.1))
    np.testing.assert_allclose(wider(1.1 * phi, mach).psi, plain.psi, rtol=1e-12)
    np.testing.assert_allclose(wider(phi, mach).phi_end, 1.1 * plain.phi_end, rtol=1e-12)
    np.testing.assert_allclose(wider(phi, mach).phi_surge, plain.phi_surge, rtol=1e-12)
    later = MAP.with_factors(WheelFactors(surge=1.2))(phi, mach)
    np.testing.assert_allclose(later.phi_surge, 1.2 * plain.phi_surge, rtol=1e-12)
    np.testing.assert_array_equal(later.psi, plain.psi)
    higher = MAP.with_factors(WheelFactors(head=1.05))(phi, mach)
    np.testing.assert_allclose(higher.psi, 1.05 * plain.psi, rtol=1e-12)
    np.testing.assert_allclose(higher.eta, plain.eta, rtol=1e-12)
    worse = MAP.with_factors(WheelFactors(efficiency=-0.03))(phi, mach)
    np.testing.assert_array_equal(worse.psi, plain.psi)  # the pressure was measured; it costs more work
    np.testing.assert_allclose(worse.eta, plain.eta - 0.03, rtol=1e-9)
    np.testing.assert_allclose(worse.work * worse.eta, plain.work * plain.eta, rtol=1e-9)


@check("limit", note="isentropic head over work is the efficiency, at every factor; rounding")
def test_head_is_work_times_efficiency() -> None:
    moved = MAP.with_factors(WheelFactors(1.03, 0.95, 1.02, 0.01))
    mach = np.linspace(0.6, 1.4, 9)
    surge, end = moved.limits(mach)
    for place in (0.0, 0.5, 0.9):
        at = moved(1.03 * (surge + place * (end - surge)), mach)
        np.testing.assert_allclose(at.psi / at.work, at.eta, rtol=1e-12)
    assert hash(moved) != hash(MAP)
    assert hash(MAP) == hash(MAP.with_factors(WheelFactors()))
    assert float(head_coefficient(0.5, 1.0)) < 0


@check("limit", note="a map moved in all its factors is asked for the pressure ratio that it gives: rounding")
def test_a_moved_map_is_searched_for_the_head_that_it_gives() -> None:
    moved = MAP.with_factors(WheelFactors(1.03, 0.95, 0.92, -0.02))
    mach = np.linspace(0.5, 1.4, 10)
    phi = np.linspace(0.03, 0.12, 7)[:, None]
    np.testing.assert_allclose(moved.head(phi, mach), moved(phi, mach).psi, rtol=1e-12)
    wanted = np.array([1.3, 1.7, 2.1])
    found = operating_point(moved, D2, np.array([0.05, 0.08, 0.1]), wanted, 295.0, 98e3)
    np.testing.assert_allclose(found.pressure_ratio, wanted, rtol=1e-8)


@settings(max_examples=60, deadline=None)
@given(
    flow=st.floats(1e-4, 5.0),
    ratio=st.floats(0.4, 8.0),
    T=st.floats(230, 340),
    p=st.floats(50e3, 110e3),
    choke=st.floats(0.7, 1.4),
    efficiency=st.floats(-0.1, 0.1),
)
def test_any_point_is_answered_with_numbers(
    flow: float, ratio: float, T: float, p: float, choke: float, efficiency: float
) -> None:
    moved = MAP.with_factors(WheelFactors(choke=choke, efficiency=efficiency))
    point = operating_point(moved, D2, flow, ratio, T, p)
    for values in (point.speed, point.outlet_temperature, point.surge_ratio, point.choke_ratio):
        assert np.isfinite(values)
    assert float(point.power) > 0
    assert 0 < float(point.efficiency) <= 1

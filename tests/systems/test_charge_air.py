"""Charge air path and exhaust: passages, cooler, line, heat soak."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.physics.cooler import cooled_temperature
from boostwright.systems.charge_air.cooler import ChargeCooler, CoolingAir, CoolingCurve
from boostwright.systems.charge_air.line import charge_air_line, exhaust_line, soak_line
from boostwright.systems.charge_air.passage import Origin, PartLoss, Passage
from boostwright.systems.charge_air.types import ChargeAir, ExhaustPipe, Pulls
from tests.labels import check

R = 287.05
RPM = math.pi / 30


def part(name: str, loss: float, exponent: float = 2.0, spread: float = 0.2) -> PartLoss:
    return PartLoss(name, loss, 0.15, 1.8, exponent, spread, Origin.GEOMETRY)


def cooler(moving: float = 0.7, standing: float = 0.3) -> ChargeCooler:
    flow = np.geomspace(0.005, 0.4, 20)

    def curve(value: float) -> CoolingCurve:
        return CoolingCurve(flow, np.full(20, value), np.full(20, 0.9))

    kinds = ((CoolingAir.MOVING, moving), (CoolingAir.STANDING, standing), (CoolingAir.FAN, 0.5))
    return ChargeCooler(
        loss=Passage.of(part("core", 4e3, 1.8)), curves={air: curve(value) for air, value in kinds},
        sd=0.07, heat_capacity=3600.0, heat_capacity_spread=0.2, origin=Origin.USUAL, volume=6.5e-3,
    )  # fmt: skip


def path(with_cooler: bool = True, pause: float = 15.0) -> ChargeAir:
    return ChargeAir(
        inlet=Passage.of(PartLoss("filter", 2e3, 0.15, 1.17, 2.0, 0.5, Origin.USUAL)),
        hot=Passage.of(part("hot pipe", 600.0, 1.85), part("hot bends", 400.0)),
        cold=Passage.of(part("cold pipe", 500.0, 1.85), part("cold bends", 300.0)),
        throttle=Passage.of(part("open throttle", 800.0)),
        cooler=cooler() if with_cooler else None,
        bore=0.054, inlet_bore=0.063, throttle_bore=0.052, volume=8e-3, volume_sd=1e-3, plenum_volume=2e-3,
        plenum_volume_sd=6e-4, road_speed=0.055, temperature_ratio=1.15, pulls=Pulls(8.0, pause),
    )  # fmt: skip


flows = st.floats(0.005, 0.4)


@given(flow=flows, density=st.floats(0.3, 4.0))
def test_a_passage_is_the_sum_of_its_parts(flow: float, density: float) -> None:
    parts = (part("a", 1e3), part("b", 500.0, 1.8), part("c", 200.0), part("d", 300.0, 1.0))
    whole = Passage.of(*parts)
    assert float(whole.at(flow, density)) == pytest.approx(sum(float(p.at(flow, density)) for p in parts))
    squares = sum((p.spread * float(p.at(flow, density))) ** 2 for p in parts)
    assert float(whole.sd_at(flow, density)) == pytest.approx(math.sqrt(squares))
    assert float(whole.at(flow, 2 * density)) == pytest.approx(float(whole.at(flow, density)) / 2)


def test_a_passage_moves_by_its_spread_and_never_below_nothing() -> None:
    whole = Passage.of(part("a", 1e3), part("b", 500.0))
    sd = float(whole.sd_at(0.15, 1.8))
    assert float(whole.worse(1.0).at(0.15, 1.8)) == pytest.approx(1500.0 + sd)
    assert float(whole.worse(-9.0).at(0.15, 1.8)) == pytest.approx(150.0)
    assert Passage.of().worse(1.0) == Passage.of()
    assert float(Passage.of().at(0.1, 1.0)) == 0.0
    assert Passage.of().greatest(0.1) is None
    found = whole.greatest(0.1)
    assert found is not None
    assert found.name == "a"


def test_hot_pipes_cost_more_in_the_one_passage_that_the_turbo_side_gets() -> None:
    air = path()
    density = 1.9
    separate = (
        float(air.hot.at(0.1, density / 1.15))
        + float(air.cold.at(0.1, density))
        + float(air.throttle.at(0.1, density))
    )
    assert float(air.charge_pipes.at(0.1, density)) == pytest.approx(separate)


@check(
    "conservation",
    note="pressures add up from plenum to compressor; each loss holds at its mean density; 1e-9",
)
def test_line_walks_back_from_the_plenum() -> None:
    flow = np.array([0.03, 0.08, 0.15])
    plenum, T_2 = np.array([120e3, 170e3, 180e3]), np.array([330.0, 370.0, 385.0])
    T_i = cooled_temperature(T_2, 298.15, 0.7)
    line = charge_air_line(path(), 100e3, 298.15, flow, plenum, T_i, T_2)
    parts = line.throttle_loss + line.cold_loss + line.core_loss + line.hot_loss
    np.testing.assert_allclose(parts, line.total_loss, rtol=1e-9)
    np.testing.assert_allclose(line.outlet_pressure, plenum + parts, rtol=1e-12)
    mean = plenum + line.throttle_loss / 2
    np.testing.assert_allclose(line.throttle_loss, path().throttle.at(flow, mean / (R * T_i)), rtol=1e-9)
    inlet = path().inlet.at(flow, (100e3 - line.inlet_loss / 2) / (R * 298.15))
    np.testing.assert_allclose(line.inlet_loss, inlet, rtol=1e-9)
    assert np.all(np.diff(line.pipe_mach) > 0)
    assert np.all(line.total_sd > 0)


def test_line_without_a_cooler_loses_nothing_there() -> None:
    line = charge_air_line(path(with_cooler=False), 100e3, 298.15, 0.1, 150e3, 360.0, 360.0)
    assert float(line.core_loss) == 0.0
    assert np.isnan(charge_air_line(path(), 100e3, 298.15, np.nan, 150e3, 320.0, 360.0).total_loss)


@check("conservation", note="what the compressor takes leaves the exhaust: heat capacities times rises; 1e-9")
def test_exhaust_behind_the_turbine() -> None:
    pipe = ExhaustPipe(Passage.of(PartLoss("exhaust", 22e3, 0.15, 0.37, 2.0, 0.4, Origin.USUAL)), 0.054, True)
    air, fuel = np.array([0.05, 0.12]), np.array([0.004, 0.0095])
    line = exhaust_line(pipe, 100e3, 298.15, air, fuel, 1150.0, 375.0)
    taken = air * 1008.0 * (375.0 - 298.15)
    np.testing.assert_allclose((air + fuel) * 1200.0 * (1150.0 - line.temperature), taken, rtol=1e-9)
    density = (100e3 + line.loss / 2) / (288.5 * line.temperature)
    np.testing.assert_allclose(line.loss, pipe.at(air + fuel, density), rtol=1e-9)
    assert 0.0 < line.mach[0] < line.mach[1] < 0.5
    assert float(pipe.worse(1.0).at(0.1, 0.4)) > float(pipe.at(0.1, 0.4))


SPEED = np.linspace(2000, 6000, 9) * RPM
FLOW = np.linspace(0.05, 0.14, 9)
HOT = np.linspace(360.0, 385.0, 9)


def test_soak_warms_from_pull_to_pull_towards_the_steady_state() -> None:
    air = path()
    soak = soak_line(air, 298.15, SPEED, FLOW, HOT)
    ends = soak.charge[:, -1]
    assert np.all(np.diff(ends) > 0)
    assert 298.15 < ends[0] < ends[2] < soak.steady[-1] + 1e-9
    assert soak.charge.shape == (3, 9)
    standing = soak_line(air, 298.15, SPEED, FLOW, HOT, CoolingAir.STANDING)
    assert standing.charge[2, -1] > soak.charge[2, -1]
    breathless = path(pause=0.0)
    at_once = soak_line(breathless, 298.15, SPEED, FLOW, HOT)
    assert at_once.charge[2, -1] > soak.charge[2, -1]


def test_soak_leaves_out_what_did_not_settle_and_says_when_nothing_is_left() -> None:
    air = path()
    hot = HOT.copy()
    hot[3] = np.nan
    soak = soak_line(air, 298.15, SPEED, FLOW, hot)
    assert np.isnan(soak.charge[:, 3]).all()
    assert np.isfinite(soak.charge[:, 4]).all()
    with pytest.raises(OutOfRange, match="two settled speeds"):
        soak_line(air, 298.15, SPEED, FLOW, np.full(9, np.nan))


@given(flow=flows, size=st.floats(1.0, 3.0), air=st.sampled_from(list(CoolingAir)))
def test_a_larger_core_cools_more_and_loses_less(flow: float, size: float, air: CoolingAir) -> None:
    small, large = cooler(), cooler().times(size)
    assert float(large.effectiveness_at(flow, air)) >= float(small.effectiveness_at(flow, air)) - 1e-12
    assert float(large.loss.at(flow, 1.8)) <= float(small.loss.at(flow, 1.8)) + 1e-9
    assert 0.0 < float(large.effectiveness_at(flow, air)) < 1.0
    assert float(large.to_wall_at(flow, air)) > float(large.effectiveness_at(flow, air))
    assert float(large.to_air_at(flow, air)) > 0.0


def test_thin_air_cools_less_and_the_table_s_own_air_as_the_table() -> None:
    for air in CoolingAir:
        plain, same, thin = (cooler().effectiveness_at(FLOW, air, d) for d in (None, 1.18, 0.95))
        np.testing.assert_allclose(same, plain, rtol=1e-12)
        assert np.all(thin < plain)
        assert np.all(thin > 0.8 * plain)
    ordinary = soak_line(path(), 298.15, SPEED, FLOW, HOT)
    high = soak_line(path(), 298.15, SPEED, FLOW, HOT, density=0.95)
    assert np.all(high.charge[-1] > ordinary.charge[-1])
    with pytest.raises(OutOfRange, match="cooler"):
        soak_line(path(with_cooler=False), 298.15, SPEED, FLOW, HOT)


@given(flow=flows, deviation=st.floats(-12.0, 12.0))
def test_a_worse_cooler_cools_less(flow: float, deviation: float) -> None:
    moved = cooler().worse(deviation)
    change = float(moved.effectiveness_at(flow)) - 0.7
    assert change * deviation <= 0.0
    assert 0.0 < float(moved.effectiveness_at(flow)) < 1.0
    assert float(moved.to_air_at(flow)) > 0.0

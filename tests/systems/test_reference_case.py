"""The whole turbo side of a two-litre four against another calculation of the same engine and parts.

The figures were computed once by another program, which is not part of this project; they show that two
calculations agree, and are no evidence of truth. Engine, parts and pulse factors are those of
mean_value_engine, turbo_parts and gate_line: plausible values, common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.systems.engine.types import CycleResult, Fuel, OperatingPoints
from boostwright.systems.match import MatchResult, MatchSettings, MatchStatus, match
from boostwright.systems.turbo import Pulses, Restriction, TurbineFactors, TurboParts, TurboPoint, turbo_point
from boostwright.systems.wastegate import held_pressure
from tests.labels import check
from tests.systems.gate_line import _PULSE_FLOW, _PULSE_POWER, _PULSE_RPM, CORE, EXHAUST, GAS, reference_line
from tests.systems.mean_value_engine import MeanValueEngine
from tests.systems.test_wastegate import GATE
from tests.systems.turbo_parts import AMBIENT, INCH, parts
from tests.systems.turbo_parts import EXHAUST as OWN_EXHAUST

RPM = np.pi / 30
SPEEDS = np.array([2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 6000, 6500.0])
GOAL = 80e3
TURBO = parts(cooler=CORE, exhaust=EXHAUST)
STIFF = replace(GATE, bench_crack=2e6)  # a gate that stays shut

# The other calculation at 180 kPa in the plenum, as printed.
AIR = [0.0600, 0.0754, 0.0902, 0.1059, 0.1217, 0.1363, 0.1480, 0.1575, 0.1632, 0.1660]  # kg/s
RATIO = [1.819, 1.830, 1.842, 1.857, 1.875, 1.894, 1.911, 1.926, 1.935, 1.940]
SHAFT = [107386, 108238, 109374, 111010, 113131, 115511, 117694, 119801, 121237, 122024]  # rev/min
EFFICIENCY = [0.668, 0.692, 0.712, 0.729, 0.741, 0.746, 0.747, 0.743, 0.738, 0.735]
T2 = [381, 379, 378, 377, 377, 378, 379, 381, 382, 383]  # K
T_PLENUM = [308, 312, 315, 318, 321, 323, 326, 328, 329, 330]  # K
COOLER = [0.88, 0.83, 0.79, 0.75, 0.72, 0.68, 0.66, 0.64, 0.63, 0.63]
P3 = [151.7, 162.0, 172.4, 184.0, 196.8, 209.8, 221.0, 231.1, 237.7, 241.4]  # kPa
P4 = [103.7, 106.1, 109.1, 112.8, 117.4, 122.2, 126.7, 130.6, 133.2, 134.7]  # kPa
EXPANSION = [1.46, 1.53, 1.58, 1.63, 1.68, 1.72, 1.74, 1.77, 1.78, 1.79]
BLADE = [0.60, 0.57, 0.55, 0.53, 0.52, 0.52, 0.52, 0.52, 0.52, 0.52]
TURBINE = [0.697, 0.689, 0.682, 0.677, 0.673, 0.671, 0.670, 0.670, 0.670, 0.670]
P_COMPRESSOR = [5.02, 6.16, 7.24, 8.42, 9.69, 10.96, 12.06, 13.07, 13.75, 14.11]  # kW
P_BEARING = [0.29, 0.29, 0.30, 0.30, 0.32, 0.33, 0.34, 0.35, 0.36, 0.36]  # kW
SHARE = [1.1, 13.1, 20.7, 26.9, 31.2, 33.9, 35.8, 36.7, 37.2, 37.3]  # past the gate, %
FILLING = [0.886, 0.901, 0.906, 0.921, 0.934, 0.938, 0.923, 0.899, 0.857, 0.806]

ANOTHER = "independent calculation of the same reference case"


def pulses(rpm: np.ndarray) -> Pulses:
    return Pulses(np.interp(rpm, _PULSE_RPM, _PULSE_FLOW), np.interp(rpm, _PULSE_RPM, _PULSE_POWER))


def held() -> tuple[CycleResult, TurboPoint]:
    """Engine and turbo at 180 kPa, agreeing with each other, on the round gas constants of the figures."""
    engine, plenum = MeanValueEngine(), np.full(SPEEDS.shape, 180e3)
    T, p3 = np.full(SPEEDS.shape, 310.0), plenum
    for _ in range(60):
        cycle = engine(OperatingPoints(SPEEDS * RPM, plenum, T, p3, 0.85, -0.35))
        point = turbo_point(
            TURBO, AMBIENT, cycle.air_flow, cycle.fuel_flow, plenum, cycle.exhaust_manifold_temperature,
            GAS, pulses(SPEEDS),
        )  # fmt: skip
        T, p3 = point.plenum_temperature, point.exhaust_pressure
    return cycle, point


CYCLE, POINT = held()


def matched(rpm: np.ndarray, turbo: TurboParts = TURBO) -> MatchResult:
    engine = MeanValueEngine()
    return match(
        engine.engine, Fuel(), turbo, AMBIENT, GOAL, rpm * RPM, engine,
        settings=MatchSettings(pulses=pulses(rpm)),
    )  # fmt: skip


@check(
    "regression", id="D10",
    note=ANOTHER + ", 2000 to 6500 rev/min: charge side. The last digit of pressure ratio, efficiency and "
    "temperatures, shaft speed 1e-4, air and filling 0.2 %: the cooler's core reads up to 0.01 lower here",
)  # fmt: skip
def test_charge_side() -> None:
    wheel = POINT.compressor
    np.testing.assert_allclose(CYCLE.air_flow, AIR, rtol=2e-3)
    np.testing.assert_allclose(CYCLE.volumetric_efficiency, FILLING, atol=1.5e-3)
    np.testing.assert_allclose(wheel.pressure_ratio, RATIO, atol=1e-3)
    np.testing.assert_allclose(np.asarray(wheel.speed) / RPM, SHAFT, rtol=1e-4)
    np.testing.assert_allclose(wheel.efficiency, EFFICIENCY, atol=1e-3)
    np.testing.assert_allclose(wheel.outlet_temperature, T2, atol=0.6)
    np.testing.assert_allclose(POINT.plenum_temperature, T_PLENUM, atol=1.0)
    np.testing.assert_allclose(POINT.cooler_effectiveness, COOLER, atol=0.01)


@check(
    "regression", id="D10",
    note=ANOTHER + ": turbine side. The last digit of efficiencies, ratios and losses; exhaust "
    "pressures 0.4 %, compressor power 0.3 %, gate share 0.3 points, as far as the air flows differ",
)  # fmt: skip
def test_turbine_side() -> None:
    np.testing.assert_allclose(POINT.exhaust_pressure / 1e3, P3, rtol=4e-3)
    np.testing.assert_allclose(POINT.turbine_outlet_pressure / 1e3, P4, rtol=4e-3)
    np.testing.assert_allclose(POINT.expansion_ratio, EXPANSION, atol=0.01)
    np.testing.assert_allclose(POINT.blade_speed_ratio, BLADE, atol=0.01)
    np.testing.assert_allclose(POINT.turbine_efficiency, TURBINE, atol=1e-3)
    np.testing.assert_allclose(POINT.compressor.power / 1e3, P_COMPRESSOR, rtol=3e-3)
    np.testing.assert_allclose(POINT.bearing_loss / 1e3, P_BEARING, atol=0.01)
    np.testing.assert_allclose(100 * POINT.gate_share, SHARE, atol=0.3)


@check(
    "regression", id="D10",
    note=ANOTHER + ", now the whole match with our own gas and exhaust: shaft speed 0.1 %, air 0.3 %, outlet "
    "temperature 1 K, exhaust pressure 1 %, gate share 2.5 points more at most, for our exhaust gas holds "
    "more heat than the round constants. The figures claim 6 %, 3 %, 10 K and 12 % from sizes only",
)  # fmt: skip
@pytest.mark.parametrize("exhaust", [EXHAUST, OWN_EXHAUST])
def test_the_match_on_its_own_gas(exhaust: Restriction) -> None:
    line = matched(SPEEDS, parts(cooler=CORE, exhaust=exhaust))
    assert np.all(line.status == MatchStatus.ON_TARGET)
    np.testing.assert_allclose(line.points.plenum_pressure, 180e3, rtol=1e-4)
    np.testing.assert_allclose(line.cycle.air_flow, AIR, rtol=3e-3)
    np.testing.assert_allclose(line.turbo.compressor.speed / RPM, SHAFT, rtol=1e-3)
    np.testing.assert_allclose(line.turbo.compressor.outlet_temperature, T2, atol=1.0)
    np.testing.assert_allclose(line.turbo.exhaust_pressure / 1e3, P3, rtol=1e-2)
    more = 100 * line.turbo.gate_share - SHARE
    assert np.all(more > 0)
    assert np.all(more < 2.5)


def shut(rpm: list[float], turbo: TurboParts = TURBO) -> np.ndarray:
    """Plenum pressure with the gate shut [kPa], on the round gas constants."""
    line = reference_line(np.array(rpm), 102e3, 200e3, 99, turbo=turbo)
    return np.asarray(held_pressure(STIFF, line, AMBIENT.pressure).pressure) / 1e3


@check(
    "regression", id="D11",
    note=ANOTHER + ", gate shut: 142 and 166 kPa at 1500 and 1750 rev/min within 2, for half of the last "
    "digit of the pulse factors moves boost by 1 kPa. 121 at 1250: 4, its factors lie beyond their table",
)  # fmt: skip
def test_boost_with_the_gate_shut() -> None:
    found = shut([1250, 1500, 1750])
    np.testing.assert_allclose(found[1:], [142, 166], atol=2.0)
    assert found[0] == pytest.approx(121, abs=4.0)


@check(
    "regression", id="D11",
    note=ANOTHER + ", housings of A/R 0.45 and 0.80 in: 180 kPa (held) and 126 at 1500 rev/min, 180 (held) "
    "and 151 at 2000, and 252 and 228 before the turbine at 6000; 1 kPa there, 1 % here",
)  # fmt: skip
def test_housings() -> None:
    small, large = (
        parts(cooler=CORE, exhaust=EXHAUST, turbine=(0.050, 0.044, size * INCH)) for size in (0.45, 0.80)
    )
    assert np.all(shut([1500, 2000], small) > 180)
    np.testing.assert_allclose(shut([1500, 2000], large), [126, 151], atol=1.0)
    at_top = [matched(np.array([6000.0]), turbo).turbo.exhaust_pressure[0] / 1e3 for turbo in (small, large)]
    np.testing.assert_allclose(at_top, [252, 228], rtol=1e-2)


@check(
    "regression", id="D11",
    note=ANOTHER + ", five points less of turbine efficiency: 142 to 135 kPa at 1500 rev/min, 180 (held) to "
    "168 at 2000, 2 kPa; 6 kPa more before the turbine at 6000, 1 kPa",
)  # fmt: skip
def test_five_points_less_of_efficiency() -> None:
    worse = replace(TURBO, turbine_factors=TurbineFactors(efficiency=-0.05))
    np.testing.assert_allclose(shut([1500, 2000], worse), [135, 168], atol=2.0)
    p3 = [matched(np.array([6000.0]), turbo).turbo.exhaust_pressure[0] / 1e3 for turbo in (TURBO, worse)]
    assert p3[1] - p3[0] == pytest.approx(6.0, abs=1.0)

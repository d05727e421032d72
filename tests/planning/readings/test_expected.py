"""What is expected of this build: that every rule exists, moves with the build the right way, and is sane."""

from __future__ import annotations

import dataclasses
import math
import tomllib

import numpy as np
import pytest

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.library import read_text
from boostwright.library.measurements import measurements
from boostwright.planning.readings import Expected, Ground, expected_of
from boostwright.planning.readings.expected import RULES
from boostwright.quantity import COVERAGE
from tests.findings.test_subjects import build as minimal
from tests.labels import check

BEFORE = tomllib.loads(read_text("measurements/before.toml"))
DEG = math.pi / 180
RPM = math.pi / 30


def of(build: Build, key: str, **others: float) -> Expected:
    found = expected_of(measurements()[key], Ground(build, None, others))
    assert found is not None
    return found


def changed(build: Build, path: str, value: object, sd: float = 0.0) -> Build:
    """The build with one value stated otherwise."""
    source = Source.MAKER if isinstance(value, (int, float)) else Source.CHOSEN
    values = {**build.values, path: StatedValue(path, value, sd, source, 1)}
    return dataclasses.replace(build, values=values, _defaults={})


def test_every_measurement_before_strip_down_says_what_is_good() -> None:
    for one in measurements().values():
        if one.key not in BEFORE:
            continue
        if one.dimension is None:
            assert one.good or one.answers == "words", one.key
            continue
        assert one.possible is not None, one.key
        assert one.repeat is not None, one.key
        assert one.repeat_source, one.key
        assert one.expected in RULES or one.low is not None or one.high is not None, one.key
        assert bool(one.limit_source) == (one.low is not None or one.high is not None), one.key


def test_no_expected_range_reaches_beyond_what_can_be_true() -> None:
    for name in ("sound", "planted", "highland"):
        build = verbs.demo_build(name)
        for one in measurements().values():
            found = expected_of(one, Ground(build))
            if found is None:
                continue
            low = -math.inf if found.low is None else found.low
            high = math.inf if found.high is None else found.high
            assert low < high, one.key
            assert found.why, one.key
            assert found.source, one.key
            if one.possible is not None:
                assert low == -math.inf or low >= one.possible[0], one.key
                assert high == math.inf or high <= one.possible[1], one.key


# -------------------------------------------------------------------------------- the band follows the build

MOVES = [  # measurement, field, another value of it, whether the middle rises
    ("compression", "engine.compression_ratio", 11.0, True),
    ("compression", "engine.intake_closes", (540 + 80) * DEG, False),
    ("compression", "place.altitude", 2000.0, False),
    ("idle_manifold_pressure", "place.altitude", 2000.0, False),
    ("idle_manifold_pressure", "engine.idle_speed", 1100 * RPM, True),
    ("idle_manifold_pressure", "place.temperature", 310.0, True),
    ("idle_speed", "engine.idle_speed", 950 * RPM, True),
    ("fan_on_temperature", "engine.coolant_temperature", 378.0, True),
    ("oil_pressure_idle", "oil.grade", "10W-60", True),
    ("oil_pressure_idle", "oil.grade", "0W-20", False),
    ("oil_pressure_3000", "oil.grade", "10W-60", True),
    ("oil_pressure_idle", "engine.oil_pressure_idle", 1.0e5, False),
    ("oil_pressure_cold", "engine.oil_pressure_cold", 6.5e5, True),
    ("oil_temperature", "oil.temperature", 390.0, True),
    ("crankcase_pressure", "engine.crankcase_pressure", 900.0, True),
    ("cranking_voltage", "battery.cranking_current", 400.0, False),
    ("pump_voltage", "pump.voltage", 13.5, True),
    ("pump_current", "pump.current", 9.0, True),
    ("pump_current", "pump.flow", 250e-3 / 3600, True),
    ("rail_pressure_static", "regulator.pressure", 4.0e5, True),
    ("rail_pressure_hose_off", "regulator.pressure", 4.0e5, True),
    ("rail_pressure_idle", "regulator.reference", "atmosphere", True),
    ("gate_crack", "wastegate.spring", 0.8e5, True),
    ("gate_travel", "wastegate.rod_travel", 0.012, True),
    ("plug_gap", "ignition.plug_gap", 0.6e-3, False),
    ("injector_flow", "injectors.flow", 900e-6 / 60, True),
    ("timed_fuel_flow", "pump.flow", 250e-3 / 3600, True),
    ("full_load_manifold", "place.altitude", 2000.0, False),
    ("full_load_lambda", "fuel.lambda_full_load", 0.95, True),
    ("timing_3000", "ignition.base_timing_manual", 14 * DEG, True),
]


@pytest.mark.parametrize(("key", "path", "value", "rises"), MOVES)
def test_the_band_moves_with_the_build(key: str, path: str, value: object, rises: bool) -> None:
    build = changed(minimal(), "ignition.base_timing_manual", 10 * DEG)
    build = changed(changed(build, "pump.flow", 150e-3 / 3600), "injectors.flow", 300e-6 / 60)
    before, after = of(build, key), of(changed(build, path, value), key)
    assert before.middle is not None
    assert after.middle is not None
    assert (after.middle > before.middle) is rises
    assert after.middle != before.middle


@pytest.mark.parametrize(("key", "limit"), [("leak_down", "leak_down"), ("coolant_drop", "coolant_hold")])
def test_limits_that_the_file_edits_move_the_range(key: str, limit: str) -> None:
    value, unit = ("18 %", 0.18) if key == "leak_down" else ("12 kPa", 12e3)
    edit = f'\n[[limits]]\nlimit = "{limit}"\nvalue = "{value}"\nreason = "fresh rings"\n'
    assert of(minimal(rest=edit), key).high == pytest.approx(unit)
    assert of(minimal(), key).high != pytest.approx(unit)


def test_a_spread_that_is_stated_widens_the_band() -> None:
    narrow = of(changed(minimal(), "engine.compression_ratio", 10.0, 0.05), "compression")
    wide = of(changed(minimal(), "engine.compression_ratio", 10.0, 0.8), "compression")
    assert narrow.sd is not None
    assert wide.sd is not None
    assert wide.sd > narrow.sd


# ---------------------------------------------------------------------------------------- sane and by hand


@check(
    "limit", note="no compression in a cylinder is above that of air shut in at the bottom, without any loss"
)
@pytest.mark.parametrize("ratio", [8.0, 10.0, 12.5])
def test_compression_stays_below_the_lossless_one(ratio: float) -> None:
    build = changed(minimal(), "engine.compression_ratio", ratio)
    middle = of(build, "compression").middle
    assert middle is not None
    assert middle < build.barometer * (ratio**1.4 - 1.0)


@check("common practice", note="engines of ratio 9 to 10 read 11 to 14.5 bar, near sea level")
def test_compression_is_what_gauges_show() -> None:
    for ratio in (9.0, 10.0):
        found = of(changed(minimal(), "engine.compression_ratio", ratio), "compression")
        assert found.low is not None
        assert found.high is not None
        assert found.low < 11.0e5 < found.high
        assert found.low < 14.0e5 < found.high
        assert not found.low < 6e5
        assert not found.high > 20e5


@check("common practice", note="hot idle of healthy engines near sea level: 28 to 36 kPa absolute")
def test_idle_manifold_pressure_is_what_gauges_show() -> None:
    found = of(minimal(), "idle_manifold_pressure")
    assert found.low is not None
    assert found.high is not None
    assert found.low < 28e3 < 36e3 < found.high
    assert found.high < 50e3


@check("limit", note="by hand: 3.0 bar less the vacuum of 101.3 - 31 kPa is 2.297 bar, both as read")
def test_rail_at_idle_by_hand() -> None:
    build = changed(minimal(), "place.barometer", 101300.0)
    found = of(build, "rail_pressure_idle", rail_pressure_static=3.0e5, idle_manifold_pressure=31e3)
    assert found.middle == pytest.approx(3.0e5 - 70.3e3)
    still = changed(build, "regulator.reference", "tank")
    assert of(still, "rail_pressure_idle", rail_pressure_static=3.0e5).middle == pytest.approx(3.0e5)


@check("limit", note="by hand: 12.5 V less 6 mohm times 1.5 times 200 A is 10.7 V")
def test_cranking_voltage_by_hand() -> None:
    found = of(changed(minimal(), "battery.cranking_current", 200.0), "cranking_voltage")
    assert found.middle == pytest.approx(12.5 - 6e-3 * 1.5 * 200.0)


@check("limit", note="by hand: 120 L/h at 3 bar are 10 W; by the table's efficiency and 13.5 V")
def test_pump_current_by_hand() -> None:
    from boostwright.library.electrics import electric_constant

    build = changed(changed(minimal(), "pump.flow", 120e-3 / 3600), "regulator.pressure", 3e5)
    eta = electric_constant("pump", "efficiency").value
    assert of(build, "pump_current").middle == pytest.approx(10.0 / (eta * 13.5))


def test_a_cold_car_has_one_temperature() -> None:
    found = of(minimal(), "coolant_cold", air_cold=280.0)
    assert found.middle == pytest.approx(280.0)
    assert found.high is not None
    assert found.high - 280.0 < 5.0
    alone = of(minimal(), "coolant_cold")
    assert alone.sd is not None
    assert found.sd is not None
    assert alone.sd > found.sd


def test_the_scatter_of_one_reading_is_in_the_band() -> None:
    one = measurements()["compression"]
    bare = RULES["compression"](Ground(minimal()))
    found = of(minimal(), "compression")
    assert bare is not None
    assert one.repeat is not None
    assert found.sd == pytest.approx(math.hypot(bare.sd or 0.0, one.repeat.at(bare.middle or 0.0)))
    assert found.high == pytest.approx((bare.middle or 0.0) + COVERAGE * (found.sd or 0.0))


def test_a_limit_beyond_the_band_leaves_the_good_side_open() -> None:
    """A stated oil pressure under the least that is allowed: the limit rules, and more is never wrong."""
    weak = changed(minimal(), "engine.oil_pressure_idle", 0.4e5)
    found = of(weak, "oil_pressure_idle")
    assert found.low == pytest.approx(0.8e5)
    assert found.high is None


def test_what_only_a_check_knows_is_not_made_up() -> None:
    assert expected_of(measurements()["full_load_air"], Ground(minimal())) is None
    assert expected_of(measurements()["timing_idle"], Ground(minimal())) is None
    curve = verbs.demo_build("sound")
    assert of(curve, "full_load_torque").middle == pytest.approx(max(curve.numbers("baseline.torque")))


@check(
    "regression", note="two models of ours: the closed form of idle against the whole cycle, within its band"
)
def test_idle_agrees_with_the_cycle() -> None:
    from boostwright.systems.engine.cycle import CycleSolver
    from boostwright.systems.engine.idle import light_loads
    from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of

    build = verbs.demo_build("sound")
    solver = CycleSolver(engine_of(build), fuel_of(build), factors=factors_of(build))
    idle = light_loads(
        solver, build.barometer, build.number("place.temperature"), build.number("engine.idle_speed")
    )
    found = of(build, "idle_manifold_pressure")
    assert found.low is not None
    assert found.high is not None
    assert found.low < float(np.asarray(idle.plenum_pressure)[0]) < found.high


def test_every_name_of_a_rule_has_one_rule_in_one_place() -> None:
    from boostwright.library.measurements import measurements
    from boostwright.planning.ladder.expected import RULES as OF_STEPS
    from boostwright.planning.readings.expected import RULES as OF_READINGS

    assert not OF_STEPS.keys() & OF_READINGS.keys()
    named = {one.expected for one in measurements().values()} - {"", "trade"}
    assert named <= OF_STEPS.keys() | OF_READINGS.keys()

"""Gas at the spark against the cycle's own, and the doubt of the spark from its parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.systems.engine.cycle import run_cycle, trace_cycle
from boostwright.systems.engine.types import Fuel, OperatingPoints
from boostwright.systems.ignition import CHARGE_GAS_CONSTANT, at_spark, colder_steps
from boostwright.systems.stated.ignition import timing_error_of, timing_offset_of
from tests.findings.test_subjects import build
from tests.labels import check
from tests.sample import DEG, ENGINE, RPM


@check(
    "conservation",
    id="N5",
    note="against traces of firing cycles up to their spark, with their own gas and wall heat: molecules in"
    " the gap 1.5 %, by the gas constant; pressure and temperature 4 %, by the exponent",
)
@pytest.mark.parametrize(
    ("rpm", "plenum", "spark"), [(1500.0, 1.0e5, -12.0), (3000.0, 1.5e5, -20.0), (6000.0, 2.0e5, -30.0)]
)
def test_gas_at_the_spark_is_that_of_the_cycle(rpm: float, plenum: float, spark: float) -> None:
    point = OperatingPoints(rpm * RPM, plenum, 320.0, 1.2 * plenum, 0.85, spark * DEG)
    whole, trace = run_cycle(ENGINE, Fuel(), point), trace_cycle(ENGINE, Fuel(), point)
    i = int(np.argmin(np.abs(trace.theta - spark * DEG)))
    found = at_spark(ENGINE, whole.trapped_mass, whole.charge_temperature, spark * DEG)
    p, T = float(trace.pressure[i]), float(trace.temperature[i])
    assert float(found.pressure[0] / found.temperature[0]) == pytest.approx(p / T, rel=0.015)
    assert float(found.pressure[0]) == pytest.approx(p, rel=0.04)
    assert float(found.temperature[0]) == pytest.approx(T, rel=0.04)


@check(
    "limit",
    id="N5",
    note="gas constant of the charge by its parts: air 28.965 and vapour 105 g/mol, 5 % of burned gas; 0.1 %",
)
def test_gas_constant_of_the_charge_by_its_parts() -> None:
    fresh = 8314.463 * (12.5 / 28.965 + 1.0 / 105.0) / 13.5
    assert pytest.approx(0.95 * fresh + 0.05 * 288.0, rel=1e-3) == CHARGE_GAS_CONSTANT


@check("limit", id="N5", note="at bottom dead centre nothing is compressed yet; exact")
def test_gas_at_intake_closing_is_what_was_trapped() -> None:
    closes = ENGINE.intake.closes
    found = at_spark(ENGINE, 6e-4, 350.0, closes)
    assert float(found.temperature) == pytest.approx(350.0, rel=1e-12)


def test_a_later_spark_meets_denser_gas_up_to_top_dead_centre() -> None:
    found = at_spark(ENGINE, 6e-4, 350.0, np.array([-40, -20, 0, 15]) * DEG)
    assert np.all(np.diff(found.density[:3]) > 0)
    assert found.density[3] < found.density[2]


@check(
    "common practice",
    id="N6",
    note="75 to 100 hp more on a two-litre four are one step: 65 kW lie in the middle of that",
)
def test_one_step_for_75_to_100_hp_on_two_litres() -> None:
    steps = [colder_steps(100e3, 100e3 + hp * 745.7, 2.0e-3, 0.0, 3.0e7, 100.0) for hp in (75.0, 100.0)]
    assert steps[0] <= 1.0 <= steps[1]


def test_no_more_power_asks_for_no_colder_plug() -> None:
    assert colder_steps(100e3, 60e3, 2e-3, -20.0, 3e7, 100.0) == 0.0


# ------------------------------------------------------------------------------------- the doubt of the spark


def ignition(*lines: str, controller: str = "") -> Build:
    more = f"[controller]\n{controller}\n" if controller else ""
    return build(rest="[ignition]\n" + "\n".join(lines) + "\n" + more)


def test_nothing_stated_is_the_class_doubt_and_the_parts_sum_to_it() -> None:
    none = timing_error_of(build())
    assert not none.known
    assert none.either == pytest.approx(2.0 * DEG)
    usual = ('mark_error = "1.5 deg"',)
    assert timing_error_of(ignition(*usual)).either == pytest.approx(none.either, rel=0.005)


@check(
    "limit",
    id="N7",
    note="independent bounds of one coverage: the root of the sum of squares; 3-4-12-0 is 13",
)
def test_parts_go_together_in_squares() -> None:
    found = timing_error_of(
        ignition(
            'mark_error = "3 deg"',
            'light_error = "4 deg"',
            'damper_slip = "12 deg"',
            'trigger_drift = "0 deg"',
        )
    )
    assert found.either == pytest.approx(13.0 * DEG)
    assert found.early == pytest.approx(13.0 * DEG)


def test_a_stated_error_goes_before_its_parts() -> None:
    found = timing_error_of(ignition('mark_error = "9 deg"', controller='timing_error = "0.5 deg"'))
    assert found.either == pytest.approx(0.5 * DEG)
    assert found.parts == {}


@pytest.mark.parametrize(
    ("read", "early", "either"), [("13 deg", 3.0, 3.0), ("7 deg", 0.0, 3.0), ("10 deg", 0.0, 0.0)]
)
def test_what_base_timing_was_off_adds_on_its_own_side(read: str, early: float, either: float) -> None:
    base = ('base_timing_manual = "10 deg"', "timing_locked = true", 'mark_error = "0 deg"')
    rest = ('light_error = "0 deg"', 'damper_slip = "0 deg"', 'trigger_drift = "0 deg"')
    found = timing_error_of(ignition(f'base_timing = "{read}"', *base, *rest))
    assert found.early == pytest.approx(early * DEG, abs=1e-12)
    assert found.either == pytest.approx(either * DEG, abs=1e-12)


@pytest.mark.parametrize("lock", ["", "timing_locked = false"])
def test_base_timing_that_was_not_locked_is_a_doubt_and_no_offset(lock: str) -> None:
    free = ignition('base_timing = "15 deg"', 'base_timing_manual = "10 deg"', lock)
    assert timing_offset_of(free) is None
    found = timing_error_of(free)
    assert found.offset == 0.0
    assert found.parts["free"] == pytest.approx(5.0 * DEG)
    usual = math.hypot(*(v for k, v in found.parts.items() if k != "free"))
    assert found.early == pytest.approx(math.hypot(5.0 * DEG, usual))
    assert not timing_error_of(ignition('base_timing = "15 deg"', lock)).known

"""The wastegate that a build states, and what stands in for what it leaves out."""

from __future__ import annotations

import math

import pytest

from boostwright.library.gate_parts import gate_constant
from boostwright.readers.build_file import read_build
from boostwright.systems.stated.wastegate import gate_of
from boostwright.systems.wastegate import Control, Gate, Tap
from tests.labels import check

FILE = """
[build]
name = "Test bed"
[goal]
boost = "0.6 bar"
[engine]
class = "four-valve"
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
[turbo]
source = "measured"
compressor_inducer = "44.5 mm"
compressor_exducer = "59 mm"
turbine_inducer = "50 mm"
turbine_exducer = "44 mm"
turbine_housing = "0.60 in"
[wastegate]
source = "measured"
"""


def gate(rows: str = "") -> Gate:
    return gate_of(read_build((FILE + rows).encode()))


@check(
    "limit", id="G2", note="the label is a bench pressure: preload is label times effective diaphragm; exact"
)
def test_preload_is_label_times_diaphragm() -> None:
    one = gate('spring = "0.50 bar"\ndiaphragm_diameter = "45 mm"')
    effective = gate_constant("diaphragm", "effective").value
    assert one.preload == pytest.approx(79.5 * effective, rel=1e-3)  # 79.5 N on the whole of 45 mm
    assert gate('spring = "1.0 bar"\ndiaphragm_diameter = "45 mm"').preload == pytest.approx(2 * one.preload)


@check("common practice", note="what nobody states lies where usual internal gates lie")
def test_what_is_left_out_is_usual() -> None:
    one = gate()
    assert 8e-4 < one.diaphragm_area < 20e-4
    assert 0.020 < one.port_diameter < 0.032
    assert 5e3 <= one.rate <= 12e3
    assert 40 < one.preload < 150
    assert one.control is Control.SPRING
    assert one.tap is Tap.COMPRESSOR_OUTLET
    assert one.duty is None
    for name in (
        "bench_crack",
        "rate",
        "diaphragm_area",
        "port_diameter",
        "rod_travel",
        "rod_arm",
        "hysteresis",
    ):
        assert getattr(one.spread, name) > 0, name
    assert one.spread.gain == 0.0


def test_stiffness_is_stated_or_seen_on_the_bench() -> None:
    bench = gate('spring = "0.5 bar"\nfull_open = "1.0 bar"\nrod_travel = "8 mm"')
    assert bench.bench_full == pytest.approx(1e5)
    assert float(bench.actuator.k_s) == pytest.approx(0.5e5 * bench.diaphragm_area / 8e-3)
    assert float(bench.actuator.fall) == 0.0
    assert bench.spread.rate == 0.0
    assert bench.spread.bench_full == pytest.approx(2e3)
    stated = gate('spring = "0.5 bar"\nfull_open = "1.0 bar"\nspring_rate = "6 N/mm"')
    assert stated.bench_full is None
    assert float(stated.actuator.k_s) == pytest.approx(6e3)
    assert float(stated.actuator.fall) == pytest.approx(0.10)


def test_a_spread_follows_its_source() -> None:
    measured, maker = gate('spring = "0.5 bar"'), gate('spring = { value = "0.5 bar", source = "maker" }')
    assert measured.spread.bench_crack == pytest.approx(2e3)
    assert maker.spread.bench_crack == pytest.approx(12e3)
    wide = gate('diaphragm_diameter = "45 +/- 4 mm"')  # two standard deviations
    relative = wide.spread.diaphragm_area / wide.diaphragm_area
    assert relative == pytest.approx(math.hypot(2 * 2.0 / 45, 0.01 / 0.97), rel=1e-6)


def test_an_external_gate_sits_on_its_rod() -> None:
    one = gate('type = "external"\nvalve_diameter = "38 mm"\nrod_travel = "10 mm"\nrod_arm = "30 mm"')
    assert (one.rod_arm, one.valve_arm) == (1.0, 1.0)
    assert one.most_lift == pytest.approx(0.010)
    assert one.flow.curtain == pytest.approx(gate_constant("poppet", "curtain").value)


def test_kinds_of_control() -> None:
    three = gate('control = "solenoid"')
    assert three.control is Control.THREE_PORT
    assert three.held_back
    assert 0.95 <= three.gain <= 1.0
    assert 0.0 < three.dead < 0.1
    two = gate('control = "solenoid"\nsolenoid = "bleed"\nsignal = "plenum"')
    assert two.control is Control.BLEED
    assert two.tap is Tap.PLENUM
    assert two.spread.gain > 0
    by_hand = gate('control = "bleed"\nbleed = "40 %"')
    assert by_hand.control is Control.BLEED
    assert by_hand.duty == pytest.approx(0.4)
    assert not by_hand.held_back
    assert by_hand.dead == 0.0
    assert gate('control = "bleed"').duty is None
    assert not gate().held_back


def test_two_bores_replace_the_usual_share() -> None:
    one = gate('control = "bleed"\nrestrictor = "1.2 mm"\nvent = "1.8 mm"')
    assert one.vent_over_inlet == pytest.approx(2.25)
    assert gate('control = "bleed"\nrestrictor = "1.2 mm"').vent_over_inlet is None
    assert gate('restrictor = "1.2 mm"\nvent = "1.8 mm"').vent_over_inlet is None


def test_a_bench_that_runs_backwards_is_a_fault() -> None:
    from boostwright.errors import BoostwrightError

    with pytest.raises(BoostwrightError, match="rod begins to move before it ends"):
        gate('spring = "0.8 bar"\nfull_open = "0.6 bar"')

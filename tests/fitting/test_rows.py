"""What the build file says, as rows to fit to: fuel of one opening, spark, wheels, and what is not used."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boostwright.fitting import fit
from boostwright.fitting.data import Quantity, Row, conditions_of, rows_of
from boostwright.readers.build_file import read_build
from tests.labels import check

FILE = """
[build]
name = "Bench"
[goal]
boost = "0.5 bar"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
compression_ratio = "10"
speed_limit = "6500 rpm"
injection = "port"
variable_valve_timing = "none"
[fuel]
lambda_full_load = "0.88 lambda"
density = { value = "745 kg/m3", source = "measured" }
[baseline]
source = "measured"
speed = "2000 3000 4000 5000 rpm"
torque = "165 177 190 186 Nm"
temperature = "25 degC"
barometer = "100 kPa"
"""
TIMES = 'injector_time = "10.9 11.9 12.9 12.4 ms"\ninjector_dead_time = "0.9 ms"\n'
FLOW = 'injector_flow = "240 cc/min"\n'


def row(more: str, quantity: Quantity) -> Row:
    build = read_build((FILE + more).encode())
    return next(r for r in rows_of(build, conditions_of(build)) if r.quantity is quantity)


@check("limit", note="open time less dead time, times flow and density: 10 ms of 240 cc/min are 0.04 cc")
def test_fuel_of_one_opening() -> None:
    found = row(TIMES + FLOW, Quantity.FUEL)
    assert np.exp(found.value) == pytest.approx(np.array([10.0, 11.0, 12.0, 11.5]) * 0.004e-6 * 745.0)
    # 2 % of the flow, 0.05 ms of 11.1 ms, the density's own, and half of a rail's that nobody read
    rail = read_build((FILE + TIMES + FLOW).encode())["regulator.pressure"]
    own = math.hypot(0.02, 0.05 / 11.125, 5.0 / 745.0, 0.5 * float(rail.sd) / float(rail.value))
    assert found.common == pytest.approx(own, rel=0.2)


@check("limit", note="flow goes with the root of the pressure across the injector (Bernoulli)")
def test_flow_is_brought_to_the_pressure_at_the_rail() -> None:
    as_stated = row(TIMES + FLOW, Quantity.FUEL)
    both = 'injector_flow_pressure = "3 bar"\nfuel_pressure = "3.63 bar"\n'
    brought = row(TIMES + FLOW + both, Quantity.FUEL)
    assert brought.value - as_stated.value == pytest.approx(math.log(1.1), abs=1e-12)
    # half of each pressure's 1 to 2 %, where the class has half of 5 % and more
    assert 0.01 < brought.common < as_stated.common


@check("common practice", note="rolling road: the wheels get 12 % less than the crank, 3 % unsure")
def test_torque_at_the_wheels_is_brought_to_the_crank() -> None:
    crank, wheels = row("", Quantity.TORQUE), row('at = "wheels"\n', Quantity.TORQUE)
    assert wheels.value - crank.value == pytest.approx(-math.log(0.88))
    assert wheels.common > crank.common


def test_what_cannot_be_used_is_said() -> None:
    words = " ".join(fit(read_build((FILE + TIMES).encode())).words)
    assert "without the flow of the injectors" in words
    words = " ".join(fit(read_build((FILE + TIMES + FLOW + 'fuel_pressure = "3.6 bar"\n').encode())).words)
    assert "it takes both" in words
    words = " ".join(fit(read_build((FILE + 'fuel_pressure = "3.6 bar"\n').encode())).words)
    assert "only together with injector times" in words
    assert "move with one much as with the other" in words


@check(
    "limit", note="a rail that nobody read is as unsure as rails of the class are; one that was read is not"
)
def test_a_rail_that_nobody_read_makes_the_fuel_unsure() -> None:
    build = read_build((FILE + TIMES + FLOW).encode())
    usual = build["regulator.pressure"]
    rated = 'fuel_pressure = { value = "3 bar", source = "measured" }\ninjector_flow_pressure = "3 bar"\n'
    unread, read = row(TIMES + FLOW, Quantity.FUEL), row(TIMES + FLOW + rated, Quantity.FUEL)
    own = 0.5 * float(usual.sd) / float(usual.value)
    assert unread.common > own > 0.0
    assert read.common < unread.common

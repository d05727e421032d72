"""The compiled turbo side against its plain form, `turbo_point` with the compressor read from its table."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from boostwright import verbs
from boostwright.errors import OutOfRange
from boostwright.physics.compressor_table import tabulated
from boostwright.physics.turbine import ExhaustGas
from boostwright.physics.turbine_map import MappedTurbine
from boostwright.physics.wastegate import area_for_flow
from boostwright.systems.stated.turbo import turbo_of
from boostwright.systems.turbo import (
    AmbientEach,
    OutsideAir,
    Pulses,
    QuickTurbo,
    Restriction,
    TurboParts,
    TurboPoint,
    TurboStatus,
    point,
    turbo_point,
)
from tests.systems.turbo_parts import AMBIENT, EXHAUST, parts

Array = NDArray[np.float64]

SAME = 2e-6  # relative
CLOSED = 1e-9  # of the plain form's charge side here, so that what is left of it does not count
IDLE = 1.003  # pressure ratio below which a compressor hardly works
LEFT_OUT = ("turbine_power", "turbine_efficiency", "blade_speed_ratio", "compressor")
OF_COMPRESSOR = ("speed", "mach", "tip_speed", "pressure_ratio", "outlet_temperature", "power")
MAPPED = MappedTurbine(0.050, 5.0e-4, 1.83, 0.68, 0.66, 0.2)
STATED = {name: turbo_of(verbs.demo_build(name)) for name in ("sound", "planted", "highland")}
TURBOS: dict[str, TurboParts | None] = {
    "sizes": parts(),
    "no cooler": parts(cooler=None),
    "turbine by its map": replace(parts(), measured_turbine=MAPPED),
    **STATED,
}


@dataclass(frozen=True)
class Conditions:
    """Points in columns, (k, n) and (n,)."""

    outside: OutsideAir
    air: Array
    fuel: Array
    plenum: Array
    T3: Array
    gas: ExhaustGas
    pulses: Pulses


def conditions(seed: int, k: int = 9, n: int = 14) -> Conditions:
    """Wide conditions: from idling compressors to ends of the map, thin and hot air, strong pulses."""
    rng = np.random.default_rng(seed)
    outside = AmbientEach(rng.uniform(70e3, 104e3, n), rng.uniform(250.0, 320.0, n))
    T3 = rng.uniform(850.0, 1300.0, n)
    gas = ExhaustGas(rng.uniform(285.0, 295.0, n), rng.uniform(1230.0, 1350.0, n), np.full(n, 0.2), T3)
    pulses = Pulses(rng.uniform(0.8, 1.0, n), rng.uniform(1.0, 1.4, n))
    air = np.exp(rng.uniform(np.log(0.008), np.log(0.22), (k, n)))
    plenum = outside.pressure * rng.uniform(0.9, 3.0, (k, n))
    return Conditions(outside, air, rng.uniform(0.06, 0.1, n), plenum, T3, gas, pulses)


def both(turbo: TurboParts, at: Conditions) -> tuple[TurboPoint, TurboPoint, Array]:
    quick = QuickTurbo.of(turbo)
    assert quick is not None
    told = (at.outside, at.air, at.fuel, at.plenum, at.T3, at.gas, at.pulses)
    answer = quick.at(*told)
    plain = turbo_point(
        turbo, at.outside, at.air, at.fuel * at.air, at.plenum, at.T3, at.gas, at.pulses,
        tabulated(turbo.compressor_map),
    )  # fmt: skip
    return answer.point, plain, answer.gate_area


def differences(ours: TurboPoint, plain: TurboPoint) -> dict[str, float]:
    """Greatest relative difference of each column, of the exhaust flow and of the power wanted for those
    that go through zero.
    """
    scale = {
        "surplus": plain.compressor.power + plain.bearing_loss + np.abs(plain.surplus),
        "gate_flow": plain.exhaust_flow,
        "gate_share": 1.0,
        "cooler_effectiveness": 1.0,
    }
    # at a pressure ratio of 1 the speed goes with the root of what is left of it, and all else hangs on that
    works = plain.compressor.pressure_ratio > IDLE
    found = {"idling pressure ratio": _off(ours.compressor.pressure_ratio, plain.compressor.pressure_ratio)}
    for name in (n for n in plain._fields if n not in LEFT_OUT):
        a, b = getattr(ours, name), getattr(plain, name)
        found[name] = float(np.max(np.where(works, np.abs(a - b) / scale.get(name, np.abs(b) + 1e-300), 0.0)))
    for name in OF_COMPRESSOR:
        a, b = getattr(ours.compressor, name), getattr(plain.compressor, name)
        found["compressor " + name] = _off(np.where(works, a, 1.0), np.where(works, b, 1.0))
    return found


def _off(a: Array, b: Array) -> float:
    return float(np.max(np.abs(a - b) / np.maximum(np.abs(b), 1e-6)))


@pytest.fixture(autouse=True)
def _closed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(point, "_CHARGE_TOLERANCE", CLOSED)


@pytest.mark.parametrize("name", TURBOS)
def test_as_the_plain_form(name: str) -> None:
    turbo = TURBOS[name]
    assert turbo is not None
    seen: set[int] = set()
    for seed in range(4):
        at = conditions(seed)
        ours, plain, area = both(turbo, at)
        found = differences(ours, plain)
        worst = max(found, key=lambda column: found[column])
        assert found[worst] < SAME, (worst, found[worst])
        assert np.array_equal(ours.status, plain.status)
        assert np.array_equal(ours.compressor.status, plain.compressor.status)
        p4 = plain.turbine_outlet_pressure
        wanted = area_for_flow(
            ours.gate_flow, ours.exhaust_pressure, at.T3, p4, at.gas.R, at.gas.gamma(at.T3)
        )
        assert area == pytest.approx(np.nan_to_num(wanted), rel=SAME)
        seen |= set(plain.status.ravel().tolist())
    assert seen == {int(s) for s in TurboStatus}


@settings(max_examples=40, deadline=None)
@given(st.integers(10, 10**6))
def test_as_the_plain_form_anywhere(seed: int) -> None:
    ours, plain, _ = both(parts(), conditions(seed, 3, 4))
    found = differences(ours, plain)
    assert max(found.values()) < SAME, found


def test_one_row_is_a_row_of_many() -> None:
    at = conditions(3)
    quick = QuickTurbo.of(parts())
    assert quick is not None
    many = quick.at(at.outside, at.air, at.fuel, at.plenum, at.T3, at.gas, at.pulses)
    row = quick.at(at.outside, at.air[2], at.fuel, at.plenum[2], at.T3, at.gas, at.pulses)
    assert row.point.exhaust_pressure.shape == at.T3.shape
    assert np.array_equal(row.point.exhaust_pressure, many.point.exhaust_pressure[2])
    assert np.array_equal(row.gate_area, many.gate_area[2])


@pytest.mark.parametrize("name", TURBOS)
def test_the_map_itself_from_the_compiled_answer(name: str) -> None:
    turbo, at = TURBOS[name], conditions(7)
    assert turbo is not None
    near, _, _ = both(turbo, at)
    told = (turbo, at.outside, at.air, at.fuel * at.air, at.plenum, at.T3, at.gas, at.pulses)
    ours, plain = turbo_point(*told, near=near), turbo_point(*told)
    found = differences(ours, plain)
    assert max(found.values()) < SAME, found
    assert np.array_equal(ours.status, plain.status)
    assert np.array_equal(ours.compressor.status, plain.compressor.status)


@dataclass(frozen=True, slots=True)
class _Bent(Restriction):
    """A loss that its numbers do not tell."""

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        return np.asarray(EXHAUST.at(flow, density) + 100.0)


class _OddTurbine:
    """A turbine whose efficiency is no parabola."""

    diameter, area, exponent = 0.050, 5e-4, 2.0

    def efficiency(self, speed_ratio: ArrayLike) -> Array:
        return np.full(np.shape(speed_ratio), 0.6)


def test_parts_that_are_more_than_their_numbers_are_left_to_the_plain_form() -> None:
    assert QuickTurbo.of(parts(exhaust=_Bent(1e3, 0.1, 1.0))) is None
    assert QuickTurbo.of(replace(parts(), measured_turbine=_OddTurbine())) is None


@pytest.mark.parametrize("broken", ["air", "plenum", "T3", "fuel"])
@pytest.mark.parametrize("value", [0.0, -1.0, np.nan, np.inf])
def test_what_is_not_above_zero_is_refused(broken: str, value: float) -> None:
    at = conditions(5, 2, 3)
    column = np.array(getattr(at, broken))
    column[..., 1] = value
    at = replace(at, **{broken: column})
    quick = QuickTurbo.of(parts())
    assert quick is not None
    with pytest.raises(OutOfRange):
        quick.at(AMBIENT, at.air, at.fuel, at.plenum, at.T3, at.gas, at.pulses)

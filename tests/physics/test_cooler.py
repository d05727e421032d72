"""Charge-air cooler."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ive

from boostwright.physics.cooler import (
    charge_effectiveness,
    cooled_temperature,
    core_conductance,
    crossflow_effectiveness,
    pressure_loss,
)
from tests.labels import check


def crossflow_series(ntu: float, ratio: float) -> float:
    """Exact cross-flow effectiveness, both streams unmixed, as a Bessel series."""
    root = np.sqrt(ratio)
    x = 2 * ntu * root
    n = np.arange(2, 80)
    tail = (1 - ratio) / ratio * np.sum(root**n * ive(n, x))
    return float(1 - np.exp(x - ntu * (1 + ratio)) * (ive(0, x) + root * ive(1, x) - tail))


@check(
    "limit",
    id="E1",
    source="kays1998",
    note="exact relation, coded again as a Bessel series; 1e-4 is the printed digit",
)
@pytest.mark.parametrize(
    ("ntu", "ratio", "expected"),
    [(1, 0.5, 0.54749), (2, 0.3, 0.78418), (2, 1.0, 0.61425), (3, 0.75, 0.74941)],
)
def test_crossflow_effectiveness(ntu: float, ratio: float, expected: float) -> None:
    # The charge is the weaker stream: C_min = C_charge.
    ours = float(charge_effectiveness(ntu, 1.0, 1 / ratio, cp_charge=1.0, cp_cooling=1.0))
    assert ours == pytest.approx(expected, abs=1e-5)
    assert ours == pytest.approx(crossflow_series(ntu, ratio), rel=1e-9)


@check(
    "reference library",
    id="E1",
    source="ht",
    note="exact cross-flow by its quadrature, over NTU and the ratio of capacities; 1e-9",
)
@pytest.mark.parametrize("ratio", [0.05, 0.3, 0.75, 1.0])
def test_crossflow_against_ht(ratio: float) -> None:
    from ht import effectiveness_from_NTU

    ntu = np.array([0.05, 0.4, 1.3, 3.0, 8.0])
    theirs = [effectiveness_from_NTU(float(n), ratio, subtype="crossflow") for n in ntu]
    np.testing.assert_allclose(crossflow_effectiveness(ntu, ratio), theirs, rtol=1e-9)


@check(
    "limit",
    note="a flood of cooling air: 1 - exp(-NTU); and one heat flow whichever stream is the weaker",
)
def test_effectiveness_at_its_limits() -> None:
    ours = charge_effectiveness(np.array([0.5, 1.0, 2.0]), 1.0, 1e7, cp_charge=1.0, cp_cooling=1.0)
    np.testing.assert_allclose(ours, 1 - np.exp([-0.5, -1.0, -2.0]), rtol=1e-5)
    weak, strong = 1.0, 2.5
    on_weak = charge_effectiveness(1.7, weak, strong, cp_charge=1.0, cp_cooling=1.0)
    on_strong = charge_effectiveness(1.7, strong, weak, cp_charge=1.0, cp_cooling=1.0)
    assert float(on_strong) * strong == pytest.approx(float(on_weak) * weak, rel=1e-12)


@check("published", id="E2", source="incropera2007", note="example 11.3, from memory: gas 300 -> 100 degC "
       "heats 1 kg/s of water 35 -> 125 degC; the book reads 39.7 m2 off its chart, hence 1.5 %")  # fmt: skip
def test_textbook_heat_exchanger() -> None:
    heat = 1.0 * 4197.0 * 90.0
    gas_capacity = heat / 200.0
    effectiveness = charge_effectiveness(100.0 * 39.7, gas_capacity, 4197.0, cp_charge=1.0, cp_cooling=1.0)
    assert float(effectiveness) == pytest.approx(heat / (gas_capacity * 265.0), rel=0.015)
    assert float(cooled_temperature(573.15, 308.15, effectiveness)) == pytest.approx(373.15, abs=0.015 * 200)


@check(
    "reference library", id="E3", source="ht", note="a usual front-mounted cooler; 0.1 %, the printed digits"
)
def test_rating_case() -> None:
    from ht import effectiveness_from_NTU

    weak, strong = 0.15 * 1008.0, 0.5 * 1006.0
    theirs = effectiveness_from_NTU(250.0 / weak, weak / strong, subtype="crossflow")
    assert theirs == pytest.approx(0.7325, abs=5e-5)  # the library has not moved
    effectiveness = charge_effectiveness(250.0, 0.15, 0.5, cp_charge=1008.0, cp_cooling=1006.0)
    T_out = cooled_temperature(388.15, 303.15, effectiveness)
    assert float(effectiveness) == pytest.approx(theirs, rel=1e-9)
    assert 0.15 * 1008.0 * (388.15 - float(T_out)) == pytest.approx(9414.0, rel=1e-3)
    assert float(T_out) - 273.15 == pytest.approx(52.7, abs=0.05)


@check(
    "regression",
    id="E4",
    note="a 500 x 200 x 65 mm core in 4 m/s of air, worked once before; the last digit printed",
)
def test_core_of_the_worked_example() -> None:
    volume, face = 0.5 * 0.2 * 0.065, 0.5 * 0.2
    flow = np.array([0.06, 0.12, 0.163])
    air = 4.0 * 1.16 * face
    conductance = core_conductance(volume, flow, air, 0.15, air)
    np.testing.assert_allclose(charge_effectiveness(conductance, flow, air), [0.88, 0.72, 0.63], atol=0.01)


@check("common practice", note="coolers of road cars: 0.6 to 0.8 at power, more at part load, never 1")
def test_effectiveness_is_of_this_world() -> None:
    flow = np.linspace(0.02, 0.3, 15)
    air = 4.0 * 1.16 * 0.1
    effectiveness = charge_effectiveness(core_conductance(6.5e-3, flow, air, 0.15, air), flow, air)
    assert np.all(np.diff(effectiveness) < 0)
    assert np.all((effectiveness > 0) & (effectiveness < 1))
    at_power = effectiveness[(flow > 0.1) & (flow < 0.17)]
    assert np.all((at_power > 0.6) & (at_power < 0.8))


@check("limit", note="loss goes with m^2 and 1/rho: twice the pressure halves it; exact")
def test_pressure_loss() -> None:
    assert float(pressure_loss(0.15, 2.0, 4000.0, 0.15, 2.0)) == 4000.0
    assert float(pressure_loss(0.30, 2.0, 4000.0, 0.15, 2.0)) == 16000.0
    assert float(pressure_loss(0.15, 4.0, 4000.0, 0.15, 2.0)) == 2000.0
    assert float(pressure_loss(0.30, 2.0, 4000.0, 0.15, 2.0, exponent=1.8)) == pytest.approx(4000.0 * 2**1.8)
    assert float(pressure_loss(0.0, 2.0, 4000.0, 0.15, 2.0)) == 0.0


@check("limit", note="no cooler and a perfect one")
def test_cooled_temperature() -> None:
    assert float(cooled_temperature(400.0, 300.0, 0.0)) == 400.0
    assert float(cooled_temperature(400.0, 300.0, 1.0)) == 300.0

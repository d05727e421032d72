"""The two-litre stand-in engine and its turbo along plenum pressures, as a wastegate sees them.

Plausible values, common practice, no source: see mean_value_engine and turbo_parts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.cooler import charge_effectiveness
from boostwright.physics.turbine import ExhaustGas
from boostwright.systems.engine.types import OperatingPoints
from boostwright.systems.turbo import Cooler, Pulses, Restriction, TurboParts, TurboStatus, turbo_point
from boostwright.systems.wastegate import GateLine, gate_line
from tests.systems.mean_value_engine import MeanValueEngine
from tests.systems.turbo_parts import AMBIENT, parts

Array = NDArray[np.float64]
RPM = np.pi / 30
GAS = ExhaustGas(288.5, 1190.0, 0.0, 1150.0)  # the round constants of the reference figures

_PULSE_RPM = (1500.0, 2000.0, 3000.0, 4500.0, 6000.0)
_PULSE_FLOW = (0.85, 0.945, 0.977, 0.993, 0.998)  # of a compact manifold
_PULSE_POWER = (1.31, 1.10, 1.04, 1.01, 1.00)


@dataclass(frozen=True, slots=True)
class CoreCooler(Cooler):
    """A bar-and-plate core of 500 x 200 x 65 mm in air at 4 m/s: its conductance falls with the flow."""

    def effectiveness_at(self, flow: ArrayLike, density: ArrayLike | None = None) -> Array:
        flow = np.asarray(flow, dtype=np.float64)
        conductance = 30e3 * 6.5e-3 * 2 / ((0.15 / flow) ** 0.6 + 1)
        return charge_effectiveness(conductance, flow, 4.0 * 1.16 * 0.1)


@dataclass(frozen=True, slots=True)
class PlainExhaust(Restriction):
    """Back pressure above ambient as the flow squared times temperature, blind to its own effect on density.

    The turbo side takes density at the mean pressure, p4^2 = p_amb^2 + 2 R T4 (rho dp); what it is handed
    here makes that come out as p_amb + loss (m/flow)^2 T4/1030 K, exact at 1100 K.
    """

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        rise = self.loss * (np.asarray(flow) / self.flow) ** 2 * 1100.0 / 1030.0
        return np.asarray(rise * (2 * AMBIENT.pressure + rise) / (2 * 288.5 * 1100.0) / np.asarray(density))


EXHAUST = PlainExhaust(22e3, 0.15, 1.0)
CORE = CoreCooler(Restriction(4e3, 0.15, 2.0, 1.8))


def reference_line(
    rpm: ArrayLike,
    lowest: float = 110e3,
    highest: float = 260e3,
    count: int = 76,
    exhaust: Restriction = EXHAUST,
    turbo: TurboParts | None = None,
) -> GateLine:
    """The line at engine speeds (n,), between two plenum pressures [Pa], engine and turbo agreeing at
    each.
    """
    rpm = np.asarray(rpm, dtype=np.float64)
    plenum = np.broadcast_to(np.linspace(lowest, highest, count)[:, None], (count, rpm.size))
    pulses = Pulses(np.interp(rpm, _PULSE_RPM, _PULSE_FLOW), np.interp(rpm, _PULSE_RPM, _PULSE_POWER))
    engine, turbo = MeanValueEngine(), turbo or parts(cooler=CORE, exhaust=exhaust)
    T, p3 = np.full(plenum.shape, 310.0), 1.1 * plenum
    for _ in range(60):
        cycle = engine(OperatingPoints(rpm * RPM, plenum, T, p3, 0.85, -0.35))
        hot = np.asarray(cycle.exhaust_manifold_temperature)
        point = turbo_point(turbo, AMBIENT, cycle.air_flow, cycle.fuel_flow, plenum, hot, GAS, pulses)
        moved = np.max(np.abs(point.exhaust_pressure / p3 - 1) + np.abs(point.plenum_temperature / T - 1))
        T, p3 = point.plenum_temperature, point.exhaust_pressure
        if moved < 1e-9:
            break
    assert moved < 1e-9
    short = point.status == TurboStatus.COMPRESSOR_SHORT
    surplus = np.where(short, np.minimum(point.surplus, -0.01 * point.compressor.power), point.surplus)
    return gate_line(point, surplus, hot, GAS)

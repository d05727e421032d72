"""A mean-value breathing line through one answer of the cycle, and the gas that it sends to the turbine."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.gas import cp_burned_frozen, mixture
from boostwright.physics.turbine import ExhaustGas
from boostwright.physics.turbo_heat import TURBINE_HEAT, HeatRecipe, housing_loss
from boostwright.systems.engine.types import CycleResult, EngineGeometry, Fuel
from boostwright.systems.turbo import Pulses

__all__ = ["BreathingLine", "Housing", "PlenumState", "breathing_line", "exhaust_gas"]

Array = NDArray[np.float64]

_RESIDUAL_EXPONENT: Final = 1 / 1.3  # of the burned gas left in the clearance volume
_LEAST_ROOM: Final = 0.2  # of the fresh charge's room that residual gas leaves, whatever the exhaust pressure


class Housing(NamedTuple):
    """Turbine housing, as it cools the gas on its way to the wheel."""

    wheel: float  # diameter at the inlet [m]
    recipe: HeatRecipe = TURBINE_HEAT


class PlenumState(NamedTuple):
    """The unknowns, shape (n,): plenum pressure [Pa] and temperature [K], exhaust pressure [Pa]."""

    plenum: Array
    temperature: Array
    exhaust: Array


class BreathingLine(NamedTuple):
    """A mean-value breathing line through one answer of the cycle; exact at `state`. Arrays of shape (n,)."""

    state: PlenumState
    air: Array  # [kg/s]
    fuel: Array  # [kg/s]
    exhaust_temperature: Array  # at the turbine wheel [K]
    gas: ExhaustGas
    pulses: Pulses
    compression_ratio: float

    def air_flow(self, at: PlenumState) -> Array:
        """Air flow [kg/s]: density of the plenum, displacement less what the residual gas takes, warmer
        charge.

        m ~ p/sqrt(T) (r - (p3/p)^(1/1.3)), r the compression ratio (heywood1988, section 6.2, from memory).
        """
        here, r = self.state, self.compression_ratio
        room = r - (at.exhaust / at.plenum) ** _RESIDUAL_EXPONENT
        room_here = r - (here.exhaust / here.plenum) ** _RESIDUAL_EXPONENT
        flow = self.air * at.plenum / here.plenum * np.sqrt(here.temperature / at.temperature)
        return np.asarray(flow * np.maximum(room, _LEAST_ROOM * room_here) / room_here)


def exhaust_gas(fuel: Fuel, lam: ArrayLike, temperature: ArrayLike, span: float = 200.0) -> ExhaustGas:
    """Frozen burned gas of the fuel at each lambda, straight in temperature between T - span and T.

    fuel: record. lam: lambda, shape (n,) [-]. temperature: turbine inlet, shape (n,) [K]. span: [K]. Raises
    OutOfRange outside the gas tables.
    """
    lam, T = np.broadcast_arrays(np.asarray(lam, dtype=np.float64), np.asarray(temperature, dtype=np.float64))
    R, hot, cold = np.empty(T.shape), np.empty(T.shape), np.empty(T.shape)
    for value in np.unique(lam):
        there = lam == value
        mix = mixture(float(value), fuel.ethanol_share, fuel.petrol_heating_value)
        R[there] = mix.R_b
        cold[there], hot[there] = (cp_burned_frozen(mix, T[there] - below) for below in (span, 0.0))
    return ExhaustGas(R, hot, (hot - cold) / span, np.array(T))


def breathing_line(
    engine: EngineGeometry,
    fuel: Fuel,
    cycle: CycleResult,
    state: PlenumState,
    lam: Array,
    pulses: Pulses,
    housing: Housing | None = None,
) -> tuple[BreathingLine, NDArray[np.bool_]]:
    """The line through the cycle's answer, and where that answer was usable.

    housing: takes heat from the gas before the turbine's wheel; None: none is lost. An unusable answer is
    replaced by a mean-value guess so that the other points go on; the caller blanks its point.
    """
    air, fuel_flow = np.asarray(cycle.air_flow), np.asarray(cycle.fuel_flow)
    T3 = np.asarray(cycle.exhaust_manifold_temperature)
    usable = (
        np.isfinite(air) & np.isfinite(fuel_flow) & np.isfinite(T3) & (air > 0) & (fuel_flow > 0) & (T3 > 300)
    )
    air = np.where(usable, air, 0.1)
    fuel_flow = np.where(usable, fuel_flow, 0.008)
    T3 = np.where(usable, T3, 1150.0)
    gas = exhaust_gas(fuel, lam, T3)
    if housing is not None:
        T3 = T3 - housing_loss(air + fuel_flow, T3, gas.cp(T3), housing.wheel, housing.recipe)
    return BreathingLine(state, air, fuel_flow, T3, gas, pulses, engine.compression_ratio), usable

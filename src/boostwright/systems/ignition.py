"""The plug at the moment of the spark: gas between its electrodes, voltage it asks for, heat it must shed."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.slider_crank import cylinder_volume
from boostwright.systems.engine.types import EngineGeometry

__all__ = ["CHARGE_GAS_CONSTANT", "COMPRESSION_EXPONENT", "AtSpark", "at_spark", "colder_steps"]

Array = NDArray[np.float64]

COMPRESSION_EXPONENT: Final = 1.31
"""Polytropic exponent of petrol and air from intake closing to the spark (heywood1988: 1.3 +- 0.05, from
memory); 0.02 more makes the gas 4 % warmer at a compression of six and changes its density not at all.
"""
CHARGE_GAS_CONSTANT: Final = 272.5
"""Of twelve and a half parts of air and one of petrol vapour of 105 g/mol, 271.7 J/(kg K), with a twentieth
of burned gas of 288 left from before [J/(kg K)]; ethanol makes it 1 to 2 % more. Breakdown goes by molecules
in the gap, and petrol's are heavy.
"""


class AtSpark(NamedTuple):
    """Unburned charge at the moment of the spark. All (n,)."""

    pressure: Array  # [Pa absolute]
    temperature: Array  # [K]
    density: Array  # [kg/m3]


def at_spark(
    engine: EngineGeometry, trapped_mass: ArrayLike, charge_temperature: ArrayLike, spark: ArrayLike
) -> AtSpark:
    """Gas between the electrodes at the spark, from what the cycle trapped.

    rho = m/V(theta), T = T_ivc (V_ivc/V(theta))^(n - 1), p = rho R T.

    engine: its geometry. trapped_mass: of one cylinder at intake closing [kg]. charge_temperature: mixed, at
    intake closing [K]. spark: crank angle [rad], negative before firing top dead centre. All broadcast.
    Validity: spark after intake closing, nothing burned, rings that hold. Error: density that of
    the trapped mass; temperature 4 %, gas constant 2 %. Breakdown goes by density,
    so the exponent does not reach it. Source: heywood1988, section 5.2 for the exponent, from memory.
    """
    bore, stroke, rod, ratio = engine.bore, engine.stroke, engine.rod, engine.compression_ratio
    volume = cylinder_volume(spark, bore, stroke, rod, ratio)
    closed = cylinder_volume(engine.intake.closes, bore, stroke, rod, ratio)
    density = np.asarray(trapped_mass, dtype=np.float64) / volume
    T = np.asarray(charge_temperature, dtype=np.float64) * (closed / volume) ** (COMPRESSION_EXPONENT - 1.0)
    return AtSpark(density * CHARGE_GAS_CONSTANT * T, np.asarray(T), density)


def colder_steps(
    power_before: float,
    power_now: float,
    displacement: float,
    warmer: float,
    per_power: float,
    per_kelvin: float,
) -> float:
    """Steps of the heat range by which plugs must be colder than those of the engine before [-].

    n = (P_now - P_before)/(V_d a) + dT/b, no less than 0.

    power_before, power_now: greatest brake power [W]. displacement: V_d [m3].
    warmer: how much hotter the charge is at intake closing [K]. per_power: a, power by displacement that is
    worth a step [W/m3]. per_kelvin: b, warmth worth a step [K]. Error: half a step; steps of two makers
    differ. Common practice, no source.
    """
    by_power = (power_now - power_before) / (displacement * per_power)
    return max(0.0, by_power + max(warmer, 0.0) / per_kelvin)

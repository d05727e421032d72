"""Heat in a turbocharger: what gas loses in the turbine's housing, what air picks up behind the compressor.

Neither is part of the shaft's balance: the turbine works with the gas as it reaches the wheel, the
compressor's wheel with the work it takes; only the temperatures before the one and behind the other change.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["COMPRESSOR_HEAT", "TURBINE_HEAT", "HeatRecipe", "compressor_heating", "housing_loss"]

Array = NDArray[np.float64]


class HeatRecipe(NamedTuple):
    """Constants of one housing's heat exchange, and the spread of the result."""

    conductance: float  # at the reference wheel and flow [W/K]
    diameter: float  # reference wheel [m]
    diameter_exponent: float  # [-]
    flow: float  # reference [kg/s]
    flow_exponent: float  # [-]
    sd: float  # of the conductance, relative, one standard deviation [-]


TURBINE_HEAT: Final = HeatRecipe(10.0, 0.050, 1.5, 0.1, 0.6, 0.5)
"""Gas to housing; own judgement, set so that 2 to 5 kW and 10 to 40 K come out at full load of two litres."""
OUTSIDE: Final = 5.4
"""Housing to air, oil and water [W/K]; own judgement, a wall at 0.8 of the gas temperature at full load."""
COMPRESSOR_HEAT: Final = HeatRecipe(1.1, 0.050, 0.0, 0.1, 0.0, 0.35)
"""Turbine gas to compressor air through centre housing and oil; own judgement, 0.8 to 1.5 W/K."""


def housing_loss(
    m_dot: ArrayLike,
    T3: ArrayLike,
    cp: ArrayLike,
    Dt: ArrayLike,
    recipe: HeatRecipe = TURBINE_HEAT,
    sds: float = 0.0,
    T_outside: ArrayLike = 350.0,
) -> Array:
    """Temperature that the gas loses in the turbine's housing before the wheel [K].

    dT = e (T3 - T_w), e = 1 - exp(-UA/(m cp)), UA = UA_ref (Dt/D_ref)^a (m/m_ref)^b; the wall, hot at full
    load and colder the less gas flows, from m cp e (T3 - T_w) = UA_o (T_w - T_o).

    m_dot: turbine flow [kg/s]. T3: at the flange [K]. cp: [J/(kg K)]. Dt: wheel diameter [m]. sds: standard
    deviations by which the conductance is off, for a spread [-]. T_outside: T_o [K]. All broadcast. Error:
    half of it (judgement); cold walls, in the first seconds of a pull, take two to three times as much.
    Source: own judgement.
    """
    m = np.asarray(m_dot, dtype=np.float64)
    size = (np.asarray(Dt) / recipe.diameter) ** recipe.diameter_exponent
    UA = recipe.conductance * max(1 + sds * recipe.sd, 0.0) * size * (m / recipe.flow) ** recipe.flow_exponent
    capacity = m * np.asarray(cp)
    share = -np.expm1(-UA / capacity)
    T3, T_o = np.asarray(T3, dtype=np.float64), np.asarray(T_outside)
    over_wall = OUTSIDE * size * (T3 - T_o) / (capacity * share + OUTSIDE * size)  # T3 - T_w
    return np.asarray(share * over_wall)


def compressor_heating(
    m_dot: ArrayLike,
    T2: ArrayLike,
    T3: ArrayLike,
    cp: ArrayLike = 1005.0,
    recipe: HeatRecipe = COMPRESSOR_HEAT,
    sds: float = 0.0,
) -> Array:
    """Temperature that the air picks up from the hot side behind the compressor's wheel [K].

    dT2 = (T3 - T2)(1 - exp(-UA_c/(m cp)))

    m_dot: air flow [kg/s]. T2: behind the wheel by its aerodynamic work [K]. T3: turbine inlet [K]. cp: of
    air [J/(kg K)]. sds: as `housing_loss`. All broadcast. Not to be added where T2 follows from an efficiency
    that was measured on a hot rig, as most maps are: that holds it already. Error: a third (judgement).
    Source: own judgement.
    """
    m = np.asarray(m_dot, dtype=np.float64)
    UA = recipe.conductance * max(1 + sds * recipe.sd, 0.0)
    rise = (np.asarray(T3) - np.asarray(T2)) * -np.expm1(-UA / (m * np.asarray(cp)))
    return np.asarray(np.maximum(rise, 0.0))

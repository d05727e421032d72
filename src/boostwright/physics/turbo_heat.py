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


TURBINE_HEAT: Final = HeatRecipe(4.0, 0.050, 1.5, 0.1, 0.6, 0.5)
"""Gas to housing; own judgement: 10 to 40 K at full load, 40 to 100 K at part load."""
COMPRESSOR_HEAT: Final = HeatRecipe(1.1, 0.050, 0.0, 0.1, 0.0, 0.35)
"""Turbine gas to compressor air through centre housing and oil; own judgement, 0.8 to 1.5 W/K."""
WALL_SHARE: Final = 0.8
"""Housing's wall over gas temperature at rated flow (judgement) [-]."""


def housing_loss(
    m_dot: ArrayLike,
    T3: ArrayLike,
    cp: ArrayLike,
    Dt: ArrayLike,
    recipe: HeatRecipe = TURBINE_HEAT,
    sds: float = 0.0,
) -> Array:
    """Temperature that the gas loses in the turbine's housing before the wheel [K].

    dT = (T3 - T_w)(1 - exp(-UA/(m cp))), UA = UA_ref (Dt/D_ref)^a (m/m_ref)^b, T_w = 0.8 T3

    m_dot: turbine flow [kg/s]. T3: at the flange [K]. cp: [J/(kg K)]. Dt: wheel diameter [m]. sds: standard
    deviations by which the conductance is off, for a spread [-]. All broadcast. Error: half of it
    (judgement); cold walls, in the first seconds of a pull, take two to three times as much. Source: own
    judgement.
    """
    m = np.asarray(m_dot, dtype=np.float64)
    UA = (
        recipe.conductance
        * max(1 + sds * recipe.sd, 0.0)
        * (np.asarray(Dt) / recipe.diameter) ** recipe.diameter_exponent
        * (m / recipe.flow) ** recipe.flow_exponent
    )
    return np.asarray((1 - WALL_SHARE) * np.asarray(T3) * -np.expm1(-UA / (m * np.asarray(cp))))


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

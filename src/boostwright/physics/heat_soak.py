"""Heat soak of a charge cooler: its wall (or its water) warms from pull to pull."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = ["HeatSoak", "Stretch", "cooling_conductance", "heat_soak", "wall_effectiveness"]

Array = NDArray[np.float64]

CP_CHARGE: Final = 1008.0  # [J/(kg K)]


class Stretch(NamedTuple):
    """A stretch of time, in steps of one length; every array has shape (k,)."""

    duration: float  # of the whole stretch [s]
    capacity_rate: Array  # charge flow times heat capacity [W/K]; 0 where no charge flows
    charge_inlet: Array  # before the cooler [K]
    to_wall: Array  # effectiveness of the charge against the wall, 0..1 [-]
    to_air: Array  # conductance from wall to cooling air, the air's own warming included [W/K]


class HeatSoak(NamedTuple):
    """What becomes of the charge, stretch by stretch, each at the end of its steps."""

    charge: tuple[Array, ...]  # charge after the cooler [K], one array (k,) for each stretch
    wall: tuple[Array, ...]  # [K]


def wall_effectiveness(charge_conductance: ArrayLike, m_charge: ArrayLike) -> Array:
    """Effectiveness of the charge against a wall of one temperature, 1 - exp(-hA/(m cp)) [-].

    charge_conductance: h A of the charge side [W/K]. m_charge: [kg/s], above 0. Both broadcast.
    """
    ntu = np.asarray(charge_conductance) / (np.asarray(m_charge, dtype=np.float64) * CP_CHARGE)
    return np.asarray(-np.expm1(-ntu))


def cooling_conductance(effectiveness: ArrayLike, to_wall: ArrayLike, capacity_rate: ArrayLike) -> Array:
    """Conductance from wall to cooling air at which the steady state has the cooler's own effectiveness
    [W/K].

    Wall balance C e_w (T2 - T_w) = K (T_w - T_air) and eps (T2 - T_air) = e_w (T2 - T_w) give
    K = C eps e_w/(e_w - eps).

    effectiveness: eps, steady, on the charge side [-]. to_wall: e_w [-], above eps. capacity_rate: C [W/K].
    All broadcast. Raises OutOfRange where the wall would have to be colder than the cooling air.
    """
    eps, e, C = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (effectiveness, to_wall, capacity_rate))
    )
    if np.any(eps >= e):
        i = int(np.argmax(eps - e))
        raise OutOfRange(
            f"A cooler with an effectiveness of {eps.flat[i]:.3f} cannot have a charge side that reaches "
            f"only {e.flat[i]:.3f} against its wall; give the charge side more conductance."
        )
    return np.asarray(C * eps * e / (e - eps))


def heat_soak(
    stretches: tuple[Stretch, ...], heat_capacity: float, T_air: float, T_start: float | None = None
) -> HeatSoak:
    """Charge temperature after a cooler of one wall temperature over a row of stretches of time.

    C_th dT_w/dt = C e_w (T2 - T_w) - K (T_w - T_air);  T_charge = T2 - e_w (T2 - T_w)

    Within a step all but the wall temperature is constant, and the step is the exact exponential: no step is
    too long to be stable, and the heat that enters and leaves is that of the balance.

    stretches: pulls and pauses in turn. heat_capacity: C_th of the wall, or of the water of a water-cooled
    one [J/K], above 0. T_air: cooling air [K]. T_start: wall at the start [K]; None for that of the air.
    Error: the wall of a real core is warmest at the charge inlet; 3 K (judgement).
    """
    if not heat_capacity > 0.0:
        raise OutOfRange(f"A cooler's heat capacity of {heat_capacity:g} J/K is not above zero.")
    wall = T_air if T_start is None else T_start
    charges, walls = [], []
    for stretch in stretches:
        rate, T2, e, K = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in stretch[1:]))
        step = stretch.duration / max(rate.size, 1)
        into = rate * e
        total = np.maximum(into + K, 1e-9)  # a core with neither flow nor wind keeps its temperature
        kept = np.exp(-(into + K) * step / heat_capacity)
        gained = (1.0 - kept) * (into * T2 + K * T_air) / total
        steps: list[float] = []
        for share, gain in zip(kept.tolist(), gained.tolist(), strict=True):
            wall = share * wall + gain
            steps.append(wall)
        trace = np.array(steps)
        walls.append(trace)
        charges.append(np.asarray(T2 - e * (T2 - trace)))
    return HeatSoak(tuple(charges), tuple(walls))

"""Car radiator: air through its face, heat to that air, and what a charge cooler in front of it costs."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.cooler import crossflow_effectiveness, face_velocity

__all__ = ["Covered", "Face", "covered_radiator", "face_speed", "radiator_conductance"]

Array = NDArray[np.float64]

CP_AIR = 1006.0  # [J/(kg K)]


def face_speed(
    road_speed: ArrayLike, fan_speed: ArrayLike, losses: ArrayLike, pressure_share: ArrayLike
) -> Array:
    """Speed of the air on a radiator's face [m/s].

    v = sqrt(v_ram^2 + v_fan^2), v_ram of `cooler.face_velocity`: fan and ram pressure add over one loss that
    grows with the square.

    road_speed: [m/s]. fan_speed: on the face of a standing car [m/s]. losses: of core, nose and whatever
    stands before it, on the face speed [-]. pressure_share: see `cooler.face_velocity` [-]. All broadcast.
    Error: 15 to 25 % (judgement). Source: own balance.
    """
    ram = face_velocity(road_speed, losses, pressure_share, 0.0)
    return np.asarray(np.hypot(ram, np.asarray(fan_speed, dtype=np.float64)))


class Face(NamedTuple):
    """A radiator's face. Fields broadcast."""

    area: ArrayLike  # [m2]
    conductance: ArrayLike  # of a square metre of face at the reference flow, coolant to air [W/(m2 K)]
    reference_flow: float  # air over face area at which it holds [kg/(s m2)]
    exponent: float  # by which it grows with the air [-]


def radiator_conductance(face: Face, air_speed: ArrayLike, density: ArrayLike, coolant: ArrayLike) -> Array:
    """Heat that a radiator sheds for each kelvin that its hot coolant lies above the air [W/K].

    UA_i = e m cp, e of a cross-flow core with NTU = k A/(m cp), k = k_ref (G/G_ref)^n, G = m/A

    face: `Face`. air_speed: on the face [m/s]. density: of the air before it [kg/m3]. coolant: heat capacity
    rate of the coolant [W/K]. All broadcast. The temperatures that count are those of coolant and air on
    entering. Validity: face speeds 0.5 to 15 m/s. Error: 15 % of a radiator by its face alone (judgement).
    """
    per_area = np.maximum(np.asarray(air_speed) * np.asarray(density), 1e-6)
    air = per_area * np.asarray(face.area) * CP_AIR
    k = np.asarray(face.conductance) * (per_area / face.reference_flow) ** face.exponent
    C = np.asarray(coolant, dtype=np.float64)
    least, most = np.minimum(air, C), np.maximum(air, C)
    ntu = k * np.asarray(face.area) / least
    return np.asarray(crossflow_effectiveness(ntu, least / most) * least)


class Covered(NamedTuple):
    """A radiator of which a part stands behind another core."""

    conductance: Array  # of the whole [W/K]
    air_warmer: Array  # as much warmer the air counts for the whole [K]
    air_flow: Array  # through the whole [kg/s]


def covered_radiator(
    face: Face,
    share: ArrayLike,
    open_speed: ArrayLike,
    covered_speed: ArrayLike,
    density: ArrayLike,
    coolant: ArrayLike,
    heat: ArrayLike,
) -> Covered:
    """A radiator with a core before a part of its face that slows and warms the air.

    UA = UA_o + UA_c;  Q = UA (T - Ta - dT UA_c/UA),  dT = heat/(m_c cp)

    share: of the face that is covered, 0 to 1 [-]. open_speed, covered_speed: on the two parts [m/s]. heat:
    that the core in front gives the air which goes on through the radiator [W]. The rest as
    `radiator_conductance`. All broadcast. Exact for air that does not mix between the cores.
    """
    s = np.asarray(share, dtype=np.float64)
    area = np.asarray(face.area, dtype=np.float64)
    bare, behind = np.maximum(area * (1 - s), 1e-9), np.maximum(area * s, 1e-9)
    C = np.asarray(coolant, dtype=np.float64)
    free = radiator_conductance(face._replace(area=bare), open_speed, density, C * bare / (bare + behind))
    hidden = radiator_conductance(
        face._replace(area=behind), covered_speed, density, C * behind / (bare + behind)
    )
    flow = np.asarray(covered_speed) * np.asarray(density) * behind
    warmer = np.where(s > 0, np.asarray(heat) / (np.maximum(flow, 1e-9) * CP_AIR), 0.0)
    whole = free + hidden
    through = flow + np.asarray(open_speed) * np.asarray(density) * bare
    return Covered(whole, np.asarray(warmer * hidden / whole), np.asarray(through))

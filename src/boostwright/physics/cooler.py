"""Charge-air cooler: effectiveness from NTU, outlet temperature, conductance of a core, pressure loss."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "CP_CHARGE",
    "charge_effectiveness",
    "cooled_temperature",
    "core_conductance",
    "core_reference_loss",
    "crossflow_effectiveness",
    "face_velocity",
    "pressure_loss",
]

Array = NDArray[np.float64]

CP_CHARGE = 1008.0  # air between 300 and 400 K [J/(kg K)]


def charge_effectiveness(
    conductance: ArrayLike,
    m_charge: ArrayLike,
    m_cooling: ArrayLike,
    cp_charge: float = CP_CHARGE,
    cp_cooling: float = 1006.0,
) -> Array:
    """Effectiveness on the charge side, eps = (T2 - T_out)/(T2 - T_cooling) [-].

    NTU = UA/C_min, C_r = C_min/C_max, eps = e(NTU, C_r) C_min/C_charge, with e `crossflow_effectiveness`.

    conductance: UA [W/K]. m_charge: charge flow [kg/s], above 0. m_cooling: cooling air flow [kg/s], above 0.
    cp_charge, cp_cooling: heat capacities [J/(kg K)]. All broadcast. Source: kays1998.
    """
    ua, hot, cold = np.broadcast_arrays(
        np.asarray(conductance, dtype=np.float64),
        np.asarray(m_charge, dtype=np.float64) * cp_charge,
        np.asarray(m_cooling, dtype=np.float64) * cp_cooling,
    )
    smaller, larger = np.minimum(hot, cold), np.maximum(hot, cold)
    return np.asarray(crossflow_effectiveness(ua / smaller, smaller / larger) * smaller / hot)


def crossflow_effectiveness(ntu: ArrayLike, ratio: ArrayLike) -> Array:
    """Effectiveness of a cross-flow exchanger, both streams unmixed [-].

    e = 1/(C_r NTU) sum over n of P_n(NTU) P_n(C_r NTU),   P_n(x) = 1 - exp(-x) sum over m <= n of x^m/m!

    Every term is positive, so nothing cancels; the sum ends where its terms are below rounding. Coded here
    and not taken from `ht`, whose exact relation needs half a second of further imports; tested against it.

    ntu: UA/C_min, 0 to 100 [-]. ratio: C_r = C_min/C_max, 0 to 1 [-]. Both broadcast. Exact for a core of
    even flow and conductance. Source: mason1955, kays1998, from memory.
    """
    n, r = np.broadcast_arrays(np.asarray(ntu, dtype=np.float64), np.asarray(ratio, dtype=np.float64))
    n = np.minimum(n, 100.0)
    x = n * r
    top = float(np.max(x, initial=0.0))
    power_n, power_x = np.exp(-n), np.exp(-x)  # x^m/m! exp(-x), from term to term
    p_n, p_x = -np.expm1(-n), -np.expm1(-x)
    total = p_n * p_x
    for m in range(1, int(top + 10.0 * np.sqrt(top) + 20.0)):
        power_n, power_x = power_n * n / m, power_x * x / m
        p_n, p_x = np.maximum(p_n - power_n, 0.0), np.maximum(p_x - power_x, 0.0)
        total = total + p_n * p_x
    one_sided = -np.expm1(-n)
    small = x < 1e-9
    return np.asarray(np.where(small, one_sided, np.minimum(total / np.where(small, 1.0, x), 1.0)))


def cooled_temperature(T_in: ArrayLike, T_cooling: ArrayLike, effectiveness: ArrayLike) -> Array:
    """Charge temperature after the cooler, T_out = T_in - eps (T_in - T_cooling) [K].

    T_in: charge before the cooler [K]. T_cooling: cooling air [K]. effectiveness: on the charge side [-].
    """
    T_in = np.asarray(T_in, dtype=np.float64)
    return np.asarray(T_in - np.asarray(effectiveness) * (T_in - np.asarray(T_cooling)))


def core_conductance(
    volume: ArrayLike,
    m_charge: ArrayLike,
    m_cooling: ArrayLike,
    m_charge_ref: ArrayLike,
    m_cooling_ref: ArrayLike,
) -> Array:
    """Conductance of a bar-and-plate core [W/K].

    UA = 30 kW/(K m3) V 2 / ((m_ref/m)^0.6 + (ma_ref/ma)^0.55)

    volume: of the core [m3]. m_charge, m_cooling: flows [kg/s], above 0. m_charge_ref: charge flow at which
    the figure holds, 0.15 kg/s for a 6.5 litre core and in proportion to the charge-side flow area else.
    m_cooling_ref: cooling flow at which it holds, 4 m/s times 1.16 kg/m3 times the face area. Error: 0.07 of
    effectiveness. Source: common practice, no source; our own derating of offset-strip fin relations.
    """
    charge = (np.asarray(m_charge_ref) / np.asarray(m_charge)) ** 0.6
    cooling = (np.asarray(m_cooling_ref) / np.asarray(m_cooling)) ** 0.55
    return np.asarray(30e3 * np.asarray(volume) * 2 / (charge + cooling), dtype=np.float64)


def pressure_loss(
    m_dot: ArrayLike,
    density: ArrayLike,
    loss_ref: ArrayLike,
    m_ref: ArrayLike,
    density_ref: ArrayLike,
    exponent: float = 2.0,
) -> Array:
    """Pressure loss of a part scaled from one known point, dp = dp_ref (m/m_ref)^n rho_ref/rho [Pa].

    m_dot: [kg/s]. density: mean density in the part [kg/m3]. loss_ref, m_ref, density_ref: the known point
    [Pa], [kg/s], [kg/m3]. exponent: 2 for pipes and fittings, 1.8 for a core's fins [-]. All broadcast.
    """
    flow = np.asarray(m_dot, dtype=np.float64) / np.asarray(m_ref)
    return np.asarray(np.asarray(loss_ref) * flow**exponent * np.asarray(density_ref) / np.asarray(density))


def core_reference_loss(width: float, height: float, depth: float) -> float:
    """Pressure loss of a bar-and-plate core at 0.15 kg/s and 2.0 kg/m3, tanks not counted [Pa].

    dp = 4 kPa (A_ref/A)^1.8 W/W_ref, A = height times depth the charge-side front, W the length of the tubes;
    4 kPa belongs to 500 x 200 x 65 mm. It scales with (m/0.15 kg/s)^1.8 and 2.0/density.

    width: along the charge tubes [m]. height, depth: [m]. Error: 25 % (judgement). Source: common practice,
    no source.
    """
    return float(4.0e3 * (0.2 * 0.065 / (height * depth)) ** 1.8 * width / 0.5)


def face_velocity(
    road_speed: ArrayLike, core_loss: ArrayLike, pressure_share: ArrayLike, grille_loss: ArrayLike
) -> Array:
    """Speed of the cooling air on the face of a core behind a car's nose [m/s].

    dC_p rho V^2/2 = (K_core + K_grille) rho v^2/2

    road_speed: V [m/s]. core_loss: K_core of the core's air side on its face speed, 15 to 30 for 50 to 100
    mm of depth [-]. pressure_share: dC_p, stagnation less what stands behind the core, over rho V^2/2: 0.6
    to 0.8 in the open, 1.0 in a sealed duct that ends in low pressure [-]. grille_loss: K_grille on the
    face speed [-]. All broadcast. Error: 25 % (judgement).
    """
    share = np.sqrt(np.asarray(pressure_share) / (np.asarray(core_loss) + np.asarray(grille_loss)))
    return np.asarray(share * np.asarray(road_speed, dtype=np.float64))

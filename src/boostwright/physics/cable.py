"""Copper cables: resistance by section and heat, voltage drop over both paths, short-circuit withstand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "COPPER_COEFFICIENT",
    "COPPER_RESISTIVITY_20",
    "COPPER_VOLUME_CAPACITY",
    "REFERENCE_TEMPERATURE",
    "CircuitResistance",
    "Joint",
    "adiabatic_temperature",
    "awg_area",
    "awg_diameter",
    "circuit_resistance",
    "copper_section",
    "fault_current",
    "ideal_resistance",
    "most_resistance",
    "resistance_at",
    "short_circuit_current",
    "short_circuit_factor",
    "short_circuit_time",
    "voltage_drop",
]

Array = NDArray[np.float64]

REFERENCE_TEMPERATURE: Final = 293.15  # 20 degC, at which tables of conductors hold [K]
COPPER_RESISTIVITY_20: Final = 1.7241e-8  # annealed copper at 20 degC [ohm m] (iec60028)
COPPER_COEFFICIENT: Final = 0.00393  # at 20 degC, of the resistance at 20 degC [1/K] (iec60028)
COPPER_VOLUME_CAPACITY: Final = (
    3.45e6  # heat capacity by volume at 20 degC [J/(m3 K)] (iec60949, from memory)
)
SHORT_CIRCUIT_CONSTANT: Final = 2.26e8  # of copper, 226 A s^0.5/mm2 [A s^0.5/m2] (iec60949)
ZERO_RESISTANCE: Final = 38.65  # -234.5 degC, where the straight line of copper meets zero [K] (iec60949)


def ideal_resistance(area: ArrayLike) -> Array:
    """Resistance by length of a solid bar of annealed copper at 20 degC, rho/A [ohm/m].

    area: metal section [m2]. A stranded cable of the same nominal section has 5 to 14 % more: its nominal
    section names the cable, the standard fixes its resistance. Source: iec60028.
    """
    return np.asarray(COPPER_RESISTIVITY_20 / np.asarray(area, dtype=np.float64))


def copper_section(resistance_20: ArrayLike) -> Array:
    """Section of solid copper that has this resistance by length, rho/R' [m2].

    resistance_20: [ohm/m] at 20 degC. With the standard's largest permitted resistance it is the smallest
    metal section; the strands' longer way round the lay counts as missing metal (2 to 5 %). Source: iec60028.
    """
    return np.asarray(COPPER_RESISTIVITY_20 / np.asarray(resistance_20, dtype=np.float64))


def resistance_at(
    resistance_20: ArrayLike, T: ArrayLike, coefficient: ArrayLike = COPPER_COEFFICIENT
) -> Array:
    """Resistance at a temperature, R = R_20 (1 + alpha (T - 293.15 K)), in the unit of ``resistance_20``.

    T: of the conductor [K]. coefficient: alpha at 20 degC [1/K]. Validity: 230 to 450 K, error below 1 %.
    Source: iec60028.
    """
    rise = np.asarray(T, dtype=np.float64) - REFERENCE_TEMPERATURE
    return np.asarray(np.asarray(resistance_20) * (1.0 + np.asarray(coefficient) * rise))


def awg_diameter(gauge: ArrayLike) -> Array:
    """Diameter of a solid wire of an American gauge number, 0.127 mm x 92^((36 - n)/39) [m].

    gauge: n; 0 is 1/0, -1 is 2/0, -2 is 3/0, -3 is 4/0 [-]. Exact by definition. Source: astmb258.
    """
    n = np.asarray(gauge, dtype=np.float64)
    return np.asarray(0.127e-3 * 92.0 ** ((36.0 - n) / 39.0))


def awg_area(gauge: ArrayLike) -> Array:
    """Section of a solid wire of an American gauge number, pi d^2/4 [m2]; ``gauge`` as in `awg_diameter`.

    Cable sold by the vehicle trade's own gauge sizes is 5 to 10 % smaller (common practice, no source).
    """
    return np.asarray(np.pi / 4 * awg_diameter(gauge) ** 2)


class Joint(NamedTuple):
    """What a current passes between two lengths of cable: lug, clamp, connector, contact, body metal."""

    resistance: float  # [ohm]
    sd: float  # one standard deviation [ohm]


class CircuitResistance(NamedTuple):
    """Resistance of a whole circuit. All [ohm]."""

    total: Array
    sd: Array  # one standard deviation
    feed: Array  # cable to the load
    back: Array  # cable, or body, back from it
    joints: Array


def circuit_resistance(
    feed_resistance_20: ArrayLike,
    back_resistance_20: ArrayLike,
    joints: Sequence[Joint] = (),
    T: ArrayLike = REFERENCE_TEMPERATURE,
    cable_spread: float = 0.0,
) -> CircuitResistance:
    """Resistance of feed, return and every joint of a circuit, with its spread.

    R = (R_feed + R_back)(1 + alpha (T - 293.15 K)) + sum of joints. The joints' spreads are taken as
    independent and summed in squares, the two cables' as one and the same.

    feed_resistance_20, back_resistance_20: whole lengths at 20 degC [ohm]; a return through the body is its
    joints and a body resistance. joints: each one that the current passes, a pair of lugs being two. T: of
    the cables [K]; joints do not follow it. cable_spread: one standard deviation, share [-].
    """
    feed, back = resistance_at(feed_resistance_20, T), resistance_at(back_resistance_20, T)
    of_joints = float(sum(j.resistance for j in joints))
    variance = float(sum(j.sd**2 for j in joints))
    cables = feed + back
    return CircuitResistance(
        total=np.asarray(cables + of_joints),
        sd=np.asarray(np.sqrt((cable_spread * cables) ** 2 + variance)),
        feed=feed,
        back=back,
        joints=np.full(cables.shape, of_joints),
    )


def voltage_drop(current: ArrayLike, resistance: ArrayLike) -> Array:
    """Voltage lost over a resistance, R I [V]; current [A], resistance [ohm]."""
    return np.asarray(np.asarray(current, dtype=np.float64) * np.asarray(resistance))


def most_resistance(drop: ArrayLike, current: ArrayLike, joints: ArrayLike = 0.0) -> Array:
    """Most resistance that cables may have for a permitted drop, U/I less the joints' [ohm].

    drop: permitted [V]. current: [A], above 0. joints: [ohm]. Below zero: the joints alone lose too much.
    """
    return np.asarray(np.asarray(drop, dtype=np.float64) / np.asarray(current) - np.asarray(joints))


def fault_current(voltage: ArrayLike, source_resistance: ArrayLike, circuit: ArrayLike) -> Array:
    """Current into a dead short, V/(R_source + R_circuit) [A].

    voltage: of the source without load [V]. source_resistance: of the battery [ohm]. circuit: up to the
    fault and back [ohm]. A chafed cable arcs and carries less, from nothing up to this. Inductance is left
    out: a few milliseconds of rise.
    """
    total = np.asarray(source_resistance, dtype=np.float64) + np.asarray(circuit)
    with np.errstate(divide="ignore"):
        return np.asarray(np.asarray(voltage) / total)


def short_circuit_factor(T_start: ArrayLike, T_end: ArrayLike) -> Array:
    """Factor k of copper that takes up all of its heat, K sqrt(ln((b + T2)/(b + T1))) [A s^0.5/m2].

    K = 226 A s^0.5/mm2, b = 234.5 with temperatures in degC. T_start: before the fault [K]. T_end: permitted
    at its end [K], 433.15 for PVC, 523.15 for cross-linked polyethylene. NaN where the end is below the
    start. Validity: to 5 s. Error: safe side; heat that leaves adds 1 to 10 %. Source: iec60949, iec60364.
    """
    ratio = (np.asarray(T_end, dtype=np.float64) - ZERO_RESISTANCE) / (np.asarray(T_start) - ZERO_RESISTANCE)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(SHORT_CIRCUIT_CONSTANT * np.sqrt(np.log(ratio)))


def short_circuit_time(area: ArrayLike, current: ArrayLike, T_start: ArrayLike, T_end: ArrayLike) -> Array:
    """Time that a cable withstands a fault current, (k A/I)^2 [s].

    area: [m2], nominal section as the standard has it, or that of `copper_section` to be safe. current: [A].
    T_start, T_end: as in `short_circuit_factor`. Validity: below 5 s; longer is shorter than the truth.
    """
    with np.errstate(divide="ignore"):
        ratio = (
            short_circuit_factor(T_start, T_end) * np.asarray(area) / np.asarray(current, dtype=np.float64)
        )
    return np.asarray(ratio**2)


def short_circuit_current(area: ArrayLike, time: ArrayLike, T_start: ArrayLike, T_end: ArrayLike) -> Array:
    """Current that a cable withstands for a time, k A/sqrt(t) [A]; the inverse of `short_circuit_time`."""
    return np.asarray(
        short_circuit_factor(T_start, T_end) * np.asarray(area) / np.sqrt(np.asarray(time, dtype=np.float64))
    )


def adiabatic_temperature(area: ArrayLike, current: ArrayLike, time: ArrayLike, T_start: ArrayLike) -> Array:
    """Temperature of a conductor after a fault, (T1 + b) exp((I/(K A))^2 t) - b [K].

    Inverse of `short_circuit_time` for the end temperature; area [m2], current [A], time [s], T_start [K].
    Above 1358 K copper has melted. Source: iec60949.
    """
    density = np.asarray(current, dtype=np.float64) / (SHORT_CIRCUIT_CONSTANT * np.asarray(area))
    with np.errstate(over="ignore"):
        growth = np.exp(density**2 * np.asarray(time))
    return np.asarray((np.asarray(T_start) - ZERO_RESISTANCE) * growth + ZERO_RESISTANCE)

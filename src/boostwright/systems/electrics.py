"""The starter's circuit and its fuse: drops, fault currents, what a fuse lives through and what it saves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.cable import (
    CircuitResistance,
    Joint,
    circuit_resistance,
    fault_current,
)
from boostwright.physics.cable_heat import Cable, cooling_conductance, time_to_temperature
from boostwright.physics.fuse import FuseGates, opening_band, pulse_use, rating_at

__all__ = [
    "Fuse",
    "MainCable",
    "Pulse",
    "PulseUse",
    "ShortCircuit",
    "cable_withstand",
    "cold_current",
    "inrush_current",
    "largest_rating",
    "short_circuit",
    "start_circuit",
    "start_use",
]

Array = NDArray[np.float64]

BRIEF: Final = 5.0  # up to which insulation bears its short-circuit temperature [s] (iec60364)
OVERLOAD: Final = 1.45  # of its continuous current that a cable bears until its fuse opens (iec60364)
BUILDING_AIR: Final = 303.15  # in which those continuous currents hold [K] (iec60364)
_CURRENTS: Final = 40  # fault currents that are tried
_RATINGS: Final = 80  # ratings that are tried
_RANGE: Final = (10.0, 1000.0)  # of those ratings [A]


@dataclass(frozen=True, slots=True)
class MainCable:
    """The starter's feed and return."""

    cable: Cable  # one metre of the feed
    section: float  # nominal [m2]
    feed_length: float  # [m]
    back_length: float  # of a return by cable; 0 through the body [m]
    feed_joints: tuple[Joint, ...]
    back_joints: tuple[Joint, ...]
    spread: float  # of the cables' resistance, one standard deviation, share
    short_temperature: float  # that the cover bears at the end of a short [K]
    continuous: float  # that it bears for good [K]


class StartCircuit(NamedTuple):
    """Resistance of the starter's circuit, both ways [ohm]."""

    whole: CircuitResistance
    feed: float  # cable and joints
    back: float


def start_circuit(main: MainCable, T: float) -> StartCircuit:
    """The circuit with its cables at T [K]; joints do not follow it."""
    per_metre = float(np.asarray(main.cable.resistance_20))
    whole = circuit_resistance(
        per_metre * main.feed_length,
        per_metre * main.back_length,
        (*main.feed_joints, *main.back_joints),
        T,
        main.spread,
    )
    back_joints = sum(joint.resistance for joint in main.back_joints)
    back = float(whole.back) + back_joints
    return StartCircuit(whole, float(whole.total) - back, back)


def cold_current(warm: float, T: float, slope: float) -> float:
    """Cranking current of a cold engine, I (1 + s (293 K - T)) below 293 K [A].

    warm: I [A]. T: air after a night [K]. slope: s [1/K]. Common practice, no source; +- 15 %.
    """
    return warm * (1.0 + slope * max(0.0, 293.15 - T))


def inrush_current(warm: float, ratio: float, voltage: float, source: float, circuit: float) -> float:
    """Current of a starter that does not turn yet: ratio times warm cranking, or what its source gives [A].

    warm: cranking current [A]. ratio: of the two [-]. voltage: of the battery at rest [V]. source, circuit:
    resistances of battery and cables [ohm].
    """
    return min(ratio * warm, float(fault_current(voltage, source, circuit)))


class Fuse(NamedTuple):
    """A fuse."""

    gates: FuseGates
    rating: float  # printed on it [A]


class Pulse(NamedTuple):
    """One stretch of a start."""

    current: float  # [A]
    time: float  # [s]


class PulseUse(NamedTuple):
    """Use that one kind of start makes of a fuse, against what it may use so often."""

    use: float  # [-]; at 1 the weakest fuse opens
    permitted: float  # [-]


def start_use(fuse: Fuse, pulses: tuple[Pulse, ...], T: float, slope: float) -> float:
    """Use made of the weakest fuse of its type by a start, stretch after stretch [-].

    T: around the fuse [K]. slope: loss of rating by temperature [1/K]. See `physics.fuse.pulse_use`.
    """
    rating = rating_at(fuse.rating, T, slope)
    currents, times = np.array(pulses, dtype=np.float64).T
    return float(pulse_use(fuse.gates, rating, currents, times))


@lru_cache(maxsize=64)
def _half_way(cable: Cable, T: float, brief: float, lasting: float) -> Array:
    """Conductance to the air half way up to each of the two temperatures [W/(m K)]."""
    return cooling_conductance(cable, 0.5 * (T + np.array([brief, lasting])), T)


def cable_withstand(main: MainCable, current: Array, T: float) -> Array:
    """Time that a cable bears a fault current until its cover is spoilt [s].

    Up to 5 s the short-circuit temperature of the cover holds; beyond, the temperature at which it rests at
    1.45 times its continuous current, T_30 + 1.45^2 (T_c - T_30), no more than the former. Heat is given off
    as half way up.

    current: (n,) [A]. T: of cable and air before the fault [K]. Safe side: heat in the insulation is left
    out. Error: 25 % of the time. Source: iec60364, from memory; the step from its currents to a
    temperature is ours.
    """
    brief = main.short_temperature
    lasting = min(brief, BUILDING_AIR + OVERLOAD**2 * (main.continuous - BUILDING_AIR))
    cable = main.cable

    conductance = _half_way(cable, T, brief, lasting)

    def until(end: float, shed: float) -> Array:
        return time_to_temperature(cable.resistance_20, current, end, T, T, shed)

    short, long = until(brief, conductance[0]), until(lasting, conductance[1])
    return np.asarray(np.where(short <= BRIEF, short, np.maximum(BRIEF, long)))


class ShortCircuit(NamedTuple):
    """Currents of a chafed cable."""

    least: float  # weakest short that must be ended [A]
    most: float  # dead short right behind the fuse [A]


def short_circuit(main: MainCable, T: float, voltage: float, source: float, arc_share: float) -> ShortCircuit:
    """From the arc at the far end to the dead short behind the fuse.

    voltage: of the battery at rest [V]. source: its resistance [ohm]. arc_share: of a dead short at the far
    end that an arc on an edge carries [-].
    """
    circuit = start_circuit(main, T)
    far = float(fault_current(voltage, source, circuit.whole.total))
    near = float(fault_current(voltage, source, circuit.back))
    return ShortCircuit(arc_share * far, near)


def largest_rating(
    gates: FuseGates, main: MainCable, faults: tuple[ShortCircuit, ...], T: float, cold: float
) -> Array:
    """Largest rating of a fuse type that opens before the cable's cover is spoilt, at every fault [A].

    faults: so many ranges of currents side by side. cold: rating at the coldest place over that at its
    reference, above 1, as a cold fuse opens later [-]. Tried at 80 ratings from 10 to 1000 A in even ratios;
    between two of them straight in the logarithm of withstand over opening time. 0 where not even the
    smallest protects. returns: (n,), one for each range.
    """
    ratings = np.geomspace(*_RANGE, _RATINGS)
    currents = np.geomspace([f.least for f in faults], [f.most for f in faults], _CURRENTS, axis=-1)
    late = opening_band(gates, ratings[:, None] * cold, currents[:, None, :]).latest
    bears = cable_withstand(main, currents, T)[:, None, :]
    with np.errstate(invalid="ignore", divide="ignore"):
        room = np.where(np.isinf(bears), np.inf, bears / late)
    return np.array([_crossing(ratings, worst) for worst in room.min(axis=-1)])


def _crossing(ratings: Array, worst: Array) -> float:
    """Where room for the fuse falls through 1 [A]."""
    good = np.flatnonzero(worst >= 1.0)
    if not good.size:
        return 0.0
    last = int(good[-1])
    if last == ratings.size - 1:
        return float(ratings[-1])
    here, there = float(worst[last]), float(worst[last + 1])
    if not math.isfinite(here) or there <= 0.0:
        return float(ratings[last])
    way = math.log(here) / (math.log(here) - math.log(there))
    return float(ratings[last] * (ratings[last + 1] / ratings[last]) ** way)

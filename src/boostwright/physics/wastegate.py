"""Wastegate: forces on rod and valve, the area that the lift opens, and the pressure that a valve in the
signal line leaves for the diaphragm.

The diaphragm pulls the rod against its spring; the exhaust pushes the valve open through the lever.
Everything here is one instant at rest: no inertia, no line filling.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compressor import GAMMA_AIR
from boostwright.physics.nozzle import flow_function
from boostwright.physics.roots import bracketed_root

__all__ = [
    "Actuator",
    "GateFlow",
    "area_for_flow",
    "bleed_share",
    "crack_pressure",
    "duty_for_opening",
    "free_travel",
    "gate_area",
    "lift_for_area",
    "opening_between_orifices",
    "opening_of_duty",
    "rod_travel",
    "signal_between_orifices",
    "signal_pressure",
    "signal_pressure_for_travel",
    "valve_lift",
]

Array = NDArray[np.float64]


class Actuator(NamedTuple):
    """Actuator, lever and valve of one gate; every field is a number or an array that broadcasts."""

    F0: ArrayLike  # spring preload, valve on its seat [N]
    k_s: ArrayLike  # spring rate [N/m]
    A_d: ArrayLike  # effective area of the diaphragm, valve on its seat [m2]
    A_v: ArrayLike  # area of the port, by the seat's diameter [m2]
    x_max: ArrayLike  # rod travel at the stop [m]
    a: ArrayLike = 1.0  # arm of the rod about the valve's shaft [m]; 1 and 1 where the valve sits on the rod
    b: ArrayLike = 1.0  # arm of the valve [m]
    fall: ArrayLike = 0.0  # share of A_d lost over the full travel [-]
    A_stem: ArrayLike = 0.0  # area on which p3 acts against the outside air, opening [m2]


class GateFlow(NamedTuple):
    """Discharge of one kind of valve."""

    curtain: float  # on the curtain pi D L [-]
    port: float  # on the port pi/4 D^2 [-]


def _opening_force(gate: Actuator, p3: ArrayLike, p4: ArrayLike, p_amb: ArrayLike) -> Array:
    """Force of the exhaust on the valve as the rod feels it, positive opening [N]."""
    p3 = np.asarray(p3, dtype=np.float64)
    on_valve = (p3 - p4) * np.asarray(gate.A_v) + (p3 - p_amb) * np.asarray(gate.A_stem)
    return np.asarray(on_valve * np.asarray(gate.b) / np.asarray(gate.a))


def crack_pressure(
    gate: Actuator, p3: ArrayLike, p4: ArrayLike, p_amb: ArrayLike, F_fric: ArrayLike = 0.0
) -> Array:
    """Signal pressure above ambient at which the valve leaves its seat [Pa].

    p_sig - p_amb = (F0 + F_fric - ((p3 - p4) A_v + (p3 - p_amb) A_stem) b/a)/A_d

    gate: record. p3, p4: before and behind the valve [Pa]. p_amb: behind the diaphragm [Pa]. F_fric: friction
    felt at the rod, positive against opening [N]. All broadcast. Negative where the exhaust opens the valve
    with no help. With A_v = 0 or no exhaust pressure it is F0/A_d, which is what a hand pump shows on the
    bench.

    Error: 5 kPa with a measured spring, 15 kPa from catalogue values (own judgement). Source: statics of the
    lever; eriksson2014, pressure actuators, from memory.
    """
    force = np.asarray(gate.F0) + np.asarray(F_fric) - _opening_force(gate, p3, p4, p_amb)
    return np.asarray(force / np.asarray(gate.A_d))


def free_travel(
    gate: Actuator, p_sig: ArrayLike, p3: ArrayLike, p4: ArrayLike, p_amb: ArrayLike, F_fric: ArrayLike = 0.0
) -> Array:
    """Rod travel at which the forces balance, as if seat and stop were not there [m].

    (p_sig - p_amb) A_d (1 - fall x/x_max) a + ((p3 - p4) A_v + (p3 - p_amb) A_stem) b - (F0 + k_s x + F_fric)
    a = 0, solved for x; it is linear in x. Negative: the valve is held on its seat; above x_max: on its stop.

    gate, p3, p4, p_amb, F_fric: as `crack_pressure`. p_sig: at the diaphragm [Pa]. All broadcast. The
    exhaust's force is taken as that on the shut valve at any lift. Error and source as `crack_pressure`.
    """
    gauge = np.asarray(p_sig, dtype=np.float64) - np.asarray(p_amb)
    closing = np.asarray(gate.F0) + np.asarray(F_fric)
    force = gauge * np.asarray(gate.A_d) + _opening_force(gate, p3, p4, p_amb) - closing
    lost = np.maximum(gauge, 0.0) * np.asarray(gate.A_d) * np.asarray(gate.fall) / np.asarray(gate.x_max)
    return np.asarray(force / (np.asarray(gate.k_s) + lost))


def rod_travel(
    gate: Actuator, p_sig: ArrayLike, p3: ArrayLike, p4: ArrayLike, p_amb: ArrayLike, F_fric: ArrayLike = 0.0
) -> Array:
    """Rod travel between seat and stop [m]; arguments as `free_travel`."""
    return np.asarray(
        np.clip(
            free_travel(gate, p_sig, p3, p4, p_amb, F_fric), 0.0, np.asarray(gate.x_max, dtype=np.float64)
        )
    )


def signal_pressure_for_travel(
    gate: Actuator, x: ArrayLike, p3: ArrayLike, p4: ArrayLike, p_amb: ArrayLike, F_fric: ArrayLike = 0.0
) -> Array:
    """Signal pressure above ambient that holds the rod at a travel [Pa]; inverse of `free_travel`.

    x: rod travel [m]; the rest as `crack_pressure`.
    """
    x = np.asarray(x, dtype=np.float64)
    force = (
        np.asarray(gate.F0)
        + np.asarray(gate.k_s) * x
        + np.asarray(F_fric)
        - _opening_force(gate, p3, p4, p_amb)
    )
    return np.asarray(
        force / (np.asarray(gate.A_d) * (1 - np.asarray(gate.fall) * x / np.asarray(gate.x_max)))
    )


def valve_lift(gate: Actuator, x: ArrayLike) -> Array:
    """Lift of the valve's middle off its seat at a rod travel x, x b/a [m]."""
    return np.asarray(np.asarray(x, dtype=np.float64) * np.asarray(gate.b) / np.asarray(gate.a))


def gate_area(lift: ArrayLike, D: ArrayLike, flow: GateFlow) -> Array:
    """Effective flow area Cd A of a gate [m2]: curtain at low lift, port at high lift, a smooth join between.

    A_1 = c_1 pi D lift; A_2 = c_2 pi/4 D^2; CdA = (A_1^-4 + A_2^-4)^(-1/4)

    lift: of the valve, at least 0 [m]. D: seat diameter, above 0 [m]. flow: record. Both broadcast. The whole
    port is reached at lift/D of about 0.3 to 0.35.

    Error: 15 % (own judgement; no flap of this size with published values was at hand). Source: own form.
    """
    D = np.asarray(D, dtype=np.float64)
    curtain = flow.curtain * np.pi * D * np.asarray(lift, dtype=np.float64)
    port = flow.port * np.pi / 4 * D**2
    return np.asarray(curtain * port / (curtain**4 + port**4) ** 0.25)


def lift_for_area(area: ArrayLike, D: ArrayLike, flow: GateFlow) -> Array:
    """Lift at which a gate has an effective area [m]; infinite where the port has less. Inverse of
    `gate_area`.

    area: [m2], below zero counts as zero. D: seat diameter [m]. flow: record. Both broadcast.
    """
    D = np.asarray(D, dtype=np.float64)
    share = np.maximum(np.asarray(area, dtype=np.float64), 0.0) / (flow.port * np.pi / 4 * D**2)
    inside = np.where(share < 1, share, 0.0)
    curtain = flow.port * np.pi / 4 * D**2 * inside / (1 - inside**4) ** 0.25
    return np.asarray(np.where(share < 1, curtain / (flow.curtain * np.pi * D), np.inf))


def area_for_flow(
    m_dot: ArrayLike, p3: ArrayLike, T3: ArrayLike, p4: ArrayLike, R: ArrayLike, gamma: ArrayLike
) -> Array:
    """Effective area through which a flow passes from p3 to p4, m sqrt(R T3)/(p3 Psi) [m2]; inverse of
    `nozzle_flow`.

    m_dot: [kg/s]. p3: [Pa]. T3: [K]. p4: below p3 [Pa]. R: [J/(kg K)]. gamma: [-]. All broadcast; a negative
    flow gives a negative area. NaN where p4 is not below p3.
    """
    p3 = np.asarray(p3, dtype=np.float64)
    psi = flow_function(np.asarray(p4, dtype=np.float64) / p3, gamma)
    with np.errstate(divide="ignore", invalid="ignore"):
        area = np.asarray(m_dot) * np.sqrt(np.asarray(R) * np.asarray(T3)) / (p3 * psi)
    return np.asarray(np.where(psi > 0, area, np.nan))


def opening_of_duty(duty: ArrayLike, dead: float, full: float) -> Array:
    """Mean opening 0..1 of a pulsed valve at a duty: nothing below `dead`, all above `full`, straight between
    [-].

    duty, dead, full: shares, dead below full [-]. Source: own form; the ends are common practice, no source.
    """
    return np.asarray(np.clip((np.asarray(duty, dtype=np.float64) - dead) / (full - dead), 0.0, 1.0))


def duty_for_opening(opening: ArrayLike, dead: float, full: float) -> Array:
    """Duty at which a pulsed valve has a mean opening between 0 and 1; inverse of `opening_of_duty`."""
    return np.asarray(dead + np.asarray(opening, dtype=np.float64) * (full - dead))


def bleed_share(opening: ArrayLike, gain: ArrayLike) -> Array:
    """Share of the signal that a valve takes away, gain times opening [-].

    opening: mean, 0..1 [-]. gain: with the valve wide open, 0..1 [-]: 0.7 to 0.9 for a bleed valve behind a
    restrictor, 0.95 to 1 for a three-port valve (common practice, from memory). Both broadcast.
    """
    return np.asarray(np.asarray(opening, dtype=np.float64) * np.asarray(gain))


def signal_between_orifices(
    p_tap: ArrayLike, p_amb: ArrayLike, opening: ArrayLike, vent_over_inlet: ArrayLike
) -> Array:
    """Pressure between a restrictor and a vent in series, where the diaphragm is [Pa].

    The same mass passes both: A_in p_tap Psi(p_s/p_tap) = opening A_vent p_s Psi(p_amb/p_s), solved for p_s.
    For a small boost this is (p_tap - p_s)/(p_s - p_amb) = (opening A_vent/A_in)^2; at 1.2 bar of boost that
    short form would take up to 0.15 of the boost too much away.

    p_tap: before the restrictor [Pa]; not above p_amb: it comes back unchanged. p_amb: behind the vent [Pa].
    opening: mean, 0..1 [-]. vent_over_inlet: A_vent/A_in, both with the same discharge coefficient [-]. All
    broadcast. Error: 5 % of the boost for drilled orifices (own judgement). Source: saintvenant1839;
    heywood1988, appendix C, from memory.
    """
    p_tap, p_amb, ratio = np.broadcast_arrays(
        np.asarray(p_tap, dtype=np.float64),
        np.asarray(p_amb, dtype=np.float64),
        np.asarray(opening, dtype=np.float64) * np.asarray(vent_over_inlet, dtype=np.float64),
    )
    boosted = p_tap > p_amb
    low, high = np.where(boosted, p_amb, 0.5 * p_tap), np.where(boosted, p_tap, 1.5 * p_tap)

    def excess(p_s: Array) -> Array:
        through = p_tap * flow_function(p_s / p_tap, GAMMA_AIR)
        return np.where(boosted, through - ratio * p_s * flow_function(p_amb / p_s, GAMMA_AIR), p_tap - p_s)

    return bracketed_root(excess, low, high).x


def opening_between_orifices(
    p_sig: ArrayLike, p_tap: ArrayLike, p_amb: ArrayLike, vent_over_inlet: ArrayLike
) -> Array:
    """Opening of the vent that leaves a signal pressure; inverse of `signal_between_orifices` [-].

    p_sig: between p_amb and p_tap [Pa]; the rest as there. Above 1 where the vent is too small; NaN where
    p_sig lies outside.
    """
    p_sig, p_tap = np.asarray(p_sig, dtype=np.float64), np.asarray(p_tap, dtype=np.float64)
    inside = (p_sig > p_amb) & (p_sig <= p_tap)
    with np.errstate(divide="ignore", invalid="ignore"):
        through = p_tap * flow_function(p_sig / p_tap, GAMMA_AIR)
        out = p_sig * flow_function(p_amb / p_sig, GAMMA_AIR) * np.asarray(vent_over_inlet)
        return np.asarray(np.where(inside, through / out, np.nan))


def signal_pressure(p_tap: ArrayLike, p_amb: ArrayLike, share: ArrayLike) -> Array:
    """Pressure at the diaphragm when a share of the boost at the tap is taken away [Pa].

    p_sig = p_amb + (p_tap - p_amb)(1 - share). p_tap, p_amb: [Pa]. share: 0..1 [-]. All broadcast.
    """
    p_tap = np.asarray(p_tap, dtype=np.float64)
    return np.asarray(p_amb + (p_tap - p_amb) * (1 - np.asarray(share)))

"""What the compiled cycle is fed with: named tuples of floats and arrays, SI units, angles in radians.

Numba unpacks named tuples of one type at no cost, so the kernels read like the equations that they follow.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Boundary",
    "Charge",
    "CylinderTables",
    "GasTables",
    "PointInputs",
    "Steps",
    "WiebeDurations",
    "WiebeLaw",
]

Array = NDArray[np.float64]


class CylinderTables(NamedTuple):
    """One engine's geometry over the crank angle: ``n`` equal steps, intake closing to intake closing."""

    theta0: float  # first angle of the tables: intake closing before firing TDC [rad]
    dtheta: float  # step of the tables [rad]
    volume: Array  # (n + 1,) cylinder volume [m3]
    volume_slope: Array  # (n + 1,) dV/dtheta [m3/rad]
    intake_area: Array  # (n + 1,) effective area of all intake valves of a cylinder [m2]
    intake_slope: Array  # (n + 1,) its slope [m2/rad]
    exhaust_area: Array  # (n + 1,) effective area of all exhaust valves of a cylinder [m2]
    exhaust_slope: Array  # (n + 1,) its slope [m2/rad]
    evo: float  # exhaust opening after firing TDC [rad]
    intake_opens: float  # after firing TDC [rad]
    edges: Array  # (m,) exhaust opening, then in order dead centres and valve events, to intake closing [rad]
    part: Array  # (m - 1,) between two edges: 0 blowdown, 1 exhaust stroke, 2 overlap, 3 filling
    ivc: float  # intake closing after firing TDC, theta0 + 4 pi [rad]
    intake_reverse: float  # discharge factor for flow from cylinder to port [-]
    exhaust_reverse: float  # discharge factor for flow from manifold to cylinder [-]
    bore: float  # [m]
    stroke: float  # [m]
    swept: float  # swept volume of one cylinder [m3]
    clearance: float  # volume at TDC [m3]
    piston_area: float  # crown area that sees gas [m2]
    head_area: float  # chamber roof area [m2]
    liner_offset: float  # liner length exposed at TDC [m]
    bore_area: float  # [m2]
    ln_disc: float  # ln of bore area times bore radius: ln V - ln_disc = ln(h/R)
    runner_length: float  # [m]; 0 = valve breathes from the plenum directly
    runner_area: float  # [m2]
    port_volume: float  # [m3]
    runner_loss: float  # [-]
    tumble: float  # turbulence intensity at TDC over mean piston speed, burn factor included [-]
    kernel_radius: float  # [m]
    flame_lnh0: float  # first ln(h/R) of the flame table [-]
    flame_dlnh: float  # step of ln(h/R) [-]
    flame_area: Array  # (16, 61) flame area over R^2 [-] against (ln h/R, cube root of V_f/V)
    flame_radius: Array  # (16, 61) flame radius over R [-]


class GasTables(NamedTuple):
    """Gas data of ``k`` mixtures side by side; see `boostwright.physics.gas.Mixture` for each entry."""

    R_f: Array  # (k,) fresh gas constant [J/kg/K]
    R_b: Array  # (k,) frozen burned gas constant [J/kg/K]
    h0_f: Array  # (k,) enthalpy offset, fresh [J/kg]
    h0_b: Array  # (k,) enthalpy offset, frozen burned [J/kg]
    cp_f: Array  # (k, 7)
    cp_b: Array  # (k, 7)
    h_f: Array  # (k, 7) cp_f over 1..7: coefficients of (h - h0)/T
    h_b: Array  # (k, 7)
    T0: float  # first temperature of the equilibrium table [K]
    dT: float  # [K]
    lnp0: float  # ln of the first pressure in Pa [-]
    dlnp: float  # [-]
    h_spline: Array  # (k, nT, nP) cubic B-spline coefficients of enthalpy [J/kg]
    r_spline: Array  # (k, nT, nP) of the gas constant [J/kg/K]
    fuel_fraction: Array  # (k,) kg of fuel per kg of fresh charge [-]
    lhv: Array  # (k,) lower heating value of the liquid fuel [J/kg]
    lam: Array  # (k,) lambda [-]
    flame_speed: Array  # (k,) S_L at 298 K and 1 atm of the power law below [m/s]
    flame_T: Array  # (k,) temperature exponent [-]
    flame_p: Array  # (k,) pressure exponent [-]
    burned_moles: Array  # (k,) M_fresh / M_burned: turns a residual mass share into a mole share [-]


class WiebeDurations(NamedTuple):
    """Burn durations of the Wiebe law against the state at spark, fitted to the entrainment model.

    ln D = c0 + c1 ln S_p + c2 ln S_L + c3 ln rho_u + c4 Z + c5 Z^2 + c6 ln T, Z = (CA50 - 8 deg)/10 deg.
    """

    early: Array  # (7,) of the angle from spark to 10 % burned [rad]
    main: Array  # (7,) of the angle from 10 to 90 % burned [rad]
    ratio0: float  # first ratio early/main of the table below [-]
    dratio: float  # step of the ratio [-]
    exponent: Array  # (j,) m + 1 that gives the ratio [-]


class PointInputs(NamedTuple):
    """Operating points; every array has shape (n,)."""

    omega: Array  # crank speed [rad/s]
    p_plenum: Array  # [Pa]
    T_inlet: Array  # charge at the valve, after port heating and evaporation [K]
    p_exhaust: Array  # [Pa]
    spark: Array  # [rad]
    mixture: NDArray[np.int64]  # row of GasTables
    heat_factor: Array  # on the wall heat coefficient [-]
    loss: Array  # share of fuel energy that leaves unburnt [-]
    coolant: Array  # coolant-side wall temperature [K]
    knock_end: Array  # burned share at which the knock integral stops [-]
    heat_law: int  # 0 Woschni, 1 Hohenberg
    burn_law: int  # 0 entrainment, 1 Wiebe, 2 motored
    durations: WiebeDurations  # of the Wiebe law

    def rows(self, pick: NDArray[np.bool_]) -> PointInputs:
        """Only the points where ``pick`` (n,) is true."""
        picked: dict[str, Any] = {n: v[pick] for n, v in self._asdict().items() if isinstance(v, np.ndarray)}
        return self._replace(**picked)


class Steps(NamedTuple):
    """Crank-angle steps and tolerances."""

    compression: float  # [rad]
    burn: float  # [rad]
    expansion: float  # [rad]
    blowdown: float  # exhaust opening to bottom dead centre [rad]
    exhaust: float  # exhaust stroke until the first event of the overlap [rad]
    overlap: float  # from there until the port has settled after it [rad]
    filling: float  # after the overlap, to intake closing [rad]
    shut: float  # port and runner while both valves are shut [rad]
    tolerance: float  # periodicity at which the cycle is called converged [-]
    max_cycles: int


class Charge(NamedTuple):
    """What stays the same over one cycle of one operating point; made inside the compiled cycle."""

    k: int  # row of GasTables
    m: float  # trapped mass [kg]
    y: float  # burned share of it [-]
    R: float  # its gas constant [J/kg/K]
    omega: float  # [rad/s]
    w: float  # 1/omega [s/rad]
    speed: float  # mean piston speed [m/s]
    heat_law: int
    heat_c: float  # constant of the heat law, see kernels.heat
    ln_s: float  # ln(S_p + 1.4)
    ln_w_closed: float  # ln of Woschni's velocity before combustion
    ln_w_open: float  # the same while a valve is open
    p_ref: float  # pressure at intake closing [Pa]
    V_ref: float  # volume there [m3]
    w_burn: float  # Woschni's combustion velocity per pascal above the motored pressure [m/s/Pa]
    lost: float  # energy that leaves unburnt, per kg of charge that burns [J/kg]
    T_piston: float  # [K]
    T_head: float  # [K]
    T_liner: float  # [K]
    law: int  # 0 entrainment, 1 Wiebe, 2 motored
    late: float  # Z of the Wiebe durations, from the last cycle's CA50 [-]
    rho_tdc: float  # unburned density that the charge would have at TDC [kg/m3]
    S_L: float  # laminar flame speed at 298 K and 1 atm, dilution included [m/s]
    h_tdc: float  # disc height at TDC [m]
    spark: float  # [rad]
    knock_end: float  # burned share at which the knock integral stops [-]


class Boundary(NamedTuple):
    """States at the ends of the gas path during one cycle; made inside the compiled cycle."""

    p_plenum: float  # [Pa]
    T_inlet: float  # fresh charge [K]
    h_fresh: float  # its enthalpy [J/kg]
    cp_fresh: float  # [J/kg/K]
    rho: float  # its density [kg/m3]
    fade: float  # mass at which the returned-gas store fades out [kg]
    p_exhaust: float  # [Pa]
    column: float  # runner area over length [m]
    drag: float  # runner pressure loss over flow squared [Pa s2/kg2]
    port: float  # port volume [m3]
    h_back: float  # enthalpy of what the manifold gives back [J/kg]
    y_back: float  # its burned share [-]


class WiebeLaw(NamedTuple):
    """The Wiebe law of one cycle; made inside the compiled cycle."""

    start: float  # where its own zero lies, before the spark [rad]
    span: float  # whole duration [rad]
    exponent: float  # m + 1 [-]

"""Radial turbine with fixed housing: gas, swallowing, efficiency, bearing loss and the balance of the shaft.

Station 3 is the turbine inlet (total), 4 its outlet (static). The expansion ratio is p03/p4. The exhaust gas
is handed in with its heat capacity as a function of temperature: petrol exhaust near 1150 K has cp about 1305
J/(kg K) and gamma about 1.285, not the round values of gas-turbine exhaust.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.nozzle import choked_flow_constant, flow_function

__all__ = [
    "USUAL_EXPONENT",
    "Bearing",
    "ExhaustGas",
    "TurbineAreas",
    "TurbineGround",
    "TurbineRecipe",
    "TurbineSizes",
    "bearing_loss",
    "blade_speed_ratio",
    "check_turbine",
    "effective_area",
    "exhaust_gas_near",
    "expansion_ratio_for_power",
    "inlet_pressure_for_flow",
    "isentropic_drop",
    "isentropic_outlet_temperature",
    "peak_turbine_efficiency",
    "smooth_flow_constant",
    "turbine_efficiency",
    "turbine_flow",
    "turbine_flow_two_halves",
]

Array = NDArray[np.float64]

USUAL_EXPONENT: Final = 2.0  # of the pressure ratio in the smooth swallowing form [-]
_CHOKED_AT = 3.0  # expansion ratio at which the smooth swallowing form passes the choked flow of its area
_DROP_ITERATIONS = 30


class ExhaustGas(NamedTuple):
    """Frozen exhaust gas about one temperature, cp(T) = cp_ref + slope (T - T_ref). Fields broadcast.

    A straight line is within 0.1 % of the mixture's polynomial over the 250 K that a turbine spans.
    """

    R: Array | float  # [J/(kg K)]
    cp_ref: Array | float  # [J/(kg K)]
    slope: Array | float  # [J/(kg K2)]
    T_ref: Array | float  # [K]

    def cp(self, T: ArrayLike) -> Array:
        """Heat capacity [J/(kg K)] at temperature T [K]."""
        return np.asarray(
            self.cp_ref + np.asarray(self.slope) * (np.asarray(T) - self.T_ref), dtype=np.float64
        )

    def gamma(self, T: ArrayLike) -> Array:
        """Ratio of heat capacities [-] at temperature T [K]."""
        cp = self.cp(T)
        return np.asarray(cp / (cp - self.R), dtype=np.float64)


class Bearing(IntEnum):
    """How the turbo's shaft is carried."""

    PLAIN = 0  # floating rings
    ROLLING = 1  # ball bearings


class TurbineSizes(NamedTuple):
    """One turbine wheel and its housing."""

    Dt: float  # wheel inlet (larger) diameter [m]
    Dex: float  # wheel exducer diameter [m]
    area_over_radius: float  # A/R of the housing, as a length [m]

    @property
    def trim(self) -> float:
        """Trim, 100 (Dex/Dt)^2 [-]."""
        return 100 * (self.Dex / self.Dt) ** 2


class TurbineRecipe(NamedTuple):
    """Constants of the estimate from sizes and of the loss models."""

    centroid_radius: float  # of the scroll's throat over the wheel's radius [-]
    exit_blockage: float  # cosine of the blade exit angle times blockage [-]
    hub_ratio: float  # hub over exducer diameter [-]
    eta_loss: float  # loss of the best efficiency at the reference diameter [-]
    eta_diameter: float  # [m]
    eta_exponent: float  # [-]
    best_speed_ratio: float  # blade speed ratio of best efficiency [-]
    eta_floor: float  # [-]
    bearing_plain: float  # loss at the reference speed and shaft [W]
    bearing_rolling: float  # [W]
    bearing_speed: float  # reference shaft speed [rad/s]
    bearing_speed_exponent: float  # [-]
    bearing_shaft: float  # reference shaft diameter [m]
    bearing_shaft_exponent: float  # [-]
    tested_diameter: tuple[float, float]  # Dt of the wheels behind the areas [m]
    plausible_diameter: tuple[float, float]  # [m]
    trim: tuple[float, float]  # [-]
    area_over_radius: tuple[float, float]  # [m]


class TurbineAreas(NamedTuple):
    """Flow areas in series [m2]."""

    scroll: float
    wheel: float
    effective: float


class TurbineGround(IntEnum):
    """How firm the ground under the estimate is for one turbine."""

    TESTED = 0
    PLAUSIBLE = 1


def exhaust_gas_near(
    R: ArrayLike, cp: Callable[[Array], Array], T: ArrayLike, span: float = 200.0
) -> ExhaustGas:
    """Gas record from a mixture's cp function, straight between T - span and T.

    R: gas constant [J/(kg K)]. cp: heat capacity function of temperature [K] -> [J/(kg K)], shape kept. T:
    turbine inlet temperature [K], array or number. span: temperature drop to be covered [K].
    """
    T = np.asarray(T, dtype=np.float64)
    hot, cold = np.asarray(cp(T)), np.asarray(cp(T - span))
    return ExhaustGas(np.asarray(R, dtype=np.float64), hot, (hot - cold) / span, T)


def isentropic_outlet_temperature(gas: ExhaustGas, T03: ArrayLike, expansion_ratio: ArrayLike) -> Array:
    """Temperature after isentropic expansion by the expansion ratio [K].

    Solves integral of cp(T)/T dT from T4s to T03 = R ln(p03/p4) with Newton's method on ln T4s.

    T03: turbine inlet total temperature [K]. expansion_ratio: p03/p4, at least 1 [-]. Broadcasts.
    """
    T03, ratio = np.broadcast_arrays(
        np.asarray(T03, dtype=np.float64), np.asarray(expansion_ratio, dtype=np.float64)
    )
    entropy = np.asarray(gas.R) * np.log(ratio)
    base = np.asarray(gas.cp_ref) - np.asarray(gas.slope) * np.asarray(gas.T_ref)
    T = T03 * np.exp(-entropy / gas.cp(T03))
    T = T03 * np.exp(-entropy / gas.cp((T03 + T) / 2))
    for _ in range(_DROP_ITERATIONS):
        error = base * np.log(T03 / T) + gas.slope * (T03 - T) - entropy
        change = error / gas.cp(T)
        T = T * np.exp(change)
        if np.all(np.abs(change) < 1e-13):
            break
    return np.asarray(T)


def isentropic_drop(gas: ExhaustGas, T03: ArrayLike, expansion_ratio: ArrayLike) -> Array:
    """Isentropic enthalpy drop h(T03) - h(T4s) [J/kg]; arguments as `isentropic_outlet_temperature`."""
    T03 = np.asarray(T03, dtype=np.float64)
    T4s = isentropic_outlet_temperature(gas, T03, expansion_ratio)
    return np.asarray((T03 - T4s) * gas.cp((T03 + T4s) / 2))


def check_turbine(turbine: TurbineSizes, recipe: TurbineRecipe) -> TurbineGround:
    """Say how firm the ground is for this turbine, or raise OutOfRange where the estimate does not reach."""
    low, high = recipe.plausible_diameter
    sizes = f"Turbine wheel {turbine.Dt * 1e3:.1f} mm, exducer {turbine.Dex * 1e3:.1f} mm"
    if not 0 < turbine.Dex < turbine.Dt:
        raise OutOfRange(
            f"{sizes}: the exducer, where the gas leaves, must be the smaller one. Measure both, or look "
            "whether they were swapped."
        )
    if not low <= turbine.Dt <= high:
        raise OutOfRange(
            f"{sizes}: the estimate from sizes stands on wheels of {low * 1e3:.0f} to {high * 1e3:.0f} mm. "
            "For this turbine, give a measured map."
        )
    if not recipe.trim[0] <= turbine.trim <= recipe.trim[1]:
        raise OutOfRange(
            f"{sizes}, trim {turbine.trim:.0f}: the estimate from sizes stands on trims of "
            f"{recipe.trim[0]:.0f} to {recipe.trim[1]:.0f}. Check both diameters."
        )
    low, high = recipe.area_over_radius
    if not low <= turbine.area_over_radius <= high:
        raise OutOfRange(
            f"Turbine housing A/R {turbine.area_over_radius * 1e3:.1f} mm "
            f"({turbine.area_over_radius / 0.0254:.2f} in): usual housings have {low / 0.0254:.2f} to "
            f"{high / 0.0254:.2f} in. A figure cast into a housing is in inches unless it says cm."
        )
    tested = recipe.tested_diameter[0] <= turbine.Dt <= recipe.tested_diameter[1]
    return TurbineGround.TESTED if tested else TurbineGround.PLAUSIBLE


def effective_area(turbine: TurbineSizes, recipe: TurbineRecipe) -> TurbineAreas:
    """Effective flow area of housing and wheel in series [m2].

    A_v = (A/R) c Dt/2; A_w = b pi/4 Dex^2 (1 - nu^2); A_eff = (A_v^-2 + A_w^-2)^(-1/2).

    Error: 12 %, one standard deviation. Source: free-vortex scroll and series throats, watson1982
    (from memory); the constants are our own, set by catalogue flows of common pairs as remembered.
    """
    scroll = turbine.area_over_radius * recipe.centroid_radius * turbine.Dt / 2
    wheel = recipe.exit_blockage * np.pi / 4 * turbine.Dex**2 * (1 - recipe.hub_ratio**2)
    return TurbineAreas(scroll, float(wheel), float((scroll**-2 + wheel**-2) ** -0.5))


def turbine_flow(
    area: ArrayLike,
    p03: ArrayLike,
    T03: ArrayLike,
    p4: ArrayLike,
    gas: ExhaustGas,
    exponent: float = USUAL_EXPONENT,
) -> Array:
    """Swallowing, smooth form: m = A p03/sqrt(R T03) k sqrt(1 - (p4/p03)^e) [kg/s].

    k is set so that the choked flow of the area passes at an expansion ratio of 3. Zero where p4 is not below
    p03.

    area: effective area [m2]. p03: inlet total pressure [Pa]. T03: inlet total temperature [K]. p4: outlet
    static pressure [Pa]. All broadcast. exponent: e, 2 unless a map says otherwise [-]. Error: 2 % in shape;
    the area's own error comes on top. Blade speed takes 3-8 % off and is neglected. Source: eriksson2014,
    mean-value turbine flow, from memory.
    """
    p03, p4 = np.asarray(p03, dtype=np.float64), np.asarray(p4, dtype=np.float64)
    shape = np.sqrt(np.maximum(0.0, 1 - (p4 / p03) ** exponent))
    return np.asarray(
        np.asarray(area)
        * p03
        / np.sqrt(np.asarray(gas.R) * np.asarray(T03))
        * smooth_flow_constant(gas, T03, exponent)
        * shape
    )


def inlet_pressure_for_flow(
    m_dot: ArrayLike,
    area: ArrayLike,
    T03: ArrayLike,
    p4: ArrayLike,
    gas: ExhaustGas,
    exponent: float = USUAL_EXPONENT,
) -> Array:
    """Inlet pressure at which the smooth form passes a flow [Pa]: with y = m sqrt(R T03)/(A k p4),
    (p03/p4)^2 - (p03/p4)^(2 - e) = y^2.

    Inverse of `turbine_flow`; same arguments, with m_dot the turbine's mass flow [kg/s]. In closed form for
    the usual exponent, by Newton's method from there for another.
    """
    root = np.sqrt(np.asarray(gas.R) * np.asarray(T03)) / (
        np.asarray(area) * smooth_flow_constant(gas, T03, exponent)
    )
    p4, y = np.broadcast_arrays(np.asarray(p4, dtype=np.float64), np.asarray(m_dot) * root)
    if exponent == USUAL_EXPONENT:
        return np.asarray(np.hypot(p4, y))
    y = y / p4
    z = np.sqrt(1 + y**2 * max(1.0, 2 / exponent))  # not left of the root, where the left side is convex
    for _ in range(_DROP_ITERATIONS):
        error = z**2 - z ** (2 - exponent) - y**2
        change = error / (2 * z - (2 - exponent) * z ** (1 - exponent))
        z = np.maximum(z - change, 1.0)
        if np.all(np.abs(change) < 1e-14 * z):
            break
    return np.asarray(p4 * z)


def smooth_flow_constant(gas: ExhaustGas, T03: ArrayLike, exponent: float = USUAL_EXPONENT) -> Array:
    """Constant k of the smooth swallowing form [-]; arguments as `turbine_flow`."""
    return np.asarray(choked_flow_constant(gas.gamma(T03)) / np.sqrt(1 - _CHOKED_AT**-exponent))


def turbine_flow_two_halves(
    area: ArrayLike, p03: ArrayLike, T03: ArrayLike, p4: ArrayLike, gas: ExhaustGas
) -> Array:
    """Swallowing, nozzle form: each half of the expansion chokes on its own, m = A p03/sqrt(R T03)
    Psi(sqrt(p4/p03)).

    Arguments and result as `turbine_flow`, whose independent check it is. Source: watson1982, from
    memory.
    """
    ratio = np.sqrt(np.minimum(1.0, np.asarray(p4, dtype=np.float64) / np.asarray(p03, dtype=np.float64)))
    gamma = gas.gamma(T03)
    return np.asarray(
        np.asarray(area)
        * np.asarray(p03)
        / np.sqrt(np.asarray(gas.R) * np.asarray(T03))
        * flow_function(ratio, gamma)
    )


def blade_speed_ratio(omega: ArrayLike, Dt: ArrayLike, drop: ArrayLike) -> Array:
    """Blade speed over spouting speed, omega Dt/2 / sqrt(2 drop) [-].

    omega: shaft speed [rad/s]. Dt: wheel diameter [m]. drop: isentropic enthalpy drop [J/kg], above 0.
    """
    spouting = np.sqrt(2 * np.maximum(np.asarray(drop, dtype=np.float64), 1e-6))
    return np.asarray(np.asarray(omega) * np.asarray(Dt) / 2 / spouting)


def peak_turbine_efficiency(Dt: ArrayLike, recipe: TurbineRecipe) -> Array:
    """Best total-to-static efficiency without bearing loss, 1 - l (Dt/D_ref)^q [-].

    Dt: wheel diameter [m]. Error: 0.03. Makers' figures are often the product with the bearing loss: do not
    take that loss twice. Source: our own, from remembered catalogue values.
    """
    return np.asarray(1 - recipe.eta_loss * (np.asarray(Dt) / recipe.eta_diameter) ** recipe.eta_exponent)


def turbine_efficiency(speed_ratio: ArrayLike, peak: ArrayLike, recipe: TurbineRecipe) -> Array:
    """Efficiency over blade speed ratio, eta = eta_max (2 x - x^2), x = speed ratio over its best value [-].

    The parabola is exact for an ideal impulse or 50 % reaction stage. Not below a small floor, so that a
    steady balance can be written everywhere; a turbine spinning above twice the best ratio brakes, which this
    does not show.

    speed_ratio: [-]. peak: best efficiency [-]. Source: watson1982, from memory.
    """
    x = np.asarray(speed_ratio, dtype=np.float64) / recipe.best_speed_ratio
    peak = np.asarray(peak, dtype=np.float64)
    return np.asarray(np.clip(peak * (2 * x - x**2), recipe.eta_floor, peak))


def bearing_loss(omega: ArrayLike, shaft: float, bearing: Bearing, recipe: TurbineRecipe) -> Array:
    """Friction power of the turbo's bearings, k (omega/omega_ref)^a (d/d_ref)^b [W].

    omega: shaft speed [rad/s]. shaft: journal diameter [m]. Hot oil at about 90 degC; cold oil takes 3-5
    times as much. Error: plain bearings scatter between 0.6 and 1.8 times this. Source: our own, from
    remembered rig values.
    """
    k = recipe.bearing_plain if bearing is Bearing.PLAIN else recipe.bearing_rolling
    speed = (np.asarray(omega, dtype=np.float64) / recipe.bearing_speed) ** recipe.bearing_speed_exponent
    return np.asarray(k * speed * (shaft / recipe.bearing_shaft) ** recipe.bearing_shaft_exponent)


def expansion_ratio_for_power(
    power: ArrayLike, m_dot: ArrayLike, T03: ArrayLike, efficiency: ArrayLike, cp: ArrayLike, gamma: ArrayLike
) -> Array:
    """Expansion ratio that gives a power at a known efficiency, in closed form for constant heat capacity.

    p03/p4 = [1 - P / (m cp T03 eta)]^(-gamma/(gamma-1)) [-]; infinite where the gas does not hold the power.

    power: at the wheel [W]. m_dot: turbine flow [kg/s]. T03: [K]. efficiency: [-]. cp: [J/(kg K)]. gamma:
    [-]. All broadcast. Source: watson1982; heywood1988, chapter 6; both from memory.
    """
    g = np.asarray(gamma, dtype=np.float64)
    share = np.asarray(power) / (
        np.asarray(m_dot) * np.asarray(cp) * np.asarray(T03) * np.asarray(efficiency)
    )
    rest = np.maximum(1 - share, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(rest ** (-g / (g - 1)))

"""A compressor map estimated from wheel sizes alone, where no measured map is at hand.

Work from the velocity triangle with a slip factor; choke from the rotating frame; the rest shapes fitted to
the open digitised maps of a few turbocharger wheels. The constants are data (`CompressorRecipe`, read from
the library's table), and so is the scatter of real wheels about the estimate (`Band`).
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.compressor import GAMMA_AIR, MapPoint

__all__ = [
    "Band",
    "CompressorRecipe",
    "FlowLimits",
    "Ground",
    "WheelFactors",
    "WheelMap",
    "WheelSizes",
    "check_wheel",
    "flow_limits",
    "peak_efficiency",
    "slip_factor",
    "wheel_sizes",
    "work_coefficient",
]

Array = NDArray[np.float64]

_WORK_ITERATIONS = 60
_WORK_TOLERANCE = 1e-12
_PHI_OF_WINDAGE = 0.01  # below this flow coefficient the windage term no longer grows


class WheelSizes(NamedTuple):
    """One compressor wheel. What is not known takes the class value of the recipe."""

    D1: float  # inducer tip diameter [m]
    D2: float  # exducer diameter, the larger one if the tip is extended [m]
    hub_ratio: float  # hub over tip diameter at the inducer [-]
    backsweep: float  # blade angle from radial at the exducer [rad]
    blades: float  # full plus splitter blades at the exducer, as Wiesner counts them [-]
    b2: float  # exducer blade width [m]

    @property
    def trim(self) -> float:
        """Trim, 100 (D1/D2)^2 [-]."""
        return 100 * (self.D1 / self.D2) ** 2


class WheelFactors(NamedTuple):
    """Where this wheel lies inside the band of the estimate; the default is the middle of the band."""

    choke: float = 1.0  # on line-end flow [-]
    surge: float = 1.0  # on surge flow [-]
    head: float = 1.0  # on the work coefficient, hence on pressure ratio less one at given speed [-]
    efficiency: float = 0.0  # added to the efficiency [-]


class Band(NamedTuple):
    """One standard deviation of real wheels about the estimate."""

    choke: float  # relative, on line-end flow [-]
    surge: float  # relative, on surge flow, usual wheels [-]
    surge_old: float  # the same, old or ported-shroud wheels [-]
    head: float  # relative, on pressure ratio less one at given speed and flow [-]
    speed: float  # relative, on speed at given flow and pressure ratio [-]
    efficiency: float  # absolute [-]


class CompressorRecipe(NamedTuple):
    """Constants of the estimate; names follow the docstrings that use them."""

    hub_ratio: float  # class value [-]
    backsweep: float  # class value [rad]
    blades: float  # class value [-]
    width: float  # class value of b2 D2 / D1^2 [-]
    impeller_share: float  # of the enthalpy rise, r [-]
    density_exponent: float  # of the impeller outlet density [-]
    windage: float  # k_f [-]
    choke: float  # K, throat over annulus times blockage [-]
    low_speed_end: float  # C, inducer axial over tip speed where a slow line ends [-]
    small_wheel_diameter: float  # [m]
    small_wheel_exponent: float  # [-]
    join: float  # exponent that joins the two line ends [-]
    peak_base: float  # best-efficiency flow over line-end flow, slow [-]
    peak_step: float  # its rise with speed [-]
    peak_mach: float  # where it rises [-]
    surge_base: float  # surge flow over line-end flow, slow [-]
    surge_step: float  # [-]
    surge_mach: float  # [-]
    step_width: float  # of both rises, in Mach number [-]
    eta_loss: float  # loss of the best efficiency at the reference diameter [-]
    eta_diameter: float  # [m]
    eta_exponent: float  # [-]
    eta_fast: float  # loss with Mach number above eta_fast_mach [-]
    eta_fast_mach: float  # [-]
    eta_slow: float  # loss with Mach number below eta_slow_mach [-]
    eta_slow_mach: float  # [-]
    eta_left: float  # loss towards surge [-]
    eta_left_bend: float  # [-]
    eta_end: float  # efficiency at the line end [-]
    eta_right_exponent: float  # slow [-]
    eta_right_step: float  # its rise with speed [-]
    eta_floor: float  # [-]
    tested_diameter: tuple[float, float]  # D2 of the wheels behind the fit [m]
    plausible_diameter: tuple[float, float]  # [m]
    trim: tuple[float, float]  # [-]
    mach: tuple[float, float]  # [-]


_MIDDLE = WheelFactors()


class FlowLimits(NamedTuple):
    """Flow coefficients of one speed line [-]."""

    surge: Array
    peak: Array  # of best efficiency
    end: Array  # where the line ends in choke


class Ground(IntEnum):
    """How firm the ground under the estimate is for one wheel."""

    TESTED = 0  # within the diameters of the wheels behind the fit
    PLAUSIBLE = 1  # a little outside them: widen the band


def wheel_sizes(D1: float, D2: float, recipe: CompressorRecipe, **known: float) -> WheelSizes:
    """Wheel of inducer D1 [m] and exducer D2 [m]; what is not in `known` takes the recipe's class value.

    known: any of hub_ratio [-], backsweep [rad], blades [-], b2 [m]. The class width is b2 = w D1^2 / D2.
    """
    usual = {
        "hub_ratio": recipe.hub_ratio,
        "backsweep": recipe.backsweep,
        "blades": recipe.blades,
        "b2": recipe.width * D1**2 / D2,
    }
    return WheelSizes(D1, D2, **(usual | known))


def check_wheel(wheel: WheelSizes, recipe: CompressorRecipe) -> Ground:
    """Say how firm the ground is for this wheel, or refuse it.

    Raises OutOfRange for an exducer or a trim outside the recipe's plausible range, or an inducer that is not
    smaller than the exducer.
    """
    low, high = recipe.plausible_diameter
    sizes = f"Compressor inducer {wheel.D1 * 1e3:.1f} mm, exducer {wheel.D2 * 1e3:.1f} mm"
    if not 0 < wheel.D1 < wheel.D2:
        raise OutOfRange(
            f"{sizes}: the inducer must be the smaller one. Measure both across the blade tips, or look "
            "whether they were swapped."
        )
    if not low <= wheel.D2 <= high:
        raise OutOfRange(
            f"{sizes}: the estimate from wheel sizes stands on exducers of {low * 1e3:.0f} to "
            f"{high * 1e3:.0f} mm, because no wheel outside them was tried. Check the diameter, or give a "
            "measured map (turbo.compressor_map)."
        )
    if not recipe.trim[0] <= wheel.trim <= recipe.trim[1]:
        raise OutOfRange(
            f"{sizes}, trim {wheel.trim:.1f}: the estimate from wheel sizes stands on trims of "
            f"{recipe.trim[0]:.0f} to {recipe.trim[1]:.0f} (100 times the square of inducer over exducer); a "
            "wheel of trim 25 came out 20 % wrong in choke, 40 % in surge. Check both diameters, or give a "
            "measured map (turbo.compressor_map)."
        )
    tested = recipe.tested_diameter[0] <= wheel.D2 <= recipe.tested_diameter[1]
    return Ground.TESTED if tested else Ground.PLAUSIBLE


def slip_factor(wheel: WheelSizes) -> float:
    """Slip factor mu = 1 - sqrt(cos beta2) / Z^0.7 [-] of backsweep beta2 and Z blades. Source:
    wiesner1967."""
    return float(1 - np.sqrt(np.cos(wheel.backsweep)) / wheel.blades**0.7)


def flow_limits(
    wheel: WheelSizes, recipe: CompressorRecipe, mach: ArrayLike, factors: WheelFactors = _MIDDLE
) -> FlowLimits:
    """Surge, best-efficiency and line-end flow coefficients of a speed line.

    phi_choke = K f (A1/D2^2)/M ((2 + (g-1)(M r)^2)/(g+1))^((g+1)/(2(g-1))), the choke of the rotating frame;
    phi_low = C f (A1/D2^2) (D1/D2); phi_end = (phi_low^-j + phi_choke^-j)^(-1/j); phi_peak = phi_end (a + b
    S((M - M_p)/w)); phi_surge = phi_end (c + d S((M - M_s)/w)), with A1 the inducer annulus, r its rms radius
    over the exducer's, S the logistic function and f a small-wheel factor.

    mach: blade Mach number, shape (n,) or any [-]. Returns arrays of that shape. Error, one standard
    deviation: see `Band`. Source: the choke form is dixon2014 (from memory); the constants are our own
    fit.
    """
    mach = np.maximum(np.asarray(mach, dtype=np.float64), 1e-6)
    g = GAMMA_AIR
    area = np.pi / 4 * wheel.D1**2 * (1 - wheel.hub_ratio**2) / wheel.D2**2
    rms = wheel.D1 * np.sqrt((1 + wheel.hub_ratio**2) / 2) / wheel.D2
    small = min(1.0, (wheel.D1 / recipe.small_wheel_diameter) ** recipe.small_wheel_exponent)
    rothalpy = (2 + (g - 1) * (mach * rms) ** 2) / (g + 1)
    choke = recipe.choke * small * area / mach * rothalpy ** ((g + 1) / (2 * (g - 1)))
    low = recipe.low_speed_end * small * area * wheel.D1 / wheel.D2
    end = factors.choke * (low**-recipe.join + choke**-recipe.join) ** (-1 / recipe.join)
    peak = end * (
        recipe.peak_base + recipe.peak_step * _logistic((mach - recipe.peak_mach) / recipe.step_width)
    )
    # The surge factor is on surge flow itself, so it must not inherit the choke factor.
    share = recipe.surge_base + recipe.surge_step * _logistic((mach - recipe.surge_mach) / recipe.step_width)
    surge = np.minimum(end / factors.choke * share * factors.surge, 0.98 * peak)
    return FlowLimits(surge, peak, end)


def work_coefficient(wheel: WheelSizes, recipe: CompressorRecipe, phi: ArrayLike, mach: ArrayLike) -> Array:
    """Work coefficient cp (T02 - T01) / U2^2 from the exducer's velocity triangle with slip and windage.

    lam = (mu - phi tan(beta2) / (rho2/rho01 pi b2/D2)) (1 + k_f/phi),
    rho2/rho01 = (1 + (g-1) r M^2 lam)^x; solved by Newton's method, and not below 0.

    phi: flow coefficient [-]. mach: blade Mach number [-]. Both broadcast. Raises OutOfRange if a speed and
    flow give no solution. Error: 2 % where backsweep and width are known, 5-20 % with the class values.
    Source: slip wiesner1967 (from memory); impeller share, exponent and windage are our own fit.
    """
    phi, mach = np.broadcast_arrays(np.asarray(phi, dtype=np.float64), np.asarray(mach, dtype=np.float64))
    g, x = GAMMA_AIR, recipe.density_exponent
    mu = slip_factor(wheel)
    windage = 1 + recipe.windage / np.maximum(phi, _PHI_OF_WINDAGE)
    swirl_loss = phi * np.tan(wheel.backsweep) / (np.pi * wheel.b2 / wheel.D2)
    heat = (g - 1) * recipe.impeller_share * mach**2
    lam = np.full(phi.shape, 0.65)
    for _ in range(_WORK_ITERATIONS):
        density = np.maximum(1 + heat * lam, 0.05)
        thinning = swirl_loss * density**-x * windage
        error = mu * windage - thinning - lam
        slope = x * heat * thinning / density - 1
        step = error / np.minimum(slope, -0.2)
        lam = lam - step
        if np.all(np.abs(step) < _WORK_TOLERANCE):
            break
    return np.asarray(np.maximum(lam, 0.0))


def peak_efficiency(wheel: WheelSizes, recipe: CompressorRecipe, mach: ArrayLike) -> Array:
    """Best isentropic efficiency of a speed line [-].

    eta = (1 - l (D2/D_ref)^q) (1 - f max(0, M - M_f)^2 - s max(0, M_s - M)^2).
    mach: blade Mach number [-]. Error: 0.05. Source: our own fit.
    """
    mach = np.asarray(mach, dtype=np.float64)
    best = 1 - recipe.eta_loss * (wheel.D2 / recipe.eta_diameter) ** recipe.eta_exponent
    fast = recipe.eta_fast * np.maximum(0, mach - recipe.eta_fast_mach) ** 2
    slow = recipe.eta_slow * np.maximum(0, recipe.eta_slow_mach - mach) ** 2
    return np.asarray(best * (1 - fast - slow), dtype=np.float64)


class WheelMap(NamedTuple):
    """The estimated map of one wheel, a `CompressorMap`. Make it with `check_wheel` done."""

    wheel: WheelSizes
    recipe: CompressorRecipe
    factors: WheelFactors = _MIDDLE

    @property
    def mach_range(self) -> tuple[float, float]:
        """Lowest and highest blade Mach number at which the estimate may be asked [-].

        Below the fitted range the shapes run out into incompressible similarity, so it may be asked down to
        0.05; upwards it ends where the fit ends.
        """
        return 0.05, self.recipe.mach[1]

    def with_factors(self, factors: WheelFactors) -> WheelMap:
        """The same map moved inside its band."""
        return self._replace(factors=factors)

    def head(self, phi: Array, mach: Array) -> Array:
        """Head coefficient alone [-]."""
        return self(phi, mach).psi

    def __call__(self, phi: Array, mach: Array) -> MapPoint:
        """Head, work, efficiency and limits; phi, mach broadcast [-].

        Left of the best efficiency eta = eta_p (1 - a z^2/(1 + b z^2)), z = (phi_p - phi)/(phi_p - phi_s);
        right of it eta = eta_p - (eta_p - eta_end) y^h, y = (phi - phi_p)/(phi_end - phi_p), not below a
        floor.
        """
        wheel, recipe, factors = self
        limits = flow_limits(wheel, recipe, mach, factors)
        eta_p = peak_efficiency(wheel, recipe, mach)
        z = np.maximum(0, (limits.peak - phi) / (limits.peak - limits.surge))
        y = np.maximum(0, (phi - limits.peak) / (limits.end - limits.peak))
        h = recipe.eta_right_exponent + recipe.eta_right_step * _logistic(
            (mach - recipe.peak_mach) / recipe.step_width
        )
        left = eta_p * recipe.eta_left * z**2 / (1 + recipe.eta_left_bend * z**2)
        right = (eta_p - recipe.eta_end) * y**h
        eta = np.clip(eta_p - left - right + factors.efficiency, recipe.eta_floor, 0.95)
        work = factors.head * work_coefficient(wheel, recipe, phi, mach)
        phi_surge, phi_end = np.broadcast_arrays(limits.surge, limits.end)
        return MapPoint(eta * work, work, eta, phi_surge, phi_end)


def _logistic(x: Array) -> Array:
    """Logistic function 1 / (1 + exp(-x))."""
    return np.asarray(1 / (1 + np.exp(-x)), dtype=np.float64)

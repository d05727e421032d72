"""Laws that the program's cycle does not use: wall heat, burn, knock delay, friction of invented engines.

Constants are from memory where the docstring does not say otherwise. Levels do not matter here: each engine
scales them (see `engines`); what matters is how they run over speed, load, pressure and temperature.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.flame_speed import PowerLaw, laminar_flame_speed
from boostwright.physics.friction import barnes_moss_fmep, chen_flynn_fmep
from boostwright.physics.heat_transfer import exhaust_gas_viscosity
from boostwright.physics.wiebe import burn_fraction, law_from_durations

__all__ = [
    "DoubleBurn",
    "FrictionForm",
    "HeatForm",
    "HeatLevel",
    "KnockDelay",
    "Place",
    "annand_coefficient",
    "arrhenius_delay",
    "eichelberg_coefficient",
    "friction_shape",
    "hires_places",
]

Array = NDArray[np.float64]

ATMOSPHERE = 101325.0
OCTANE_EXPONENT = 3.402
HE_KELVIN = 33700.0 / 1.987  # activation temperature of He et al. [K]


class HeatForm(Enum):
    """Which law of wall heat an engine follows."""

    ANNAND = 0
    EICHELBERG = 1


def annand_coefficient(bore: float, p: ArrayLike, T: ArrayLike, gas: float, piston_speed: ArrayLike) -> Array:
    """Wall heat coefficient h = 0.49 (k/B) Re^0.7 [W/m2/K] after Annand 1963, without his radiation term.

    bore: [m]. p: [Pa]. T: mean gas temperature [K]. gas: gas constant [J/kg/K]. piston_speed: mean [m/s].
    Re = rho S_p B/mu; mu = 3.3e-7 T^0.7, k = cp mu/0.72 with cp 1250 J/kg/K.
    """
    mu = exhaust_gas_viscosity(T)
    reynolds = np.asarray(p) / (gas * np.asarray(T)) * np.asarray(piston_speed) * bore / mu
    return np.asarray(0.49 * 1250.0 * mu / 0.72 / bore * reynolds**0.7)


def eichelberg_coefficient(p: ArrayLike, T: ArrayLike, piston_speed: ArrayLike) -> Array:
    """Wall heat coefficient h = 7.8 S_p^(1/3) (p T)^0.5 [W/m2/K], p in bar inside, after Eichelberg 1939.

    p: [Pa]. T: mean gas temperature [K]. piston_speed: mean [m/s].
    """
    return np.asarray(7.8 * np.cbrt(piston_speed) * np.sqrt(np.asarray(p) / 1.0e5 * np.asarray(T)))


@dataclass(frozen=True)
class HeatLevel:
    """One engine's wall heat: a law, its level, and exponents by which it departs from the law.

    level: factor [-]. by_speed, by_pressure: added to the exponents of S_p and p, about 9 m/s and 30 bar [-].
    """

    form: HeatForm
    level: float
    by_speed: float
    by_pressure: float

    def coefficient(
        self, bore: float, p: ArrayLike, T: ArrayLike, gas: float, piston_speed: ArrayLike
    ) -> Array:
        """Wall heat coefficient [W/m2/K]; arguments as in `annand_coefficient`."""
        if self.form is HeatForm.ANNAND:
            base = annand_coefficient(bore, p, T, gas, piston_speed)
        else:
            base = eichelberg_coefficient(p, T, piston_speed)
        shift = (np.asarray(piston_speed) / 9.0) ** self.by_speed * (
            np.asarray(p) / 30.0e5
        ) ** self.by_pressure
        return np.asarray(self.level * base * shift)


def arrhenius_delay(
    p: ArrayLike, T: ArrayLike, octane: float, phi: float, oxygen: ArrayLike, kelvin: float = HE_KELVIN
) -> Array:
    """Ignition delay [s] of the form of He et al. 2005 with an octane scale put on it.

    1.3e-7 p_atm^-1.05 phi^-0.77 x_O2^-1.41 exp(kelvin/T) (ON/100)^3.402. p: [Pa]. T: [K]. octane: [-]. phi:
    equivalence ratio [-]. oxygen: mole fraction [-] (percent inside). kelvin: theirs is 16960 K, measured at
    943-1027 K on iso-octane (formula read in the abstract, key he2005); the octane scale is that of
    douaud1978. For kelvin below theirs the law is turned about 980 K, the middle of their ground.
    """
    turned = kelvin / np.asarray(T) + (HE_KELVIN - kelvin) / 980.0
    return np.asarray(
        1.3e-7
        * (np.asarray(p) / ATMOSPHERE) ** -1.05
        * phi**-0.77
        * (100.0 * np.asarray(oxygen)) ** -1.41
        * np.exp(turned)
        * (octane / 100.0) ** OCTANE_EXPONENT
    )


@dataclass(frozen=True)
class KnockDelay:
    """One engine's knock: `arrhenius_delay` at its own activation temperature, a level on its rate [-]."""

    level: float
    kelvin: float
    octane: float

    def rate(self, p: ArrayLike, T: ArrayLike, lam: float, residual: ArrayLike) -> Array:
        """Growth of the knock integral [1/s]. residual: mole fraction of burned gas [-]."""
        oxygen = 0.206 * (1.0 - np.asarray(residual))
        return self.level / arrhenius_delay(p, T, self.octane, 1.0 / lam, oxygen, self.kelvin)


class FrictionForm(Enum):
    """Which law of friction an engine follows."""

    CHEN_FLYNN = 0
    BARNES_MOSS = 1


def friction_shape(
    form: FrictionForm, peak_pressure: ArrayLike, piston_speed: ArrayLike, omega: ArrayLike
) -> Array:
    """Friction mean effective pressure [Pa] up to a level: over speed and peak pressure, or over speed alone.

    Chen & Flynn with the constants for newer engines; Barnes-Moss, whose pumping is left to the level.
    """
    if form is FrictionForm.CHEN_FLYNN:
        return chen_flynn_fmep(peak_pressure, piston_speed, constant=0.2e5, linear=0.07e5)
    return barnes_moss_fmep(omega)


@dataclass(frozen=True)
class DoubleBurn:
    """A burn in two parts: most of it by one Wiebe curve, a slow rest by a second one that starts with it.

    early, main: on what `hires_places` gives, to spark to 10 % and 10 to 90 % of the first part [rad over its
    unit]. tail: share of the second part [-]; stretch: how much longer it takes [-].
    """

    early: float
    main: float
    tail: float
    stretch: float

    def fractions(self, theta: Array, spark: Array, early: Array, main: Array) -> Array:
        """Burned share [-] at crank angles theta (m, n); the other arrays (n,) [rad]."""
        law = law_from_durations(spark, early, main)
        z = (theta - law.start) / law.duration
        first = burn_fraction(z, law.shape)
        second = burn_fraction(z / self.stretch, law.shape)
        return np.asarray((1.0 - self.tail) * first + self.tail * second)

    def ends(self, spark: Array, early: Array, main: Array) -> Array:
        """Where the burn ends [rad]."""
        law = law_from_durations(spark, early, main)
        return np.asarray(law.start + self.stretch * law.duration)


class Place(NamedTuple):
    """Where in the cycle a burn duration is looked up; arrays (n,)."""

    height: Array  # of the chamber as a disc [m]
    p: Array  # [Pa]
    T: Array  # of the unburned gas [K]


def hires_places(
    piston_speed: Array, clearance: float, at_spark: Place, later: Place, rho_ivc: Array, bore: float,
    gas: Array, speed_law: PowerLaw, residual: Array,
) -> tuple[Array, Array]:  # fmt: skip
    """What burn durations follow, up to a constant each, after Hires, Tabaczynski & Novak 1978.

    Spark to 10 %: (S_p nu)^(1/3) (h/S_L)^(2/3), nu and S_L at the spark; the main part: (B/h*)
    (rho_i/rho*)^(10/9) (S_p nu*)^(1/3) (h/S_L*)^(2/3), * at its middle. h is the clearance height at top dead
    centre, h* that of the chamber.

    piston_speed: [m/s]. clearance: h [m]. rho_ivc: density at intake closing [kg/m3]. gas: gas constant
    [J/kg/K]. speed_law: of the laminar flame. residual: mole fraction [-]. Arrays (n,). From memory: the
    structure, not its constants.
    """

    def seen(place: Place) -> tuple[Array, Array, Array]:
        rho = place.p / (gas * place.T)
        nu = exhaust_gas_viscosity(place.T) / rho
        return np.cbrt(piston_speed * nu), laminar_flame_speed(speed_law, place.T, place.p, residual), rho

    stir, flame, _ = seen(at_spark)
    stir_later, flame_later, rho_later = seen(later)
    early = stir * (clearance / flame) ** (2.0 / 3.0)
    packed = (rho_ivc / rho_later) ** (10.0 / 9.0) * bore / later.height
    main = packed * stir_later * (clearance / flame_later) ** (2.0 / 3.0)
    return np.asarray(early), np.asarray(main)

"""Engine friction (without pumping, which the cycle has) as a mean effective pressure.

The published correlations take millimetres, revolutions per minute and kilopascal; the change of units is
made here, at the door of each formula. fmep = friction work per cycle over swept volume [Pa].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = [
    "VALVE_GEARS",
    "AccessoryPower",
    "FrictionParts",
    "FrictionSizes",
    "ValveGear",
    "accessory_power",
    "barnes_moss_fmep",
    "chen_flynn_fmep",
    "sandoval_heywood_fmep",
    "torque_of_mep",
]

Array = NDArray[np.float64]


class ValveGear(NamedTuple):
    """Constants of one kind of valve gear: flat follower, oscillating (hydrodynamic, mixed), roller follower
    [mixed].
    """

    flat: float  # C_ff
    hydrodynamic: float  # C_oh
    mixed: float  # C_om
    roller: float = 0.0  # C_rf, replaces the flat follower's term


# Constants from memory (keys patton1989, sandoval2003).
VALVE_GEARS: Final[dict[str, ValveGear]] = {
    "direct": ValveGear(200.0, 0.5, 10.7),  # cams above bucket tappets
    "finger": ValveGear(600.0, 0.2, 42.8),  # cam on a finger follower
    "pushrod": ValveGear(400.0, 0.5, 32.1),  # cam in the block
    "roller finger": ValveGear(0.0, 0.2, 42.8, 0.0227),
    "roller pushrod": ValveGear(0.0, 0.5, 32.1, 0.0227),
}


@dataclass(frozen=True, slots=True)
class FrictionSizes:
    """Bearings and valve gear of one engine. Lengths [m]."""

    bore: float
    stroke: float
    cylinders: int
    compression_ratio: float
    main_diameter: float
    main_length: float
    main_bearings: int
    rod_diameter: float
    rod_length: float
    rod_bearings: int
    cam_bearings: int
    valves: int  # of the whole engine
    valve_lift: float  # mean of intake and exhaust [m]
    gear: ValveGear = VALVE_GEARS["direct"]

    @classmethod
    def usual(
        cls,
        bore: float,
        stroke: float,
        cylinders: int,
        compression_ratio: float,
        valves_per_cylinder: int = 4,
        valve_lift: float = 9.25e-3,
        gear: str = "direct",
    ) -> FrictionSizes:
        """Sizes usual for an in-line engine of this bore: mains 0.63 B, rod journals 0.55 B (our own
        scaling).

        gear: a key of `VALVE_GEARS`. Raises OutOfRange for any other.
        """
        if gear not in VALVE_GEARS:
            raise OutOfRange(f"valve gear {gear!r} is none of: {', '.join(VALVE_GEARS)}")
        scale = bore / 0.086
        cams = 1 if valves_per_cylinder <= 2 else 2
        return cls(
            bore=bore,
            stroke=stroke,
            cylinders=cylinders,
            compression_ratio=compression_ratio,
            main_diameter=0.054 * scale,
            main_length=0.020 * scale,
            main_bearings=cylinders + 1,
            rod_diameter=0.047 * scale,
            rod_length=0.022 * scale,
            rod_bearings=cylinders,
            cam_bearings=(cylinders + 1) * cams,
            valves=valves_per_cylinder * cylinders,
            valve_lift=valve_lift,
            gear=VALVE_GEARS[gear],
        )


class FrictionParts(NamedTuple):
    """Friction mean effective pressures [Pa]; `total` is their sum."""

    crank: Array
    reciprocating: Array
    gas: Array
    valve_gear: Array
    auxiliaries: Array
    total: Array


def sandoval_heywood_fmep(
    sizes: FrictionSizes,
    omega: ArrayLike,
    intake_pressure_ratio: ArrayLike = 1.0,
    viscosity_ratio: ArrayLike = 1.0,
) -> FrictionParts:
    """Friction by parts after Patton, Nitschke & Heywood as revised by Sandoval & Heywood.

    With B, S, D, L in mm, N in rev/min, S_p in m/s and m the viscosity ratio, in kPa:

        crank  1.22e5 D_b/(B^2 S n_c) + 3.03e-4 m^.5 N D_b^3 L_b n_b/(B^2 S n_c) + 1.35e-10 D_b^2 N^2 n_b/n_c
        recip  294 m^.5 S_p/B + 4.06e4 (1+500/N)/B^2 + 3.03e-4 m^.5 N D_r^3 L_r n_r/(B^2 S n_c)
        gas    6.89 (p_i/p_a) (0.088 m^.5 r + 0.182 r^(1.33 - 2 K S_p)),  K = 0.0238 s/m
        valves 4.12 + 244 m^.5 N n_cb/(B^2 S n_c) + C_ff (1+500/N) n_v/(S n_c) + C_rf N n_v/(S n_c)
               + C_oh m^.5 L_v^1.5 N^.5 n_v/(B S n_c) + C_om (1+500/N) L_v n_v/(S n_c)
        aux    8.32 + 1.86e-3 N + 7.45e-7 N^2          (oil pump, water pump, unloaded alternator)

    omega: crank speed [rad/s]. intake_pressure_ratio: plenum pressure over ambient [-]; above 1 under boost.
    viscosity_ratio: oil viscosity over that of a warm 10W-30 [-]; about 2.5 at 50 degC. They broadcast.
    Raises OutOfRange below 500 rev/min, where the terms in 500/N lose their ground. Keys sandoval2003,
    patton1989: structure read in the abstracts, constants from memory. Expected error +-15 %.
    """
    w = np.asarray(omega, dtype=np.float64)
    if np.any(w < 500 * np.pi / 30):
        raise OutOfRange(
            f"friction at {np.min(w) * 30 / np.pi:.0f} rev/min: the correlation holds from 500 rev/min up"
        )
    B, S = 1e3 * sizes.bore, 1e3 * sizes.stroke
    D_b, L_b, n_b = 1e3 * sizes.main_diameter, 1e3 * sizes.main_length, sizes.main_bearings
    D_r, L_r, n_r = 1e3 * sizes.rod_diameter, 1e3 * sizes.rod_length, sizes.rod_bearings
    n_c, n_v, L_v, gear = sizes.cylinders, sizes.valves, 1e3 * sizes.valve_lift, sizes.gear
    N = w * 30 / np.pi
    S_p = w * sizes.stroke / np.pi
    m = np.sqrt(viscosity_ratio)
    swept = B**2 * S * n_c
    boundary = 1 + 500 / N

    crank = (
        1.22e5 * D_b / swept
        + 3.03e-4 * m * N * D_b**3 * L_b * n_b / swept
        + 1.35e-10 * D_b**2 * N**2 * n_b / n_c
    )
    recip = 294 * m * S_p / B + 4.06e4 * boundary / B**2 + 3.03e-4 * m * N * D_r**3 * L_r * n_r / swept
    r = sizes.compression_ratio
    gas = 6.89 * np.asarray(intake_pressure_ratio) * (0.088 * m * r + 0.182 * r ** (1.33 - 2 * 0.0238 * S_p))
    valves = (
        4.12
        + 244 * m * N * sizes.cam_bearings / swept
        + (gear.flat * boundary + gear.roller * N) * n_v / (S * n_c)
        + gear.hydrodynamic * m * L_v**1.5 * np.sqrt(N) * n_v / (B * S * n_c)
        + gear.mixed * boundary * L_v * n_v / (S * n_c)
    )
    aux = 8.32 + 1.86e-3 * N + 7.45e-7 * N**2
    parts = np.broadcast_arrays(
        *(np.asarray(1e3 * x, dtype=np.float64) for x in (crank, recip, gas, valves, aux))
    )
    crank, recip, gas, valves, aux = parts
    return FrictionParts(crank, recip, gas, valves, aux, crank + recip + gas + valves + aux)


def chen_flynn_fmep(
    peak_pressure: ArrayLike,
    mean_piston_speed: ArrayLike,
    constant: float = 0.4e5,
    pressure_share: float = 0.005,
    linear: float = 0.09e5,
    quadratic: float = 9e-4 * 1e5,
) -> Array:
    """Friction A + B p_max + C S_p + D S_p^2 [Pa] (key chenflynn1965, from memory).

    peak_pressure: [Pa]. mean_piston_speed: [m/s]. constant: A [Pa]. pressure_share: B [-]. linear: C [Pa
    s/m]. quadratic: D [Pa s2/m2]. The published constants read too high for engines after about 1990; A 0.2e5
    and C 0.07e5 suit those (our own judgement).
    """
    S_p = np.asarray(mean_piston_speed, dtype=np.float64)
    return np.asarray(
        constant + pressure_share * np.asarray(peak_pressure) + linear * S_p + quadratic * S_p**2
    )


def barnes_moss_fmep(omega: ArrayLike) -> Array:
    """Total motoring mean effective pressure *with* pumping, 97 + 15 n + 5 n^2 kPa, n = N/1000 [Pa].

    omega: crank speed [rad/s]. Key barnesmoss1975 (heywood1988 eq. 13.6), from memory; a band of +-25 %.
    """
    n = np.asarray(omega, dtype=np.float64) * 30 / np.pi / 1000
    return np.asarray(1e3 * (97 + 15 * n + 5 * n**2))


class AccessoryPower(NamedTuple):
    """Shaft power of what hangs on the belt beyond the bare auxiliaries [W]."""

    alternator: Array
    steering: Array
    fan: Array


def accessory_power(
    omega: ArrayLike, electric_load: ArrayLike = 0.0, steering_pump: bool = False, belt_fan: bool = False
) -> AccessoryPower:
    """Shaft power of loaded alternator, steering pump and belt-driven fan [W] (common practice, no source).

    omega: crank speed [rad/s]. electric_load: [W] at the terminals; 1.8 W of shaft power per watt.
    """
    w = np.asarray(omega, dtype=np.float64)
    return AccessoryPower(
        np.asarray(1.8 * np.asarray(electric_load) + 0 * w),
        np.where(steering_pump, 500.0, 0.0) + 0 * w,
        np.where(belt_fan, 300.0, 0.0) * (w / (100 * np.pi)) ** 3,
    )


def torque_of_mep(mep: ArrayLike, displacement: ArrayLike) -> Array:
    """Torque [N m] of a mean effective pressure [Pa] in a four-stroke engine, mep V_d/(4 pi); displacement
    [m3].
    """
    return np.asarray(np.asarray(mep) * np.asarray(displacement) / (4 * np.pi), dtype=np.float64)

"""Engine oil on its way through a turbo: viscosity, what the feed lets through, what the drain takes home."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.atmosphere import GRAVITY
from boostwright.physics.pipes import darcy_friction

__all__ = [
    "drain_flow",
    "drain_head",
    "film_thickness",
    "full_pipe_gravity_flow",
    "kinematic_viscosity",
    "oil_density",
    "restricted_flow",
    "restrictor_flow",
    "turbo_oil_heat",
]

Array = NDArray[np.float64]

EXPANSION: Final = 6.4e-4  # of mineral oil's density [kg/m3 per kg/m3 and K] (heywood1988, from memory)


def kinematic_viscosity(T: ArrayLike, at_40: ArrayLike, at_100: ArrayLike) -> Array:
    """Kinematic viscosity of an oil by the equation of Walther, lg lg(v + 0.7) = A - B lg T [m2/s].

    T: [K]. at_40, at_100: viscosity at 40 and 100 degC [m2/s], above 2 mm2/s. All broadcast. Validity: from
    the cloud point to about 200 degC, Newtonian; multigrade oils thin further in bearings, by up to a third.
    Error: 1 to 2 % between the two points. Source: astmd341.
    """
    lg = [np.log10(np.log10(np.asarray(v, dtype=np.float64) * 1e6 + 0.7)) for v in (at_40, at_100)]
    warm, hot = np.log10(313.15), np.log10(373.15)
    slope = (lg[0] - lg[1]) / (hot - warm)
    level = lg[0] - slope * (np.log10(np.asarray(T, dtype=np.float64)) - warm)
    return np.asarray(1e-6 * (10.0 ** (10.0**level) - 0.7))


def oil_density(T: ArrayLike, at_15: ArrayLike = 860.0) -> Array:
    """Density of an oil, rho_15 (1 - 6.4e-4 (T - 288.15 K)) [kg/m3].

    T: [K]. at_15: density at 15 degC [kg/m3]. Validity: 0 to 150 degC. Error: 1 % (from memory).
    """
    return np.asarray(np.asarray(at_15) * (1.0 - EXPANSION * (np.asarray(T, dtype=np.float64) - 288.15)))


def restrictor_flow(dp: ArrayLike, bore: ArrayLike, density: ArrayLike, discharge: ArrayLike = 0.61) -> Array:
    """Volume flow through a thin restrictor, C_d pi/4 d^2 sqrt(2 dp/rho) [m3/s].

    dp: [Pa], 0 or more. bore: d [m]. density: [kg/m3]. discharge: [-]. All broadcast. Validity: Reynolds
    number in the hole above about 1000. Error: 25 %, as drilled holes are neither thin nor sharp (judgement).
    """
    area = 0.25 * np.pi * np.square(np.asarray(bore, dtype=np.float64))
    return np.asarray(np.asarray(discharge) * area * np.sqrt(2.0 * np.asarray(dp) / np.asarray(density)))


def restricted_flow(
    p: ArrayLike, bore: ArrayLike, bearing: ArrayLike, viscosity: ArrayLike, density: ArrayLike
) -> Array:
    """Volume flow through a restrictor and the clearances of a bearing behind it [m3/s].

    p = rho/2 (Q/(C_d A))^2 + mu Q/G, the positive root; the clearances are laminar.

    p: oil pressure before the restrictor above the crankcase [Pa]. bore: of the restrictor [m]; inf for none.
    bearing: G, the clearances' flow times viscosity over pressure [m3]. viscosity: dynamic [Pa s]. density:
    [kg/m3]. All broadcast. Error: 30 % (clearances within their tolerance go with the cube; judgement).
    """
    area = 0.61 * 0.25 * np.pi * np.square(np.asarray(bore, dtype=np.float64))
    square = 0.5 * np.asarray(density) / np.square(area)
    linear = np.asarray(viscosity, dtype=np.float64) / np.asarray(bearing)
    pressed = np.maximum(np.asarray(p, dtype=np.float64), 0.0)
    return np.asarray(2.0 * pressed / (linear + np.sqrt(linear**2 + 4.0 * square * pressed)))


def full_pipe_gravity_flow(
    bore: ArrayLike, slope: ArrayLike, viscosity: ArrayLike, density: ArrayLike
) -> Array:
    """Volume flow that gravity drives through a full pipe if it stays laminar, pi D^4 rho g sin a/(128 mu)
    [m3/s].

    bore: D [m]. slope: a below the level [rad]. viscosity: dynamic [Pa s]. density: [kg/m3]. All broadcast.
    Validity: Reynolds number below about 2000, which hot oil in a drain passes: then `drain_flow` is right.
    """
    drive = np.asarray(density) * GRAVITY * np.sin(np.asarray(slope, dtype=np.float64))
    return np.asarray(np.pi * np.asarray(bore) ** 4 * drive / (128.0 * np.asarray(viscosity)))


def drain_flow(bore: float, slope: float, viscosity: float, density: float) -> float:
    """Volume flow of oil through a drain that runs half full, the other half left to gas [m3/s].

    v = sqrt(8 g R sin a/f) with the hydraulic radius R = D/4 and f of the Reynolds number 4 R v/nu; laminar
    it is half of `full_pipe_gravity_flow`. A slope of zero or a rising one carries nothing.

    bore: D, the least of the drain [m]. slope: a, the least below the level [rad]. viscosity: dynamic [Pa s].
    density: [kg/m3]. Error: 20 % for clear oil; oil that leaves a turbo is half air (see the finding).
    """
    if not (np.sin(slope) > 0.0 and bore > 0.0):
        return 0.0
    radius, area = 0.25 * bore, 0.125 * np.pi * bore**2
    drive = 8.0 * GRAVITY * radius * float(np.sin(slope))
    speed = float(full_pipe_gravity_flow(bore, slope, viscosity, density)) / (2.0 * area)
    for _ in range(50):
        reynolds = 4.0 * radius * speed * density / viscosity
        better = float(np.sqrt(drive / darcy_friction(max(reynolds, 1e-3))))
        if abs(better - speed) < 1e-9 * better:
            break
        speed = float(np.sqrt(speed * better))  # laminar, the whole step would swing for ever
    return speed * area


def film_thickness(
    flow_per_width: ArrayLike, slope: ArrayLike, viscosity: ArrayLike, density: ArrayLike
) -> Array:
    """Thickness of a film that runs down an incline, (3 mu q/(rho g sin a))^(1/3) [m].

    flow_per_width: q [m2/s]. slope: a below the level [rad]. viscosity: dynamic [Pa s]. density: [kg/m3]. All
    broadcast. Laminar, no waves. Source: nusselt1916.
    """
    drive = np.asarray(density) * GRAVITY * np.sin(np.asarray(slope, dtype=np.float64))
    return np.asarray(np.cbrt(3.0 * np.asarray(viscosity) * np.asarray(flow_per_width) / drive))


def drain_head(drop: ArrayLike, density: ArrayLike) -> Array:
    """Pressure of a column of oil, rho g h [Pa]: all that brings it home against the crankcase.

    drop: h, from the turbo's outlet down to the level in the sump [m]; below it no head is left. density:
    [kg/m3].
    """
    return np.asarray(np.asarray(density) * GRAVITY * np.maximum(np.asarray(drop, dtype=np.float64), 0.0))


def turbo_oil_heat(
    flow: ArrayLike, density: ArrayLike, rise: ArrayLike, capacity: ArrayLike = 2200.0
) -> Array:
    """Heat that the oil takes from a turbo, Q rho c dT [W].

    flow: [m3/s]. density: [kg/m3]. rise: from feed to drain [K]. capacity: of the oil at 120 degC [J/kg/K]
    (from memory, 5 %).
    """
    return np.asarray(np.asarray(flow) * np.asarray(density) * np.asarray(rise) * np.asarray(capacity))

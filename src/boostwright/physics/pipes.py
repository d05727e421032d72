"""Pressure loss of pipes and fittings for a gas, and the speed in them.

Loss coefficients and friction factors come from the `fluids` library; each call takes microseconds to a few
hundred of them, so a model asks for them once for a part and scales from there.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "bend_loss",
    "channel_loss",
    "contraction_loss",
    "darcy_friction",
    "enlargement_loss",
    "entrance_loss",
    "mach_number",
    "mean_density_loss",
    "pipe_reynolds",
    "velocity_head",
]

Array = NDArray[np.float64]

SQUARE_CHANNEL: Final = 56.91  # f Re of laminar flow in a square channel, Darcy [-] (shah1978, from memory)


def pipe_reynolds(m_dot: ArrayLike, bore: ArrayLike, viscosity: ArrayLike) -> Array:
    """Reynolds number in a round pipe, Re = 4 m/(pi D mu) [-].

    m_dot: [kg/s]. bore: D [m]. viscosity: dynamic [Pa s]. All broadcast.
    """
    return np.asarray(4 * np.asarray(m_dot) / (np.pi * np.asarray(bore) * np.asarray(viscosity)))


def velocity_head(m_dot: ArrayLike, bore: ArrayLike, density: ArrayLike) -> Array:
    """Velocity head in a round pipe, rho v^2/2 = 8 m^2/(pi^2 D^4 rho) [Pa].

    m_dot: [kg/s]. bore: D [m]. density: [kg/m3]. All broadcast.
    """
    flow, D = np.asarray(m_dot, dtype=np.float64), np.asarray(bore, dtype=np.float64)
    return np.asarray(8 * flow**2 / (np.pi**2 * D**4 * np.asarray(density)))


def darcy_friction(reynolds: float, relative_roughness: float = 0.0) -> float:
    """Darcy friction factor of a round pipe [-]: four times the Fanning one.

    Laminar below Re 2040 (64/Re); above, the exact solution of 1/sqrt(f) = -2 lg(e/(3.7 D) + 2.51/(Re sqrt
    f)) as `fluids` codes it.

    reynolds: [-], above 0. relative_roughness: e/D [-]. Validity: Re to 1e8, e/D to 0.05. Error: 2 %
    smooth, 5 to 10 % rough, of the data behind it. Source: colebrook1939, clamond2009, by way of `fluids`.
    """
    from fluids.friction import friction_factor  # a third of a second of import, wanted only here

    return float(friction_factor(Re=reynolds, eD=relative_roughness))


def bend_loss(
    bore: float, reynolds: float, radius_ratio: float = 1.5, angle: float = np.pi / 2, roughness: float = 0.0
) -> float:
    """Loss coefficient of one rounded bend, its friction included [-], on the pipe's own velocity head.

    Method of Rennels and Hudson. Other published ones give 0.20 to 0.57 for the same right angle of r/D 1.5
    at Re 2e5: the band of the method, not of the pipe.

    bore: [m]. reynolds: [-]. radius_ratio: bend radius of the middle line over bore, 0.5 (mitred outside a
    sharp inner corner) or more [-]. angle: [rad]. roughness: of the wall [m]. Source: rennels2012, by way of
    `fluids`.
    """
    from fluids.fittings import bend_rounded

    value = bend_rounded(
        Di=bore,
        angle=float(np.degrees(angle)),
        bend_diameters=max(radius_ratio, 0.5),
        Re=reynolds,
        roughness=roughness,
        method="Rennels",
    )
    return float(value)


def entrance_loss() -> float:
    """Loss coefficient of a sharp entrance flush with a wall, 0.57 [-] (rennels2012, by way of `fluids`)."""
    from fluids.fittings import entrance_sharp

    return float(entrance_sharp(method="Rennels"))


def contraction_loss(wide: float, narrow: float) -> float:
    """Loss coefficient of a sharp contraction, on the narrow bore's velocity head [-]; 0 where none is.

    wide, narrow: bores [m]. Source: rennels2012, by way of `fluids`.
    """
    if wide <= narrow:
        return 0.0
    from fluids.fittings import contraction_sharp

    return float(contraction_sharp(Di1=wide, Di2=narrow, method="Rennels"))


def enlargement_loss(narrow: float, wide: float) -> float:
    """Loss coefficient of a sudden enlargement, (1 - A1/A2)^2, on the narrow bore's head [-]; 0 where none
    is.

    narrow, wide: bores [m]; infinity for a large room. Exact for even flow; source: idelchik2007, from
    memory.
    """
    return (1.0 - (narrow / wide) ** 2) ** 2 if wide > narrow else 0.0


def channel_loss(
    m_dot: ArrayLike, density: ArrayLike, viscosity: ArrayLike, face_area: float, depth: float, cell: float,
    open_share: float,
) -> Array:  # fmt: skip
    """Loss of laminar flow through a honeycomb of square channels, as in a catalyst [Pa].

    dp = (f Re)/2 mu L v/d^2 + K rho v^2/2, with f Re = 56.91 (Darcy) and K = (1 - s)^2 + 0.4 (1 - s) for
    leaving and entering the channels.

    m_dot: [kg/s]. density: [kg/m3]. viscosity: [Pa s]. face_area: whole front [m2]. depth: L [m]. cell: d,
    open width of one channel [m]. open_share: s, open over whole front [-]. Flow arrays broadcast.
    Validity: channel Re below about 2000. Error: 10 %, with the entry length left out. Source: shah1978,
    idelchik2007, from memory.
    """
    flow = np.asarray(m_dot, dtype=np.float64)
    v = flow / (np.asarray(density) * face_area * open_share)
    ends = (1 - open_share) ** 2 + 0.4 * (1 - open_share)
    laminar = SQUARE_CHANNEL / 2 * np.asarray(viscosity) * depth * v / cell**2
    return np.asarray(laminar + ends * np.asarray(density) * v**2 / 2)


def mean_density_loss(
    product: ArrayLike, p: ArrayLike, T: ArrayLike, R: float, *, p_is_outlet: bool
) -> Array:
    """Pressure loss with the density of the mean of inlet and outlet pressure [Pa].

    dp (p_in + p_out)/(2 R T) = B, so p_in^2 - p_out^2 = 2 R T B: exact where density counts at the mean
    pressure.

    product: B, loss times density as a density of 1 kg/m3 would give it [Pa kg/m3]. p: the known pressure
    [Pa], of the outlet or the inlet. T: [K]. R: [J/(kg K)]. All broadcast. Where the inlet pressure cannot
    drive the flow, the loss is the whole pressure.
    """
    B, p = np.asarray(product, dtype=np.float64), np.asarray(p, dtype=np.float64)
    twice = 2 * R * np.asarray(T) * B
    if p_is_outlet:
        return np.asarray(twice / (np.sqrt(p**2 + twice) + p))
    return np.asarray(twice / (np.sqrt(np.maximum(p**2 - twice, 0.0)) + p) + np.maximum(twice - p**2, 0) / p)


def mach_number(
    m_dot: ArrayLike, bore: ArrayLike, p: ArrayLike, T0: ArrayLike, R: float = 287.05, gamma: float = 1.4
) -> Array:
    """Mach number in a round pipe [-].

    m sqrt(R T0/gamma)/(A p) = M sqrt(1 + (gamma - 1)/2 M^2), solved for M.

    m_dot: [kg/s]. bore: [m]. p: static pressure [Pa]. T0: total temperature [K]. R: [J/(kg K)]. gamma: [-].
    All broadcast. Source: heywood1988, appendix C, from memory.
    """
    area = np.pi / 4 * np.asarray(bore, dtype=np.float64) ** 2
    x = np.asarray(m_dot) * np.sqrt(R * np.asarray(T0) / gamma) / (area * np.asarray(p))
    k = (gamma - 1) / 2
    # (sqrt(1 + 4 k x^2) - 1)/(2 k), written so that it does not lose digits for small x
    return np.asarray(x * np.sqrt(2.0 / (1 + np.sqrt(1 + 4 * k * x**2))))

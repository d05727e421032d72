"""Cores of offset-strip fins: heat transfer and friction of one side, conductance of a whole core."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "AIR_FIN",
    "CHARGE_FIN",
    "CoreFlows",
    "OffsetFin",
    "SideState",
    "bar_plate_core",
    "core_side",
    "manglik_bergles",
]

Array = NDArray[np.float64]

PRANDTL: Final = 0.70  # of air between 280 and 450 K [-] (lemmon2000)
ALUMINIUM: Final = 160.0  # conductivity of brazed core alloy [W/(m K)]; judgement, 150 to 190
PLATE: Final = 0.5e-3  # between charge and air layer [m]; judgement
CP: Final = 1007.0  # of air [J/(kg K)] (lemmon2000)


class OffsetFin(NamedTuple):
    """One layer of offset-strip fins [m]."""

    gap: float  # height of the layer, plate to plate
    pitch: float  # fin to fin
    thickness: float  # of the fin
    strip: float  # length of one strip along the flow

    @property
    def spacing(self) -> float:
        """s, free width between two fins."""
        return self.pitch - self.thickness

    @property
    def height(self) -> float:
        """h, free height between fin and plate."""
        return self.gap - self.thickness

    @property
    def surface(self) -> float:
        """Wetted surface of one cell of one strip [m2]."""
        s, h, t, length = self.spacing, self.height, self.thickness, self.strip
        return 2 * (s * length + h * length + t * h) + t * s

    @property
    def hydraulic_diameter(self) -> float:
        """4 s h l over the wetted surface of a cell."""
        return 4 * self.spacing * self.height * self.strip / self.surface

    @property
    def open_share(self) -> float:
        """Free flow area over the front of the layer [-]."""
        return self.spacing * self.height / (self.pitch * self.gap)

    @property
    def fin_share(self) -> float:
        """Surface of the fins over all of it [-]."""
        s, h, t, length = self.spacing, self.height, self.thickness, self.strip
        return (2 * (h * length + t * h) + t * s) / self.surface if s > 0 else 1.0


CHARGE_FIN: Final = OffsetFin(6.5e-3, 2.2e-3, 0.15e-3, 3.5e-3)  # common bar-and-plate cores; judgement
AIR_FIN: Final = OffsetFin(8.5e-3, 1.8e-3, 0.10e-3, 3.5e-3)  # the same


class JF(NamedTuple):
    """Colburn factor and Fanning friction factor [-]."""

    j: Array
    f: Array


def manglik_bergles(reynolds: ArrayLike, fin: OffsetFin) -> JF:
    """Heat transfer and friction of offset-strip fins.

    j = 0.6522 Re^-0.5403 a^-0.1541 d^0.1499 g^-0.0678 (1 + 5.269e-5 Re^1.340 a^0.504 d^0.456 g^-1.055)^0.1
    f = 9.6243 Re^-0.7422 a^-0.1856 d^0.3053 g^-0.2659 (1 + 7.669e-8 Re^4.429 a^0.920 d^3.767 g^0.236)^0.1
    a = s/h, d = t/l, g = t/s

    reynolds: on the hydraulic diameter and the free area [-]. fin: the layer. Validity: Re 120 to 1e4.
    Error: 20 % in j and f for most of the data behind it. Source: manglik1995, from memory, read alike in
    several places.
    """
    Re = np.asarray(reynolds, dtype=np.float64)
    a, d, g = fin.spacing / fin.height, fin.thickness / fin.strip, fin.thickness / fin.spacing
    j = 0.6522 * Re**-0.5403 * a**-0.1541 * d**0.1499 * g**-0.0678
    j = j * (1 + 5.269e-5 * Re**1.340 * a**0.504 * d**0.456 * g**-1.055) ** 0.1
    f = 9.6243 * Re**-0.7422 * a**-0.1856 * d**0.3053 * g**-0.2659
    f = f * (1 + 7.669e-8 * Re**4.429 * a**0.920 * d**3.767 * g**0.236) ** 0.1
    return JF(np.asarray(j), np.asarray(f))


class SideState(NamedTuple):
    """One side of a core."""

    conductance: Array  # h A with fin efficiency [W/K]
    loss: Array  # pressure loss of core, entry and exit of the fins included [Pa]
    reynolds: Array  # [-]


def core_side(
    m_dot: ArrayLike, fin: OffsetFin, layers: float, width: float, length: float, density: ArrayLike,
    viscosity: ArrayLike,
) -> SideState:  # fmt: skip
    """Conductance and pressure loss of one side of a core.

    h = j G cp/Pr^(2/3), fin efficiency tanh(m b)/(m b) with m = sqrt(2 h (1 + t/l)/(k t)) and b half the
    layer's height; dp = G^2/(2 rho) (4 f L/D_h + (1 - s)^2 + 0.4 (1 - s)), s the open share of the layers'
    front.

    m_dot: of the whole side [kg/s]. fin: a layer. layers: their number. width: of the layers across the flow
    [m]. length: L, along the flow [m]. density: mean [kg/m3]. viscosity: [Pa s]. Arrays broadcast.
    Source: kays1998, manglik1995, from memory.
    """
    flow = np.asarray(m_dot, dtype=np.float64)
    free = layers * width * fin.gap * fin.open_share
    D = fin.hydraulic_diameter
    G = flow / free
    Re = G * D / np.asarray(viscosity)
    jf = manglik_bergles(Re, fin)
    h = jf.j * G * CP / PRANDTL ** (2 / 3)
    area = 4 * free * length / D
    mb = np.sqrt(2 * h * (1 + fin.thickness / fin.strip) / (ALUMINIUM * fin.thickness)) * fin.height / 2
    overall = 1 - fin.fin_share * (1 - np.tanh(mb) / mb)
    s = fin.open_share
    ends = (1 - s) ** 2 + 0.4 * (1 - s)
    loss = G**2 / (2 * np.asarray(density)) * (4 * jf.f * length / D + ends)
    return SideState(np.asarray(overall * h * area), np.asarray(loss), np.asarray(Re))


class CoreFlows(NamedTuple):
    """A whole core."""

    conductance: Array  # UA [W/K]
    charge: SideState
    air: SideState


def bar_plate_core(
    m_charge: ArrayLike, m_air: ArrayLike, size: tuple[float, float, float], rho_charge: ArrayLike,
    rho_air: ArrayLike, mu_charge: ArrayLike, mu_air: ArrayLike,
    fins: tuple[OffsetFin, OffsetFin] = (CHARGE_FIN, AIR_FIN),
) -> CoreFlows:  # fmt: skip
    """Conductance and losses of an ideal bar-and-plate core with even flow, 1/UA = 1/(hA)_charge +
    1/(hA)_air.

    m_charge, m_air: of the whole core [kg/s], above 0. size: along the charge tubes, height of the stack,
    along the outside air [m]. rho, mu: mean densities and viscosities of both [kg/m3], [Pa s]. fins: charge
    and air layer. Arrays broadcast. The plates' own resistance is left out (under 1 %). A real core in a
    car gives about 0.55 of it: uneven flow, tanks, slanting and warmed air.
    """
    along, height, depth = size
    charge_fin, air_fin = fins
    layers = height / (charge_fin.gap + air_fin.gap + 2 * PLATE)
    charge = core_side(m_charge, charge_fin, layers, depth, along, rho_charge, mu_charge)
    air = core_side(m_air, air_fin, layers, along, depth, rho_air, mu_air)
    return CoreFlows(1 / (1 / charge.conductance + 1 / air.conductance), charge, air)

"""The pressure of the standard air at an altitude, for turning gauge pressures into absolute ones."""

from __future__ import annotations

__all__ = ["SEA_LEVEL", "standard_pressure"]

SEA_LEVEL = 101325.0
"""Standard air pressure at sea level [Pa]."""


def standard_pressure(altitude: float) -> float:
    """The standard air pressure at a geometric altitude: p = p0 (1 - L h/T0)^(g/(R L)).

    altitude: geometric height above sea level, -500 .. 11 000 [m].
    Returns pressure [Pa absolute]. ISO 2533:1975, troposphere: L 6.5 K/km, T0 288.15 K, g/(R L) 5.25588, with
    the geopotential height h = H r/(r + H), r 6356.766 km. Weather moves the real pressure by about 1.5 kPa.
    """
    height = altitude * 6356766.0 / (6356766.0 + altitude)
    return float(SEA_LEVEL * (1.0 - 0.0065 * height / 288.15) ** 5.25588)

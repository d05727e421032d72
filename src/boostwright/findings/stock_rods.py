"""What the rods of an engine have always carried: the load that a boosted one is set against."""

from __future__ import annotations

from typing import Final

import numpy as np

from boostwright.findings.case import Case
from boostwright.physics.strength import reciprocating_mass, rod_force

__all__ = ["stock_rod_load"]

_COMMON_AIR: Final = 1.0e5  # air that an engine's maker had in mind: near sea level [Pa absolute]


def stock_rod_load(case: Case, mass: float | None = None) -> float:
    """The greatest rod compression of the engine before the turbo [N], in common air or in its own if that
    is denser.

    An engine that lives on a mountain was made for the sea: its rods are no weaker for the thin air of its
    place. Peak pressure goes with the pressure in the plenum.

    mass: that goes up and down with the piston [kg]; None for the stated or usual one.
    """
    engine, base = case.engine, case.baseline
    if mass is None:
        stated = case.stated("engine.reciprocating_mass")
        mass = float(reciprocating_mass(engine.bore)) if stated is None else float(stated.value)
    denser = max(1.0, _COMMON_AIR / case.ambient_pressure)
    load = rod_force(
        denser * base.at_mbt.peak_pressure,
        base.at_mbt.peak_angle,
        engine.bore,
        engine.stroke,
        engine.rod,
        base.speeds,
        mass,
    ).net
    return float(np.nanmax(load))

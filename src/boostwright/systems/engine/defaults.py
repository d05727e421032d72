"""The class-default engine: a centre of plausible engines, not a fit to any one."""

from __future__ import annotations

import numpy as np

from boostwright.systems.engine.types import EngineGeometry, ValveTrain

__all__ = ["four_valve_two_litre"]


def four_valve_two_litre(compression_ratio: float = 10.0) -> EngineGeometry:
    """A square 2.0 L four-cylinder, four valves a cylinder, mild cams; for tests and warm-up."""
    deg = np.pi / 180.0
    return EngineGeometry(
        cylinders=4,
        bore=0.086,
        stroke=0.086,
        rod=0.143,
        compression_ratio=compression_ratio,
        intake=ValveTrain(2, 0.034, 9.5e-3, 340.0 * deg, 596.0 * deg),
        exhaust=ValveTrain(2, 0.029, 9.0e-3, 124.0 * deg, 378.0 * deg),
        runner_length=0.38,
        runner_area=1.15e-3,
        port_volume=0.12e-3,
    )

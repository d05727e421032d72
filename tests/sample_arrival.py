"""A hand-made arrival of boost for tests of findings and views: invented curves, computed by no model."""

from __future__ import annotations

import math

import numpy as np

from boostwright.systems.transient import Arrival, Pull, Resized

RPM = math.pi / 30.0
GOAL = 0.6e5


def pull(gear: int, start: float, gain: float, lag: float, sd: float = 0.3, goal: float = GOAL) -> Pull:
    """Boost as 1 - exp(-(t/lag)^2), never if lag is inf; crank from start [rpm] by gain [rpm/s]."""
    time = np.linspace(0.0, 4.0, 161)
    shape = 1.0 - np.exp(-((time / lag) ** 2)) if math.isfinite(lag) else 0.3 * time / 4.0
    there = lag * math.sqrt(math.log(10.0)) if math.isfinite(lag) else math.nan
    return Pull(
        gear=gear, start=start * RPM, time=time, boost=goal * shape, crank=(start + gain * time) * RPM,
        shaft=(20_000 + 90_000 * np.sqrt(shape)) * RPM, arrival=there, arrival_sd=sd * there,
        arrival_speed=(start + gain * there) * RPM, arrival_speed_sd=gain * sd * there * RPM,
        peak=float(goal * shape.max()), overshoot=0.0, ends_at_top=False,
    )  # fmt: skip


def arrival(lag: float = 1.0, first: str = "inertia of the shaft") -> Arrival:
    """Second to fourth gear from 2000 rpm, and held at 3000 rpm; third is the reference."""
    pulls = (
        pull(2, 2000, 900, 0.8 * lag), pull(3, 2000, 450, lag), pull(4, 2000, 250, 1.2 * lag),
        pull(0, 3000, 0, 0.6 * lag),
    )  # fmt: skip
    third = pulls[1]

    def tried(area: float, wheel: float, share: float) -> Resized:
        speed = third.start + share * (third.arrival_speed - third.start)
        return Resized(area, wheel, share * third.arrival, speed)

    return Arrival(
        goal=GOAL, share=0.9, pulls=pulls, reference=1, inertia=2.5e-5, inertia_sd=0.75e-5, volume=11e-3,
        start_shaft=14_000 * RPM, start_temperature=850.0, turbine=tried(16e-3, 50e-3, 1.0),
        housings=(tried(13.6e-3, 50e-3, 0.85), tried(11.2e-3, 50e-3, 0.7), tried(8.8e-3, 50e-3, 0.55)),
        wheels=(tried(16e-3, 45e-3, 0.6), tried(16e-3, 40e-3, 0.4)), assumed=("gear ratios",),
        unknowns=((first, 0.6), ("flow area of the turbine", 0.4)),
    )  # fmt: skip

"""The build's own greatest charge flow, roughly, before anything is matched."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from boostwright.build.document import Build

__all__ = ["FLOW_SPREAD", "FullLoad", "full_load_of", "loss_and_spread"]

R_AIR: Final = 287.05
FLOW_SPREAD: Final = 0.08  # relative standard deviation of the flow; own judgement


class FullLoad(NamedTuple):
    """Greatest flow at the boost asked for. SI units."""

    flow: float  # air [kg/s]
    speed: float  # crank [rad/s]
    ambient_pressure: float  # [Pa]
    ambient_temperature: float  # [K]
    plenum_pressure: float  # [Pa absolute]
    outlet_temperature: float  # compressor outlet [K]
    plenum_temperature: float  # [K]


_BREATHING: Final = 0.95  # filling on plenum density near peak power [-]; common practice, 0.88 to 1.0
_PEAK: Final = 0.97  # speed of greatest flow over the speed limit [-]; own judgement
_EFFICIENCY: Final = 0.70  # of the compressor [-]; common practice
_LOSSES: Final = (
    1.05  # compressor outlet and inlet losses, as a factor on the pressure ratio [-]; own judgement
)
_SMALLEST_BOOST: Final = 50.0e3  # where the file asks for none [Pa]


def full_load_of(build: Build) -> FullLoad:
    """Air flow near peak power, m = VE rho V_d omega/(4 pi), with the charge as warm as compressor and
    cooler leave it.

    Good to 8 % (own judgement): enough to say at which flow a gauge was read 'at peak flow'.
    """
    p, T = build.number("place.barometer"), build.number("place.temperature")
    goal = build.get("goal.boost")
    plenum = p + (float(goal.value) if goal is not None else _SMALLEST_BOOST)
    outlet = T * (1 + ((_LOSSES * plenum / p) ** (2 / 7) - 1) / _EFFICIENCY)
    share = 0.0 if build.words("cooler.type") == "none" else build.number("cooler.effectiveness")
    charge = outlet - share * (outlet - T)
    speed = _PEAK * build.number("engine.speed_limit")
    flow = _BREATHING * plenum / (R_AIR * charge) * build.displacement * speed / (4 * math.pi)
    return FullLoad(flow, speed, p, T, plenum, outlet, charge)


def loss_and_spread(build: Build, path: str) -> tuple[float, float]:
    """A stated or usual pressure loss [Pa] and its relative standard deviation [-].

    A reading of nothing still has its spread: it counts as a third of that, never as less than 1 Pa.
    """
    value = build[path]
    sd = float(value.sd)
    loss = max(float(value.value), sd / 3, 1.0)
    return loss, sd / loss

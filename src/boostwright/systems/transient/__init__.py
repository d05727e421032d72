"""How soon boost arrives: shaft, charge volume, warming exhaust walls and the car in a gear, over time."""

from boostwright.systems.transient.arrival import boost_arrival
from boostwright.systems.transient.engine_surface import EngineSurface, engine_surface, surface_points
from boostwright.systems.transient.records import (
    Arrival,
    Car,
    HeatLag,
    Pull,
    PullRequest,
    Resized,
    TransientSetup,
)

__all__ = [
    "Arrival",
    "Car",
    "EngineSurface",
    "HeatLag",
    "Pull",
    "PullRequest",
    "Resized",
    "TransientSetup",
    "boost_arrival",
    "engine_surface",
    "surface_points",
]

"""Neighbours of the hot side that a build states, and the hot parts that they lie beside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.library.car_parts import car_constant, car_value
from boostwright.systems.engine.types import EngineGeometry
from boostwright.systems.hot_zone import HotPart, Neighbour, wall_temperature

__all__ = [
    "Gas",
    "StatedNeighbour",
    "briefly_more",
    "hot_part_of",
    "hot_wall",
    "neighbours_of",
    "part_of",
    "uncertain_hot",
]

Array = NDArray[np.float64]

_SHAPES: Final = {
    "brake-line": "part_line",
    "fuel-line": "part_line",
    "coolant-hose": "part_hose",
    "oil-hose": "part_hose",
    "silicone-hose": "part_hose",
    "wiring": "part_wire",
    "wiring-hot": "part_wire",
    "boot": "part_lump",
    "mount": "part_lump",
    "plastic": "part_lump",
    "paint": "part_panel",
    "battery": "part_battery",
}
_SHEETS: Final = {"none": 0, "sheet": 1, "double": 2}
_BARE: Final = 0.9  # emissivity of rubber, plastic, paint, a rusty line [-]; any table
_CONSTANTS: Final = (
    "emissivity",
    "turbine_radius",
    "manifold_radius",
    "bay_rise",
    "bay_soak",
    "bay_speed",
    "shield",
    "sleeve",
)
_USUAL_BORE: Final = 0.060  # of a downpipe where no pipe is stated [m]; judgement
_SCROLL: Final = 0.75  # bore of a turbine's scroll over its wheel's diameter [-]; judgement


_NEVER_BRIEFLY: Final = ("brake-line", "fuel-line", "battery")
"""What boils at once: a few minutes above the limit are too many."""


def briefly_more(kind: str) -> float:
    """What a material stands more for minutes than lasting [K]."""
    return 0.0 if kind in _NEVER_BRIEFLY else car_value("hot", "brief")


class StatedNeighbour(NamedTuple):
    """One table of the list."""

    what: str
    kind: str
    distance: float  # [m]
    distance_sd: float
    beside: str
    shield: str
    sleeve: bool


def neighbours_of(build: Build) -> tuple[StatedNeighbour, ...]:
    """The neighbours that the file states: "neighbours.what", "neighbours.kind" and so on."""
    found = []
    for row in build.table("neighbours"):
        stated = {f"neighbours.{name}": value.value for name, value in row.items()}
        distance = row["distance"]
        found.append(
            StatedNeighbour(
                what=str(stated["neighbours.what"]),
                kind=str(stated["neighbours.kind"]),
                distance=float(stated["neighbours.distance"]),
                distance_sd=float(distance.sd or 0.0),
                beside=str(stated["neighbours.beside"]),
                shield=str(stated.get("neighbours.shield", "none")),
                sleeve=bool(stated.get("neighbours.sleeve", False)),
            )
        )
    return tuple(found)


def uncertain_hot() -> list[tuple[str, float, float]]:
    """Name, value and standard deviation of what a neighbour's temperature rests on beside its distance."""
    rows = ((name, car_constant("hot", name)) for name in _CONSTANTS)
    return [(name, row.value, row.sd) for name, row in rows]


def part_of(stated: StatedNeighbour, values: Mapping[str, Any]) -> Neighbour:
    """One neighbour. values: by the names of `uncertain_hot`, and 'distance' [m]; numbers or arrays (m,)."""
    shape = _SHAPES[stated.kind]
    return Neighbour(
        distance=values["distance"],
        size=car_value(shape, "size"),
        surface=car_value(shape, "surface"),
        heat=car_value(shape, "heat"),
        emissivity=np.clip(values["sleeve"], 0.05, 1.0) if stated.sleeve else _BARE,
        shields=_SHEETS[stated.shield],
        shield_emissivity=np.clip(values["shield"], 0.05, 1.0),
    )


class Gas(NamedTuple):
    """Gas along one operating line, shape (n,)."""

    flow: Array  # air and fuel [kg/s]
    manifold: Array  # temperature at the end of the port [K]
    turbine: Array  # before the wheel [K]
    downpipe: Array  # behind it [K]


def _downpipe(build: Build) -> float:
    bore = build.get("exhaust.downpipe_bore") or build.get("exhaust.bore")
    return _USUAL_BORE if bore is None else float(bore.value)


def _thickness(build: Build, beside: str) -> float:
    """Of a hot part's wall [m]."""
    welded = beside == "downpipe" or (beside == "manifold" and build.words("manifold.kind") == "tubular")
    return car_value("hot", "sheet_wall" if welded else "wall")


def hot_wall(build: Build, engine: EngineGeometry, beside: str, gas: Gas, bay: float) -> float:
    """Wall of a hot part under steady full load, at its hottest along a line [K].

    beside: 'manifold', 'turbine' or 'downpipe'. bay: air about it [K].
    """
    thickness = _thickness(build, beside)
    if beside == "manifold":
        bore, T, flow = engine.manifold_diameter, gas.manifold, gas.flow / engine.cylinders
    elif beside == "turbine":
        bore, T, flow = _SCROLL * build.number("turbo.turbine_inducer"), gas.turbine, gas.flow
    else:
        bore, T, flow = _downpipe(build), gas.downpipe, gas.flow
    return float(np.nanmax(wall_temperature(T, flow, bore, thickness, bay)))


def hot_part_of(build: Build, beside: str, wall: Any, values: Mapping[str, Any]) -> HotPart:
    """A hot part as its neighbours see it. wall: temperature [K]. values: as `part_of`."""
    length, thickness = car_value("hot", "pipe_length"), _thickness(build, beside)
    if beside == "manifold":
        radius = values["manifold_radius"]
    elif beside == "turbine":
        radius, length = values["turbine_radius"] * build.number("turbo.turbine_inducer"), 0.0
    else:
        radius = _downpipe(build) / 2 + thickness
    return HotPart(
        wall=wall,
        emissivity=np.clip(values["emissivity"], 0.05, 1.0),
        radius=radius,
        length=length,
        heat=car_value("hot", "iron_heat") * thickness,
    )

"""A turbine map's bytes to its points, or to every fault that can be read in it.

    # reference temperature = 15 degC
    # reference pressure = 101.325 kPa
    expansion ratio; flow; efficiency; speed
    ; kg/s; %; rpm
    1.6; 0.0911; 68; 62000

Efficiency and speed may be left out; see `points_table` for the forms that are read.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from boostwright.build.faults import Fault
from boostwright.build.turbine_points import TurbinePoints
from boostwright.quantity import Dimension
from boostwright.readers.points_table import Column, TableKind, read_table

__all__ = ["ReadTurbineMap", "read_turbine_map"]

_KIND: Final = TableKind(
    "turbine map",
    "turbine",
    "expansion ratio; flow; efficiency; speed",
    (
        Column(
            "pressure_ratio", "expansion ratio",
            ("expansion ratio", "pressure ratio", "turbine pressure ratio", "expansion", "ratio", "pr", "er",
             "p ratio"),
            (), 1.0, 8.0, "1 to 8, absolute over absolute",
        ),
        Column(
            "flow", "corrected gas flow",
            ("flow", "corrected flow", "mass flow", "massflow", "corrected mass flow", "gas flow",
             "corrected gas flow", "m", "m dot", "mdot", "m corr"),
            (Dimension.MASS_FLOW,), 1e-3, 3.0, "0.001 to 3 kg/s",
        ),
        Column(
            "efficiency", "efficiency",
            ("efficiency", "isentropic efficiency", "turbine efficiency", "total to static efficiency",
             "combined efficiency", "eta"),
            (Dimension.SHARE,), 0.10, 0.90, "10 to 90 %", required=False,
        ),
        Column(
            "speed", "corrected shaft speed",
            ("speed", "shaft speed", "corrected speed", "turbo speed", "corrected shaft speed", "n", "n corr",
             "rpm"),
            (Dimension.ROTATION,), 300.0, 30000.0, "3 000 to 290 000 rpm", required=False,
        ),
    ),
    {
        "reference temperature": (Dimension.TEMPERATURE, 250.0, 1300.0, "250 to 1300 K"),
        "reference pressure": (Dimension.PRESSURE, 80.0e3, 320.0e3, "80 to 320 kPa absolute"),
    },
)  # fmt: skip


class ReadTurbineMap(NamedTuple):
    """A map as read, and what is worth a second look in it."""

    points: TurbinePoints
    notes: tuple[Fault, ...]


def read_turbine_map(data: bytes, file: str = "") -> ReadTurbineMap:
    """The points that the bytes of a map file state.

    Raises BuildFileError with every fault that can still be read, in the order of the file.
    """
    table = read_table(data, _KIND, file)
    points = TurbinePoints(
        expansion_ratio=table.whole("pressure_ratio"),
        flow=table.whole("flow"),
        efficiency=tuple(table.values["efficiency"]),
        speed=tuple(table.values["speed"]),
        line=table.lines,
        reference_temperature=table.references.get("reference temperature"),
        reference_pressure=table.references.get("reference pressure"),
        file=file,
    )
    return ReadTurbineMap(points, table.notes)

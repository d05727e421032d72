"""A compressor map's bytes to its points, or to every fault that can be read in it.

The file is a table of points, one a line, with a row of column names (and, below it or in brackets behind
the names, the units):

    # reference temperature = 25 degC
    # reference pressure = 100 kPa
    speed; flow; pressure ratio; efficiency
    rpm; kg/s; ; %
    90000; 0,0461; 1,52; 71,5
    ; 0,0720; 1,60; 75

Semicolons, tabs or commas part the columns; with commas the decimal sign is a point. A line that begins with
# is a remark; the two above are read. A point without a speed is one of a contour of efficiency.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from boostwright.build.faults import Fault
from boostwright.build.map_points import MapPoints
from boostwright.quantity import Dimension
from boostwright.readers.points_table import Column, TableKind, read_table

__all__ = ["ReadMap", "read_compressor_map"]

_COLUMNS: Final = (
    Column(
        "speed", "shaft speed",
        ("speed", "shaft speed", "corrected speed", "turbo speed", "rotational speed", "speed of rotation",
         "tip speed", "corrected tip speed", "n", "n corr", "rpm", "u2"),
        (Dimension.ROTATION, Dimension.SPEED), 300.0, 45000.0,
        "3 000 to 400 000 rpm, or 20 to 750 m/s of tip",
        other=(20.0, 750.0),
    ),
    Column(
        "flow", "air flow",
        ("flow", "mass flow", "massflow", "air flow", "airflow", "corrected flow", "corrected mass flow",
         "volume flow", "corrected volume flow", "m", "m dot", "mdot", "m corr"),
        (Dimension.MASS_FLOW, Dimension.VOLUME_FLOW), 1e-3, 12.0, "0.001 to 12 kg/s, or as many m3/s",
    ),
    Column(
        "pressure_ratio", "pressure ratio",
        ("pressure ratio", "pressureratio", "pr", "p ratio", "total pressure ratio", "pi", "ratio"),
        (), 1.0, 8.0, "1 to 8, absolute over absolute",
    ),
    Column(
        "efficiency", "isentropic efficiency",
        ("efficiency", "isentropic efficiency", "adiabatic efficiency", "compressor efficiency", "eta"),
        (Dimension.SHARE,), 0.15, 0.95, "15 to 95 %", required=False,
    ),
)  # fmt: skip
_REFERENCES: Final = {
    "reference temperature": (Dimension.TEMPERATURE, 250.0, 330.0, "250 to 330 K"),
    "reference pressure": (Dimension.PRESSURE, 80.0e3, 115.0e3, "80 to 115 kPa absolute"),
}
_KIND: Final = TableKind(
    "compressor map", "compressor", "speed; flow; pressure ratio; efficiency", _COLUMNS, _REFERENCES, True
)


class ReadMap(NamedTuple):
    """A map as read, and what is worth a second look in it."""

    points: MapPoints
    notes: tuple[Fault, ...]


def read_compressor_map(data: bytes, file: str = "") -> ReadMap:
    """The points that the bytes of a map file state.

    Raises BuildFileError with every fault that can still be read, in the order of the file.
    """
    table = read_table(data, _KIND, file)
    speed, flow = table.units["speed"], table.units["flow"]
    points = MapPoints(
        speed=tuple(table.values["speed"]),
        flow=table.whole("flow"),
        pressure_ratio=table.whole("pressure_ratio"),
        efficiency=tuple(table.values["efficiency"]),
        line=table.lines,
        tip_speed=speed is not None and speed.dimension is Dimension.SPEED,
        volume_flow=flow is not None and flow.dimension is Dimension.VOLUME_FLOW,
        reference_temperature=table.references.get("reference temperature"),
        reference_pressure=table.references.get("reference pressure"),
        file=file,
    )
    return ReadMap(points, table.notes)

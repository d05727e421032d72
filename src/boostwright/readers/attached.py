"""The files that a build file names: maps and a logged pull, read with it so that a build is whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from boostwright.build.catalogue import catalogue
from boostwright.build.faults import Fault
from boostwright.build.map_points import MapPoints
from boostwright.build.turbine_points import TurbinePoints
from boostwright.build.values import Source, StatedValue
from boostwright.errors import BuildFileError
from boostwright.readers.compressor_map import ReadMap, read_compressor_map
from boostwright.readers.pull_log import read_pull_log
from boostwright.readers.turbine_map import ReadTurbineMap, read_turbine_map

__all__ = ["Beside", "attached_log", "attached_maps"]

Beside = Callable[[str], bytes]
"""Gives the bytes of a file by its path from the build file. Raises OSError."""

_MAPS: Final[dict[str, Callable[[bytes, str], ReadMap | ReadTurbineMap]]] = {
    "turbo.compressor_map": read_compressor_map,
    "turbo.turbine_map": read_turbine_map,
}


def attached_maps(
    values: Mapping[str, StatedValue], beside: Beside, faults: list[Fault], most_faults: int
) -> dict[str, MapPoints | TurbinePoints]:
    """The maps that the build names, by their field. What is wrong in them is added to the build's faults,
    at the line that names the map."""
    found: dict[str, MapPoints | TurbinePoints] = {}
    for path, reader in _MAPS.items():
        named = values.get(path)
        if named is None:
            continue
        name, line = str(named.value), named.line or 1
        try:
            read = reader(beside(name), name)
        except (OSError, ValueError) as mishap:  # ValueError: a name that no file can have
            faults.append(_not_there(path, line, name, mishap))
        except BuildFileError as mishap:
            room = max(1, most_faults - len(faults))
            faults.extend(_moved(fault, path, line, name) for fault in mishap.faults[:room])
        else:
            found[path] = read.points
            faults.extend(_moved(fault, path, line, name) for fault in read.notes)
    return found


def attached_log(
    values: Mapping[str, StatedValue], barometer: float, beside: Beside, faults: list[Fault], most_faults: int
) -> dict[str, StatedValue]:
    """What the pull that the build names says at the speeds of its torque curve, where the build does not say
    it itself: measured, with the usual spread of such a reading. What is wrong is added to the faults, at the
    line that names the file.
    """
    named, speeds = values.get("baseline.log"), values.get("baseline.speed")
    if named is None or speeds is None:
        return {}  # without speeds the rules say what is missing
    name, line = str(named.value), named.line or 1
    try:
        read = read_pull_log(beside(name), speeds.value, name, barometer)
    except (OSError, ValueError) as mishap:
        faults.append(_not_there(named.path, line, name, mishap, "the pull is left out then"))
        return {}
    except BuildFileError as mishap:
        room = max(1, most_faults - len(faults))
        faults.extend(_moved(fault, named.path, line, name) for fault in mishap.faults[:room])
        return {}
    faults.extend(_moved(fault, named.path, line, name) for fault in read.notes)
    found = {}
    for channel, row in read.values.items():
        known = catalogue().field(f"baseline.{channel}")
        if known.path in values:
            continue
        spread = known.spread_for(Source.MEASURED)
        sd = tuple(float(spread.at(v)) for v in row)
        found[known.path] = StatedValue(
            known.path, row, sd, Source.MEASURED, named.line, f"from {name}", known.kind
        )
    return found


def _not_there(
    path: str,
    line: int,
    name: str,
    mishap: OSError | ValueError,
    otherwise: str = "the wheel sizes are used then",
) -> Fault:
    why = "there is no such file beside the build file"
    if not isinstance(mishap, FileNotFoundError):
        why = f"the file cannot be opened ({getattr(mishap, 'strerror', None) or 'no usable name'})"
    return Fault(
        "no-file",
        line,
        path,
        name,
        "a path that begins at the build file's own folder",
        why,
        f"Correct the path, or take the line out: {otherwise}.",
    )


def _moved(fault: Fault, path: str, line: int, name: str) -> Fault:
    """A fault of the map, as a fault of the line that names it."""
    where = f"{name[-60:]}, line {fault.line}" + (f", column {fault.column}" if fault.column else "")
    column = f"{fault.field.replace('_', ' ')} = " if fault.field and fault.written else ""
    written = f": {column}{fault.written}" if fault.written else ""
    return replace(
        fault, line=line, field=path, column=None, written="", why=f"{where}{written}: {fault.why}"
    )

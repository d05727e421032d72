"""The joints that a build states: two halves each, what seals them, what goes through, what they stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from boostwright.build.document import Build, Row
from boostwright.build.joint_rules import half_of, ports_by_name
from boostwright.library.halves import Half, Kind
from boostwright.library.joint_materials import Figure, Material, material, unknown_material
from boostwright.library.seals import read_seals
from boostwright.systems.joints import Carried, End, Joint

__all__ = ["joints_of", "open_ports"]

_SOFT: Final = ("nitrile", "fluoro-rubber", "epdm", "silicone", "lined-silicone", "ptfe", "nylon")


def joints_of(build: Build) -> tuple[Joint, ...]:
    """Every joint of a build that has two halves, in the order of the file."""
    ports = ports_by_name(build)
    found = []
    for row in build.table("joints"):
        if not {"name", "from", "to"} <= row.keys():
            continue
        ends = [_end(str(row[side].value), ports) for side in ("from", "to")]
        if ends[0] is None or ends[1] is None:
            continue
        seal, carries, tested = row.get("seal"), row.get("carries"), row.get("tested")
        tried = row.get("tried")
        found.append(
            Joint(
                name=str(row["name"].value),
                a=ends[0],
                b=ends[1],
                seals=frozenset() if seal is None else read_seals(str(seal.value)),
                carries=None if carries is None else Carried(str(carries.value)),
                tried=tried is not None and bool(tried.value),
                tested=None
                if tested is None
                else Figure(float(tested.value), float(tested.sd or 0.0), "the build file"),
                line=row["name"].line,
            )
        )
    return tuple(found)


def open_ports(build: Build) -> tuple[End, ...]:
    """The ports that no joint uses, in the order of the file: holes that nothing closes."""
    ports = ports_by_name(build)
    used = {
        " ".join(str(row[side].value).casefold().split())
        for row in build.table("joints")
        for side in ("from", "to")
        if side in row
    }
    found = (_end(key, ports) for key in ports if key not in used)
    return tuple(end for end in found if end is not None)


def _end(text: str, ports: Mapping[str, Row]) -> End | None:
    half, port = half_of(text, ports)
    if half is None:
        return None
    if port is None:
        made = _material(half, None)
        return End("", "", half, made, False, *_ratings(half, made, {}))
    stated = port.get("material")
    made = _material(half, None if stated is None else str(stated.value))
    of = port.get("of")
    part = "" if of is None else str(of.value)
    return End(str(port["name"].value), part, half, made, stated is not None, *_ratings(half, made, port))


def _material(half: Half, name: str | None) -> Material:
    return unknown_material(half.kind is Kind.HOSE) if name is None else material(name)


def _ratings(half: Half, made: Material, port: Row) -> tuple[Figure, Figure, Figure, frozenset[str]]:
    """Pressure, temperature and ethanol that an end stands: its maker's figure, else that of its material;
    and which of them its maker or its material states.
    """
    bore = half.size if half.kind is Kind.HOSE and made.name in _SOFT else None
    usual = {"pressure": made.pressure_at(bore), "temperature": made.temperature, "ethanol": made.ethanol}
    stated = {
        name: Figure(float(port[name].value), float(port[name].sd or 0.0), "the build file")
        for name in usual
        if name in port
    }
    both = {**usual, **stated}
    return both["pressure"], both["temperature"], both["ethanol"], frozenset(stated)

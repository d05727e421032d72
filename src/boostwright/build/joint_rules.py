"""What must be right in the tables of ports and joints before anything is judged: halves that can be read,
names that exist, each port used once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Final

from boostwright.build.document import Build, Row
from boostwright.build.faults import Fault
from boostwright.build.values import StatedValue
from boostwright.library.halves import Half, read_half
from boostwright.library.seals import SEAL_WORDS, read_seals
from boostwright.quantity import nearest

__all__ = ["check_joints", "half_of", "ports_by_name"]

_read = lru_cache(maxsize=4096)(read_half)  # a sampled check reads the same file over and over
_MOST: Final = 40  # faults of joints; a file with more has another trouble
_HALF: Final = "'M10x1 female', '-6 flare male 37', 'hose 16 mm', 'flange 2 bolts 44 mm'"


def ports_by_name(build: Build) -> dict[str, Row]:
    """The ports of a build by their names in small letters; of two with one name the first."""
    found: dict[str, Row] = {}
    for row in build.table("ports"):
        if "name" in row:
            found.setdefault(_folded(row["name"]), row)
    return found


def half_of(text: str, ports: Mapping[str, Row]) -> tuple[Half | None, Row | None]:
    """The half that the end of a joint names, and its port; (None, None) when it names neither."""
    port = ports.get(" ".join(text.casefold().split()))
    if port is not None and "half" not in port:
        return None, port
    read = _read(str(port["half"].value) if port is not None else text)
    return (read, port) if isinstance(read, Half) else (None, port)


def check_joints(build: Build, faults: list[Fault]) -> None:
    """Append to `faults` what cannot be read of the ports and joints of a build."""
    room = len(faults) + _MOST

    def add(code: str, value: StatedValue, why: str, remedy: str, allowed: str = "") -> None:
        if len(faults) < room:
            faults.append(
                Fault(code, value.line or 1, value.path.replace("[]", ""), value.text, allowed, why, remedy)
            )

    ports = ports_by_name(build)
    _ports(build, ports, add)
    taken: dict[str, StatedValue] = {}
    for row in build.table("joints"):
        if len(faults) >= room:
            return
        for side in ("from", "to"):
            if side in row:
                _end(row[side], ports, taken, add)
        seal = row.get("seal")
        if seal is not None and not read_seals(str(seal.value)):
            add(
                "unknown-seal",
                seal,
                "no seal that we know is named",
                "Say what is really between the halves, in one of these words.",
                SEAL_WORDS,
            )


_Add = Callable[..., None]


def _folded(value: StatedValue) -> str:
    return " ".join(str(value.value).casefold().split())


def _ports(build: Build, ports: Mapping[str, Row], add: _Add) -> None:
    for row in build.table("ports"):
        name = row.get("name")
        if name is not None and ports[_folded(name)] is not row:
            add(
                "duplicate-port",
                name,
                f"a port of this name already stands on line {ports[_folded(name)]['name'].line}",
                "Give one of the two another name.",
            )
        if "half" in row:
            read = _read(str(row["half"].value))
            if not isinstance(read, Half):
                add("unknown-half", row["half"], _open(read.why), _remedy(read.near), _HALF)


def _end(value: StatedValue, ports: Mapping[str, Row], taken: dict[str, StatedValue], add: _Add) -> None:
    """One end of a joint: a port that is free, or a half that can be read."""
    name = _folded(value)
    if name in ports:
        if name in taken:
            add(
                "port-taken",
                value,
                f"this port is already joined on line {taken[name].line}",
                "One hole takes one fitting: add a tee with a port for each, or name the other port.",
            )
        taken.setdefault(name, value)
        return
    read = _read(str(value.value))
    if isinstance(read, Half):
        return
    near = nearest(name, ports, count=2, cutoff=0.6) if ports else ()
    if near:
        names = " or ".join(f"'{ports[one]['name'].value}'" for one in near)
        add("unknown-port", value, "there is no port of this name", f"Did you mean {names}?", _HALF)
    else:
        add(
            "unknown-half",
            value,
            f"no port has this name, and as a half it is not understood: {_open(read.why)}",
            _remedy(read.near),
            _HALF,
        )


def _open(sentence: str) -> str:
    """A sentence without its end, to stand inside another."""
    start = sentence[:1]
    rest = sentence[1:].rstrip(".")
    return (start.lower() if sentence[:2].istitle() or sentence[1:2] == " " else start) + rest


def _remedy(near: tuple[str, ...]) -> str:
    if near:
        return f"Near it: {', '.join(near[:4])}."
    return "Read the thread with pitch gauge and calliper, and name it: boostwright explain ports.half."

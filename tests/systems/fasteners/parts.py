"""Joints for the tests: written as a builder writes them, with one thing changed at a time."""

from __future__ import annotations

from boostwright.build.document import Build
from boostwright.readers.build_file import read_build
from boostwright.systems.fasteners import Fastener
from boostwright.systems.stated.fasteners import fasteners_of

__all__ = ["build_with", "joint", "joint_text"]

_HEAD = """
[build]
name = "Test bed"
[goal]
boost = "0.6 bar"
[engine]
class = "four-valve"
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
[fuel]
octane = "95 RON"
"""
_OWN = {
    "name": "charge flange",
    "clamps": "charge",
    "size": "M8x1.25",
    "class": "8.8",
    "count": 4,
    "grip_length": "30 mm",
    "parent_material": "nut",
    "clamped_material": "steel",
    "lubricant": "oiled",
    "tool": "checked",
    "gasket": "none",
    "whose": "own",
}


def joint_text(**changed: object) -> str:
    """One [[fasteners]]: a joint of the builder's own, with some lines changed; None takes a line out."""
    lines = ["[[fasteners]]", 'source = "measured"']
    for name, value in {**_OWN, **changed}.items():
        if value is not None:
            lines.append(f"{name} = {value}" if isinstance(value, int) else f'{name} = "{value}"')
    return "\n".join(lines) + "\n"


def build_with(*joints: str, more: str = "") -> Build:
    """A build with these joints."""
    return read_build((_HEAD + more + "\n" + "\n".join(joints)).encode())


def joint(**changed: object) -> Fastener:
    """That joint, read."""
    return fasteners_of(build_with(joint_text(**changed)))[0]

"""The bolted joints that a build states."""

from __future__ import annotations

from typing import Any, Final

from boostwright.build.document import Build, Row
from boostwright.build.values import StatedValue
from boostwright.errors import OutOfRange
from boostwright.library.bolts import (
    BoltMaterial,
    BoltStrength,
    bolt_material,
    bolt_strength,
    friction_row,
    gasket,
    parent,
)
from boostwright.library.threads import Thread
from boostwright.systems.fasteners import Fastener, Known, Whose
from boostwright.systems.joints import Half, Kind, read_half

__all__ = ["bolt_thread", "fasteners_of"]

_STATES: Final = {
    "dry": "dry",
    "oiled": "oiled",
    "zinc-oiled": "zinc plated, oiled",
    "molybdenum": "molybdenum paste",
    "hot-paste": "copper or nickel paste, hot joints",
    "stainless-dry": "stainless, dry",
}
_TOOLS: Final = {
    "checked": "click wrench, checked",
    "beam": "beam or dial wrench",
    "unchecked": "click wrench, unchecked",
    "impact": "impact driver",
    "feel": "by feel",
}
_CLAMPED: Final = {
    "steel": "steel",
    "stainless": "austenitic stainless",
    "grey-iron": "grey cast iron",
    "nodular-iron": "nodular cast iron",
    "nickel-iron": "high-nickel cast iron",
    "aluminium": "aluminium",
}
_FLANK: Final = 1.0472  # of metric and unified threads, 60 degrees [rad]


def fasteners_of(build: Build) -> tuple[Fastener, ...]:
    """Every table [[fasteners]] of the build, in its order."""
    return tuple(_fastener(row) for row in build.table("fasteners"))


def _get(row: Row, path: str) -> StatedValue | None:
    return row.get(path.removeprefix("fasteners."))


def _word(row: Row, path: str) -> str:
    found = _get(row, path)
    return "" if found is None else str(found.value)


def _known(row: Row, path: str) -> Known | None:
    found = _get(row, path)
    return None if found is None else Known(float(found.value), float(found.sd or 0.0))


def bolt_thread(text: str) -> tuple[Thread | None, str]:
    """The thread of a bolt, or why there is none."""
    if not text.strip():
        return None, ""
    half = read_half(f"{text} male")
    thread = half.thread if isinstance(half, Half) else None
    if thread is None:
        return None, f"'{text[:30]}' is no thread of a bolt that is known here; write it like M8x1.25."
    if isinstance(half, Half) and half.kind is not Kind.THREAD:
        return None, f"'{text[:30]}' is bored or a fitting, not a plain bolt: its torque is its maker's."
    if thread.taper or abs(thread.flank_angle - _FLANK) > 0.01:
        return None, f"{thread.name} is a pipe thread, not that of a bolt; write it like M8x1.25."
    return thread, ""


def _strength(name: str, thread: Thread | None) -> tuple[BoltStrength | None, str]:
    """The strength of a class at this thread, or why there is none."""
    if not name or thread is None:
        return None, ""
    try:
        return bolt_strength(name, thread.major), ""
    except OutOfRange as refused:
        return None, str(refused)


def _material(name: str) -> BoltMaterial:
    if name.startswith(("A2", "A4")):
        return bolt_material("austenitic stainless")
    return bolt_material("alloy 660" if name == "660" else "steel")


def _fastener(row: Row) -> Fastener:
    thread, no_thread = bolt_thread(_word(row, "fasteners.size"))
    marking, into = _word(row, "fasteners.class"), _word(row, "fasteners.parent_material")
    state, between = _word(row, "fasteners.lubricant"), _word(row, "fasteners.gasket")
    clamped = _word(row, "fasteners.clamped_material")
    strength, no_strength = _strength(marking, thread)
    count, face = _known(row, "fasteners.count"), _known(row, "fasteners.face")
    printed, angle = _get(row, "fasteners.manual_torque"), _known(row, "fasteners.manual_angle")
    more: dict[str, Any] = {}
    if state:
        more["friction"] = friction_row(_STATES[state])
        more["state"] = _STATES[state].removesuffix(", hot joints")
    name = _get(row, "fasteners.name")
    return Fastener(
        name=_word(row, "fasteners.name"),
        line=None if name is None else name.line,
        clamps=_word(row, "fasteners.clamps") or "other",
        whose=Whose(_word(row, "fasteners.whose") or "car"),
        thread=thread,
        unread=no_thread or no_strength,
        strength=strength,
        material=_material(marking) if marking else None,
        count=None if count is None else int(count.value),
        grip=_known(row, "fasteners.grip_length"),
        engaged=_known(row, "fasteners.engaged_length"),
        parent=parent(into) if into and into != "nut" else None,
        in_nut=into == "nut",
        clamped=bolt_material(_CLAMPED[clamped]) if clamped else None,
        face=None if face is None else face.value,
        tool=_TOOLS.get(_word(row, "fasteners.tool"), ""),
        locking=_word(row, "fasteners.locking"),
        gasket=gasket(between) if between else None,
        opening=_known(row, "fasteners.opening"),
        hangs_on=_known(row, "fasteners.hangs_on"),
        torque=_known(row, "fasteners.manual_torque"),
        torque_band=printed is not None and ("+/-" in printed.text or "±" in printed.text),
        angle=None if angle is None else angle.value,
        page=_word(row, "fasteners.page"),
        **more,
    )

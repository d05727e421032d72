"""What a torque does to a bolt, and the torque of a joint that nobody prints one for."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from boostwright.errors import OutOfRange
from boostwright.library.bolts import FrictionRow, head, tool_spread
from boostwright.physics.bolts import (
    Friction,
    assembly_preload,
    bearing_diameter,
    equivalent_stress,
    preload_for_torque,
    preload_scatter,
    torque_for_preload,
)
from boostwright.physics.threads import stress_area, stripping_length
from boostwright.systems.fasteners.record import Fastener, Known, Whose

__all__ = [
    "NEVER_OWN",
    "Missing",
    "Window",
    "bearing_of",
    "clamp_at",
    "engagement_needed",
    "own_window",
    "stress_share",
    "tool_of",
    "why_blank",
]

NEVER_OWN: Final = ("head", "driveline", "brake", "fuel")
"""What is never worked out here: a wrong torque there kills engine or people."""

SHARE: Final = 0.9  # of yield that tension and twist may reach at the lowest friction [-] (vdi2230)
STRIP_SHARE: Final = 0.8  # of the force at which the hole's thread strips [-] (common practice, no source)
PLAY: Final = 1.2  # engaged length for play, chamfer and first turn (common practice, no source)
WINDOW: Final = 0.85  # lowest torque of a window over its highest [-] (common practice, no source)
UNCHECKED: Final = "click wrench, unchecked"
_HEAD, _HOLE = 1.45, 1.10  # face and hole over the diameter of a bolt that the table lacks (common practice)
_TORN = 2.0  # share of yield that no bolt stands, whatever its thread is like: the figure is another one
_SURE = 2.0  # standard deviations that count as the lowest or highest likely value


class Missing(NamedTuple):
    """Why something cannot be worked out: what the file does not state, in words."""

    words: str


class Window(NamedTuple):
    """Torques between which to set the wrench [N m], and what bounds the upper one."""

    low: float
    high: float
    bound: str  # 'bolt' or 'thread'


def _friction(row: FrictionRow, deviations: float) -> Friction:
    mu = max(row.mean + deviations * row.spread, 0.04)
    return Friction(mu, mu)


def bearing_of(bolt: Fastener) -> float:
    """Diameter at which friction under the head acts [m]: of the stated face, or of a plain hexagon head."""
    assert bolt.thread is not None
    d = bolt.thread.major
    try:
        row = head(d)
        face, hole = row.face, row.hole
    except OutOfRange:
        face, hole = _HEAD * d, _HOLE * d
    if bolt.face is not None and bolt.face > hole:
        face = bolt.face
    return float(bearing_diameter(face, hole))


def tool_of(bolt: Fastener) -> float:
    """Spread of the torque that reaches the bolt [-]; an unchecked wrench where none is stated."""
    return tool_spread(bolt.tool or UNCHECKED)


def _set_to(bolt: Fastener) -> float:
    """Spread of the torque that reaches the bolt with that of a printed range [-]: any of it may be set."""
    torque = bolt.torque
    band = torque.sd / torque.value if torque is not None and bolt.torque_band else 0.0
    return math.hypot(tool_of(bolt), band)


def clamp_at(bolt: Fastener, torque: float) -> Known | None:
    """Clamp of one bolt at a torque [N m], as it is tightened [N]. None without thread or lubricant.

    Spread: friction of the state (thread and face go together, one film wets both), the wrench, and the range
    that is printed.
    """
    if bolt.thread is None or bolt.friction is None:
        return None
    d, pitch, row = bolt.thread.major, bolt.thread.pitch, bolt.friction
    found = preload_scatter(
        torque,
        d,
        pitch,
        bearing_of(bolt),
        _friction(row, 0.0),
        Friction(row.spread, row.spread),
        _set_to(bolt),
        1.0,
    )
    return Known(float(found.mean), float(found.sd))


def stress_share(bolt: Fastener, torque: float) -> Known | None:
    """Stress of a bolt while it is tightened over the yield stress of its class, and its spread [-].

    None without thread, class or lubricant. The spread is that towards slippery threads, the wider side.
    """
    if bolt.thread is None or bolt.friction is None or bolt.strength is None:
        return None
    middle = _share(bolt, torque, 0.0)
    slippery = _share(bolt, torque, -1.0) - middle
    return Known(middle, math.hypot(slippery, middle * _set_to(bolt)))


def _share(bolt: Fastener, torque: float, deviations: float) -> float:
    assert bolt.thread is not None
    assert bolt.friction is not None
    assert bolt.strength is not None
    d, pitch = bolt.thread.major, bolt.thread.pitch
    friction = _friction(bolt.friction, deviations)
    force = preload_for_torque(torque, d, pitch, bearing_of(bolt), friction)
    return float(equivalent_stress(force, d, pitch, friction.thread)) / bolt.strength.yield_stress


def engagement_needed(bolt: Fastener) -> Known | None:
    """Thread that must be engaged so that the bolt breaks before the hole strips [m], play included.

    None in a nut (nuts of the bolt's class are made so) and where thread, class or hole are not stated.
    Spread: that of the hole's strength, and 10 % of the form.
    """
    if bolt.thread is None or bolt.strength is None or bolt.parent is None:
        return None
    found = stripping_length(
        bolt.thread.major, bolt.thread.pitch, bolt.parent.strength, bolt.strength.tensile
    )
    needed = PLAY * float(found.needed)
    by_hole = (
        bolt.parent.spread / bolt.parent.strength if float(found.internal) >= float(found.external) else 0.0
    )
    return Known(needed, needed * math.hypot(by_hole, 0.10))


def why_blank(bolt: Fastener) -> str:
    """Why a joint has no torque on the sheet, a sentence; '' where it has one."""
    if bolt.sourced:
        return _impossible(bolt)
    if bolt.torque is not None:
        return "A torque is stated, but not on which page of which manual it stands."
    if bolt.clamps in NEVER_OWN:
        return "Take it from the vehicle manual or the part's maker; it is never worked out here."
    if bolt.whose is Whose.CAR:
        return "Take it from the vehicle manual."
    if bolt.whose is Whose.PART:
        return "Take it from the sheet of the part's maker."
    window = own_window(bolt)
    return window.words if isinstance(window, Missing) else ""


def _impossible(bolt: Fastener) -> str:
    """Why a printed torque cannot be the right one, a sentence; '' for one that can."""
    if bolt.torque is None or bolt.angle is not None:
        return ""
    share = stress_share(bolt, bolt.torque.value)
    if share is None or share.value - _SURE * share.sd < _TORN:
        return ""
    return (
        f"The torque that is stated would bring the bolt to {100 * share.value:.0f} % of its yield, far past"
        " breaking: the figure, its unit, size or class is wrong. Read them again."
    )


def own_window(bolt: Fastener) -> Window | Missing:
    """The torques for a joint made for this conversion, by VDI 2230 at the lowest likely friction [N m].

    The upper one loads the bolt to 90 % of yield with the most slippery thread and a wrench that reads low,
    or the hole's thread to 80 % of stripping if that comes first.
    """
    if bolt.unread:
        return Missing(bolt.unread)
    wanting = [
        words
        for words, there in (
            ("size", bolt.thread is not None),
            ("class", bolt.strength is not None),
            ("lubricant", bolt.friction is not None),
            ("parent_material", bolt.in_nut or bolt.parent is not None),
            ("engaged_length", bolt.in_nut or bolt.engaged is not None),
        )
        if not there
    ]
    if wanting:
        return Missing(f"It can be worked out once the file states {_listed(wanting)}.")
    assert bolt.thread is not None
    assert bolt.strength is not None
    assert bolt.friction is not None
    d, pitch, bearing = bolt.thread.major, bolt.thread.pitch, bearing_of(bolt)
    slippery = _friction(bolt.friction, -_SURE)
    most = float(assembly_preload(bolt.strength.yield_stress, d, pitch, bearing, slippery, SHARE).force)
    bound = "bolt"
    strips = _strips_at(bolt)
    if strips is not None and STRIP_SHARE * strips < most:
        most, bound = STRIP_SHARE * strips, "thread"
    torque = float(torque_for_preload(most, d, pitch, bearing, slippery)) / (1.0 + _SURE * tool_of(bolt))
    return Window(WINDOW * torque, torque, bound)


def _strips_at(bolt: Fastener) -> float | None:
    """Force at which the hole's thread strips, at the lowest likely strength [N]; None in a nut."""
    needed = engagement_needed(bolt)
    if needed is None or bolt.engaged is None:
        return None
    assert bolt.thread is not None
    assert bolt.strength is not None
    breaks = bolt.strength.tensile * float(stress_area(bolt.thread.major, bolt.thread.pitch))
    shortest = max(bolt.engaged.value - _SURE * bolt.engaged.sd, 0.0)
    return breaks * shortest / (needed.value + _SURE * needed.sd)


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1]

"""The head bolts that a build states, and what they clamp with."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from boostwright.build.document import Build
from boostwright.errors import OutOfRange
from boostwright.library.bolts import bolt_strength
from boostwright.physics.bolts import Friction, assembly_preload
from boostwright.systems.fasteners import Fastener, Known, clamp_at
from boostwright.systems.fasteners.tightening import bearing_of
from boostwright.systems.stated.fasteners import bolt_thread, fasteners_of

__all__ = ["HeadBolts", "head_bolts_of", "on_steel_gasket"]

AROUND: Final = 4  # bolts around a cylinder where the file states none (common practice, no source)
SIZE: Final = "M10x1.5"  # the usual size in engines of this class (common practice, no source)
CLASS: Final = "10.9"  # the usual class (common practice, no source)
SHARE: Final = 0.95  # of yield that head bolts reach, mostly turned by angle (common practice, no source)
SHARE_SD: Final = 0.12  # of the clamp, from bolt to bolt; torque alone scatters more (common practice)
ASSUMED_SD: Final = 0.25  # of the clamp of bolts that nobody stated (judgement)
_OILED: Final = Friction(0.12, 0.12)
_SET: Final = {"fibre": (0.20, 0.07), "steel": (0.05, 0.02), "copper": (0.10, 0.05), "": (0.10, 0.07)}
"""Share of the clamp that the gasket's set takes, and its spread (common practice, no source)."""


class HeadBolts(NamedTuple):
    """What holds the head down on one cylinder."""

    each: Known  # clamp of one bolt, the gasket's set taken off [N]
    own: float  # bolts that count for one cylinder; one between two cylinders counts half for each [-]
    printed: bool  # whether the clamp is that of a printed torque
    missing: tuple[str, ...]  # fields that nobody stated

    @property
    def stand_in(self) -> str:
        """What stands in for the missing fields, in words."""
        around = f"{AROUND} around a cylinder" if "sealing.head_bolts" in self.missing else ""
        size = SIZE.partition("x")[0] if "sealing.head_bolt_size" in self.missing else ""
        marking = f"class {CLASS}" if "sealing.head_bolt_class" in self.missing else ""
        return ", ".join(one for one in (around, size, marking) if one)


def on_steel_gasket(clamp: float) -> float:
    """Clamp as tightened of which a gasket of layers of steel leaves so much [same unit]."""
    return clamp / (1.0 - _SET["steel"][0])


def head_bolts_of(build: Build) -> HeadBolts:
    """Head bolts of one cylinder.

    The clamp is that of a printed torque under [[fasteners]] where it can be worked out, else the usual one
    of their size and class by VDI 2230. n bolts around a cylinder of a row of c: n (1 + 1/c)/2 are its own.
    """
    around, size = build.get("sealing.head_bolts"), build.get("sealing.head_bolt_size")
    marking, kind = build.get("sealing.head_bolt_class"), build.get("sealing.gasket")
    force = _printed(build)
    printed = force is not None
    missing = tuple(
        field
        for field, there in (
            ("sealing.head_bolts", around is not None),
            ("sealing.head_bolt_size", printed or size is not None),  # a printed torque has its own
            ("sealing.head_bolt_class", printed or marking is not None),
        )
        if not there
    )
    count = AROUND if around is None else int(around.value)
    own = count * (1.0 + 1.0 / build.count("engine.cylinders")) / 2.0
    if force is not None and around is None:  # how many of them there are is not known
        force = Known(force.value, math.hypot(force.sd, ASSUMED_SD * force.value))
    if force is None:
        name = CLASS if marking is None else str(marking.value)
        force = _usual(SIZE if size is None else str(size.value), name, bool(missing))
    taken, taken_sd = _SET["" if kind is None else str(kind.value)]
    left = force.value * (1.0 - taken)
    return HeadBolts(
        Known(left, math.hypot(force.sd * (1.0 - taken), force.value * taken_sd)), own, printed, missing
    )


def _printed(build: Build) -> Known | None:
    """Clamp at a printed torque of the head bolts; None where there is none or the bolts are turned on."""
    for bolt in fasteners_of(build):
        if bolt.clamps == "head" and bolt.sourced and bolt.angle is None and bolt.torque is not None:
            return clamp_at(bolt, bolt.torque.value)
    return None


def _usual(size: str, marking: str, assumed: bool) -> Known:
    """Clamp of one bolt tightened as head bolts are. Raises OutOfRange for a size that is no bolt's."""
    thread, why = bolt_thread(size)
    if thread is None:
        raise OutOfRange(f"sealing.head_bolt_size: {why or 'nothing is written.'}")
    strength = bolt_strength(marking, thread.major)
    bearing = bearing_of(Fastener("head bolts", None, "head", thread=thread))
    force = float(
        assembly_preload(strength.yield_stress, thread.major, thread.pitch, bearing, _OILED, SHARE).force
    )
    return Known(force, force * (ASSUMED_SD if assumed else SHARE_SD))

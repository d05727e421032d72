"""What a bolted joint is, as far as it is known."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from boostwright.library.bolts import BoltMaterial, BoltStrength, FrictionRow, Gasket, Parent
from boostwright.library.threads import Thread

__all__ = ["Fastener", "Known", "Whose"]


class Known(NamedTuple):
    """A value and its standard deviation, both in one unit."""

    value: float
    sd: float


class Whose(Enum):
    """Who gives the torque of a joint."""

    CAR = "car"
    PART = "part"
    OWN = "own"


@dataclass(frozen=True, slots=True)
class Fastener:
    """One joint. What nobody stated is None."""

    name: str
    line: int | None  # in the build file
    clamps: str  # key of fasteners.clamps
    whose: Whose = Whose.CAR
    thread: Thread | None = None
    unread: str = ""  # why size or class could not be used, a sentence
    strength: BoltStrength | None = None
    material: BoltMaterial | None = None  # of the bolt
    count: int | None = None
    grip: Known | None = None  # [m]
    engaged: Known | None = None  # [m]
    parent: Parent | None = None  # None with `in_nut` False: not stated
    in_nut: bool = False
    clamped: BoltMaterial | None = None
    face: float | None = None  # outer diameter of the bearing face [m]
    friction: FrictionRow | None = None
    state: str = ""  # of thread and face, in words
    tool: str = ""  # key of the tools' table
    locking: str = ""
    gasket: Gasket | None = None
    opening: Known | None = None  # area on which the gas presses [m2]
    hangs_on: Known | None = None  # [kg]
    torque: Known | None = None  # as printed [N m]
    torque_band: bool = False  # the print gives a range of its own
    angle: float | None = None  # further turn [rad]
    page: str = ""  # where the torque is printed

    @property
    def thread_words(self) -> str:
        """The state of its thread, to follow 'with'."""
        if self.state.endswith("paste"):
            return f"{self.state} on the thread"
        return f"a thread that is {self.state}"

    @property
    def sourced(self) -> bool:
        """Whether a printed torque stands with its page."""
        return self.torque is not None and bool(self.page.strip())

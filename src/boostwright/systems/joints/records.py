"""A joint as a build states it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from boostwright.library.halves import Half
from boostwright.library.joint_materials import Figure, Material
from boostwright.library.seals import Seal

__all__ = ["Carried", "End", "Joint"]


class Carried(Enum):
    """What goes through a joint. The values are the words of the build file."""

    OIL = "oil"
    OIL_DRAIN = "oil-drain"
    COOLANT = "coolant"
    FUEL = "fuel"
    AIR = "air"
    COOLED_AIR = "cooled-air"
    EXHAUST = "exhaust"
    EXHAUST_OUT = "exhaust-out"
    CRANKCASE = "crankcase"
    SIGNAL = "vacuum"
    NOTHING = "none"


class End(NamedTuple):
    """One end of a joint, with what it stands."""

    port: str  # its name; '' for a half that is written in the joint itself
    part: str  # that it belongs to; '' when nobody said
    half: Half
    material: Material
    material_stated: bool
    pressure: Figure  # that it stands, above ambient [Pa]
    temperature: Figure  # lasting [K]
    ethanol: Figure  # greatest share in petrol [-]
    stated: frozenset[str]  # which of the three the build file states

    @property
    def name(self) -> str:
        """What it is called in an answer."""
        return self.port or self.half.name


@dataclass(frozen=True, slots=True)
class Joint:
    """One joint: two ends and what is between them."""

    name: str
    a: End
    b: End
    seals: frozenset[Seal]  # empty: not stated
    carries: Carried | None  # None: not stated
    tried: bool  # put together by hand
    tested: Figure | None  # above ambient [Pa]
    line: int | None = None  # in the build file

    @property
    def ends(self) -> tuple[End, End]:
        """Both ends."""
        return self.a, self.b

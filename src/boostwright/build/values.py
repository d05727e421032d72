"""A value as a person stated it: number, spread, source, place in the file."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any

from boostwright.quantity import PressureKind

__all__ = ["Source", "StatedValue"]


class Source(Enum):
    """Where a value comes from."""

    MEASURED = "measured"
    MAKER = "maker"
    HANDBOOK = "handbook"
    ASSUMED = "assumed"
    CHOSEN = "chosen"  # a wish or a setting: it is what the person says it is


@dataclass(frozen=True, slots=True)
class StatedValue:
    """One value of a build.

    `value` is SI for quantities (float, or a tuple of floats for a row; whole numbers as int), else str, bool
    or datetime.date. `sd` is one standard deviation in the same unit and shape; 0 for words, flags and
    choices. A pressure is counted as `kind` says. `line` is None for an assumed value.
    """

    path: str
    value: Any
    sd: Any
    source: Source
    line: int | None = None
    text: str = ""
    kind: PressureKind | None = None
    note: str = ""

    @property
    def assumed(self) -> bool:
        """True when nobody stated it and the default of the engine class stands in."""
        return self.source is Source.ASSUMED

"""How far a stated value may be from the truth."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Spread"]


@dataclass(frozen=True, slots=True)
class Spread:
    """One standard deviation as a fixed part [SI of the value] and a part in proportion to the value [-]."""

    fixed: float = 0.0
    proportional: float = 0.0

    def at(self, value: float) -> float:
        """The standard deviation of a value: sqrt(fixed^2 + (proportional value)^2) [SI of the value]."""
        return math.hypot(self.fixed, self.proportional * value)

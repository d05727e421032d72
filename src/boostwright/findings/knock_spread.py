"""How far the knock integral of this engine is off: its factor, and how knock goes with heat."""

from __future__ import annotations

import math
from typing import Final

from boostwright.findings.case import Case
from boostwright.findings.model import Kind
from boostwright.physics.knock import knock_warmth_score

__all__ = ["knock_spread"]

_UNKNOWN: Final = 0.25  # of the integral where nobody says (judgement)


def knock_spread(case: Case, end_gas: float) -> float:
    """Relative standard deviation [-] of the knock integral; end_gas: its peak temperature [K]."""
    factor = case.amount("model.knock", Kind.RATIO, "knock factor")
    level = case.left(_UNKNOWN) if factor is None or factor.sd is None else factor.sd / factor.value
    warmth = case.amount("model.knock_warmth", Kind.RATIO, "growth of knock with heat")
    if warmth is None or not warmth.sd or not math.isfinite(end_gas):
        return level
    return math.hypot(level, warmth.sd * float(knock_warmth_score(end_gas)))

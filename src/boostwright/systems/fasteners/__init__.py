"""Bolted joints of the conversion: their torque, what it does to the bolt, what clamp is left."""

from boostwright.systems.fasteners.record import Fastener, Known, Whose
from boostwright.systems.fasteners.sheet import Origin, SheetRow, sheet_row, torque_sheet
from boostwright.systems.fasteners.tightening import (
    NEVER_OWN,
    Missing,
    Window,
    clamp_at,
    engagement_needed,
    own_window,
    stress_share,
    why_blank,
)

__all__ = [
    "NEVER_OWN",
    "Fastener",
    "Known",
    "Missing",
    "Origin",
    "SheetRow",
    "Whose",
    "Window",
    "clamp_at",
    "engagement_needed",
    "own_window",
    "sheet_row",
    "stress_share",
    "torque_sheet",
    "why_blank",
]

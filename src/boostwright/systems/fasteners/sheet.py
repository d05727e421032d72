"""The torque sheet: for each joint its torque with its source, or a blank that is a hold point."""

from __future__ import annotations

import math
from collections.abc import Iterable
from enum import Enum
from typing import Final, NamedTuple

from boostwright.systems.fasteners.record import Fastener, Known
from boostwright.systems.fasteners.tightening import (
    NEVER_OWN,
    Window,
    clamp_at,
    engagement_needed,
    own_window,
    stress_share,
    why_blank,
)

__all__ = ["HOT", "Origin", "SheetRow", "sheet_row", "torque_sheet"]

HOT: Final = ("manifold", "turbine", "turbine-outlet")
"""Joints on the exhaust."""

_STRETCHED: Final = 0.95  # share of the class's yield from which the sheet warns (judgement)
_SLACK: Final = 0.12  # share below which a unit may have been mistaken (judgement)
_NO_WRENCH: Final = {"impact driver": "an impact driver", "by feel": "tightening by feel"}
_VAGUE: Final = 0.08  # spread of the engaged length over it from which the sheet says so (judgement)
_SHORT: Final = 4.0  # grip over diameter below which settling takes much of the clamp (common practice)


class Origin(Enum):
    """Where the torque of a row comes from."""

    PRINTED = "printed"
    COMPUTED = "computed"
    BLANK = "blank"


class SheetRow(NamedTuple):
    """One joint on the sheet. Torques [N m]; None where the row is blank."""

    bolt: Fastener
    origin: Origin
    low: float | None
    high: float | None
    source: str
    blank: str  # why it is a hold point; '' where it is none
    clamp: Known | None  # of one bolt in the middle of the window, as tightened [N]
    passes: tuple[float, ...]  # shares of the torque, one after the other [-]; none where they are printed
    order: str
    again: str  # when to tighten again
    notes: tuple[str, ...]

    @property
    def stops(self) -> bool:
        """Whether something speaks against tightening this joint as the row says."""
        return any(note.startswith("STOP") for note in self.notes)


def torque_sheet(bolts: Iterable[Fastener]) -> tuple[SheetRow, ...]:
    """The rows of all joints, in the order of the file."""
    return tuple(sheet_row(bolt) for bolt in bolts)


def sheet_row(bolt: Fastener) -> SheetRow:
    """One joint's row."""
    origin, low, high, source = _torque(bolt)
    middle = None if low is None or high is None else (low + high) / 2
    return SheetRow(
        bolt=bolt,
        origin=origin,
        low=low,
        high=high,
        source=source,
        blank=why_blank(bolt),
        clamp=None if middle is None or bolt.angle is not None else clamp_at(bolt, middle),
        passes=_passes(bolt),
        order=_order(bolt),
        again=_again(bolt),
        notes=_notes(bolt, origin, middle),
    )


def _torque(bolt: Fastener) -> tuple[Origin, float | None, float | None, str]:
    if bolt.sourced and not why_blank(bolt):
        assert bolt.torque is not None
        value, half = bolt.torque.value, 2.0 * bolt.torque.sd if bolt.torque_band else 0.0
        return Origin.PRINTED, value - half, value + half, bolt.page
    if why_blank(bolt):
        return Origin.BLANK, None, None, ""
    window = own_window(bolt)
    assert isinstance(window, Window)
    step = 0.5 if window.high < 20.0 else 1.0
    high = max(math.floor(window.high / step) * step, step)
    low = min(math.ceil(window.low / step) * step, high)
    bound = "90 % of the bolt's yield" if window.bound == "bolt" else "80 % of what strips the hole"
    return Origin.COMPUTED, low, high, f"computed, VDI 2230 from memory: {bound} at the lowest friction"


def _passes(bolt: Fastener) -> tuple[float, ...]:
    if bolt.clamps in NEVER_OWN:
        return ()  # its steps are printed with its torque
    count = bolt.count or 1
    if count >= 4:
        return (1 / 3, 2 / 3, 1.0)
    return (0.5, 1.0) if count > 1 else (1.0,)


def _order(bolt: Fastener) -> str:
    if bolt.clamps in NEVER_OWN:
        return "in the manual's order and steps"
    return "crosswise, from the middle outward" if (bolt.count or 1) >= 4 else "turn about"


def _again(bolt: Fastener) -> str:
    """When to tighten again. Common practice, no source; the manual's own schedule wins."""
    if bolt.clamps in NEVER_OWN:
        return "as the manual says"
    if bolt.angle is not None:
        return "never: turned by angle; new bolts when it was apart"
    if bolt.locking == "adhesive":
        return "never: it breaks the thread lock; take apart, clean, renew"
    if bolt.locking == "tab":
        return "before the tab is bent; never after"
    if bolt.clamps in HOT:
        return "cold: after the first heat, after 50 km, after 500 km"
    if bolt.gasket is not None and bolt.gasket.set > 0.0:
        return "cold: after the first heat"
    return "paint a mark; look at it after 50 km and 500 km"


def _warnings(bolt: Fastener, torque: float | None) -> list[str]:
    """What speaks against the torque of the row: a tool that sets none, a bolt that it stretches, a hole that
    it may strip.
    """
    said = []
    if torque is not None and bolt.tool in _NO_WRENCH:
        said.append(f"STOP: {_NO_WRENCH[bolt.tool]} sets no torque. Use a torque wrench.")
    share = None if torque is None or bolt.angle is not None else stress_share(bolt, torque)
    if share is not None and share.value > _STRETCHED:
        said.append(
            f"STOP: with {bolt.thread_words} this torque brings the bolt to {100 * share.value:.0f} % of"
            " yield. Ask for which state of the thread it is printed."
        )
    if share is not None and share.value < _SLACK:
        said.append(
            f"This torque brings the bolt to {100 * share.value:.0f} % of yield only: look at the unit again,"
            " 1 kgf m is 9.8 N m and 1 lbf ft is 1.36 N m."
        )
    needed = engagement_needed(bolt)
    if needed is not None and bolt.engaged is not None and bolt.engaged.value < needed.value:
        said.append(
            f"STOP: {1e3 * bolt.engaged.value:.1f} mm of thread engaged; the hole strips before the bolt"
            f" breaks below {1e3 * needed.value:.1f} mm."
        )
    return said


def _notes(bolt: Fastener, origin: Origin, torque: float | None) -> tuple[str, ...]:
    notes = _warnings(bolt, torque)
    if bolt.unread and origin is not Origin.BLANK:
        notes.append(bolt.unread)
    engaged = bolt.engaged
    if origin is Origin.COMPUTED and engaged is not None and engaged.sd > _VAGUE * engaged.value:
        notes.append(
            f"It counts on {1e3 * max(engaged.value - 2.0 * engaged.sd, 0.0):.1f} mm of thread only: the"
            f" {1e3 * engaged.value:.0f} mm of the file are known to {2e3 * engaged.sd:.1f} mm. Measure it."
        )
    if bolt.locking == "nut":
        notes.append("A locking nut takes torque of its own: read it while it runs down, and add it.")
    if bolt.thread is not None and bolt.grip is not None and bolt.grip.value < _SHORT * bolt.thread.major:
        notes.append("Short grip: as the faces settle much of the clamp goes; a sleeve under the head helps.")
    if bolt.clamps in HOT and bolt.state in ("dry", "oiled"):
        notes.append("Dry or oiled threads seize with heat: ask whether the maker wants paste.")
    if bolt.clamps in HOT and bolt.locking in ("", "none"):
        notes.append("Heat works nuts loose: ask for metal locking nuts, a tab or wire; plastic rings melt.")
    if bolt.clamps in HOT and bolt.locking == "adhesive":
        notes.append("Thread lock gives way with heat: it does not keep a bolt on the exhaust from turning.")
    if bolt.state == "stainless, dry":
        notes.append("Stainless on stainless galls when dry: it may seize before it is tight.")
    return tuple(notes)

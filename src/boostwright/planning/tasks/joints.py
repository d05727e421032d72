"""What a task tightens: each joint's torque with where it comes from, or that there is none."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from boostwright.planning.task import Hold
from boostwright.planning.tasks.ground import Ground
from boostwright.quantity import Dimension, write
from boostwright.systems.fasteners import SheetRow

__all__ = ["Tightened", "held_back", "tightened"]

KINDS = {
    "manifold": "exhaust manifold on the head",
    "turbine": "turbo on the manifold",
    "turbine-outlet": "down pipe on the turbo",
    "charge": "flanges of the charge pipes",
    "oil": "oil fittings",
    "coolant": "coolant fittings",
    "fuel": "fuel fittings",
    "support": "stays and brackets",
}
"""What the builder is told is missing from [[fasteners]], by `fasteners.clamps`."""
_ASKED = frozenset({"manifold", "turbine", "turbine-outlet"})  # without these the plan has no torque to give


class Tightened(NamedTuple):
    """names: of [[fasteners]]. words: one sentence a joint. blank: those that may not be tightened yet."""

    names: tuple[str, ...]
    words: tuple[str, ...]
    blank: tuple[str, ...]


def tightened(ground: Ground, kinds: Iterable[str], again: bool = False) -> Tightened:
    """The joints of these kinds (`fasteners.clamps`), with torque and source as on the torque sheet.

    A kind that carries the turbo and of which the file has no joint counts as blank as well. again: the
    sentence is that of a second round.
    """
    sheet = ground.torque_sheet
    names: list[str] = []
    words: list[str] = []
    blank: list[str] = []
    for kind in kinds:
        found = ground.fasteners(kind)
        if not found and kind in _ASKED:
            blank.append(f"{KINDS[kind]}: no [[fasteners]] in the file")
        for name in found:
            row = sheet.get(name)
            if row is not None and again and row.again.startswith("never"):
                words.append(f"{name}: not again ({row.again}).")
                continue
            names.append(name)
            blank.extend(f"{name}: {why}" for why in _why_blank(row))
            if row is not None and row.low is not None:
                words.append(_sentence(name, row, again))
    return Tightened(tuple(names), tuple(words), tuple(blank))


def _why_blank(row: SheetRow | None) -> tuple[str, ...]:
    """Why such a joint may not be tightened yet; nothing where it may."""
    if row is None:
        return ("not on the torque sheet",)
    if row.low is None:
        return (row.blank or "no torque with its page",)
    return tuple(note for note in row.notes if note.startswith("STOP"))[:1]


def held_back(hold: Hold | None, blank: tuple[str, ...]) -> Hold | None:
    """The hold of a task with joints that have no torque: it stops before it would tighten them."""
    if not blank:
        return hold
    listed = "; ".join(why.rstrip(".") for why in blank)
    rule = f"Not tightened before its torque, with its page, and its tool are settled: {listed}."
    if hold is None:
        return Hold(rule, ("torque_found",))
    return Hold(f"{hold.rule} {rule}", (*hold.readings, "torque_found"), hold.witness, hold.never)


def _sentence(name: str, row: SheetRow, again: bool) -> str:
    assert row.low is not None
    assert row.high is not None
    low, high = (write(value, "Nm", Dimension.TORQUE, digits=3) for value in (row.low, row.high))
    torque = low if low == high else f"{low.removesuffix(' Nm')} to {high}"
    passes = ""
    if row.passes and not again:
        passes = " in rounds of " + ", ".join(f"{100.0 * share:.0f} %" for share in row.passes)
    return f"{name}: {torque}{passes}, {row.bolt.count} off ({row.source})."

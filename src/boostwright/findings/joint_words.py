"""Words that the findings on joints share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from boostwright.findings.joint_case import plain
from boostwright.findings.model import Amount, Kind, Place
from boostwright.systems.joints import Joint

__all__ = ["FULL_TURNS", "MOST_NAMED", "count_of", "names_of", "place_of"]

FULL_TURNS: Final = 4  # of thread engaged before a joint is trusted [-] (common practice, no source)
MOST_NAMED: Final = 6  # joints named in one sentence


def place_of(joint: Joint) -> Place:
    """The joint as a place, with its line in the file."""
    line = f", line {joint.line} of the file" if joint.line is not None else ""
    return Place(words=f"{plain(joint.name)}{line}")


def names_of(joints: Sequence[Joint]) -> str:
    """The names of joints in a row, the first few."""
    listed = ", ".join(plain(joint.name) for joint in joints[:MOST_NAMED])
    more = len(joints) - MOST_NAMED
    return listed + (f" and {more} more" if more > 0 else "")


def count_of(number: int, name: str) -> Amount:
    """A number of joints as an amount."""
    return Amount(float(number), 0.0, Kind.COUNT, name)

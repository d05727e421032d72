"""How a line is made from a row of the table of supplies, and how lines that are one are laid together."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

from boostwright.library.supplies import Supply, odds, supplies
from boostwright.planning.parts.records import GUESS, Ask, Band, Group, Line, lead_of

__all__ = ["Gathered", "cost_of", "made", "question"]


def cost_of(supply: Supply | None, quantity: float | None) -> Band:
    """What so much of it costs [EUR], by whole packs; one pack where the quantity is to be found out."""
    if supply is None:
        return Band(*GUESS, "a guess")
    packs = max(1, -int(-(quantity or 0.0) // supply.pack)) if quantity is not None else 1
    amount = packs * supply.pack
    return Band(supply.price[0] * amount, supply.price[1] * amount, supply.source)


def made(
    key: str,
    group: Group,
    supply: Supply | None,
    what: str = "",
    quantity: float | None = 1.0,
    *,
    joints: Iterable[str] = (),
    tasks: Iterable[str] = (),
    asks: Iterable[Ask] = (),
    tried: bool = False,
    needed: bool = True,
    other: str = "",
    note: str = "",
    unit: str | None = None,
) -> Line:
    """A line for so much of a supply; what: in full, else the supply's own words."""
    spread = odds().lead_spread
    return Line(
        key=key,
        group=group,
        what=what or (supply.words if supply else key),
        item=supply.key if supply else "",
        quantity=quantity,
        unit=(supply.unit if supply else "") if unit is None else unit,
        where=supply.where if supply else "post",
        cost=cost_of(supply, quantity),
        lead=lead_of(supply, spread),
        joints=tuple(joints),
        tasks=tuple(tasks),
        asks=tuple(asks),
        tried=tried,
        needed=needed,
        other=other or (supply.other if supply else ""),
        note=note,
    )


def question(
    key: str, words: str, joints: Iterable[str] = (), tasks: Iterable[str] = (), kind: str = "joint"
) -> Line:
    """A line that is a question: something that is asked for and that nothing in the build answers."""
    supply = supplies()["fitting"]
    line = made(f"find.{key}", Group.FIND, supply, words, joints=joints, tasks=tasks, asks=[Ask(kind, words)])
    return dataclasses.replace(line, other="")


class Gathered:
    """Lines by their keys, in order; one key is one line."""

    def __init__(self) -> None:
        self.lines: dict[str, Line] = {}

    def add(self, line: Line) -> None:
        """Put a line in; one whose key is there already gets a number behind it."""
        key, number = line.key, 1
        while key in self.lines:
            number += 1
            key = f"{line.key}-{number}"
        self.lines[key] = dataclasses.replace(line, key=key)

    def more(self, line: Line) -> None:
        """Put a line in, or make the line of its key larger by it."""
        old = self.lines.get(line.key)
        if old is None:
            self.lines[line.key] = line
            return
        amount = None if old.quantity is None or line.quantity is None else old.quantity + line.quantity
        grown = old.also(line.joints, line.tasks)
        supply = supplies().get(old.item)
        self.lines[line.key] = dataclasses.replace(
            grown,
            quantity=amount,
            cost=cost_of(supply, amount),
            asks=tuple(dict.fromkeys((*old.asks, *line.asks))),
            tried=old.tried and line.tried,
        )

    def share(self, line: Line) -> None:
        """Put a line in, or let the line of its key serve these joints and tasks, too: one tube of paste."""
        old = self.lines.get(line.key)
        self.lines[line.key] = line if old is None else old.also(line.joints, line.tasks)

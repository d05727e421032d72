"""Reading of ``tasks/open_things.toml``: what may stand open on a car, and the states it may be left in."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from boostwright.library import read_text
from boostwright.quantity import Dimension, read

__all__ = ["NoReturn", "OpenThing", "OpenThings", "SafeState", "open_things"]

MINUTE = 60.0
Three = tuple[float, float, float]
"""All goes well, the likeliest, hardly anyone takes longer [s]."""


@dataclass(frozen=True, slots=True)
class OpenThing:
    """One thing that stands open.

    overnight: it may stay as it is with nobody there. close: how to shut it for the night, close_time [s] by
    crew people. stays: how long, once shut [s]. drives: the car may be driven so. forbid: what nobody may
    do meanwhile. undo_time: work to make it whole as it was [s], then undo_lag to wait [s], with at_hand.
    """

    key: str
    words: str
    why: str
    overnight: bool
    close: tuple[str, ...]
    close_time: Three
    crew: int
    stays: float
    drives: bool
    forbid: tuple[str, ...]
    undo_time: Three
    undo_lag: float
    undo_why: str
    at_hand: tuple[str, ...]
    opened_by: tuple[str, ...] = ()  # tasks beside those that say so themselves
    closed_by: tuple[str, ...] = ()
    runs: bool = True  # the engine may be run with it

    def opens_at(self, key: str, opens: Sequence[str]) -> bool:
        """Whether a task of this key, which itself says what it opens, opens it."""
        return self.key in opens or key in self.opened_by

    def closes_at(self, key: str, closes: Sequence[str]) -> bool:
        """Whether a task of this key, which itself says what it closes, closes it."""
        return self.key in closes or key in self.closed_by


@dataclass(frozen=True, slots=True)
class SafeState:
    """A state in which the car may be left. proof: tasks that must be done, as far as the plan has them. may:
    what may stand open. shut: what may not stay overnight is shut for the night. before: phases of which
    nothing may have been begun at the car, and tasks likewise. drives: how it drives. moves: whether it does.
    """

    key: str
    words: str
    proof: tuple[str, ...]
    may: frozenset[str]
    before: tuple[str, ...]
    drives: str
    moves: bool
    stays: float


@dataclass(frozen=True, slots=True)
class NoReturn:
    """A task after which there is no way back as if nothing had been, and what must be at hand before."""

    task: str
    words: str
    at_hand: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenThings:
    """The whole table; states from nothing done to all done. runs_engine: tasks that run the engine."""

    things: Mapping[str, OpenThing]
    states: Mapping[str, SafeState]
    no_return: Mapping[str, NoReturn]
    runs_engine: frozenset[str] = frozenset()


@cache
def open_things() -> OpenThings:
    """The table, read once. Raises ValueError for a row that cannot be."""
    table = tomllib.loads(read_text("tasks/open_things.toml"))
    things = {key: _thing(key, row) for key, row in table["things"].items()}
    states = {key: _state(key, row) for key, row in table["states"].items()}
    for state in states.values():
        if not state.may <= things.keys():
            raise ValueError(f"state '{state.key}' names {sorted(state.may - things.keys())}: no things")
    points = {
        key: NoReturn(key, row["words"], tuple(row["at_hand"])) for key, row in table["no_return"].items()
    }
    return OpenThings(things, states, points, frozenset(table["runs_engine"]))


def _three(minutes: Any, key: str) -> Three:
    low, likely, high = (MINUTE * float(m) for m in minutes)
    if not 0.0 <= low <= likely <= high:
        raise ValueError(f"'{key}': minutes must rise")
    return low, likely, high


def _seconds(text: str) -> float:
    return read(text, Dimension.TIME).value


def _thing(key: str, row: Mapping[str, Any]) -> OpenThing:
    if not row["overnight"] and "close" not in row:
        raise ValueError(f"'{key}' may not stay overnight and nobody says how to shut it")
    return OpenThing(
        key,
        row["words"],
        row["why"],
        row["overnight"],
        tuple(row.get("close", ())),
        _three(row.get("minutes", (0, 0, 0)), key),
        int(row.get("crew", 1)),
        _seconds(row["stays"]),
        row["drives"],
        tuple(row.get("forbid", ())),
        _three(row["undo"], key),
        _seconds(row.get("undo_lag", "0 h")),
        row.get("undo_why", ""),
        tuple(row.get("at_hand", ())),
        tuple(row.get("opened_by", ())),
        tuple(row.get("closed_by", ())),
        bool(row.get("runs", True)),
    )


def _state(key: str, row: Mapping[str, Any]) -> SafeState:
    return SafeState(
        key,
        row["words"],
        tuple(row["proof"]),
        frozenset(row["may"]),
        tuple(row["before"]),
        row["drives"],
        bool(row["moves"]),
        _seconds(row["stays"]),
    )

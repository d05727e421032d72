"""Reading of ``working_hours.toml``: what skills may act as, places, and the rules of a working day."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from boostwright.library import read_text
from boostwright.quantity import Dimension, read

__all__ = ["Shop", "WorkingHours", "working_hours"]

Clock = tuple[str, str]
"""From when until when on one day, as 'HH:MM'."""


@dataclass(frozen=True, slots=True)
class Shop:
    """A machine shop or welder from outside, with opening hours."""

    name: str
    week: tuple[Clock, ...]
    saturday: tuple[Clock, ...]


@dataclass(frozen=True, slots=True)
class WorkingHours:
    """acts_as: skill -> crew names. places: how many tasks at once. hands_on_most: of one person on one day
    [s]. close_down: left free at the end of a day [s]. after_weeks: how far the plan looks past the end.
    start, end, evenings: what stands in for those that are not stated. desk, ends, goals, evening_phases,
    milestones: what the hours are for, as the table says.
    """

    acts_as: Mapping[str, frozenset[str]]
    places: Mapping[str, int]
    shop: Shop
    hands_on_most: float
    latest: str
    close_down: float
    after_weeks: int
    start: str
    end: str
    evenings: int
    desk: frozenset[str]
    ends: frozenset[str]
    goals: tuple[str, ...]
    evening_phases: frozenset[str]
    milestones: Mapping[str, str]


@cache
def working_hours() -> WorkingHours:
    """The table, read once."""
    table = tomllib.loads(read_text("working_hours.toml"))
    rules, usual, shop, scope = table["rules"], table["usual"], table["shop"], table["scope"]
    return WorkingHours(
        {skill: frozenset(names) for skill, names in table["acts_as"].items()},
        dict(table["places"]),
        Shop(
            shop["name"],
            tuple((a, b) for a, b in shop["week"]),
            tuple((a, b) for a, b in shop["saturday"]),
        ),
        read(rules["hands_on_most"], Dimension.TIME).value,
        rules["latest"],
        read(rules["close_down"], Dimension.TIME).value,
        int(rules["after_weeks"]),
        usual["start"],
        usual["end"],
        int(usual["evenings"]),
        frozenset(scope["desk"]),
        frozenset(scope["ends"]),
        tuple(scope["goals"]),
        frozenset(scope["evening_phases"]),
        dict(table["milestones"]),
    )

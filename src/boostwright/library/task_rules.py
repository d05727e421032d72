"""Reading of ``task_rules.toml``: numbers behind the odds, times and amounts of tasks, in SI."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text
from boostwright.quantity import Dimension, read

__all__ = ["TaskRules", "task_rules"]


class StudState(NamedTuple):
    """By how rusty studs are: factors on odds and on the time for the nuts; whether all are had as spares."""

    odds: float
    minutes: float
    spare_all: bool


class TaskRules(NamedTuple):
    """stud_distance [m] against stud_odds [-] of one stud; times [s]; lengths [m]; the rest factors.
    hollow_odds: by the kind of manifold [-].
    """

    stud_distance: tuple[float, ...]
    stud_odds: tuple[float, ...]
    stud_odds_unknown: float
    studs_for_each_port: int
    stud_median: float
    stud_ninth: float
    stud_shortest: float
    stud_states: Mapping[str, StudState]
    hollow_odds: Mapping[str, float]
    hollow_odds_unknown: float
    pipe_again: float
    clip_every: float
    cable_spare: float
    fuel_spare: float
    drain_spare: float
    least_drain: float
    fuel_reserve: float
    test_over_spring: float


@cache
def task_rules() -> TaskRules:
    """The file's numbers."""
    raw = tomllib.loads(read_text("task_rules.toml"))
    stud = raw["broken_stud"]

    def length(text: str) -> float:
        return read(text, Dimension.LENGTH).value

    return TaskRules(
        stud_distance=tuple(length(text) for text in stud["distance"]),
        stud_odds=tuple(stud["odds"]),
        stud_odds_unknown=stud["unknown"],
        studs_for_each_port=stud["studs_for_each_port"],
        stud_median=60.0 * stud["median"],
        stud_ninth=60.0 * stud["ninth"],
        stud_shortest=60.0 * stud["shortest"],
        stud_states={name: StudState(**row) for name, row in stud["state"].items()},
        hollow_odds=raw["hollow_flange"]["odds"],
        hollow_odds_unknown=raw["hollow_flange"]["unknown"],
        pipe_again=raw["pipe_again"]["odds"],
        clip_every=length(raw["cable"]["clip_every"]),
        cable_spare=raw["cable"]["spare"],
        fuel_spare=raw["hose"]["fuel_spare"],
        drain_spare=raw["hose"]["drain_spare"],
        least_drain=length(raw["hose"]["least_drain"]),
        fuel_reserve=raw["fuel_test"]["reserve"],
        test_over_spring=raw["leak_test"]["over_spring"],
    )

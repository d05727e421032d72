"""Every pull beside the model at its own logged condition: bands, and findings where they part.

The cycle runs at the speed, manifold pressure, charge temperature, lambda and spark that were logged, so a
pull on a hot day or with little boost is held against itself. What of the car, its sensors and the model
nobody knows makes the band.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.beside import Row, rows_beside
from boostwright.drive.car import car_of, coast_of, with_coast
from boostwright.drive.knock_beside import KnockLine, knock_lines, knock_notices
from boostwright.drive.model_at import Predicted, predicted
from boostwright.drive.outside import Outside, outside_of
from boostwright.drive.points import Points, points_of
from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.drive.road_power import RoadPower, road_power
from boostwright.drive.rows import Rows
from boostwright.drive.unknowns import Unknown, unknowns_of
from boostwright.library.notice_kinds import notice_kinds
from boostwright.library.off_the_model import off_the_model
from boostwright.planning.ladder.conditions import Condition

__all__ = ["Compared", "Expectation", "condition_for", "expect"]

Array = NDArray[np.float64]

_KIND = "off-the-model"
_FUEL_KIND = "fuel-off-the-model"  # for what decides whether the engine gets its fuel
_FEEDS = frozenset({"air_meter", "air_injectors", "rail"})
_BY_TARGET = 5.0e3  # beyond what the spring holds, from which a pull was at the boost asked for [Pa]


@dataclass(frozen=True, slots=True)
class Compared:
    """One quantity of one pull, arrays (m,) by time, SI: what a plot draws.

    read_sd: of the readings alone; expected_sd: of model, sensors and car together.
    """

    key: str
    words: str
    dimension: str
    stretch: Stretch
    time: Array
    speed: Array
    rows: NDArray[np.int64]
    read: Array
    read_sd: Array
    expected: Array
    expected_sd: Array

    @property
    def ratio(self) -> Array:
        """Reading less expectation in standard deviations of both."""
        return np.asarray((self.read - self.expected) / np.hypot(self.read_sd, self.expected_sd))


@dataclass(frozen=True, slots=True)
class Expectation:
    """The pulls of one drive beside the model. notices: where they part by more than both spreads.

    unknowns: what makes the bands. rows: the same readings over all pulls, with their slopes. cannot: what
    could not be compared, and why.
    """

    outside: Outside
    powers: tuple[RoadPower, ...]
    points: Points
    model: Predicted
    unknowns: tuple[Unknown, ...]
    rows: tuple[Row, ...]
    compared: tuple[Compared, ...]
    knock: tuple[KnockLine, ...]
    notices: tuple[Notice, ...]
    cannot: tuple[str, ...]

    @property
    def spreads(self) -> Mapping[str, float]:
        """Standard deviation of every unknown, by name."""
        return {u.name: u.sd for u in self.unknowns}


def expect(
    build: Build,
    drive: Rows,
    pulls: Sequence[Stretch],
    conditions: tuple[Condition, Condition | None] | None = None,
    steady: Sequence[Stretch] = (),
) -> Expectation:
    """The pulls of a drive beside the model.

    drive: all rows. pulls: by time. conditions: of the match at this day's air
    (`planning.ladder.conditions_for`), for boost and exhaust pressure; None: boost is not compared, exhaust
    pressure is usual. steady: further stretches, for learning; they raise no notice. Raises OutOfRange where
    the log lacks a channel that the cycle needs.
    """
    outside = outside_of(drive, build)
    condition = condition_for(drive, pulls, conditions)
    car = car_of(build)
    car = with_coast(car, coast_of(drive, car, outside))
    powers = tuple(road_power(s, drive, car, outside) for s in pulls)
    back = None if condition is None or condition.speed.size < 2 else (condition.speed, condition.back)
    cooler = 0.0 if build.words("cooler.type") == "none" else build.number("cooler.effectiveness")
    points = points_of(drive, [*pulls, *steady], outside, back, cooler)
    model = predicted(build, points)
    had = [k for k, p in enumerate(powers) if not p.refused]
    scale = float(np.median([powers[k].scale_sd for k in had])) if had else None
    unknowns = unknowns_of(build, scale, had, points, condition is not None and condition.intake.size > 1)
    rows = rows_beside(build, points, model, outside, powers, condition)
    sds = {u.name: u.sd for u in unknowns}
    in_pull = points.pull < len(pulls)
    compared = tuple(c for row in rows for c in _by_pull(row, points, sds, in_pull))
    knock = knock_lines(points, model, sds, len(pulls))
    notices = [*_notices(compared), *knock_notices(knock)]
    return Expectation(
        outside,
        powers,
        points,
        model,
        unknowns,
        rows,
        compared,
        knock,
        tuple(sorted(notices, key=lambda n: -n.ratio)),
        _cannot(rows, points, powers, condition),
    )


def condition_for(
    drive: Rows, pulls: Sequence[Stretch], conditions: tuple[Condition, Condition | None] | None
) -> Condition | None:
    """The condition that the drive's pulls are nearest to: on the spring, or at the boost asked for.

    By the boost target where one is logged, else by the highest settled pressure.
    """
    if conditions is None:
        return None
    spring, goal = conditions
    if goal is None or not spring.pressure.size or not goal.pressure.size:
        return spring if goal is None or spring.pressure.size else goal
    top = float(np.max(spring.pressure)) + _BY_TARGET
    highest = []
    for stretch in pulls:
        part = drive.of(stretch)
        key = "boost_target" if part.has("boost_target") else "manifold_pressure"
        if part.has(key):
            highest.append(float(np.nanquantile(part.get(key), 0.9)))
    return goal if highest and float(np.median(highest)) > top else spring


def _by_pull(row: Row, points: Points, sds: Mapping[str, float], use: NDArray[np.bool_]) -> list[Compared]:
    band = row.band(sds)
    read, expected = (np.exp(v) if row.log else v for v in (row.read, row.expected))
    scale = expected if row.log else 1.0
    found = []
    for k in np.unique(points.pull[row.at]):
        mine = np.flatnonzero((points.pull[row.at] == k) & use[row.at])
        if not mine.size:
            continue
        at = row.at[mine]
        found.append(
            Compared(
                row.key,
                row.words,
                row.dimension,
                points.pulls[int(k)],
                points.time[at],
                points.speed[at],
                np.column_stack([points.first_row[at], points.last_row[at]]),
                read[mine],
                (row.own_sd * scale)[mine],
                expected[mine],
                (band * scale)[mine],
            )
        )
    return found


def _notices(compared: Sequence[Compared]) -> list[Notice]:
    """One notice for each pull and quantity that parts; where most pulls do, one for the drive."""
    found: list[Notice] = []
    limits = notice_kinds()[_KIND].limits
    for key in dict.fromkeys(c.key for c in compared):
        if key == "duty":  # the air by the injectors once more
            continue
        for sign in (1.0, -1.0):
            mine = [n for c in compared if c.key == key and (n := _notice(c, sign)) is not None]
            every = sum(c.key == key for c in compared)
            if len(mine) > 1 and len(mine) > limits["most"] * every:
                worst = max(mine, key=lambda n: n.ratio)
                note = f"In {len(mine)} of {every} pulls; the worst is shown. {worst.note}"
                found.append(worst._replace(note=note))
            else:
                found += mine
    return found


def _notice(one: Compared, sign: float) -> Notice | None:
    limits = notice_kinds()[_KIND].limits
    ratio = sign * one.ratio
    run = _longest(ratio > limits["spreads"])
    if run is None or run[1] - run[0] < min(limits["steps"], max(2, one.time.size)):
        return None
    part = slice(*run)
    off = float(np.median((one.read - one.expected)[part]))
    sd = float(np.median(np.hypot(one.read_sd, one.expected_sd)[part]))
    look = off_the_model()[one.key]
    side, where = ("above", look.above) if sign > 0 else ("below", look.below)
    middle = Reading(
        "crank speed", float(np.median(one.speed[part])), 0.0, "speed of rotation", "engine_speed"
    )
    expected = Reading(f"{one.words}, expected", float(np.median(one.expected[part])), sd, one.dimension)
    return Notice(
        _FUEL_KIND if one.key in _FEEDS else _KIND,
        True,
        float(one.time[part][0]),
        float(one.time[part][-1]),
        int(one.rows[part][0, 0]),
        int(one.rows[part][-1, 1]),
        Reading(f"{one.words}, {side} the model by", off, sd, one.dimension, look.channels[0]),
        float(np.median(ratio[part])),
        look.channels,
        one.stretch,
        (expected, middle),
        f"Look first at: {'; '.join(where)}.",
    )


def _longest(mask: NDArray[np.bool_]) -> tuple[int, int] | None:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    if not edges.size:
        return None
    starts, ends = edges[::2], edges[1::2]
    i = int(np.argmax(ends - starts))
    return int(starts[i]), int(ends[i])


def _cannot(
    rows: Sequence[Row], points: Points, powers: Sequence[RoadPower], condition: Condition | None
) -> tuple[str, ...]:
    found = list(points.left_out)
    if points.stand_in:
        names = ", ".join(key.replace("_", " ") for key in points.stand_in)
        found.append(
            f"Not in the log, and worked out or taken from its target: {names}; the bands are wider."
        )
    have = {row.key for row in rows}
    if "torque" not in have:
        why = next((p.refused[0] for p in powers if p.refused), "the log holds no pull")
        found.append(f"Torque: {why}")
    if not have & {"air_meter", "air_injectors"}:
        found.append("Air: neither an air meter nor the injectors' time or duty is in the log.")
    if "exhaust" not in have:
        found.append("Exhaust temperature: no probe before the turbine is in the log.")
    if "rail" not in have:
        found.append("Fuel pressure: not in the log; the regulator's setting stands in.")
    if condition is None:
        found.append("Boost: held against the match only where that was computed for this day.")
    elif "boost" not in have:
        found.append(f"Boost: {condition.why_not or 'no settled boost inside the speeds of the match.'}")
    if not points.back_logged:
        found.append(
            "Exhaust pressure is not in the log; it is worked out, to a quarter of its gauge reading."
        )
    if not np.isfinite(points.mean.get("battery_voltage", np.array([np.nan]))).any():
        found.append("Voltage is not in the log; injectors are taken at their usual voltage.")
    return tuple(found)

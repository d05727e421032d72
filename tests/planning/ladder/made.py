"""A hand-made engine at its two conditions, and records that climb: invented; no model computed it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.job.records import Override, Reading, Record, Step, TaskEvent, new_id
from boostwright.library.measurements import measurements
from boostwright.planning.ladder import Change, Condition, Ladder, Rung, air_of, ladder_for
from boostwright.planning.ladder.conditions import limits_of
from boostwright.planning.tasks import tasks_for

RPM = math.pi / 30.0
BEGAN = datetime(2026, 5, 2, 8, 0, tzinfo=UTC)


@cache
def build() -> Build:
    """The sound demo build."""
    return verbs.demo_build("sound")


def at(minutes: float) -> str:
    """A moment of the job: minutes after it began."""
    return (BEGAN + timedelta(minutes=minutes)).isoformat(timespec="milliseconds")


def condition(boost: float = 25.0e3, of: Build | None = None, **other: object) -> Condition:
    """A condition with so much boost from 2500 rpm on [Pa]; `other` replaces fields of it."""
    made = build() if of is None else of
    air = air_of(made)
    speed = np.arange(1000.0, 6250.0, 500.0) * RPM
    reach = np.clip((speed / RPM - 1000.0) / 1500.0, 0.1, 1.0)
    share = 1.0 + boost / 1e5
    n = speed.size
    plain = Condition(
        air, limits_of(made), speed=speed,
        pressure=air.pressure + boost * reach, pressure_sd=np.full(n, 6.0e3),
        lam=np.full(n, 0.80), duty=0.55 * share * speed / speed[-1], duty_sd=np.full(n, 0.02),
        rail=np.full(n, 2.95e5), rail_set=np.full(n, 2.95e5), rail_sd=np.full(n, 6.0e3),
        intake=np.full(n, 300.0) + 3e-4 * boost * reach, intake_sd=np.full(n, 3.0),
        exhaust=950.0 + 100.0 * speed / speed[-1], back=0.4 + 1.2 * speed / speed[-1],
        air_flow=0.1 * share * speed / speed[-1], power=95e3 * share * speed / speed[-1],
        crankcase=np.full(n, 300.0), crankcase_sd=0.3, soak=308.0, idle=34.0e3, head=1.2e3,
    )  # fmt: skip
    return replace(plain, **other)  # type: ignore[arg-type]


def ladder(
    records: Iterable[Record] = (),
    spring: Condition | None = None,
    changes: tuple[Change, ...] = (),
    of: Build | None = None,
) -> Ladder:
    """The ladder of the sound build on the hand-made engine."""
    goal = condition(38.0e3, of)
    made = build() if of is None else of
    both = (condition(of=of) if spring is None else spring, goal)
    return ladder_for(made, None, tuple(records), conditions=both, changes=changes)


def tasks_done(found: Ladder, minutes: float = -60.0) -> list[Record]:
    """Every task that any step waits for, done before the climb."""
    named = dict.fromkeys(task for rung in found.rungs for task in rung.tasks)
    return [TaskEvent(new_id(), "N", at(minutes), task, Step.DONE.value) for task in named]


SOUND = {"turbo_axial_play": 5e-5, "turbo_radial_play": 4e-4, "leak_down": 0.06}
"""Readings of sound parts [SI], where the middle of the limits is a tired one."""


def good_values(name: str, places: int = 1) -> tuple[tuple[float, ...], str]:
    """Values [SI] or the answer with which a measurement lets the work go on, on the sound build."""
    job = verbs.readings.LoadedJob(build(), ())
    one, expected = verbs.measurement_and_range(job, name)
    if one.dimension is None:
        return (), one.good[0] if one.good else next(iter(one.choices or {"all well": ""}))
    if name in SOUND:
        return (SOUND[name],) * places, ""
    low = one.low if expected is None else expected.low
    high = one.high if expected is None else expected.high
    if low is None and high is None:
        assert one.possible is not None
        low, high = one.possible
    if low is None:
        assert high is not None
        low = 0.5 * high if high > 0.0 else high
    value = 1.05 * low if high is None else 0.5 * (low + high)
    return (value,) * places, ""


@cache
def hold_readings() -> tuple[Reading, ...]:
    """Good readings of every hold point whose task is no step of the ladder, before the climb."""
    found: dict[str, Reading] = {}
    for task in tasks_for(build()):
        if task.hold is None or task.step:
            continue
        for name in task.hold.readings:
            one = measurements()[name]
            values, answer = good_values(name, 4 if one.each in ("cylinder", "injector") else 1)
            for side in one.sides:
                made = Reading(
                    new_id(), "N", at(-120.0), name, values, answer=answer, when=side, witness="A"
                )  # fmt: skip
                found[f"{name} {side}"] = made
    return tuple(found.values())


def reading(rung: Rung, name: str, minutes: float, sigmas: float = 0.0, who: str = "N") -> Reading:
    """A reading of a step: its middle, so many standard deviations off, or of the trade's range."""
    expected = rung.of(name)
    assert expected is not None
    if measurements()[name].dimension is None:
        return Reading(
            new_id(),
            who,
            at(minutes),
            name,
            answer=expected.good[0],
            step=rung.key,
            when="after",
            witness="A",
        )
    if expected.middle is not None and expected.sd is not None:
        value = expected.middle + sigmas * expected.sd
    else:
        assert expected.low is not None
        assert expected.high is not None
        half = 0.5 * (expected.high - expected.low)
        value = expected.low + half + 0.5 * sigmas * half  # the range counts as two standard deviations
    return Reading(new_id(), who, at(minutes), name, (value,), step=rung.key, when="after", witness="A")


def readings(rung: Rung, minutes: float, off: Mapping[str, float] | None = None) -> list[Record]:
    """All readings of a step; `off`: standard deviations by which some lie beside."""
    wrong = off or {}
    return [reading(rung, e.measurement, minutes, wrong.get(e.measurement, 0.0)) for e in rung.expected]


def climbed(to: str = "release", every: float = 60.0) -> tuple[Ladder, list[Record]]:
    """The ladder and records with which each gate up to a step, itself included, is open."""
    records: list[Record] = []
    found = ladder()
    records += tasks_done(found)
    for i in range(len(found.rungs)):
        found = ladder(records)
        rung = found.rungs[i]
        records += readings(rung, i * every)
        if rung.key == to:
            break
    return ladder(records), records


def override(
    step: str, minutes: float, who: str = "N. Miller", reason: str = "", witness: str = "A. Smith"
) -> Override:
    """An override as it should be written."""
    words = reason or "the gauge was seen to stick and a second one read well"
    return Override(new_id(), who, at(minutes), step, words, witness)

"""The commissioning ladder: steps made for one build, and gates that only data open."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from boostwright.build.document import Build
from boostwright.job.records import Override, Reading, Record, standing
from boostwright.library.ladder import ladder_steps
from boostwright.library.measurements import measurements
from boostwright.planning.ladder.conditions import Condition, air_of, any_day, day_air
from boostwright.planning.ladder.day import air_at_corner, read_air
from boostwright.planning.ladder.gates import CAUSE, SIGMAS, falls, gates_of, judge_reading, override_fault
from boostwright.planning.ladder.records import (
    Air,
    Change,
    Expected,
    Gate,
    Ladder,
    Limit,
    Origin,
    PullLine,
    Rung,
    Stands,
    State,
)
from boostwright.planning.ladder.rungs import rungs_of

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult

__all__ = [
    "CAUSE",
    "SIGMAS",
    "Air",
    "Change",
    "Condition",
    "Expected",
    "Gate",
    "Ladder",
    "Limit",
    "Origin",
    "PullLine",
    "Rung",
    "Stands",
    "State",
    "air_at_corner",
    "air_of",
    "conditions_for",
    "day_air",
    "day_of",
    "judge_reading",
    "ladder_for",
    "override_fault",
    "read_air",
]


def _silent(_: str) -> None:
    """Say nothing."""


def conditions_for(
    build: Build, air: Air, progress: Callable[[str], None] = _silent
) -> tuple[Condition, Condition | None]:
    """The engine on its spring, and at the boost asked for; None where that is no more than the spring.

    The match runs three times: some seconds. See `matched.conditions_for`.
    """
    from boostwright.planning.ladder import matched  # what computes takes a second to load

    return matched.conditions_for(build, air, progress)


def day_of(build: Build, records: Iterable[Record], air: Air | None = None) -> Air:
    """The air of the pulls: as it is given, as it was read at key-on, else that of the build's place."""
    return (_air_on_record(tuple(records)) or air_of(build)) if air is None else air


def ladder_for(
    build: Build,
    result: CheckResult | None,
    records: Iterable[Record],
    *,
    air: Air | None = None,
    changes: Sequence[Change] = (),
    planned: frozenset[str] | None = None,
    conditions: tuple[Condition, Condition | None] | None = None,
    names: Mapping[str, str] | None = None,
    held: Mapping[str, str] | None = None,
    never: Mapping[str, str] | None = None,
    progress: Callable[[str], None] | None = None,
) -> Ladder:
    """The ladder of a build and how far it was climbed.

    build: with its recorded readings standing in. result: of its check; what breaks there is said as a
    warning, for the pulls are judged at their own boost. records: of the job. air: of the day; None for what
    was read at key-on, and for the build's place where nothing was. changes: revisions of the build file,
    oldest first. planned: keys of the tasks of this build's plan; None where all that a step names must be
    done. names: of those tasks, in words. held: tasks that were said to be done and whose hold points are
    shut, with the reason. never: tasks whose hold points nobody opens by name, with why. conditions: as
    `conditions_for` gave them.
    """
    kept = tuple(records)
    cold = any_day(build) if air is None else air
    if conditions is not None:
        day = conditions[0].air
    else:
        day = day_of(build, kept, air)
    spring, goal = conditions_for(build, day, progress or _silent) if conditions is None else conditions
    rungs = rungs_of(build, spring, goal, _before(kept), cold)
    warnings = [] if spring.why_not == "" else [spring.why_not]
    if result is not None and result.verdict.value in ("breaks", "unknown"):
        warnings.append(
            f"At the boost asked for the check says '{result.verdict.value}'; the pulls on the"
            f" spring are judged at"
            " their own boost."
        )
    gates = gates_of(rungs, kept, changes=changes, planned=planned, held=held, never=never)
    warnings += falls(gates)
    return Ladder(
        name=build.name,
        fingerprint=build.fingerprint,
        air=day,
        rungs=rungs,
        gates=gates,
        overrides=tuple(r for r in standing(kept) if isinstance(r, Override)),
        warnings=tuple(warnings),
        names=dict(names or {}),
    )


def _air_on_record(records: Sequence[Record]) -> Air | None:
    """The air as the sensors of the standing engine showed it last; None where one of them was not read."""
    newest: dict[str, Reading] = {}
    for reading in standing(records):
        if (
            isinstance(reading, Reading)
            and reading.measurement in ("map_key_on", "air_key_on")
            and reading.values
        ):
            newest[reading.measurement] = reading
    if len(newest) < 2:
        return None
    pressure, temperature = newest["map_key_on"].values[0], newest["air_key_on"].values[0]
    if not (55.0e3 < pressure < 110.0e3 and 233.0 < temperature < 328.0):
        return None
    return day_air(
        pressure, temperature, f"in the air as it was read at key-on, {newest['map_key_on'].time[:10]}"
    )


def _before(records: Sequence[Record]) -> dict[str, dict[str, Reading]]:
    """For each step the newest standing reading of each measurement that no later step took, nor itself."""
    order = {step.key: i for i, step in enumerate(ladder_steps())}
    read = [r for r in standing(records) if isinstance(r, Reading)]
    single = {row.measurement: step.key for step in reversed(ladder_steps()) for row in step.reads}
    found: dict[str, dict[str, Reading]] = {}
    for key, i in order.items():
        rows: dict[str, Reading] = {}
        for reading in read:
            if _of_the_new_engine(reading):
                continue
            step = reading.step or single.get(reading.measurement, "")
            at = order.get(step, -1)
            own = step == key and reading.measurement == "air_key_on"
            if (at < i or own) and (
                reading.measurement not in rows or reading.time >= rows[reading.measurement].time
            ):
                rows[reading.measurement] = reading
        found[key] = rows
    return found


def _of_the_new_engine(reading: Reading) -> bool:
    """Whether something that is also read before the conversion was read afterwards: what has changed by then
    is not what it may be set against.
    """
    known = measurements().get(reading.measurement)
    return known is not None and reading.when == "after" and "before" in known.sides

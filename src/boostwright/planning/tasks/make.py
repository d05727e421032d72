"""The tasks of one build, made from the library's rows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

from boostwright.build.document import Build
from boostwright.library.tasks import HoldRow, LagRow, NeedRow, TaskRow, task_rows
from boostwright.planning.task import Effort, Hold, Lag, Need, Task
from boostwright.planning.tasks.amounts import how_much
from boostwright.planning.tasks.conditions import reasons
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.joints import held_back, tightened
from boostwright.planning.tasks.network import closed, reduced, sorted_keys
from boostwright.planning.tasks.studs import EFFORTS, ODDS
from boostwright.quantity import Dimension, in_unit

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult

__all__ = ["LeftOut", "left_out_for", "tasks_for"]

ALWAYS = "every conversion has it"
_PIECES = frozenset({"piece", "pieces", "set", "pairs", "sheets"})


class LeftOut(NamedTuple):
    """A task that this build does not have, and why."""

    key: str
    words: str
    because: str


def tasks_for(build: Build, result: CheckResult | None = None) -> tuple[Task, ...]:
    """The tasks of this build, each after all that come before it.

    result: what the check found; without it, conditions on findings count as not met. The order is the
    library's wherever precedence leaves it open, so that the same build gives the same list.
    """
    ground = Ground(build, result)
    rows = task_rows()
    kept = {key: row for key, row in rows.items() if reasons(ground, row.when)[0]}
    links = _links(ground, rows.values(), frozenset(kept))
    made = {key: _task(ground, row, links[key]) for key, row in kept.items()}
    return tuple(made[key] for key in _in_order(links))


def left_out_for(build: Build, result: CheckResult | None = None) -> tuple[LeftOut, ...]:
    """The library's tasks that this build does not have, in the library's order, each with its reason."""
    ground = Ground(build, result)
    found = []
    for key, row in task_rows().items():
        holds, because = reasons(ground, row.when)
        if not holds:
            found.append(LeftOut(key, _said(ground, row), "; ".join(dict.fromkeys(because))))
    return tuple(found)


def _links(ground: Ground, rows: Iterable[TaskRow], kept: frozenset[str]) -> dict[str, tuple[str, ...]]:
    """What each kept task follows, without what other links imply."""
    stated: dict[str, tuple[str, ...]] = {}
    waits: set[tuple[str, str]] = set()
    for row in rows:
        before = [key for key, when in row.after if reasons(ground, when)[0]]
        lags = [lag.task for lag in row.lags if reasons(ground, lag.when)[0]]
        stated[row.key] = tuple(dict.fromkeys([*before, *lags]))
        waits.update((row.key, key) for key in lags)
    return reduced(closed(stated, kept), frozenset(waits))


def _in_order(links: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    """The library's order, except where a task waits for one that stands later in it."""
    sorted_keys(links)  # says which tasks wait for each other, if any do
    order: list[str] = []
    left = list(links)
    done: set[str] = set()
    while left:
        key = next(key for key in left if done.issuperset(links[key]))
        left.remove(key)
        done.add(key)
        order.append(key)
    return tuple(order)


def _task(ground: Ground, row: TaskRow, after: tuple[str, ...]) -> Task:
    because = reasons(ground, row.when)[1]
    odds = ODDS[row.odds_of](ground) if row.odds_of else 1.0
    joints = tightened(ground, row.joints, row.again)
    hold, usual = _hold(ground, row.hold), Effort(*row.times)
    words = tuple(text for name in row.amounts if (text := how_much(ground, name).words))
    return Task(
        key=row.key,
        words=_said(ground, row),
        phase=row.phase,
        crew=row.crew,
        place=row.place,
        effort=EFFORTS[row.minutes_of](ground, usual) if row.minutes_of else usual,
        after=after,
        lags=tuple(_lag(lag) for lag in row.lags if lag.task in after and reasons(ground, lag.when)[0]),
        odds=odds,
        tools=row.tools,
        needs=tuple(_need(ground, need) for need in row.needs if reasons(ground, need.when)[0]),
        hold=hold if row.again else held_back(hold, joints.blank),
        stop=row.stop,
        cautions=row.cautions,
        joints=joints.names,
        opens=row.opens,
        closes=row.closes,
        critical=row.critical,
        in_one_go=row.in_one_go,
        step=row.step,
        why="; ".join(dict.fromkeys(because)) or ALWAYS,
        source=row.source,
        amounts=(*words, *joints.words, *_broken(ground, row.findings)),
        same_stay=tuple(key for key in row.same_stay if key in after),
    )


def _said(ground: Ground, row: TaskRow) -> str:
    """The words of a task, without those that belong to other builds."""
    return " ".join(text for text, when in row.says if reasons(ground, when)[0])


def _broken(ground: Ground, codes: Iterable[str]) -> tuple[str, ...]:
    """What the check says against this task as the file stands; nothing without a check."""
    found = [finding for code in codes if ground.breaks(code) and (finding := ground.finding(code))]
    return tuple(f"As the file stands, {one.code} breaks ({one.subject}): settle it first." for one in found)


def _lag(row: LagRow) -> Lag:
    if row.points is None:
        return Lag(row.task, row.seconds, row.why)
    points = Effort(*row.points)
    return Lag(row.task, points.mean, row.why, points.low, points.high)


def _need(ground: Ground, row: NeedRow) -> Need:
    if not row.amount:
        return Need(row.item, row.quantity, row.unit)
    found = how_much(ground, row.amount)
    if found.value is None:
        return Need(row.item, row.quantity, row.unit)
    if row.unit in _PIECES or found.dimension is Dimension.COUNT:
        return Need(row.item, found.value, row.unit)
    return Need(row.item, in_unit(found.value, row.unit, found.dimension), row.unit)


def _hold(ground: Ground, row: HoldRow | None) -> Hold | None:
    if row is None:
        return None
    readings = tuple(key for key, when in row.readings if reasons(ground, when)[0])
    return Hold(row.rule, readings, row.witness, row.never)

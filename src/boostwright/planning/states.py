"""In which state the car stands, and how soon it can be left: open things, safe states, the nearest one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from boostwright.library.open_things import NoReturn, OpenThing, SafeState, open_things
from boostwright.planning.scope import AT_THE_CAR
from boostwright.planning.task import Task

__all__ = [
    "GO_ON",
    "MAKE_WHOLE",
    "SHUT",
    "Nearest",
    "Way",
    "nearest_safe_state",
    "no_returns",
    "not_to_run",
    "opened",
    "runs_engine",
    "standing_open",
    "state_of",
    "ways_to_safety",
]

SHUT, MAKE_WHOLE, GO_ON = "shut it here", "make it whole here", "go on"
"""The three ways into a safe state."""


class Way(NamedTuple):
    """One way into a safe state: which, by what, its steps, hands-on time and time to wait [s]."""

    state: SafeState
    by: str
    steps: tuple[str, ...]
    tasks: tuple[str, ...]  # to be done on the way
    seconds: float
    wait: float = 0.0
    wait_why: str = ""
    at_hand: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest safe state, the other ways, and what stands open now."""

    way: Way
    others: tuple[Way, ...]
    open: tuple[OpenThing, ...]


def standing_open(tasks: Iterable[Task], running: Iterable[Task] = ()) -> tuple[OpenThing, ...]:
    """What stands open once these tasks are done, in this order.

    What a running task opens is open already; what it closes is not closed yet.
    """
    table = open_things().things
    found: dict[str, None] = {}
    for task in tasks:
        for key in _shuts(task):
            found.pop(key, None)
        found |= dict.fromkeys(_opens(task))
    for task in running:
        found |= dict.fromkeys(_opens(task))
    return tuple(table[key] for key in found)


def opened(done: Sequence[str], running: Iterable[str], tasks: Sequence[Task]) -> tuple[OpenThing, ...]:
    """The same by keys: `done` in the order in which they were done. Unknown keys count for nothing."""
    by_key = {task.key: task for task in tasks}
    return standing_open(
        [by_key[key] for key in done if key in by_key], [by_key[key] for key in running if key in by_key]
    )


def _opens(task: Task) -> tuple[str, ...]:
    return tuple(key for key, thing in open_things().things.items() if thing.opens_at(task.key, task.opens))


def _shuts(task: Task) -> tuple[str, ...]:
    return tuple(key for key, thing in open_things().things.items() if thing.closes_at(task.key, task.closes))


def runs_engine(task: Task) -> bool:
    """Whether the engine turns in it, or the car drives."""
    return task.key in open_things().runs_engine or task.place == "road" or task.phase == "run"


def not_to_run(left: Iterable[OpenThing], tasks: Sequence[Task], done: Iterable[str]) -> dict[str, str]:
    """Tasks that run the engine or drive and cannot be done while these things stand open, with the reason.

    Those that come after a task which closes the thing are not among them: they wait for it anyway.
    """
    found: dict[str, str] = {}
    over = frozenset(done)
    by_key = {task.key: task for task in tasks}
    for thing in (thing for thing in left if not thing.runs):
        closers = {t.key for t in tasks if thing.key in _shuts(t) and t.key not in over}
        shut = [t.key for t in tasks if thing.key in _shuts(t) and t.key in over]
        again = "make it good first"
        if closers or shut:
            again = f"do {min(closers)} first" if closers else f"reopen {shut[-1]}, do it once more first"
        for task in tasks:
            if task.key not in over and runs_engine(task) and not _before([task.key], by_key, over) & closers:
                found[task.key] = f"{thing.words}; {again}, or record this task as not needed"
    return found


def _fits(state: SafeState, done: frozenset[str], begun: frozenset[str], tasks: Sequence[Task]) -> bool:
    """Whether the work that was done allows the state, whatever stands open."""
    planned = {task.key for task in tasks}
    if any(key in planned and key not in done for key in state.proof):
        return False
    if state.proof and not any(key in planned for key in state.proof):
        return False
    return not any(
        task.key in begun
        and (task.key in state.before or (task.phase in state.before and task.place in AT_THE_CAR))
        for task in tasks
    )


def state_of(done: Sequence[str], running: Iterable[str], tasks: Sequence[Task]) -> SafeState | None:
    """The safe state in which the car stands just so; None where something must be shut first."""
    running = tuple(running)
    if running:
        return None
    left = opened(done, (), tasks)
    begun = frozenset(done)
    fitting = [
        state
        for state in open_things().states.values()
        if _fits(state, begun, begun, tasks)
        and all(thing.key in state.may and thing.overnight for thing in left)
    ]
    moving = [state for state in fitting if state.moves]
    best = moving or fitting
    return best[-1] if best else None


def nearest_safe_state(
    done: Sequence[str],
    running: Iterable[str] | Mapping[str, float],
    tasks: Sequence[Task],
    hands: int = 2,
    stuck: Iterable[str] = (),
) -> Nearest:
    """The nearest state in which the car may be left, and the other ways to one.

    done: keys of the tasks, in the order in which they were done. running: keys of those in hand, or how much
    of each is done [-]; what cannot be left half done is finished first. tasks: the plan's. hands: people
    at work. stuck: begun tasks that cannot be finished, such as for a missing part. There always is one:
    whatever stands open can be shut.
    """
    stuck = frozenset(stuck)
    ways = ways_to_safety(done, running, tasks, hands, stuck)
    running = tuple(dict.fromkeys((*running, *stuck)))
    rank = {key: i for i, key in enumerate(open_things().states)}
    ranked = sorted(  # of two alike the one in which the car moves, and of those the later state
        ways, key=lambda way: (way.seconds + way.wait, not way.state.moves, -rank[way.state.key])
    )
    return Nearest(ranked[0], tuple(ranked[1:]), opened(done, running, tasks))


def ways_to_safety(
    done: Sequence[str],
    running: Iterable[str] | Mapping[str, float],
    tasks: Sequence[Task],
    hands: int = 2,
    stuck: Iterable[str] = (),
) -> tuple[Way, ...]:
    """Every way into a safe state: shut what is open, make it whole as it was, or go on to the next state.

    What is in hand is finished first where it cannot be left half done, but nobody runs the engine or drives
    with something open that forbids it.
    """
    shares = dict(running) if isinstance(running, Mapping) else dict.fromkeys(running, 0.0)
    by_key = {task.key: task for task in tasks}
    halted = frozenset(stuck)
    barred = any(not thing.runs for thing in opened(done, (*shares, *halted), tasks))
    finish = [
        by_key[k]
        for k in shares
        if k in by_key and by_key[k].in_one_go and k not in halted and not (barred and runs_engine(by_key[k]))
    ]
    drop = [by_key[k] for k in (*shares, *halted) if k in by_key and by_key[k] not in finish]
    first = [f"Finish what is in hand: {task.words}" for task in finish]
    rest = [(1.0 - shares[task.key]) * task.effort.mean for task in finish]
    after = [*done, *(task.key for task in finish)]
    begun = frozenset([*after, *(task.key for task in drop)])
    left = standing_open([by_key[k] for k in after if k in by_key], drop)
    ways: list[Way] = []
    for state in open_things().states.values():
        if _fits(state, frozenset(after), begun, tasks) and (
            state.moves or all(thing.key in state.may for thing in left)
        ):
            ways.append(_here(state, left, first, rest, hands))
    if any(way.state.moves and way.state.key != "put_back" for way in ways):
        ways = [way for way in ways if way.state.key != "put_back"]  # it never was apart
    ways += _onward(frozenset(after), begun, tasks, left, first, rest, hands)
    return tuple(ways)


def _here(
    state: SafeState, left: Sequence[OpenThing], first: Sequence[str], rest: Sequence[float], hands: int
) -> Way:
    """Into a state without any further task of the plan."""
    if state.moves:
        steps = [*first, *(f"Make good again: {thing.words}." for thing in left)]
        work = [*rest, *(thing.undo_time[1] for thing in left)]
        waiting = max(left, key=lambda thing: thing.undo_lag, default=None)
        wait, why = (0.0, "") if waiting is None else (waiting.undo_lag, waiting.undo_why)
        at_hand = tuple(dict.fromkeys(item for thing in left for item in thing.at_hand))
        return Way(state, MAKE_WHOLE, tuple(steps), (), _shared(work, hands), wait, why, at_hand)
    steps = [*first, *(step for thing in left for step in thing.close)]
    both = [thing.close_time[1] for thing in left if thing.crew > 1]
    single = [*rest, *(thing.close_time[1] for thing in left if thing.crew == 1)]
    return Way(state, SHUT, tuple(steps), (), sum(both) + _shared(single, hands))


def _shared(work: Sequence[float], hands: int) -> float:
    """Time of some pieces of work for some hands: not shorter than the longest piece [s]."""
    return max(sum(work) / max(1, hands), max(work, default=0.0))


def _onward(
    done: frozenset[str],
    begun: frozenset[str],
    tasks: Sequence[Task],
    left: Sequence[OpenThing],
    first: Sequence[str],
    rest: Sequence[float],
    hands: int,
) -> list[Way]:
    """Ways through further tasks of the plan into states that are not reached yet."""
    by_key = {task.key: task for task in tasks}
    open_now = {thing.key for thing in left}
    ways = []
    for state in open_things().states.values():
        goals = [key for key in state.proof if key in by_key and key not in done]
        if not goals or not _fits(state, done | set(goals), begun | set(goals), tasks):
            continue
        needed = _before(goals, by_key, done)
        for key in open_now:  # whatever still stands open is closed by a task of the plan, if one does
            closer = next((t.key for t in tasks if key in _shuts(t) and t.key not in done), None)
            if closer is not None:
                needed |= _before([closer], by_key, done)
        order = [task for task in tasks if task.key in needed]
        remaining = _after(left, order)
        if any(key not in state.may for key in remaining):
            continue
        work = [*rest, *(task.effort.mean * len(task.crew) for task in order)]
        lags = sum(max((lag.seconds for lag in task.lags), default=0.0) for task in order)
        seconds = max(sum(work) / max(1, hands), max(work, default=0.0))
        words = (*first, *(task.words for task in order))
        ways.append(
            Way(state, GO_ON, words, tuple(t.key for t in order), seconds, lags, "cure and cool-down")
        )
    return ways


def _before(keys: Iterable[str], by_key: Mapping[str, Task], done: frozenset[str]) -> set[str]:
    """The tasks and everything that must come before them and is not done."""
    found: set[str] = set()
    todo = list(keys)
    while todo:
        key = todo.pop()
        if key in found or key in done or key not in by_key:
            continue
        found.add(key)
        task = by_key[key]
        todo += [*task.after, *(lag.task for lag in task.lags)]
    return found


def _after(left: Sequence[OpenThing], order: Sequence[Task]) -> list[str]:
    found = {thing.key: None for thing in left}
    for task in order:
        for key in _shuts(task):
            found.pop(key, None)
        found |= dict.fromkeys(_opens(task))
    return list(found)


def no_returns(tasks: Iterable[Task], done: Iterable[str] = ()) -> tuple[tuple[Task, NoReturn], ...]:
    """The points of no return that still lie ahead, in the plan's order."""
    table, passed = open_things().no_return, set(done)
    return tuple((t, table[t.key]) for t in tasks if t.key in table and t.key not in passed)

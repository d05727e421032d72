"""Made-up networks of tasks, as large as a whole conversion; nothing in them is real."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.task import Effort, Lag, Task

__all__ = ["DAY", "HOUR", "MINUTE", "network", "task", "weekend"]

MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0


def task(
    key: str,
    minutes: float | tuple[float, float, float],
    after: tuple[str, ...] = (),
    *,
    crew: tuple[str, ...] = ("helper",),
    place: str = "bench",
    lags: tuple[Lag, ...] = (),
    odds: float = 1.0,
    critical: bool = False,
    in_one_go: bool = True,
) -> Task:
    """One task whose durations are given in minutes."""
    points = (minutes,) * 3 if isinstance(minutes, int | float) else minutes
    effort = Effort(*(m * MINUTE for m in points))
    return Task(
        key,
        key,
        "made up",
        crew,
        place,
        effort,
        after,
        lags,
        odds=odds,
        critical=critical,
        in_one_go=in_one_go,
    )


def weekend(weeks: int = 4, evenings: int = 3) -> tuple[Window, ...]:
    """Evenings from 18:00 to 21:30, then Saturday and Sunday with a meal at noon, week after week. Zero is
    midnight before the first day.
    """
    found = []
    for week in range(weeks):
        for day in range(evenings):
            noon = (7 * week + day) * DAY
            found.append(Window(noon + 18 * HOUR, noon + 21.5 * HOUR))
        for day in (evenings, evenings + 1):
            noon = (7 * week + day) * DAY
            found += [Window(noon + 8 * HOUR, noon + 12.5 * HOUR), Window(noon + 13 * HOUR, noon + 20 * HOUR)]
    return tuple(found)


def network(tasks: int = 140, seed: int = 1, people: int = 2, weeks: int = 6) -> Problem:
    """Strands of work (fuel, oil, wiring) that begin apart, meet, and end in one line of proving steps."""
    rng = np.random.default_rng(seed)
    prove = max(2, tasks // 7)
    strands = max(1, tasks // 14)
    made: list[Task] = []
    ends: list[list[str]] = [[] for _ in range(strands)]
    for i in range(tasks - prove):
        strand = int(rng.integers(strands))
        own = ends[strand]
        after = {own[-1]} if own and rng.random() < 0.75 else set()
        if made and rng.random() < 0.25:
            after.add(made[int(rng.integers(max(0, i - 25), i))].key)
        made.append(_made(rng, f"strand{strand}.task{i}", tuple(sorted(after)), place=_place(rng)))
        own.append(made[-1].key)
    loose = (
        {t.key for t in made} - {k for t in made for k in t.after} - {g.task for t in made for g in t.lags}
    )
    line = [f"prove.step{i}" for i in range(prove)]
    made.append(_made(rng, line[0], tuple(sorted(loose)), place="bay"))
    made += [_made(rng, key, (before,), place="bay") for before, key in pairwise(line)]
    windows = weekend(weeks)
    can = [frozenset({"lead", "helper", "driver", "observer", "electrician"})]
    can += [frozenset({"helper", "observer", "driver"})] * (people - 1)
    workers = tuple(Worker(f"person {i + 1}", c, windows) for i, c in enumerate(can))
    return Problem(tuple(made), workers, {"bay": 2, "lift": 1, "bench": 2})


def _place(rng: np.random.Generator) -> str:
    return str(rng.choice(["bay", "lift", "bench", "desk"], p=[0.45, 0.2, 0.25, 0.1]))


def _made(rng: np.random.Generator, key: str, after: tuple[str, ...], place: str) -> Task:
    likely = float(
        rng.choice([5, 10, 15, 20, 30, 45, 60, 90], p=[0.1, 0.15, 0.2, 0.2, 0.15, 0.1, 0.07, 0.03])
    )
    crew = [("lead",), ("helper",), ("lead", "helper")][int(rng.choice(3, p=[0.35, 0.45, 0.2]))]
    lags: tuple[Lag, ...] = ()
    if after and rng.random() < 0.06:
        lags, after = (Lag(after[0], float(rng.choice([30, 60, 120, 480])) * MINUTE, "cures"),), after[1:]
    return task(
        key,
        (round(likely * 0.7), likely, likely * float(rng.choice([1.5, 2.0, 3.0]))),
        after,
        crew=crew,
        place=place,
        lags=lags,
        odds=0.15 if rng.random() < 0.04 else 1.0,
        critical=len(crew) == 1 and rng.random() < 0.1,
        in_one_go=likely < 60 or bool(rng.random() < 0.5),
    )

"""What the runs of an order of work say: odds of a moment, times that will do, what holds up the end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from boostwright.errors import OutOfRange
from boostwright.planning.problem import Problem
from boostwright.planning.schedule.draws import shape_of
from boostwright.planning.schedule.model import waits_of
from boostwright.planning.schedule.sampling import Samples
from boostwright.uncertainty.odds import Odds, odds

__all__ = ["Driver", "Textbook", "criticality", "drivers", "probability_by", "textbook", "time_for"]

Array = NDArray[np.float64]


class Driver(NamedTuple):
    """What moves the finish. what: 'pace', 'task', 'pause' or 'delay'. correlation: of ranks [-]."""

    what: str
    name: str
    correlation: float


class Textbook(NamedTuple):
    """The finish as a sum along the longest chain: mean, standard deviation [s], odds by a moment [-]."""

    mean: float
    sd: float
    probability: float
    chain: tuple[str, ...]


def probability_by(samples: Samples, deadline: float, tasks: Sequence[str] = ()) -> Odds:
    """The odds that all is done by a moment [s from zero], with their sampling error from the scatter of the
    independent sets of draws. tasks: only these; none named: all.

    Raises OutOfRange for a task that is not in the runs.
    """
    ends = samples.finish if not tasks else samples.ends[:, _columns(samples, tasks)].max(axis=1)
    return odds(ends <= deadline, samples.replicate)


def time_for(samples: Samples, probability: ArrayLike) -> Array:
    """The moments by which all is done with these probabilities [s from zero]; inf where the hours are used
    up.

    The least finish that so large a share of the runs does not exceed.
    """
    return np.asarray(
        np.quantile(samples.finish, np.asarray(probability, dtype=np.float64), method="inverted_cdf")
    )


def criticality(samples: Samples) -> dict[str, float]:
    """In what share of the runs each task lies on the chain that ends last, the likeliest first [-].

    The chain goes back from the last task over what held it up longest: a task that it waited for, the person
    or the place that it shared, and so on. A task that did not come up in a run is no part of it.
    """
    n, count = samples.ends.shape
    rows = np.arange(n)
    on = np.zeros((n, count), dtype=np.bool_)
    if not count:
        return {}
    at = samples.ends.argmax(axis=1).astype(np.int64)
    alive = np.ones(n, dtype=np.bool_)
    while alive.any():
        on[rows[alive], at[alive]] = True
        at = np.where(alive, samples.holder[rows, np.maximum(at, 0)], -1).astype(np.int64)
        alive &= at >= 0
    shares = (on & samples.arose).mean(axis=0)
    found = {key: float(share) for key, share in zip(samples.tasks, shares, strict=True)}
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def drivers(samples: Samples, most: int = 10) -> tuple[Driver, ...]:
    """What the finish goes with, by rank correlation (spearman1904), the strongest first.

    The pace is one for all tasks, so each task's own share is told beside it: its hands-on time before
    the pace, nothing where it did not arise.
    """
    columns: list[tuple[str, str, Array]] = [("pace", "", samples.pace)]
    columns += [("task", k, samples.own[:, i]) for i, k in enumerate(samples.tasks)]
    columns += [("pause", k, samples.pauses[1][:, i]) for i, k in enumerate(samples.pauses[0])]
    columns += [("delay", k, samples.held[1][:, i]) for i, k in enumerate(samples.held[0])]
    finish = _ranks(samples.finish)
    found = []
    for what, name, values in columns:
        ranks = _ranks(values)
        size = float(np.sqrt((ranks @ ranks) * (finish @ finish)))
        if size > 0.0:
            found.append(Driver(what, name, float(ranks @ finish) / size))
    return tuple(sorted(found, key=lambda d: -abs(d.correlation))[:most])


def textbook(problem: Problem, deadline: float) -> Textbook:
    """The classical estimate (malcolm1959): means and variances, a sixth of the range squared, summed along
    the longest chain of means, taken as normal.

    It knows neither people nor places nor hours, nor that of two chains the later one counts (clark1961): it
    is here to be compared with, and promises too much. Raises OutOfRange for tasks in a circle.
    """
    tasks = {task.key: task for task in problem.tasks if task.key not in problem.done}
    best: dict[str, tuple[float, tuple[str, ...]]] = {}
    while len(best) < len(tasks):
        ready = [
            key
            for key, task in tasks.items()
            if key not in best and all(k in best or k not in tasks for k in waits_of(task))
        ]
        if not ready:
            raise OutOfRange("Some tasks wait for each other in a circle.")
        for key in ready:
            waits = {k: lag for k, lag in waits_of(tasks[key]).items() if k in best}
            start, chain = max(
                ((best[k][0] + lag, best[k][1]) for k, lag in waits.items()), default=(0.0, ())
            )
            best[key] = start + shape_of(tasks[key].effort).mean, (*chain, key)
    mean, chain = max(best.values(), default=(0.0, ()))
    sd = math.sqrt(sum(((tasks[k].effort.high - tasks[k].effort.low) / 6.0) ** 2 for k in chain))
    probability = float(stats.norm.cdf(deadline, mean, sd)) if sd > 0.0 else float(deadline >= mean)
    return Textbook(mean, sd, probability, chain)


def _columns(samples: Samples, tasks: Sequence[str]) -> list[int]:
    unknown = [key for key in tasks if key not in samples.tasks]
    if unknown:
        raise OutOfRange(f"'{unknown[0]}' is no task of these runs.")
    return [samples.tasks.index(key) for key in tasks]


def _ranks(values: Array) -> Array:
    """Ranks about their mean; equal values share one."""
    ranks = np.asarray(stats.rankdata(values), dtype=np.float64)
    return np.asarray(ranks - ranks.mean())

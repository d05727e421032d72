"""The constraint model of a problem for the solver (OR-Tools CP-SAT): people, places, pauses, hours.

Beside what a plan must keep it states what follows from it but what the solver is slow to see: work that is
done at one go lies in one stretch of hours, and what lies in a stretch brings no more work than the people
have there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Final, NamedTuple

import numpy as np

from boostwright.planning.problem import Window
from boostwright.planning.schedule.frames import Span
from boostwright.planning.schedule.hours import Hours
from boostwright.planning.schedule.model import Model
from boostwright.planning.schedule.rules import Order, finish

__all__ = ["Statement", "stated"]

_WEIGHTS: Final = 100


class _Lies(NamedTuple):
    """One stretch in which a task may lie, manned in one way. fact: the literal that says so."""

    mode: int
    start: int
    end: int
    fact: Any


class _Part(NamedTuple):
    """How much of a divided task, manned in one way, is done in one window. steps: the variable."""

    mode: int
    start: int
    end: int
    steps: Any


@dataclass(frozen=True, slots=True)
class _Variables:
    """What stands for a task. manned: a literal for each way to man it. lies: where it may lie, for work at
    one go; parts: for work that may be divided.
    """

    start: Any
    size: Any
    end: Any
    manned: tuple[Any, ...]
    lies: tuple[_Lies, ...] = ()
    parts: tuple[_Part, ...] = ()


@dataclass(frozen=True)
class Statement:
    """A problem as the solver reads it, all done by a horizon. end: the variable of the finish."""

    cp: Any
    model: Model
    variables: tuple[_Variables, ...]
    end: Any

    def hint(self, order: Order) -> None:
        """Begin from an order that is known."""
        self.cp.clear_hints()
        self.cp.add_hint(self.end, finish(order))
        for i, start, _, mode in order:
            self.cp.add_hint(self.variables[i].start, start)
            for m, literal in enumerate(self.variables[i].manned):
                self.cp.add_hint(literal, self.model.modes[i][m] == mode)

    def shortest(self, least: int) -> None:
        """Ask for the least finish, which is no less than a bound that is known."""
        self.cp.add(self.end >= least)
        self.cp.minimize(self.end)

    def early(self, weights: Sequence[float], until: int) -> None:
        """Ask for early starts by their weights, with a finish no later than one that stands."""
        self.cp.add(self.end <= until)
        whole = [round(w * _WEIGHTS) for w in weights]
        self.cp.minimize(sum(w * v.start for w, v in zip(whole, self.variables, strict=True)))

    def order(self, solution: Any) -> Order:
        """The order that a solution holds."""
        found: Order = []
        for i, v in enumerate(self.variables):
            m = next(m for m, literal in enumerate(v.manned) if solution.boolean_value(literal))
            start, end = int(solution.value(v.start)), int(solution.value(v.end))
            found.append((i, start, end, self.model.modes[i][m]))
        return sorted(found, key=lambda row: (row[1], row[0]))


def stated(model: Model, earliest: Span, latest: Span, least: int, horizon: int) -> Statement:
    """State a problem, all done by a horizon [steps]. earliest, latest: from `Frames` for that horizon."""
    from ortools.sat.python import cp_model

    cp = cp_model.CpModel()
    frames = [
        (math.ceil(a - 1e-6), math.floor(b + 1e-6), math.floor(c + 1e-6))
        for a, b, c in zip(earliest.starts, latest.starts, latest.ends, strict=True)
    ]
    variables = tuple(_task(cp, model, i, *frame) for i, frame in enumerate(frames))
    end = cp.new_int_var(min(least, horizon), horizon, "finish")
    for i, task in enumerate(variables):
        for j, lag in model.before[i]:
            cp.add(task.start >= variables[j].end + lag)
        if not model.behind[i]:
            cp.add(end >= task.end)
    _people(cp, model, variables)
    _places(cp, model, variables)
    _in_turn(cp, model, variables)
    _same_stay(cp, model, variables)
    _room(cp, model, variables)
    return Statement(cp, model, variables, end)


def _task(cp: Any, model: Model, i: int, first: int, last: int, until: int) -> _Variables:
    """One task that starts between two moments and ends by a third, with what its hours leave of that."""
    length, modes = model.steps[i], model.modes[i]
    start = cp.new_int_var(first, last, f"start {i}")
    manned = tuple(cp.new_bool_var(f"manned {i} {m}") for m in range(len(modes)))
    cp.add_exactly_one(manned)
    lies: list[_Lies] = []
    parts: list[_Part] = []
    longer, extras = [], [0]
    for m, mode in enumerate(modes):
        if not math.isfinite(mode.hours.ends[-1]):
            continue
        options: list[Any] = []
        for block in _blocks(mode.hours, first, until):
            for extra, spans in _elongations(block, length, first, last, until).items():
                option = cp.new_bool_var(f"lies {i} {m} {len(options)}")
                _within(cp, start, spans, option)
                options.append(option)
                longer.append(extra * option)
                extras.append(extra)
                if math.isfinite(mode.hours.bridge):
                    lies.append(_Lies(m, int(block.starts[0]), int(block.ends[-1]), option))
        cp.add(sum(options) == manned[m])
        if not math.isfinite(mode.hours.bridge):
            own = _parts(cp, f"part {i} {m}", m, mode.hours, length, (first, until))
            cp.add(sum(part.steps for part in own) == length * manned[m])
            parts += own
    most = max(extras)
    if not most:
        return _Variables(start, length, start + length, manned, tuple(lies), tuple(parts))
    size = cp.new_int_var(length, length + most, f"size {i}")
    end = cp.new_int_var(first + length, until, f"end {i}")
    cp.add(size == length + sum(longer))
    cp.add(end == start + size)
    return _Variables(start, size, end, manned, tuple(lies), tuple(parts))


def _within(cp: Any, start: Any, spans: Sequence[Sequence[int]], option: Any) -> None:
    from ortools.sat.python import cp_model

    domain = cp_model.Domain.from_intervals(spans)
    cp.add_linear_expression_in_domain(start, domain).only_enforce_if(option)


def _blocks(hours: Hours, first: int, until: int) -> list[Hours]:
    """The stretches between two moments of which work at one go lies in one; work that may be divided has one
    of all windows.
    """
    if not math.isfinite(hours.bridge):
        return [hours]
    found: list[list[Window]] = []
    for window in hours.windows:
        if window.end <= first or window.start >= until:
            continue
        if found and window.start - found[-1][-1].end <= hours.bridge + 1e-6:
            found[-1].append(window)
        else:
            found.append([window])
    return [Hours(block, bridge=hours.bridge, over=False) for block in found]


def _parts(cp: Any, name: str, mode: int, hours: Hours, length: int, frame: tuple[int, int]) -> list[_Part]:
    found = []
    for start, end in hours.windows:
        if (most := int(min(end, frame[1]) - max(start, frame[0]))) > 0:
            steps = cp.new_int_var(0, min(length, most), f"{name} {int(start)}")
            found.append(_Part(mode, int(start), int(end), steps))
    return found


def _elongations(hours: Hours, length: int, first: int, last: int, until: int) -> dict[int, list[list[int]]]:
    """By how much breaks lengthen work of a length, and for which starts: {steps: [[from, to], ...]}."""
    edges = {float(s) for s in hours.starts} | {float(e) for e in hours.ends}
    # the starts from which the work ends just at the end of a window
    marks = hours.worked(hours.ends) - length
    edges |= {hours.fit(t, 0.0)[0] for t in _moments(hours, marks)}
    edges |= {e + 1.0 for e in edges}
    moments = np.array(sorted(e for e in edges | {float(first)} if first <= e <= last))
    starts, ends = hours.place(moments, float(length))
    found: dict[int, list[list[int]]] = {}
    for k, t in enumerate(moments):
        if starts[k] != t or not np.isfinite(ends[k]) or ends[k] > until:
            continue
        following = int(moments[k + 1]) - 1 if k + 1 < len(moments) else last
        found.setdefault(int(ends[k] - t) - length, []).append([int(t), following])
    return found


def _moments(hours: Hours, worked: Any) -> list[float]:
    """The moments at which so much time at work has passed."""
    inside = worked[worked >= 0.0]
    done = hours.worked(hours.ends)
    before = np.concatenate([[0.0], done[:-1]])
    corners = np.stack([before, done], 1).ravel(), np.stack([hours.starts, hours.ends], 1).ravel()
    return [float(t) for t in np.interp(inside, *corners)]


def _people(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    """Nobody does two things at once: for each class of people, and for all of them together."""
    every: list[tuple[Any, int]] = []
    for c, people in enumerate(model.classes):
        taken: list[tuple[Any, int]] = []
        for i, (modes, v) in enumerate(zip(model.modes, variables, strict=True)):
            taken += _intervals(cp, f"{c} {i}", v, [m.counts[c] for m in modes])
        _limit(cp, taken, len(people.names))
    if len(model.classes) > 1:
        for i, (modes, v) in enumerate(zip(model.modes, variables, strict=True)):
            every += _intervals(cp, f"all {i}", v, [sum(m.counts) for m in modes])
        _limit(cp, every, model.people)


def _intervals(cp: Any, name: str, v: _Variables, counts: Sequence[int]) -> list[tuple[Any, int]]:
    """Intervals of a task with how many it takes: one if every way takes the same, else one for each way."""
    if len(set(counts)) == 1:
        return [(cp.new_interval_var(v.start, v.size, v.end, name), counts[0])] if counts[0] else []
    return [
        (cp.new_optional_interval_var(v.start, v.size, v.end, v.manned[m], f"{name} {m}"), count)
        for m, count in enumerate(counts)
        if count
    ]


def _limit(cp: Any, taken: Sequence[tuple[Any, int]], capacity: int) -> None:
    if not taken:
        return
    if all(2 * count > capacity for _, count in taken):
        cp.add_no_overlap([interval for interval, _ in taken])
    else:
        cp.add_cumulative([interval for interval, _ in taken], [count for _, count in taken], capacity)


def _places(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    for place, capacity in model.places.items():
        taken: list[tuple[Any, int]] = []
        for i, v in enumerate(variables):
            units = model.uses[i].get(place, 0)
            taken += _intervals(cp, f"{place} {i}", v, [units] * len(model.modes[i]))
        _limit(cp, taken, capacity)


def _in_turn(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    """What lies in a stretch that ends by a moment has its forerunners in stretches that let it."""
    for i, own in enumerate(variables):
        for j, lag in model.before[i]:
            earlier = variables[j].lies
            if not own.lies or not earlier:
                continue
            need = model.steps[j] + lag + model.steps[i]
            for end in sorted({lie.end for lie in own.lies}):
                in_time = [lie.fact for lie in earlier if lie.start + need <= end]
                if len(in_time) < len(earlier):
                    cp.add(sum(lie.fact for lie in own.lies if lie.end <= end) <= sum(in_time))


def _same_stay(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    """What must follow a task in the same stay lies in that stay."""
    for i, others in enumerate(model.follows):
        for j in others:
            for stay in model.stays:
                both = [
                    [x.fact for x in variables[k].lies if stay.start <= x.start and x.end <= stay.end]
                    for k in (i, j)
                ]
                if both[0] or both[1]:
                    cp.add(sum(both[0]) == sum(both[1]))


def _room(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    """What lies in a stretch brings no more work than the people, each group of them, and the places have."""
    from ortools.sat.python import cp_model

    claims = _claims(model, variables)
    some = [c for c in range(len(model.classes)) if model.classes[c].windows]
    groups = [g for size in range(1, len(some) + 1) for g in combinations(some, size)]
    for start, end in sorted({(lie.start, lie.end) for v in variables for lie in v.lies}):
        inside = [c for c in claims if start <= c.start and c.end <= end]
        for group in groups:
            there = sum(
                len(model.classes[c].names) * max(0.0, min(w.end, end) - max(w.start, start))
                for c in group
                for w in model.classes[c].windows
            )
            hands = [sum(c.counts[g] for g in group) for c in inside]
            _held(cp_model, cp, inside, hands, int(there))
        for place, units in model.places.items():
            _held(cp_model, cp, inside, [c.uses.get(place, 0) for c in inside], units * (end - start))


class _Claim(NamedTuple):
    """Work that lies in a stretch if a literal says so, or as much of it as a variable says. each: steps of
    work for a unit of the variable. most: that the task can bring.
    """

    task: int
    start: int
    end: int
    variable: Any
    each: int
    most: int
    counts: tuple[int, ...]
    uses: Mapping[str, int]


def _claims(model: Model, variables: Sequence[_Variables]) -> list[_Claim]:
    found = []
    for i, v in enumerate(variables):
        steps, modes, uses = model.steps[i], model.modes[i], model.uses[i]
        found += [_Claim(i, x.start, x.end, x.fact, steps, steps, modes[x.mode].counts, uses) for x in v.lies]
        found += [_Claim(i, x.start, x.end, x.steps, 1, steps, modes[x.mode].counts, uses) for x in v.parts]
    return found


def _held(cp_model: Any, cp: Any, claims: Sequence[_Claim], hands: Sequence[int], there: int) -> None:
    """The claims, each for so many hands, bring no more than there is; unsaid where they cannot."""
    most: dict[int, int] = {}
    for claim, count in zip(claims, hands, strict=True):
        if count:
            most[claim.task] = max(most.get(claim.task, 0), count * claim.most)
    if sum(most.values()) > there:
        terms = [(c.variable, count * c.each) for c, count in zip(claims, hands, strict=True) if count]
        cp.add(cp_model.LinearExpr.weighted_sum([t[0] for t in terms], [t[1] for t in terms]) <= there)

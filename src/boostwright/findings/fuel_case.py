"""What the findings on fuel share: the fuel side along the lines of a case, and how sure its numbers are."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.findings.case import Case
from boostwright.findings.stated_curve import stated_curve
from boostwright.findings.worst import Line, Worst, lines
from boostwright.systems.fuel_side import FuelLine, FuelParts, fuel_line
from boostwright.systems.stated.fuel_side import fuel_side_of, uncertain_of

__all__ = ["at", "fuel_flow_sd", "fuel_parts", "fuel_spread", "lines_of", "number", "usual_line"]

Array = NDArray[np.float64]

_AIR_SD = 0.09  # of the computed air with class breathing; see field data on unmeasured engines
_AIR_SD_AGREED = 0.04  # at best, where a torque curve of this very engine agrees with the computed one
_MIXTURE_SD = 0.02  # of the mixture really run [-] (judgement)


def fuel_flow_sd(case: Case, there: Worst | None = None) -> float:
    """Relative standard deviation of the fuel flow: of the air, of the boost, and of the mixture really run.

    A stated torque curve narrows the air only as far as it is known and as the computed one agrees with it;
    where they differ by more than the class spread, the difference is the spread.
    """
    air, curve = case.left(_AIR_SD), stated_curve(case)
    if curve is not None and not case.drawn:
        worst = int(np.argmax(np.abs(curve.ratio - 1.0)))
        off = abs(float(curve.ratio[worst]) - 1.0)
        air = max(off, min(_AIR_SD, max(_AIR_SD_AGREED, float(curve.sd[worst]))))
    boost = 0.0
    if there is not None:
        boost = float(there.goal.boost_sd[there.place] / there.goal.plenum_pressure[there.place])
    return math.hypot(air, boost, _MIXTURE_SD)


def fuel_parts(case: Case) -> FuelParts:
    """The fuel side of this build."""
    return fuel_side_of(case.build)


def lines_of(parts: FuelParts, every: Sequence[Line]) -> tuple[FuelLine, ...]:
    """The fuel side along operating lines, one for each."""
    if not every:
        return ()
    sizes = [line.goal.speed.size for line in every]

    def row(of: Callable[[Line], ArrayLike]) -> Array:
        return np.concatenate([np.broadcast_to(of(line), (n,)) for line, n in zip(every, sizes, strict=True)])

    whole = fuel_line(
        parts,
        row(lambda line: line.goal.result.fuel_flow),
        row(lambda line: line.goal.plenum_pressure),
        row(lambda line: line.goal.speed),
        row(lambda line: line.ambient_pressure),
        row(lambda line: line.goal.lam),
        row(lambda line: _most(line.goal.result.fuel_flow)),
    )
    ends = np.cumsum(sizes)
    return tuple(
        FuelLine(*(column[end - n : end] for column in whole)) for end, n in zip(ends, sizes, strict=True)
    )


def _most(flow: Array) -> float:
    """The greatest flow, at which a stated droop holds [kg/s]; a breath where there is none."""
    usable = flow[np.isfinite(flow) & (flow > 0.0)]
    return float(usable.max()) if usable.size else 1.0e-6


def usual_line(case: Case, line: Line) -> FuelLine:
    """The fuel side as it is, along one operating line of a case; computed once for each."""
    kept = case.extra.setdefault("fuel_lines", {})
    key = (id(case.build), id(line.goal))
    if key not in kept:
        every = lines(case)
        every = every if any(one.goal is line.goal for one in every) else (line,)
        for one, found in zip(every, lines_of(fuel_parts(case), every), strict=True):
            kept[id(case.build), id(one.goal)] = (found, case.build, one.goal)  # kept alive with their ids
    own: FuelLine = kept[key][0]
    return own


def at(parts: FuelParts, there: Worst, more_fuel: float = 1.0) -> FuelLine:
    """The fuel side at one place only; arrays (1,), or as many as the parts hold.

    more_fuel: factor on the engine's need [-].
    """
    goal, i = there.goal, there.place
    flow = np.where(goal.settled, goal.result.fuel_flow, np.nan)
    return fuel_line(
        parts,
        flow[i] * more_fuel,
        goal.plenum_pressure[i],
        goal.speed[i],
        there.line.ambient_pressure,
        goal.lam[i],
        full_flow=float(np.nanmax(flow)) * more_fuel,
    )


def fuel_spread(case: Case, figure: Callable[[FuelParts], ArrayLike], but: tuple[str, ...] = ()) -> float:
    """Standard deviation of a figure of the fuel side, from that of everything that it rests on.

    Each uncertain value is moved by one standard deviation to both sides, the others left alone; the mean
    square of the two changes is its share, so that a kink counts. figure: from parts that may hold arrays
    (m,), so many sets side by side, to the figure of each. but: values left out.
    """
    rows = [row for row in uncertain_of(case.build) if row[0] not in but and row[2] > 0.0]
    if not rows:
        return 0.0
    moved = {}
    for k, (path, value, sd) in enumerate(rows):
        column = np.full(1 + 2 * len(rows), value)
        column[1 + 2 * k], column[2 + 2 * k] = value + sd, max(value - sd, 0.05 * value)
        moved[path] = column
    figures = np.asarray(figure(fuel_side_of(case.build, moved)), dtype=np.float64)
    change = np.broadcast_to(figures, (1 + 2 * len(rows),)) - figures.flat[0]
    return math.sqrt(0.5 * float(np.sum(change[np.isfinite(change)] ** 2)))


def number(case: Case, field: str) -> tuple[float, float]:
    """A field's value and standard deviation [SI]; NaN and 0 when it is empty."""
    stated = case.stated(field)
    if stated is None:
        return math.nan, 0.0
    return float(stated.value), float(stated.sd or 0.0)

"""Knock margin at the logged spark by the model, beside what the knock sensor made the controller do."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.model_at import Predicted
from boostwright.drive.points import Points
from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.drive.row import sensor_slopes
from boostwright.library.drive_spreads import drive_spread
from boostwright.library.notice_kinds import notice_kinds

__all__ = ["KnockLine", "knock_lines", "knock_notices", "knock_slopes"]

Array = NDArray[np.float64]

_STEEP: Final = -0.3 * math.degrees(0.044)  # least slope of the integral over spark that is believed [1/rad]


@dataclass(frozen=True, slots=True)
class KnockLine:
    """One pull, arrays (m,).

    margin, margin_sd: by how much later than the model's limit the spark stood [rad]. retard: what was
    taken away for knock [rad], NaN where the log does not say.
    """

    stretch: Stretch
    time: Array
    speed: Array
    rows: NDArray[np.int64]
    margin: Array
    margin_sd: Array
    retard: Array


def knock_slopes(points: Points, model: Predicted, at: NDArray[np.int64]) -> dict[str, Array]:
    """Slopes of the knock integral's logarithm over all that is not known, at points."""
    slopes = sensor_slopes("knock", points, model, at)
    by_spark = np.minimum(model.slopes["spark"]["knock"][at], _STEEP)
    slopes["form.knock"] = -by_spark
    slopes["sensor.spark_advance"] = by_spark
    return slopes


def knock_lines(
    points: Points, model: Predicted, sds: Mapping[str, float], pulls: int
) -> tuple[KnockLine, ...]:
    """The margin of each pull, with the spread of factors, sensors and knock law.

    pulls: how many of the points' stretches are pulls.
    """
    found = []
    for k in range(pulls):
        at = np.flatnonzero((points.pull == k) & model.usable)
        if not at.size:
            continue
        slope = np.minimum(model.slopes["spark"]["knock"][at], _STEEP)
        parts = knock_slopes(points, model, at)
        var = sum((s * sds.get(name, 0.0)) ** 2 for name, s in parts.items())
        sd = np.hypot(np.sqrt(var) / -slope, drive_spread("form", "knock"))
        found.append(
            KnockLine(
                points.pulls[k],
                points.time[at],
                points.speed[at],
                np.column_stack([points.first_row[at], points.last_row[at]]),
                model.knock[at] / slope,
                np.asarray(sd),
                points.mean.get("knock_retard", np.full(len(points), np.nan))[at],
            )
        )
    return tuple(found)


def knock_notices(lines: Sequence[KnockLine]) -> list[Notice]:
    """Spark past the model's limit without knock, and knock far below it."""
    found = []
    for line in lines:
        for notice in (_past(line), _below(line)):
            if notice is not None:
                found.append(notice)
    return found


def _past(line: KnockLine) -> Notice | None:
    kind = "knock-past-the-model"
    limits = notice_kinds()[kind].limits
    ratio = -line.margin / line.margin_sd
    past = ratio > limits["spreads"]
    together = int(limits["steps"])
    runs = np.convolve(past.astype(int), np.ones(together, dtype=int), "valid") == together
    if past.size < together or not runs.any():
        return None
    return _made(kind, line, past, ratio, "spark past the model's knock limit", -line.margin)


def _below(line: KnockLine) -> Notice | None:
    kind = "knock-below-the-model"
    limits = notice_kinds()[kind].limits
    with np.errstate(invalid="ignore"):
        taken = line.retard > limits["retard"]
    # the spark that was asked for stood earlier by what was taken away
    ratio = (line.margin - np.nan_to_num(line.retard)) / line.margin_sd
    there = taken & (ratio > limits["spreads"])
    if not there.any():
        return None
    return _made(kind, line, there, ratio, "spark later than the model's knock limit", line.margin)


def _made(kind: str, line: KnockLine, where: NDArray[np.bool_], ratio: Array, of: str, size: Array) -> Notice:
    at = np.flatnonzero(where)
    worst = int(at[np.argmax(ratio[at])])
    sd = float(line.margin_sd[worst])
    return Notice(
        kind,
        notice_kinds()[kind].fault,
        float(line.time[at[0]]),
        float(line.time[at[-1]]),
        int(line.rows[at[0], 0]),
        int(line.rows[at[-1], 1]),
        Reading(of, float(size[worst]), sd, "spark angle", "spark_advance"),
        float(ratio[worst]),
        ("spark_advance", "manifold_pressure", "knock_retard"),
        line.stretch,
        (Reading("crank speed", float(line.speed[worst]), 0.0, "speed of rotation", "engine_speed"),),
        "The limit is the model's for the fuel, compression and temperatures in the file.",
    )

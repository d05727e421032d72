"""Pulls cut into steps of crank speed: under which condition the engine ran at each, and how well known."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.outside import Outside
from boostwright.drive.records import Stretch
from boostwright.drive.rows import Rows
from boostwright.errors import OutOfRange
from boostwright.library.drive_spreads import drive_spread

__all__ = ["NEEDED", "Points", "points_of"]

Array = NDArray[np.float64]

NEEDED: Final = ("engine_speed", "manifold_pressure", "intake_temperature", "lambda", "spark_advance")
_INSTEAD: Final = {"lambda": "lambda_target", "spark_advance": "spark_table"}
_EFFICIENCY: Final = 0.70  # of the compressor, for a charge temperature that nobody logged (common practice)
_RPM: Final = math.pi / 30.0
_STEP: Final = 250.0 * _RPM  # width of a step [rad/s]
_MOST: Final = 600  # steps of a whole drive; beyond, steps are made wider
_FEWEST: Final = 2  # readings in a step
_GROUND: Final = {  # of the cycle, as it refuses [SI]
    "engine_speed": (1000.0 * _RPM, 9000.0 * _RPM),
    "manifold_pressure": (25.0e3, 350.0e3),
    "intake_temperature": (235.0, 410.0),
    "lambda": (0.62, 1.25),
    "spark_advance": (-0.3, 0.9),
}
_BACK_USUAL: Final = 1.15  # exhaust over boost gauge pressure where no match says it [-] (judgement)
_BACK_FREE: Final = (
    12.0e3  # exhaust gauge pressure at 6000 rpm without boost, square in speed [Pa] (judgement)
)


@dataclass(frozen=True, slots=True)
class Points:
    """Conditions of (n,) steps of speed, over all pulls, SI. Spark as crank angle, negative before top.

    pull: index of the pull. time, first_row, last_row: where. mean: by channel, (n,) means of what was
    logged, NaN where it was not. own_sd: by channel, of that mean, by scatter and change within the step.
    back, back_sd: exhaust pressure, logged or worked out [Pa]. left_out: why some steps are not here,
    sentences.
    """

    pulls: tuple[Stretch, ...]
    pull: NDArray[np.int64]
    time: Array
    first_row: NDArray[np.int64]
    last_row: NDArray[np.int64]
    mean: dict[str, Array]
    own_sd: dict[str, Array]
    back: Array
    back_sd: Array
    back_logged: bool
    rise: Array  # of the manifold pressure [Pa/s]
    stand_in: tuple[str, ...] = ()  # channels that the log does not hold and something else stands in for
    left_out: tuple[str, ...] = ()

    def __len__(self) -> int:
        return int(self.pull.size)

    @property
    def speed(self) -> Array:
        """Crank speed [rad/s]."""
        return self.mean["engine_speed"]

    @property
    def pressure(self) -> Array:
        """Manifold pressure [Pa absolute]."""
        return self.mean["manifold_pressure"]

    @property
    def since(self) -> Array:
        """Time since the pull or the steady stretch of each point began [s]."""
        return np.asarray(self.time - np.array([s.start for s in self.pulls])[self.pull])

    @property
    def steady(self) -> NDArray[np.bool_]:
        """Points that stand for a steady stretch."""
        return np.array([s.kind != "pull" for s in self.pulls], dtype=bool)[self.pull]

    @property
    def spark(self) -> Array:
        """Crank angle of the spark [rad], negative before top dead centre."""
        return -self.mean["spark_advance"]


def points_of(
    drive: Rows,
    pulls: Iterable[Stretch],
    outside: Outside,
    back_ratio: tuple[Array, Array] | None = None,
    cooler: float = 0.0,
) -> Points:
    """The steps of all pulls.

    drive: all rows. back_ratio: crank speeds [rad/s] and exhaust over boost gauge pressure there [-], as the
    match has it; None: a usual one. cooler: effectiveness of the charge cooler [-], for a charge temperature
    that is not logged. Where lambda or spark is not logged, their targets stand in. Raises OutOfRange where
    the log lacks a channel that the cycle needs and nothing stands in for.
    """
    drive, stand_in = _completed(drive, outside, cooler)
    missing = [key for key in NEEDED if not drive.has(key)]
    if missing:
        raise OutOfRange(
            f"The log holds no {', no '.join(m.replace('_', ' ') for m in missing)}: without it the engine"
            " cannot be computed at the condition of its pulls. Log it, or name its column."
        )
    every = tuple(pulls)
    width = _width(drive, every)
    cells = [_cell(drive, k, a, b) for k, s in enumerate(every) for a, b in _cuts(drive, s, width)]
    good = [c for c in cells if _on_ground(c)]
    left = len(cells) - len(good)
    out = (
        ()
        if not left
        else (
            f"{left} of {len(cells)} steps of speed lie outside the ground of the cycle or lack a channel.",
        )
    )
    return replace(_stacked(every, good, outside, back_ratio, out), stand_in=stand_in)


def _completed(drive: Rows, outside: Outside, cooler: float) -> tuple[Rows, tuple[str, ...]]:
    """The drive with what can stand in for channels that it lacks, and which these are."""
    values, lacks = dict(drive.values), []
    for key, other in _INSTEAD.items():
        if not drive.has(key) and drive.has(other):
            values[key] = drive.get(other)
            lacks.append(key)
    if not drive.has("intake_temperature") and drive.has("manifold_pressure"):
        ratio = np.maximum(drive.get("manifold_pressure") / outside.pressure, 1.0)
        rise = outside.temperature * (ratio ** (2.0 / 7.0) - 1.0) / _EFFICIENCY
        values["intake_temperature"] = outside.temperature + (1.0 - cooler) * rise
        lacks.append("intake_temperature")
    return replace(drive, values=values), tuple(lacks)


@dataclass(slots=True)
class _Cell:
    pull: int
    time: float
    rows: tuple[int, int]
    mean: dict[str, float]
    sd: dict[str, float]
    rise: float


def _width(drive: Rows, pulls: tuple[Stretch, ...]) -> float:
    way = sum(float(np.nanmax(w) - np.nanmin(w)) for s in pulls if np.isfinite(w := _omega(drive, s)).any())
    return max(_STEP, way / _MOST)


def _omega(drive: Rows, stretch: Stretch) -> Array:
    return drive.of(stretch).get("engine_speed")


def _cuts(drive: Rows, stretch: Stretch, width: float) -> list[tuple[int, int]]:
    """Places from and to of each step of a pull, by the speed reached so far; other stretches are one."""
    first = int(np.searchsorted(drive.t, stretch.start))
    if stretch.kind != "pull":
        return [(first, int(np.searchsorted(drive.t, stretch.end, side="right")))]
    omega = _omega(drive, stretch)
    known = np.isfinite(omega)
    if np.count_nonzero(known) < _FEWEST:
        return []
    reached = np.maximum.accumulate(np.where(known, omega, -np.inf))
    low, high = float(omega[known][0]), float(reached[-1])
    count = round((high - low) / width)
    if count < 1:
        return []
    edges = np.searchsorted(reached, low + (high - low) * np.arange(count + 1) / count)
    edges[0] = int(np.argmax(known))
    return [(first + int(a), first + int(b)) for a, b in pairwise(edges) if b - a >= _FEWEST]


def _cell(drive: Rows, pull: int, a: int, b: int) -> _Cell:
    t = drive.t[a:b]
    mean: dict[str, float] = {}
    sd: dict[str, float] = {}
    for key, column in drive.values.items():
        part = column[a:b]
        part = part[np.isfinite(part)]
        if not part.size:
            continue
        mean[key] = float(np.mean(part))
        # scatter makes the mean unsure; a change within the step leaves open which moment is meant
        sd[key] = float(np.std(part)) * math.sqrt(1.0 / part.size + 0.05)
    p = drive.get("manifold_pressure")[a:b]
    use = np.isfinite(p)
    rise = float(np.polyfit(t[use] - t[0], p[use], 1)[0]) if np.count_nonzero(use) > 2 else 0.0
    return _Cell(pull, float(np.mean(t)), (int(drive.row[a]), int(drive.row[b - 1])), mean, sd, rise)


def _on_ground(cell: _Cell) -> bool:
    return all(low <= cell.mean.get(key, math.nan) <= high for key, (low, high) in _GROUND.items())


def _stacked(
    pulls: tuple[Stretch, ...],
    cells: list[_Cell],
    outside: Outside,
    back_ratio: tuple[Array, Array] | None,
    out: tuple[str, ...],
) -> Points:
    keys = sorted({key for c in cells for key in c.mean} | set(NEEDED))
    mean = {key: np.array([c.mean.get(key, math.nan) for c in cells]) for key in keys}
    sd = {key: np.array([c.sd.get(key, math.nan) for c in cells]) for key in keys}
    back, back_sd, logged = _back(mean, outside, back_ratio)
    return Points(
        pulls,
        np.array([c.pull for c in cells], dtype=np.int64),
        np.array([c.time for c in cells]),
        np.array([c.rows[0] for c in cells], dtype=np.int64),
        np.array([c.rows[1] for c in cells], dtype=np.int64),
        mean,
        sd,
        back,
        back_sd,
        logged,
        np.array([c.rise for c in cells]),
        out,
    )


def _back(
    mean: dict[str, Array], outside: Outside, back_ratio: tuple[Array, Array] | None
) -> tuple[Array, Array, bool]:
    """Exhaust pressure of the steps and its spread [Pa]; whether it was logged."""
    logged = mean.get("back_pressure")
    if logged is not None and np.isfinite(logged).all():
        sd = np.full(logged.shape, 2.0 * drive_spread("sensor", "manifold_pressure"))
        return np.clip(logged, 60.0e3, 550.0e3), sd, True
    speed = mean["engine_speed"]
    boost = np.maximum(mean["manifold_pressure"] - outside.pressure, 0.0)
    ratio = np.full(speed.shape, _BACK_USUAL)
    if back_ratio is not None and back_ratio[0].size > 1:
        ratio = np.interp(speed, *back_ratio)
    free = _BACK_FREE * (speed / (6000.0 * _RPM)) ** 2
    gauge = np.maximum(ratio * boost, free)
    sd = drive_spread("sensor", "back_pressure") * gauge + 1.0e3
    return np.clip(outside.pressure + gauge, 60.0e3, 550.0e3), sd, False

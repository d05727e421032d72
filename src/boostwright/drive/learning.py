"""What a drive teaches of engine, parts and sensors, and of breathing over speed and pressure.

Unknowns with their spreads stand before the drive; readings beside the model move them, all at once, each by
how sure it is. Breathing has, beside level, slope and curve over speed, a smooth unknown of its own over
speed and pressure. Three times around with fresh cycles; what a drive does not tell keeps its spread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.beside import Row, rows_beside
from boostwright.drive.cells import Cells, cells_of, kept_points
from boostwright.drive.expected import Expectation
from boostwright.drive.knock_beside import knock_slopes
from boostwright.drive.learned import BreathingMap, Learned, LearnedLine, learned_note
from boostwright.drive.learned_words import words_of
from boostwright.drive.model_at import Predicted, predicted
from boostwright.drive.points import Points
from boostwright.drive.records import Notice
from boostwright.drive.row import light_load
from boostwright.drive.unknowns import Unknown
from boostwright.errors import OutOfRange
from boostwright.fitting.update import Belief, Update, below, smooth_covariance, update
from boostwright.library.drive_spreads import drive_spread
from boostwright.planning.ladder.conditions import Condition

__all__ = ["learn"]

Array = NDArray[np.float64]

_ROUNDS: Final = 3
_LEFT_OUT: Final = frozenset({"duty"})  # the air by the injectors once more
_FEWEST: Final = 5  # places
_SPEEDS, _PRESSURES = 11, 8  # of the breathing map
_LOWEST: Final = 4.0e4  # manifold pressure at which it begins [Pa]
_ROOM: Final = 2.0e4  # above the boost asked for, where it ends [Pa]
_BREATHING: Final = ("model.breathing", "model.breathing_slope", "model.breathing_curve", "form.light_load")
_POINTS: Final = {  # sensor: channel that it moves, and whether by a share
    "sensor.manifold_pressure": ("manifold_pressure", False),
    "sensor.intake_temperature": ("intake_temperature", False),
    "sensor.lambda": ("lambda", True),
}


@dataclass(frozen=True, slots=True)
class _Ground:
    """Places at which breathing is unknown: those that were read, then those of the map."""

    seen: Array  # (c, 2)
    place: Mapping[tuple[str, int, int], int]  # of each in `seen`
    nodes: Array  # (n m, 2)
    speed: Array
    pressure: Array

    @property
    def every(self) -> Array:
        return np.vstack([self.seen, self.nodes])


def learn(
    build: Build,
    expectation: Expectation,
    faults: Sequence[Notice] = (),
    condition: Condition | None = None,
    file: str = "",
) -> Learned:
    """What a drive teaches.

    expectation: `expected.expect` of that drive, best with its steady stretches. faults: what the review
    noticed; readings within are left out. condition: as it was given there. Raises OutOfRange where the drive
    holds too little.
    """
    points, unknowns = expectation.points, expectation.unknowns
    _refuse_twice(build, file)
    keep = _kept(expectation, faults)
    names = [u.name for u in unknowns]
    cells = _gather(expectation.rows, points, names, keep.rows)
    total = sum(c.off.size for c in cells)
    if total < _FEWEST:
        raise OutOfRange(
            f"The drive holds {total} places at which something can be learned; {_FEWEST} are needed. Log"
            " pulls with manifold pressure, charge temperature, lambda, spark, and air or injector time."
        )
    ground = _ground(build, cells)
    prior = _prior(unknowns, ground)
    found, chi = _first(cells, prior, ground, unknowns, expectation, keep)
    left = math.nan
    for _ in range(_ROUNDS - 1):
        found, left = _again(build, expectation, condition, found, prior, ground, keep)
    return _learned(build, expectation, found, prior, ground, cells, (chi, left, total), file)


class _Kept(NamedTuple):
    """Points (n,) that may teach: of the readings, and of knock or its silence."""

    rows: NDArray[np.bool_]
    knock: NDArray[np.bool_]


def _kept(expectation: Expectation, faults: Sequence[Notice]) -> _Kept:
    """What was noticed as a fault teaches nothing of the rows. Knock is no fault of its sensor, it is what is
    learned from: only where that channel itself was found bad, it is left out."""
    points, usable = expectation.points, expectation.model.usable
    parted = [n for n in expectation.notices if n.kind in ("off-the-model", "fuel-off-the-model")]
    deaf = [n for n in faults if n.kind.startswith("sensor-") and "knock_retard" in n.channels]
    return _Kept(kept_points(points, [*faults, *parted]) & usable, kept_points(points, deaf) & usable)


def _refuse_twice(build: Build, file: str) -> None:
    """Raise OutOfRange where the build holds already what this drive taught: it would count double."""
    if file and any(
        value.note == learned_note(file) for value in (*build.values.values(), *build._defaults.values())
    ):
        raise OutOfRange(
            f"The build holds already what '{file}' taught; learned again, the same readings would count"
            " twice. Take that revision back first."
        )


def _gather(
    rows: Sequence[Row], points: Points, names: Sequence[str], keep: NDArray[np.bool_]
) -> list[Cells]:
    found = [cells_of(row, points, names, keep) for row in rows if row.key not in _LEFT_OUT]
    return [c for c in found if c is not None]


def _ground(build: Build, cells: Sequence[Cells]) -> _Ground:
    seen = np.vstack([np.column_stack([c.speed, c.pressure]) for c in cells])
    top = build.number("place.barometer") + build.number("goal.boost") + _ROOM
    speed = np.linspace(1000.0 * math.pi / 30.0, build.number("engine.speed_limit"), _SPEEDS)
    pressure = np.linspace(_LOWEST, max(top, float(seen[:, 1].max())), _PRESSURES)
    nodes = np.array([(w, p) for w in speed for p in pressure])
    labels = [label for c in cells for label in c.label]
    return _Ground(seen, {label: i for i, label in enumerate(labels)}, nodes, speed, pressure)


def _lengths() -> Array:
    return np.array([drive_spread("learning", "length_speed"), drive_spread("learning", "length_pressure")])


def _prior(unknowns: Sequence[Unknown], ground: _Ground) -> Belief:
    k, g = len(unknowns), ground.every.shape[0]
    P = np.zeros((k + g, k + g))
    P[:k, :k] = np.diag([u.sd**2 for u in unknowns])
    P[k:, k:] = smooth_covariance(ground.every, ground.every, drive_spread("learning", "local"), _lengths())
    return Belief(np.zeros(k + g), P)


def _slopes(cells: Sequence[Cells], ground: _Ground, k: int) -> Array:
    """Slopes (m, k + g) of all rows over unknowns and over the charge at each place."""
    m, g = sum(c.off.size for c in cells), ground.every.shape[0]
    H = np.zeros((m, k + g))
    row = 0
    for c in cells:
        n = c.off.size
        H[row : row + n, :k] = c.slopes
        H[row + np.arange(n), k + np.array([ground.place[label] for label in c.label])] = c.charge
        row += n
    return H


def _first(
    cells: Sequence[Cells],
    prior: Belief,
    ground: _Ground,
    unknowns: Sequence[Unknown],
    expectation: Expectation,
    keep: _Kept,
) -> tuple[Belief, float]:
    told = _told(cells, prior, ground, len(unknowns), np.concatenate([c.off for c in cells]))
    names = [u.name for u in unknowns]
    belief = _knock(
        told.belief, names, expectation.points, expectation.model, keep.knock, np.zeros(len(names))
    )
    return belief, told.chi_square


def _told(cells: Sequence[Cells], prior: Belief, ground: _Ground, k: int, read: Array) -> Update:
    sd = np.concatenate([c.sd for c in cells])
    return update(prior, _slopes(cells, ground, k), read, sd, drive_spread("learning", "robust"))


def _again(
    build: Build,
    expectation: Expectation,
    condition: Condition | None,
    found: Belief,
    prior: Belief,
    ground: _Ground,
    keep: _Kept,
) -> tuple[Belief, float]:
    """The same from the prior, with readings and slopes about the newest mean; and what is left of them, the
    mean square in their own standard deviations."""
    unknowns = expectation.unknowns
    k = len(unknowns)
    moves = dict(zip((u.name for u in unknowns), found.mean[:k], strict=True))
    other, points, applied = _moved(build, expectation, moves)
    model = predicted(other, points)
    rows = rows_beside(other, points, model, expectation.outside, expectation.powers, condition)
    at = np.array([moves[u.name] if u.name in applied else 0.0 for u in unknowns])
    good = keep.rows & model.usable
    # places by the first conditions, so that a moved sensor does not move a reading to another place
    first = {key: expectation.points.mean[key] for key in ("engine_speed", "manifold_pressure")}
    placed = replace(points, mean={**points.mean, **first})
    again = _gather(rows, placed, [u.name for u in unknowns], good)
    cells = [
        c.at(np.array([i for i, label in enumerate(c.label) if label in ground.place], dtype=np.int64))
        for c in again
    ]
    if not any(c.off.size for c in cells):
        return found, math.nan
    read = np.concatenate([c.off + c.slopes @ at for c in cells])
    belief = _told(cells, prior, ground, k, read).belief
    off = (read - _slopes(cells, ground, k) @ belief.mean) / np.concatenate([c.sd for c in cells])
    return _knock(belief, [u.name for u in unknowns], points, model, keep.knock & model.usable, at), float(
        np.mean(off**2)
    )


def _moved(
    build: Build, expectation: Expectation, moves: Mapping[str, float]
) -> tuple[Build, Points, frozenset[str]]:
    """Build and points moved as far as the model can be computed there, and which moves are in them."""
    applied = set()
    stated, assumed = dict(build.values), dict(build._defaults)
    for u in expectation.unknowns:
        old = build.get(u.name) if u.is_field else None
        if old is None:
            continue
        new = replace(old, value=_sound(u, moves[u.name]))
        applied.add(u.name)
        if build.is_stated(u.name):
            stated[u.name] = new
        else:
            assumed[u.name] = new
    other = replace(build, values=stated, _defaults=assumed)
    points = expectation.points
    mean = dict(points.mean)
    for name, (channel, share) in _POINTS.items():
        if name in moves:
            mean[channel] = mean[channel] / (1.0 + moves[name]) if share else mean[channel] - moves[name]
            applied.add(name)
    if "sensor.spark_advance" in moves:
        mean["spark_advance"] = mean["spark_advance"] - moves["sensor.spark_advance"]
        applied.add("sensor.spark_advance")
    return other, replace(points, mean=mean), frozenset(applied)


def _sound(unknown: Unknown, move: float) -> float:
    """The moved value, never beyond three spreads."""
    most = 3.0 * unknown.sd
    return unknown.value(min(max(move, -most), most))


def _knock(
    belief: Belief,
    names: Sequence[str],
    points: Points,
    model: Predicted,
    keep: NDArray[np.bool_],
    at: Array,
) -> Belief:
    """The belief after what was heard of knock, or after silence at the spark nearest to the limit.

    keep: points that may be used. at: (k,) moves that the model already stands at.
    """
    retard = points.mean.get("knock_retard")
    if retard is None:
        return belief
    use = np.flatnonzero(keep & np.isfinite(retard) & model.usable)
    if not use.size:
        return belief
    table = knock_slopes(points, model, use)
    H = np.zeros((use.size, belief.mean.size))
    for j, name in enumerate(names):
        if name in table:
            H[:, j] = table[name]
    base = model.knock[use] - H[:, : at.size] @ at
    heard = retard[use] > drive_spread("learning", "retard")
    if heard.any():
        asked = base - model.slopes["spark"]["knock"][use] * retard[use]  # at the spark before the retard
        a, value = H[heard].mean(axis=0), float(np.median(asked[heard]))
        return update(
            belief, a[None, :], np.array([-value]), np.array([drive_spread("learning", "knock_heard")])
        ).belief
    nearest = int(np.argmax(base + H @ belief.mean))
    return below(belief, H[nearest], -float(base[nearest]), drive_spread("learning", "knock_soft"))


def _learned(
    build: Build,
    expectation: Expectation,
    found: Belief,
    prior: Belief,
    ground: _Ground,
    cells: Sequence[Cells],
    counted: tuple[float, float, int],
    file: str,
) -> Learned:
    unknowns = expectation.unknowns
    k = len(unknowns)
    lines = []
    for i, u in enumerate(unknowns):
        move, sd = float(found.mean[i]), float(found.sd[i])
        lines.append(
            LearnedLine(
                u.name,
                u.words,
                u.dimension,
                u.value(0.0),
                u.value_sd(0.0, u.sd),
                u.value(move),
                u.value_sd(move, sd),
                sd / u.sd,
                u.is_field,
            )
        )
    fields = [i for i, u in enumerate(unknowns) if u.is_field]
    C = found.covariance[np.ix_(fields, fields)]
    scale = np.sqrt(np.diag(C))
    chart = _chart(build, found, prior, ground, unknowns, cells)
    chi, left, total = counted
    made = Learned(
        file, build.fingerprint, tuple(lines), C / np.outer(scale, scale), chart, chi, left, total, ()
    )
    return replace(made, words=words_of(made, k, [c.key for c in cells]))


def _chart(
    build: Build,
    found: Belief,
    prior: Belief,
    ground: _Ground,
    unknowns: Sequence[Unknown],
    cells: Sequence[Cells],
) -> BreathingMap:
    """The breathing correction: level, slope and curve, with what stands beside them at each place."""
    k, c = len(unknowns), ground.seen.shape[0]
    names = [u.name for u in unknowns]
    high = build.number("engine.speed_limit")
    low = 1000.0 * math.pi / 30.0
    places = ground.every
    way = np.clip((places[:, 0] - 0.5 * (low + high)) / (0.5 * (high - low)), -1.0, 1.0)
    A = np.zeros((places.shape[0], k + places.shape[0]))
    load = light_load(places[:, 1])
    for name, column in zip(_BREATHING, (np.ones_like(way), way, way**2, load), strict=True):
        if name in names:
            A[:, names.index(name)] = column
    A[np.arange(places.shape[0]), k + np.arange(places.shape[0])] = 1.0
    mean = A @ found.mean
    sd = np.sqrt(np.sum((A @ found.covariance) * A, axis=1))
    before = np.sqrt(np.sum((A @ prior.covariance) * A, axis=1))
    shape = (ground.speed.size, ground.pressure.size)
    air = np.concatenate([np.full(one.off.size, one.key.startswith("air")) for one in cells])
    gap = np.linalg.norm((ground.nodes[:, None, :] - ground.seen[None, air, :]) / _lengths(), axis=2)
    near = (
        gap.min(axis=1) < drive_spread("learning", "covered")
        if air.any()
        else np.zeros(ground.nodes.shape[0], dtype=bool)
    )
    factor = np.exp(mean)
    off = np.concatenate([one.off for one in cells])
    own = np.concatenate([one.sd for one in cells])
    return BreathingMap(
        ground.speed,
        ground.pressure,
        factor[c:].reshape(shape),
        (factor * sd)[c:].reshape(shape),
        before[c:].reshape(shape),
        near.reshape(shape),
        ground.seen[air, 0],
        ground.seen[air, 1],
        np.exp(off[air]),
        own[air],
    )

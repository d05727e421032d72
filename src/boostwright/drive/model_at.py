"""The cycle at the conditions of a drive, and how its answers move with all that is not known.

Only one batch of cycles runs: every step of every pull once, and a few of them again for each unknown; the
slopes of the others are taken from the nearest of these.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.points import Points
from boostwright.physics.knock import knock_warmth_score
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel
from boostwright.systems.engine.types import CycleResult, ModelFactors, OperatingPoints
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of

__all__ = ["CONDITIONS", "FACTOR_PATHS", "QUANTITIES", "Predicted", "predicted"]

Array = NDArray[np.float64]

QUANTITIES: Final = ("torque", "air", "exhaust", "knock")
"""Brake torque [N m]; logarithm of air flow; exhaust at the turbine [K]; logarithm of the knock integral."""

FACTOR_PATHS: Final = (  # of the build, and whether its unknown is the logarithm
    ("model.breathing", True),
    ("model.breathing_slope", False),
    ("model.breathing_curve", False),
    ("model.friction", True),
    ("model.burn", True),
    ("model.heat", True),
    ("model.knock", True),
    ("model.knock_warmth", False),
    ("model.evaporated_share", False),
    ("model.port_heating", False),
    ("model.combustion_loss", False),
    ("model.exhaust_cooling", True),
)
CONDITIONS: Final = ("pressure", "temperature", "lambda", "spark", "back")  # [Pa], [K], [-], [rad], [Pa]
_STEPS: Final = {"pressure": 2.0e3, "temperature": 4.0, "lambda": 0.02, "spark": 0.035, "back": 4.0e3}
_FACTOR_STEP: Final = 0.04
_ANCHORS: Final = 24  # steps at which slopes are computed
_NEAREST: Final = 3
_KNOCK_SLOPE: Final = -math.degrees(
    0.044
)  # of the integral's logarithm over spark, where none can be had [1/rad]


@dataclass(frozen=True, slots=True)
class Predicted:
    """What the model says at (n,) points. slopes: by unknown, by quantity, (n,); unknowns are the paths of
    FACTOR_PATHS (logarithms where they are factors) and the names of CONDITIONS. usable: where the cycle
    converged. fuel: [kg/s].
    """

    torque: Array
    air: Array  # logarithm
    exhaust: Array
    knock: Array  # logarithm
    fuel: Array
    usable: NDArray[np.bool_]
    slopes: Mapping[str, Mapping[str, Array]]

    def of(self, quantity: str) -> Array:
        """One of QUANTITIES."""
        found: Array = getattr(self, quantity)
        return found

    @property
    def knock_margin(self) -> Array:
        """By how much later the logged spark stands than the knock limit, positive is safe [rad]."""
        slope = np.minimum(self.slopes["spark"]["knock"], 0.3 * _KNOCK_SLOPE)
        return np.asarray(self.knock / slope)


def predicted(build: Build, points: Points, factors: ModelFactors | None = None) -> Predicted:
    """The model at the points.

    factors: other than the build's. Empty points give empty arrays. The spread of the law of heat or knock is
    not in the slopes.
    """
    engine, fuel = engine_of(build), fuel_of(build)
    used = factors_of(build) if factors is None else factors
    n = len(points)
    if not n:
        no = np.empty(0)
        empty = dict.fromkeys(QUANTITIES, no)
        names = [path for path, _ in FACTOR_PATHS] + list(CONDITIONS)
        return Predicted(no, no, no, no, no, np.empty(0, dtype=bool), dict.fromkeys(names, empty))
    at = _points(points)
    anchors = _anchors(points)
    part = at.pick(_mask(anchors, n))
    order = np.sort(anchors)
    solver = CycleSolver(engine, fuel, factors=used)
    batch = [at, *(_moved(part, name) for name in CONDITIONS)]
    columns = [np.concatenate(c) for c in zip(*(b.arrays() for b in batch), strict=True)]
    whole = solver.run(OperatingPoints(*columns))
    here = _seen(_rows(whole, slice(0, n)))
    base = {q: here[q][order] for q in QUANTITIES}
    m = order.size
    slopes: dict[str, dict[str, Array]] = {}
    for k, name in enumerate(CONDITIONS):
        there = _seen(_rows(whole, slice(n + k * m, n + (k + 1) * m)))
        slopes[name] = {q: (there[q] - base[q]) / _STEPS[name] for q in QUANTITIES}
    usual = _rows(whole, order)
    slopes |= _factor_slopes(build, used, part, usual, base)
    near = _nearest(points, order)
    spread = {name: {q: _carried(s[q], near) for q in QUANTITIES} for name, s in slopes.items()}
    usable = (np.asarray(whole.status[:n]) == 0) & np.isfinite(here["torque"]) & np.isfinite(here["exhaust"])
    return Predicted(
        torque=here["torque"],
        air=here["air"],
        exhaust=here["exhaust"],
        knock=here["knock"],
        fuel=np.asarray(whole.fuel_flow[:n]),
        usable=usable,
        slopes=spread,
    )


def _points(points: Points) -> OperatingPoints:
    m = points.mean
    return OperatingPoints(
        m["engine_speed"],
        m["manifold_pressure"],
        m["intake_temperature"],
        points.back,
        m["lambda"],
        points.spark,
    )


def _moved(at: OperatingPoints, name: str) -> OperatingPoints:
    step = _STEPS[name]
    if name == "pressure":
        return replace(at, plenum_pressure=np.asarray(at.plenum_pressure) + step)
    if name == "temperature":
        return replace(at, plenum_temperature=np.asarray(at.plenum_temperature) + step)
    if name == "lambda":
        return replace(at, lam=np.asarray(at.lam) + step)
    if name == "spark":
        return replace(at, spark=np.asarray(at.spark) + step)
    return replace(at, exhaust_pressure=np.asarray(at.exhaust_pressure) + step)


def _rows(result: CycleResult, where: slice | NDArray[np.int64]) -> CycleResult:
    return result._replace(**{name: np.asarray(column)[where] for name, column in result._asdict().items()})


def _seen(result: CycleResult) -> dict[str, Array]:
    with np.errstate(invalid="ignore", divide="ignore"):
        return {
            "torque": np.asarray(result.torque),
            "air": np.log(np.asarray(result.air_flow)),
            "exhaust": np.asarray(result.exhaust_manifold_temperature),
            "knock": np.log(np.maximum(KnockModel.MIDDLE.integral(result), 1e-6)),
        }


def _factor_slopes(
    build: Build, used: ModelFactors, at: OperatingPoints, usual: CycleResult, base: Mapping[str, Array]
) -> dict[str, dict[str, Array]]:
    """Slopes over the factors at the anchors: by further cycles, or where the law is plain, by the law."""
    engine, fuel = engine_of(build), fuel_of(build)
    still = np.zeros(base["torque"].shape)
    moved = {
        "model.breathing": replace(used, breathing=used.breathing * math.exp(_FACTOR_STEP)),
        "model.burn": replace(used, burn=used.burn * math.exp(_FACTOR_STEP)),
        "model.heat": replace(used, heat=used.heat * math.exp(_FACTOR_STEP)),
        "model.evaporated_share": replace(used, evaporated_share=used.evaporated_share + 0.1),
        "model.port_heating": replace(used, port_heating=used.port_heating + 4.0),
        "model.combustion_loss": replace(used, combustion_loss=used.combustion_loss + 0.01),
        "model.exhaust_cooling": replace(used, exhaust_cooling=used.exhaust_cooling * math.exp(0.2)),
    }
    steps = {
        "model.evaporated_share": 0.1,
        "model.port_heating": 4.0,
        "model.combustion_loss": 0.01,
        "model.exhaust_cooling": 0.2,
    }
    found: dict[str, dict[str, Array]] = {}
    for path, factors in moved.items():
        there = _seen(CycleSolver(engine, fuel, factors=factors).run(at))
        found[path] = {q: (there[q] - base[q]) / steps.get(path, _FACTOR_STEP) for q in QUANTITIES}
    low, high = used.breathing_range
    way = np.clip((np.asarray(at.speed) - 0.5 * (low + high)) / (0.5 * (high - low)), -1.0, 1.0)
    for path, share in (("model.breathing_slope", way), ("model.breathing_curve", way**2)):
        found[path] = {q: found["model.breathing"][q] * share for q in QUANTITIES}
    rubbed = -np.asarray(usual.fmep) * engine.displacement / (4.0 * math.pi)
    warm = knock_warmth_score(np.asarray(usual.peak_unburned_temperature))
    found["model.friction"] = {"torque": rubbed, "air": still, "exhaust": still, "knock": still}
    found["model.knock"] = {"torque": still, "air": still, "exhaust": still, "knock": still + 1.0}
    found["model.knock_warmth"] = {"torque": still, "air": still, "exhaust": still, "knock": warm}
    return found


def _scaled(points: Points) -> Array:
    """Places of the points in speed and pressure, about one unit apart where the engine changes (n, 2)."""
    return np.column_stack([points.speed / (1000.0 * math.pi / 30.0), points.pressure / 25.0e3])


def _anchors(points: Points) -> NDArray[np.int64]:
    """A few points that stand far from each other: each the farthest from those before it."""
    at = _scaled(points)
    chosen = [int(np.argmax(at[:, 1]))]
    gap = np.linalg.norm(at - at[chosen[0]], axis=1)
    while len(chosen) < min(_ANCHORS, len(points)) and gap.max() > 0.0:
        chosen.append(int(np.argmax(gap)))
        gap = np.minimum(gap, np.linalg.norm(at - at[chosen[-1]], axis=1))
    return np.array(chosen, dtype=np.int64)


def _mask(where: NDArray[np.int64], n: int) -> NDArray[np.bool_]:
    found = np.zeros(n, dtype=bool)
    found[where] = True
    return found


def _nearest(points: Points, anchors: NDArray[np.int64]) -> Array:
    """Weights of the anchors for each point (n, m): the nearest three by inverse square of the distance."""
    at = _scaled(points)
    far = np.linalg.norm(at[:, None, :] - at[None, anchors, :], axis=2)
    weight = 1.0 / (far**2 + 1e-6)
    few = min(_NEAREST, anchors.size)
    least = np.partition(weight, -few, axis=1)[:, -few][:, None]
    weight = np.where(weight >= least, weight, 0.0)
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _carried(slope: Array, near: Array) -> Array:
    """Slopes at all points from those at the anchors (m,); a broken anchor counts for nothing."""
    good = np.isfinite(slope)
    weight = near * good
    whole = weight.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        found = weight @ np.where(good, slope, 0.0) / whole
    usual = float(np.median(slope[good])) if good.any() else 0.0
    return np.where(whole > 0.0, found, usual)

"""How late a lambda sensor shows what the engine burns, measured on the drive's own fuel cuts."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.habit import late
from boostwright.drive.scene import Scene
from boostwright.drive.windows import held, lag_between, robust_sd

__all__ = ["LambdaTime", "cut_of", "expected_lambda", "lambda_time"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_CUT_SHARE = 0.15  # of the drive's middle pulse: below it no fuel is given
_FEWEST = 5  # cuts from which both parts of the delay are taken
_LONGEST = 1.6  # s within which a sensor has answered
_SENSOR = 0.8  # share of the part that does not depend on flow that is the sensor's own lag
_USUAL = (
    0.15  # s, where the drive says nothing; from memory: planar wideband sensors answer in 0.05 to 0.15 s
)
_WAY = 0.4  # of the way to the lean end, at which the answer to a cut is timed
_DRAW = 0.05  # s: beyond this, an edge loses its weight


class LambdaTime(NamedTuple):
    """The delay is `sensor` + `gas` / (engine speed times manifold pressure): exhaust volume over its flow.

    sensor: [s]. gas: [s rad/s Pa]. edges: how many cuts it was measured on, 0 where it is a guess or came
    from the target. sd: robust spread of the edges about it [s].
    """

    sensor: float
    gas: float
    edges: int
    sd: float

    def delay(self, speed: Array, manifold: Array) -> Array:
        """Delay of the gas alone [s] at engine speed [rad/s] and manifold pressure [Pa]."""
        with np.errstate(invalid="ignore", divide="ignore"):
            gas = self.gas / np.maximum(np.nan_to_num(speed * manifold), 1.0)
        return np.minimum(gas, _LONGEST)


def cut_of(scene: Scene) -> Mask:
    """(n,) True where no fuel is given: by the pulse or duty, else where a closed throttle overruns."""
    signals = scene.signals
    for key in ("injector_pulse", "injector_duty"):
        x = signals.get(key)
        if x is None:
            continue
        fed = x[scene.ways.running & np.isfinite(x) & (x > 0.0)]
        if fed.size:
            return np.asarray((held(x, x.size) < _CUT_SHARE * np.median(fed)) & scene.ways.running)
    return scene.ways.overrun


def lambda_time(scene: Scene) -> LambdaTime:
    """Delay and lag of the lambda sensor on this drive's fuel cuts; else by its target; else usual."""
    edges = _edges(scene)
    if edges.shape[0] >= _FEWEST:
        a = np.array([np.ones(edges.shape[0]), edges[:, 1]]).T
        size = np.abs(a).max(axis=0)
        weight = np.ones(edges.shape[0])
        fit = np.zeros(2)
        for _ in range(8):
            fit = np.linalg.lstsq(a / size * weight[:, None], edges[:, 0] * weight, rcond=None)[0] / size
            weight = 1.0 / np.sqrt(1.0 + ((edges[:, 0] - a @ fit) / _DRAW) ** 2)
        spread = robust_sd(edges[:, 0] - a @ fit)
        if fit[1] >= 0.0:
            return LambdaTime(max(float(fit[0]), scene.signals.step), float(fit[1]), edges.shape[0], spread)
        return LambdaTime(max(float(np.median(edges[:, 0])), scene.signals.step), 0.0, edges.shape[0], spread)
    target = scene.signals.get("lambda_target")
    if target is not None:
        lag, match = lag_between(target, scene.signals["lambda"], scene.signals.step, 1.0)
        if abs(match) > 0.5 and np.isfinite(lag):
            return LambdaTime(max(lag, scene.signals.step), 0.0, 0, float("nan"))
    return LambdaTime(_USUAL, 0.0, 0, float("nan"))


def _edges(scene: Scene) -> Array:
    """(m, 2): time from a cut until lambda leaves for its lean end [s], 1/(speed times pressure)."""
    signals = scene.signals
    reading, speed, manifold = signals["lambda"], signals["engine_speed"], signals["manifold_pressure"]
    there = reading[np.isfinite(reading)]
    cut = cut_of(scene)
    if there.size == 0 or not np.isfinite(manifold).any():
        return np.zeros((0, 2))
    level = 1.0 + _WAY * max(float(np.quantile(there, 0.999)) - 1.0, 0.1)
    before, after = signals.samples(0.8), signals.samples(_LONGEST)
    found = []
    for i in np.flatnonzero(cut[1:] & ~cut[:-1]) + 1:
        if i < before or i + after > reading.size or cut[i - before : i].any():
            continue
        part = reading[i : i + after]
        over = np.flatnonzero(part > level)
        ends = np.flatnonzero(~cut[i : i + after])
        if over.size == 0 or over[0] == 0 or (ends.size and over[0] > ends[0] + signals.samples(0.3)):
            continue
        k = int(over[0])
        share = (level - part[k - 1]) / (part[k] - part[k - 1])
        flow = float(np.mean(speed[i : i + k + 1]) * np.mean(manifold[i : i + k + 1]))
        if np.isfinite(share) and np.isfinite(flow) and flow > 0.0:
            found.append(((k - 1 + share) * signals.step, 1.0 / flow))
    return np.array(found).reshape(-1, 2)


def expected_lambda(scene: Scene, time: LambdaTime) -> tuple[Array, Array]:
    """The logarithm of the target as the sensor would show it, and since when no cut reaches it [s].

    Both (n,). Without a recorded target the first is zero: lambda is then judged by the drive's habit alone.
    """
    signals = scene.signals
    gas = time.delay(signals["engine_speed"], signals["manifold_pressure"])
    arrival = np.maximum.accumulate(signals.t + gas)
    cut = cut_of(scene) | ~scene.ways.running
    reached = np.interp(signals.t, arrival, cut.astype(np.float64)) > 0.01
    index = np.arange(len(signals))
    last = np.maximum.accumulate(np.where(reached | cut, index, -(10**9)))
    since = (index - last) * signals.step
    target = signals.get("lambda_target")
    if target is None:
        return np.zeros(len(signals)), np.asarray(since, dtype=np.float64)
    wanted = np.log(np.where(target > 0.3, target, np.nan))
    wanted = np.nan_to_num(held(wanted, wanted.size))
    shown = late(np.interp(signals.t, arrival, wanted), _SENSOR * time.sensor, signals.step)
    return shown, np.asarray(since, dtype=np.float64)

"""Mixture under load against its target, the ends of a lambda sensor's range, one that is not yet warm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.habit import habit
from boostwright.drive.lambda_time import LambdaTime, cut_of, expected_lambda, lambda_time
from boostwright.drive.lean import why_lean
from boostwright.drive.lean_moments import lean_moments
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene
from boostwright.drive.watch_fluids import barometer_of
from boostwright.drive.windows import held, robust_sd, running_count, running_mean, slope, spans

__all__ = ["Mixture", "lambda_ends", "lambda_ready", "mixture", "mixture_of"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_SURE = 4.1  # robust standard deviations of the drive's own scatter over a second
_WINDOW = 1.0  # s over which a mixture is judged: two engine speeds' worth of a pull
_SURE_AT_ONCE = 5.6  # the same for what is out for less than the time that a mean is taken over
_LASTING = 0.9  # s
_LEAST = 0.4  # s that the mean must stay out
_SETTLED = 0.7  # s of load before a mixture is judged: wall film and sensor have followed
_AFTER_CUT = 1.0  # s
_LOADED = 0.88  # of the barometer: above it the engine works
_OPEN = 0.35  # throttle


@dataclass(frozen=True, slots=True)
class Mixture:
    """Lambda under load. All (n,).

    off: logarithm of lambda against what is usual at that moment, NaN where it cannot be judged. mean: the
    same over a second. load: the engine works, and has for a while. cut: no fuel is given. wanted: logarithm
    of the target as the sensor would show it. sd: usual scatter of `mean`.
    """

    off: Array
    mean: Array
    load: Mask
    sd: float
    cut: Mask
    wanted: Array
    time: LambdaTime
    low: float  # ends of what the sensor shows in this drive
    high: float


def mixture_of(scene: Scene) -> Mixture:
    """Lambda against target and against the drive's own habit under load, in step with the sensor's delay."""
    signals = scene.signals
    reading = signals["lambda"]
    time = lambda_time(scene)
    wanted, since_cut = expected_lambda(scene, time)
    manifold = signals["manifold_pressure"]
    loaded = (manifold > _LOADED * barometer_of(scene)) & scene.ways.running & (scene.ways.opening > _OPEN)
    index = np.arange(len(signals))
    onset = np.maximum.accumulate(np.where(~loaded, index, -(10**9)))
    lasted = np.asarray((index - onset) * signals.step, dtype=np.float64)
    load = loaded & (since_cut > _AFTER_CUT) & (lasted > _SETTLED) & np.isfinite(reading)
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.log(reading) - wanted
    at = np.flatnonzero(load)
    features = _features(scene, wanted, lasted)[at]
    fit = habit(features, off[at], np.ones(at.size, dtype=bool), signals.samples(0.1))
    off[~load] = np.nan
    off[at] -= fit.usual
    window = signals.samples(_WINDOW)
    mean = running_mean(off, window)
    mean[~load | (running_count(load, window) < 0.5 * window)] = np.nan
    there = reading[np.isfinite(reading)]
    low, high = (float(there.min()), float(there.max())) if there.size else (float("nan"), float("nan"))
    return Mixture(off, mean, load, robust_sd(mean), cut_of(scene), wanted, time, low, high)


def _features(scene: Scene, wanted: Array, lasted: Array) -> Array:
    """What a sound mixture may depend on: speed, pressure, how both change, time under load, air heat."""
    signals = scene.signals
    speed, pressure = signals["engine_speed"] / 500.0, signals["manifold_pressure"] / 1e5
    rise = slope(running_mean(pressure, signals.samples(0.15)), signals.step, signals.samples(0.1))
    spin = slope(running_mean(speed, signals.samples(0.3)), signals.step, signals.samples(0.2))
    turn = slope(wanted, signals.step, signals.samples(0.1))
    columns = [
        np.ones(speed.size),
        speed,
        speed**2,
        pressure,
        pressure**2,
        speed * pressure,
        rise,
        spin,
        turn,
    ]
    columns.append(np.exp(-np.clip(lasted, 0.0, 20.0) / 0.7))
    if "lambda_target" not in signals:
        columns += [pressure**3, speed**3]
    air = signals.get("intake_temperature")
    if air is not None:
        columns.append((held(air, air.size) - 300.0) / 20.0)
    return np.nan_to_num(np.array(columns).T)


def mixture(scene: Scene) -> list[Notice]:
    """Lean and rich under load, each lean one with the answer if it is real; brief ones counted by cause."""
    signals, judged = scene.signals, mixture_of(scene)
    if not np.isfinite(judged.sd):
        return []
    least = max(_SURE * judged.sd, scene.limit("lean", "least"))
    found = []
    for sign, kind in ((1.0, "lean"), (-1.0, "rich")):
        with np.errstate(invalid="ignore"):
            out = sign * judged.mean > least
        for a, b in spans(out, least=signals.samples(_LEAST), join=signals.samples(0.4)):
            most = float(np.nanmax(sign * judged.mean[a:b]))
            if most > _SURE_AT_ONCE * judged.sd or (b - a) * signals.step > _LASTING:
                found.append(_one(scene, judged, kind, a, b, most))
    return found + lean_moments(scene, judged.wanted, judged.cut)


def _one(scene: Scene, judged: Mixture, kind: str, a: int, b: int, most: float) -> Notice:
    signals = scene.signals
    reading = signals["lambda"]
    usual = float(np.nanmedian(reading[a:b] / np.exp(judged.off[a:b])))
    value = usual * (np.exp(most if kind == "lean" else -most) - 1.0)
    size = Reading("lambda against its usual there", float(value), usual * judged.sd, "mixture", "lambda")
    also = [
        Reading("lambda", float(np.nanmedian(reading[a:b])), signals.noise("lambda"), "mixture", "lambda")
    ]
    also.append(_mean(scene, "engine_speed", "engine speed", "speed of rotation", a, b))
    also.append(_mean(scene, "manifold_pressure", "manifold pressure", "pressure", a, b))
    stretch = scene.stretch_at((a + b) // 2, "pull")
    note = ""
    if kind == "lean":
        answer = why_lean(scene, a, b, judged.cut)
        note = answer.words
        if answer.real is False:
            kind = "lean-explained"
    return scene.notice(
        kind, a, b, size, most / judged.sd, ("lambda",), stretch=stretch, also=tuple(also), note=note
    )


def _mean(scene: Scene, key: str, words: str, dimension: str, a: int, b: int) -> Reading:
    x = scene.signals[key][a:b]
    return Reading(words, float(np.nanmean(x)) if np.isfinite(x).any() else float("nan"), 0.0, dimension, key)


def lambda_ends(scene: Scene) -> list[Notice]:
    """Lambda at the rich or lean end of its sensor while the engine works: the true mixture is beyond it."""
    signals = scene.signals
    reading = signals["lambda"]
    there = reading[np.isfinite(reading)]
    if there.size < 100:
        return []
    loaded = scene.ways.running & (scene.ways.opening > _OPEN)
    loaded &= signals["manifold_pressure"] > _LOADED * barometer_of(scene)
    coolant = signals.get("coolant_temperature")
    if coolant is not None:  # a cold engine is enriched on purpose
        loaded &= ~(coolant < scene.limit("lambda-at-its-rich-end", "warm"))
    target = signals.get("lambda_target")
    if target is None:
        of_load = reading[loaded & np.isfinite(reading)]
        target = np.full(reading.size, float(np.median(of_load)) if of_load.size else np.nan)
    cut = cut_of(scene)
    found = []
    for kind, end in (
        ("lambda-at-its-rich-end", float(there.min())),
        ("lambda-at-its-lean-end", float(there.max())),
    ):
        if not _flat_at(there, end, signals.quantum("lambda")):
            continue
        near = np.abs(reading - end) <= 2.0 * max(signals.noise("lambda"), signals.quantum("lambda"))
        for a, b in spans(
            near & loaded, least=signals.samples(scene.limit(kind, "least")), join=signals.samples(0.1)
        ):
            if kind == "lambda-at-its-lean-end" and _cut_before(scene, cut, a, b):
                continue
            wanted = target[a:b][np.isfinite(target[a:b])]
            if wanted.size and abs(float(np.median(wanted)) / end - 1.0) < scene.limit(kind, "asked"):
                continue  # so it was asked for: the sensor's range ends there
            size = Reading(
                "time at the end of the sensor's range",
                (b - a) * signals.step,
                signals.step,
                "time",
                "lambda",
            )
            also = (Reading("lambda where it ends", end, 0.0, "mixture", "lambda"),)
            ratio = (b - a) * signals.step / scene.limit(kind, "least")
            stretch = scene.stretch_at(a, "pull")
            found.append(scene.notice(kind, a, b, size, ratio, ("lambda",), stretch=stretch, also=also))
    return found


def _flat_at(there: Array, end: float, quantum: float) -> bool:
    """True where readings heap up at that end, as they do at a limit, and not only stray to it."""
    at_end = int(np.count_nonzero(np.abs(there - end) <= 0.5 * quantum))
    beside = int(
        np.count_nonzero((np.abs(there - end) > 0.5 * quantum) & (np.abs(there - end) <= 4.5 * quantum))
    )
    return at_end >= 3 and at_end > 0.5 * beside


def _cut_before(scene: Scene, cut: Mask, first: int, last: int) -> bool:
    before = slice(max(0, first - scene.signals.samples(1.5)), last + 1)
    return bool(cut[before].any() or not scene.ways.running[before].all())


def lambda_ready(scene: Scene) -> list[Notice]:
    """Starts after which the lambda sensor took longer to read than after one as cold, or than is usual."""
    signals = scene.signals
    reading = signals["lambda"]
    waits = [(i, w) for i in _starts(scene) if (w := _wait(scene, reading, i)) is not None]
    coolant = signals.get("coolant_temperature")
    found = []
    for i, wait in waits:
        took = wait * signals.step
        usual = scene.limit("lambda-not-ready", "usual")
        for j, other in waits:
            alike = coolant is None or not coolant[i] < coolant[j] - scene.limit(
                "lambda-not-ready", "as_cold"
            )
            if alike and other * signals.step > scene.limit("lambda-not-ready", "warming"):
                usual = min(usual, other * signals.step)
        if took > usual + scene.limit("lambda-not-ready", "spare"):
            size = Reading("time from the start until lambda reads", took, signals.step, "time", "lambda")
            also = (Reading("usual in this drive", usual, signals.step, "time", "lambda"),)
            first = i + int(usual / signals.step)
            found.append(
                scene.notice("lambda-not-ready", first, i + wait, size, took / usual, ("lambda",), also=also)
            )
    return found


def _starts(scene: Scene) -> list[int]:
    """Places at which the engine begins to run after it truly stood or was cranked, and runs on."""
    signals, running = scene.signals, scene.ways.running
    speed = signals["engine_speed"]
    found: list[int] = []
    for i in (np.flatnonzero(running[1:] & ~running[:-1]) + 1).tolist():
        before = speed[max(0, i - signals.samples(3.0)) : i]
        later = slice(i, i + signals.samples(3.0))
        after = running[later][np.isfinite(speed[later])]  # a gap of the log right after it changes nothing
        if found and i - found[-1] < signals.samples(3.0):
            continue
        if (
            after.size
            and np.isfinite(before).mean() > 0.9
            and np.mean(before < 0.9 * 42.0) > 0.2
            and after.mean() > 0.9
        ):
            found.append(i)
    return found


def _wait(scene: Scene, reading: Array, start: int) -> int | None:
    """Samples from a start until lambda moves; None where the engine stopped before, or nothing was read."""
    signals = scene.signals
    rest = reading[start : start + signals.samples(120.0)]
    if not np.isfinite(rest[0]):
        return None
    moved = np.flatnonzero(np.abs(rest - rest[0]) > max(8.0 * signals.noise("lambda"), 0.03))
    end = int(moved[0]) if moved.size else rest.size
    speed = signals["engine_speed"][start : start + end]
    return None if np.mean(speed < 0.5 * 42.0) > 0.02 else end

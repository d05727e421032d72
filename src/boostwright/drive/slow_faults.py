"""Faults that show in the whole of a drive: crankcase pressure, exhaust leak at idle, surge at a lift, misfire."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import robust_sd, running_mean, spans

__all__ = ["WATCHES"]

Array = NDArray[np.float64]


def find_crankcase_pressure(scene: Scene) -> list[Notice]:
    """Crankcase pressure above what the same speed and load made in the rest of the drive."""
    signals = scene.signals
    x = signals["crankcase_pressure"]
    load = signals["manifold_pressure"]
    speed = signals["engine_speed"]
    block = signals.samples(0.5)
    n = x.size // block
    if n < 60:
        return []
    with np.errstate(invalid="ignore"):
        c, p, w = (_blocks(v, block, n) for v in (x, load, speed))
    good = np.isfinite(c) & np.isfinite(p) & np.isfinite(w) & (w > 60.0)
    if good.sum() < 60:
        return []
    shape = np.stack([np.ones(n), p / 1e5, w / 300.0, p * w / 3e7], axis=1)
    usual = np.full(n, np.nan)
    usual[good] = shape[good] @ _robust_fit(shape[good], c[good])
    floor = scene.limit("crankcase-pressure", "least")
    level = np.maximum(usual, floor)
    noise = signals.noise("crankcase_pressure")
    window = max(3, round(scene.limit("crankcase-pressure", "window") / (block * signals.step)))
    weight = np.where(good, level, 0.0)
    over = np.where(good, c - usual, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        gain = running_mean(over * weight, window) / running_mean(weight * weight, window)
    scatter = max(
        robust_sd(gain[good]), scene.limit("crankcase-pressure", "scatter"), noise / floor / np.sqrt(window)
    )
    high = np.nan_to_num(gain) > scene.limit("crankcase-pressure", "ratio") * scatter
    found = []
    for a, b in spans(high, least=window // 2, join=2 * window):
        here = gain[a:b]
        share = float(np.nanmax(here))
        size = Reading("pressure above the usual, as a share", share, scatter, "share", "crankcase_pressure")
        most = Reading(
            "pressure above the usual",
            float(np.nanmax((c - usual)[a:b])),
            noise,
            "pressure",
            "crankcase_pressure",
        )
        found.append(
            scene.notice(
                "crankcase-pressure",
                a * block,
                b * block - 1,
                size,
                share / scatter,
                ("crankcase_pressure", "manifold_pressure", "engine_speed"),
                also=(most,),
            )
        )
    return found


def _blocks(x: Array, block: int, n: int) -> Array:
    """Means of consecutive blocks; NaN where a block holds none."""
    part = x[: n * block].reshape(n, block)
    there = np.isfinite(part)
    count = there.sum(axis=1)
    total = np.where(there, part, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _robust_fit(shape: Array, y: Array) -> Array:
    """Coefficients by least squares that leaves outliers out step by step (bisquare weights)."""
    weight = np.ones(y.size)
    fit = np.zeros(shape.shape[1])
    for _ in range(12):
        root = np.sqrt(weight)[:, None]
        fit = np.linalg.lstsq(shape * root, y * root[:, 0], rcond=None)[0]
        off = y - shape @ fit
        scale = max(4.685 * robust_sd(off, 0.0), 1e-12)
        weight = np.where(np.abs(off) < scale, (1.0 - (off / scale) ** 2) ** 2, 0.0)
        if weight.sum() < 3 * fit.size:
            break
    return fit


def find_exhaust_leak(scene: Scene) -> list[Notice]:
    """Lambda that steps up by itself at idle: air drawn in ahead of the sensor, where the gas pulses below outside."""
    signals = scene.signals
    measured = signals["lambda"]
    target = signals.get("lambda_target")
    x = measured - (target if target is not None else 1.0)
    ends = np.nanquantile(measured, [0.001, 0.999]) if np.isfinite(measured).any() else (0.0, 9.0)
    at_end = (measured <= ends[0] + 0.004) | (measured >= ends[1] - 0.006)
    x = np.where(at_end, np.nan, x)
    half = signals.samples(scene.limit("exhaust-leak", "side"))
    gap = signals.samples(scene.limit("exhaust-leak", "edge"))
    each = []
    for s in scene.of("idle"):
        place = scene.places(s)
        first = place.start + signals.samples(scene.limit("exhaust-leak", "settles"))
        part = x[first : place.stop]
        if part.size < 2 * half + gap + 2:
            continue
        mean = running_mean(part, half)
        shift = half // 2
        n = part.size
        at = np.arange(half + gap, n - half)
        step = mean[np.minimum(at + shift, n - 1)] - mean[np.maximum(at - gap - shift, 0)]
        each.append((s, first, at, step, part))
    if not each:
        return []
    every = np.concatenate([e[3] for e in each])
    scatter = max(robust_sd(every, 0.0), scene.limit("exhaust-leak", "scatter"))
    least = scene.limit("exhaust-leak", "ratio") * scatter
    found = []
    for s, first, at, step, part in each:
        up = np.nan_to_num(step)
        for a, b in spans(up > least, join=half):
            top = a + int(np.argmax(up[a:b]))
            down = np.flatnonzero(up[top:] < -0.6 * up[top])
            begin = first + int(at[top]) - gap
            end = first + (int(at[top + down[0]]) if down.size else part.size - 1)
            size = Reading("lambda above that before it", float(up[top]), scatter, "mixture", "lambda")
            found.append(
                scene.notice(
                    "exhaust-leak", begin, end, size, float(up[top]) / scatter, ("lambda",), stretch=s
                )
            )
            break
    return found


def find_surge(scene: Scene) -> list[Notice]:
    """Pressure before the throttle that beats to and fro after the throttle has shut: the compressor surges."""
    signals = scene.signals
    x = signals["charge_pressure"]
    outside = scene.ways.outside
    noise = max(signals.noise("charge_pressure"), 1.0)
    rough = []
    for s in scene.of("lift"):
        place = scene.places(s)
        start = place.start
        before = float(np.nanmax(x[max(0, start - signals.samples(0.5)) : start + 1], initial=0.0))
        if before < outside + scene.limit("surge", "boost"):
            continue
        part = x[start : place.stop]
        bend = part[1:-1] - 0.5 * (part[2:] + part[:-2])
        bend = bend[np.isfinite(bend)]
        if bend.size < 8:
            continue
        beats = np.sort(np.abs(bend))[-max(4, bend.size // 6) :]
        rough.append((s, start, place.stop, float(np.median(beats))))
    if not rough:
        return []
    sizes = np.array([r[3] for r in rough])
    usual = float(np.median(sizes))
    scatter = max(robust_sd(sizes, usual), noise, scene.limit("surge", "scatter"))
    found = []
    for s, a, b, size in rough:
        ratio = (size - min(usual, 4.0 * noise)) / scatter
        if ratio > scene.limit("surge", "ratio"):
            of = Reading("height of the beats", 2.0 * size, scatter, "pressure", "charge_pressure")
            found.append(
                scene.notice("surge", a, b - 1, of, ratio, ("charge_pressure", "throttle"), stretch=s)
            )
    return found


WATCHES = (
    Watch(
        ("crankcase-pressure",), find_crankcase_pressure, (("crankcase_pressure",), ("manifold_pressure",))
    ),
    Watch(
        ("exhaust-leak",),
        find_exhaust_leak,
        (("lambda",),),
        2.0,
        (("lambda_target", "a leak of the exhaust while the target moves, as in warming up"),),
    ),
    Watch(("surge",), find_surge, (("charge_pressure",),), 15.0),
)

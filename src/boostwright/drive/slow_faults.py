"""Faults that show beside the pulls: crankcase pressure, exhaust leak at idle, surge at a lift."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import (
    robust_sd,
    running_count,
    running_max,
    running_mean,
    running_min,
    running_sd,
    spans,
)

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


def _robust_fit(shape: Array, y: Array, hold: float = 0.0) -> Array:
    """Coefficients by least squares that leaves outliers out step by step (bisquare weights).

    hold: keeps all but the first near zero where the data do not tell them (ridge).
    """
    ridge = np.sqrt(hold) * np.eye(shape.shape[1])[1:]
    weight = np.ones(y.size)
    fit = np.zeros(shape.shape[1])
    for _ in range(12):
        root = np.sqrt(weight)[:, None]
        rows = np.concatenate((shape * root, ridge))
        fit = np.linalg.lstsq(rows, np.concatenate((y * root[:, 0], np.zeros(len(ridge)))), rcond=None)[0]
        off = y - shape @ fit
        scale = max(4.685 * robust_sd(off, 0.0), 1e-12)
        weight = np.where(np.abs(off) < scale, (1.0 - (off / scale) ** 2) ** 2, 0.0)
        if weight.sum() < fit.size + 2:
            break
    return fit


def find_exhaust_leak(scene: Scene) -> list[Notice]:
    """Lambda that stands higher for a part of an idle, with an edge: air drawn in ahead of the sensor.

    Gas pulses fall below the pressure outside at idle only, so a leak shows there and nowhere else.
    """
    signals = scene.signals
    x = _mixture_off(scene)
    side = signals.samples(scene.limit("exhaust-leak", "side"))
    gap = signals.samples(scene.limit("exhaust-leak", "edge"))
    calm = running_sd(x, side)
    mean = running_mean(x, side)
    reach = side // 2 + gap // 2
    step = np.full(x.size, np.nan)
    rough = np.full(x.size, np.nan)
    if x.size > 2 * reach:
        step[reach:-reach] = mean[2 * reach :] - mean[: -2 * reach]
        rough[reach:-reach] = np.maximum(calm[2 * reach :], calm[: -2 * reach])
    noise = max(signals.noise("lambda"), 1e-4)
    edges = np.abs(step) > np.maximum(4.0 * (rough - 1.2 * noise), 0.0)
    scatter = max(robust_sd(step[scene.ways.idle], 0.0), scene.limit("exhaust-leak", "scatter"))
    least = max(scene.limit("exhaust-leak", "ratio") * scatter, scene.limit("exhaust-leak", "least"))
    found = []
    for s in scene.of("idle"):
        place = scene.places(s)
        first, last = max(0, place.start - gap), place.stop
        here = np.where(edges[first:last], np.nan_to_num(step[first:last]), 0.0)
        up, down = int(np.argmax(here)), int(np.argmin(here))
        rise, fall = float(here[up]), -float(here[down])
        size = max(rise, fall)
        if size < least:
            continue
        begin = first + up if rise > 0.6 * size and up < here.size - side // 2 else place.start
        end = first + down if fall > 0.6 * size and first + down > begin else last - 1
        of = Reading("lambda above that beside it", size, scatter, "mixture", "lambda")
        found.append(scene.notice("exhaust-leak", begin, end, of, size / scatter, ("lambda",), stretch=s))
    return found


def _mixture_off(scene: Scene) -> Array:
    """Lambda less its target; NaN where the sensor stands at one of its ends, and so says nothing."""
    signals = scene.signals
    measured = signals["lambda"]
    target = signals.get("lambda_target")
    off = measured - (target if target is not None else 1.0)
    if target is not None:
        window = signals.samples(2.0)
        moves = running_max(target, window) - running_min(target, window)
        off = np.where(moves > scene.limit("exhaust-leak", "target_moves"), np.nan, off)
    if not np.isfinite(measured).any():
        return np.asarray(off)
    low, high = np.nanquantile(measured, [0.001, 0.999])
    near = 5.0 * max(signals.noise("lambda"), signals.quantum("lambda"))
    at_end = (measured <= low + near) | (measured >= high - near)
    since = signals.samples(scene.limit("exhaust-leak", "wakes"))
    at_end |= running_count(at_end, 2 * since + 1) > 0.0
    return np.where(at_end, np.nan, off)


def find_surge(scene: Scene) -> list[Notice]:
    """A throttle that shuts before boost has a way out: the charge beats to and fro, or stays up for long.

    Beats are readings off their neighbours in the second after the lift, seven tenths of them; what stays
    is the share of the boost half a second later, against lifts at like speed.
    """
    signals = scene.signals
    x = signals["charge_pressure"]
    lifts = _boosted_lifts(scene, x)
    if not lifts:
        return []
    noise = max(signals.noise("charge_pressure"), 1.0)
    stays = _stays_up(scene, x, lifts)
    rough = np.full(len(lifts), np.nan)
    few = np.ones(len(lifts))
    for i, (_, start, _) in enumerate(lifts):
        part = x[start : start + signals.samples(scene.limit("surge", "lasts"))]
        bend = part[1:-1] - 0.5 * (part[2:] + part[:-2])
        bend = np.abs(bend[np.isfinite(bend)])
        if bend.size >= 8:
            rough[i] = np.quantile(bend, 0.7)
            few[i] = bend.size
    usual = float(np.nanmedian(rough)) if np.isfinite(rough).any() else 0.0
    scatter = np.maximum(robust_sd(rough, usual), scene.limit("surge", "scatter") * noise / np.sqrt(few))
    beats = np.nan_to_num((rough - min(usual, 2.0 * noise)) / scatter)
    found = []
    for i, (s, start, boost) in enumerate(lifts):
        ratio = max(float(beats[i]), stays[i][1])
        if ratio <= scene.limit("surge", "ratio"):
            continue
        if beats[i] >= stays[i][1]:
            size = Reading(
                "height of the beats", 2 * float(rough[i]), float(scatter[i]), "pressure", "charge_pressure"
            )
            note = "the charge beats to and fro"
        else:
            more = stays[i][0] * boost
            size = Reading(
                "charge that stays half a second after", more, more / ratio, "pressure", "charge_pressure"
            )
            note = "the charge stays up after the lift: the blow-off valve does not let it go"
        end = start + signals.samples(scene.limit("surge", "lasts"))
        found.append(
            scene.notice("surge", start, end, size, ratio, ("charge_pressure",), stretch=s, note=note)
        )
    return found


def _boosted_lifts(scene: Scene, x: Array) -> list[tuple[Stretch, int, float]]:
    """Lifts from boost, with their place and the boost before them [Pa]."""
    found = []
    for s in scene.of("lift"):
        start = scene.signals.at(s.start)
        before = x[max(0, start - scene.signals.samples(0.5)) : start + 1]
        if np.isfinite(before).any():
            boost = float(np.nanmax(before)) - scene.ways.outside
            if boost > scene.limit("surge", "boost"):
                found.append((s, start, boost))
    return found


def _stays_up(scene: Scene, x: Array, lifts: list[tuple[Stretch, int, float]]) -> list[tuple[float, float]]:
    """Share of boost half a second after each lift beyond that of like lifts, and that in its scatter."""
    signals = scene.signals
    later = np.array([min(start + signals.samples(0.5), x.size - 1) for _, start, _ in lifts])
    smooth = running_mean(x, signals.samples(0.1))
    boost = np.array([b for _, _, b in lifts])
    share = (smooth[later] - scene.ways.outside) / boost
    speed = signals["engine_speed"][[start for _, start, _ in lifts]]
    shape = np.stack([np.ones(boost.size), 300.0 / speed, 1e4 / boost], axis=1)
    shape[:, 1:] -= np.nanmedian(shape[:, 1:], axis=0)
    good = np.isfinite(share) & np.isfinite(shape).all(axis=1)
    if good.sum() < 8:
        return [(0.0, 0.0)] * len(lifts)
    off = share - shape @ _robust_fit(shape[good], share[good], 0.05)
    noise = signals.noise("charge_pressure") / np.sqrt(max(1.0, 0.1 / signals.step))
    scatter = np.hypot(max(robust_sd(off[good], 0.0), scene.limit("surge", "share_scatter")), noise / boost)
    return [
        (float(o), float(z)) for o, z in zip(np.nan_to_num(off), np.nan_to_num(off / scatter), strict=True)
    ]


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

"""Faults of the engine and of its speed signal: dropouts, clutch slip, torque cuts, hunting idle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.peers import odd_stretch, peers_of
from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import (
    bend_of,
    robust_sd,
    running_median,
    spans,
    swing,
)

__all__ = ["WATCHES"]

Array = NDArray[np.float64]


def find_dropouts(scene: Scene) -> list[Notice]:
    """Readings of engine speed that stand alone, far from those before and after."""
    signals = scene.signals
    x = signals["engine_speed"]
    if x.size < 7:
        return []
    middle = running_median(x, 5)
    off = np.abs(x - middle)
    share = scene.limit("speed-dropout", "share")
    least = np.maximum(share * middle, scene.limit("speed-dropout", "noises") * signals.noise("engine_speed"))
    across = np.full(x.size, np.inf)
    across[1:-1] = np.abs(x[2:] - x[:-2])
    before = np.abs(np.diff(x, prepend=x[0]))
    alone = (off > least) & (middle > 40.0) & ((across < 0.5 * off) | (before > 0.5 * off))
    found = []
    join = signals.samples(scene.limit("speed-dropout", "together"))
    for a, b in spans(np.nan_to_num(alone).astype(bool), join=join):
        worst = float(np.nanmax(off[a:b][alone[a:b]]))
        noise = max(signals.noise("engine_speed"), 1e-3)
        count = int(alone[a:b].sum())
        size = Reading("engine speed off its neighbours", worst, noise, "speed of rotation", "engine_speed")
        many = (Reading("readings at a wrong speed", count, 0.0, "count", "engine_speed"),)
        found.append(
            scene.notice("speed-dropout", a, b - 1, size, worst / noise, ("engine_speed",), also=many)
        )
    return found


def find_clutch_slip(scene: Scene) -> list[Notice]:
    """Engine speed above what road speed and gear make, in a pull, against the other pulls."""
    signals, ways = scene.signals, scene.ways
    pulls = tuple(p for p in scene.pulls if p.stretch.gear in ways.ratio)
    if not pulls or "road_speed" not in signals:
        return []
    speed, road = signals["engine_speed"], signals["road_speed"]
    over = np.full(speed.size, np.nan)
    for p in pulls:
        here = slice(p.first, p.last)
        with np.errstate(invalid="ignore", divide="ignore"):
            over[here] = np.where(
                road[here] > 3.0, speed[here] / (ways.ratio[p.stretch.gear] * road[here]) - 1.0, np.nan
            )
    floor = scene.limit("clutch-slip", "scatter")
    with np.errstate(invalid="ignore"):  # the clutch never makes the engine slower: so it is the road speed
        over[over < -scene.limit("clutch-slip", "behind")] = np.nan
    peers = peers_of(pulls, speed, over, floor, signals.step)
    if peers is None:
        return []
    usual = min(0.0, float(np.nanmedian(over)))
    found = []
    for i, p in enumerate(pulls):
        alone = (
            peers.support[i] < 0.1
        )  # faster than any peer was: then only the gear itself is left to compare with
        off = np.where(alone, peers.mean[i], peers.off[i])
        odd = odd_stretch(off, np.where(alone, 2.0 * floor + peers.scatter, peers.scatter), 1, near=0.2)
        if (
            odd is None
            or odd[3] < scene.limit("clutch-slip", "ratio")
            or odd[2] < scene.limit("clutch-slip", "least")
        ):
            continue
        itself = float(np.nanmean(peers.mean[i, odd[0] : odd[1] + 1])) - usual
        if itself < scene.limit("clutch-slip", "of_itself") * odd[2]:
            continue  # it is the peers that lie below their gear
        first, last = int(peers.first[i, odd[0]]), int(peers.last[i, odd[1]])
        if last - first < signals.samples(scene.limit("clutch-slip", "least_time")):
            continue
        near_end = first > p.last - signals.samples(scene.limit("clutch-slip", "lets_go"))
        if near_end and odd[2] < scene.limit("clutch-slip", "least_near_end"):
            continue
        slip = Reading(
            "engine speed above that of the gear, as a share",
            odd[2],
            odd[2] / odd[3],
            "share",
            "engine_speed",
        )
        found.append(
            scene.notice(
                "clutch-slip", first, last, slip, odd[3], ("engine_speed", "road_speed"), stretch=p.stretch
            )
        )
    return found


def find_torque_cuts(scene: Scene) -> list[Notice]:
    """Spark far below its table beside a gear change: the gearbox's, and no knock."""
    signals = scene.signals
    spark, table = signals["spark_advance"], signals.get("spark_table")
    least = scene.limit("torque-cut", "least")
    if table is None:
        table = running_median(spark, signals.samples(1.6))
    back = table - spark
    cut = np.nan_to_num(back) > least
    for cylinder in signals.cylinders("knock_retard"):
        knock = signals.get("knock_retard", cylinder)
        if knock is not None:
            cut &= back - np.nan_to_num(knock) > least
    shifts = scene.of("shift") if (scene.ways.gear > 0).any() else scene.of("lift")
    near = scene.limit("torque-cut", "within")
    found = []
    for a, b in spans(cut, join=1):
        start, end = signals.t[a], signals.t[b - 1]
        if end - start > scene.limit("torque-cut", "longest"):
            continue
        beside = next((s for s in shifts if s.start - near < end and start < s.end + near), None)
        if beside is None or not np.nanmax(scene.ways.opening[a:b]) > 0.5:
            continue
        size = Reading(
            "spark taken back",
            float(np.nanmax(back[a:b])),
            signals.noise("spark_advance"),
            "spark angle",
            "spark_advance",
        )
        found.append(
            scene.notice(
                "torque-cut",
                a,
                b - 1,
                size,
                size.value / max(size.sd, 1e-4),
                ("spark_advance",),
                stretch=beside,
            )
        )
    return found


def _inner(scene: Scene, stretch: Stretch, after: float, before: float) -> slice:
    place = scene.places(stretch)
    return slice(place.start + scene.signals.samples(after), place.stop - scene.signals.samples(before))


def find_idle_hunting(scene: Scene) -> list[Notice]:
    """A regular swing of the spark, or of the speed, while the engine idles."""
    signals = scene.signals
    found: list[Notice] = []
    for key, name in (("spark_advance", "spark"), ("engine_speed", "speed")):
        x = signals.get(key)
        if x is None:
            continue
        each: list[tuple[Stretch, int, int, float]] = []
        for s in scene.of("idle"):
            here = _inner(scene, s, scene.limit("idle-hunting", "settles"), 0.4)
            for wave in (0.8, 1.6):  # s: twice the distance of the readings that are compared
                half = signals.samples(0.5 * wave)
                part = x[here]
                if part.size < 4 * half + 4:
                    continue
                longest = signals.samples(scene.limit("idle-hunting", "longest_half"))
                best = swing(bend_of(part, half), int(scene.limit("idle-hunting", "halves")), longest)
                if best:
                    each.append((s, here.start + half + best[0], here.start + half + best[1], best[2]))
        sizes = np.array([e[3] for e in each])
        if sizes.size == 0:
            continue
        usual = float(np.median(sizes))
        scatter = max(scene.limit("idle-hunting", f"{name}_scatter"), robust_sd(sizes, usual))
        for s, a, b, size in each:
            ratio = (size - usual) / scatter
            if ratio < scene.limit("idle-hunting", "ratio") or any(n.stretch == s for n in found):
                continue
            of = Reading(
                "half of the swing",
                size,
                scatter,
                "spark angle" if name == "spark" else "speed of rotation",
                key,
            )
            found.append(scene.notice("idle-hunting", a, b, of, ratio, (key,), stretch=s))
    return found


WATCHES = (
    Watch(("speed-dropout",), find_dropouts, (("engine_speed",),), 2.0),
    Watch(("clutch-slip",), find_clutch_slip, (("road_speed",), ("engine_speed",)), 2.0),
    Watch(("torque-cut",), find_torque_cuts, (("spark_advance",),), 8.0),
    Watch(("idle-hunting",), find_idle_hunting, (("spark_advance", "engine_speed"),), 5.0),
)

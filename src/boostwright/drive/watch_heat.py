"""Intake air and coolant against what this drive makes of them otherwise: weak cooler, soak, rising heat."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.habit import Blocks, habit, late
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene
from boostwright.drive.watch_fluids import barometer_of
from boostwright.drive.windows import spans

__all__ = ["coolant", "intake_air"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_BLOCK = 0.5  # s
_FEW = 40  # blocks from which a drive has habits
_SURE = 6.0  # robust standard deviations of the drive's own habit
_COMPRESSION = 300.0  # K of the air drawn in, by which a pressure ratio becomes a rise
_EXPONENT = 0.4 / 1.4  # (gamma - 1)/gamma of air
_HEATED = 10.0  # K of compression rise, above which a cooler has work to do
_COLD = 5.0  # below it none
_FULL_AIR = 300.0 * 1e5  # rad/s Pa: engine speed times manifold pressure that counts as one
_USUAL_SPEED = 15.0  # m/s, where no road speed is recorded


def intake_air(scene: Scene) -> list[Notice]:
    """Air after the cooler hotter than this drive's own habit: with the boost (cooler), or without it (soak).

    The habit is a linear response to compression heat, standing, little air flow and coolant, each through
    lags of 4, 15 and 60 s.
    """
    blocks = Blocks(scene.signals, _BLOCK)
    air, speed, manifold = (
        blocks.get(k) for k in ("intake_temperature", "engine_speed", "manifold_pressure")
    )
    if air is None or speed is None or manifold is None or blocks.count < _FEW:
        return []
    ratio = np.maximum(manifold / barometer_of(scene), 1.0)
    rise = _COMPRESSION * (ratio**_EXPONENT - 1.0)
    fit = habit(_air_features(blocks, rise, speed, manifold), air, np.ones(air.size, dtype=bool))
    off = air - fit.usual
    sd = max(fit.sd, scene.signals.quantum("intake_temperature") / np.sqrt(12.0))
    least = max(_SURE * sd, scene.limit("intake-soak", "least"))
    heated = late(rise, 5.0, blocks.step)
    found = []
    for a, b in spans(off > least, least=blocks.blocks(3.0), join=blocks.blocks(25.0)):
        found += _hot_air(scene, blocks, a, b, off, heated, sd, least)
    return found


def _air_features(blocks: Blocks, rise: Array, speed: Array, manifold: Array) -> Array:
    flow = speed * manifold / _FULL_AIR
    road = blocks.get("road_speed")
    road = np.full(speed.size, _USUAL_SPEED) if road is None else road
    columns = [np.ones(speed.size)]
    for lag in (4.0, 15.0, 60.0):
        for cause in (rise, rise * flow, 1.0 / (1.0 + 10.0 * flow), 1.0 / (1.0 + road / 1.4), speed < 42.0):
            columns.append(late(np.asarray(cause, dtype=np.float64), lag, blocks.step))
    since = blocks.t - blocks.t[0]
    columns += [np.exp(-since / 20.0), np.exp(-since / 120.0), since / 1800.0]
    for key in ("coolant_temperature", "outside_temperature"):
        x = blocks.get(key)
        if x is not None:
            columns.append((x - x.mean()) / 10.0)
    return np.array(columns).T


def _hot_air(
    scene: Scene, blocks: Blocks, a: int, b: int, off: Array, heated: Array, sd: float, least: float
) -> list[Notice]:
    """One stretch of hot air, as soak, weak cooler or both."""
    here = slice(a, b)
    boosted, quiet = off[here][heated[here] > _HEATED], off[here][heated[here] < _COLD]
    high = float(boosted.max()) if boosted.size else 0.0
    rest = float(np.median(quiet)) if quiet.size > blocks.blocks(3.0) else 0.0
    together = _correlation(off[here], heated[here])
    found = []
    cooler = high > least and together > 0.4 and high > 1.6 * rest
    if cooler:
        top = a + int(np.argmax(np.where(heated[here] > _HEATED, off[here], -np.inf)))
        size = Reading(
            "air after the cooler over its usual", high, sd, "temperature difference", "intake_temperature"
        )
        also = (Reading("heat of compression there", float(heated[top]), 0.0, "temperature difference"),)
        found.append(
            _say(
                scene, blocks, "cooler-weak", a, b, size, high / sd, also, "it rises and falls with the boost"
            )
        )
    lasting = b - a >= blocks.blocks(scene.limit("intake-soak", "time"))
    if lasting and (rest > least or not cooler):
        high = float(off[here].max())
        size = Reading("air over its usual", high, sd, "temperature difference", "intake_temperature")
        note = "it falls while air flows and comes back without"
        found.append(_say(scene, blocks, "intake-soak", a, b, size, high / sd, (), note))
    return found


def coolant(scene: Scene) -> list[Notice]:
    """Coolant above this drive's own habit, with its slope, or above any habit."""
    blocks = Blocks(scene.signals, _BLOCK)
    water, speed, manifold = (
        blocks.get(k) for k in ("coolant_temperature", "engine_speed", "manifold_pressure")
    )
    if water is None or speed is None or blocks.count < _FEW:
        return []
    work = speed * (manifold if manifold is not None else 0.6e5) / _FULL_AIR
    road = blocks.get("road_speed")
    road = np.full(speed.size, _USUAL_SPEED) if road is None else road
    since = blocks.t - blocks.t[0]
    columns = [np.ones(speed.size)]
    columns += [late(work, lag, blocks.step) for lag in (10.0, 30.0, 90.0)]
    columns += [late(1.0 / (1.0 + road / 1.4), lag, blocks.step) for lag in (10.0, 40.0)]
    warm = _warm_from(water)
    columns += [np.exp(-since / 100.0), np.exp(-since / 300.0)]
    fit = habit(np.array(columns).T, water, np.arange(water.size) >= warm)
    off = np.where(np.arange(water.size) >= warm, water - fit.usual, 0.0)
    sd = max(fit.sd, scene.signals.quantum("coolant_temperature") / np.sqrt(12.0))
    least = max(_SURE * sd, scene.limit("coolant-rising", "least"))
    hot = (off > least) | (water > scene.limit("coolant-rising", "highest"))
    found = []
    for a, b in spans(hot, least=blocks.blocks(4.0), join=blocks.blocks(30.0)):
        top = a + int(np.argmax(off[a:b]))
        begin = max(0, a - blocks.blocks(30.0))
        slope = (water[top] - water[begin]) / max((top - begin) * blocks.step, blocks.step)
        size = Reading(
            "coolant over its usual", float(off[top]), sd, "temperature difference", "coolant_temperature"
        )
        also = (
            Reading("highest", float(water[a:b].max()), sd, "temperature", "coolant_temperature"),
            Reading(
                "rise in a minute", float(slope) * 60.0, 0.0, "temperature difference", "coolant_temperature"
            ),
        )
        found.append(_say(scene, blocks, "coolant-rising", a, b, size, float(off[top]) / sd, also, ""))
    return found


def _warm_from(water: Array) -> int:
    """The block from which the thermostat rules: first within 4 K of the drive's middle temperature."""
    level = float(np.median(water[water.size // 3 :]))
    return int(np.argmax(water > level - 4.0))


def _correlation(x: Array, y: Array) -> float:
    if x.size < 3 or x.std() == 0.0 or y.std() == 0.0:
        return 0.0
    return float(np.corrcoef(x, y)[0, 1])


def _say(
    scene: Scene,
    blocks: Blocks,
    kind: str,
    a: int,
    b: int,
    size: Reading,
    ratio: float,
    also: tuple[Reading, ...],
    note: str,
) -> Notice:
    first, last = int(blocks.place[a]), int(blocks.place[min(b, blocks.count) - 1]) + blocks.samples - 1
    return scene.notice(kind, first, last, size, ratio, (size.channel,), also=also, note=note)

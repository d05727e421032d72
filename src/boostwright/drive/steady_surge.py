"""Surge under a steady foot: flow that turns round in the compressor makes the charge beat quickly.

A boost controller and its gate swing about twice a second, for the actuator and the turbo's inertia are in
the way; the volume between compressor and throttle beats with a few to some twenty. So the length of a beat
tells one from the other.
"""

from __future__ import annotations

import numpy as np

from boostwright.drive.pulls import Pull
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import bend_of, robust_sd, swing

__all__ = ["WATCHES", "find_steady_surge"]


def find_steady_surge(scene: Scene) -> list[Notice]:
    """Regular quick beats of the charge pressure in a pull, at low engine speed, beyond the usual ones."""
    signals = scene.signals
    beats = [_beats(scene, pull) for pull in scene.pulls]
    size = np.array([b[2] if b else np.nan for b in beats])
    if not np.isfinite(size).any():
        return []
    noise = max(signals.noise("charge_pressure"), signals.quantum("charge_pressure"), 1.0)
    usual = min(float(np.nanmedian(size)), 2.0 * noise)
    scatter = max(noise, min(robust_sd(size), 2.0 * noise) if np.isfinite(size).sum() > 2 else noise)
    found = []
    for pull, one in zip(scene.pulls, beats, strict=True):
        if one is None:
            continue
        first, last, height, often = one
        ratio = (height - usual) / scatter
        if ratio < scene.limit("surge", "ratio") or height < scene.limit("surge", "beat"):
            continue
        of = Reading("height of the beats", 2.0 * height, 2.0 * scatter, "pressure", "charge_pressure")
        also = (
            Reading("beats", often * (last - first) * signals.step, 1.0, "count", "charge_pressure"),
            Reading(
                "engine speed", float(signals["engine_speed"][(first + last) // 2]), 0.0, "speed of rotation"
            ),
        )
        note = (
            f"the charge beats some {often:.0f} times a second with a still foot: no controller is as quick"
        )
        air = _air_turns(scene, first, last)
        channels = ("charge_pressure", *(("air_flow",) if air else ()))
        note += "; the air meter beats along" if air else ""
        found.append(
            scene.notice(
                "surge", first, last, of, ratio, channels, stretch=pull.stretch, also=also, note=note
            )
        )
    return found


def _beats(scene: Scene, pull: Pull) -> tuple[int, int, float, float] | None:
    """First and last place of the strongest quick beats, half their height, and how many a second."""
    signals = scene.signals
    top = float(np.nanmax(signals["engine_speed"]))
    here = slice(pull.first, pull.last)
    x, speed = signals["charge_pressure"][here], signals["engine_speed"][here]
    opening = scene.ways.opening[here]
    longest = round(0.5 / scene.limit("surge", "slowest") / signals.step)
    best = None
    for wave in (0.06, 0.12, 0.2):  # s: twice the distance of the readings that are compared
        h = signals.samples(0.5 * wave)
        if longest < 2 or x.size < 8 * h + 8:
            continue
        bend = bend_of(x, h)
        inside = slice(h, h + bend.size)
        with np.errstate(invalid="ignore"):
            counts = speed[inside] < scene.limit("surge", "low_speed") * top
            counts &= x[inside] > scene.ways.outside + scene.limit("surge", "boost")
            still = np.abs(np.gradient(opening, signals.step))[inside] < scene.limit("surge", "foot")
        halves = int(scene.limit("surge", "halves"))
        found = swing(np.where(counts & still, bend, 0.0), halves, longest)
        if found and (best is None or found[2] > best[2]):
            a, b, height = found
            turns = int(np.count_nonzero(np.diff(np.sign(bend[a : b + 1])) != 0))
            often = 0.5 * (turns + 1) / max((b - a + 1) * signals.step, signals.step)
            best = (pull.first + h + a, pull.first + h + b, height, often)
    return best


def _air_turns(scene: Scene, first: int, last: int) -> bool:
    """Whether the air meter shows the beats as well, far beyond what its reading scatters by."""
    air = scene.signals.get("air_flow")
    if air is None or not np.isfinite(air[first : last + 1]).any():
        return False
    swings = float(np.nanstd(np.diff(air[first : last + 1])))
    return swings > scene.limit("surge", "ratio") * max(scene.signals.noise("air_flow"), 1e-9)


WATCHES = (Watch(("surge",), find_steady_surge, (("charge_pressure",),), 25.0),)

"""Brief lean readings of any drive, counted by cause, so that nobody corrects a table by them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.lean import why_lean
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene
from boostwright.drive.windows import running_max, spans

__all__ = ["lean_moments"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_LEAN = 0.08  # of lambda over its target: plainly lean
_SHORTEST = 0.06  # s
_LONGEST = 1.5  # s: what lasts longer is no moment, and is judged as a mixture
_MOST = 400  # moments that are asked for their cause; a drive with more has its sample


def lean_moments(scene: Scene, wanted: Array, cut: Mask) -> list[Notice]:
    """One notice for each cause that explains lean moments, with how many, how lean, how long at most.

    wanted: (n,) logarithm of the target as the sensor would show it. cut: (n,) no fuel is given.
    """
    signals = scene.signals
    if "lambda_target" not in signals:
        return []
    reading = signals["lambda"]
    after = running_max(
        np.nan_to_num(wanted), signals.samples(0.6)
    )  # a target that has just moved is no lean reading
    with np.errstate(invalid="ignore", divide="ignore"):
        over = (np.log(reading) - after > _LEAN) & scene.ways.running & ~cut
    moments = spans(over, least=signals.samples(_SHORTEST), join=signals.samples(0.06))
    moments = [(a, b) for a, b in moments if (b - a) * signals.step < _LONGEST]
    causes: dict[str, list[tuple[int, int]]] = {}
    words: dict[str, str] = {}
    for a, b in moments[:: len(moments) // _MOST + 1]:
        answer = why_lean(scene, a, b, cut)
        if answer.real is False:
            causes.setdefault(answer.cause, []).append((a, b))
            words[answer.cause] = answer.words
    return [_summed(scene, reading, places, f"{cause}: {words[cause]}") for cause, places in causes.items()]


def _summed(scene: Scene, reading: Array, places: list[tuple[int, int]], note: str) -> Notice:
    leanest = max(float(np.nanmax(reading[a:b])) for a, b in places)
    longest = max(b - a for a, b in places) * scene.signals.step
    size = Reading("lean moments of this cause", float(len(places)), 0.0, "count", "lambda")
    also = (
        Reading("leanest of them", leanest, scene.signals.noise("lambda"), "mixture", "lambda"),
        Reading("longest of them", longest, scene.signals.step, "time", "lambda"),
    )
    first, last = places[0][0], places[-1][1]
    return scene.notice("lean-explained", first, last, size, 1.0, ("lambda",), also=also, note=note)

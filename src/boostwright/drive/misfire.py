"""Misfire as far as it can be seen at some tens of readings a second: lean by the sensor, and weak at once.

A cylinder that does not fire sends its air and fuel past the lambda sensor, which sees the air, and its
torque is missing. An engine that is only fed less fuel than it should be, but still rich, loses none: the
air decides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.peers import Peers, odd_stretch, peers_of
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import running_mean, slope

__all__ = ["WATCHES"]

Array = NDArray[np.float64]

NOT_LEAN = 1.5  # of the scatter of lambda
FEW = 12  # bins of the pull beside the odd ones, from which its own level can be told


def find_misfire(scene: Scene) -> list[Notice]:
    """Pulls in which lambda rises and the engine gains speed more slowly than its peers, only there."""
    signals = scene.signals
    speed = signals["engine_speed"]
    target = signals.get("lambda_target")
    lam = signals["lambda"]
    off = lam - target if target is not None else lam
    gain = slope(running_mean(speed, signals.samples(0.2)), signals.step, signals.samples(0.15))
    mixture = peers_of(scene.pulls, speed, off, scene.limit("misfire", "mixture_scatter"), signals.step)
    pace = peers_of(scene.pulls, speed, gain, scene.limit("misfire", "pace_scatter"), signals.step)
    level = peers_of(scene.pulls, speed, lam, 1e-3, signals.step)
    if mixture is None or pace is None or level is None:
        return []
    found = []
    for i, pull in enumerate(scene.pulls):
        odd = odd_stretch(mixture.off[i], mixture.scatter, 1)
        if (
            odd is None
            or odd[3] < scene.limit("misfire", "ratio")
            or odd[2] < scene.limit("misfire", "least")
        ):
            continue
        here = slice(odd[0], odd[1] + 1)
        first, last = int(mixture.first[i, odd[0]]), int(mixture.last[i, odd[1]])
        if last - first < signals.samples(scene.limit("misfire", "least_time")):
            continue
        if np.nanmean(level.mean[i, here]) > scene.limit("misfire", "leanest"):
            continue
        lost = -_pace_off(pace, i, here, mixture.off[i] / mixture.scatter)
        if lost < max(scene.limit("misfire", "lost"), scene.limit("misfire", "lost_per_lambda") * odd[2]):
            continue
        size = Reading("acceleration that is missing, as a share", lost, 0.03, "share", "engine_speed")
        rise = Reading("lambda above that of the other pulls", odd[2], odd[2] / odd[3], "mixture", "lambda")
        found.append(
            scene.notice(
                "misfire",
                first,
                last,
                size,
                odd[3],
                ("lambda", "engine_speed"),
                stretch=pull.stretch,
                also=(rise,),
            )
        )
    return found


def _pace_off(pace: Peers, i: int, here: slice, lean: Array) -> float:
    """Gain of speed in some bins against the peers, as a share, less that where the pull is not lean."""
    with np.errstate(invalid="ignore", divide="ignore"):
        share = pace.off[i] / pace.expected[i]
    inside = share[here]
    inside = inside[np.isfinite(inside)]
    rest = share[np.isfinite(share) & (lean < NOT_LEAN)]
    if inside.size == 0:
        return 0.0
    return float(np.mean(inside)) - (float(np.median(rest)) if rest.size >= FEW else 0.0)


WATCHES = (
    Watch(
        ("misfire",),
        find_misfire,
        (("lambda",), ("engine_speed",)),
        2.0,
        (("lambda_target", "a misfire where the target itself moves"),),
    ),
)

"""The boost cut at work: fuel is cut at a pressure, the pressure falls, and it comes back to be cut again."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.pulls import Pull, boost_of
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import robust_sd, spans

__all__ = ["EFFECTS", "WATCHES", "find_boost_cuts"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

EFFECTS = frozenset(
    {"misfire", "lean", "lean-explained", "lambda-at-its-lean-end", "boost-oscillation", "knock-transient"}
)
"""What the same seconds look like to who does not know that fuel was cut."""

BEFORE = 0.3  # s before lambda shows a cut in which the pressure was highest: the gas has to reach the sensor
AFTER = 0.4  # s after it in which the pressure is lowest: the manifold empties


class _Trip(NamedTuple):
    first: int
    last: int
    top: float  # pressure at which fuel was cut [Pa]
    drop: float  # by which it fell [Pa]
    speed: float
    dry: bool  # the injectors were seen to stand still


def find_boost_cuts(scene: Scene) -> list[Notice]:
    """Pulls in which fuel was cut at one pressure: again and again, or once with the injectors seen to stop.

    A misfire and an empty tank are lean too, but neither comes back at the same pressure; a cut by engine
    speed comes at one speed instead.
    """
    boost = boost_of(scene.signals)
    if boost is None:
        return []
    pressure, channel = boost
    noise = max(scene.signals.noise(channel), scene.signals.quantum(channel), 1.0)
    found = []
    for pull in scene.pulls:
        trips = _trips(scene, pull, pressure)
        if len(trips) < 2 and not any(t.dry for t in trips):
            continue
        tops = np.array([t.top for t in trips])
        if _by_speed(scene, trips) or not _alike(scene, tops):
            continue
        top = float(np.median(tops))
        sd = max(robust_sd(tops, top), noise) / np.sqrt(tops.size)
        also = [Reading("times that fuel was cut", len(trips), 0.0, "count", channel)]
        also.append(
            Reading(
                "pressure lost by it", float(np.median([t.drop for t in trips])), noise, "pressure", channel
            )
        )
        if np.isfinite(pull.target):
            also.append(Reading("over what was asked for", top - pull.target, sd, "pressure", channel))
        size = Reading("pressure at which fuel was cut", top, sd, "pressure", channel)
        ratio = min(t.drop for t in trips) / noise
        channels = (
            channel,
            *(k for k in ("lambda", "injector_duty", "injector_pulse") if k in scene.signals),
        )
        first, last = trips[0].first - scene.signals.samples(BEFORE), trips[-1].last
        found.append(
            scene.notice(
                "boost-cut",
                first,
                last,
                size,
                ratio,
                channels,
                stretch=pull.stretch,
                also=tuple(also),
                note=_known(scene, top),
            )
        )
    return found


def _trips(scene: Scene, pull: Pull, pressure: Array) -> list[_Trip]:
    """Moments of a pull without fuel in which the pressure falls from boost by a good part of it."""
    signals = scene.signals
    here = slice(pull.first, pull.last)
    dry = _dry(scene, here)
    lam = signals["lambda"][here]
    with np.errstate(invalid="ignore"):
        lean = (lam > scene.limit("boost-cut", "lean")) | dry
    lean &= scene.ways.opening[here] > scene.limit("boost-cut", "open")
    found = []
    for a, b in spans(lean, join=signals.samples(0.15)):
        first, last = pull.first + a, pull.first + b
        rise = pressure[max(pull.first, first - signals.samples(BEFORE)) : min(last, pull.last)]
        fall = pressure[first : min(last + signals.samples(AFTER), pull.last)]
        if not (np.isfinite(rise).any() and np.isfinite(fall).any()):
            continue
        top = float(np.nanmax(rise))
        drop = top - float(np.nanmin(fall))
        boost = top - scene.ways.outside
        if boost > scene.limit("boost-cut", "boost") and drop > scene.limit("boost-cut", "drop") * boost:
            speed = float(signals["engine_speed"][first])
            found.append(_Trip(first, last, top, drop, speed, bool(dry[a:b].any())))
    return found


def _dry(scene: Scene, here: slice) -> Mask:
    """Where the injectors stand still in a pull in which they work."""
    for key in ("injector_duty", "injector_pulse"):
        found = scene.signals.get(key)
        if found is not None and np.isfinite(found[here]).any():
            with np.errstate(invalid="ignore"):
                return np.asarray(found[here] < scene.limit("boost-cut", "dry") * np.nanmax(found[here]))
    return np.zeros(here.stop - here.start, dtype=np.bool_)


def _by_speed(scene: Scene, trips: list[_Trip]) -> bool:
    """Whether it is the limit of engine speed that cuts: as the build states it, else all at one speed."""
    speeds = np.array([t.speed for t in trips])
    near = scene.limit("boost-cut", "one_speed")
    if scene.facts.speed_limit is not None:
        return bool((speeds > (1.0 - near) * scene.facts.speed_limit).any())
    highest = float(np.nanmax([p.speed_to for p in scene.pulls]))
    return bool(np.ptp(speeds) < near * highest and speeds.max() > (1.0 - near) * highest)


def _alike(scene: Scene, tops: Array) -> bool:
    """Whether fuel went each time at one pressure, as far as a pressure that rises quickly can be read."""
    return bool(np.ptp(tops) < scene.limit("boost-cut", "one_pressure") * float(np.median(tops)))


def _known(scene: Scene, top: float) -> str:
    cut = scene.facts.boost_cut
    if cut is None:
        return ""
    if top < (1.0 - scene.limit("boost-cut", "one_pressure")) * cut:
        return (
            f"the build's cut stands at {cut / 1e3:.0f} kPa absolute: the controller's is lower, or reads so"
        )
    return f"the build's cut stands at {cut / 1e3:.0f} kPa absolute"


WATCHES = (
    Watch(
        ("boost-cut",),
        find_boost_cuts,
        (("lambda", "injector_duty", "injector_pulse"), ("manifold_pressure", "charge_pressure")),
        5.0,
    ),
)

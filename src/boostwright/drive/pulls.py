"""The figures of each pull: boost peak, time to boost, overshoot, creep, target met or not."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Stretch
from boostwright.drive.signal import Signals
from boostwright.drive.stretches import Ways
from boostwright.drive.windows import running_mean
from boostwright.physics.step_response import damping_from_overshoot

__all__ = ["Pull", "boost_of", "pulls_of"]

Array = NDArray[np.float64]

ARRIVED = 0.9  # share of the boost wanted at which it counts as there; common practice, no source
SMOOTH = 0.1  # s
MET = 0.05  # share of the boost within which a target counts as met; common practice, no source
AFTER_SHIFT = 1.5  # s from the end of a pull to the next, which then begins with a turbo that still spins
LEAVES = 0.25  # s at the end of a pull, while the foot comes off


class Pull(NamedTuple):
    """One pull in one gear, in SI; NaN where the log does not show a figure.

    first, last: places on the grid, last one past the end. peak: highest pressure, absolute, at `peak_speed`.
    target: what was asked for at the end. met: the last third came within 5 % of the boost wanted.
    time_to_boost: from the start of the pull to nine tenths of the boost that it held. overshoot: peak over
    the target as a share of the boost (gauge). damping: of the second-order step that overshoots so. creep:
    pressure gained over engine speed after boost has arrived [Pa/(rad/s)].
    """

    stretch: Stretch
    first: int
    last: int
    after_shift: bool
    speed_from: float  # [rad/s]
    speed_to: float
    pace: float  # gain of engine speed [rad/s2]; it stands for the gear where nobody knows that
    peak: float = float("nan")
    peak_speed: float = float("nan")
    target: float = float("nan")
    met: bool | None = None
    time_to_boost: float = float("nan")
    overshoot: float = float("nan")
    damping: float = float("nan")
    creep: float = float("nan")


def boost_of(signals: Signals) -> tuple[Array, str] | None:
    """The pressure by which boost is judged, and its channel: manifold, else before the throttle."""
    for key in ("manifold_pressure", "charge_pressure"):
        found = signals.get(key)
        if found is not None and np.isfinite(found).any():
            return found, key
    return None


def pulls_of(signals: Signals, ways: Ways, stretches: tuple[Stretch, ...]) -> tuple[Pull, ...]:
    """Every pull with its figures."""
    ends = [s.end for s in stretches if s.kind == "pull"]
    speed = signals["engine_speed"]
    boost = boost_of(signals)
    smooth = running_mean(boost[0], signals.samples(SMOOTH)) if boost else None
    target = signals.get("boost_target")
    found = []
    for s in stretches:
        if s.kind != "pull":
            continue
        first, last = signals.at(s.start), signals.at(s.end) + 1
        inside = speed[first:last]
        pull = Pull(
            s,
            first,
            last,
            any(0.0 <= s.start - end < AFTER_SHIFT for end in ends),
            float(np.nanmin(inside)),
            float(np.nanmax(inside)),
            float(np.nanmax(inside) - np.nanmin(inside)) / max(s.end - s.start, signals.step),
        )
        if smooth is not None:
            end = max(first + 1, last - signals.samples(LEAVES))
            pull = _with_boost(
                pull, smooth, speed, signals.t, None if target is None else target, ways.outside, end
            )
        found.append(pull)
    return tuple(found)


def _with_boost(
    pull: Pull, pressure: Array, speed: Array, t: Array, target: Array | None, outside: float, end: int
) -> Pull:
    p = pressure[pull.first : end]
    if not np.isfinite(p).any():
        return pull
    top = int(np.nanargmax(p))
    tail = p[2 * p.size // 3 :]
    hold = float(np.nanmedian(tail))
    wanted = float("nan")
    if target is not None and np.isfinite(target[pull.first : end]).any():
        wanted = float(np.nanmedian(target[pull.first : end][2 * p.size // 3 :]))
    aim = wanted if np.isfinite(wanted) else hold
    boost = aim - outside
    pull = pull._replace(peak=float(p[top]), peak_speed=float(speed[pull.first + top]), target=wanted)
    if boost <= 0.0:
        return pull
    there = np.flatnonzero(p >= outside + ARRIVED * boost)
    if np.isfinite(wanted):
        pull = pull._replace(met=bool(abs(hold - wanted) < MET * boost))
    if there.size == 0:
        return pull
    overshoot = (float(np.nanmax(p)) - aim) / boost
    arrived = int(there[0])
    creep = float("nan")
    w = speed[pull.first + arrived : end]
    q = p[arrived:]
    good = np.isfinite(w) & np.isfinite(q)
    if good.sum() > 10 and np.ptp(w[good]) > 50.0:
        creep = float(np.polyfit(w[good], q[good], 1)[0])
    return pull._replace(
        time_to_boost=float(t[pull.first + arrived] - t[pull.first]),
        overshoot=overshoot,
        damping=float(damping_from_overshoot(overshoot)) if 0.0 < overshoot < 1.0 else float("nan"),
        creep=creep,
    )

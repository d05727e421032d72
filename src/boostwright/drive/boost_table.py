"""What the boost of each pull is judged by: its target, and its peers' pressure and gate duty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.peers import FILLS, FILLS_AGAIN, LEAVES, Peers, peers_of
from boostwright.drive.pulls import Pull, boost_of
from boostwright.drive.scene import Scene
from boostwright.drive.windows import running_max, running_mean

__all__ = ["BoostTable", "boost_table"]

Array = NDArray[np.float64]

TARGET_HOLDS = 0.5  # s for which pressure may still follow a target that was taken back
ENOUGH = 0.8  # peers, by weight, without which nobody knows what a pull should hold
EASED = 3e3  # Pa by which the target is taken back within a pull: the foot came up, and boost follows late
NO_BOOST = 3e3  # Pa over the air outside: a target below it asks for no boost


@dataclass(frozen=True, slots=True)
class BoostTable:
    """channel: by which boost is judged; pressure: (n,) smoothed over a tenth of a second; raw: as read.

    wanted: (n,) target where recorded, NaN elsewhere. boost, duty: the pulls against their peers. outside:
    [Pa].
    """

    channel: str
    raw: Array
    pressure: Array
    wanted: Array
    boost: Peers | None
    duty: Peers | None
    outside: float
    goal: float  # boost that this drive holds, gauge [Pa]

    def inner(self, scene: Scene, pull: Pull) -> tuple[int, int]:
        """Places of the pull without its first moments and its last."""
        step = scene.signals.step
        first = pull.first + round((FILLS_AGAIN if pull.after_shift else FILLS) / step)
        return first, max(first, pull.last - round(LEAVES / step))

    def excess(self, scene: Scene, i: int, first: int, last: int) -> Array:
        """Pressure over what was asked for between two places; over what the peers held without a target."""
        p = self.pressure[first:last]
        wanted = self.wanted[first:last]
        if np.isfinite(wanted).any():
            eased = wanted < np.fmax.accumulate(wanted) - EASED
            return np.where(eased, np.nan, p - wanted)
        if self.boost is None:
            return np.full(p.size, np.nan)
        expected = self.boost.expected[i]
        good = np.isfinite(expected) & (self.boost.support[i] > ENOUGH)
        if good.sum() < 2:
            return np.full(p.size, np.nan)
        speed = scene.signals["engine_speed"][first:last]
        return np.asarray(p - np.interp(speed, self.boost.speed[good], expected[good]))


def boost_table(scene: Scene) -> BoostTable | None:
    """The table of a drive; None without pulls or pressure."""
    signals = scene.signals
    found = boost_of(signals)
    if found is None or not scene.pulls:
        return None
    raw, channel = found
    pressure = running_mean(raw, signals.samples(0.1))
    speed = signals["engine_speed"]
    floor = scene.limit("charge-leak", "pressure_scatter")
    duty = None
    if "gate_duty" in signals:
        floor_duty = scene.limit("charge-leak", "duty_scatter")
        duty = peers_of(scene.pulls, speed, signals["gate_duty"], floor_duty, signals.step)
    outside = scene.ways.outside
    held = [float(np.nanquantile(pressure[p.first : p.last], 0.9)) for p in scene.pulls]
    return BoostTable(
        channel,
        raw,
        pressure,
        _asked(scene, signals["boost_target"], outside),
        peers_of(scene.pulls, speed, raw, floor, signals.step),
        duty,
        outside,
        max(1e4, float(np.median(held)) - outside),
    )


def _asked(scene: Scene, target: Array, outside: float) -> Array:
    """The highest target of the last moments, since pressure falls later; NaN where no boost is asked for."""
    window = scene.signals.samples(TARGET_HOLDS)
    asked = running_max(target, 2 * window + 1)  # looks both ways; what comes is shifted back
    asked[window:] = asked[:-window] if window else asked
    asked[:window] = target[:window]
    return np.where(asked > outside + NO_BOOST, asked, np.nan)

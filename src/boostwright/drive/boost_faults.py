"""Boost that is too high, too low, or swings: each pull against its target and against its peers."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.boost_table import BoostTable, boost_table
from boostwright.drive.in_time import behind_in_time
from boostwright.drive.peers import odd_stretch
from boostwright.drive.pulls import Pull
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.windows import bend_of, robust_sd, spans, swing

__all__ = ["WATCHES"]

Array = NDArray[np.float64]

LONGEST_HALF = 0.8  # s, half a swing: slower than that it is the way of the pull itself


class _Excess(NamedTuple):
    """Where a pull is over its target: places, mean over half of the peak, mean of what follows over it."""

    first: int
    last: int
    mean: float
    peak: float
    stays: float
    low_duty: bool | None


class _Ripple(NamedTuple):
    first: int
    last: int
    size: float


def find_boost_faults(scene: Scene) -> list[Notice]:
    """Overshoot, creep, oscillation, and boost that is missing, pull by pull."""
    table = boost_table(scene)
    if table is None:
        return []
    excess = [_excess(scene, table, i, p) for i, p in enumerate(scene.pulls)]
    ripple = [_ripple(scene, table, p) for p in scene.pulls]
    over = _beyond(scene, "boost-over-target", [e.mean if e else np.nan for e in excess])
    swing = _beyond(scene, "boost-oscillation", [r.size if r else np.nan for r in ripple])
    held = _held_duty(scene, table)
    found: list[Notice] = []
    for i, pull in enumerate(scene.pulls):
        e, r = excess[i], ripple[i]
        creeps = e is not None and over[i] > scene.limit("boost-creep", "ratio") and _creeps(scene, e)
        swings = swing[i] > scene.limit("boost-oscillation", "ratio")
        if r is not None and swings and _of_its_own(scene, e, r, creeps):
            size = Reading(
                "swing of the boost, half of it", r.size, r.size / swing[i], "pressure", table.channel
            )
            found.append(
                scene.notice(
                    "boost-oscillation", r.first, r.last, size, swing[i], _shown(table), stretch=pull.stretch
                )
            )
            continue
        if e is not None and over[i] > scene.limit("boost-over-target", "ratio"):
            kind = "boost-creep" if creeps else "boost-over-target"
            size = Reading(
                "pressure over what was asked for", e.peak, e.mean / over[i], "pressure", table.channel
            )
            found.append(
                scene.notice(kind, e.first, e.last, size, over[i], _shown(table), stretch=pull.stretch)
            )
            continue
        found.extend(_missing(scene, table, held, i))
    return found


def _shown(table: BoostTable) -> tuple[str, ...]:
    more = ("boost_target",) if np.isfinite(table.wanted).any() else ()
    return (table.channel, *more, *(("gate_duty",) if table.duty is not None else ()))


def _beyond(scene: Scene, kind: str, values: list[float]) -> Array:
    """How far each pull lies over the usual one, in robust standard deviations of all, at least the floor.

    What is usual counts as sound only up to the everyday: a fault of every pull is one all the same.
    """
    x = np.array(values)
    floor = scene.limit(kind, "scatter")
    if not np.isfinite(x).any():
        return np.full(x.size, -np.inf)
    usual = min(max(0.0, float(np.nanmedian(x))), scene.limit(kind, "everyday"))
    scatter = max(floor, min(robust_sd(x), scene.limit(kind, "everyday")))
    return np.nan_to_num((x - usual) / scatter, nan=-np.inf)


def _excess(scene: Scene, table: BoostTable, i: int, pull: Pull) -> _Excess | None:
    first, last = table.inner(scene, pull)
    over = table.excess(scene, i, first, last)
    if over.size < 3 or not np.isfinite(over).any():
        return None
    top = int(np.nanargmax(over))
    peak = float(over[top])
    unsaid = not np.isfinite(table.wanted[first:last]).any()
    if peak <= 0.0 or (unsaid and np.nanmean(over[: scene.signals.samples(0.2)]) > 0.7 * peak):
        return None  # without a target, boost that is there from the start may be what was left of before
    half = np.nan_to_num(over, nan=-np.inf) > 0.5 * peak
    parts = spans(half, join=scene.signals.samples(0.05))
    a, b = next((p for p in parts if p[0] <= top < p[1]), (top, top + 1))
    begin = parts[0][0]
    stays = float(np.nanmean(over[begin:])) / peak
    low = None
    duty = scene.signals.get("gate_duty")
    if duty is not None:
        here = duty[first + begin : last]
        here = here[np.isfinite(here)]
        low = bool(np.quantile(here, 0.1) <= scene.limit("boost-creep", "shut_duty")) if here.size else None
    stays_on = stays > scene.limit("boost-creep", "stays")
    begin, end = (begin, over.size) if stays_on else (a, b)
    return _Excess(first + begin, first + end - 1, float(np.nanmean(over[half])), peak, stays, low)


def _creeps(scene: Scene, e: _Excess) -> bool:
    """Over the target to the end, for longer than an overshoot lasts, the gate as far open as it goes."""
    long = (e.last - e.first) * scene.signals.step > scene.limit("boost-creep", "least_time")
    return long and e.stays > scene.limit("boost-creep", "stays") and e.low_duty is not False


def _of_its_own(scene: Scene, e: _Excess | None, r: _Ripple, creeps: bool) -> bool:
    """A swing in its own right: no overshoot that rings, and not the cuts that end a creep."""
    if e is None:
        return True
    if creeps and _cuts(scene, e) is not False:
        return False
    lasts = (r.last - r.first) * scene.signals.step > scene.limit("boost-oscillation", "long")
    name = "first_peak_long" if lasts else "first_peak"
    return e.peak < scene.limit("boost-oscillation", name) * r.size


def _cuts(scene: Scene, e: _Excess) -> bool | None:
    """Whether fuel was cut while the pressure was over its target; None where nothing says so."""
    here = slice(e.first, e.last + 1)
    lam, pulse = scene.signals["lambda"][here], scene.signals["injector_pulse"][here]
    if np.isfinite(lam).any():
        return bool(np.nanmax(lam) > scene.limit("boost-creep", "cut_lambda"))
    if np.isfinite(pulse).any():
        return bool(np.nanmin(pulse) < 0.3 * np.nanmax(pulse))
    return None


def _ripple(scene: Scene, table: BoostTable, pull: Pull) -> _Ripple | None:
    """The strongest regular swing of the pressure about its own way: two whole swings, by the weakest half.

    A bend of the curve gives one half wave and an overshoot three, so neither counts.
    """
    first, last = table.inner(scene, pull)
    best: _Ripple | None = None
    p = table.raw[first:last]
    for wave in (0.3, 0.6):  # s: twice the distance of the readings that are compared
        h = scene.signals.samples(0.5 * wave)
        if p.size < 4 * h + 4:
            continue
        bend = bend_of(p, h)
        longest = round(LONGEST_HALF / scene.signals.step)
        found = swing(bend, int(scene.limit("boost-oscillation", "halves")), longest)
        if found and (best is None or found[2] > best.size):
            best = _Ripple(first + h + found[0], first + h + found[1], found[2])
    return best


def _missing(scene: Scene, table: BoostTable, held: Array | None, i: int) -> list[Notice]:
    """Boost below what the peers had, although the gate was asked to shut at least as far."""
    if table.boost is None:
        return []
    pull = scene.pulls[i]
    off = table.boost.off[i].copy()
    if table.duty is not None:
        asked = table.duty.off[i] / table.duty.scatter
        off[asked < -scene.limit("charge-leak", "asked_less")] = np.nan
    low = odd_stretch(off, table.boost.scatter, -1, near=0.3)
    if low is not None:
        a, b = int(table.boost.first[i, low[0]]), int(table.boost.last[i, low[1]])
        late = b - pull.first > scene.signals.samples(scene.limit("charge-leak", "reaches"))
        if b - a < scene.signals.samples(scene.limit("charge-leak", "least_time")) or not late:
            low = None
        elif b - pull.first < scene.signals.samples(scene.limit("charge-leak", "early")):
            low = low if low[3] > scene.limit("charge-leak", "early_ratio") else None
        if low is not None and b - pull.first < scene.signals.samples(scene.limit("charge-leak", "spools")):
            behind = behind_in_time(scene.pulls, i, table.pressure, a, b)
            low = None if behind < scene.limit("charge-leak", "in_time") * -low[2] else low
    z = low[3] if low else 0.0
    more = held[i] if held is not None else np.nan
    least = scene.limit("charge-leak", "ratio")
    leaks = np.isfinite(more) and more > scene.limit("charge-leak", "held_alone")
    if z < least and not leaks:
        return []
    spans_of = table.boost
    if low is not None and z > 2.0:
        first, last = int(spans_of.first[i, low[0]]), int(spans_of.last[i, low[1]])
    else:
        first, last = table.inner(scene, pull)
    lost = -low[2] if low else 0.0
    size = Reading(
        "boost below that of the other pulls", lost, lost / max(z, 1e-9), "pressure", table.channel
    )
    ratio = max(z, more if np.isfinite(more) else 0.0)

    def said(kind: str, note: str) -> Notice:
        return scene.notice(kind, first, last, size, ratio, _shown(table), stretch=pull.stretch, note=note)

    if held is None:
        return [said("boost-short", "without the gate's duty the log cannot tell a leak from an open gate")]
    if not np.isfinite(more):
        note = (
            "boost never came to what it should hold, and only then the gate's duty tells one from the other"
        )
        return [said("boost-short", note)]
    if more > scene.limit("charge-leak", "held_ratio"):
        return [said("charge-leak", "the gate is held further shut than in other pulls once boost is there")]
    return [said("gate-not-shutting", "once boost is there the gate's duty is as in other pulls")]


def _held_duty(scene: Scene, table: BoostTable) -> Array | None:
    """How much more the gate's duty is than the peers', while boost is held, per pull: in its own scatter."""
    if table.duty is None or table.boost is None:
        return None
    near = np.abs(table.boost.off) < scene.limit("charge-leak", "held_share") * table.goal
    high = table.boost.expected - table.outside > 0.8 * table.goal
    off = np.where(near & high, table.duty.off, np.nan)
    out = np.full(off.shape[0], np.nan)
    for i, row in enumerate(off):
        good = row[np.isfinite(row)]
        if good.size >= 3:
            out[i] = np.median(good[-max(3, good.size // 2) :])
    return out / max(scene.limit("charge-leak", "duty_scatter"), robust_sd(out))


WATCHES = (
    Watch(
        (
            "boost-over-target",
            "boost-creep",
            "boost-oscillation",
            "charge-leak",
            "gate-not-shutting",
            "boost-short",
        ),
        find_boost_faults,
        (("manifold_pressure", "charge_pressure"),),
        5.0,
        (
            (
                "boost_target",
                "whether boost met what the controller asked for; pulls are compared with one another",
            ),
            ("gate_duty", "whether missing boost leaks out of the charge pipe or past the gate"),
        ),
    ),
)

"""Sensors that stand still, spike, or stand at the end of their range, and channels that come too slowly."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Notice, Reading
from boostwright.drive.runs import Runs, beyond, runs_of
from boostwright.drive.scene import Scene
from boostwright.drive.stretches import STANDS_BELOW
from boostwright.drive.windows import spans
from boostwright.library.channels import channel_kinds

__all__ = ["sensors", "spike_heights", "spikes", "still"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

# What a controller works out may stand still as long as it likes, and weather does.
NOT_SENSORS = frozenset(
    {
        "altitude", "barometer", "boost_target", "fuel_trim", "fuel_trim_long", "gate_duty", "gear",
        "injector_duty", "injector_pulse", "knock_count", "knock_level", "knock_retard", "lambda_target",
        "outside_temperature", "spark_advance", "spark_table",
    }
)  # fmt: skip
_PEDALS = ("throttle", "pedal")  # a foot may jab at them
_CALM = 4.0  # a spike is so many times the usual step around it
_IN_COMPANY = 0.85  # times what is usual: several such after one another are spikes too
_COMPANY = 3
_ALONE = 3.0  # and a single one by so many times what is usual
_AROUND = 12  # readings on each side of a spike that say what is usual there
_BACK = 0.5  # after a spike the reading is back within this share of its height
_QUICKER = 0.06  # s between two readings: no lambda sensor goes out and back so quickly
_NEAR = 0.35  # s around a leap in which its cause would show
_AFTER_CUT = 1.0  # s after a fuel cut in which lambda leaps
_BRIEF = 2.6  # readings that a spike lasts at most
_SURE = 1.1  # times its usual longest stand, from which a sensor counts as standing still
_LEAPT = 0.6  # the same where the channel leaps on afterwards as it never does otherwise
_FAR = 20.0  # middle steps of a channel that no true quantity goes in one reading
_SELDOM = 3.0  # times its usual wait for a reading
_STAIR = 0.6  # times its usual longest stand: three such after one another are a channel that came seldom
_STAIR_LEAST = 4.0  # readings that each of them lasts at least
_SLOWEST_SEEN = 2.5  # m/s: slower, a wheel's or a gearbox's sensor shows nothing; common practice, no source
_HARDEST_BRAKING = 12.0  # m/s2: no tyre of the road stops a car harder; common practice, no source
_DRAWN = 0.7  # of the air outside: a manifold below it stands behind a throttle that is nearly shut
_SLOW_THINGS = ("intake_temperature", "coolant_temperature", "oil_temperature", "exhaust_temperature")


def sensors(scene: Scene) -> list[Notice]:
    """Sensors that stand still or at their end, spike, or come far more seldom than otherwise."""
    found: list[Notice] = []
    for key, runs in _sensors(scene):
        if runs.value.size >= 20:
            found += still(scene, key, runs)
        if runs.value.size >= 50 and key != "engine_speed":  # teeth lost of it are a kind of their own
            found += spikes(scene, key, runs)
    return found


def still(scene: Scene, key: str, runs: Runs) -> list[Notice]:
    """One sensor that stands still, stands at the end of its range, or comes more seldom than otherwise."""
    step = np.abs(np.diff(runs.value))
    middle = float(np.median(step))
    steps = _Steps(np.r_[0.0, step], np.r_[step, 0.0], beyond(step, middle), middle)
    found = _at_an_end(scene, key, runs, steps)
    return found + _slow(scene, key, runs, _held(scene, key, runs, steps))


class _Steps(NamedTuple):
    """Steps into and out of each run, the largest that is usual, the middle one."""

    into: Array
    out: Array
    usual: float
    middle: float


def _held(scene: Scene, key: str, runs: Runs, steps: _Steps) -> tuple[NDArray[np.int64], float]:
    """Runs that stood longer than the channel ever does, ends of its range aside; and how long that is."""
    inner = (runs.value > runs.value.min()) & (runs.value < runs.value.max())
    usual = beyond(runs.seconds[inner], runs.own)
    least = max(scene.limit("sensor-frozen", "least"), 4.0 * runs.own)
    hot = np.zeros(inner.size, dtype=bool)
    running = scene.ways.running[runs.first]
    for state in (running, ~running):  # with the engine off a sound sensor may well be quieter
        here = inner & state
        own = max(usual, beyond(runs.seconds[here], runs.own)) if state is not running else usual
        hot |= here & (runs.seconds > max(_SURE * own, least))
        hot |= here & (runs.seconds > max(_LEAPT * own, least)) & (steps.out > steps.usual)
    if key == "pedal":  # a foot may stand still
        hot[:] = False
    return np.flatnonzero(hot), usual


def _slow(scene: Scene, key: str, runs: Runs, held: tuple[NDArray[np.int64], float]) -> list[Notice]:
    """Long runs after one another are a channel that came seldom; a single one is a sensor that stood."""
    places, usual = held
    found = []
    spaced = _seldom(scene, key)
    for a, b in spaced:
        size = Reading("time between two readings", spaced[a, b], runs.own, "time", key)
        found.append(scene.notice("channel-slow", a, b, size, spaced[a, b] / runs.own, (key,)))
    inner = (runs.value > runs.value.min()) & (runs.value < runs.value.max())
    stairs = inner & (runs.seconds > max(_STAIR * usual, _STAIR_LEAST * runs.own))
    groups = [np.arange(a, b) for a, b in spans(stairs, least=3)]
    taken = {int(i) for g in groups for i in g}
    places = np.array([i for i in places if int(i) not in taken], dtype=np.int64)
    groups += list(np.split(places, np.flatnonzero(np.diff(places) > 2) + 1)) if places.size else []
    for group in groups:
        first, last = int(runs.first[group[0]]), int(runs.after[group[-1]]) - 1
        if any(a <= last and first <= b for a, b in spaced):
            continue
        if group.size == 1:
            found.append(_stood(scene, "sensor-frozen", key, runs, int(group[0]), usual))
            continue
        mean = float(runs.seconds[group].mean())
        size = Reading("time between two readings", mean, runs.own, "time", key)
        found.append(scene.notice("channel-slow", first, last, size, mean / usual, (key,)))
    return found


def _seldom(scene: Scene, key: str) -> dict[tuple[int, int], float]:
    """Stretches in which cells filled otherwise stayed empty time and again: (first, last), wait [s]."""
    signals = scene.signals
    there = np.flatnonzero(signals.filled(key))
    rows = np.r_[0, np.cumsum(signals.real)]
    wait = np.diff(rows[there])
    if wait.size < 20 or wait.max() < 4:
        return {}
    middle = float(np.median(wait))
    found = {}
    for a, b in spans(wait > _SELDOM * max(middle, 1.0), least=3):
        found[int(there[a]), int(there[b])] = float(wait[a:b].mean()) * signals.step
    return found


def _at_an_end(scene: Scene, key: str, runs: Runs, steps: _Steps) -> list[Notice]:
    found = []
    least = max(scene.limit("sensor-at-its-end", "least"), 2.5 * runs.own)
    leap = np.minimum(steps.into, steps.out)
    for end in (runs.value.min(), runs.value.max()):
        if key == "engine_speed" and end == runs.value.min():
            continue  # an engine that was switched off
        here = runs.value == end
        usual = beyond(runs.seconds[here], runs.own) if here.sum() >= 10 else least
        long = here & (runs.seconds > max(_SURE * usual, least))
        leapt = here & (runs.seconds > least) & (leap > steps.usual)
        if key == "pedal":
            long[:] = False
        for i in np.flatnonzero(leapt | long):
            if end == runs.value.min() and _at_rest(scene, key, runs, int(i)):
                continue
            if leapt[i] or steps.into[i] > _FAR * steps.middle:
                foot = key in _PEDALS and (leap[i] < _FAR * steps.middle or _foot(scene, key, runs, int(i)))
                if not foot:
                    found.append(_stood(scene, "sensor-at-its-end", key, runs, int(i), usual))
            elif steps.out[i] > steps.usual or (
                key == "lambda" and _long_after_start(scene, int(runs.first[i]))
            ):
                found.append(_stood(scene, "sensor-frozen", key, runs, int(i), usual))
    return found


def _at_rest(scene: Scene, key: str, runs: Runs, i: int) -> bool:
    """True where the lowest reading is the truth: the car stands, or the foot is off the throttle."""
    ways, value = scene.ways, runs.value
    during = slice(int(runs.first[i]), int(runs.after[i]))
    if key in _PEDALS:
        return bool(np.mean((ways.closed & _drawn(scene))[during]) > 0.9)
    if key != "road_speed" or value[i] >= STANDS_BELOW:
        return False
    # a car cannot stop from faster than this between two readings, nor start to
    from_rest = _SLOWEST_SEEN + _HARDEST_BRAKING * runs.own
    return bool(np.all(value[max(0, i - 1) : i + 2] <= from_rest))


def _drawn(scene: Scene) -> Mask:
    """Where the manifold is drawn down, or the engine stands: no air passes an open throttle there."""
    pressure = scene.signals.get("manifold_pressure")
    if pressure is None:
        return scene.ways.closed
    return np.asarray((pressure < _DRAWN * scene.ways.outside) | ~scene.ways.running)


def _long_after_start(scene: Scene, place: int) -> bool:
    """True where the engine has run for longer than a lambda sensor takes to warm, fuel not cut."""
    if not scene.ways.running[max(0, place - scene.signals.samples(60.0)) : place + 1].all():
        return False
    return not bool(scene.ways.overrun[place : place + scene.signals.samples(1.0)].any())


def _foot(scene: Scene, key: str, runs: Runs, i: int) -> bool:
    """True where the other of throttle and pedal went to the same end at that time."""
    other = scene.signals.get("pedal" if key == "throttle" else "throttle")
    if other is None:
        return key == "pedal"
    during = other[runs.first[i] : runs.after[i]]
    if not np.isfinite(during).any():
        return False
    low, high = np.nanmin(other), np.nanmax(other)
    share = (float(np.nanmedian(during)) - low) / max(high - low, 1e-9)
    return bool(share < 0.1) if runs.value[i] < 0.5 else bool(share > 0.7)


def spikes(scene: Scene, key: str, runs: Runs) -> list[Notice]:
    """Single readings that leap out and back, higher than noise and everyday steps of that channel."""
    found = []
    height = spike_heights(runs)
    some = height[height > 0.0]
    if some.size < 20:
        return []
    usual = beyond(some, 0.25 * float(np.median(some)))
    step = np.abs(np.diff(runs.value))
    hit = np.flatnonzero(height > _IN_COMPANY * usual)
    around = np.array([np.median(step[max(0, i - _AROUND) : i + _AROUND]) for i in hit])
    hit = hit[height[hit] > _CALM * around] if hit.size else hit
    hit = np.array(
        [i for i in hit if not _moved_with_it(scene, key, int(runs.first[i]), float(height[i]))],
        dtype=np.int64,
    )
    time = scene.signals.t[runs.first[hit]] if hit.size else np.zeros(0)
    for a, b in _together(time, scene.limit("sensor-spikes", "together")):
        highest = float(height[hit[a:b]].max())
        over = int(np.count_nonzero(height[hit[a:b]] > usual))
        if not (over >= 2 or b - a >= _COMPANY or highest > _ALONE * usual):
            continue
        size = Reading("height of the spikes", highest, scene.signals.noise(key), _of(key), key)
        found.append(
            scene.notice(
                "sensor-spikes", int(runs.first[hit[a]]), int(runs.after[hit[b - 1]]), size,
                highest / usual, (key,), also=(Reading("how many", float(b - a), 0.0, "count", key),),
            )
        )  # fmt: skip
    return found


def _sensors(scene: Scene) -> list[tuple[str, Runs]]:
    found = []
    for key, cylinder in scene.signals.keys():  # noqa: SIM118 -- signals are no mapping
        if key in NOT_SENSORS or cylinder:
            continue
        runs = runs_of(scene.signals, key)
        if runs is not None:
            found.append((key, runs))
    return found


def _of(key: str) -> str:
    dimension = channel_kinds()[key].dimension.value
    return "temperature difference" if dimension == "temperature" else dimension


def _stood(scene: Scene, kind: str, key: str, runs: Runs, i: int, usual: float) -> Notice:
    size = Reading("time without change", float(runs.seconds[i]), runs.own, "time", key)
    at = Reading("the value that stood", float(runs.value[i]), 0.0, channel_kinds()[key].dimension.value, key)
    ratio = float(runs.seconds[i]) / max(usual, 1e-9)
    return scene.notice(kind, int(runs.first[i]), int(runs.after[i]) - 1, size, ratio, (key,), also=(at,))


def spike_heights(runs: Runs) -> Array:
    """(m,) how far each brief run stands out from both of its neighbours, 0 where it does not."""
    step = np.diff(runs.value)
    into, out = step[:-1], step[1:]
    height = np.minimum(np.abs(into), np.abs(out))
    spike = (
        (into * out < 0.0)
        & (runs.seconds[1:-1] <= _BRIEF * runs.own)
        & (np.abs(into + out) <= _BACK * height)
    )
    return np.asarray(np.r_[0.0, np.where(spike, height, 0.0), 0.0])


def _moved_with_it(scene: Scene, key: str, place: int, height: float) -> bool:
    """True where another channel shows that the leap was real: a jab at the pedal moves the throttle."""
    signals = scene.signals
    near = slice(max(0, place - signals.samples(_NEAR)), place + signals.samples(_NEAR))
    if key == "lambda":
        before = slice(max(0, place - signals.samples(_AFTER_CUT)), place + signals.samples(0.2))
        pulse = signals.get("injector_pulse")
        if 1.0 / signals.rate("lambda") < _QUICKER:
            return False
        if pulse is None:
            return bool(scene.ways.overrun[before].any())
        return bool(np.nanmin(pulse[before], initial=1.0) < 0.2 * np.nanmedian(pulse[::50]))
    if key in _PEDALS:
        wanted = [("pedal", 0.3 * height), ("throttle", 0.3 * height)]
        if not any(other in signals for other, _ in wanted if other != key):
            wanted.append(("manifold_pressure", 2e3))
    elif channel_kinds()[key].dimension.value == "pressure" and key not in (
        "oil_pressure",
        "crankcase_pressure",
    ):
        wanted = [("manifold_pressure", 0.3 * height)]
        if key in ("manifold_pressure", "charge_pressure"):
            wanted = [("throttle", 0.03), ("pedal", 0.05)]
    elif key == "road_speed":  # about the least that its sensor sees
        return height <= _SLOWEST_SEEN and float(np.nanmin(signals[key][near])) < STANDS_BELOW
    elif key == "battery_voltage":
        return not bool(scene.ways.running[near].all())
    else:
        return False
    for other, least in wanted:
        x = signals.get(other) if other != key else None
        if x is not None and np.isfinite(x[near]).any() and np.nanmax(x[near]) - np.nanmin(x[near]) > least:
            return True
    return False


def _together(time: Array, apart: float) -> list[tuple[int, int]]:
    """Groups of rising times that lie at most `apart` from the next."""
    if time.size == 0:
        return []
    cut = np.flatnonzero(np.diff(time) > apart) + 1
    edges = [0, *cut.tolist(), time.size]
    return list(pairwise(edges))

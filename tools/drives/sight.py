"""Whether an event can be seen in the log at all: what it did to the readings, against noise and scatter.

What an event did is the difference of two drives that are alike up to its start: the one that was recorded
and the one without it, played on from the same state with the same disturbances. Both go through the sensors'
lag, dead time and range. The mean difference over the readings that show at least half its largest is set
against its own spread: noise and rounding, fewer with more readings, and what two like manoeuvres of one day
differ by, which more readings do not lessen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tools.drives import kinds as k
from tools.drives import state as s
from tools.drives.car import Car
from tools.drives.engine import DT, EVERY, run
from tools.drives.events import SensorEvent
from tools.drives.logger import Log, Logger
from tools.drives.sensors import HZ, Array, Channel, noise_free

CLEAR = 4.3  # spreads: a threshold at 3 against false alarms, and 1.28 more to be beyond it 9 times of 10
LONGEST = 260.0  # seconds of a slow event that are compared

# ways to see each kind: the first channel shows it, the others must be there to tell what it is
WAYS: dict[int, tuple[tuple[str, ...], ...]] = {
    k.OVERSHOOT: (("map",), ("charge",)),
    k.CREEP: (("map", "speed"),),
    k.OSCILLATION: (("map",), ("charge",)),
    k.CHARGE_LEAK: (("map", "target"), ("gate_duty", "map")),
    k.GATE_OPEN: (("map", "target"), ("gate_duty", "map")),
    k.LEAN_FEED: (("lambda", "map"),),
    k.RAIL: (("rail", "map"),),
    k.SATURATED: (("lambda", "duty"), ("lambda", "pulse", "speed")),
    k.MISSES: (("lambda", "map"),),
    k.EXHAUST: (("lambda",),),
    k.RICHER: (("lambda", "map"),),
    k.VOLTAGE: (("battery",),),
    k.KNOCK_ONCE: (("retard", "map"), ("spark", "spark_table")),
    k.KNOCKING: (("retard", "map"), ("spark", "spark_table")),
    k.SHIFT_CUTS: (("spark", "spark_table"),),
    k.HUNTING: (("spark", "speed"), ("speed",)),
    k.SOAKED: (("intake",),),
    k.BLOCKED: (("intake",),),
    k.COOLANT: (("coolant",),),
    k.OIL_DOWN: (("oil_pressure", "speed"),),
    k.STARVING: (("oil_pressure", "speed"),),
    k.SLIPPING: (("speed", "road_speed"),),
    k.SURGING: (("charge",), ("map",)),
    k.CASE: (("crankcase",),),
}


@dataclass(frozen=True)
class Sight:
    """What one event did to one channel."""

    channel: str
    unit: str
    truth: float  # largest difference of the true signal
    effect: float  # mean difference of the readings that show it
    noise: float  # sd of one reading: noise and rounding
    scatter: float
    readings: int
    ratio: float  # effect over its own spread


def without(
    index: int,
    y: Array,
    car: Car,
    plan: Array,
    events: Array,
    rough: Array,
    began: Array,
    ended: Array,
    snaps: Array,
) -> tuple[Array, Array]:
    """The recorded drive and the one without event `index`, from 2 s before it on, while both agree where in
    the drive they are.
    """
    start = began[index]
    tail = 1.0 if events[index, s.DURATION] <= 45.0 else 20.0
    end = min(ended[index] if not np.isnan(ended[index]) else start + 5.0, start + LONGEST) + tail
    first = -(-round(start / DT) // EVERY)
    moments = int((end - start) * HZ)
    out = np.zeros((moments + 2, s.STATES))
    b, e = began.copy(), ended.copy()
    b[b >= start] = np.nan
    e[e >= start] = np.nan
    rows = run(
        snaps[index].copy(), car, plan, events, rough, out, b, e, np.zeros_like(snaps), moments * EVERY, index
    )
    rows = min(rows, len(y) - first)
    lead = max(first - int(2 * HZ), 0)
    with_it, no_event = y[lead : first + rows], np.concatenate([y[lead:first], out[:rows]])
    same = (with_it[:, s.AT] == no_event[:, s.AT]) & (with_it[:, s.PHASE] == no_event[:, s.PHASE])
    same &= np.abs(with_it[:, s.TIME] - no_event[:, s.TIME]) < 0.0015
    if events[index, s.DURATION] <= 45.0:
        parted = np.flatnonzero(~same)
        if len(parted):
            with_it, no_event = with_it[: parted[0]], no_event[: parted[0]]
    else:
        with_it, no_event = with_it[same], no_event[same]
    return with_it, no_event


def compare(channel: Channel, with_it: Array, no_event: Array, car: Car, log: Log, slip: bool) -> Sight:
    """What the event did to one channel of the log."""
    scale = 1.0
    if slip:  # the event shows in the crank's speed against the road's
        truth_a = with_it[:, s.SLIP] * 30.0 / np.pi
        truth_b = no_event[:, s.SLIP] * 30.0 / np.pi
        read_a, read_b = truth_a, truth_b
    else:
        truth_a, truth_b = channel.truth(with_it, car), channel.truth(no_event, car)
        read_a, read_b = noise_free(channel, with_it, car), noise_free(channel, no_event, car)
    d = read_a - read_b
    t = with_it[:, s.TIME]
    noise = float(np.hypot(channel.noise, channel.step / np.sqrt(12.0)))
    column = log.columns.get(channel.key)
    truth = float(np.max(np.abs(truth_a - truth_b), initial=0.0))
    scatter = channel.scatter
    if slip:  # road speed's own noise and steps, carried to the crank through the gear
        ratio = np.median(with_it[:, s.W] / np.maximum(with_it[:, s.V] * 3.6, 1.0)) * 30.0 / np.pi
        noise, scatter = (
            float(np.hypot(noise, ratio * 0.14)),
            float(0.006 * np.median(with_it[:, s.W]) * 30.0 / np.pi),
        )
    if column is None or len(d) == 0:
        return Sight(channel.key, channel.unit, truth, 0.0, noise, scatter, 0, 0.0)
    own = column.rows[log.kept[column.rows]]
    when = log.true[own]
    inside = when[(when >= t[0]) & (when <= t[-1])]
    shown = np.abs(np.interp(inside, t, d)) * scale
    most = float(np.max(shown, initial=0.0))
    large = shown[shown >= 0.5 * most] if most > 0.0 else shown[:0]
    effect = float(np.mean(large)) if len(large) else 0.0
    n = len(large)
    spread = float(np.hypot(noise / np.sqrt(max(n, 1)), scatter))
    ratio_seen = effect / spread if spread > 0.0 else (float("inf") if effect > 0.0 else 0.0)
    return Sight(channel.key, channel.unit, truth, effect, noise, scatter, n, min(ratio_seen, 999.0))


def look(kind: int, sights: dict[str, Sight], logger: Logger) -> tuple[bool, list[str], str]:
    """Whether the event can be seen, by which channels, and if not, why."""
    present = {channel.key for channel in logger.present}
    seen: list[str] = []
    reasons: list[str] = []
    for way in WAYS[kind]:
        missing = [
            key for key in way if key not in present and not (key == "retard" and "retard_1" in present)
        ]
        if missing:
            reasons.append(f"no channel {', '.join(missing)}")
            continue
        sight = sights[way[0]]
        if sight.readings < 2:
            reasons.append(f"{way[0]}: {sight.readings} readings show it; too few")
        elif sight.ratio < CLEAR:
            reasons.append(f"{way[0]}: {sight.ratio:.2f} of its own spread; within noise and scatter")
        else:
            seen.append(sight.channel)
    return bool(seen), sorted(set(seen)), "" if seen else "; ".join(reasons)


def longest_run(x: Array) -> int:
    """Most equal readings in a row."""
    if len(x) == 0:
        return 0
    changes = np.flatnonzero(np.diff(x)) + 1
    edges = np.concatenate([[0], changes, [len(x)]])
    return int(np.max(np.diff(edges)))


def look_at_sensor_fault(
    fault: SensorEvent, log: Log, logger: Logger, healthy: Log
) -> tuple[bool, str, float]:
    """Whether a fault of sensor or clock can be seen, if not why, and its ratio to what hides it."""
    inside = (log.true >= fault.start) & (log.true < fault.end)
    rows = int(inside.sum())
    if fault.kind == "clock-gap":
        seen = rows >= 3
        return seen, "" if seen else f"{rows} rows missing; no more than the clock's own unrest", rows / 3.0
    if fault.kind == "clock-repeats":
        seen = rows >= 2
        return seen, "" if seen else "no stamp is repeated", rows / 2.0
    if fault.kind == "clock-jump-back":
        near = np.flatnonzero(log.kept & (np.abs(log.true - fault.start) < 1.0))
        least = float(np.min(np.diff(log.stamps[near]), initial=1.0))
        seen = least < -0.5 * logger.resolution
        return (
            seen,
            "" if seen else "the step back is shorter than a row; stamps still rise",
            -least * logger.rate,
        )
    column = log.columns[fault.channel]
    channel = next(c for c in logger.present if c.key == fault.channel)
    sound = healthy.columns[fault.channel]
    t = log.true[column.rows]
    here = (t >= fault.start) & (t < fault.end)
    noise = float(np.hypot(channel.noise, channel.step / np.sqrt(12.0)))
    if fault.kind == "slow-channel":
        every = max(1, round(1.0 / channel.share))
        usual = logger.rate / every
        seen = usual >= 2.5 and fault.end - fault.start >= 3.0
        return seen, "" if seen else "not slower than its own rate for long enough to tell", usual / 2.5
    d = np.abs(column.readings[here] * channel.step - column.ideal[here])
    n = int(here.sum())
    if n < 2:
        return False, f"{n} readings in it; too few", 0.0
    if fault.kind == "sensor-spikes":
        x = sound.readings * channel.step
        bend = np.abs(x[1:-1] - 0.5 * (x[:-2] + x[2:]))
        usual = max(5.0 * noise, float(np.quantile(bend, 0.999)))
        ratio = float(np.max(d)) / usual
        return ratio > 1.0, "" if ratio > 1.0 else "no higher than noise and everyday steps", ratio
    if fault.kind == "speed-dropouts":
        ratio = float(np.max(d)) / (10.0 * max(noise, 1.0))
        return ratio > 1.0, "" if ratio > 1.0 else "the engine stands or turns too slowly to tell", ratio
    apart = float(np.mean(d)) / (5.0 * float(np.hypot(noise / np.sqrt(n), channel.scatter)))
    if fault.kind == "sensor-frozen":
        apart = apart if n >= 5 else 0.0
        usual_run = longest_run(sound.readings)
        ratio = max(apart, n / (1.5 * usual_run) if n >= 5 else 0.0)
        return (
            ratio > 1.0,
            "" if ratio > 1.0 else "stands no longer and no further off than a sound one",
            ratio,
        )
    return apart > 1.0, "" if apart > 1.0 else "no other than a sound reading", apart

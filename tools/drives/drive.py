"""One seed: car, road, events, log and key together."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tools.drives import kinds as k
from tools.drives import state as s
from tools.drives.car import Car, read_car
from tools.drives.engine import EVERY, cold_state, run
from tools.drives.events import (
    FEWEST,
    SORTS,
    SensorEvent,
    choose_kinds,
    plant,
    plant_sensor_faults,
)
from tools.drives.logger import Log, Logger, choose_logger, write_down
from tools.drives.route import plan_route
from tools.drives.sensors import HZ, Array, channels
from tools.drives.sight import WAYS, Sight, compare, look, look_at_sensor_fault, without

SHORTEST = 25.0  # minutes that hold so many events
BENIGN = {"shift-cut"}  # to be explained, not to be blamed


@dataclass(frozen=True)
class Truth:
    """What happened, at 100 Hz."""

    car: Car
    plan: Array
    events: Array
    rough: Array
    y: Array
    began: Array
    ended: Array
    snaps: Array


@dataclass(frozen=True)
class Drive:
    """A drive, its log and its key."""

    truth: Truth
    logger: Logger
    log: Log
    faults: list[SensorEvent]
    key: dict[str, Any]


def _rough(rng: np.random.Generator, moments: int) -> Array:
    """Unrest of foot, mixture and wind: slow wander; and luck for single cycles."""
    from scipy.signal import lfilter

    columns = []
    for tau in (0.8, 0.3, 4.0):
        a = 1.0 / HZ / tau
        columns.append(lfilter([np.sqrt(2.0 * a)], [1.0, a - 1.0], rng.standard_normal(moments)))
    return np.stack([*columns, rng.random(moments)], axis=1)


def play(
    car: Car, plan: Array, events: Array, rng: np.random.Generator, minutes: float, *, warm: bool
) -> Truth:
    """Drive the plan to its end, at most one and a half times the minutes asked for."""
    moments = int(minutes * 60.0 * 1.5 * HZ)
    rough = _rough(rng, moments)
    out = np.zeros((moments, s.STATES))
    began = np.full(len(events), np.nan)
    ended = began.copy()
    snaps = np.zeros((max(len(events), 1), s.STATES))
    rows = run(
        cold_state(car, warm=warm), car, plan, events, rough, out, began, ended, snaps, moments * EVERY, -1
    )
    return Truth(car, plan, events, rough, out[:rows], began, ended, snaps)


def everyday(truth: Truth) -> dict[str, int]:
    """What happened that is no event, counted in the true record."""
    y = truth.y
    rising = lambda x: int(np.sum(np.diff(x.astype(np.int8)) > 0))  # noqa: E731
    overrun = (y[:, s.PULSE] == 0.0) & (y[:, s.RUN] > 0.0)
    return {
        "gear changes": rising(y[:, s.SHIFT] > 0.0),
        "overrun cuts": rising(overrun),
        "full pedal": rising((y[:, s.AT] >= 0) & (y[:, s.PEDAL] > 0.8)),
        "tip-ins": int(np.sum(truth.plan[:, s.MODE] == s.TIP_IN)),
        "stops": rising(y[:, s.V] < 0.3),
        "starts": rising(y[:, s.RUN] > 0.0),
        "harmless knock retards": int(np.sum(truth.plan[:, s.BLIP] > 0.0)),
    }


def _place(log: Log, start: float, end: float) -> dict[str, Any]:
    """Where an event is in the file: rows (counted from 0, without headings) and stamps."""
    kept = np.flatnonzero(log.kept)
    true = log.true[kept]
    first = int(np.searchsorted(true, start))
    last = int(np.searchsorted(true, end)) - 1
    if first >= len(kept):
        return {"first_row": None, "last_row": None, "log_start": None, "log_end": None}
    last = max(last, first)
    stamps = log.stamps[kept]
    return {
        "first_row": first,
        "last_row": last,
        "log_start": round(float(stamps[first]), 4),
        "log_end": round(float(stamps[last]), 4),
    }


def _sights(index: int, truth: Truth, logger: Logger, log: Log) -> dict[str, Sight]:
    """What engine event `index` did to the channels that show its kind."""
    kind = int(truth.events[index, s.KIND])
    pair = without(
        index,
        truth.y,
        truth.car,
        truth.plan,
        truth.events,
        truth.rough,
        truth.began,
        truth.ended,
        truth.snaps,
    )
    every = {channel.key: channel for channel in (*logger.present, *logger.absent)}
    found: dict[str, Sight] = {}
    for way in WAYS[kind]:
        key = way[0]
        if key == "retard":
            cylinder = int(truth.events[index, s.WHERE]) % int(truth.car.cylinders) + 1
            found[key] = compare(every[f"retard_{cylinder}"], *pair, truth.car, log, slip=False)
        elif key in every:
            found[key] = compare(every[key], *pair, truth.car, log, slip=kind == k.SLIPPING)
    return found


def _engine_entry(index: int, truth: Truth, logger: Logger, log: Log) -> dict[str, Any] | None:
    """The key's entry of one event of the engine model; None when the drive never came to it."""
    if np.isnan(truth.began[index]):
        return None
    row = truth.events[index]
    kind = int(row[s.KIND])
    start = float(truth.began[index])
    end = float(truth.ended[index]) if not np.isnan(truth.ended[index]) else float(truth.y[-1, s.TIME])
    sights = _sights(index, truth, logger, log)
    seen, by, why = look(kind, sights, logger)
    main = next(iter(sights.values()))
    name = k.NAMES[kind]
    limit = ""
    if kind == k.RICHER and "lambda" in log.columns:
        column = log.columns["lambda"]
        channel = next(c for c in logger.present if c.key == "lambda")
        t = log.true[column.rows]
        at_end = (column.ideal <= channel.low + 1e-9) & (t >= start) & (t < end + 0.5)
        if int(at_end.sum()) >= 3:
            name, limit = "lambda-rich-limit", f"{int(at_end.sum())} readings at {channel.low:g}"
    return {
        "kind": name,
        "fault": name not in BENIGN,
        "start": round(start, 6),
        "end": round(end, 6),
        **_place(log, start, end),
        "manoeuvre": s.MODES[int(truth.plan[int(row[s.WHERE]), s.MODE])],
        "severity": {"value": round(main.truth, 4), "unit": main.unit, "of": main.channel},
        "set": {"value": round(float(row[s.SEVERITY]), 6), "meaning": SORTS[kind].means, "note": limit},
        "shown_by": [asdict(sight) for sight in sights.values()],
        "can_be_seen": seen,
        "seen_by": by,
        "why_not": why,
    }


def _sensor_entry(fault: SensorEvent, log: Log, logger: Logger, healthy: Log) -> dict[str, Any]:
    seen, why, ratio = look_at_sensor_fault(fault, log, logger, healthy)
    return {
        "kind": fault.kind,
        "fault": True,
        "start": round(fault.start, 6),
        "end": round(fault.end, 6),
        **_place(log, fault.start, fault.end),
        "manoeuvre": "",
        "severity": {"value": round(fault.strength, 4), "unit": fault.means, "of": fault.channel or "time"},
        "set": {"value": round(fault.strength, 6), "meaning": fault.means, "note": ""},
        "shown_by": [{"channel": fault.channel or "time", "ratio": round(min(ratio, 999.0), 3)}],
        "can_be_seen": bool(seen),
        "seen_by": [fault.channel or "time"] if seen else [],
        "why_not": why,
    }


def pulls(truth: Truth) -> list[dict[str, Any]]:
    """The plan's pulls as they were driven: when, gear, speeds, pressures, in the true record."""
    found = []
    y = truth.y
    for at in np.flatnonzero(truth.plan[:, s.MODE] == s.PULL):
        span = np.flatnonzero((y[:, s.AT] == at) & (y[:, s.PHASE] == 2))
        if len(span) < 10:
            continue
        part = y[span]
        found.append(
            {
                "start": round(float(part[0, s.TIME]), 3),
                "end": round(float(part[-1, s.TIME]), 3),
                "gear": int(part[0, s.GEAR]),
                "shifts": int(truth.plan[at, s.SHIFTS]),
                "from_rpm": round(float(part[0, s.W]) * 30 / np.pi),
                "to_rpm": round(float(part[-1, s.W]) * 30 / np.pi),
                "peak_kpa_abs": round(float(part[:, s.P_M].max()) / 1e3, 2),
                "target_kpa_abs": round(float(part[:, s.TARGET].max()) / 1e3, 2),
            }
        )
    return found


def make_drive(
    build_file: str | Path,
    seed: int,
    minutes: float = 30.0,
    *,
    clean: bool = False,
    rate: float | None = None,
) -> Drive:
    """The drive of a seed. Raises ValueError for one too short for its events, and what the build raises."""
    if not clean and minutes < SHORTEST:
        raise ValueError(
            f"{minutes:g} minutes cannot hold {FEWEST} events; at least {SHORTEST:g}, or a clean drive"
        )
    if not 1.0 <= minutes <= 600.0:
        raise ValueError(f"{minutes:g} minutes: from 1 to 600 can be made")
    rng = np.random.default_rng([seed, 1 if clean else 0])
    car, aside = read_car(build_file)
    plan, warm = plan_route(rng, car, minutes)
    engine_kinds, sensor_kinds = ([], []) if clean else choose_kinds(rng)
    logger = choose_logger(rng, channels(rng, car), rate=rate)
    many = int(max(FEWEST, FEWEST * minutes / 30.0))
    events = np.zeros((0, s.EVENT_COLUMNS))
    if not clean:
        events = plant(rng, plan, engine_kinds, car, int(0.80 * many))
    truth = play(car, plan, events, rng, minutes, warm=warm)
    faults: list[SensorEvent] = []
    if not clean:
        faults = _sensor_faults(rng, truth, logger, sensor_kinds, many)
    state = rng.bit_generator.state
    log = write_down(truth.y, car, logger, faults, rng)
    rng.bit_generator.state = state
    healthy = write_down(truth.y, car, logger, [], rng) if faults else log
    entries = [_engine_entry(i, truth, logger, log) for i in range(len(events))]
    entries += [_sensor_entry(fault, log, logger, healthy) for fault in faults]
    found = sorted((entry for entry in entries if entry), key=lambda entry: entry["start"])
    key = _key(seed, minutes, clean, truth, logger, log, found, aside)
    return Drive(truth, logger, log, faults, key)


def _sensor_faults(
    rng: np.random.Generator, truth: Truth, logger: Logger, chosen: list[str], many: int
) -> list[SensorEvent]:
    """Sensor and clock faults where no engine event is going on."""
    happened = ~np.isnan(truth.began)
    ended = np.where(np.isnan(truth.ended), truth.began + 5.0, truth.ended)
    slow = truth.events[:, s.DURATION] > 45.0 if len(truth.events) else np.zeros(0, dtype=bool)
    busy = [
        (float(a), float(b))
        for a, b in zip(truth.began[happened & ~slow], ended[happened & ~slow], strict=True)
    ]
    run_on = truth.y[:, s.RUN] > 0.0
    starts = [float(truth.y[i + 1, s.TIME]) for i in np.flatnonzero(np.diff(run_on.astype(np.int8)) > 0)]
    present = [channel.key for channel in logger.present]
    missing = max(many - int(happened.sum()), 10)
    return plant_sensor_faults(rng, chosen, busy, starts, present, float(truth.y[-1, s.TIME]), missing)


def _key(
    seed: int,
    minutes: float,
    clean: bool,
    truth: Truth,
    logger: Logger,
    log: Log,
    events: list[dict[str, Any]],
    aside: dict[str, str],
) -> dict[str, Any]:
    """The key of a drive, as plain data."""
    kinds: dict[str, int] = {}
    for entry in events:
        kinds[entry["kind"]] = kinds.get(entry["kind"], 0) + 1
    return {
        "format": 1,
        "seed": seed,
        "minutes_asked": minutes,
        "clean": clean,
        "true_seconds": round(float(truth.y[-1, s.TIME]), 2),
        "rows": int(log.kept.sum()),
        "logger": {
            "rows_a_second": logger.rate,
            "slower_channels": "repeat their last value" if logger.holds else "leave their cells empty",
            "stamp_resolution_s": logger.resolution,
            "clock_drift": logger.drift,
        },
        "channels": [
            {
                "key": c.key,
                "heading": f"{c.heading} ({c.unit})",
                "present": here,
                "rate_hz": round(logger.rate / max(1, round(1.0 / c.share)), 3),
                "lag_s": round(c.lag, 4),
                "delay_s": c.delay,
                "noise_sd": round(c.noise, 4),
                "step": c.step,
                "range": [c.low, c.high],
                "scatter": c.scatter,
            }
            for here, group in ((True, logger.present), (False, logger.absent))
            for c in group
        ],
        "set_aside": aside,
        "kinds": dict(sorted(kinds.items())),
        "events_that_can_be_seen": sum(1 for entry in events if entry["can_be_seen"]),
        "events": events,
        "everyday": everyday(truth),
        "pulls": pulls(truth),
    }

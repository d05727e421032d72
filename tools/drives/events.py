"""Which faults a seed carries, how many, how strong, and where in the drive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tools.drives import kinds as k
from tools.drives import state as s
from tools.drives.car import Car

FEWEST = 62  # events a seed; more for long drives
KINDS_A_SEED = (22, 27)


@dataclass(frozen=True)
class Sort:
    """How one kind of fault is drawn. Strengths are even in their logarithm, from hidden to gross."""

    mode: int
    phase: int
    over: int
    lasts: tuple[float, float]  # [s]; 0 is as long as the phase
    strength: tuple[float, float]
    means: str  # what the strength is
    extra: tuple[float, float] = (0.0, 0.0)
    most: int = 6  # of one seed
    delay: tuple[float, float] = (0.0, 0.4)


SORTS: dict[int, Sort] = {
    k.OVERSHOOT: Sort(
        s.PULL, 2, k.IN_BOOST, (0, 0), (1.5e3, 30e3), "gate held shut until so far over target, Pa"
    ),
    k.CREEP: Sort(s.PULL, 2, k.ALWAYS, (0, 0), (0.04, 0.45), "largest opening of the gate, share"),
    k.OSCILLATION: Sort(s.PULL, 2, k.IN_BOOST, (2, 5), (0.06, 0.7), "swing of the gate, share", (0.8, 3.0)),
    k.CHARGE_LEAK: Sort(s.PULL, 2, k.ALWAYS, (0, 0), (8e-6, 3e-4), "hole, m2"),
    k.GATE_OPEN: Sort(s.PULL, 2, k.ALWAYS, (0, 0), (0.03, 0.8), "least opening of the gate, share"),
    k.LEAN_FEED: Sort(s.PULL, 2, k.IN_BOOST, (1, 5), (0.008, 0.16), "share of the fuel that is missing"),
    k.RAIL: Sort(s.PULL, 2, k.IN_BOOST, (1, 5), (4e3, 9e4), "sag of the rail at 8 g/s, Pa"),
    k.SATURATED: Sort(s.PULL, 2, k.FAST, (0, 0), (0.35, 0.72), "share by which the injectors are too small"),
    k.MISSES: Sort(s.PULL, 2, k.IN_BOOST, (0.6, 3), (0.015, 0.30), "share of cycles that do not burn"),
    k.EXHAUST: Sort(
        s.IDLE, 0, k.ALWAYS, (5, 10), (0.01, 0.4), "lambda that a leak ahead of the sensor adds at no flow"
    ),
    k.RICHER: Sort(s.PULL, 2, k.IN_BOOST, (1, 4), (0.015, 0.30), "share of fuel too much"),
    k.VOLTAGE: Sort(s.CRUISE, 1, k.ALWAYS, (1, 6), (0.06, 3.0), "volts lost"),
    k.KNOCK_ONCE: Sort(
        s.TIP_IN, 2, k.ALWAYS, (1.5, 1.5), (1.2, 5.0), "retard of one cylinder, deg", delay=(0.2, 0.6)
    ),
    k.KNOCKING: Sort(s.PULL, 2, k.IN_BOOST, (1.5, 4), (0.8, 3.0), "retard at each knock, deg", (0.2, 0.5)),
    k.SHIFT_CUTS: Sort(
        s.PULL, 2, k.WHILE_SHIFTING, (0.6, 0.6), (6, 35), "spark taken back at a gear change, deg"
    ),
    k.HUNTING: Sort(
        s.IDLE, 0, k.ALWAYS, (6, 10), (1.5, 14), "swing of the idle spark, deg", (0.3, 1.0), delay=(1, 2)
    ),
    k.SOAKED: Sort(s.CRUISE, 1, k.ALWAYS, (60, 160), (10, 150), "walls hotter than the bay, K", most=2),
    k.BLOCKED: Sort(
        s.CRUISE, 1, k.ALWAYS, (60, 160), (0.1, 0.95), "share of the cooler that is lost", most=2
    ),
    k.COOLANT: Sort(
        s.CRUISE, 1, k.ALWAYS, (100, 240), (0.3, 0.98), "share of the radiator that is lost", most=2
    ),
    k.OIL_DOWN: Sort(
        s.CRUISE, 1, k.ALWAYS, (50, 150), (0.015, 0.4), "share of the oil pressure that is lost", most=2
    ),
    k.STARVING: Sort(
        s.BEND, 1, k.ALWAYS, (0.4, 2), (0.03, 0.9), "share of the oil pressure at the worst", delay=(0.5, 1.5)
    ),
    k.SLIPPING: Sort(s.PULL, 2, k.IN_BOOST, (0.8, 3), (0.01, 0.30), "clutch short of the torque, share"),
    k.SURGING: Sort(
        s.PULL, 3, k.ALWAYS, (1.6, 1.6), (1, 1), "blow-off valve shut at the lift", delay=(0, 0.01)
    ),
    k.CASE: Sort(s.CRUISE, 1, k.ALWAYS, (50, 150), (0.1, 4.0), "share of blow-by too much", most=2),
}

SENSOR_KINDS = (
    "sensor-frozen",
    "sensor-spikes",
    "sensor-out-of-range",
    "lambda-cold",
    "speed-dropouts",
    "clock-gap",
    "clock-repeats",
    "clock-jump-back",
    "slow-channel",
)


@dataclass(frozen=True)
class SensorEvent:
    """A fault of sensor or logger, in true time."""

    kind: str
    start: float
    end: float
    channel: str  # '' for the clock
    strength: float
    means: str


def choose_kinds(rng: np.random.Generator) -> tuple[list[int], list[str]]:
    """The kinds that a seed carries."""
    count = int(rng.integers(*KINDS_A_SEED))
    sensor = int(rng.integers(6, len(SENSOR_KINDS) + 1))
    engine = sorted(int(i) for i in rng.choice(list(SORTS), size=count - sensor, replace=False))
    return engine, sorted(str(n) for n in rng.choice(list(SENSOR_KINDS), size=sensor, replace=False))


def _between(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high)))) if high > low else low


def _row(rng: np.random.Generator, kind: int, at: int, car: Car) -> NDArray[np.float64]:
    sort = SORTS[kind]
    row = np.zeros(s.EVENT_COLUMNS)
    row[[s.KIND, s.WHERE, s.IN_PHASE, s.OVER]] = kind, at, sort.phase, sort.over
    row[s.DELAY] = rng.uniform(*sort.delay)
    row[s.DURATION] = rng.uniform(*sort.lasts)
    row[s.SEVERITY] = _between(rng, *sort.strength)
    row[s.EXTRA] = car.clutch if kind == k.SLIPPING else rng.uniform(*sort.extra)
    return row


def plant(
    rng: np.random.Generator, plan: NDArray[np.float64], engine_kinds: list[int], car: Car, wanted: int
) -> NDArray[np.float64]:
    """Rows of events for the engine model: one quick one a manoeuvre, a quarter of the pulls left alone."""
    free: dict[int, list[int]] = {}
    for mode in (s.PULL, s.TIP_IN, s.IDLE, s.CRUISE, s.BEND):
        at = [int(i) for i in np.flatnonzero(plan[:, s.MODE] == mode) if i > 3]
        rng.shuffle(at)
        keep = len(at) - len(at) // 4 if mode in (s.PULL, s.TIP_IN) else len(at)
        free[mode] = at[:keep]
    rows: list[NDArray[np.float64]] = []
    counts = dict.fromkeys(engine_kinds, 0)
    slow_until: dict[int, int] = {}
    open_kinds = list(engine_kinds)
    while open_kinds and len(rows) < wanted:
        kind = min(open_kinds, key=lambda i: (counts[i], i))
        sort = SORTS[kind]
        slots = free[sort.mode]
        fits = [i for i in slots if kind != k.SHIFT_CUTS or plan[i, s.SHIFTS] > 0]
        if kind in slow_until:  # a slow one ends before the next of its kind begins
            fits = [i for i in fits if abs(i - slow_until[kind]) > 25]
        if not fits or counts[kind] >= sort.most:
            open_kinds.remove(kind)
            continue
        at = fits[0]
        slots.remove(at)
        rows.append(_row(rng, kind, at, car))
        counts[kind] += 1
        if sort.lasts[1] > 45.0:
            slow_until[kind] = at
    return np.array(sorted(rows, key=lambda r: r[s.WHERE])) if rows else np.zeros((0, s.EVENT_COLUMNS))


def _quiet_spot(
    rng: np.random.Generator, busy: list[tuple[float, float]], total: float, lasts: float
) -> float | None:
    """A start at which nothing else is going on, or None."""
    for _ in range(400):
        start = float(rng.uniform(30.0, total - lasts - 10.0))
        if all(start + lasts + 1.0 < a or start - 1.0 > b for a, b in busy):
            return start
    return None


_FREEZABLE = (
    "map",
    "lambda",
    "throttle",
    "oil_pressure",
    "rail",
    "road_speed",
    "exhaust",
    "intake",
    "battery",
)


def plant_sensor_faults(
    rng: np.random.Generator,
    chosen: list[str],
    busy: list[tuple[float, float]],
    starts: list[float],
    present: list[str],
    total: float,
    wanted: int,
) -> list[SensorEvent]:
    """Faults of sensors and logger, each where no other quick event goes on; lambda-cold after starts."""
    busy = list(busy)
    made: list[SensorEvent] = []
    starts = list(starts)
    backwards = 0
    tries = 0
    able = [name for name in _FREEZABLE if name in present]
    while len(made) < wanted and chosen and tries < 40 * wanted:
        kind = chosen[tries % len(chosen)]
        tries += 1
        channel, strength, means = "", 0.0, ""
        if kind == "lambda-cold":
            if not starts or "lambda" not in present:
                continue
            start, lasts = starts.pop(0) + 12.0, _between(rng, 1.0, 25.0)
            channel, strength, means = (
                "lambda",
                lasts,
                "seconds of reading at the lean end beyond the usual 12",
            )
            made.append(SensorEvent(kind, start, start + lasts, channel, strength, means))
            busy.append((start - 13.0, start + lasts))
            continue
        lasts = _between(rng, 0.3, 12.0)
        if kind == "clock-jump-back":
            if backwards >= 2:
                continue
            backwards += 1
            strength, means, lasts = _between(rng, 0.05, 8.0), "seconds that the clock steps back", 0.05
        elif kind in ("clock-gap", "clock-repeats"):
            strength, means = (
                lasts,
                "seconds without rows" if kind == "clock-gap" else "seconds of repeated stamps",
            )
        elif kind == "speed-dropouts":
            channel, strength, means = "speed", float(rng.integers(1, 8)), "samples at a wrong speed"
        else:
            channel = str(rng.choice(able))
            strength, means = {
                "sensor-frozen": (lasts, "seconds without change"),
                "sensor-spikes": (_between(rng, 1.5, 60.0), "height, in sds of the channel's noise"),
                "sensor-out-of-range": (lasts, "seconds at the end of the range"),
                "slow-channel": (lasts, "seconds in which the channel comes once a second"),
            }[kind]
        spot = _quiet_spot(rng, busy, total, lasts)
        if spot is None:
            continue
        made.append(SensorEvent(kind, spot, spot + lasts, channel, strength, means))
        busy.append((spot, spot + lasts))
    return sorted(made, key=lambda e: e.start)

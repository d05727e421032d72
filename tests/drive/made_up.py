"""A plain made-up drive of like rounds, so that one fault at a time can be put in by hand.

A round: 10 s idle, 6 s cruise in third, 8 s pull in third, 4 s overrun, 6 s coasting to a stop. Straight
lines and a little noise: no engine model, and nothing that the detectors know.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from boostwright.readers.drive_log.recording import Channel, Clock, Recording

RPM = math.tau / 60
DEGREE = math.pi / 180
RATIO = 19.0  # engine speed over road speed in third [rad/m]
OUTSIDE = 98e3
TARGET = 138e3
IDLE, CRUISE, PULL, OVERRUN, COAST = 10.0, 6.0, 8.0, 4.0, 6.0
ROUND = IDLE + CRUISE + PULL + OVERRUN + COAST

NOISE = {
    "engine_speed": 0.5,
    "road_speed": 0.02,
    "manifold_pressure": 200.0,
    "charge_pressure": 300.0,
    "barometer": 0.0,
    "boost_target": 0.0,
    "throttle": 0.001,
    "gate_duty": 0.001,
    "lambda": 0.004,
    "lambda_target": 0.0,
    "spark_advance": 0.002,
    "spark_table": 0.0,
    "crankcase_pressure": 20.0,
    "gear": 0.0,
}


@dataclass
class Drive:
    """t: (n,) [s]. value: by key, SI. Put a fault into `value` before `recording`."""

    rate: float
    t: np.ndarray
    value: dict[str, np.ndarray] = field(default_factory=dict)

    def at(self, number: int, part: str, after: float = 0.0) -> int:
        """Place of a part of a round: idle, cruise, pull, overrun, coast."""
        begins = {
            "idle": 0.0,
            "cruise": IDLE,
            "pull": IDLE + CRUISE,
            "overrun": IDLE + CRUISE + PULL,
            "coast": IDLE + CRUISE + PULL + OVERRUN,
        }
        return round((number * ROUND + begins[part] + after) * self.rate)

    def part(self, number: int, name: str, start: float, end: float) -> slice:
        return slice(self.at(number, name, start), self.at(number, name, end))

    def write(self, key: str, where: slice, value: np.ndarray | float) -> None:
        """Put values there, with the channel's own noise: a sound sensor never stands quite still."""
        noise = np.random.default_rng(where.start).normal(0.0, NOISE[key], where.stop - where.start)
        self.value[key][where] = value + noise

    def recording(self, *, without: tuple[str, ...] = ()) -> Recording:
        clock = Clock(self.t, np.arange(self.t.size, dtype=np.int64))
        channels = tuple(
            Channel(key, value, 0, key, "SI", True, 1.0)
            for key, value in self.value.items()
            if key not in without
        )
        return Recording("made up", (clock,), channels)


def drive(rounds: int = 8, rate: float = 50.0, seed: int = 1) -> Drive:
    """So many rounds, of which no two are quite alike."""
    rng = np.random.default_rng(seed)
    n = round(rounds * ROUND * rate)
    made = Drive(rate, np.arange(n) / rate)
    v = {key: np.zeros(n) for key in NOISE}
    v["barometer"][:] = OUTSIDE
    v["lambda_target"][:] = 1.0
    for k in range(rounds):
        _round(made, v, k, rng)
    for key, sd in NOISE.items():
        v[key] += rng.normal(0.0, 1.0, n) * sd
    v["gear"] = np.round(v["gear"])
    made.value = v
    return made


def _round(made: Drive, v: dict[str, np.ndarray], k: int, rng: np.random.Generator) -> None:
    def put(part: str, length: float, **lines: tuple[float, float]) -> slice:
        here = made.part(k, part, 0.0, length)
        u = np.linspace(0.0, 1.0, here.stop - here.start, endpoint=False)
        for key, (a, b) in lines.items():
            v[key][here] = a + (b - a) * u
        return here

    start = 2000 * RPM + rng.normal(0.0, 4.0)
    end = 5200 * RPM + rng.normal(0.0, 6.0)
    at_rest = {"boost_target": (OUTSIDE, OUTSIDE), "charge_pressure": (OUTSIDE, OUTSIDE)}
    put(
        "idle",
        IDLE,
        engine_speed=(850 * RPM, 850 * RPM),
        manifold_pressure=(30e3, 30e3),
        spark_advance=(15 * DEGREE, 15 * DEGREE),
        crankcase_pressure=(100.0, 100.0),
        **{"lambda": (1.0, 1.0)},
        **at_rest,
    )
    put(
        "cruise",
        CRUISE,
        engine_speed=(1500 * RPM, start),
        manifold_pressure=(50e3, 55e3),
        throttle=(0.15, 0.18),
        gear=(3, 3),
        spark_advance=(30 * DEGREE, 30 * DEGREE),
        crankcase_pressure=(180.0, 200.0),
        **{"lambda": (1.0, 1.0)},
        **at_rest,
    )
    here = put(
        "pull",
        PULL,
        engine_speed=(start, end),
        throttle=(1.0, 1.0),
        gear=(3, 3),
        boost_target=(TARGET, TARGET),
        lambda_target=(0.8, 0.8),
        spark_advance=(20 * DEGREE, 24 * DEGREE),
        crankcase_pressure=(300.0, 500.0),
        **{"lambda": (0.8, 0.8)},
    )
    t = np.arange(here.stop - here.start) / made.rate
    late = rng.normal(0.0, 0.03)
    pressure = np.minimum(OUTSIDE + 14e3 * np.maximum(t - 0.1 - late, 0.0), TARGET)
    v["manifold_pressure"][here] = pressure
    v["charge_pressure"][here] = pressure + 2e3
    held = pressure >= TARGET
    v["gate_duty"][here] = np.where(held, 0.4 + rng.normal(0.0, 0.004), 0.9)
    over = {"gear": (3, 3), "spark_advance": (38 * DEGREE, 38 * DEGREE), "lambda": (1.36, 1.36)}
    after = put(
        "overrun",
        OVERRUN,
        engine_speed=(end, 2500 * RPM),
        manifold_pressure=(16e3, 16e3),
        crankcase_pressure=(60.0, 60.0),
        **over,
        **at_rest,
    )
    fall = np.exp(-np.arange(after.stop - after.start) / made.rate / 0.3)
    v["charge_pressure"][after] = OUTSIDE + (TARGET - OUTSIDE) * fall
    put(
        "coast",
        COAST,
        engine_speed=(2500 * RPM, 900 * RPM),
        manifold_pressure=(16e3, 25e3),
        crankcase_pressure=(60.0, 80.0),
        **over,
        **at_rest,
    )
    for part, length in (("cruise", CRUISE), ("pull", PULL), ("overrun", OVERRUN), ("coast", COAST)):
        moving = made.part(k, part, 0.0, length)
        v["road_speed"][moving] = v["engine_speed"][moving] / RATIO
    stops = made.part(k, "coast", COAST - 1.5, COAST)
    v["road_speed"][stops] *= np.linspace(1.0, 0.0, stops.stop - stops.start)
    v["gear"][stops] = 0
    for part, length in (
        ("idle", IDLE),
        ("cruise", CRUISE),
        ("pull", PULL),
        ("overrun", OVERRUN),
        ("coast", COAST),
    ):
        one = made.part(k, part, 0.0, length)
        v["spark_table"][one] = v["spark_advance"][one]

"""The pressure test of the charge pipes that a build states."""

from __future__ import annotations

import math

from boostwright.build.document import Build
from boostwright.systems.charge_air.leak import LeakTest
from boostwright.systems.charge_air.types import ChargeAir
from boostwright.systems.stated.charge_air import charge_air_of
from boostwright.systems.stated.engine import engine_of
from boostwright.systems.stated.place import ambient_of

__all__ = ["TEST_FIELDS", "leak_test_of", "missing_of", "volume_under_test"]

TEST_FIELDS = {
    "leak_test.from": "the pressure at the start",
    "leak_test.to": "the pressure at the end",
    "leak_test.time": "the time between them",
}


def missing_of(build: Build) -> tuple[str, ...]:
    """In words, what of a begun test is not stated; every part of it when there was none."""
    return tuple(words for path, words in TEST_FIELDS.items() if not build.is_stated(path))


def volume_under_test(build: Build, path: ChargeAir | None = None) -> tuple[float, float]:
    """Volume that the test fills, compressor to intake valves, and its standard deviation [m3].

    Stated, or that of pipes, cooler, plenum and runners, throttle open. path: the charge path, where it is
    at hand.
    """
    stated = build.get("leak_test.volume")
    if stated is not None:
        return float(stated.value), float(stated.sd or 0.0)
    air, engine = charge_air_of(build) if path is None else path, engine_of(build)
    runners = engine.cylinders * (engine.runner_length * engine.runner_area + engine.port_volume)
    sd = math.hypot(air.volume_sd, air.plenum_volume_sd, 0.2 * runners)
    return air.volume + air.plenum_volume + runners, sd


def leak_test_of(build: Build, path: ChargeAir | None = None) -> LeakTest | None:
    """The test, or None while a part of it is missing. path: the charge path, where it is at hand."""
    if missing_of(build):
        return None
    volume, volume_sd = volume_under_test(build, path)
    start, end = build["leak_test.from"], build["leak_test.to"]
    seconds, warm = build["leak_test.time"], build["leak_test.temperature"]
    return LeakTest(
        volume=volume,
        volume_sd=volume_sd,
        start=float(start.value),
        end=float(end.value),
        pressure_sd=math.sqrt(0.5 * (float(start.sd) ** 2 + float(end.sd) ** 2)),
        seconds=float(seconds.value),
        seconds_sd=float(seconds.sd),
        temperature=float(warm.value),
        temperature_sd=float(warm.sd),
        ambient=ambient_of(build).pressure,
    )

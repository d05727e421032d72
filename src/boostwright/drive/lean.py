"""Is this lean reading real? What else shows air that was not short of fuel, and what would make it short."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.scene import Scene
from boostwright.drive.watch_fluids import barometer_of
from boostwright.drive.windows import running_mean, running_median, slope

__all__ = ["LeanAnswer", "why_lean"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_DEGREE = np.pi / 180.0
_COLD = 30.0  # s after a start in which a lambda sensor may not read yet
_CUT = 1.2  # s after a fuel cut in which its air still passes
_SHIFT = 0.8  # s after a gear change or torque cut in which unburned mixture passes
_FILM = 0.8  # s after the throttle opens in which the walls take up fuel


class LeanAnswer(NamedTuple):
    """real: True, False, or None where this log cannot tell. cause: one word of the list in `why_lean`."""

    real: bool | None
    cause: str
    words: str


def why_lean(scene: Scene, first: int, last: int, cut: Mask) -> LeanAnswer:
    """The likeliest reason of a lean reading from place `first` to `last` of the grid.

    In this order, the first that its own evidence shows: fuel cut, cold sensor, gear change, tip-in film,
    frozen sensor, end of the sensor, injectors at their end, fuel pressure, voltage, misfire; else fuel that
    is short of the air. Exhaust leaks ahead of the sensor show where little gas flows: they are looked for
    at idle.
    cut: (n,) where no fuel was given.
    """
    if cut[_before(scene, first, first, _CUT)].any():
        return LeanAnswer(
            False, "fuel cut", "not real: fuel was cut just before, and its air had to pass the sensor"
        )
    for ask in (_cold, _gear_change, _film, _stands, _injectors, _rail, _volts, _misfire):
        answer = ask(scene, first, last)
        if answer is not None:
            return answer
    lacks = [
        w
        for k, w in (("fuel_pressure", "fuel pressure"), ("injector_pulse", "injector pulse"))
        if k not in scene.signals
    ]
    unsure = f"; {' and '.join(lacks)} not recorded, so their share is not known" if lacks else ""
    return LeanAnswer(
        True, "fuel",
        "real as far as this log shows: the load was steady, the sensor warm and moving, nothing was cut: "
        f"the air got less fuel than its table meant{unsure}",
    )  # fmt: skip


def _before(scene: Scene, first: int, last: int, seconds: float) -> slice:
    return slice(max(0, first - scene.signals.samples(seconds)), last + 1)


def _cold(scene: Scene, first: int, _last: int) -> LeanAnswer | None:
    if scene.ways.running[_before(scene, first, first, _COLD)].all():
        return None
    return LeanAnswer(
        False, "cold sensor", "not proven: the engine had run for less than 30 s, and the sensor may be cold"
    )


def _gear_change(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    if (last - first) * scene.signals.step > 2.0 * _SHIFT:
        return None
    near = _before(scene, first, last, _SHIFT)
    spark, table = scene.signals.get("spark_advance"), scene.signals.get("spark_table")
    if spark is not None:
        usual = table if table is not None else running_median(spark, scene.signals.samples(3.0))
        if np.nanmax(usual[near] - spark[near], initial=0.0) > 5.0 * _DEGREE:
            words = "not real: spark was taken back for a gear change, and mixture passed the sensor unburned"
            return LeanAnswer(False, "gear change", words)
    gear = scene.ways.gear[near]
    if gear.size and gear.min() != gear.max():
        return LeanAnswer(
            False, "gear change", "not real: a gear change just before moved air and fuel apart"
        )
    return None


def _film(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    opening = scene.ways.opening[_before(scene, first, first, _FILM)]
    if (
        (last - first) * scene.signals.step < _FILM
        and opening.size
        and opening[-1] - np.nanmin(opening) > 0.3
    ):
        words = "real but brief: the throttle opened, and the intake's walls took up fuel first"
        return LeanAnswer(False, "tip-in film", words)
    return None


def _stands(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    reading = scene.signals["lambda"][first : last + 1]
    there = reading[np.isfinite(reading)]
    if there.size < 8 or np.ptp(there) > 0.5 * scene.signals.quantum("lambda"):
        return None
    if there[0] >= np.nanmax(scene.signals["lambda"]) - scene.signals.quantum("lambda"):
        return LeanAnswer(
            None, "end of the sensor", "the sensor stands at its lean end: leaner than that is not shown"
        )
    return LeanAnswer(None, "frozen sensor", "not proven: the reading stood still")


def _injectors(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    duty = scene.signals.get("injector_duty")
    if duty is None or not np.nanmax(duty[first : last + 1], initial=0.0) > scene.limit(
        "pulse-at-its-end", "duty"
    ):
        return None
    return LeanAnswer(
        True, "injectors", "real: the injectors are open nearly all the time, and more fuel cannot come"
    )


def _rail(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    signals = scene.signals
    rail, manifold = signals.get("fuel_pressure"), signals["manifold_pressure"]
    if rail is None:
        return None
    across = rail + barometer_of(scene) - manifold
    usual = float(np.nanmedian(across[scene.ways.running]))
    lost = 1.0 - float(np.nanmean(across[first : last + 1])) / usual
    if lost < 0.03:
        return None
    words = f"real: fuel pressure across the injectors was {100 * lost:.0f} % below its usual"
    return LeanAnswer(True, "fuel pressure", words)


def _volts(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    volts = scene.signals.get("battery_voltage")
    if volts is None:
        return None
    usual = float(np.nanmedian(volts[scene.ways.running]))
    here = float(np.nanmean(volts[first : last + 1]))
    if usual - here < 2.0 * scene.limit("voltage-low", "dip"):
        return None
    return LeanAnswer(
        True, "voltage", f"real: the voltage was {usual - here:.1f} V low, and injectors opened late"
    )


def _misfire(scene: Scene, first: int, last: int) -> LeanAnswer | None:
    """Torque lost together with the lean reading: fuel came, and did not burn."""
    signals = scene.signals
    speed = running_mean(signals["engine_speed"], signals.samples(0.2))
    gain = slope(speed, signals.step, signals.samples(0.15))
    here = gain[first : last + 1]
    length = max(8, last - first)
    beside = np.r_[gain[max(0, first - length) : first], gain[last + 1 : last + 1 + length]]
    full = scene.ways.full
    beside = beside[np.r_[full[max(0, first - length) : first], full[last + 1 : last + 1 + length]]]
    beside = beside[np.isfinite(beside)]
    if beside.size < 8 or not np.isfinite(here).any():
        return None
    usual = float(np.median(beside))
    if usual <= 0.0 or float(np.nanmedian(here)) > 0.75 * usual:
        return None
    words = "not proven lean: the car pulled less just then, as when mixture passes unburned: plugs, coils"
    return LeanAnswer(None, "misfire", words)

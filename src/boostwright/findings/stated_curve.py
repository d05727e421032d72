"""The computed full-load torque beside the torque curve that the file states, in the air of the place."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.values import Source
from boostwright.findings.case import Case
from boostwright.findings.model import Kind
from boostwright.physics.power_correction import iso_1585

__all__ = ["StatedCurve", "stated_curve"]

_NEAR = 300.0 * math.pi / 30.0  # a stated point farther off says little of a computed one [rad/s]
_DRY = 0.99  # of the air's pressure: 1 kPa of vapour in 100 kPa, as in the reference atmosphere of iso1585
_REFERENCE = {  # total pressure [Pa] and temperature [K] to which a standard corrects
    "iso1585": (100.0e3, 298.15),
    "j1349": (100.0e3, 298.15),
    "din70020": (101.3e3, 293.15),
}
_FORMULA_SD = 0.01  # of the correction itself, within the window in which it counts (judgement)
_DRIVE_LOSS, _DRIVE_LOSS_SD = 0.12, 0.03  # between crank and wheels (common practice, no source)


class StatedCurve(NamedTuple):
    """Computed over stated torque at the computed speeds with a stated point near; arrays of shape (k,)."""

    speed: NDArray[np.float64]  # crank speed [rad/s]
    ratio: NDArray[np.float64]  # computed over stated, both in the air of the place [-]
    sd: NDArray[np.float64]  # relative standard deviation of the stated side [-]


def stated_curve(case: Case) -> StatedCurve | None:
    """T_computed / (T_stated f_weather / f_drive); None without a stated curve, or with none near enough."""
    speeds, torques = case.stated("baseline.speed"), case.stated("baseline.torque")
    if speeds is None or torques is None:
        return None
    at, given = np.asarray(speeds.value, dtype=float), np.asarray(torques.value, dtype=float)
    line = case.baseline
    away = np.min(np.abs(line.speeds[:, np.newaxis] - at), axis=1)
    near = (away <= _NEAR) & (line.speeds >= at[0]) & (line.speeds <= at[-1])
    if not near.any():
        return None
    speed = line.speeds[near]
    stated = np.interp(speed, at, given)
    spread = np.broadcast_to(np.asarray(torques.sd or 0.0, dtype=float), at.shape)
    sd = np.interp(speed, at, spread) / stated
    loss_sd = 0.0
    if case.word("baseline.at") == "wheels":
        stated, loss_sd = stated / (1.0 - _DRIVE_LOSS), _DRIVE_LOSS_SD
    weather, weather_sd = _weather(case)
    ratio = line.result.torque[near] / (stated * weather)
    return StatedCurve(speed, ratio, np.sqrt(sd**2 + loss_sd**2 + weather_sd**2))


def _weather(case: Case) -> tuple[float, float]:
    """What turns a stated torque into one in the air of the place, and its relative standard deviation.

    A curve on paper that says nothing of its weather is taken as one in the reference atmosphere of ISO 1585.
    """
    place = float(iso_1585(_DRY * case.ambient_pressure, case.ambient_temperature).factor)
    label = case.word("baseline.correction") or "none"
    told = any(case.build.is_stated(f"baseline.{name}") for name in ("temperature", "barometer"))
    torque = case.build.get("baseline.torque")
    on_paper = torque is not None and torque.source is not Source.MEASURED and not told
    if label == "none" and on_paper:
        label = "iso1585"
    if label != "none":
        pressure, temperature = _REFERENCE[label]
        return float(iso_1585(_DRY * pressure, temperature).factor) / place, _FORMULA_SD
    air = case.amount("baseline.barometer", Kind.PRESSURE, "barometer")
    warm = case.amount("baseline.temperature", Kind.TEMPERATURE, "air")
    pressure = case.ambient_pressure if air is None else air.value
    temperature = case.ambient_temperature if warm is None else warm.value
    pressure_sd = 1.5e3 if air is None else air.sd or 0.0
    temperature_sd = 0.0 if warm is None else warm.sd or 0.0
    sd = math.hypot(_FORMULA_SD, 1.2 * pressure_sd / pressure, 0.6 * temperature_sd / temperature)
    return float(iso_1585(_DRY * pressure, temperature).factor) / place, sd

"""Rows of readings beside the model, each with its slopes over all that is not known.

A row holds reading and expectation at the same points, and by how much expectation less reading would move
with each unknown. A sensor that is 'off by' x reads x too much.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.fuel_rows import fuel_rows
from boostwright.drive.model_at import Predicted
from boostwright.drive.outside import Outside
from boostwright.drive.points import Points
from boostwright.drive.road_power import RoadPower
from boostwright.drive.row import Row, sensor_slopes
from boostwright.library.drive_spreads import drive_spread
from boostwright.library.transient import heat_lag
from boostwright.planning.ladder.conditions import Condition

__all__ = ["Row", "rows_beside"]

Array = NDArray[np.float64]

_EFFICIENCY: Final = 0.70  # of the compressor where no match says it [-] (common practice)
_EFFICIENCIES: Final = (0.4, 0.85)  # between which a compressor at work lies (common practice)
_MOST_COOLED: Final = 0.95  # effectiveness beyond which the charge tells nothing of the compressor
_GAMMA_SHARE: Final = 2.0 / 7.0
_PROBE_TIME: Final = 2.0  # by which walls and probe trail the gas [s] (judgement)
_CORE_TIME: Final = 4.0  # by which the charge trails its steady temperature [s] (judgement)
_CORE_SD: Final = 4.0  # of the charge beside that [K] (judgement)
_STILL: Final = 6.0e3  # rise of boost below which it counts as settled [Pa/s] (judgement)


def rows_beside(
    build: Build,
    points: Points,
    model: Predicted,
    outside: Outside,
    powers: Sequence[RoadPower] = (),
    condition: Condition | None = None,
) -> tuple[Row, ...]:
    """Every row that the log has readings for.

    powers: of the pulls, in the order of `points.pulls`. condition: the match at this day's air, for the
    boost.
    """
    found = [
        _torque(build, points, model, powers),
        _meter(points, model),
        *fuel_rows(build, points, model, outside),
        _exhaust(points, model),
        _intake(build, points, outside, condition),
        _boost(points, condition),
    ]
    return tuple(row for row in found if row is not None and row.at.size)


def _torque(build: Build, points: Points, model: Predicted, powers: Sequence[RoadPower]) -> Row | None:
    """Torque at the crank by the road."""
    n = len(points)
    torque, noise, slope = (np.full(n, np.nan) for _ in range(3))
    for k, power in enumerate(powers):
        if power.refused:
            continue
        mine = np.flatnonzero(points.pull == k)
        order = np.argsort(power.time)
        t = power.time[order]
        inside = mine[(points.time[mine] >= t[0]) & (points.time[mine] <= t[-1])]
        for column, values in (
            (torque, power.torque),
            (noise, power.noise_sd / power.speed),
            (slope, power.per_slope / power.speed),
        ):
            column[inside] = np.interp(points.time[inside], t, values[order])
    at = np.flatnonzero(np.isfinite(torque) & model.usable)
    if not at.size:
        return None
    expected = model.torque[at]
    slopes = sensor_slopes("torque", points, model, at)
    low, high = _speeds(build)
    way = np.clip((points.speed[at] - 0.5 * (low + high)) / (0.5 * (high - low)), -1.0, 1.0)
    slopes["form.torque_tilt"] = expected * way
    slopes["road.scale"] = torque[at]
    for k in np.unique(points.pull[at]):
        slopes[f"road.slope.{k}"] = np.where(points.pull[at] == k, -slope[at], 0.0)
    form = drive_spread("form", "torque") * np.abs(expected)
    return Row(
        "torque",
        "torque at the crank, by the road",
        "torque",
        at,
        torque[at],
        expected,
        noise[at],
        form,
        slopes,
    )


def _speeds(build: Build) -> tuple[float, float]:
    return 1000.0 * math.pi / 30.0, build.number("engine.speed_limit")


def _meter(points: Points, model: Predicted) -> Row | None:
    """Air by the meter, logarithms."""
    logged = points.mean.get("air_flow")
    if logged is None:
        return None
    at = np.flatnonzero((logged > 1e-3) & model.usable)
    slopes = sensor_slopes("air", points, model, at)
    slopes["sensor.air_flow"] = np.ones(at.size)
    own = points.own_sd["air_flow"][at] / logged[at]
    form = np.full(at.size, drive_spread("form", "air"))
    return Row(
        "air_meter",
        "air by the meter",
        "mass flow",
        at,
        np.log(logged[at]),
        model.air[at],
        own,
        form,
        slopes,
        True,
    )


def _rate(points: Points, key: str) -> Array:
    """Change of a logged mean along its pull, absolute, (n,) [unit/s]; 0 for a point that stands alone."""
    found = np.zeros(len(points))
    for k in np.unique(points.pull):
        mine = np.flatnonzero(points.pull == k)
        if mine.size > 1:
            found[mine] = np.abs(np.gradient(points.mean[key][mine], points.time[mine]))
    return np.nan_to_num(found)


def _exhaust(points: Points, model: Predicted) -> Row | None:
    """Exhaust gas at the turbine by its probe, with what a probe reads below the gas added."""
    logged = points.mean.get("exhaust_temperature")
    if logged is None:
        return None
    lag = heat_lag()
    length = np.array([s.end - s.start for s in points.pulls])[points.pull]
    # walls and probe come from another load: they need their time to forget it
    warm = np.where(points.steady, length > lag.slow_time, points.since > lag.fast_time)
    at = np.flatnonzero(np.isfinite(logged) & model.usable & warm)
    if not at.size:
        return None
    slopes = sensor_slopes("exhaust", points, model, at)
    slopes["sensor.exhaust_temperature"] = np.ones(at.size)
    own = np.hypot(
        points.own_sd["exhaust_temperature"][at], _PROBE_TIME * _rate(points, "exhaust_temperature")[at]
    )
    form = np.full(at.size, drive_spread("form", "exhaust"))
    read = logged[at] + drive_spread("sensor", "exhaust_below")
    return Row(
        "exhaust",
        "exhaust gas before the turbine",
        "temperature",
        at,
        read,
        model.exhaust[at],
        own,
        form,
        slopes,
    )


def _efficiency(build: Build, speed: Array, share: float, condition: Condition | None) -> Array:
    """Efficiency of the compressor at crank speeds, as the match's own charge temperature has it; usual else.

    From T = T0 + (1 - e) T0 (r^(2/7) - 1)/eta at each speed of the condition that is under boost.
    """
    usual = np.full(speed.shape, _EFFICIENCY)
    if condition is None or condition.intake.size < 2 or share > _MOST_COOLED:
        return usual
    air = condition.air
    ratio = (condition.pressure + _lost(build)) / air.pressure
    rise = condition.intake - air.temperature
    good = (condition.pressure > air.pressure + drive_spread("held", "boosted")) & (rise > 1.0)
    if not good.any():
        return usual
    with np.errstate(invalid="ignore", divide="ignore"):
        eta = (1.0 - share) * air.temperature * (ratio**_GAMMA_SHARE - 1.0) / rise
    return np.asarray(np.interp(speed, condition.speed[good], np.clip(eta[good], *_EFFICIENCIES)))


def _lost(build: Build) -> float:
    """Pressure that the charge loses between compressor and plenum [Pa]."""
    loss = build.get("cooler.pressure_loss")
    return 0.0 if loss is None or build.words("cooler.type") == "none" else float(loss.value)


def _intake(build: Build, points: Points, outside: Outside, condition: Condition | None) -> Row | None:
    """Charge after the cooler, by compressor and cooler: T2 - e (T2 - T0)."""
    if "intake_temperature" in points.stand_in:
        return None
    boosted = points.pressure > outside.pressure + drive_spread("held", "boosted")
    at = np.flatnonzero(boosted & np.isfinite(points.mean["intake_temperature"]))
    if not at.size:
        return None
    gain = ((points.pressure[at] + _lost(build)) / outside.pressure) ** _GAMMA_SHARE - 1.0
    T0 = outside.temperature
    share = 0.0 if build.words("cooler.type") == "none" else build.number("cooler.effectiveness")
    efficiency = _efficiency(build, points.speed[at], share, condition)
    hot = points.mean.get("compressor_temperature")
    read = points.mean["intake_temperature"][at]
    T2 = T0 * (1.0 + gain / efficiency)
    per_efficiency = -T0 * gain / efficiency**2
    if hot is not None and np.isfinite(hot[at]).all():
        T2, per_efficiency = hot[at], np.zeros(at.size)
    expected = T2 - share * (T2 - T0)
    slopes = {
        "cooler.effectiveness": (T0 - T2) * float(share > 0.0),
        "form.compressor_efficiency": (1.0 - share) * per_efficiency,
        "form.outside": share + (1.0 - share) * np.where(per_efficiency == 0.0, 0.0, T2 / T0),
        "sensor.intake_temperature": np.ones(at.size),
    }
    own = np.hypot(
        points.own_sd["intake_temperature"][at], _CORE_TIME * _rate(points, "intake_temperature")[at]
    )
    form = np.full(at.size, _CORE_SD)
    return Row("intake", "charge after the cooler", "temperature", at, read, expected, own, form, slopes)


def _come(points: Points) -> NDArray[np.bool_]:
    """Whether boost has come: after the steepest rise of its pull; everywhere in a pull without a rise."""
    found = np.ones(len(points), dtype=bool)
    for k in np.unique(points.pull):
        mine = np.flatnonzero(points.pull == k)
        steepest = int(np.argmax(points.rise[mine]))
        if points.rise[mine[steepest]] > _STILL:
            found[mine[: steepest + 1]] = False
    return found


def _boost(points: Points, condition: Condition | None) -> Row | None:
    """Manifold pressure of the pulls against the match, where boost has settled or stands above it."""
    if condition is None or condition.speed.size < 2:
        return None
    inside = (points.speed >= condition.speed[0]) & (points.speed <= condition.speed[-1])
    expected = np.interp(points.speed, condition.speed, condition.pressure)
    settled = (np.abs(points.rise) < _STILL) & _come(points)
    # lower than the match while it still rises is no more than the wait for boost
    at = np.flatnonzero(~points.steady & inside & (settled | (points.pressure > expected)))
    if not at.size:
        return None
    sd = np.interp(points.speed[at], condition.speed, condition.pressure_sd)
    form = np.full(at.size, math.hypot(condition.air.pressure_sd, drive_spread("held", "target_off") / 2.0))
    slopes = {"form.turbo": sd, "sensor.manifold_pressure": np.ones(at.size)}
    own = points.own_sd["manifold_pressure"][at]
    return Row(
        "boost", "manifold pressure", "pressure", at, points.pressure[at], expected[at], own, form, slopes
    )

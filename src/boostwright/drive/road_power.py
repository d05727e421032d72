"""Power of a pull at the wheels and at the crank, with its band, and as two standards would write it.

Speed and its slope come from the crank where a gear is engaged, or from the wheels, whichever knows it
better. What is not known of car, air, slope and wind is moved one by one. Where the log cannot carry a power,
it says why.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.car import Car, Known
from boostwright.drive.held_boost import Held, HeldBoost, held_boost
from boostwright.drive.outside import Outside
from boostwright.drive.records import Stretch
from boostwright.drive.rows import Rows
from boostwright.library.drive_spreads import drive_spread
from boostwright.physics.atmosphere import GRAVITY
from boostwright.physics.driveline import effective_mass, road_load
from boostwright.physics.power_correction import Correction, iso_1585, sae_j1349
from boostwright.physics.road_power import (
    LocalSlope,
    acceleration_step,
    crank_power,
    fresh_rows,
    local_slope,
    quantum_of,
    wheel_power,
)

__all__ = ["Corrected", "RoadPower", "road_power"]

Array = NDArray[np.float64]

_RPM: Final = math.pi / 30.0
_HALVES: Final = (0.15, 0.25, 0.4, 0.6, 0.9)  # windows that are tried, half of each [s]
_WANTED: Final = 0.03  # of the acceleration: what a window must know it to
_MOST_STEPS: Final = 100
_STEP: Final = 150.0 * _RPM  # between the speeds at which a power is given [rad/s]
_LINE_ENDS: Final = 1.2  # slope of a line through a height that wanders freely, over wander by length [-]
_ROLLS, _TURNS = 2.0, 30.0  # speeds of road [m/s] and crank [rad/s] below which their ratio tells nothing
_FEW_FRESH: Final = 4  # readings in each half of a pull, to tell slip
_SLOPE_WINDOW: Final = 20.0  # of road over which height gives a slope, at least [m]


class Corrected(NamedTuple):
    """A power at the crank as one standard writes it.

    factor: on the measured power; 1 where boost was held absolute. uncorrected_too: nobody can say what held
    the boost, so the power lies between factor 1 and this one. out_of_range: outside the standard's window.
    """

    standard: str
    factor: float
    factor_sd: float
    out_of_range: bool
    uncorrected_too: bool


@dataclass(frozen=True, slots=True)
class RoadPower:
    """Power of one pull over crank speed, arrays (m,), SI; empty where it is refused.

    wheel_sd, crank_sd: whole standard deviations; noise_sd: the part of crank_sd that each speed has for
    itself, the rest is common to all. per_slope: change of crank by the road's slope [W/rad], known to
    slope_sd [rad]. by: the channel whose slope was taken. refused: why there is no power,
    one sentence each. notes: what was taken for granted.
    """

    stretch: Stretch
    speed: Array  # crank [rad/s]
    time: Array  # [s]
    wheel: Array  # [W]
    wheel_sd: Array
    crank: Array  # [W]
    crank_sd: Array
    noise_sd: Array
    per_slope: Array
    slope_sd: float = math.nan
    by: str = ""
    gear: int = 0
    half_window: float = math.nan  # [s]
    held: HeldBoost | None = None
    corrected: tuple[Corrected, ...] = ()
    refused: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def torque(self) -> Array:
        """At the crank [N m]."""
        return np.asarray(self.crank / self.speed)

    @property
    def scale_sd(self) -> float:
        """What is not known of all powers of the car together, a share; slope and noise are not in it."""
        rest = self.crank_sd**2 - self.noise_sd**2 - (self.per_slope * self.slope_sd) ** 2
        return float(np.median(np.sqrt(np.maximum(rest, 0.0)) / np.maximum(self.crank, 1.0)))

    def peak(self) -> tuple[float, Known] | None:
        """Crank speed of most power and the power there; None where it is refused."""
        if self.refused:
            return None
        i = int(np.argmax(self.crank))
        return float(self.speed[i]), Known(float(self.crank[i]), float(self.crank_sd[i]))


class _Motion(NamedTuple):
    """How the car moves at the chosen moments."""

    by: str
    half: float
    times: Array
    v: Array
    a: Array
    a_sd: Array
    omega: Array
    scale_sd: float  # of v and a together, a share


class _Gearing(NamedTuple):
    """Crank speed over road speed in the pull, and what is known of it."""

    over: Known  # omega/v [1/m]
    total: float  # ratio [-]
    gear: int
    why: str = ""


def road_power(stretch: Stretch, drive: Rows, car: Car, outside: Outside) -> RoadPower:
    """Power of one pull.

    stretch: the pull. drive: all rows of the drive. car, outside: with their spreads. Slope from the height
    channel, else from an accelerometer, else it counts as level with its spread. Sources: wong2001 (road
    load), saej1349 and iso1585 (correction), grpe7002 (boost held absolute).
    """
    pull = drive.of(stretch)
    shortest = drive_spread("refuse", "shortest")
    if stretch.end - stretch.start < shortest:
        why = (
            f"A pull shorter than {shortest:.1f} s gives no power: the shunt of tip-in is still in its speed."
        )
        return _none(stretch, why)
    geared = _gearing(pull, car, stretch.gear)
    if isinstance(geared, str):
        return _none(stretch, geared)
    motion = _motion(pull, geared)
    if isinstance(motion, str):
        return _none(stretch, motion)
    slope, slope_sd, slope_words = _slope(pull, motion)
    found = _power(motion, geared, car, outside, slope, slope_sd)
    share = float(np.median(found.crank_sd / np.maximum(found.crank, 1.0)))
    most = drive_spread("refuse", "power_sd")
    if not share < most:
        return _none(stretch, _too_coarse(pull, motion, share, most))
    held = held_boost(pull, outside, drive)
    notes = [slope_words, *_notes(car, geared)]
    return RoadPower(
        stretch,
        motion.omega,
        motion.times,
        *found,
        slope_sd=slope_sd,
        by=motion.by,
        gear=geared.gear,
        half_window=motion.half,
        held=held,
        corrected=_corrected(outside, held.held),
        notes=tuple(note for note in notes if note),
    )


def _none(stretch: Stretch, why: str) -> RoadPower:
    no = np.empty(0)
    return RoadPower(stretch, no, no, no, no, no, no, no, no, refused=(why,))


def _moments(pull: Rows) -> Array:
    """Moments (m,) at which the crank passes equal steps of speed; a second apart where none is logged."""
    omega = pull.get("engine_speed")
    if not np.isfinite(omega).any():
        return np.arange(pull.t[0] + 0.5, pull.t[-1] - 0.4, 0.5)
    use = np.isfinite(omega)
    t, omega = pull.t[use], np.maximum.accumulate(omega[use])
    low, high = float(omega[0]), float(omega[-1])
    count = int(np.clip((high - low) / _STEP, 3, _MOST_STEPS))
    wanted = low + (high - low) * (np.arange(count) + 0.5) / count
    return np.asarray(t[np.minimum(np.searchsorted(omega, wanted), t.size - 1)], dtype=np.float64)


def _gearing(pull: Rows, car: Car, gear: int) -> _Gearing | str:
    """Crank over road speed: from both channels, else from the gear; a sentence where neither is known."""
    omega, v = pull.get("engine_speed"), pull.get("road_speed")
    both = np.isfinite(omega) & np.isfinite(v) & fresh_rows(v) & (v > _ROLLS) & (omega > _TURNS)
    logged = pull.get("gear")
    if not gear and np.isfinite(logged).any():
        gear = max(0, round(float(np.nanmedian(logged))))
    scale = drive_spread("road", "speed_scale")
    if np.count_nonzero(both) >= 6:
        middle = float(np.median(omega[both] / v[both]))
        total = middle * car.radius.value
        gear = car.gear_of(total) or gear
        stated = car.ratios[gear - 1] if 0 < gear <= len(car.ratios) else None
        spread = car.radius.sd / car.radius.value
        if stated is None:
            return _Gearing(Known(middle, scale * middle), total, gear)
        by_gear = stated / car.radius.value  # two scales, each unsure: their weighted mean
        weight = scale**-2 / (scale**-2 + spread**-2)
        mean = weight * middle + (1 - weight) * by_gear
        return _Gearing(Known(mean, mean * (scale**-2 + spread**-2) ** -0.5), stated, gear)
    if not np.isfinite(omega).any() and np.isfinite(v).sum() < 2 * _FEW_FRESH:
        return "The log holds neither engine speed nor road speed in this pull."
    if 0 < gear <= len(car.ratios):
        total = car.ratios[gear - 1]
        over = total / car.radius.value
        return _Gearing(Known(over, over * car.radius.sd / car.radius.value), total, gear)
    missing = "road speed" if np.isfinite(omega).any() else "engine speed"
    return (
        f"Neither the {missing} nor the gear is known in this pull, so crank and road speed cannot be brought"
        f" together. Log the {missing}, or log the gear and state car.gears, car.final_drive and car.tyre."
    )


def _motion(pull: Rows, geared: _Gearing) -> _Motion | str:
    """Speed and acceleration by the channel that knows them better; a sentence where none does."""
    times = _moments(pull)
    omega, v = pull.get("engine_speed"), pull.get("road_speed")
    drift = _drift(omega, v)
    most = drive_spread("refuse", "ratio_drift")
    scale = (
        geared.over.sd / geared.over.value if geared.over.value > 0 else drive_spread("road", "speed_scale")
    )
    found: list[_Motion] = []
    at = _read(pull.t, omega, times)
    if np.isfinite(omega).any() and not drift > most:
        half, line = _window(pull.t, omega, times)
        k = geared.over.value
        found.append(
            _Motion(
                "engine_speed",
                half,
                times,
                line.value / k,
                line.slope / k,
                line.slope_sd / k,
                line.value,
                scale,
            )
        )
    if np.isfinite(v).any():
        half, line = _window(pull.t, v, times)
        crank = at if np.isfinite(at).any() else line.value * geared.over.value
        found.append(_Motion("road_speed", half, times, line.value, line.slope, line.slope_sd, crank, scale))
    best = min(found, key=_unsure, default=None)
    few = drive_spread("refuse", "fewest")
    if best is None or np.count_nonzero(_usable(best)) < few:
        if drift > most:
            return (
                f"Crank speed over road speed moves by {100 * drift:.1f} % within the pull: clutch or tyres"
                f" slip, and the road speed alone is too coarse. A power needs less than {100 * most:.0f} %."
            )
        return _coarse(pull)
    keep = _usable(best)
    columns = {name: getattr(best, name)[keep] for name in ("times", "v", "a", "a_sd", "omega")}
    return best._replace(**columns)


def _usable(motion: _Motion) -> NDArray[np.bool_]:
    return (
        np.isfinite(motion.v) & np.isfinite(motion.a) & np.isfinite(motion.a_sd) & np.isfinite(motion.omega)
    )


def _unsure(motion: _Motion) -> float:
    with np.errstate(invalid="ignore", divide="ignore"):
        share = motion.a_sd / np.abs(motion.a)
    return float(np.nanmedian(share)) if np.isfinite(share).any() else math.inf


def _window(t: Array, values: Array, times: Array) -> tuple[float, LocalSlope]:
    """The shortest window that knows the slope well enough, else the longest that the pull has room for."""
    room = 0.25 * float(t[-1] - t[0])
    last: tuple[float, LocalSlope] | None = None
    for half in _HALVES:
        if last is not None and half > room:
            break
        line = local_slope(t, values, times, half)
        last = (half, line)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = line.slope_sd / np.abs(line.slope)
        if np.mean(np.isfinite(share)) > 0.8 and float(np.nanmedian(share)) < _WANTED:
            break
    assert last is not None
    return last


def _drift(omega: Array, v: Array) -> float:
    """By how much crank over road speed moves from the lower to the upper half of a pull, a share."""
    both = np.isfinite(omega) & np.isfinite(v) & fresh_rows(v) & (v > _ROLLS) & (omega > _TURNS)
    if np.count_nonzero(both) < 2 * _FEW_FRESH:
        return 0.0
    over = (omega[both] / v[both])[: 2 * (np.count_nonzero(both) // 2)]
    first, second = np.split(over, 2)
    error = 1.2533 * math.hypot(np.std(first), np.std(second)) / math.sqrt(first.size)
    moved = float(np.median(second) / np.median(first)) - 1.0
    return max(0.0, abs(moved) - 2.0 * error / float(np.median(first)))


def _read(t: Array, values: Array, times: Array) -> Array:
    known = np.isfinite(values)
    if not known.any():
        return np.full(times.shape, np.nan)
    return np.asarray(np.interp(times, t[known], values[known]))


def _coarse(pull: Rows) -> str:
    v = pull.get("road_speed") if pull.has("road_speed") else pull.get("engine_speed")
    fresh = int(fresh_rows(v).sum())
    return (
        f"The log holds {fresh} different readings of speed in {pull.t[-1] - pull.t[0]:.1f} s: too few for a"
        " slope with its error. Log the engine speed at 10 readings a second or more."
    )


def _too_coarse(pull: Rows, motion: _Motion, share: float, most: float) -> str:
    quantum = quantum_of(pull.get(motion.by))
    fresh = fresh_rows(pull.get(motion.by))
    rate = float(fresh.sum()) / max(float(pull.t[-1] - pull.t[0]), 1e-3)
    unit = ("rpm", quantum / _RPM) if motion.by == "engine_speed" else ("km/h", quantum * 3.6)
    step = float(acceleration_step(quantum, rate))
    steps = f" and one step of it is {step:.2f} m/s2" if motion.by == "road_speed" else ""
    return (
        f"The speed is written in steps of {unit[1]:.2g} {unit[0]}, {rate:.1f} new ones a second{steps}: the"
        f" power would be known to {100 * share:.0f} % only, and {100 * most:.0f} % is the most that tells"
        " something. Log faster, or pull longer in a higher gear on a closed course or a dynamometer."
    )


def _slope(pull: Rows, motion: _Motion) -> tuple[float, float, str]:
    """Slope of the road along the pull [rad], its standard deviation, and a note."""
    level = drive_spread("road", "slope")
    if pull.has("altitude"):
        height = pull.get("altitude")
        known = np.isfinite(height)
        distance = max(float(np.nanmean(motion.v)) * float(pull.t[-1] - pull.t[0]), 1.0)
        if distance > _SLOPE_WINDOW and np.count_nonzero(known) > 5:
            rise = float(np.polyfit(pull.t[known] - pull.t[0], height[known], 1)[0])
            slope = rise / float(np.nanmean(motion.v))
            wander = math.hypot(drive_spread("road", "altitude"), quantum_of(height) / math.sqrt(12.0))
            sd = _LINE_ENDS * wander / distance
            if sd < level:
                return math.asin(min(max(slope, -0.3), 0.3)), sd, ""
    if pull.has("acceleration"):
        felt = pull.get("acceleration") * GRAVITY
        mean = float(np.nanmean(felt)) - float(np.nanmean(motion.a))
        return (
            math.asin(min(max(mean / GRAVITY, -0.3), 0.3)),
            level,
            (
                "The slope is what the accelerometer feels beyond the change of speed; how the car squats"
                " is in its spread."
            ),
        )
    return 0.0, level, f"The road counts as level, to {100 * level:.0f} %: the log holds no height."


class _Powers(NamedTuple):
    wheel: Array
    wheel_sd: Array
    crank: Array
    crank_sd: Array
    noise_sd: Array
    per_slope: Array


def _power(
    motion: _Motion, geared: _Gearing, car: Car, outside: Outside, slope: float, slope_sd: float
) -> _Powers:
    total = (
        geared.total
        if math.isfinite(geared.total)
        else float(np.nanmedian(motion.omega / motion.v)) * car.radius.value
    )

    def both(
        c: Car, air: Outside, v: Array, a: Array, angle: float, wind: float = 0.0
    ) -> tuple[Array, Array]:
        load = road_load(v + wind, c.mass.value, c.drag_area.value, c.rolling.value, air.density, angle)
        at_wheels = wheel_power(v, a, effective_mass(c.mass.value, 0.0, c.turning), load)
        m_eff = effective_mass(c.mass.value, total, c.turning)
        return at_wheels, crank_power(v, a, m_eff, load, c.efficiency.value)

    v, a = motion.v, motion.a
    here = both(car, outside, v, a, slope)
    noise = both(car, outside, v, a + motion.a_sd, slope)
    # the rolling radius of the car is in the scale of speed, so a car with another one is not moved here
    cars = [c for c in car.moved() if c.radius == car.radius]
    moved = [both(c, outside, v, a, slope) for c in cars]
    moved += [both(car, air, v, a, slope) for air in outside.moved()]
    steeper = both(car, outside, v, a, slope + slope_sd)
    moved.append(steeper)
    moved.append(both(car, outside, v, a, slope, drive_spread("road", "wind")))
    more = 1.0 + motion.scale_sd
    moved.append(both(car, outside, v * more, a * more, slope))
    common = [np.sqrt(sum((np.asarray(m[k]) - here[k]) ** 2 for m in moved)) for k in (0, 1)]
    own = [np.abs(noise[k] - here[k]) for k in (0, 1)]
    whole = [np.hypot(common[k], own[k]) for k in (0, 1)]
    return _Powers(here[0], whole[0], here[1], whole[1], own[1], (steeper[1] - here[1]) / slope_sd)


def _corrected(outside: Outside, held: Held) -> tuple[Corrected, ...]:
    """The factor of each standard with its spread by the day's air."""
    found = []
    for name, standard in (("SAE J1349", sae_j1349), ("ISO 1585", iso_1585)):

        def at(air: Outside, standard: object = standard) -> Correction:
            return standard(air.dry, air.temperature, held is Held.ABSOLUTE)  # type: ignore[operator,no-any-return]

        one = at(outside)
        factor = float(one.factor)
        sd = math.sqrt(sum((float(at(air).factor) - factor) ** 2 for air in outside.moved()))
        found.append(Corrected(name, factor, sd, bool(one.out_of_range), held is Held.UNKNOWN))
    return tuple(found)


def _notes(car: Car, geared: _Gearing) -> list[str]:
    found = []
    if car.assumed:
        found.append(f"Nobody stated {', '.join(car.assumed)}; usual figures stand in, with their spread.")
    if car.ratios and not geared.gear:
        found.append("Crank over road speed fits none of the stated gears.")
    return found

"""Expected ranges while the engine stands, turns or idles, and of what does not hang on a pull.

Little of it is the model's: readings of this car from before the conversion come first, then what the file
states, then the trade. Only the manifold pressure of idle is the model's, and no better than 4.5 kPa.
"""

from __future__ import annotations

import math
from typing import Final

from boostwright.physics.fuel_line import Reference, rail_difference
from boostwright.planning.ladder.asked import TRADE, Asked, Guess, Rule, nearer
from boostwright.planning.ladder.records import Limit, Origin
from boostwright.quantity import COVERAGE
from boostwright.systems.stated.fuel_side import fuel_side_of
from boostwright.systems.stated.oil import relief_of

__all__ = ["AT_REST_RULES", "idle_worked_out", "shim_adds", "thermostat"]

_TURBO_TAKES: Final = (
    0.10e5,
    0.08e5,
)  # oil pressure at idle that the turbo's feed costs (common practice) [Pa]
_TURBO_TAKES_AT_SPEED: Final = 0.05e5  # the same at 3000 rpm, where the relief valve makes up for it [Pa]
_SEA_LEVEL: Final = 101.325e3  # air pressure for which the trade counts its vacuum [Pa]
_VACUUM: Final = (65.5e3, 4.25e3)  # of warm idle there: 57 to 74 kPa as two deviations (common practice) [Pa]
_OF_AIR: Final = 0.15  # of the manifold pressure of idle with the outside air: less to pump against [-]
_CYCLE_SD: Final = 4.5e3  # of the cycle that carries itself (judgement) [Pa]
_UNLOADED: Final = 7.0e3  # above the outside air that a blip without load may show [Pa] (common practice)


def _outside_air(asked: Asked) -> Guess:
    air = asked.air
    room = max(4.0e3, 2.6 * math.hypot(air.pressure_sd, 1.0e3))  # more where the day's air was not given
    off = Limit(air.pressure - room, "so far off, scale or offset of the sensor is wrong", TRADE)
    far = Limit(air.pressure + room, off.why, TRADE)
    return Guess(
        air.pressure,
        air.pressure_sd,
        None,
        off,
        far,
        origin=Origin.STATED,
        how=f"the outside air {air.words}",
    )


def _air_of_the_day(asked: Asked) -> Guess:
    air = asked.air
    sd = math.hypot(air.temperature_sd, 1.0)
    return Guess(
        air.temperature,
        sd,
        origin=Origin.STATED,
        how=f"the air {air.words}; give the day's own, and the range is that of the sensor",
    )


def _as_the_air(asked: Asked) -> Guess | None:
    read = asked.recorded("air_key_on")
    if read is None:
        return _air_of_the_day(asked)
    why = "stone cold, more than this is another thermistor's curve"
    low, high = (Limit(read[0] + d, why, TRADE) for d in (-6.0, 6.0))
    return Guess(
        read[0],
        math.hypot(read[1], 0.6),
        None,
        low,
        high,
        origin=Origin.RECORDED,
        how="the air sensor's reading",
    )


def _regulator(asked: Asked) -> tuple[float, float, Origin, str]:
    """Set pressure and its standard deviation [Pa over its dry side]."""
    read = asked.recorded("rail_primed") or asked.recorded("rail_pressure_static")
    if read is not None:
        return (*read, Origin.RECORDED, "the rail as it was read with the pump primed")
    value = asked.build["regulator.pressure"]
    stated = Origin.STATED if asked.build.is_stated("regulator.pressure") else Origin.TRADE
    return float(value.value), float(value.sd or 0.0), stated, "the regulator's set pressure"


def _rail_standing(asked: Asked) -> Guess:
    value = asked.build["regulator.pressure"]
    set_to, sd = float(value.value), float(value.sd or 0.0)
    room = 0.05 * set_to + COVERAGE * sd
    why = "a twentieth beside the set pressure and what is not known of it: pump, filter or regulator"
    origin = Origin.STATED if asked.build.is_stated("regulator.pressure") else Origin.TRADE
    spread = math.hypot(sd, 0.01 * set_to)
    return Guess(
        set_to,
        spread,
        None,
        Limit(set_to - 1.6 * room - 8e3, why, TRADE),
        Limit(set_to + 1.6 * room + 8e3, why, TRADE),
        origin=origin,
        how="the regulator's set pressure; standing, the manifold is the outside air",
    )


def _idle_pressure(asked: Asked) -> tuple[float, float, Origin]:
    """Manifold pressure at warm idle [Pa absolute], its standard deviation, and what it rests on."""
    read = asked.recorded("idle_manifold_pressure")
    if read is not None:
        return read[0], math.hypot(read[1], 1.5e3), Origin.RECORDED
    return *idle_worked_out(asked), Origin.MODEL


def idle_worked_out(asked: Asked) -> tuple[float, float]:
    """Warm idle without a reading of this car: cycle, balance of work and the trade's vacuum, each weighed by
    its variance. They share what they do not know, so the spread is that of the cycle alone. [Pa absolute]
    """
    from boostwright.planning.readings import Ground
    from boostwright.planning.readings.engine_rules import idle_manifold_pressure

    below = asked.air.pressure - _SEA_LEVEL
    known = [(_SEA_LEVEL - _VACUUM[0] + _OF_AIR * below, _VACUUM[1])]
    balance = idle_manifold_pressure(Ground(asked.build, None, {}))
    if balance.middle is not None and balance.sd:
        moved = _OF_AIR * (asked.air.pressure - asked.build.barometer)
        known.append((balance.middle + moved, balance.sd))
    if math.isfinite(asked.condition.idle):
        known.append((asked.condition.idle, _CYCLE_SD))
    weights = [1.0 / sd**2 for _, sd in known]
    middle = sum(w * value for w, (value, _) in zip(weights, known, strict=True)) / sum(weights)
    return middle, _CYCLE_SD


def _rail_idling(asked: Asked) -> Guess:
    set_to, sd, origin, words = _regulator(asked)
    reference = fuel_side_of(asked.build).regulator.reference
    if reference is Reference.MANIFOLD:
        idle, idle_sd, _ = _idle_pressure(asked)
        middle, spread = set_to - (asked.air.pressure - idle), math.hypot(sd, idle_sd, 4.0e3)
        words += ", less the suction of the manifold that its hose leads to"
    else:
        middle, spread = set_to, math.hypot(sd, 0.01 * set_to)
        words += "; it does not follow the manifold"
    room = 0.08 * set_to + COVERAGE * spread
    why = "so far off, the regulator follows another pressure than the file says, or the pump falls short"
    return Guess(
        middle,
        spread,
        None,
        Limit(middle - room - 1e4, why, TRADE),
        Limit(middle + room + 1e4, why, TRADE),
        origin=origin,
        how=words,
    )


def _rail_less_manifold(asked: Asked) -> Guess:
    set_to, sd, origin, words = _regulator(asked)
    reference = fuel_side_of(asked.build).regulator.reference
    idle, idle_sd, _ = _idle_pressure(asked)
    middle = float(rail_difference(reference, set_to, idle, asked.air.pressure))
    follows = reference is Reference.MANIFOLD
    spread = math.hypot(sd, 0.0 if follows else idle_sd, 0.01 * set_to)
    words += "; the regulator holds it over the manifold" if follows else ", and the suction of idle on it"
    room = 0.05 * set_to + COVERAGE * spread
    its = "the regulator's hose or its spring" if follows else "the regulator's spring, or the pump"
    why = f"a twentieth beside the set pressure: {its}"
    return Guess(
        middle,
        spread,
        None,
        Limit(middle - room - 8e3, why, TRADE),
        Limit(middle + room + 8e3, why, TRADE),
        origin=origin,
        how=words,
    )


def shim_adds(asked: Asked) -> tuple[float, float]:
    """Oil pressure that the relief spring's shim adds where the valve is open, and its deviation [Pa]."""
    valve = relief_of(asked.build)
    return valve.per_length[0] * valve.shim, valve.per_length[1] * valve.shim


def _oil_cold(asked: Asked) -> Guess:
    most = asked.limit("oil_cold_peak", 0.0)
    read = asked.recorded("oil_pressure_cold") or asked.stated("engine.oil_pressure_cold")
    if read is None:
        return Guess(band=(3.0e5, min(6.0e5, most.value - 0.3e5)), stop_high=most, origin=Origin.TRADE)
    adds, adds_sd = shim_adds(asked)
    return Guess(
        read[0] + adds,
        math.hypot(read[1], adds_sd, 0.25e5),
        None,
        None,
        most,
        origin=Origin.RECORDED,
        how="cold oil pressure before the conversion" + (", and the shim's share" if adds > 0 else ""),
    )


def _oil_idle(asked: Asked) -> Guess:
    read = asked.recorded("oil_pressure_idle") or asked.stated("engine.oil_pressure_idle")
    least = asked.limit("oil_pressure_idle", -1.0)
    if read is None:
        return Guess(band=(1.0e5, 3.0e5), stop_low=least, origin=Origin.TRADE)
    takes, takes_sd = _TURBO_TAKES
    spread = math.hypot(read[1], takes_sd, 0.05 * read[0])
    fall = Limit(0.65 * read[0], "a third less than before is more than the turbo's feed can take", TRADE)
    return Guess(
        read[0] - takes,
        spread,
        None,
        nearer(fall, least, max),
        origin=Origin.RECORDED,
        how="hot idle before the conversion, less what the turbo's feed takes; the relief valve is"
        " shut, so a shim adds"
        " nothing",
    )


def _oil_at_speed(asked: Asked) -> Guess:
    read = asked.recorded("oil_pressure_3000") or asked.stated("engine.oil_pressure_3000")
    least = asked.limit("oil_pressure_3000", -1.0)
    if read is None:
        return Guess(band=(2.5e5, 6.5e5), stop_low=least, origin=Origin.TRADE)
    adds, adds_sd = shim_adds(asked)
    whole = read[0] + adds
    spread = math.hypot(read[1], adds_sd, 0.04 * whole, 0.05e5)
    middle = whole - _TURBO_TAKES_AT_SPEED
    known = math.hypot(spread, 8.0e3, 0.05 * middle)
    fall = Limit(
        min(0.75 * whole, middle - 2.5 * known),
        "a quarter less than before the conversion: hot, thin or foaming oil, or a leak",
        TRADE,
    )
    return Guess(
        middle,
        spread,
        stop_low=nearer(fall, least, max),
        origin=Origin.RECORDED,
        how="hot at 3000 rpm before the conversion" + (", and the shim's share" if adds > 0 else ""),
    )


def _coolant(asked: Asked) -> Guess:
    T, sd = thermostat(asked)
    return Guess(
        T + 1.0,
        math.hypot(sd, 2.0),
        origin=Origin.STATED,
        how="the thermostat's temperature, and the fan's span",
    )


def thermostat(asked: Asked) -> tuple[float, float]:
    """Coolant of the warm engine and its deviation [K]: as it was read in the warm-up, else as stated."""
    read = asked.recorded("coolant_plateau")
    if read is not None:
        return read
    value = asked.build["engine.coolant_temperature"]
    return float(value.value), float(value.sd or 0.0)


def _idle_manifold(asked: Asked) -> Guess:
    middle, sd, origin = _idle_pressure(asked)
    why = "so much more air at idle is a leak behind the throttle, late spark or a stiff engine"
    stop = Limit(middle + max(12.0e3, COVERAGE * sd + 4.0e3), why, TRADE)
    words = "idle before the conversion"
    if origin is not Origin.RECORDED:
        words = "the cycle that just carries itself, a balance of work, and the trade's usual vacuum"
    return Guess(middle, sd, None, None, stop, origin=origin, how=words)


def _cranking_voltage(asked: Asked) -> Guess:
    read = asked.recorded("cranking_voltage")
    if read is None:
        return Guess(band=(9.8, 12.0), origin=Origin.TRADE)
    return Guess(
        max(read[0], 9.95),
        math.hypot(read[1], 0.1),
        origin=Origin.RECORDED,
        how="cranking before the conversion",
    )


def _timing(_: Asked) -> Guess:
    degree = math.pi / 180.0
    return Guess(0.0, 0.35 * degree, origin=Origin.TRADE, how="light and command agree to a degree")


def _blip(asked: Asked) -> Guess:
    pressure = asked.air.pressure
    why = "boost without load: the gate is shut or the sensor wrong"
    return Guess(
        band=(0.25 * pressure, pressure + _UNLOADED),
        stop_high=Limit(pressure + 15.0e3, why, TRADE),
        origin=Origin.TRADE,
        how="the outside air; without load the turbine makes next to nothing",
    )


def _oil_temperature(asked: Asked) -> Guess:
    most = asked.limit("oil_temperature", -2.0)
    read = asked.recorded("oil_temperature") or asked.stated("oil.temperature")
    top = 383.15 if read is None else max(read[0] + 5.0, 363.15)
    return Guess(band=(348.15, min(top, most.value - 3.0)), stop_high=most, origin=Origin.TRADE)


AT_REST_RULES: Final[dict[str, Rule]] = {
    "outside_air": _outside_air,
    "air_of_the_day": _air_of_the_day,
    "as_the_air": _as_the_air,
    "rail_standing": _rail_standing,
    "rail_idling": _rail_idling,
    "rail_less_manifold": _rail_less_manifold,
    "oil_cold": _oil_cold,
    "oil_idle": _oil_idle,
    "oil_at_speed": _oil_at_speed,
    "coolant": _coolant,
    "idle_manifold": _idle_manifold,
    "cranking_as_before": _cranking_voltage,
    "timing": _timing,
    "blip": _blip,
    "oil_after_driving": _oil_temperature,
}

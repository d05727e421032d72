"""What a reading should show on this very build, by the name of its rule.

A rule answers None where neither the build nor a model says anything; then the limits that the catalogue of
measurements prints hold alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from boostwright.library.measurements import Measurement
from boostwright.planning.readings import electric_rules as electric
from boostwright.planning.readings import engine_rules as engine
from boostwright.planning.readings import fuel_rules as fuel
from boostwright.planning.readings import part_rules as parts
from boostwright.planning.readings.ground import Expected, Ground

__all__ = ["RULES", "expected_of"]

Rule = Callable[[Ground], Expected | None]

RULES: Final[Mapping[str, Rule]] = {
    "air_cold": engine.air_cold,
    "coolant_cold": engine.coolant_cold,
    "idle_speed": engine.idle_speed,
    "idle_manifold_pressure": engine.idle_manifold_pressure,
    "fan_on_temperature": engine.fan_on_temperature,
    "compression": engine.compression,
    "compression_wet": engine.compression_wet,
    "leak_down": engine.leak_down,
    "coolant_drop": engine.coolant_drop,
    "crankcase_pressure": engine.crankcase_pressure,
    "oil_temperature": engine.oil_temperature,
    "oil_pressure_cold": engine.oil_pressure_cold,
    "oil_pressure_idle": engine.oil_pressure_idle,
    "oil_pressure_3000": engine.oil_pressure_3000,
    "full_load_manifold": engine.full_load_manifold,
    "full_load_air": engine.full_load_air,
    "full_load_torque": engine.full_load_torque,
    "full_load_lambda": fuel.full_load_lambda,
    "timing_idle": electric.timing_idle,
    "timing_3000": electric.timing_3000,
    "cranking_voltage": electric.cranking_voltage,
    "pump_voltage": electric.pump_voltage,
    "pump_current": electric.pump_current,
    "injector_resistance": electric.injector_resistance,
    "gate_crack": parts.gate_crack,
    "gate_travel": parts.gate_travel,
    "plug_gap": parts.plug_gap,
    "injector_flow": parts.injector_flow,
    "timed_fuel_flow": parts.timed_fuel_flow,
    "charge_leak_from": parts.charge_leak_from,
    "caps_out": parts.caps_out,
    "strip_temperatures": parts.strip_temperatures,
    "rail_pressure_static": fuel.rail_static,
    "rail_pressure_idle": fuel.rail_idle,
    "rail_pressure_hose_off": fuel.rail_hose_off,
    "rail_pressure_dip": fuel.rail_dip,
}
"""Every rule by the name that stands under `expected` in the catalogue of measurements."""


def expected_of(one: Measurement, ground: Ground) -> Expected | None:
    """The range expected of a measurement; None where nothing says what to expect.

    The band of its rule with the scatter of one reading, cut by the catalogue's own limits; those alone where
    the rule cannot say.
    """
    if one.dimension is None:
        return None
    rule = RULES.get(one.expected)
    found = rule(ground) if rule is not None else None
    if found is None:
        if one.low is None and one.high is None:
            return None
        return Expected(one.low, one.high, None, None, one.limit_why, one.limit_source)
    least = max((v for v in (found.low, one.low) if v is not None), default=None)
    most = min((v for v in (found.high, one.high) if v is not None), default=None)
    repeat = 0.0 if one.repeat is None or found.middle is None else one.repeat.at(found.middle)
    found = replace(found, low=least, high=most).scattered(repeat)
    low, high = found.low, found.high
    if one.possible is not None:  # no range reaches beyond what can be true
        low = None if low is None else max(low, one.possible[0])
        high = None if high is None else min(high, one.possible[1])
    if low is not None and high is not None and not low <= high:
        return None
    if any(v is not None and not math.isfinite(v) for v in (low, high)):
        return None
    return replace(found, low=low, high=high)

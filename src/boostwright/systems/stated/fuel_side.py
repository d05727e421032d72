"""Injectors, pump, regulator, lines and fuel that a build states, and what of them is uncertain."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, Final

import numpy as np

from boostwright.build.document import Build
from boostwright.physics.fuel_line import Reference
from boostwright.physics.injection import HEPTANE_DENSITY
from boostwright.physics.pump import STALL_PRESSURE, VOLTAGE_EXPONENT, PumpCurve, curve_through, pump_flow
from boostwright.systems.fuel_side import FuelParts, Injectors, Lines, Regulator
from boostwright.systems.stated.electrics import PumpFeed, PumpLoad, pump_feed_of, pump_wiring_stated

__all__ = [
    "SEAT_COEFFICIENT",
    "STALL",
    "VOLTS_POWER",
    "fuel_side_of",
    "pump_supply_of",
    "uncertain_of",
    "wired_pump_of",
]

SEAT_COEFFICIENT: Final = 0.6  # discharge of a regulator's open seat [-] (judgement)
FILTER_FLOW: Final = 100.0e-3 / 3600.0  # at which the filter's loss is stated [m3/s]
STALL, VOLTS_POWER = "pump's fall by pressure", "pump's fall by voltage"
"""Names, beside the paths of the build file, of what no sheet states and the pump model assumes."""

_SPREADS: Final = {STALL: 4.0e5, VOLTS_POWER: 0.5}  # of both [Pa], [-] (judgement)
_QUANTITIES: Final = (
    "injectors.flow",
    "injectors.dead_time",
    "injectors.dead_time_slope",
    "pump.flow",
    "pump.voltage",
    "regulator.pressure",
    "regulator.droop",
    "regulator.line_bore",
    "regulator.line_length",
    "regulator.return_bore",
    "regulator.seat_bore",
    "regulator.filter_loss",
    "fuel.density",
)


def fuel_side_of(build: Build, instead: Mapping[str, Any] | None = None) -> FuelParts:
    """The fuel side.

    instead: other SI values in place of some fields or of the two model names; arrays (n,) for so many sets
    side by side.
    """
    other = instead or {}

    def number(path: str) -> Any:
        return other[path] if path in other else build.number(path)

    pump = _pump(build, number, other)
    supply = None if "pump.voltage" in other else pump_supply_of(build)
    rail, density = number("regulator.pressure"), number("fuel.density")
    return FuelParts(
        injectors=Injectors(
            count=build.count("injectors.count"),
            flow=number("injectors.flow"),
            rated_difference=build.number("injectors.flow_pressure"),
            test_density=HEPTANE_DENSITY if build.words("injectors.test_fluid") == "heptane" else density,
            dead_time=number("injectors.dead_time"),
            dead_time_slope=number("injectors.dead_time_slope"),
            dead_time_difference=build.number("regulator.pressure"),
        ),
        pump=pump,
        pump_voltage=number("pump.voltage") if supply is None else supply.voltage,
        regulator=Regulator(
            reference=Reference(build.words("regulator.reference")),
            pressure=rail,
            droop=np.maximum(number("regulator.droop"), 0.0),
            seat_area=SEAT_COEFFICIENT * 0.25 * math.pi * number("regulator.seat_bore") ** 2,
        ),
        lines=Lines(
            feed_bore=number("regulator.line_bore"),
            feed_length=number("regulator.line_length"),
            return_bore=number("regulator.return_bore"),
            return_length=number("regulator.line_length"),
            filter_loss=number("regulator.filter_loss"),
            filter_flow=FILTER_FLOW,
        ),
        density=density,
        ethanol_share=build.number("fuel.ethanol"),
    )


def _pump(build: Build, number: Callable[[str], Any], other: Mapping[str, Any]) -> PumpCurve:
    relief = build.get("pump.shut_off_pressure")
    stall = np.maximum(other.get(STALL, STALL_PRESSURE), 1.2 * build.number("pump.flow_pressure"))
    return curve_through(
        number("pump.flow"),
        build.number("pump.flow_pressure"),
        build.number("pump.flow_voltage"),
        stall_pressure=stall,
        relief_pressure=math.inf if relief is None else float(relief.value),
        voltage_exponent=other.get(VOLTS_POWER, VOLTAGE_EXPONENT),
    )


def pump_supply_of(build: Build) -> PumpFeed | None:
    """The pump's supply from its stated wiring, at rail pressure and the boost asked for; None where a
    reading of the voltage at its terminals is stated, which goes before, or where no wiring is.
    """
    if build.is_stated("pump.voltage"):
        return None
    return wired_pump_of(build)


def wired_pump_of(build: Build, section: float | None = None) -> PumpFeed | None:
    """The same, whether or not a reading is stated; None where no wiring is.

    section: of a wire in place of the stated one [m2].
    """
    if not pump_wiring_stated(build):
        return None
    pressure = build.number("regulator.pressure")
    if build.words("regulator.reference") == Reference.MANIFOLD.value:
        pressure += build.number("goal.boost")
    volts = build.number("pump.flow_voltage")
    flow = float(pump_flow(_pump(build, build.number, {}), pressure, volts))
    return pump_feed_of(build, PumpLoad(flow, pressure, volts), section)


def uncertain_of(build: Build) -> tuple[tuple[str, float, float], ...]:
    """What the fuel side rests on: name, value and standard deviation [SI], those without spread left out."""
    found: list[tuple[str, float, float]] = []
    supply = pump_supply_of(build)
    for path in _QUANTITIES:
        if path == "pump.voltage" and supply is not None:
            found.append((path, supply.voltage, supply.voltage_sd))
            continue
        stated = build.get(path)
        if stated is not None and stated.sd:
            found.append((path, float(stated.value), float(stated.sd)))
    middle = {STALL: STALL_PRESSURE, VOLTS_POWER: VOLTAGE_EXPONENT}
    found += [(name, middle[name], sd) for name, sd in _SPREADS.items()]
    return tuple(found)

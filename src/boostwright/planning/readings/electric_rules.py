"""Expected ranges of spark, battery, pump supply and coils."""

from __future__ import annotations

import math

from boostwright.library.electrics import electric_constant
from boostwright.library.expected import expected_constant
from boostwright.planning.readings.engine_rules import limit_of
from boostwright.planning.readings.ground import Expected, Ground
from boostwright.systems.stated.electrics import cranking_of
from boostwright.systems.stated.fuel_side import wired_pump_of

__all__ = [
    "cranking_voltage",
    "injector_resistance",
    "pump_current",
    "pump_voltage",
    "timing_3000",
    "timing_idle",
]


def timing_idle(ground: Ground) -> Expected | None:
    """What this engine's manual asks for; None where the file does not say."""
    manual = ground.build.get("ignition.base_timing_manual")
    if manual is None:
        return None
    allowed = expected_constant("timing")
    return Expected.band(
        float(manual.value),
        math.hypot(float(manual.sd or 0.0), allowed.sd),
        "What this engine's own manual asks for.",
        f"the build file, line {manual.line}; {allowed.source}",
        ("ignition.base_timing_manual",),
    )


def timing_3000(ground: Ground) -> Expected | None:
    """The same as at idle, read or of the manual, with the trigger's drift."""
    read = ground.others.get("timing_idle")
    manual = timing_idle(ground)
    if read is None and manual is None:
        return None
    middle = read if read is not None else (manual.middle if manual is not None else None)
    if middle is None:
        return None
    drift = ground.build.number("ignition.trigger_drift")
    hand = expected_constant("timing").sd / 2.0
    why = "Locked timing stays where it was at idle." if read is not None else "Locked timing stays at base."
    return Expected.band(
        middle, math.hypot(drift, hand), why, "ignition.trigger_drift", ("ignition.trigger_drift",)
    )


def cranking_voltage(ground: Ground) -> Expected:
    """V = V_open - R_battery I, I the warm cranking current of an engine of this size at its lowest point."""
    open_, inner = electric_constant("battery", "open_voltage"), electric_constant("battery", "resistance")
    share, least = expected_constant("crank_share"), expected_constant("lowest_cranking")
    current, current_sd, _ = cranking_of(ground.build)
    drop = inner.value * share.value * current
    sd = math.hypot(
        open_.sd, inner.sd * share.value * current, inner.value * share.sd * current,
        inner.value * share.value * current_sd
    )  # fmt: skip
    return Expected.band(
        open_.value - drop,
        sd,
        "A charged battery less what the starter of an engine of this size draws through it.",
        f"{share.source}; least: {least.source}",
        ("battery.cranking_current", "engine.bore", "engine.stroke", "engine.cylinders"),
        at_least=least.value,
    )


def pump_voltage(ground: Ground) -> Expected:
    """By its stated wiring, else stated or usual."""
    feed = wired_pump_of(ground.build)
    if feed is not None:
        return Expected.band(
            feed.voltage,
            feed.voltage_sd,
            "Battery voltage less the drop in the stated wiring at the pump's current.",
            "computed from the stated wiring",
            ("pump.cable_area", "pump.cable_length", "pump.relay", "pump.earth"),
        )
    value = ground.build["pump.voltage"]
    where = f"the build file, line {value.line}" if value.line else f"class default: {value.note}"
    return Expected.band(
        float(value.value), float(value.sd or 0.0), "Stated, else usual.", where, ("pump.voltage",)
    )


def pump_current(ground: Ground) -> Expected:
    """As stated; else by the stated flow, power over efficiency and voltage; else usual."""
    build = ground.build
    stated = build.get("pump.current")
    if stated is not None:
        return Expected.band(
            float(stated.value), float(stated.sd or 0.0), "The file states it.",
            f"the build file, line {stated.line}", ("pump.current",)
        )  # fmt: skip
    flow, eta = build.get("pump.flow"), electric_constant("pump", "efficiency")
    if flow is None:
        usual = expected_constant("pump_current")
        return Expected.band(usual.value, usual.sd, "Usual.", usual.source)
    pressure, volts = build.number("regulator.pressure"), build.number("pump.flow_voltage")
    amps = float(flow.value) * pressure / (eta.value * volts)
    return Expected.band(
        amps,
        amps * math.hypot(eta.sd / eta.value, float(flow.sd or 0.0) / float(flow.value)),
        "Power in the fuel over the pump's efficiency and voltage.",
        eta.source,
        ("pump.flow", "regulator.pressure", "pump.flow_voltage"),
    )


def injector_resistance(ground: Ground) -> Expected | None:
    """As stated, and never so low that a plain output carries too much; None where neither is known."""
    build = ground.build
    stated = build.get("injectors.resistance")
    least = None
    if (
        build.get("controller.injector_driver") is None
        or build.words("controller.injector_driver") != "limited"
    ):
        own = build.get("controller.driver_current")
        most = limit_of(build, "plain_driver").amount.value if own is None else float(own.value)
        supply = electric_constant("battery", "running_voltage").value
        least = build.count("controller.injectors_per_output") * supply / most
    why = "As stated; below, a plain output of the controller carries too much."
    about = ("injectors.resistance", "controller.injector_driver", "controller.driver_current")
    if stated is None:
        return None if least is None else Expected(least, None, None, None, why, "limit plain_driver", about)
    value, sd = float(stated.value), max(float(stated.sd or 0.0), 0.03 * float(stated.value))
    return Expected.band(value, sd, why, f"the build file, line {stated.line}", about, at_least=least)

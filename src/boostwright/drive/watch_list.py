"""The detectors of sensors, clock, mixture, fuel, spark, knock, temperatures, oil and voltage."""

from __future__ import annotations

from boostwright.drive import watch_clock, watch_fluids, watch_heat, watch_knock, watch_mixture, watch_sensors
from boostwright.drive.scene import Watch

__all__ = ["WATCHED"]

WATCHED: tuple[Watch, ...] = (
    Watch(("clock-gap", "clock-repeats", "clock-jump-back"), watch_clock.clock_faults),
    Watch(("sensor-frozen", "channel-slow", "sensor-at-its-end", "sensor-spikes"), watch_sensors.sensors),
    Watch(
        ("oil-pressure-low", "oil-pressure-dip"),
        watch_fluids.oil_pressure,
        (("oil_pressure",),),
        better=(("oil_temperature", "if a low pressure is thin oil or only hot oil"),),
    ),
    Watch(
        ("fuel-pressure-low",),
        watch_fluids.fuel_pressure,
        (("fuel_pressure", "fuel_pressure_difference"), ("manifold_pressure",)),
        5.0,
    ),
    Watch(("rail-not-following",), watch_fluids.rail_follows, (("fuel_pressure",), ("manifold_pressure",))),
    Watch(("pulse-at-its-end",), watch_fluids.pulse_at_its_end, (("injector_duty", "injector_pulse"),), 5.0),
    Watch(
        ("intake-soak", "cooler-weak"),
        watch_heat.intake_air,
        (("intake_temperature",), ("manifold_pressure",)),
        0.3,
    ),
    Watch(("coolant-rising",), watch_heat.coolant, (("coolant_temperature",),)),
    Watch(
        ("lean", "rich", "lean-explained"),
        watch_mixture.mixture,
        (("lambda",), ("manifold_pressure",)),
        5.0,
        (
            (
                "lambda_target",
                "if the mixture is the one that was asked for: it is judged by the drive's own habit",
            ),
            ("fuel_pressure", "if a lean moment was for want of fuel pressure"),
            ("spark_advance", "if a lean moment was a torque cut"),
        ),
    ),
    Watch(
        ("lambda-at-its-rich-end", "lambda-at-its-lean-end"),
        watch_mixture.lambda_ends,
        (("lambda",), ("manifold_pressure",)),
        5.0,
    ),
    Watch(("lambda-not-ready",), watch_mixture.lambda_ready, (("lambda",),)),
    Watch(
        ("knock-sustained", "knock-transient"),
        watch_knock.knock,
        (("knock_retard", "knock_count", "knock_level"),),
        2.0,
        (("knock_retard", "in which cylinder it knocked, and how much spark that took"),),
    ),
    Watch(("spark-late",), watch_knock.late_spark, (("spark_advance",), ("spark_table",)), 5.0),
    Watch(("voltage-low",), watch_fluids.voltage, (("battery_voltage",),)),
)

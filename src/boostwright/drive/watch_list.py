"""The detectors of sensors, clock, mixture, fuel, spark, knock, temperatures, oil and voltage."""

from __future__ import annotations

from boostwright.drive import watch_clock, watch_sensors
from boostwright.drive.scene import Watch

__all__ = ["WATCHED"]

WATCHED: tuple[Watch, ...] = (
    Watch(("clock-gap", "clock-repeats", "clock-jump-back"), watch_clock.clock_faults),
    Watch(("sensor-frozen", "channel-slow", "sensor-at-its-end"), watch_sensors.still),
    Watch(("sensor-spikes",), watch_sensors.spikes),
)

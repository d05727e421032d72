"""Recorded drives: text tables of any habit and ASAM MDF4, to channels in SI upon their clocks."""

from boostwright.readers.drive_log.recording import Channel, Clock, Recording

__all__ = ["Channel", "Clock", "Recording"]

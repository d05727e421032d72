"""Recorded drives: text tables of any habit and ASAM MDF4, to channels in SI upon their clocks."""

from boostwright.readers.drive_log.mapping import Candidate, ColumnMapping, Mapping, Question
from boostwright.readers.drive_log.opening import OpenLog, open_log
from boostwright.readers.drive_log.recording import Channel, Clock, Recording

__all__ = [
    "Candidate",
    "Channel",
    "Clock",
    "ColumnMapping",
    "Mapping",
    "OpenLog",
    "Question",
    "Recording",
    "open_log",
]

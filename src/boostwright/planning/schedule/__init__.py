"""When each task is done, by whom, and how likely it is finished by a moment."""

from boostwright.planning.schedule.hours import repeated
from boostwright.planning.schedule.insight import (
    Driver,
    Textbook,
    criticality,
    drivers,
    probability_by,
    textbook,
    time_for,
)
from boostwright.planning.schedule.model import GRID, Obstacle, planned_seconds
from boostwright.planning.schedule.plan import schedule
from boostwright.planning.schedule.sampling import HOME, Delay, Draws, Pace, Samples, finish_times, sampled

__all__ = [
    "GRID",
    "HOME",
    "Delay",
    "Draws",
    "Driver",
    "Obstacle",
    "Pace",
    "Samples",
    "Textbook",
    "criticality",
    "drivers",
    "finish_times",
    "planned_seconds",
    "probability_by",
    "repeated",
    "sampled",
    "schedule",
    "textbook",
    "time_for",
]

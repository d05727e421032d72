"""When each task is done, by whom, and how likely it is finished by a moment."""

from boostwright.planning.schedule.hours import repeated
from boostwright.planning.schedule.model import GRID, Obstacle, planned_seconds
from boostwright.planning.schedule.plan import schedule
from boostwright.planning.schedule.sampling import HOME, Delay, Pace, Samples, finish_times, sampled

__all__ = [
    "GRID",
    "HOME",
    "Delay",
    "Obstacle",
    "Pace",
    "Samples",
    "finish_times",
    "planned_seconds",
    "repeated",
    "sampled",
    "schedule",
]

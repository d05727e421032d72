"""Readings of this build: what each should show, how what was read stands to it, how it feeds it."""

from boostwright.planning.readings.compared import Comparison, two_sample
from boostwright.planning.readings.expected import expected_of
from boostwright.planning.readings.ground import Expected, Ground
from boostwright.planning.readings.into_build import with_readings, without_readings
from boostwright.planning.readings.judged import JudgedReading, judge_values, judged_readings
from boostwright.planning.readings.written import Written, measurement_named, read_written

__all__ = [
    "Comparison",
    "Expected",
    "Ground",
    "JudgedReading",
    "Written",
    "expected_of",
    "judge_values",
    "judged_readings",
    "measurement_named",
    "read_written",
    "two_sample",
    "with_readings",
    "without_readings",
]

"""Each reading against what was expected of it, and against the same one before the conversion."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from statistics import fmean
from typing import TYPE_CHECKING, Final

from boostwright.build.document import Build
from boostwright.build.recorded import Standing
from boostwright.job.records import Reading, Record, standing
from boostwright.library.measurements import Measurement, measurements
from boostwright.planning.moments import stated_zone
from boostwright.planning.readings.compared import Comparer, Comparison
from boostwright.planning.readings.expected import expected_of
from boostwright.planning.readings.ground import Expected, Ground
from boostwright.quantity import Dimension

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult

__all__ = ["JudgedReading", "judge_values", "judged_readings", "latest_values", "side_of", "unevenness"]

_FAR: Final = (
    4.0  # standard deviations beyond the end of a range from which a slip of unit or pen is likelier
)
_FAR_SHARE: Final = 0.5  # and this share of the end itself (judgement)
_FACTOR: Final = 2.5  # off the end of the range, whatever its spread (judgement)
_UNDOES: Final = 2
"""Good answers on a later day that undo a bad one of a fault that hides (judgement)."""
_NO_TRUE_ZERO: Final = frozenset({Dimension.TEMPERATURE, Dimension.SPARK, Dimension.ANGLE})


@dataclass(frozen=True, slots=True)
class JudgedReading:
    """One reading with its verdict.

    state: of the worst value, that at `place` (from 0) with `value` [SI]. repeated: how many readings of the
    same measurement and side, this one among them, stand outside on the same side of the range; from 2 on it
    is a hold, not a slip. beyond: how far outside, in standard deviations of the range; None where only a
    limit is known. comparison: of the newest of its measurement, against the readings before the conversion.
    against: an earlier reading that found what hides, and that this good answer does not undo; it stands
    outside for that.
    """

    reading: Reading
    measurement: Measurement
    side: str
    state: Standing
    expected: Expected | None
    place: int = 0
    value: float | None = None
    beyond: float | None = None
    repeated: int = 0
    comparison: Comparison | None = None
    against: Reading | None = None

    @property
    def holds_work(self) -> bool:
        """Whether work stops here: outside, and a second reading says the same; a wrong answer; or harm that
        does not wait for a second reading."""
        outside = self.state in (Standing.OUTSIDE, Standing.FAR)
        return outside and (self.repeated >= 2 or self.measurement.dimension is None or bool(self.at_once))

    @property
    def at_once(self) -> str:
        """What to do before anything else, where it stands outside on the side that harms; '' elsewhere."""
        one = self.measurement
        if not one.at_once or self.state not in (Standing.OUTSIDE, Standing.FAR):
            return ""
        if one.at_once_side and _way(self)[3] != one.at_once_side:
            return ""
        return one.at_once


def side_of(reading: Reading, one: Measurement) -> str:
    """On which side of the conversion a reading stands: as it says, else the first that is possible."""
    return reading.when or one.sides[0]


def judge_values(
    one: Measurement, values: Sequence[float], expected: Expected | None
) -> tuple[Standing, int, float | None]:
    """State of the worst value, its place and how far beyond the range it is [sd of the range]."""
    if expected is None or not values:
        return Standing.OPEN, 0, None
    low = -math.inf if expected.low is None else expected.low
    high = math.inf if expected.high is None else expected.high
    out = [max(low - value, value - high) for value in values]
    worst = max(out)
    place = out.index(worst)
    sd = expected.sd
    if worst <= 1e-12 * max(1.0, abs(values[place])):
        uneven = unevenness(values, expected)
        if uneven is not None and expected.even is not None and uneven < expected.even:
            return Standing.OUTSIDE, values.index(min(values)), 0.0
        return Standing.INSIDE, place, 0.0
    beyond = None if not sd else worst / sd
    under = values[place] < low
    end, value = (low if under else high), values[place]
    far = (
        sd is not None
        and 0.0 < _FAR * sd < worst
        and (one.dimension in _NO_TRUE_ZERO or worst > _FAR_SHARE * abs(end))
    )
    if one.dimension not in _NO_TRUE_ZERO and end > 0.0:  # a factor, as a slipped point or unit makes it
        far = far or (value * _FACTOR <= end if under else value >= _FACTOR * end)
    return (Standing.FAR if far else Standing.OUTSIDE), place, beyond


def unevenness(values: Sequence[float], expected: Expected) -> float | None:
    """The lowest place as a share of the highest [-]; None where evenness is not asked for."""
    if expected.even is None or len(values) < 2:
        return None
    highest = max(values) + expected.even_from
    return (min(values) + expected.even_from) / highest if highest > 0.0 else None


def latest_values(records: Sequence[Record], side: str) -> dict[str, float]:
    """Mean over all places of the newest standing reading of each measurement on one side [SI]."""
    found: dict[str, float] = {}
    for reading in in_time(records):
        one = measurements().get(reading.measurement)
        if one is not None and reading.values and side_of(reading, one) == side:
            found[reading.measurement] = fmean(reading.values)
    return found


def in_time(records: Sequence[Record]) -> tuple[Reading, ...]:
    """The standing readings, oldest first; those of one moment in order of arrival."""
    kept = [record for record in standing(records) if isinstance(record, Reading)]
    return tuple(sorted(kept, key=lambda reading: reading.time))


def judged_readings(
    build: Build, result: CheckResult | None, records: Sequence[Record]
) -> tuple[JudgedReading, ...]:
    """Every standing reading against its range, oldest first.

    build: with or without the readings in it: what is expected rests on the file alone. result: of `check`,
    for what only the engine model knows; None leaves those to the catalogue's limits.
    """
    from boostwright.planning.readings.into_build import without_readings

    bare = without_readings(build)
    readings = in_time(records)
    grounds: dict[str, Ground] = {}
    ranges: dict[tuple[str, str], Expected | None] = {}
    comparer = Comparer(readings)
    last = {(reading.measurement, reading.step): reading.id for reading in readings}
    found: list[JudgedReading] = []
    for reading in readings:
        one = measurements().get(reading.measurement)
        if one is None:
            continue
        side = side_of(reading, one)
        if side not in grounds:
            grounds[side] = Ground(bare, result, latest_values(records, side))
        if (one.key, side) not in ranges:
            ranges[one.key, side] = expected_of(one, grounds[side])
        shown = last[reading.measurement, reading.step] == reading.id
        comparison = comparer.next(one, side, reading, shown)
        found.append(_judged(one, reading, side, ranges[one.key, side], comparison))
    return _undone(_counted(found), stated_zone(build) or UTC)


def _judged(
    one: Measurement, reading: Reading, side: str, expected: Expected | None, comparison: Comparison | None
) -> JudgedReading:
    if one.dimension is None:
        bad = bool(one.good) and reading.answer not in one.good
        state = Standing.OPEN if not one.good else Standing.OUTSIDE if bad else Standing.INSIDE
        return JudgedReading(reading, one, side, state, None)
    state, place, beyond = judge_values(one, reading.values, expected)
    value = reading.values[place] if reading.values else None
    return JudgedReading(reading, one, side, state, expected, place, value, beyond, 0, comparison)


def _way(judged: JudgedReading) -> tuple[str, str, str, str]:
    """What has to agree for two readings to say the same."""
    way = ""
    if judged.expected is not None and judged.value is not None:
        low = judged.expected.low
        way = "low" if low is not None and judged.value < low else "high"
    return judged.measurement.key, judged.side, judged.reading.step, way


def _counted(found: list[JudgedReading]) -> tuple[JudgedReading, ...]:
    """The same with the count of readings that say the same, up to the newest one inside its range."""
    runs: dict[tuple[str, str, str], list[int]] = {}
    done = list(found)
    for i, one in enumerate(found):
        key = (one.measurement.key, one.side, one.reading.step)
        if one.state in (Standing.OUTSIDE, Standing.FAR):
            run = runs.setdefault(key, [])
            if run and _way(found[run[-1]]) != _way(one):
                run.clear()
            run.append(i)
            for j in run:
                done[j] = replace(done[j], repeated=len(run))
        else:
            runs.pop(key, None)
    return tuple(done)


def _undone(found: Sequence[JudgedReading], zone: tzinfo) -> tuple[JudgedReading, ...]:
    """The same, where a good answer after a bad one of a fault that hides stands outside.

    A second one of a day after the bad one's undoes it, on whichever side of the conversion.
    """
    bad: dict[str, Reading] = {}
    good: dict[str, int] = {}
    done = list(found)
    for i, one in enumerate(found):
        key = one.measurement.key
        if not one.measurement.hides:
            continue
        if one.state is Standing.OUTSIDE:
            bad[key], good[key] = one.reading, 0
        elif key in bad:
            good[key] += _day_of(one.reading, zone) > _day_of(bad[key], zone)
            if good[key] >= _UNDOES:
                del bad[key]
            else:
                done[i] = replace(one, state=Standing.OUTSIDE, against=bad[key])
    return tuple(done)


def _day_of(reading: Reading, zone: tzinfo) -> date:
    try:
        moment = datetime.fromisoformat(reading.time)
    except ValueError:
        return date.min
    return (moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)).astimezone(zone).date()

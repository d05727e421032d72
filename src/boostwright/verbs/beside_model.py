"""A reviewed drive beside the model: what it expected at the condition of each pull, and what is learned."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.verbs.judging import Progress

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.drive.expected import Expectation
    from boostwright.drive.learned import Learned
    from boostwright.drive.next_step import NextStep
    from boostwright.drive.reviewed import BesideModel
    from boostwright.drive.rows import Rows
    from boostwright.drive.whole import DriveReview
    from boostwright.planning.ladder import Air, Condition

__all__ = ["beside_model"]

_PRESSURE_STEP = (
    500.0  # to which a day's air is rounded for the match, so that drives of one day share it [Pa]
)
_TEMPERATURE_STEP = 2.0  # [K]


def beside_model(
    build: Build,
    rows: Rows,
    review: DriveReview,
    *,
    file: str | Path | None,
    match: bool,
    progress: Progress,
) -> BesideModel:
    """The pulls of a drive beside the model, and what they teach.

    rows: of the part of the drive that holds them. file: the build's, for the ladder that it has climbed.
    match: also run the match in the air of that day, which
    boost and exhaust pressure are held against; some seconds, kept for the next time. What cannot be done is
    said in `apart`, and raises nothing.
    """
    from boostwright.drive.expected import condition_for, expect
    from boostwright.drive.learning import learn
    from boostwright.drive.reviewed import BesideModel
    from boostwright.errors import BoostwrightError

    apart: list[str] = []
    inside = (int(rows.row.min()), int(rows.row.max()))
    pulls = [p.stretch for p in review.pulls if inside[0] <= p.stretch.first_row <= inside[1]]
    if not pulls:
        return BesideModel(None, None, None, ("The drive holds no pull to be set beside the model.",))
    if len(pulls) < len(review.pulls):
        apart.append(f"{len(pulls)} of {len(review.pulls)} pulls are set beside the model.")
    steady = [s for s in review.stretches if s.kind == "steady" and inside[0] <= s.first_row <= inside[1]]
    conditions = None
    if match:
        try:
            conditions = _conditions(build, rows, progress)
        except BoostwrightError as mishap:
            apart.append(f"The match at this day's air could not be run: {mishap}")
    progress("setting the pulls beside the model")
    try:
        expectation = expect(build, rows, pulls, conditions, steady)
    except BoostwrightError as mishap:
        return BesideModel(None, None, None, (*apart, str(mishap)))
    progress("learning from the drive")
    learned = None
    try:
        condition = condition_for(rows, pulls, conditions)
        learned = learn(build, expectation, review.faults, condition, review.file)
    except BoostwrightError as mishap:
        apart.append(str(mishap))
    step = None
    if file is not None and conditions is not None:
        try:
            step = _step(file, rows, review, expectation, learned, conditions, _air(build, rows))
        except BoostwrightError as mishap:
            apart.append(f"The ladder could not be asked: {mishap}")
    return BesideModel(expectation, learned, step, tuple(apart))


def _step(
    file: str | Path,
    rows: Rows,
    review: DriveReview,
    expectation: Expectation,
    learned: Learned | None,
    conditions: tuple[Condition, Condition | None],
    day: Air,
) -> NextStep:
    """What the drive says of the step that comes next, in its own air."""
    from boostwright.drive.next_step import next_step
    from boostwright.verbs.ladder import ladder_on

    notices = (*review.notices, *expectation.notices)
    ladder = ladder_on(file, day, conditions)
    return next_step(
        ladder, rows, expectation.powers, expectation.outside, notices, learned, file=review.file
    )


def _conditions(build: Build, rows: Rows, progress: Progress) -> tuple[Condition, Condition | None]:
    """The match in the air of the drive, kept with the pulls of the ladder."""
    from boostwright.verbs.kept_pulls import pulls_of

    return pulls_of(build, _air(build, rows), progress)


def _air(build: Build, rows: Rows) -> Air:
    from boostwright.drive.outside import outside_of
    from boostwright.planning.ladder import Air

    outside = outside_of(rows, build)
    return Air(
        round(outside.pressure / _PRESSURE_STEP) * _PRESSURE_STEP,
        273.15 + round((outside.temperature - 273.15) / _TEMPERATURE_STEP) * _TEMPERATURE_STEP,
        "in the air of the drive",
        outside.pressure_sd,
        outside.temperature_sd,
    )

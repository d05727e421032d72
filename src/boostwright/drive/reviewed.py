"""A reviewed drive as a whole: how its log was read, what was noticed, and how it stands to the model."""

from __future__ import annotations

from dataclasses import dataclass

from boostwright.drive.expected import Expectation
from boostwright.drive.learned import Learned
from boostwright.drive.next_step import NextStep
from boostwright.drive.records import Notice
from boostwright.drive.whole import DriveReview
from boostwright.readers.drive_log import Mapping, Question

__all__ = ["BesideModel", "ReviewedDrive"]


@dataclass(frozen=True, slots=True)
class BesideModel:
    """A drive beside the model. step: what it says of the step that the ladder is at, None where no build
    file was named. apart: why something of it was not done, one sentence each.
    """

    expectation: Expectation | None
    learned: Learned | None
    step: NextStep | None
    apart: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReviewedDrive:
    """A reviewed drive, with how its log was read.

    questions: what the reader asks rather than guesses; those columns are left out. limits: sentences on why
    the log can be judged only in part. remembered: the columns were taken as a person once said for such a
    log. model: the pulls beside the model of the build, None where that was not asked for or no build given.
    """

    review: DriveReview
    mapping: Mapping
    questions: tuple[Question, ...]
    limits: tuple[str, ...]
    remembered: bool
    build: str = ""
    fingerprint: str = ""
    model: BesideModel | None = None

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What was noticed, faults first, worst first."""
        return self.review.notices

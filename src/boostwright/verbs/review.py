"""The review of a recorded drive: the log read, its columns taken as a person said, and every part judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.verbs.judging import Progress

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.drive.records import Notice, Stretch
    from boostwright.drive.reviewed import ReviewedDrive
    from boostwright.drive.rows import Rows
    from boostwright.drive.scene import Scene
    from boostwright.drive.whole import DriveReview
    from boostwright.readers.drive_log import Mapping, OpenLog

__all__ = ["read_answer", "review"]


Partial = Callable[["ReviewedDrive"], None]


def _ignored(_: ReviewedDrive) -> None:
    """Do nothing with what is not the last."""


_GROWING = (
    "the file changed while it was read: the logger may still write to it, so its end is missing here, and"
    " its last row may be half of one. Read it again when the logger has closed it."
)


def _size(log: str | Path) -> int:
    """Bytes of the file as it is now; -1 where there is none."""
    path = Path(log)
    return path.stat().st_size if path.is_file() else -1


def _without_gears(whole: DriveReview) -> DriveReview:
    """The review without the numbers of its gears, which only count the ratios that the drive shows."""

    def bare(stretch: Stretch) -> Stretch:
        return stretch._replace(gear=0)

    def unnamed(notice: Notice) -> Notice:
        return notice if notice.stretch is None else notice._replace(stretch=bare(notice.stretch))

    return replace(
        whole,
        notices=tuple(unnamed(one) for one in whole.notices),
        stretches=tuple(bare(one) for one in whole.stretches),
        pulls=tuple(one._replace(stretch=bare(one.stretch)) for one in whole.pulls),
        excerpts=tuple(one._replace(notice=unnamed(one.notice)) for one in whole.excerpts),
    )


def _silent(_: str) -> None:
    """Say nothing."""


def review(
    log: str | Path,
    build: Build | None = None,
    *,
    file: str | Path | None = None,
    columns: Sequence[str] = (),
    remember: bool = True,
    model: bool = True,
    match: bool = True,
    progress: Progress | None = None,
    partial: Partial | None = None,
) -> ReviewedDrive:
    """Review a recorded drive.

    log: the file. build: for the facts that no log tells. file: the build's, so that the ladder's next step
    is judged too. columns: a person's answers, each 'HEADING=QUANTITY
    UNIT', or 'HEADING=' for a column that is not to be read; they are kept for the next log of that kind, and
    those kept earlier are used. remember: False to do neither. model: with a build, also set the pulls beside
    its model and learn from them. match: for that, run the match in the air of the day. partial: given the
    review before the model is asked. Raises LogRefused for a file that is no drive
    or an answer that fits no column, OutOfRange where no review can be made, OSError.
    """
    from boostwright.drive.reviewed import ReviewedDrive
    from boostwright.drive.whole import review_drive
    from boostwright.verbs.known_logs import keep_mapping

    told = progress or _silent
    told("reading the log")
    size = _size(log)
    opened, remembered = _opened(Path(log), build, columns, remember)
    kept = _Fullest(build is not None and model)
    answers = _Answers(opened.mapping)

    def each(scene: Scene) -> None:
        kept.take(scene)
        answers.take(scene)

    whole = review_drive(opened.parts(), build, each=each, told=told)
    if build is None and all(one.key != "gear" for one in whole.channels):
        whole = _without_gears(whole)
    if _size(log) != size:
        whole = replace(whole, notes=(*whole.notes, _GROWING))
    if columns and remember and not answers.doubts:
        keep_mapping(opened.mapping)
    found = ReviewedDrive(
        whole,
        opened.mapping,
        tuple(opened.questions),
        (*answers.doubts.values(), *opened.limits),
        remembered,
        "" if build is None else build.name,
        "" if build is None else build.fingerprint,
    )
    if build is None or kept.rows is None:
        return found
    from boostwright.drive.whole import with_notices
    from boostwright.verbs.beside_model import beside_model

    (partial or _ignored)(found)
    beside = beside_model(build, kept.rows, whole, file=file, match=match, progress=told)
    if beside.expectation is not None:
        whole = with_notices(whole, beside.expectation.notices, kept.rows)
    return replace(found, review=whole, model=beside)


class _Fullest:
    """The rows of the part that holds most pulls: a long log is not kept in memory as a whole."""

    def __init__(self, wanted: bool) -> None:
        self.wanted, self.rows, self._pulls = wanted, _no_rows(), -1

    def take(self, scene: Scene) -> None:
        """Look at one part while it is in memory."""
        from boostwright.drive.rows import rows_of

        if self.wanted and len(scene.pulls) > self._pulls:
            self._pulls, self.rows = len(scene.pulls), rows_of(scene.signals)


def _no_rows() -> Rows | None:
    return None


class _Answers:
    """Whether what a person said of the columns can be: a wrong answer would be used for every later log."""

    _MOST = 0.02  # share of readings outside what a running petrol car can show (judgement)

    def __init__(self, mapping: Mapping) -> None:
        self._said = {
            (c.key, c.cylinder): c.heading for c in mapping.columns if c.key and c.decided == "person"
        }
        self.doubts: dict[str, str] = {}

    def take(self, scene: Scene) -> None:
        """Look at one part while it is in memory."""
        import numpy as np

        from boostwright.library.channels import channel_kinds
        from boostwright.quantity import in_unit, unit_names

        for (key, cylinder), heading in self._said.items():
            value = scene.signals.get(key, cylinder)
            if value is None or not np.isfinite(value).any():
                continue
            kind, known = channel_kinds()[key], value[np.isfinite(value)]
            off = float(np.mean((known < kind.lowest) | (known > kind.highest)))
            if off > self._MOST:
                low, high = float(known.min()), float(known.max())
                unit = unit_names(kind.dimension)[0] if unit_names(kind.dimension) else ""
                shown = [in_unit(x, unit, kind.dimension) for x in (low, high)] if unit else [low, high]
                self.doubts[heading] = (
                    f"column '{heading}' was said to be {kind.words}, and then it reads {shown[0]:.3g} to"
                    f" {shown[1]:.3g} {unit}, which no running car shows in {100.0 * off:.0f} % of the rows."
                    " The answer was used for this log and is not kept: look at unit, gauge or absolute."
                )


def _opened(path: Path, build: Build | None, columns: Sequence[str], remember: bool) -> tuple[OpenLog, bool]:
    """The log with the answers that were given now or earlier, and whether there were earlier ones."""
    from boostwright.errors import LogRefused
    from boostwright.readers.drive_log import open_log
    from boostwright.systems.stated.place import ambient_of
    from boostwright.verbs.known_logs import known_mapping

    pressure = None if build is None else ambient_of(build).pressure
    opened, refused = None, None
    try:
        opened = open_log(path, place_pressure=pressure)
        taken = opened.mapping
    except LogRefused as mishap:  # an answer may rescue it: the unit of its clock, say
        if mishap.mapping is None:
            raise
        refused, taken = mishap, mishap.mapping
    known = known_mapping(taken.fingerprint) if remember else None
    mapping = taken if known is None else known
    for text in columns:
        heading, key, unit = read_answer(text)
        mapping = mapping.answered(heading, key, unit)
    if known is None and not columns:
        if opened is None:
            assert refused is not None
            raise refused
        return opened, False
    opened = open_log(path, mapping=mapping, place_pressure=pressure)
    return opened, known is not None


def read_answer(text: str) -> tuple[str, str, str]:
    """'MAP=manifold_pressure kPa absolute' as heading, quantity and unit; '' for both after a bare '='.

    Raises LogRefused where there is no '='.
    """
    from boostwright.errors import LogRefused

    heading, mark, rest = text.rpartition("=")
    if not mark or not heading.strip():
        raise LogRefused(
            "no-answer",
            f"'{text}' does not say which column is what",
            "Write HEADING=QUANTITY UNIT, like 'MAP=manifold_pressure kPa absolute'.",
        )
    key, _, unit = rest.strip().partition(" ")
    return heading.strip(), key, unit.strip()

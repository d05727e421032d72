"""The commissioning ladder: how far a build has climbed, and a gate that a person opens against its data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.verbs.judging import Progress
from boostwright.verbs.readings import load_job

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.job.records import Record
    from boostwright.planning.ladder import Air, Change, Condition, Ladder
    from boostwright.planning.task import Task

__all__ = ["ladder", "ladder_on", "ladder_with", "override_gate"]


def _silent(_: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, slots=True)
class _Ground:
    """What a ladder is made from."""

    build: Build
    records: tuple[Record, ...]
    changes: tuple[Change, ...]
    air: Air | None
    names: Mapping[str, str]
    unknown: str
    tasks: tuple[Task, ...]

    def ladder(
        self,
        records: tuple[Record, ...],
        conditions: tuple[Condition, Condition | None] | None,
        progress: Progress | None,
    ) -> Ladder:
        """The ladder with these records."""
        from boostwright.planning.ladder import day_of, ladder_for
        from boostwright.verbs.kept_pulls import pulls_of

        if conditions is None:
            conditions = pulls_of(self.build, day_of(self.build, records, self.air), progress or _silent)
        found = ladder_for(
            self.build,
            None,
            records,
            air=self.air,
            changes=self.changes,
            planned=frozenset(self.names),
            conditions=conditions,
            names=self.names,
            held=self._held(records),
            never={t.key: t.hold.never for t in self.tasks if t.hold is not None and t.hold.never},
        )
        if not self.unknown or not records:
            return found
        return replace(found, warnings=(*found.warnings, self.unknown))

    def _held(self, records: tuple[Record, ...]) -> dict[str, str]:
        """Tasks that were said to be done and whose hold points are shut, with the reason."""
        from boostwright.verbs.planning import hold_points_of
        from boostwright.verbs.readings import LoadedJob

        points = hold_points_of(LoadedJob(self.build, records), self.tasks)
        return {key: point.why for key, point in points.items() if point.done and not point.open}


def _ground(path: Path, where: str, air: str, corner: str) -> _Ground:
    from boostwright.planning.ladder import air_at_corner, read_air
    from boostwright.planning.tasks import tasks_for

    build, records = load_job(path, where)
    changes, unknown = _changes(path, where)
    day = read_air(air, build) if air else air_at_corner(corner, build) if corner else None
    tasks = tasks_for(build)
    names = {task.key: task.words for task in tasks}
    return _Ground(build, records, changes, day, names, unknown, tasks)


def _changes(path: Path, where: str) -> tuple[tuple[Change, ...], str]:
    """Revisions of the build file, what of them changed, and a sentence where that cannot be known.

    What stands on the disk and in no revision yet counts from the moment at which the file was written.
    """
    from boostwright.planning.ladder import Change
    from boostwright.store import open_job
    from boostwright.store.difference import difference
    from boostwright.store.documents import read_document

    with open_job(path, where) as job:
        kept = job.revisions()
        if not kept:
            return (), (
                "The build file's history is not kept, so a change of the file makes no reading old:"
                " keep it with"
                " 'boostwright history FILE --keep'."
            )
        steps = [(one.time, one.who, job.document(one.number)) for one in kept]
    here = read_document(path)
    if here.digest != kept[-1].digest:
        written = datetime.fromtimestamp(path.stat().st_mtime, UTC).isoformat(timespec="milliseconds")
        steps.append((max(written, kept[-1].time), "", here))
    found, old = [], steps[0][2]
    for time, who, new in steps[1:]:
        told = difference(old, new)
        if told.changes is None:  # a revision with faults: what follows is set against the one before it
            continue
        fields = tuple(one.field for one in told.changes)
        found.append(Change(time, fields + (("turbo.compressor_map",) if told.files else ()), who))
        old = new
    return tuple(found), ""


def ladder(
    path: str | Path,
    *,
    where: str = "",
    air: str = "",
    corner: str = "",
    conditions: tuple[Condition, Condition | None] | None = None,
    progress: Progress | None = None,
) -> Ladder:
    """The commissioning ladder of a build file and of what is on record for it.

    path: the build file. where: the store; '' for the one beside the file. air: of the day, like '12 degC
    101 kPa'; '' for what was read at key-on, else for the build's place. corner: the name of one of the
    build's worst days instead. conditions: as `planning.ladder.conditions_for` gave them, so that the match
    need not run again. Raises BuildFileError, HistoryError, OutOfRange for air that is none.
    """
    ground = _ground(Path(path), where, air, corner)
    return ground.ladder(ground.records, conditions, progress)


def ladder_with(
    path: str | Path, records: tuple[Record, ...], *, where: str = "", progress: Progress | None = None
) -> Ladder:
    """The same with other records than those on record, such as those before a reading; raises the same."""
    return _ground(Path(path), where, "", "").ladder(records, None, progress)


def ladder_on(
    path: str | Path, day: Air, conditions: tuple[Condition, Condition | None], where: str = ""
) -> Ladder:
    """The ladder in the air of a recorded drive.

    day: that air. conditions: the pulls in it, as `planning.ladder.conditions_for` gave them. Raises as
    `ladder`.
    """
    ground = replace(_ground(Path(path), where, "", ""), air=day)
    return ground.ladder(ground.records, conditions, None)


def override_gate(
    path: str | Path,
    step: str,
    *,
    who: str,
    reason: str,
    witness: str = "",
    where: str = "",
    air: str = "",
    corner: str = "",
    conditions: tuple[Condition, Condition | None] | None = None,
    progress: Progress | None = None,
) -> Ladder:
    """Open the gate behind a step although its data do not, and return the ladder as it then stands.

    who answers for it, for which reason; witness: the second person, whom a critical step asks for. It stays
    on record and in sight. The rest as `ladder`. Raises OutOfRange where the gate may not be opened so, or is
    open already; then nothing is written.
    """
    from boostwright.errors import OutOfRange
    from boostwright.job.records import Override, new_id, now
    from boostwright.library.ladder import ladder_steps
    from boostwright.planning.ladder import override_fault
    from boostwright.quantity import nearest
    from boostwright.store import open_job

    table = next((one for one in ladder_steps() if one.key == step), None)
    if table is None:
        known = [one.key for one in ladder_steps()]
        close = nearest(step, known)
        hint = f" Did you mean '{close[0]}'?" if close else ""
        raise OutOfRange(f"there is no step '{step}'; there are: {', '.join(known)}.{hint}")
    written = Override(new_id(), who.strip(), now(), step, reason.strip(), witness.strip())
    fault = override_fault(table, written)
    if fault:
        raise OutOfRange(fault)
    ground = _ground(Path(path), where, air, corner)
    after = ground.ladder((*ground.records, written), conditions, progress)
    gate = after.gate(step)
    if gate.refused:
        raise OutOfRange(gate.refused)
    if not gate.why:
        raise OutOfRange(f"the gate behind '{step}' is open already by its data; it needs no override.")
    with open_job(path, where) as job:
        job.add(written)
    return after

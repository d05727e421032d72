"""The commissioning ladder: how far a build has climbed, and a gate that a person opens against its data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.verbs.judging import Progress, load_build

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.job.records import Record
    from boostwright.planning.ladder import Air, Change, Condition, Ladder

__all__ = ["ladder", "override_gate"]


@dataclass(frozen=True, slots=True)
class _Ground:
    """What a ladder is made from."""

    build: Build
    records: tuple[Record, ...]
    changes: tuple[Change, ...]
    air: Air | None
    names: Mapping[str, str]

    def ladder(
        self,
        records: tuple[Record, ...],
        conditions: tuple[Condition, Condition | None] | None,
        progress: Progress | None,
    ) -> Ladder:
        """The ladder with these records."""
        from boostwright.planning.ladder import ladder_for

        return ladder_for(
            self.build,
            None,
            records,
            air=self.air,
            changes=self.changes,
            planned=frozenset(self.names),
            conditions=conditions,
            names=self.names,
            progress=progress,
        )


def _ground(path: Path, where: str, air: str, corner: str) -> _Ground:
    from boostwright.planning.ladder import air_at_corner, read_air
    from boostwright.planning.tasks import tasks_for
    from boostwright.store import open_job

    build = load_build(path)
    with open_job(path, where) as job:
        records = job.records()
    day = read_air(air, build) if air else air_at_corner(corner, build) if corner else None
    return _Ground(build, records, (), day, {task.key: task.words for task in tasks_for(build)})


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

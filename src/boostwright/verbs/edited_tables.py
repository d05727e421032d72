"""Tables that a person edited: read in, set against what was computed, checked again, kept, taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from boostwright.build.document import Build
    from boostwright.calibration.edits import Edited
    from boostwright.calibration.records import Calibration, Table
    from boostwright.readers.table_head import Head
    from boostwright.store import Revision
    from boostwright.verbs.tables import Tabled

__all__ = [
    "EditedCells",
    "EditedFile",
    "edit_tables",
    "edited_breakpoints",
    "keep_tables",
    "kept_tables",
    "older_tables",
    "read_edited",
    "read_edited_cells",
    "undo_tables",
    "with_kept_tables",
]

_KIND = "tables"  # of an entry in the store
_SAME = 1e-6  # of a breakpoint, within which a kept one is the same


class EditedFile(NamedTuple):
    """The bytes of an edited table and what its head says."""

    name: str
    data: bytes
    head: Head


class EditedCells(NamedTuple):
    """The cells of one edited table [SI, NaN for no number], and what deserves a look in its file."""

    table: str
    values: NDArray[np.float64]
    notes: tuple[str, ...]


def read_edited(path: str | Path) -> EditedFile:
    """An edited table as a file, looked at as far as that needs no model; `read_edited_cells` does the rest.

    Raises BuildFileError with every fault that it has whatever the model says, OSError.
    """
    from boostwright.readers.table_csv import check_table_csv
    from boostwright.readers.table_head import read_head

    data = Path(path).read_bytes()
    head = read_head(data, str(path))
    check_table_csv(data, head, str(path))
    return EditedFile(str(path), data, head)


def edited_breakpoints(files: Sequence[EditedFile]) -> Mapping[str, tuple[float, ...]]:
    """The breakpoints of speed and manifold pressure on which edited files were made, by axis, SI.

    Raises OutOfRange where two files say different ones, or hold the same table.
    """
    from boostwright.errors import OutOfRange
    from boostwright.readers.table_head import GRID_AXES

    found: dict[str, tuple[tuple[float, ...], str]] = {}
    holder: dict[str, str] = {}
    for file in files:
        if file.head.key in holder:
            raise OutOfRange(
                f"{file.name} and {holder[file.head.key]} both hold the table '{file.head.key}'; give one of"
                " them."
            )
        holder[file.head.key] = file.name
        if set(file.head.breakpoints) != set(GRID_AXES):  # boost over speed goes by the match's own speeds
            continue
        for key, values in file.head.breakpoints.items():
            first, name = found.setdefault(key, (values, file.name))
            if first != values:
                raise OutOfRange(
                    f"{file.name} and {name} were made on different breakpoints of {key.replace('_', ' ')};"
                    " compare them one at a time, or export both again."
                )
    return {key: values for key, (values, _) in found.items()}


def read_edited_cells(calibration: Calibration, file: EditedFile) -> EditedCells:
    """The cells of an edited file, each at its breakpoint of the calibration.

    Raises BuildFileError with every fault of the file.
    """
    import numpy as np

    from boostwright.build.faults import Fault
    from boostwright.errors import BuildFileError
    from boostwright.quantity import nearest
    from boostwright.readers.table_csv import read_table_csv
    from boostwright.readers.table_form import AxisForm, TableForm
    from boostwright.views.table_words import table_face

    known = {table.key: table for table in calibration.tables}
    table = known.get(file.head.key)
    if table is None:
        near = nearest(file.head.key, known, count=1)
        fault = Fault(
            "unknown-key", file.head.line, "table", file.head.key, ", ".join(known),
            f"this build has no table '{file.head.key}'",
            f"Did you mean '{near[0]}'?" if near else "Give a file that 'boostwright tables --out' wrote.",
        )  # fmt: skip
        raise BuildFileError(f"{file.name}: 1 fault. First: {fault.sentence()}", (fault,))
    axes = tuple(AxisForm(a.key, a.words, a.dimension, a.values, a.pressure) for a in table.axes)
    form = TableForm(table.key, table.words, table.dimension, axes, np.isnan(table.value), table.pressure)
    read = read_table_csv(file.data, form, file.name)
    notes = [f"{file.name}: {note.sentence()}" for note in read.notes]
    if read.head.inputs and not calibration.fingerprint.startswith(read.head.inputs):
        notes.append(
            f"{file.name} was made from another state of this build: what differs may be the build's doing"
            " and not yours."
        )
    values = -read.values if table_face(table).backwards else read.values
    return EditedCells(table.key, values, tuple(notes))


def edit_tables(tabled: Tabled, cells: Sequence[EditedCells]) -> Edited:
    """The calibration with a person's cells in it, each set against knock, mixture and parts, and the checks
    run again.

    tabled: from `tables`. cells: from `read_edited_cells`. A cell counts as edited where it differs by more
    than the last digit of the exported file.
    """
    from boostwright.calibration.edits import edited_calibration

    return edited_calibration(
        tabled.calibration,
        {one.table: one.values for one in cells},
        {one.table: _rounding(tabled.calibration.table(one.table)) for one in cells},
        tabled.recheck,
    )


def _rounding(table: Table) -> float:
    """The difference [SI] that the digits of an exported file leave, a hair more than half of the last."""
    from boostwright.views.table_words import table_face, write_step

    return 0.51 * write_step(table) * table_face(table).size


# ------------------------------------------------------------------------------------------------ the store


def keep_tables(build: Build, path: str | Path, edited: Edited) -> int:
    """Keep the edits in the history of the build file; returns their number.

    Kept are the edited cells alone, by their breakpoints, so that the others follow the model. Raises
    OutOfRange where nothing is edited, HistoryError.
    """
    from boostwright import __version__
    from boostwright.errors import OutOfRange
    from boostwright.library.version import data_version
    from boostwright.store import open_job

    if not edited.cells:
        raise OutOfRange("no cell differs from what was computed, so there is nothing to keep.")
    content: dict[str, Any] = {}
    for cell in edited.cells:
        table = edited.calibration.table(cell.table)
        at = [float(axis.values[i]) for axis, i in zip(table.axes, cell.at, strict=True)]
        new = None if cell.new != cell.new else cell.new  # NaN is no JSON
        content.setdefault(cell.table, []).append({"at": at, "old": _plain(cell.old), "new": new})
    with open_job(path) as job:
        kept = job.keep(
            _KIND, build.fingerprint, {"cells": content}, program=__version__, data=data_version()
        )
    return kept.number


def _plain(value: float) -> float | None:
    return None if value != value else value


def kept_tables(build: Build, path: str | Path) -> Revision | None:
    """The newest edits kept for the file as it stands; None where there are none. Raises HistoryError."""
    from boostwright.store import History

    return History(path).newest(_KIND, build.fingerprint)


def older_tables(build: Build, path: str | Path) -> int | None:
    """The number of the newest edits that were kept of the file as it was and not taken back; None where
    there are none, or some of the file as it stands. Raises HistoryError.
    """
    from boostwright.store import History

    entries = History(path).all()
    taken = {one.content.get("of") for one in entries if one.kind == f"no {_KIND}"}
    kept = [one for one in entries if one.kind == _KIND and one.number not in taken]
    if not kept or any(one.inputs == build.fingerprint for one in kept):
        return None
    return kept[-1].number


def undo_tables(build: Build, path: str | Path) -> int | None:
    """Take the newest edits of the file as it stands back; nothing is deleted. Returns their number, None
    where there are none. Raises HistoryError.
    """
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.store import History

    history = History(path)
    newest = history.newest(_KIND, build.fingerprint)
    if newest is None:
        return None
    content = {"of": newest.number}
    history.add(f"no {_KIND}", build.fingerprint, content, program=__version__, data=data_version())
    return newest.number


def with_kept_tables(tabled: Tabled, kept: Revision) -> tuple[Edited, tuple[str, ...]]:
    """The calibration with kept edits in it, and sentences on those that find no cell any more.

    Raises HistoryError where the entry is none that this program can read.
    """
    import numpy as np

    from boostwright.errors import HistoryError

    known = {table.key: table for table in tabled.calibration.tables}
    cells, lost = [], []
    try:
        for key, edits in kept.content["cells"].items():
            table = known.get(key)
            if table is None:
                lost.append(f"{key}: this build has no such table any more")
                continue
            values = table.value.copy()
            missed = 0
            for edit in edits:
                at = _cell_at(table, edit["at"])
                if at is None:
                    missed += 1
                else:
                    values[at] = np.nan if edit["new"] is None else float(edit["new"])
            if missed:
                lost.append(f"{key}: {missed} edited cells lie on no breakpoint of these tables")
            cells.append(EditedCells(key, values, ()))
    except (KeyError, TypeError, ValueError, AttributeError):
        raise HistoryError(
            f"revision {kept.number} holds no edited tables that this program can read. Take it back with"
            " 'boostwright tables FILE --undo' and edit again."
        ) from None
    return edit_tables(tabled, cells), tuple(
        f"Of the edits kept as revision {kept.number}, some are left out: {words}." for words in lost
    )


def _cell_at(table: Table, place: Sequence[float]) -> tuple[int, ...] | None:
    """The cell at some breakpoints; None where there is none."""
    import numpy as np

    if len(place) != len(table.axes):
        return None
    at = []
    for axis, value in zip(table.axes, place, strict=True):
        index = int(np.argmin(np.abs(axis.values - value)))
        if not abs(float(axis.values[index]) - value) <= _SAME * max(abs(value), 1e-9):
            return None
        at.append(index)
    return tuple(at)

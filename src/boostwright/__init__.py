"""boostwright: from one build file to a verdict on a turbo conversion.

    import boostwright as bw

    build = bw.load_build("my-car.toml")
    result = bw.check(build)
    for finding in result.findings:
        print(finding.verdict.value, finding.subject)

Importing this reads no model: each name below is fetched when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.calibration.edits import Edited
    from boostwright.calibration.records import Calibration
    from boostwright.errors import (
        ArchiveError,
        BoostwrightError,
        BuildFileError,
        CannotKeep,
        ConflictError,
        HistoryError,
        NoPlan,
        NotConverged,
        OutOfRange,
        ReadingError,
        UnknownField,
    )
    from boostwright.findings.case import GoalLine, StrengthLine
    from boostwright.findings.leak_answer import LeakAnswer, LeakAsked
    from boostwright.findings.limits import LimitEdit
    from boostwright.findings.model import Amount, Finding, Harm, Kind, Verdict
    from boostwright.findings.result import CheckResult
    from boostwright.fitting import Fit
    from boostwright.job import Override, PartEvent, Reading, Step, TaskEvent, Withdrawal
    from boostwright.planning.ladder import Ladder
    from boostwright.planning.parts import PartsList
    from boostwright.planning.plan import Wishes
    from boostwright.planning.readings.kept import Kept
    from boostwright.store import Attachment, Job, open_job
    from boostwright.trust.run import Draws
    from boostwright.verbs import (
        AskedEvent,
        AskedReading,
        Fetched,
        LoadedJob,
        Planned,
        Tabled,
        attach_files,
        attachments,
        check,
        compare_revisions,
        demo_build,
        demo_files,
        due_readings,
        edit_tables,
        explain,
        export_job,
        fetch_files,
        fit,
        import_job,
        job_history,
        judged_of,
        keep_file,
        keep_fit,
        keep_tables,
        kept_fit,
        kept_fits,
        kept_tables,
        leak,
        load_build,
        load_job,
        new_build,
        note_parts,
        override_gate,
        override_hold,
        parts_account,
        parts_events,
        parts_needed,
        plan,
        read_edited,
        read_edited_cells,
        read_parts,
        readings_sheet,
        record_event,
        record_reading,
        record_sheet,
        restore_revision,
        take_back,
        torque,
        undo_fit,
        undo_record,
        undo_tables,
        warm_up,
        with_kept_tables,
        with_step_ranges,
    )
    from boostwright.verbs.ladder import ladder
    from boostwright.verbs.parts import parts
    from boostwright.verbs.tables import tables
    from boostwright.views.calibration_document import calibration_document
    from boostwright.views.calibration_folder import write_calibration
    from boostwright.views.calibration_page import calibration_report
    from boostwright.views.document import document, to_json
    from boostwright.views.folder import write_folder
    from boostwright.views.parts_page import parts_report
    from boostwright.views.parts_table import parts_csv
    from boostwright.views.terminal import terminal_report

__all__ = [
    "Amount",
    "ArchiveError",
    "AskedEvent",
    "AskedReading",
    "Attachment",
    "BoostwrightError",
    "Build",
    "BuildFileError",
    "Calibration",
    "CannotKeep",
    "CheckResult",
    "ConflictError",
    "Draws",
    "Edited",
    "Fetched",
    "Finding",
    "Fit",
    "GoalLine",
    "Harm",
    "HistoryError",
    "Job",
    "Kept",
    "Kind",
    "Ladder",
    "LeakAnswer",
    "LeakAsked",
    "LimitEdit",
    "LoadedJob",
    "NoPlan",
    "NotConverged",
    "OutOfRange",
    "Override",
    "PartEvent",
    "PartsList",
    "Planned",
    "Reading",
    "ReadingError",
    "Step",
    "StrengthLine",
    "Tabled",
    "TaskEvent",
    "UnknownField",
    "Verdict",
    "Wishes",
    "Withdrawal",
    "__version__",
    "attach_files",
    "attachments",
    "calibration_document",
    "calibration_report",
    "check",
    "compare_revisions",
    "demo_build",
    "demo_files",
    "document",
    "due_readings",
    "edit_tables",
    "explain",
    "export_job",
    "fetch_files",
    "fit",
    "import_job",
    "job_history",
    "judged_of",
    "keep_file",
    "keep_fit",
    "keep_tables",
    "kept_fit",
    "kept_fits",
    "kept_tables",
    "ladder",
    "leak",
    "load_build",
    "load_job",
    "new_build",
    "note_parts",
    "open_job",
    "override_gate",
    "override_hold",
    "parts",
    "parts_account",
    "parts_csv",
    "parts_events",
    "parts_needed",
    "parts_report",
    "plan",
    "read_edited",
    "read_edited_cells",
    "read_parts",
    "readings_sheet",
    "record_event",
    "record_reading",
    "record_sheet",
    "restore_revision",
    "tables",
    "take_back",
    "terminal_report",
    "to_json",
    "torque",
    "undo_fit",
    "undo_record",
    "undo_tables",
    "warm_up",
    "with_kept_tables",
    "with_step_ranges",
    "write_calibration",
    "write_folder",
]

__version__ = "0.1.0"

_HOME = {
    "Amount": "boostwright.findings.model",
    "ArchiveError": "boostwright.errors",
    "AskedEvent": "boostwright.verbs",
    "AskedReading": "boostwright.verbs",
    "Attachment": "boostwright.store",
    "BoostwrightError": "boostwright.errors",
    "Build": "boostwright.build.document",
    "BuildFileError": "boostwright.errors",
    "Calibration": "boostwright.calibration.records",
    "CannotKeep": "boostwright.errors",
    "CheckResult": "boostwright.findings.result",
    "ConflictError": "boostwright.errors",
    "Draws": "boostwright.trust.run",
    "Edited": "boostwright.calibration.edits",
    "Fetched": "boostwright.verbs",
    "Finding": "boostwright.findings.model",
    "Fit": "boostwright.fitting",
    "GoalLine": "boostwright.findings.case",
    "Harm": "boostwright.findings.model",
    "HistoryError": "boostwright.errors",
    "Job": "boostwright.store",
    "Kept": "boostwright.planning.readings.kept",
    "Kind": "boostwright.findings.model",
    "Ladder": "boostwright.planning.ladder",
    "LeakAnswer": "boostwright.findings.leak_answer",
    "LeakAsked": "boostwright.findings.leak_answer",
    "LimitEdit": "boostwright.findings.limits",
    "LoadedJob": "boostwright.verbs",
    "NoPlan": "boostwright.errors",
    "NotConverged": "boostwright.errors",
    "OutOfRange": "boostwright.errors",
    "Override": "boostwright.job",
    "PartEvent": "boostwright.job",
    "PartsList": "boostwright.planning.parts",
    "Planned": "boostwright.verbs",
    "Reading": "boostwright.job",
    "ReadingError": "boostwright.errors",
    "Step": "boostwright.job",
    "StrengthLine": "boostwright.findings.case",
    "Tabled": "boostwright.verbs",
    "TaskEvent": "boostwright.job",
    "UnknownField": "boostwright.errors",
    "Verdict": "boostwright.findings.model",
    "Wishes": "boostwright.planning.plan",
    "Withdrawal": "boostwright.job",
    "attach_files": "boostwright.verbs",
    "attachments": "boostwright.verbs",
    "calibration_document": "boostwright.views.calibration_document",
    "calibration_report": "boostwright.views.calibration_page",
    "check": "boostwright.verbs",
    "compare_revisions": "boostwright.verbs",
    "demo_build": "boostwright.verbs",
    "demo_files": "boostwright.verbs",
    "document": "boostwright.views.document",
    "due_readings": "boostwright.verbs",
    "edit_tables": "boostwright.verbs",
    "explain": "boostwright.verbs",
    "export_job": "boostwright.verbs",
    "fetch_files": "boostwright.verbs",
    "fit": "boostwright.verbs",
    "import_job": "boostwright.verbs",
    "job_history": "boostwright.verbs",
    "judged_of": "boostwright.verbs",
    "keep_file": "boostwright.verbs",
    "keep_fit": "boostwright.verbs",
    "keep_tables": "boostwright.verbs",
    "kept_fit": "boostwright.verbs",
    "kept_fits": "boostwright.verbs",
    "kept_tables": "boostwright.verbs",
    "ladder": "boostwright.verbs",
    "leak": "boostwright.verbs",
    "load_build": "boostwright.verbs",
    "load_job": "boostwright.verbs",
    "new_build": "boostwright.verbs",
    "note_parts": "boostwright.verbs",
    "open_job": "boostwright.store",
    "override_gate": "boostwright.verbs",
    "override_hold": "boostwright.verbs",
    "parts": "boostwright.verbs",
    "parts_account": "boostwright.verbs",
    "parts_csv": "boostwright.views.parts_table",
    "parts_events": "boostwright.verbs",
    "parts_needed": "boostwright.verbs",
    "parts_report": "boostwright.views.parts_page",
    "plan": "boostwright.verbs",
    "read_edited": "boostwright.verbs",
    "read_edited_cells": "boostwright.verbs",
    "read_parts": "boostwright.verbs",
    "readings_sheet": "boostwright.verbs",
    "record_event": "boostwright.verbs",
    "record_reading": "boostwright.verbs",
    "record_sheet": "boostwright.verbs",
    "restore_revision": "boostwright.verbs",
    "tables": "boostwright.verbs",
    "take_back": "boostwright.verbs",
    "terminal_report": "boostwright.views.terminal",
    "to_json": "boostwright.views.document",
    "torque": "boostwright.verbs",
    "undo_fit": "boostwright.verbs",
    "undo_record": "boostwright.verbs",
    "undo_tables": "boostwright.verbs",
    "warm_up": "boostwright.verbs",
    "with_kept_tables": "boostwright.verbs",
    "with_step_ranges": "boostwright.verbs",
    "write_calibration": "boostwright.views.calibration_folder",
    "write_folder": "boostwright.views.folder",
}


def __getattr__(name: str) -> Any:
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module 'boostwright' has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})

"""One function for each thing that a person can do; every door calls these and nothing deeper.

Each file holds one part of the job. Models and tables are imported inside the functions, so that a door opens
at once.
"""

from __future__ import annotations

from boostwright.verbs.attached import Fetched, attach_files, attachments, fetch_files, records_about
from boostwright.verbs.events import (
    AskedEvent,
    is_pattern,
    override_hold,
    record_event,
    record_events,
    tasks_meant,
)
from boostwright.verbs.history import (
    compare_revisions,
    export_job,
    import_job,
    job_history,
    keep_file,
    restore_revision,
    undo_record,
)
from boostwright.verbs.judging import (
    DEFAULT_CLASS,
    Progress,
    build_schema,
    check,
    demo_build,
    demo_builds,
    demo_files,
    demo_text,
    engine_classes,
    explain,
    fit,
    keep_fit,
    kept_fit,
    kept_fits,
    leak,
    load_build,
    new_build,
    read_speeds,
    results_schema,
    torque,
    undo_fit,
    warm_up,
)
from boostwright.verbs.kept_drives import keep_drive, kept_drive, kept_drives, undo_drive
from boostwright.verbs.ladder import ladder, override_gate
from boostwright.verbs.parts import (
    not_gone_by,
    note_parts,
    parts,
    parts_account,
    parts_events,
    parts_needed,
    read_parts,
)
from boostwright.verbs.planning import Planned, first_answer, plan
from boostwright.verbs.readings import (
    LoadedJob,
    due_readings,
    judged_of,
    load_job,
    measurement_and_range,
    readings_sheet,
    used_words,
)
from boostwright.verbs.recording import AskedReading, record_reading, record_sheet
from boostwright.verbs.review import ReviewedDrive, review
from boostwright.verbs.step_range import with_step_ranges
from boostwright.verbs.taking_back import take_back

__all__ = [
    "DEFAULT_CLASS",
    "AskedEvent",
    "AskedReading",
    "Fetched",
    "LoadedJob",
    "Planned",
    "Progress",
    "ReviewedDrive",
    "attach_files",
    "attachments",
    "build_schema",
    "check",
    "compare_revisions",
    "demo_build",
    "demo_builds",
    "demo_files",
    "demo_text",
    "due_readings",
    "engine_classes",
    "explain",
    "export_job",
    "fetch_files",
    "first_answer",
    "fit",
    "import_job",
    "is_pattern",
    "job_history",
    "judged_of",
    "keep_drive",
    "keep_file",
    "keep_fit",
    "kept_drive",
    "kept_drives",
    "kept_fit",
    "kept_fits",
    "ladder",
    "leak",
    "load_build",
    "load_job",
    "measurement_and_range",
    "new_build",
    "not_gone_by",
    "note_parts",
    "override_gate",
    "override_hold",
    "parts",
    "parts_account",
    "parts_events",
    "parts_needed",
    "plan",
    "read_parts",
    "read_speeds",
    "readings_sheet",
    "record_event",
    "record_events",
    "record_reading",
    "record_sheet",
    "records_about",
    "restore_revision",
    "results_schema",
    "review",
    "take_back",
    "tasks_meant",
    "torque",
    "undo_drive",
    "undo_fit",
    "undo_record",
    "used_words",
    "warm_up",
    "with_step_ranges",
]

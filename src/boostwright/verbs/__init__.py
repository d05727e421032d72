"""One function for each thing that a person can do; every door calls these and nothing deeper.

Each file holds one part of the job. Models and tables are imported inside the functions, so that a door opens
at once.
"""

from __future__ import annotations

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
from boostwright.verbs.parts import note_parts, parts, parts_account, parts_events
from boostwright.verbs.planning import Planned, plan
from boostwright.verbs.readings import LoadedJob, load_job

__all__ = [
    "DEFAULT_CLASS",
    "LoadedJob",
    "Planned",
    "Progress",
    "build_schema",
    "check",
    "demo_build",
    "demo_builds",
    "demo_files",
    "demo_text",
    "engine_classes",
    "explain",
    "fit",
    "keep_fit",
    "kept_fit",
    "kept_fits",
    "leak",
    "load_build",
    "load_job",
    "new_build",
    "note_parts",
    "parts",
    "parts_account",
    "parts_events",
    "plan",
    "read_speeds",
    "results_schema",
    "torque",
    "undo_fit",
    "warm_up",
]

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
    from boostwright.errors import (
        BoostwrightError,
        BuildFileError,
        ConflictError,
        HistoryError,
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
    from boostwright.planning.plan import Wishes
    from boostwright.store import Job, open_job
    from boostwright.trust.run import Draws
    from boostwright.verbs import (
        AskedEvent,
        AskedReading,
        LoadedJob,
        Planned,
        check,
        demo_build,
        due_readings,
        explain,
        fit,
        judged_of,
        keep_fit,
        kept_fit,
        kept_fits,
        leak,
        load_build,
        load_job,
        new_build,
        override_hold,
        plan,
        record_event,
        record_reading,
        take_back,
        torque,
        undo_fit,
        warm_up,
    )
    from boostwright.views.document import document, to_json
    from boostwright.views.folder import write_folder
    from boostwright.views.terminal import terminal_report

__all__ = [
    "Amount",
    "AskedEvent",
    "AskedReading",
    "BoostwrightError",
    "Build",
    "BuildFileError",
    "CheckResult",
    "ConflictError",
    "Draws",
    "Finding",
    "Fit",
    "GoalLine",
    "Harm",
    "HistoryError",
    "Job",
    "Kind",
    "LeakAnswer",
    "LeakAsked",
    "LimitEdit",
    "LoadedJob",
    "NotConverged",
    "OutOfRange",
    "Planned",
    "ReadingError",
    "StrengthLine",
    "UnknownField",
    "Verdict",
    "Wishes",
    "__version__",
    "check",
    "demo_build",
    "document",
    "due_readings",
    "explain",
    "fit",
    "judged_of",
    "keep_fit",
    "kept_fit",
    "kept_fits",
    "leak",
    "load_build",
    "load_job",
    "new_build",
    "open_job",
    "override_hold",
    "plan",
    "record_event",
    "record_reading",
    "take_back",
    "terminal_report",
    "to_json",
    "torque",
    "undo_fit",
    "warm_up",
    "write_folder",
]

__version__ = "0.1.0"

_HOME = {
    "Amount": "boostwright.findings.model",
    "AskedEvent": "boostwright.verbs",
    "AskedReading": "boostwright.verbs",
    "BoostwrightError": "boostwright.errors",
    "Build": "boostwright.build.document",
    "BuildFileError": "boostwright.errors",
    "CheckResult": "boostwright.findings.result",
    "ConflictError": "boostwright.errors",
    "Draws": "boostwright.trust.run",
    "Finding": "boostwright.findings.model",
    "Fit": "boostwright.fitting",
    "GoalLine": "boostwright.findings.case",
    "Harm": "boostwright.findings.model",
    "HistoryError": "boostwright.errors",
    "Job": "boostwright.store",
    "Kind": "boostwright.findings.model",
    "LeakAnswer": "boostwright.findings.leak_answer",
    "LeakAsked": "boostwright.findings.leak_answer",
    "LimitEdit": "boostwright.findings.limits",
    "LoadedJob": "boostwright.verbs",
    "NotConverged": "boostwright.errors",
    "OutOfRange": "boostwright.errors",
    "Planned": "boostwright.verbs",
    "ReadingError": "boostwright.errors",
    "StrengthLine": "boostwright.findings.case",
    "UnknownField": "boostwright.errors",
    "Verdict": "boostwright.findings.model",
    "Wishes": "boostwright.planning.plan",
    "check": "boostwright.verbs",
    "demo_build": "boostwright.verbs",
    "document": "boostwright.views.document",
    "due_readings": "boostwright.verbs",
    "explain": "boostwright.verbs",
    "fit": "boostwright.verbs",
    "judged_of": "boostwright.verbs",
    "keep_fit": "boostwright.verbs",
    "kept_fit": "boostwright.verbs",
    "kept_fits": "boostwright.verbs",
    "leak": "boostwright.verbs",
    "load_build": "boostwright.verbs",
    "load_job": "boostwright.verbs",
    "new_build": "boostwright.verbs",
    "open_job": "boostwright.store",
    "plan": "boostwright.verbs",
    "override_hold": "boostwright.verbs",
    "record_event": "boostwright.verbs",
    "record_reading": "boostwright.verbs",
    "take_back": "boostwright.verbs",
    "terminal_report": "boostwright.views.terminal",
    "to_json": "boostwright.views.document",
    "torque": "boostwright.verbs",
    "undo_fit": "boostwright.verbs",
    "warm_up": "boostwright.verbs",
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

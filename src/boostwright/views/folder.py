"""Everything that `--out` leaves in a folder: the report, the machine-readable results and the plots."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from boostwright.findings.result import CheckResult
from boostwright.views.document import to_json
from boostwright.views.files import write_text
from boostwright.views.terminal import terminal_report

__all__ = ["write_folder"]


def write_folder(
    result: CheckResult, folder: Path, progress: Callable[[str], None] = lambda _: None
) -> tuple[Path, ...]:
    """Write report.txt, results.json and every plot as SVG and PNG; returns the paths. Raises OSError."""
    from boostwright.views.plots import draw_all

    report, results = folder / "report.txt", folder / "results.json"
    write_text(report, terminal_report(result, 80, colour=False, every=True))
    write_text(results, to_json(result))
    plots = draw_all(result, folder, progress)
    return (report, results, *(path for path, _ in plots))

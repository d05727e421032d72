"""Everything that a plan leaves in a folder."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from boostwright.planning.levers import Lever
from boostwright.planning.plan import Plan
from boostwright.planning.replan import Choice
from boostwright.planning.tasks import LeftOut
from boostwright.views.files import write_bytes
from boostwright.views.plan_document import plan_csv, plan_document, plan_ics
from boostwright.views.plan_page import plan_report

__all__ = ["write_plan"]


def write_plan(
    plan: Plan,
    levers: Sequence[Lever],
    choices: Sequence[Choice],
    left_out: Sequence[LeftOut],
    folder: Path,
    version: str,
    data: str,
    fingerprint: str,
    now: datetime,
) -> tuple[Path, ...]:
    """Write plan.txt, .csv, .json, .ics, .svg and .png; returns their paths. Raises OSError."""
    import matplotlib as mpl

    from boostwright.views.plots.plan import plan_sheet
    from boostwright.views.plots.style import RC

    folder.mkdir(parents=True, exist_ok=True)
    stamp = f"boostwright {version} · data {data} · inputs {fingerprint[:16]}"
    files = {
        "txt": plan_report(plan, levers, choices, stamp, 90).encode(),
        "csv": plan_csv(plan).encode(),
        "json": plan_document(plan, version, data, fingerprint, levers, choices, left_out).encode(),
        "ics": plan_ics(plan, now, fingerprint, version).encode(),
    }
    with mpl.rc_context(RC):  # type: ignore[arg-type]  # its keys are a list of words in the stubs
        sheet = plan_sheet(plan, f"{stamp} · {plan.name}")
        for ending in ("svg", "png"):
            buffer = io.BytesIO()
            metadata = {"Date": None} if ending == "svg" else {"Software": f"boostwright {version}"}
            sheet.figure.savefig(buffer, format=ending, dpi=132, metadata=metadata)
            files[ending] = buffer.getvalue()
    written = []
    for ending, content in files.items():
        path = folder / f"plan.{ending}"
        write_bytes(path, content)
        written.append(path)
    return tuple(written)

"""Write docs/task_list.md from the library's tables of tasks: `.venv/bin/python tools/make_task_list.py`.

With `--check` it writes nothing and ends with 1 when the page is not what it would write.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from boostwright.library.tasks import PHASES, TaskRow, When, task_rows
from boostwright.planning.task import Effort

PAGE = Path(__file__).resolve().parent.parent / "docs" / "task_list.md"
HEAD = """\
# Every task that a conversion can ask for

This page is made from `src/boostwright/library/tasks` by `tools/make_task_list.py`; a test keeps it current.
Which of these a build gets, in which order and with which of its own numbers, its file decides:
[tasks.md](tasks.md) says how. Times are hands-on minutes of a keen home builder with the parts at hand
(all goes well / likeliest / hardly anyone longer); common practice, no source, from memory.

A number after the people: so many are needed at once. **!**: never alone, never after ten hours or midnight.
Nothing here replaces the vehicle's manual, local codes, the law, or the people who are licensed for the work.
"""


def minutes(row: TaskRow) -> str:
    """The three times of a task; what is worked out from the build says so."""
    if row.minutes_of:
        return f"by the studs: {row.minutes_of}"
    return " / ".join(f"{seconds / 60.0:g}" for seconds in row.times)


def hours(rows: Iterable[TaskRow]) -> float:
    """Expected hours of the tasks that surely come, if all conditions hold; a task counts once [h]."""
    return sum(Effort(*row.times).mean for row in rows if not row.odds_of) / 3600.0


def said(when: When) -> str:
    """The conditions in words."""
    return ", ".join([*when.if_all, *(f"not: {name}" for name in when.unless)])


def cell(row: TaskRow) -> str:
    """What is done, with its hold point and where to stop."""
    parts = [text if when == When() else f"[{said(when)}] {text}" for text, when in row.says]
    if row.hold is not None:
        keys = ", ".join(f"`{key}`" for key, _ in row.hold.readings)
        seen = " Witnessed." if row.hold.witness else ""
        parts.append(f"**Hold:** {row.hold.rule}{seen}" + (f" ({keys})" if keys else ""))
    if row.stop:
        parts.append(f"**Stop:** {row.stop}")
    return " ".join(parts).replace("|", "\\|")


def after(row: TaskRow) -> str:
    """What it follows, with the waits."""
    waits = {lag.task: f"{lag.seconds / 3600.0:g} h" for lag in row.lags}
    return ", ".join(f"`{key}`" + (f" + {waits[key]}" if key in waits else "") for key, _ in row.after)


def page() -> str:
    """The text of the page."""
    lines = [HEAD]
    rows = tuple(task_rows().values())
    lines += [f"{len(rows)} tasks in {len(PHASES)} phases.", ""]
    for phase, about in PHASES.items():
        there = [row for row in rows if row.phase == phase]
        lines += [f"## {phase}: {about}", "", f"{len(there)} tasks, {hours(there):.1f} h.", ""]
        lines += [
            "| task | what | who | where | minutes | after | only if |",
            "|---|---|---|---|---|---|---|",
        ]
        for row in there:
            who = ", ".join(row.crew) + (f" ({len(row.crew)})" if len(row.crew) > 1 else "")
            mark = " !" if row.critical else ""
            lines.append(
                f"| `{row.key}`{mark} | {cell(row)} | {who} | {row.place} | {minutes(row)} | {after(row)}"
                f" | {said(row.when)} |"
            )
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def main() -> int:
    """Write the page, or check it."""
    text = page()
    if "--check" in sys.argv[1:]:
        return 0 if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == text else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

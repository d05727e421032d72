"""What a person sees when a build file has faults, or is worth a second look: every one, in the file's
order.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from boostwright.build.faults import Fault

__all__ = ["faults_report", "notes_lines"]

_LABEL = 10


def faults_report(faults: Sequence[Fault], file: str, width: int = 80) -> str:
    """All faults of a file, sorted by line, ending in a line break.

    One block a fault: where and what is written; what is wrong; the allowed range; what to do.
    """
    many = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    name = file or "the build file"
    said = f"✕ {name}: {many}. Nothing was computed."
    lines = [*textwrap.wrap(said, width, break_on_hyphens=False, break_long_words=False)]
    for fault in sorted(faults, key=lambda f: (f.line, f.column or 0)):
        lines.append("")
        lines += _block(fault, file, width)
    lines += ["", *textwrap.wrap("Mend these and run the same command again.", width)]
    return "\n".join(lines) + "\n"


def _block(fault: Fault, file: str, width: int) -> list[str]:
    where = f"{file}:{fault.line}" if file else f"line {fault.line}"
    what = fault.field
    if fault.written:
        what = f"{what} = {fault.written}" if what else fault.written
    head = textwrap.wrap(
        f"{where}  {what}".rstrip(), width, subsequent_indent=" " * _LABEL, break_on_hyphens=False,
        break_long_words=False,  # a path that is cut leads nowhere
    )  # fmt: skip
    rows = [("wrong", _sentence(fault.why)), ("allowed", _sentence(fault.allowed)), ("do", fault.remedy)]
    for label, text in rows:
        if text:
            head += textwrap.wrap(
                text, width, initial_indent=f"  {label}".ljust(_LABEL), subsequent_indent=" " * _LABEL,
                break_on_hyphens=False,
            )  # fmt: skip
    return head


def _sentence(text: str) -> str:
    text = text.strip()
    if not text:
        return ""
    return text if text.endswith((".", "?")) else f"{text}."


def notes_lines(notes: Sequence[Fault]) -> tuple[str, ...]:
    """What is unusual but possible in a file, one sentence each."""
    return tuple(note.sentence() for note in notes)

"""What can be wrong with a build file, as records that every door can print."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

__all__ = ["Fault", "Severity"]

_LONGEST_WRITTEN = 80


class Severity(Enum):
    """A fault stops the file from being used; a note is for reading."""

    FAULT = "fault"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, or worth a look, at one place of the file."""

    code: str  # short key for programs: "wrong-unit", "duplicate-key" ...
    line: int  # first line is 1; for something missing, the line where it belongs
    field: str  # dotted path, or "" for the file as a whole
    written: str  # as the file has it, shortened
    allowed: str  # the allowed range or form, or ""
    why: str  # one sentence
    remedy: str  # what to do next
    column: int | None = None  # first column is 1
    severity: Severity = Severity.FAULT

    @property
    def is_unusual(self) -> bool:
        """True for a note about an unusual value, False for one about what was taken for granted."""
        return self.severity is Severity.NOTE and self.code == "unusual"

    def __post_init__(self) -> None:
        """Keep a long value short: the line number says where the rest is."""
        if len(self.written) > _LONGEST_WRITTEN:
            object.__setattr__(self, "written", f"{self.written[: _LONGEST_WRITTEN - 3]}...")

    def sentence(self) -> str:
        """The fault in one line of plain text: place, field, value, reason, range, remedy."""
        where = f"line {self.line}" + (f", column {self.column}" if self.column else "")
        name = f": {self.field}" if self.field else ""
        written = (
            f" = {self.written}"
            if self.written and self.field
            else (f": {self.written}" if self.written else "")
        )
        allowed = f" Allowed: {self.allowed}." if self.allowed else ""
        return f"{where}{name}{written}: {self.why}.{allowed} {self.remedy}"

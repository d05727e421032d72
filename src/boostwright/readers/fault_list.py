"""Faults of one file as they are found, and what they come to in the end."""

from __future__ import annotations

from boostwright.build.faults import Fault, Severity
from boostwright.errors import BuildFileError

__all__ = ["FaultList", "Full"]


class Full(Exception):
    """So many faults that reading stops; `FaultList.settled` says it in words."""


class FaultList:
    """Faults as they are found; reading stops when there are too many."""

    def __init__(self, most: int) -> None:
        """most: faults that are listed."""
        self.most = most
        self.found: list[Fault] = []

    def add(
        self, code: str, line: int, field: str, written: str, allowed: str, why: str, remedy: str,
        severity: Severity = Severity.FAULT, column: int | None = None,
    ) -> None:  # fmt: skip
        """One more. Raises Full when it is one too many."""
        self.found.append(Fault(code, line, field, written[:60], allowed, why, remedy, column, severity))
        if len(self.found) >= self.most:
            raise Full

    def cut_short(self) -> None:
        """The last place says that there were too many."""
        self.found[-1] = Fault(
            "too-many", self.found[-1].line, "", "", "",
            f"more than {self.most} faults; the rest is not listed",
            "Mend these first and read the file again.",
        )  # fmt: skip

    def settled(self, file: str, hopeless: bool = False) -> tuple[Fault, ...]:
        """What only deserves a look, in the order of the file. file: how the message calls it. hopeless:
        whether nothing was read. Raises BuildFileError with the faults where there is one, or where nothing
        was read.
        """
        self.found.sort(key=lambda fault: (fault.line, fault.column or 0))
        hard = tuple(fault for fault in self.found if fault.severity is Severity.FAULT)
        if hard or hopeless:
            count = "1 fault" if len(hard) == 1 else f"{len(hard)} faults"
            raise BuildFileError(f"{file}: {count}. First: {hard[0].sentence()}", hard)
        return tuple(self.found)

"""What a task is decided on: the build, and what the check found."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from boostwright.build.document import Build
from boostwright.findings.model import Finding, Verdict
from boostwright.systems.fasteners import SheetRow, torque_sheet
from boostwright.systems.stated.fasteners import fasteners_of

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult

__all__ = ["Ground"]


@dataclass
class Ground:
    """One build and its check, asked by conditions and amounts. result: None where nobody has checked."""

    build: Build
    result: CheckResult | None = None

    @cached_property
    def _findings(self) -> dict[str, Finding]:
        return {} if self.result is None else {finding.code: finding for finding in self.result.findings}

    @cached_property
    def torque_sheet(self) -> dict[str, SheetRow]:
        """The torque sheet's rows by the joint's name."""
        return {row.bolt.name: row for row in torque_sheet(fasteners_of(self.build))}

    def finding(self, code: str) -> Finding | None:
        """The finding of that code; None where it was not judged."""
        return self._findings.get(code)

    def fails(self, code: str) -> bool:
        """Whether that finding breaks or is tight."""
        found = self.finding(code)
        return found is not None and found.verdict in {Verdict.BREAKS, Verdict.TIGHT}

    def breaks(self, code: str) -> bool:
        """Whether that finding breaks."""
        found = self.finding(code)
        return found is not None and found.verdict is Verdict.BREAKS

    def words(self, path: str) -> str:
        """A text or a choice; '' where there is none."""
        value = self.build.get(path)
        return value.value if value is not None and isinstance(value.value, str) else ""

    def flag(self, path: str) -> bool:
        """A yes; no where nothing is said."""
        value = self.build.get(path)
        return value is not None and value.value is True

    def number(self, path: str) -> float | None:
        """A single number [SI]; None where there is none."""
        value = self.build.get(path)
        if value is None or isinstance(value.value, bool) or not isinstance(value.value, (int, float)):
            return None
        return float(value.value)

    def stated(self, path: str) -> bool:
        """Whether the file says it."""
        return self.build.is_stated(path)

    def fasteners(self, clamps: str) -> tuple[str, ...]:
        """The names of the [[fasteners]] that hold such a joint."""
        return tuple(
            str(row["name"].value)
            for row in self.build.table("fasteners")
            if "name" in row and "clamps" in row and row["clamps"].value == clamps
        )

    def fastener_count(self, clamps: str) -> int | None:
        """How many bolts those are; None where the file does not say."""
        counts = [
            int(row["count"].value)
            for row in self.build.table("fasteners")
            if "count" in row and "clamps" in row and row["clamps"].value == clamps
        ]
        return sum(counts) if counts else None

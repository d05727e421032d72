"""What was computed of a build and kept beside its file, as the fits need it: a small face of the job."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from boostwright.store.job import open_job
from boostwright.store.kept import Revision, newest_kept

__all__ = ["History", "Revision"]


class History:
    """The fits of one build file. Every method raises HistoryError where the store cannot be used."""

    def __init__(self, build_file: str | Path, where: str = "") -> None:
        """build_file: the build's own file. where: as of `open_job`."""
        self._given = build_file, where
        with open_job(build_file, where) as job:
            self.shown = job.place.shown

    def add(self, kind: str, inputs: str, content: Any, *, program: str, data: str) -> Revision:
        """Append one entry and return it once it is safely on the disk."""
        with open_job(*self._given) as job:
            return job.keep(kind, inputs, content, program=program, data=data)

    def all(self) -> tuple[Revision, ...]:
        """Every entry, oldest first; none where there is no history."""
        with open_job(*self._given) as job:
            return job.kept()

    def newest(self, kind: str, inputs: str) -> Revision | None:
        """The newest entry of a kind for a build as it stands; None where it was taken back or is none."""
        return newest_kept(self.all(), kind, inputs)

"""The exception tree of boostwright.

BoostwrightError            base of everything that we raise on purpose
+-- BuildFileError          a build file could not be used; carries every fault found (`.faults`)
+-- OutOfRange (ValueError) an argument of a model is outside its ground
+-- NotConverged            an iteration did not settle; carries the last state
+-- NoPlan                  the work cannot be put into the people's hours; `.obstacles` holds why
+-- HistoryError            the history beside a build file could not be read or written
|   +-- CannotKeep          what was given can be kept in no store
|   +-- ConflictError       two people changed the same build; carries both texts
|   +-- ArchiveError        a file that should hold a whole job is none, or is damaged
+-- ReadingError            something that was to be recorded cannot be; what to write instead (`.remedy`)
+-- LogRefused              a recorded drive cannot be read, or is none; what to do (`.remedy`)
+-- UnknownField (KeyError) a field name that the build document does not have
"""

from __future__ import annotations

from typing import Any

__all__ = [
    "ArchiveError",
    "BoostwrightError",
    "BuildFileError",
    "CannotKeep",
    "ConflictError",
    "HistoryError",
    "LogRefused",
    "NoPlan",
    "NotConverged",
    "OutOfRange",
    "ReadingError",
    "UnknownField",
]


class BoostwrightError(Exception):
    """Base class: a problem that is worded for the person at the bench."""


class BuildFileError(BoostwrightError):
    """A build file could not be used; `faults` holds every fault that could still be read."""

    def __init__(self, message: str, faults: tuple[Any, ...] = ()) -> None:
        super().__init__(message)
        self.faults = faults


class OutOfRange(BoostwrightError, ValueError):
    """A value lies outside the ground on which the model was made."""


class NotConverged(BoostwrightError):
    """An iteration did not settle to its tolerance."""


class NoPlan(BoostwrightError):
    """The work cannot be put into the people's hours; `obstacles` holds every reason that was found."""

    def __init__(self, message: str, obstacles: tuple[Any, ...] = ()) -> None:
        super().__init__(message)
        self.obstacles = obstacles


class HistoryError(BoostwrightError):
    """The history beside a build file could not be read or written; the build file itself is whole."""


class CannotKeep(HistoryError):
    """What was given can be kept in no store: to write it again later would not help."""


class ConflictError(HistoryError):
    """A build was changed by another person since it was read; nothing was overwritten.

    based_on: revision that the change began from. mine, theirs: the text that was to be kept, and the newest
    one. number, who, time: of the newest.
    """

    def __init__(self, based_on: int, mine: str, theirs: str, newest: tuple[int, str, str]) -> None:
        self.based_on, self.mine, self.theirs = based_on, mine, theirs
        self.number, self.who, self.time = newest
        began = f"revision {based_on}" if based_on else "no revision that is known"
        super().__init__(
            f"the build was changed elsewhere: revision {self.number} is by {self.who}, {self.time[:16]}"
            f" UTC, and your text goes back to {began}. Nothing was overwritten. `boostwright history FILE"
            f" --diff {self.number}` shows what differs; then `--take-mine` keeps your text as the newest,"
            f" or `--restore {self.number}` brings theirs into your file (yours is kept first)."
        )


class ArchiveError(HistoryError):
    """A file that should hold a whole job is none, is damaged, or holds what it must not; nothing was taken
    in.
    """


class ReadingError(BoostwrightError):
    """A reading or an event that cannot be recorded as it was written; `remedy` says what to do.

    ask: it could be true, and is so unlikely that a person has to say it twice.
    """

    def __init__(self, why: str, remedy: str = "", ask: bool = False) -> None:
        super().__init__(f"{why} {remedy}".strip())
        self.why, self.remedy, self.ask = why, remedy, ask


class LogRefused(BoostwrightError):
    """A recorded drive that cannot be read, or a file that is none; `code` is its kind, `remedy` helps.

    mapping: what the columns were taken for, where the file could be read so far and an answer may help.
    """

    mapping: Any = None

    def __init__(self, code: str, why: str, remedy: str) -> None:
        super().__init__(f"{why}. {remedy}".strip())
        self.code, self.why, self.remedy = code, why, remedy


class UnknownField(BoostwrightError, KeyError):
    """The build document has no field of that name."""

    def __str__(self) -> str:
        return str(self.args[0]) if self.args else ""

"""The exception tree of boostwright.

BoostwrightError            base of everything that we raise on purpose
+-- BuildFileError          a build file could not be used; carries every fault found (`.faults`)
+-- OutOfRange (ValueError) an argument of a model is outside its ground
+-- NotConverged            an iteration did not settle; carries the last state
+-- NoPlan                  the work cannot be put into the people's hours; `.obstacles` holds why
+-- HistoryError            the history beside a build file could not be read or written
+-- UnknownField (KeyError) a field name that the build document does not have
"""

from __future__ import annotations

from typing import Any

__all__ = [
    "BoostwrightError",
    "BuildFileError",
    "HistoryError",
    "NoPlan",
    "NotConverged",
    "OutOfRange",
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


class UnknownField(BoostwrightError, KeyError):
    """The build document has no field of that name."""

    def __str__(self) -> str:
        return str(self.args[0]) if self.args else ""

"""What the exit code says."""

from __future__ import annotations

from typing import Final

__all__ = ["BREAKS", "FINE", "NOBODY_READS", "STOPPED", "UNKNOWN", "UNUSABLE", "WENT_WRONG"]

FINE: Final = 0  # nothing breaks, nothing is unknown
BREAKS: Final = 1
UNUSABLE: Final = 2  # the command or a file
UNKNOWN: Final = 3  # nothing breaks, but something cannot be told yet
WENT_WRONG: Final = 4
STOPPED: Final = 130  # by the person, as a shell reports it
NOBODY_READS: Final = 141  # the pipe was closed, as a shell reports it

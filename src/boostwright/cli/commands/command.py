"""What a command is: its name, its help, its arguments and what it does."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Command", "version_line"]


@dataclass(frozen=True, slots=True)
class Command:
    """One command of the program; `run` returns the exit code."""

    name: str
    help: str  # half a line, for the list of commands
    about: str  # a few sentences
    examples: str
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def version_line() -> str:
    """The program's version and that of the reference data."""
    from boostwright import __version__
    from boostwright.library.version import data_version

    return f"boostwright {__version__}, data {data_version()}"

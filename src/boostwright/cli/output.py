"""Printing: what a terminal can show, where messages go, how the operating system's complaints are put."""

from __future__ import annotations

import errno
import os
import shutil
import sys
import threading
from contextlib import suppress
from pathlib import Path
from typing import TextIO

from boostwright.views.files import NO_FOLDER
from boostwright.views.words import plain

__all__ = ["Progress", "complain", "os_error_words", "say", "wants_colour", "width"]


def say(text: str, stream: TextIO | None = None) -> None:
    """Print a text on stdout; in plain ASCII where the terminal can show no more."""
    stream = sys.stdout if stream is None else stream
    print(fitting(text, stream), file=stream)


def complain(text: str) -> None:
    """Print a message on stderr, with the program's name before it."""
    with suppress(OSError, ValueError):  # nobody may be listening there
        say(f"boostwright: {text}", sys.stderr)


def fitting(text: str, stream: TextIO) -> str:
    """The text as the stream can carry it."""
    encoding = getattr(stream, "encoding", None) or "ascii"
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return plain(text).encode("ascii", "replace").decode("ascii")
    return text


def width() -> int:
    """Columns to write for: those of the terminal, 80 in a pipe."""
    return shutil.get_terminal_size((80, 24)).columns


def wants_colour() -> bool:
    """Colour only on a terminal, and never against NO_COLOR."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def os_error_words(mishap: OSError) -> str:
    """What went wrong with a file, and what to do next."""
    name = mishap.filename if mishap.filename is not None else "the file"
    told = {
        errno.ENOENT: ("there is no such file", "Check the name and the folder you are in."),
        errno.EISDIR: ("this is a folder, and a file is needed", "Name the file inside it."),
        errno.ENOTDIR: ("a part of this path is a file, and a folder is needed", "Name another place."),
        errno.EACCES: ("you may not open this", "Ask for the right to, or choose another place."),
        errno.EPERM: ("you may not change this", "Ask for the right to, or choose another place."),
        errno.ENOSPC: ("the disk is full", "Free some space and run the same command again."),
        errno.EROFS: ("this disk can only be read", "Choose another place."),
        errno.ENAMETOOLONG: ("this name is too long for the disk", "Choose a shorter one."),
        errno.EEXIST: (
            "there is a file of this name already",
            "Choose another name, or move that file.",
        ),
    }
    if mishap.errno == errno.EISDIR:
        with suppress(OSError):
            inside = sorted(one.name for one in Path(name).glob("*.toml"))[:5]
            if inside:
                return f"{name}: {told[errno.EISDIR][0]}. Inside it: {', '.join(inside)}."
    if mishap.strerror == NO_FOLDER:
        return f"{name}: {NO_FOLDER}. Make it first, or name a place that is there."
    what, remedy = told.get(
        mishap.errno or 0, (mishap.strerror or str(mishap), "Check the name, the disk and your rights.")
    )
    return f"{name}: {what}. {remedy}"


_COUNTED = ("draws:", "stopping;", "copying ")  # stages that say how long they take need no other word


class Progress:
    """Says on stderr what is being done: one line that changes on a terminal, a line each in a pipe.

    A stage that takes longer than `PATIENCE` is explained once: the first run on a machine compiles.
    """

    PATIENCE = 6.0  # [s]

    def __init__(self, quiet: bool = False) -> None:
        self.quiet = quiet
        self.live = sys.stderr.isatty()
        self._last = ""
        self._explained = False
        self._waiting: threading.Timer | None = None

    def __call__(self, text: str) -> None:
        """Say what begins now."""
        if self.quiet or text == self._last:
            return
        self._rest()
        self._last = text
        self._write(f"{text} ...")
        if not self._explained and not text.startswith(_COUNTED):
            self._waiting = threading.Timer(self.PATIENCE, self._explain)
            self._waiting.daemon = True
            self._waiting.start()

    def done(self) -> None:
        """Wipe the changing line."""
        self._rest()
        if self.live and self._last and not self.quiet:
            print(f"\r{'':<{width() - 1}}\r", end="", file=sys.stderr, flush=True)
        self._last = ""

    def _explain(self) -> None:
        self._explained = True
        with suppress(OSError, ValueError):
            self._write(f"{self._last}; the first run on a machine compiles, once, up to a minute or two ...")

    def _rest(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _write(self, text: str) -> None:
        line = fitting(text, sys.stderr)
        if self.live:
            columns = width() - 1
            print(f"\r{line[:columns]:<{columns}}", end="", file=sys.stderr, flush=True)
        else:
            print(line, file=sys.stderr, flush=True)

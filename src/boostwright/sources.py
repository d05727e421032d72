"""The literature list: one key per publication, kept in ``sources.toml``.

A docstring, a data file or a test cites a publication by its key. ``seen`` says how far we know the source
itself, so that nobody takes a remembered constant for one that was read off the page.
"""

from __future__ import annotations

import tomllib
from enum import Enum
from pathlib import Path
from typing import Final, NamedTuple

from boostwright.errors import UnknownField

__all__ = ["SOURCES", "Seen", "Source", "source"]


class Seen(Enum):
    """How a publication was used."""

    IN_PRINT = "read in print"
    ABSTRACT = "abstract or excerpt read, constants from memory where they are not in it"
    MEMORY = "from memory"
    LIBRARY = "as coded in a published library"


class Source(NamedTuple):
    """One publication."""

    key: str
    authors: str
    year: int
    title: str
    where: str
    seen: Seen


_SEEN: Final = {
    "print": Seen.IN_PRINT,
    "abstract": Seen.ABSTRACT,
    "memory": Seen.MEMORY,
    "library": Seen.LIBRARY,
}


def _read() -> dict[str, Source]:
    raw = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return {key: Source(key, **{**row, "seen": _SEEN[row["seen"]]}) for key, row in raw.items()}


SOURCES: Final[dict[str, Source]] = _read()  # two publications with one key are refused by the reader of TOML


def source(key: str) -> Source:
    """The publication of ``key``; raises UnknownField with the nearest keys if there is none."""
    try:
        return SOURCES[key]
    except KeyError:
        near = ", ".join(k for k in SOURCES if k[:4] == key[:4]) or "none alike"
        raise UnknownField(f"no publication {key!r} in the literature list; near: {near}") from None

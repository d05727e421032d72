"""Reading of ``notices/``: what may be noticed in a drive, in words, with the limits by which it is found."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_folder

__all__ = ["HARMS", "NoticeKind", "notice_kinds"]

HARMS = ("none", "log", "drive", "part", "engine")
"""What is at stake, the worst last: nothing, the log itself, how the car drives, one part, the engine."""


class NoticeKind(NamedTuple):
    """One kind of notice.

    words: what happened. why: why it matters. change: what to do, smallest first. harm: one of HARMS.
    fault: False where it is explained and nothing to mend. caution: key of ``cautions.toml``, "" where none.
    limits: SI, by name; basis: the reason for each. at_once: it does its harm within seconds.
    """

    key: str
    words: str
    why: str
    change: tuple[str, ...]
    harm: str
    fault: bool
    caution: str
    limits: Mapping[str, float]
    basis: Mapping[str, str]
    at_once: bool = False

    @property
    def rank(self) -> int:
        """Place of its harm, twice: 0 none, 8 the engine, 9 the engine within seconds."""
        return 2 * HARMS.index(self.harm) + self.at_once


@cache
def notice_kinds() -> Mapping[str, NoticeKind]:
    """Every kind by its key, file by file."""
    found: dict[str, NoticeKind] = {}
    for text in read_folder("notices").values():
        for key, row in tomllib.loads(text).items():
            limits = row.get("limits", {})
            found[key] = NoticeKind(
                key,
                row["words"],
                row["why"],
                tuple(row["change"]),
                row["harm"],
                bool(row["fault"]),
                row.get("caution", ""),
                {name: float(one["value"]) for name, one in limits.items()},
                {name: one["basis"] for name, one in limits.items()},
                bool(row.get("at_once", False)),
            )
    return found

"""Reading of ``learned_changes.toml``: what to do where a drive moved an unknown."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["EFFORTS", "LearnedChange", "learned_changes"]

EFFORTS = {1: "a number", 2: "a look or a reading", 3: "an adjustment", 4: "a part"}
"""How much work a change is, the least first."""


class LearnedChange(NamedTuple):
    """What to do. effort: a key of EFFORTS."""

    effort: int
    words: str


@cache
def learned_changes() -> Mapping[str, LearnedChange]:
    """What to do by the name of the unknown."""
    raw = tomllib.loads(read_text("learned_changes.toml"))
    return {name: LearnedChange(int(row["effort"]), str(row["words"])) for name, row in raw.items()}

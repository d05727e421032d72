"""Reading of ``cautions.toml``: where work can hurt someone, what to mind, and whom to defer to."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["CautionRow", "caution_rows", "deference"]


class CautionRow(NamedTuple):
    """text: the whole sentence. short: the reminder after it was shown once. subjects: of the findings it
    stands beside. licence: what of it is for licensed or official people, '' where nothing is.
    """

    key: str
    text: str
    short: str
    subjects: tuple[str, ...]
    licence: str


@cache
def caution_rows() -> Mapping[str, CautionRow]:
    """Every caution by its key, in the file's order."""
    return {
        key: CautionRow(key, row["text"], row["short"], tuple(row["subjects"]), row.get("licence", ""))
        for key, row in tomllib.loads(read_text("cautions.toml")).items()
        if key != "defer"
    }


def deference() -> str:
    """The sentence under every list of cautions: who comes first."""
    return str(tomllib.loads(read_text("cautions.toml"))["defer"])

"""Nearest valid spellings of a word that is not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["nearest"]

_LONGEST = 40  # longer words are cut before comparing, so that a hostile file costs no time


def nearest(word: str, known: Iterable[str], count: int = 3, cutoff: float = 0.6) -> tuple[str, ...]:
    """The `count` known words most like `word`, best first, case and '-', '_', ' ' set aside.

    `cutoff` is the least similarity by difflib.SequenceMatcher [0..1]. Returns an empty tuple when none is
    near.
    """

    def plain(text: str) -> str:
        return text[:_LONGEST].casefold().replace("-", "").replace("_", "").replace(" ", "")

    by_plain: dict[str, str] = {}
    for name in known:
        by_plain.setdefault(plain(name), name)
    found = difflib.get_close_matches(plain(word), by_plain, n=count, cutoff=cutoff)
    return tuple(by_plain[match] for match in found)

"""Whether two names are two people's."""

from __future__ import annotations

import unicodedata

__all__ = ["another"]


def another(witness: str, who: str) -> bool:
    """Whether a second name is there and is another person's, however either is spaced and written."""
    return bool(_plain(witness)) and _plain(witness) != _plain(who)


def _plain(name: str) -> str:
    return "".join(sign for sign in unicodedata.normalize("NFKC", name).casefold() if sign.isalnum())

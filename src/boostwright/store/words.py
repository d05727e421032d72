"""Texts that a store may keep in its columns, the same ones in every kind of database."""

from __future__ import annotations

from typing import Final

from boostwright.errors import CannotKeep

__all__ = ["kept_text"]

_LONGEST: Final = 4000


def kept_text(text: str, what: str) -> str:
    """The text, where it can be kept as it is. what: names it in the error.

    Raises CannotKeep for what is no text, holds a zero byte or half a sign, or is longer than 4000 signs.
    """
    if not isinstance(text, str):
        raise CannotKeep(f"{what} is a {type(text).__name__}, where a text is needed.")
    if len(text) > _LONGEST:
        raise CannotKeep(f"{what} has {len(text)} signs; {_LONGEST} at most can be kept. Shorten it.")
    if "\0" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise CannotKeep(f"{what}, {text[:40]!r}, holds a sign that cannot be kept. Write it again without.")
    return text

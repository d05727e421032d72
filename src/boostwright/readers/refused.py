"""A value of the file that cannot be used, and how values are named in messages."""

from __future__ import annotations

from typing import Any

from boostwright.quantity import Dimension

__all__ = ["Refused", "article", "is_number", "number_text", "shown", "type_name"]


class Refused(Exception):
    """A value that cannot be used: code, why, remedy, and the allowed range if it is not the field's own."""

    def __init__(self, code: str, why: str, remedy: str, allowed: str | None = None) -> None:
        super().__init__(why)
        self.code, self.why, self.remedy, self.allowed = code, why, remedy, allowed


def article(dimension: Dimension) -> str:
    """The dimension with its article."""
    return f"a {dimension.value}" if dimension.value[0] not in "aeo" else f"an {dimension.value}"


def is_number(value: Any) -> bool:
    """True for a plain number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def number_text(value: float | int) -> str:
    """A number as the file would write it, huge ones in words."""
    return f"{value}"[:40] if abs(value) < 1e30 else "a huge number"


def type_name(value: Any) -> str:
    """What kind of value stands there, in words."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, (int, float)):
        return "a number"
    if isinstance(value, str):
        return f"the text '{shown(value)}'"
    if isinstance(value, list):
        return "a list"
    return "a table" if isinstance(value, dict) else "a date or time"


def shown(value: Any) -> str:
    """A value shortened for a message."""
    text = str(value) if not isinstance(value, int) or isinstance(value, bool) else number_text(value)
    return text if len(text) <= 60 else text[:57] + "..."

"""What is wrong with a written quantity, in words for the person who wrote it."""

from __future__ import annotations

__all__ = ["QuantityError"]


class QuantityError(ValueError):
    """A text is not a quantity of the asked kind: `code` for programs, `why` and `remedy` for people."""

    def __init__(self, code: str, why: str, remedy: str) -> None:
        super().__init__(f"{why}. {remedy}")
        self.code = code
        self.why = why
        self.remedy = remedy

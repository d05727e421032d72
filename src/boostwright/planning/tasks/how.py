"""What a rule about amounts answers, and the register of such rules."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

from boostwright.planning.tasks.ground import Ground
from boostwright.quantity import Dimension

__all__ = ["RULES", "How", "Rule", "amount", "count"]


class How(NamedTuple):
    """value: SI, None where the file does not tell. words: the sentence; '' where there is none to say."""

    value: float | None
    dimension: Dimension
    words: str = ""


Rule = Callable[[Ground], How]
RULES: Final[dict[str, Rule]] = {}


def amount(name: str) -> Callable[[Rule], Rule]:
    """Register a rule under the name that the tables of tasks use. Raises ValueError for a name twice."""

    def keep(rule: Rule) -> Rule:
        if name in RULES:
            raise ValueError(f"the amount '{name}' stands twice")
        RULES[name] = rule
        return rule

    return keep


def count(value: float | None, words: str = "") -> How:
    """An answer that is a number of things, or words alone."""
    return How(value, Dimension.COUNT, words)

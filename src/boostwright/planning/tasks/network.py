"""The network of tasks: what follows what, when some fall out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from graphlib import CycleError, TopologicalSorter

__all__ = ["ancestors", "closed", "reduced", "sorted_keys"]

Links = Mapping[str, Sequence[str]]
"""Task -> those that come before it."""


def closed(links: Links, kept: frozenset[str]) -> dict[str, tuple[str, ...]]:
    """The links among the kept tasks; who followed a task that falls out follows what came before it."""
    found: dict[str, tuple[str, ...]] = {}

    def through(key: str, seen: frozenset[str]) -> list[str]:
        before: list[str] = []
        for one in links[key]:
            if one in kept:
                before.append(one)
            elif one not in seen:
                before.extend(through(one, seen | {one}))
        return before

    for key in links:
        if key in kept:
            found[key] = tuple(dict.fromkeys(through(key, frozenset({key}))))
    return found


def sorted_keys(links: Links) -> tuple[str, ...]:
    """The keys with each task after all that come before it. Raises ValueError naming a circle."""
    try:
        return tuple(TopologicalSorter(links).static_order())
    except CycleError as circle:
        raise ValueError("tasks wait for each other: " + " <- ".join(circle.args[1])) from None


def ancestors(links: Links) -> dict[str, frozenset[str]]:
    """Everything that comes before each task, however far back."""
    found: dict[str, frozenset[str]] = {}
    for key in sorted_keys(links):
        found[key] = frozenset(links[key]).union(*(found[one] for one in links[key]))
    return found


def reduced(links: Links, keep: frozenset[tuple[str, str]] = frozenset()) -> dict[str, tuple[str, ...]]:
    """The same order with no link that others imply. keep: (task, before) that stay all the same."""
    far = ancestors(links)
    return {
        key: tuple(
            one
            for one in before
            if (key, one) in keep or not any(one in far[other] for other in before if other != one)
        )
        for key, before in links.items()
    }

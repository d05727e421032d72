"""How well a reading repeats from one day to the next, by the field that it states; see ``measurements/``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library.measurements import measurements
from boostwright.uncertainty import Spread

__all__ = ["Repeat", "repeatability"]


class Repeat(NamedTuple):
    """Of one reading of one field."""

    spread: Spread  # one standard deviation, SI, and as a share
    source: str


@cache
def repeatability() -> Mapping[str, Repeat]:
    """Repeatability by field: that of the first measurement which states the field."""
    found: dict[str, Repeat] = {}
    for one in measurements().values():
        if one.field and one.repeat is not None:
            found.setdefault(one.field, Repeat(one.repeat, one.repeat_source))
    return found

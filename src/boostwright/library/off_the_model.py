"""Reading of ``off_the_model.toml``: what it may mean that a reading stands beside the model."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["OffTheModel", "off_the_model"]


class OffTheModel(NamedTuple):
    """One row of comparison. channels: that show it. above, below: where to look, the cheapest first."""

    channels: tuple[str, ...]
    above: tuple[str, ...]
    below: tuple[str, ...]


@cache
def off_the_model() -> Mapping[str, OffTheModel]:
    """All rows by key."""
    raw = tomllib.loads(read_text("off_the_model.toml"))
    return {
        key: OffTheModel(tuple(row["channels"]), tuple(row["above"]), tuple(row["below"]))
        for key, row in raw.items()
    }

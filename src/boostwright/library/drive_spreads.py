"""Reading of ``drive_spreads.toml``: how well a drive is known where neither log nor build says it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["DriveSpread", "drive_spread", "drive_spreads"]


class DriveSpread(NamedTuple):
    """One row. value: SI, or a share where the unit is '-'. basis: where it comes from."""

    value: float
    unit: str
    basis: str


@cache
def drive_spreads() -> Mapping[str, Mapping[str, DriveSpread]]:
    """All rows by section and name."""
    raw = tomllib.loads(read_text("drive_spreads.toml"))
    return {
        section: {
            name: DriveSpread(float(row["value"]), row["unit"], row["basis"]) for name, row in rows.items()
        }
        for section, rows in raw.items()
    }


def drive_spread(section: str, name: str) -> float:
    """The value of one row [SI]. Raises KeyError."""
    return drive_spreads()[section][name].value

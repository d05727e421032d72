"""Reading of ``calibration.toml``: rules of the trade where no model reaches."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import UnknownField
from boostwright.library import read_text

__all__ = ["Rule", "rule_of"]

Array = NDArray[np.float64]


class Rule(NamedTuple):
    """One rule. at: coolant temperatures [K] or engine speeds [rpm], empty for a single number. value: in the
    file's unit.
    spread: one standard deviation, as the file says. source, reason: why one may use it.
    """

    key: str
    words: str
    at: Array
    value: Array
    spread: float
    source: str
    reason: str

    @property
    def number(self) -> float:
        """The value of a rule that is one number."""
        return float(self.value[0])


@cache
def _rules() -> dict[str, Rule]:
    found = {}
    for key, row in tomllib.loads(read_text("calibration.toml")).items():
        value = np.atleast_1d(np.asarray(row["value"], dtype=np.float64))
        at = np.asarray(row.get("speed", []), dtype=np.float64)
        if "temperature" in row:
            at = np.asarray(row["temperature"], dtype=np.float64) + 273.15
        found[key] = Rule(
            key, row["words"], at, value, float(row["spread"]), row["source"], row.get("reason", "")
        )
    return found


def rule_of(key: str) -> Rule:
    """The rule of that key; raises UnknownField where there is none."""
    try:
        return _rules()[key]
    except KeyError:
        raise UnknownField(f"no rule {key!r} in calibration.toml; there are: {', '.join(_rules())}") from None

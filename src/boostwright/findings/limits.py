"""The limits that demands are set against: a data file with sources, and a person's own edits on top."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from boostwright.errors import UnknownField
from boostwright.findings.model import Amount, Kind, LimitRecord, Sense
from boostwright.library import read_folder

__all__ = ["Limit", "LimitEdit", "Limits", "shipped_limits"]

_SI: Mapping[str, tuple[float, float]] = {  # unit in the data file -> factor and offset to SI
    "": (1.0, 0.0),
    "%": (0.01, 0.0),
    "bar": (1.0e5, 0.0),
    "kPa": (1.0e3, 0.0),
    "degC": (1.0, 273.15),
    "K": (1.0, 0.0),
    "ms": (1.0e-3, 0.0),
    "s": (1.0, 0.0),
    "deg": (math.pi / 180.0, 0.0),
    "m/s": (1.0, 0.0),
    "N m/L": (1.0e3, 0.0),
    "rpm": (math.pi / 30.0, 0.0),
    "mm": (1.0e-3, 0.0),
    "L/min": (1.0e-3 / 60.0, 0.0),
    "L": (1.0e-3, 0.0),
    "V": (1.0, 0.0),
    "A": (1.0, 0.0),
    "years": (31557600.0, 0.0),
}


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit with its spread [SI], its safe side and the record of where it comes from."""

    amount: Amount
    sense: Sense
    record: LimitRecord


@dataclass(frozen=True, slots=True)
class LimitEdit:
    """A person's own value for a limit: value and sd [SI], and the reason that they give."""

    key: str
    value: float
    sd: float | None
    reason: str
    source: str = "the build file"


class Limits(Mapping[str, Limit]):
    """All limits by key; an unknown key is a mistake of ours and raises `UnknownField`."""

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        self._limits = dict(limits)

    def __getitem__(self, key: str) -> Limit:
        try:
            return self._limits[key]
        except KeyError:
            raise UnknownField(
                f"there is no limit named {key!r}; the limits are {', '.join(sorted(self._limits))}"
            ) from None

    def __iter__(self):  # type: ignore[no-untyped-def]
        return iter(self._limits)

    def __len__(self) -> int:
        return len(self._limits)

    def edited(self, edits: tuple[LimitEdit, ...]) -> Limits:
        """The same limits with a person's edits in place. Raises ValueError for an edit without a reason."""
        changed = dict(self._limits)
        for edit in edits:
            old = self[edit.key]
            if not edit.reason.strip():
                raise ValueError(
                    f"limit {edit.key}: say why you change it; a limit without a reason is a wish"
                )
            record = replace(old.record, source=edit.source, edited=True, edit_reason=edit.reason)
            sd = old.amount.sd if edit.sd is None else edit.sd
            changed[edit.key] = replace(
                old, amount=replace(old.amount, value=edit.value, sd=sd), record=record
            )
        return Limits(changed)


@cache
def shipped_limits() -> Limits:
    """The limits of the data files that ship with the package. Raises ValueError for a key in two of them."""
    limits: dict[str, Limit] = {}
    for key, row in (pair for text in read_folder("limits").values() for pair in tomllib.loads(text).items()):
        if key in limits:
            raise ValueError(f"limit {key} stands in two files of library/limits")
        factor, offset = _SI[row["unit"]]
        amount = Amount(row["value"] * factor + offset, row["sd"] * factor, Kind(row["kind"]), row["name"])
        record = LimitRecord(key, row["source"], row["reason"])
        limits[key] = Limit(amount, Sense(row["sense"]), record)
    return Limits(limits)

"""Reading of ``unknowns.toml``: odd shapes of spreads, what moves together, and the forms of the models."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["Bent", "FormUnknown", "Pair", "UnknownRules", "unknown_rules"]


class Bent(NamedTuple):
    """A field whose spread is wider to one side: multiples of the stated spread [-]."""

    below: float
    above: float
    reason: str


class Pair(NamedTuple):
    """Two unknowns that move together: correlation of their normal scores [-]."""

    first: str
    second: str
    value: float
    reason: str


class FormUnknown(NamedTuple):
    """One thing that is not known of the models themselves."""

    name: str
    words: str
    kind: str  # 'either' of two laws, or inside a 'band'
    reason: str


class UnknownRules(NamedTuple):
    """The whole table."""

    even_up_to: float  # relative spread up to which a positive quantity spreads evenly [-]
    heavy_freedom: float  # degrees of freedom of the heavy tail [-]
    heavy: Mapping[str, str]  # source -> reason
    two_sided: Mapping[str, Bent]  # field -> its shape
    left_out: Mapping[str, str]  # field -> reason
    absorbed: Mapping[str, str]  # field -> what it is; a fit has taken its effect into other factors
    together: tuple[Pair, ...]
    forms: tuple[FormUnknown, ...]


@cache
def unknown_rules() -> UnknownRules:
    """The table that ships with the program, read once."""
    raw = tomllib.loads(read_text("unknowns.toml"))
    return UnknownRules(
        even_up_to=float(raw["shape"]["even_up_to"]["value"]),
        heavy_freedom=float(raw["shape"]["heavy_freedom"]["value"]),
        heavy=raw["heavy"],
        two_sided={
            row["field"]: Bent(float(row["below"]), float(row["above"]), row["reason"])
            for row in raw["two_sided"]
        },
        left_out=raw["left_out"],
        absorbed=raw["absorbed"],
        together=tuple(
            Pair(row["pair"][0], row["pair"][1], float(row["value"]), row["reason"])
            for row in raw["together"]
        ),
        forms=tuple(
            FormUnknown(row["name"], row["words"], row["kind"], row.get("reason", "")) for row in raw["form"]
        ),
    )

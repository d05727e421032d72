"""Reading of ``measurements/``: everything that is measured, looked at or counted on the job, by its key.

A key never changes once it has shipped: recorded readings name it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from boostwright.library import read_folder
from boostwright.quantity import Dimension, PressureKind, read
from boostwright.uncertainty import Spread

__all__ = ["EACH", "SIDES", "Measurement", "measurements"]

SIDES: Final[Mapping[str, str]] = {
    "before": "before strip-down",
    "during": "while the car is apart",
    "after": "on the converted car",
}
EACH: Final = ("", "cylinder", "injector", "bolt", "place")
"""Whether one value is taken, or one at each of these."""


@dataclass(frozen=True, slots=True)
class Measurement:
    """One thing that can be read.

    dimension: None where the answer is yes or no, a choice or words (`answers`: 'yes-no', 'choice', 'words').
    possible: lowest and highest value that can be true at all [SI]; beyond, the entry is refused. low, high:
    limits that hold for every build [SI]; what follows from the build is worked out elsewhere, `expected`
    names the rule. good: the answers that let the work go on. field: the field of the build file it states,
    on the sides `field_on` (all where that is empty). field_before: the field that a reading before the
    conversion states instead; then `field` gets it only where the file states nothing. repeat: how well it
    repeats. at_once: what to do before anything else where it shows harm that does not wait, '' for none;
    at_once_side: 'low' or 'high', the side of the range on which it does; both where that is empty. hides:
    why one good answer does not undo a bad one before it, where the fault does not show every time; else ''.
    """

    key: str
    words: str
    how: str
    instrument: str
    sides: tuple[str, ...]
    why: str
    dimension: Dimension | None = None
    pressure: PressureKind | None = None
    unit: str = ""
    each: str = ""
    answers: str = ""
    choices: Mapping[str, str] | None = None
    good: tuple[str, ...] = ()
    possible: tuple[float, float] | None = None
    low: float | None = None
    high: float | None = None
    limit_why: str = ""
    limit_source: str = ""
    expected: str = ""
    field: str = ""
    field_on: tuple[str, ...] = ()
    field_before: str = ""
    repeat: Spread | None = None
    repeat_source: str = ""
    minutes: float = 0.0
    cautions: tuple[str, ...] = ()
    witness: bool = False
    harm: str = ""
    at_once: str = ""
    at_once_side: str = ""
    hides: str = ""


@cache
def measurements() -> Mapping[str, Measurement]:
    """Every measurement by its key, in the order of the files."""
    found: dict[str, Measurement] = {}
    for name, text in read_folder("measurements").items():
        for key, row in tomllib.loads(text).items():
            if key in found:
                raise ValueError(f"measurements/{name}: '{key}' stands twice")
            found[key] = _measurement(key, row)
    return found


_DIFFERENCES: Final[Mapping[Dimension, Dimension]] = {
    Dimension.TEMPERATURE: Dimension.TEMPERATURE_DIFFERENCE,
    Dimension.SPARK: Dimension.ANGLE,
}


def _spread(repeat: Mapping[str, Any], dimension: Dimension | None) -> Spread:
    """How well it repeats; its fixed part with a unit or in SI."""
    sd = repeat.get("sd", 0.0)
    if isinstance(sd, str):
        if dimension is None:
            raise ValueError(f"a scatter of '{sd}' and no dimension")
        sd = read(sd, _DIFFERENCES.get(dimension, dimension)).value
    return Spread(float(sd), float(repeat.get("share", 0.0)))


def _measurement(key: str, row: Mapping[str, Any]) -> Measurement:
    left = dict(row)
    dimension = Dimension(left.pop("dimension")) if "dimension" in left else None
    kind = PressureKind(left.pop("pressure")) if "pressure" in left else None

    def number(text: str) -> float:
        if dimension is None:
            raise ValueError(f"'{key}' has a limit and no dimension")
        return read(text, dimension).value

    possible = left.pop("possible", None)
    repeat = left.pop("repeat", None)
    made = Measurement(
        key=key,
        dimension=dimension,
        pressure=kind,
        possible=None if possible is None else (number(possible[0]), number(possible[1])),
        low=None if "low" not in left else number(left.pop("low")),
        high=None if "high" not in left else number(left.pop("high")),
        repeat=None if repeat is None else _spread(repeat, dimension),
        sides=tuple(left.pop("sides")),
        good=tuple(left.pop("good", ())),
        field_on=tuple(left.pop("field_on", ())),
        cautions=tuple(left.pop("cautions", ())),
        **left,
    )
    if (dimension is None) == (made.answers == ""):
        raise ValueError(f"'{key}' needs either a dimension or a kind of answer")
    if made.at_once_side not in ("", "low", "high") or (made.at_once_side and not made.at_once):
        raise ValueError(f"'{key}' has no side '{made.at_once_side}' on which work stops at once")
    if not {*made.sides, *made.field_on} <= SIDES.keys() or made.each not in EACH:
        raise ValueError(f"'{key}' names a side or a place that there is not")
    return made

"""What readings cost this builder: the list's minutes and prices, and those that the build file changes."""

from __future__ import annotations

from typing import NamedTuple

from boostwright.build.document import Build, Row
from boostwright.build.faults import Fault
from boostwright.errors import BuildFileError
from boostwright.library.readings import cheap_readings
from boostwright.quantity import nearest

__all__ = ["Cost", "costs_of"]

_MINUTE, _HOUR = 60.0, 3600.0
_LEAST = 0.5  # of any reading: the way to the tool box [EUR]


class Cost(NamedTuple):
    """Of one reading."""

    minutes: float  # [min]
    price: float  # [EUR]
    whole: float  # time at its worth, and the price [EUR]


def costs_of(build: Build) -> dict[str, Cost]:
    """What every reading of the list costs, by key.

    Tables [[costs]] of the build go before the list; time counts at `budget.hour`. Raises BuildFileError
    with every fault: a key that is none, or a reading that stands there twice.
    """
    known = cheap_readings()
    faults: list[Fault] = []
    own: dict[str, Row] = {}
    for row in build.table("costs"):
        key = str(row["reading"].value).strip()
        if key not in known:
            near = ", ".join(nearest(key, tuple(known), 3, 0.5))
            remedy = f"Nearest: {near}." if near else "Every reading of the list names its key."
            faults.append(_fault(row, "there is no reading of that name", remedy))
        elif key in own:
            faults.append(_fault(row, "this reading stands here twice", "Keep one of the two."))
        own[key] = row
    if faults:
        raise BuildFileError(f"{build.file or 'the build file'}: {faults[0].sentence()}", tuple(faults))
    hour = build.number("budget.hour")
    found = {}
    for key, reading in known.items():
        row = own.get(key, {})
        minutes = float(row["minutes"].value) / _MINUTE if "minutes" in row else reading.minutes
        price = float(row["price"].value) if "price" in row else reading.price
        whole = minutes * _MINUTE / _HOUR * hour + price
        found[key] = Cost(minutes, price, max(whole, _LEAST))
    return found


def _fault(row: Row, why: str, remedy: str) -> Fault:
    stated = row["reading"]
    return Fault("reading", stated.line or 1, "costs.reading", str(stated.value), "", why, remedy)

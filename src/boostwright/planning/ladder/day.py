"""The air of the day: as a person says it, or as one of the build's corners names it."""

from __future__ import annotations

import re
from typing import Final

from boostwright.build.document import Build
from boostwright.errors import OutOfRange
from boostwright.planning.ladder.conditions import air_of, day_air
from boostwright.planning.ladder.records import Air
from boostwright.quantity import Dimension, PressureKind, QuantityError, nearest, read
from boostwright.systems.stated.place import corners_of

__all__ = ["air_at_corner", "read_air"]

_PIECE: Final = re.compile(r"[-+]?[0-9]+(?:[.,][0-9]+)?\s*[^\s0-9,;+-][^\s,;]*")
_COLDEST, _HOTTEST = 233.15, 328.15  # [K]
_THINNEST, _DENSEST = 55.0e3, 110.0e3  # [Pa absolute]
_LIKE: Final = "Write it like '12 degC 101 kPa'."


def read_air(text: str, build: Build) -> Air:
    """Temperature and air pressure of the day from a text like '12 degC 101 kPa', in either order.

    One of the two may be left out: then the build's own stands. The pressure is that of the place itself, not
    reduced to sea level. Raises OutOfRange.
    """
    pressure: float | None = None
    temperature: float | None = None
    left = _PIECE.sub(" ", text).replace(",", " ").replace(";", " ").split()
    if left or not text.strip():
        raise OutOfRange(f"the air '{text}' cannot be read{f' at {left[0]!r}' if left else ''}. {_LIKE}")
    for piece in _PIECE.findall(text):
        for dimension in (Dimension.TEMPERATURE, Dimension.PRESSURE):
            try:
                said = read(piece, dimension)
            except QuantityError:
                continue
            if said.kind is PressureKind.GAUGE:
                raise OutOfRange(
                    f"'{piece}' is counted from the air itself; say what the barometer shows. {_LIKE}"
                )
            value = said.value
            if dimension is Dimension.TEMPERATURE and temperature is None:
                temperature = value
            elif dimension is Dimension.PRESSURE and pressure is None:
                pressure = value
            else:
                raise OutOfRange(f"the air '{text}' says one thing twice: '{piece}'. {_LIKE}")
            break
        else:
            raise OutOfRange(
                f"'{piece}' in the air '{text}' is neither a temperature nor a pressure. {_LIKE}"
            )
    own = air_of(build)
    temperature = own.temperature if temperature is None else temperature
    pressure = own.pressure if pressure is None else pressure
    if not _COLDEST <= temperature <= _HOTTEST:
        raise OutOfRange(
            f"the air of the day is {temperature - 273.15:.4g} degC; from -40 to 55 degC there is"
            f" weather to drive in."
        )
    if not _THINNEST <= pressure <= _DENSEST:
        raise OutOfRange(
            f"the air of the day is {pressure / 1e3:.4g} kPa; it lies between 55 kPa, on the highest"
            f" roads, and 110 kPa."
            " It is counted absolute, at the place itself."
        )
    return day_air(
        pressure,
        temperature,
        f"in the air of the day ({temperature - 273.15:.0f} degC, {pressure / 1e3:.1f} kPa)",
    )


def air_at_corner(name: str, build: Build) -> Air:
    """The air of one of the build's worst days, by its name. Raises OutOfRange with the nearest names."""
    corners = {c.name: c for c in corners_of(build) if not c.poorest_fuel}
    found = corners.get(name) or {k.casefold(): c for k, c in corners.items()}.get(name.casefold())
    if found is None:
        close = nearest(name, list(corners))
        hint = f" Did you mean '{close[0]}'?" if close else ""
        raise OutOfRange(f"this build has no day named '{name}'; it has: {'; '.join(corners)}.{hint}")
    return day_air(found.ambient.pressure, found.ambient.temperature, f"on the day '{found.name}'")

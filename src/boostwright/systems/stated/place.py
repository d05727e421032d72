"""The air that a build states."""

from __future__ import annotations

from boostwright.build.document import Build
from boostwright.systems.turbo import Ambient

__all__ = ["ambient_of"]


def ambient_of(build: Build) -> Ambient:
    """Air pressure and temperature where the car is used."""
    return Ambient(build.number("place.barometer"), build.number("place.temperature"))

"""The exhaust manifold that a build states, as the pulses see it."""

from __future__ import annotations

from typing import Final, NamedTuple

from boostwright.build.document import Build
from boostwright.systems.pulses import Manifold

__all__ = ["StatedManifold", "manifold_of"]

TUBULAR: Final = 2.4
"""Volume of a manifold of welded runners over that of a log on the same engine (judgement) [-]."""


class StatedManifold(NamedTuple):
    """The manifold, its spread, and what was taken for granted."""

    manifold: Manifold
    volume_sd: float  # [m3]
    warnings: tuple[str, ...]


def manifold_of(build: Build) -> StatedManifold:
    """Gas volume between valves and turbine and the entries that it feeds.

    The volume that stands in where none is stated is that of a log; where the file states welded runners, it
    is widened to theirs.
    """
    volume = build["manifold.volume"]
    size, sd = float(volume.value), float(volume.sd)
    warnings: tuple[str, ...] = ()
    if volume.assumed and build.is_stated("manifold.kind") and build.words("manifold.kind") == "tubular":
        size, sd = TUBULAR * size, TUBULAR * sd
        taken = (
            f"The manifold's volume is not stated; {size * 1e3:.1f} L is taken for welded runners. "
            "Fill it with water and weigh: it decides how early the turbine wakes."
        )
        warnings = (taken,)
    entries = 2 if build.words("turbo.entries") == "twin" else 1
    return StatedManifold(Manifold(size, entries), sd, warnings)

"""The down pipe that a build states: where it is held, what gives way in it, where its lambda sensor sits."""

from __future__ import annotations

from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.physics.down_pipe import PipeSteel

__all__ = ["FLEX_FIELDS", "DownPipe", "down_pipe_of"]

FLEX_FIELDS = ("exhaust.flex", "exhaust.bracket")
USUAL_FLEX = "bellows"  # where nobody says: usual on engines that lie across; no source


class DownPipe(NamedTuple):
    """The pipe from the turbine on. SI units; value and standard deviation of what is known so far only."""

    steel: PipeSteel
    bore: float  # [m]
    held: tuple[float, float]  # length to where it is first held along its run [m]
    flex: str  # none, bellows, ball
    flex_length: tuple[float, float]  # [m]
    to_flex: tuple[float, float] | None  # stiff pipe before it [m]
    bracket: str  # none, engine, body; '' where nobody says
    flex_stated: bool


def _pair(build: Build, path: str) -> tuple[float, float]:
    value = build[path]
    return float(value.value), float(value.sd or 0.0)


def down_pipe_of(build: Build) -> DownPipe:
    """Pipe, flexible joint and bracket; a usual joint stands in where nobody says."""
    narrow = build.get("exhaust.downpipe_bore")
    flex, bracket = build.get("exhaust.flex"), build.get("exhaust.bracket")
    stated = build.get("exhaust.flex_distance")
    return DownPipe(
        steel=PipeSteel(build.words("exhaust.material")),
        bore=build.number("exhaust.bore") if narrow is None else float(narrow.value),
        held=_pair(build, "exhaust.fixed_length"),
        flex=USUAL_FLEX if flex is None else str(flex.value),
        flex_length=_pair(build, "exhaust.flex_length"),
        to_flex=None if stated is None else _pair(build, "exhaust.flex_distance"),
        bracket="" if bracket is None else str(bracket.value),
        flex_stated=flex is not None,
    )

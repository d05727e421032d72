"""What a match is asked and what it answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.systems.engine.types import CycleResult, OperatingPoints
from boostwright.systems.match.breathing import Housing
from boostwright.systems.pulses import Manifold
from boostwright.systems.turbo import NO_PULSES, Ambient, Pulses, TurboPoint
from boostwright.systems.wastegate import GateLine, GateOpening

__all__ = [
    "STATUS_WORDS",
    "Branch",
    "CycleRunner",
    "GateModel",
    "GateOpening",
    "MatchResult",
    "MatchSettings",
    "MatchStart",
    "MatchStatus",
    "PulseLead",
    "SparkFinder",
]

Array = NDArray[np.float64]
CycleRunner = Callable[[OperatingPoints], CycleResult]


class MatchStatus(IntEnum):
    """How a point of the operating line ended."""

    ON_TARGET = 0
    GATE_SHUT = 1
    NO_BOOST = 2
    COMPRESSOR_LIMIT = 3
    ON_SPRING = 4
    AT_STOP = 5
    UNSETTLED = 6
    CYCLE_FAILED = 7


STATUS_WORDS: Final[dict[MatchStatus, str]] = {
    MatchStatus.ON_TARGET: "holds the boost asked for, the gate is open",
    MatchStatus.GATE_SHUT: "below the boost asked for: the gate is shut and the turbine gives no more",
    MatchStatus.NO_BOOST: "no boost: the turbine does not bring the compressor to any pressure",
    MatchStatus.COMPRESSOR_LIMIT: "below the boost asked for: the compressor map ends before it",
    MatchStatus.ON_SPRING: "the spring and the exhaust on the valve set another boost than the one asked for",
    MatchStatus.AT_STOP: "the gate is on its stop and passes no more: the boost creeps up",
    MatchStatus.UNSETTLED: "the point did not settle: do not use its numbers",
    MatchStatus.CYCLE_FAILED: "the engine cycle did not converge here: do not use its numbers",
}


class Branch(IntEnum):
    """Which solution is wanted where there are two, at the onset of boost."""

    UPPER = 0  # coming down from full boost
    LOWER = 1  # coming up from no boost


class GateModel(Protocol):
    """A wastegate as the match sees it."""

    @property
    def held_back(self) -> bool:
        """Whether something can take pressure off the diaphragm, so that more boost than the spring's can be
        held."""
        ...

    def opening(
        self, point: TurboPoint, ambient_pressure: ArrayLike, least: bool, pulse: ArrayLike = 0.0
    ) -> GateOpening:
        """Opening at points of the turbo; `least`: with all taken off the diaphragm that the control can.

        pulse: how far the exhaust pressure that the valve feels lies above the mean [Pa].
        """
        ...

    def lift_for(self, area: Array) -> Array:
        """Lift [m] at which the valve has an effective area [m2]."""
        ...


class SparkFinder(Protocol):
    """Runs the cycle and seeks the spark as the match goes on."""

    @property
    def first(self) -> Array:
        """The spark to begin with, one for each point of the match [rad]."""
        ...

    def __call__(
        self, points: OperatingPoints, where: NDArray[np.int64], patience: int = 1
    ) -> tuple[CycleResult, Array]:
        """Cycles at the points, which are those at places `where` of the match, and the sparks [rad] that
        they would rather have. patience: how many times the usual number of cycles to run."""
        ...


class MatchStart(NamedTuple):
    """Where the search begins, shape (n,)."""

    plenum: Array  # [Pa]
    temperature: Array  # plenum [K]
    exhaust: Array  # [Pa]
    spark: Array  # [rad]


class PulseLead(NamedTuple):
    """Points whose pulses go along with those of others: as many times more or less than at first.

    The factors hang weakly on the day; what moves them - turbine, manifold, breathing - is common to all.
    """

    of: NDArray[np.int64]  # the point that each one goes along with; itself where it is followed, (n,)
    peak: Array  # greatest exhaust pressure within a cycle over the mean, at first, (n,) [-]


@dataclass(frozen=True, slots=True)
class MatchSettings:
    """What is set at the engine, and how closely the match is to settle."""

    lam: Array | float = 0.85  # lambda, one for each point or one for all [-]
    spark: Array | float = -0.35  # used only where no spark finder is given [rad]
    pulses: Pulses = NO_PULSES  # at first; where a manifold is given, they are followed round by round
    manifold: Manifold | None = None  # exhaust manifold and ports
    lead: PulseLead | None = None  # pulses are followed at some points only, the others go along with them
    housing: Housing | None = None  # heat that the turbine's housing takes; None: none
    branch: Branch | NDArray[np.int64] = Branch.UPPER  # one for all, or one for each point
    gate: GateModel | None = None  # None: an ideal control that holds the goal where the turbine can
    stuck: NDArray[np.bool_] | None = None  # points (n,) at which the gate stays shut whatever pushes it
    ceiling: Array | float | None = None  # plenum pressure up to which the match looks [Pa]
    tolerance: float = 1e-4  # largest relative change in the last round, wider after many [-]
    still: float = 1e-4  # a point whose conditions moved by less keeps its pulse factors [-]
    max_rounds: int = 45
    by_table: bool = False  # to the end; the compressor's map tells only what stands at the answer
    start: MatchStart | None = None  # None: the goal for the upper branch, no boost for the lower one


class MatchResult(NamedTuple):
    """The operating line; arrays have shape (n,), one entry for each point."""

    speed: Array  # crank [rad/s]
    goal_pressure: Array  # plenum [Pa absolute]
    points: OperatingPoints  # at which the cycle was computed, spark included
    cycle: CycleResult
    turbo: TurboPoint
    gate: GateOpening
    pulses: Pulses  # factors that the points stand on, (n,)
    pulse_peak: Array  # greatest exhaust pressure within a cycle; the mean where pulses are not followed [Pa]
    gate_line: GateLine  # the turbo side along the breathing line, (k, n)
    gate_area_needed: (
        Array  # effective area that would hold the goal; negative where the turbine is short [m2]
    )
    status: NDArray[np.int64]  # MatchStatus
    change: Array  # largest relative change of plenum and exhaust state in the last round [-]
    rounds: NDArray[np.int64]  # until the point settled

    @property
    def settled(self) -> NDArray[np.bool_]:
        """Where the numbers may be used."""
        return self.status < MatchStatus.UNSETTLED

    def boost(self, ambient: Ambient) -> Array:
        """Plenum pressure above ambient [Pa]."""
        return np.asarray(self.points.plenum_pressure - ambient.pressure)

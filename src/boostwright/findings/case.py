"""The case that findings judge: one build with its computed engine, before anyone has said a word about it.

Rules read only this record. Who computed the arrays, and by which model, is not their business:
`verbs.check` fills it. All arrays have shape (n,), one entry for each engine speed, SI units.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.limits import Limits
from boostwright.findings.model import Amount, Kind
from boostwright.systems.engine.types import CycleResult, EngineGeometry, Fuel

if TYPE_CHECKING:  # a door that only prints must not load what computes
    from boostwright.systems.corners import Threshold
    from boostwright.systems.transient.records import Arrival

__all__ = ["BaselineLine", "Case", "CornerLine", "GoalLine", "Stated", "StrengthLine"]

Array = NDArray[np.float64]


class Stated(Protocol):
    """What a rule reads of a value that the build file states or a class default fills in."""

    @property
    def value(self) -> Any:
        """SI value, or a word."""

    @property
    def sd(self) -> float | None:
        """Standard deviation, SI."""

    @property
    def line(self) -> int | None:
        """Line in the build file; None for a default."""


class BaselineLine(Protocol):
    """The engine before the turbo, at full load over speed."""

    @property
    def speeds(self) -> Array:
        """Crank speed [rad/s]."""

    @property
    def mbt_spark(self) -> Array:
        """Spark of greatest torque [rad, negative before firing top dead centre]."""

    @property
    def knock_spark(self) -> Array:
        """Knock-limited spark [rad]; NaN where knock does not limit."""

    @property
    def used_spark(self) -> Array:
        """The later of the two [rad]."""

    @property
    def result(self) -> CycleResult:
        """The cycles at the spark used."""

    @property
    def at_mbt(self) -> CycleResult:
        """The cycles at MBT."""


@dataclass(frozen=True, slots=True)
class GoalLine:
    """The operating line with the turbo at the boost asked for, full load over speed.

    At least one point settled; where one did not, its numbers are NaN.
    """

    speed: Array  # crank speed [rad/s]
    boost: Array  # reached in the plenum [Pa above ambient]
    boost_sd: Array  # its standard deviation [Pa]
    plenum_pressure: Array  # [Pa absolute]
    plenum_temperature: Array  # [K]
    exhaust_pressure: Array  # exhaust manifold [Pa absolute]
    lam: Array  # lambda [-]
    mbt_spark: Array  # [rad]
    knock_spark: Array  # [rad]; NaN where knock does not limit
    used_spark: Array  # [rad]
    result: CycleResult  # at the spark used
    settled: NDArray[np.bool_]  # whether the point converged
    turbine_enough: NDArray[np.bool_]  # whether the turbine can drive the boost asked for here
    flow_over_surge: Array  # compressor flow over surge flow at its speed [-]
    flow_over_choke: Array  # compressor flow over flow at the end of the speed line [-]
    surge_sd: float  # relative standard deviation of the surge flow [-]
    choke_sd: float  # relative standard deviation of the choke flow [-]
    tip_speed: Array  # compressor wheel [m/s]
    tip_speed_sd: float  # relative [-]
    shaft_speed: Array  # [rad/s]
    pressure_ratio: Array  # compressor [-]
    compressor_outlet_temperature: Array  # [K]
    turbine_inlet_temperature: Array  # [K]
    compressor_inlet_pressure: Array  # behind filter and inlet pipe [Pa absolute]
    turbine_outlet_pressure: Array  # [Pa absolute]
    pulse_peak_pressure: Array  # greatest in the exhaust manifold within a cycle [Pa absolute]


@dataclass(frozen=True, slots=True)
class StrengthLine:
    """The same air, burned on the best fuel at MBT with the spark early by the worst timing error."""

    speed: Array  # [rad/s]
    spark: Array  # [rad]
    timing_error: float  # by which it is early [rad]
    result: CycleResult


@dataclass(frozen=True, slots=True)
class CornerLine:
    """One of the worst days, with the operating line on it."""

    name: str  # fits after a comma and after 'in the corner'
    words: str  # why it is looked at, one sentence
    ambient_pressure: float  # [Pa absolute]
    ambient_temperature: float  # [K]
    poorest_fuel: bool  # whether the tank holds the poorest fuel
    goal: GoalLine
    strength: StrengthLine | None = None  # computed on the day of the densest charge only


@dataclass(frozen=True, slots=True)
class Case:
    """One build, its engine and what was computed for it. See `GoalLine` and `StrengthLine`."""

    build: Any  # the build document: build["engine.bore"] -> Stated
    engine: EngineGeometry
    fuel: Fuel
    ambient_pressure: float  # [Pa absolute]
    ambient_temperature: float  # [K]
    baseline: BaselineLine
    limits: Limits
    goal: GoalLine | None = None
    strength: StrengthLine | None = None
    no_goal: str = ""  # why there is no goal line, in a sentence
    corner: str = "on an ordinary warm day"
    corners: tuple[CornerLine, ...] = ()
    gate_shut: GoalLine | None = None  # the operating line with the gate held shut
    threshold: Threshold | None = None  # where the boost asked for is first held
    arrival: Arrival | None = None  # when boost comes after the throttle opens
    drawn: bool = False  # one draw of a sampled check: what is not known of the models is in it already
    extra: dict[str, Any] = field(default_factory=dict)  # results of systems that later parts add, by name

    def left(self, sd: float) -> float:
        """What is left of a spread of the models' [unit of sd]: none in a draw, where it is in the values."""
        return 0.0 if self.drawn else sd

    def stated(self, key: str) -> Stated | None:
        """The stated or default value of a build field; None when the field is empty."""
        value: Stated | None = self.build.get(key)
        if value is None or value.value is None:
            return None
        return value

    def amount(self, key: str, kind: Kind, name: str) -> Amount | None:
        """The same as an amount; None when the field is empty or holds words."""
        stated = self.stated(key)
        if stated is None or not isinstance(stated.value, int | float):
            return None
        return Amount(float(stated.value), stated.sd, kind, name)

    def word(self, key: str) -> str | None:
        """A field that holds a word or a text; None when empty."""
        stated = self.stated(key)
        return None if stated is None else str(stated.value)

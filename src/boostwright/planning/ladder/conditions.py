"""The engine at the condition of a step: what the match found there, and the day's air. No model here."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.limits import Limits, shipped_limits
from boostwright.planning.ladder.records import Air

if TYPE_CHECKING:
    from boostwright.findings.case import Case

__all__ = ["Broken", "Condition", "Gives", "air_of", "any_day", "day_air", "limits_of", "without_pulls"]

Array = NDArray[np.float64]

_DAY_PRESSURE_SD: Final = 300.0  # of a barometer that was read [Pa]
_DAY_TEMPERATURE_SD: Final = 1.0  # of a thermometer in the shade [K]
_ANY_PRESSURE_SD: Final = 1.0e3  # of a barometer over the year, as the corners take it [Pa]
_ANY_TEMPERATURE_SD: Final = 9.0  # of the outside air over the year; field experience (judgement) [K]
_STEP: Final = 100.0 * math.pi / 30.0  # of the speeds along a pull [rad/s]


class Gives(NamedTuple):
    """Where something gives out. pressure: in the plenum [Pa absolute], with its sd; words: what does."""

    pressure: float
    sd: float
    words: str


class Broken(NamedTuple):
    """A finding on what a pull loads that breaks at its boost: its heading and its code."""

    subject: str
    code: str


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition of the engine over speed, (n,), and what gives out at it. SI.

    why_not: why there is no line; then the arrays are empty. case: what it was made from; None where it was
    kept from an earlier run. idle: plenum pressure of warm idle [Pa], NaN where no cycle carries itself.
    knock, strength: where either gives out. broken: findings on what a pull loads that break here and do
    harm. rods_from: speed from which the rods surely stand the boost [rad/s]; NaN where nothing is asked.
    sure_cut, sure_why: highest cut that the check allows on all days [Pa absolute], and for what.
    head: column in the turbo's drain [Pa], NaN where nothing of the drain is known.
    """

    air: Air
    limits: Limits
    why_not: str = ""
    case: Case | None = field(default=None, compare=False, repr=False)
    speed: Array = field(default_factory=lambda: np.empty(0))
    pressure: Array = field(default_factory=lambda: np.empty(0))
    pressure_sd: Array = field(default_factory=lambda: np.empty(0))
    lam: Array = field(default_factory=lambda: np.empty(0))
    duty: Array = field(default_factory=lambda: np.empty(0))
    duty_sd: Array = field(default_factory=lambda: np.empty(0))
    rail: Array = field(default_factory=lambda: np.empty(0))  # across an injector [Pa]
    rail_set: Array = field(default_factory=lambda: np.empty(0))  # as the regulator ought to hold it [Pa]
    rail_sd: Array = field(default_factory=lambda: np.empty(0))
    intake: Array = field(default_factory=lambda: np.empty(0))
    intake_sd: Array = field(default_factory=lambda: np.empty(0))
    exhaust: Array = field(default_factory=lambda: np.empty(0))  # gas before the turbine [K]
    back: Array = field(default_factory=lambda: np.empty(0))  # exhaust pressure over boost, gauge [-]
    air_flow: Array = field(default_factory=lambda: np.empty(0))
    power: Array = field(default_factory=lambda: np.empty(0))
    crankcase: Array = field(default_factory=lambda: np.empty(0))
    crankcase_sd: float = math.nan  # relative [-]
    soak: float = math.nan  # intake at the end of the third pull [K]
    idle: float = math.nan
    head: float = math.nan
    air_sd: float = 0.09
    power_sd: float = 0.08
    knock: Gives | None = None
    strength: Gives | None = None
    sure_cut: float = math.inf
    sure_why: str = "nothing"
    broken: tuple[Broken, ...] = ()
    rods_from: float = math.nan
    warnings: tuple[str, ...] = ()

    def along(self, values: Array, low: float, high: float) -> Array:
        """A quantity along a pull from low to high [rad/s], at equal steps."""
        return np.asarray(np.interp(self.speeds(low, high), self.speed, values))

    def speeds(self, low: float, high: float) -> Array:
        """The speeds of a pull [rad/s]."""
        return np.linspace(low, high, max(3, round((high - low) / _STEP) + 1))


def air_of(build: Build) -> Air:
    """The ordinary day of the build's place."""
    pressure, temperature = build["place.barometer"], build["place.temperature"]
    return Air(
        float(pressure.value),
        float(temperature.value),
        "on an ordinary warm day",
        float(pressure.sd or 0.0),
        float(temperature.sd or 0.0),
        given=False,
    )


def any_day(build: Build) -> Air:
    """The air of the build's place on some day of the year, which nobody read yet."""
    air = air_of(build)
    return air._replace(
        words="on any day of the year, for the air of today was not given",
        pressure_sd=math.hypot(air.pressure_sd, _ANY_PRESSURE_SD),
        temperature_sd=math.hypot(air.temperature_sd, _ANY_TEMPERATURE_SD),
    )


def day_air(pressure: float, temperature: float, words: str) -> Air:
    """Air that was read on the day [Pa, K]."""
    return Air(pressure, temperature, words, _DAY_PRESSURE_SD, _DAY_TEMPERATURE_SD)


def limits_of(build: Build) -> Limits:
    """The limits with the build's own changes."""
    return shipped_limits().edited(edits_of(build))


def without_pulls(build: Build, air: Air, why: str) -> Condition:
    """A condition without a line."""
    return Condition(air, limits_of(build), why)

"""What the ladder is made of: what a step expects, how its readings stand, whether its gate is open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import NamedTuple

from boostwright.findings.model import Caution, Phrase
from boostwright.job.records import Override, Reading

__all__ = [
    "Air",
    "Change",
    "Expected",
    "Gate",
    "Ladder",
    "Limit",
    "Origin",
    "PullLine",
    "Rung",
    "Stands",
    "State",
]


class Air(NamedTuple):
    """The air of the day. words: which day it is. given: somebody said or read it; else it is assumed."""

    pressure: float  # [Pa absolute]
    temperature: float  # [K]
    words: str
    pressure_sd: float  # [Pa]
    temperature_sd: float  # [K]
    given: bool = True


class Change(NamedTuple):
    """A revision of the build file. time: ISO 8601, UTC. fields: those whose value is another."""

    time: str
    fields: tuple[str, ...]
    who: str = ""


class Origin(Enum):
    """What an expected range rests on."""

    MODEL = "worked out for this build at this condition"
    RECORDED = "a reading of this car"
    STATED = "the build file"
    TRADE = "common practice, no source"


class Limit(NamedTuple):
    """Where a step is broken off. value [SI]; why: the reason; source: where it comes from."""

    value: float
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Expected:
    """What one reading of a step should show; all numbers SI.

    middle, sd: from model or record, instrument included; None where the range is common practice.
    low, high: the range to print: middle -+ two standard deviations, or the trade's. stop_low, stop_high:
    where the step is broken off. stands: what the parts stand, beyond `stop_high`; None if unknown.
    good: answers that are well, where it is no number. never: why no override replaces it, '' where one can.
    """

    measurement: str
    low: float | None = None
    high: float | None = None
    middle: float | None = None
    sd: float | None = None
    stop_low: Limit | None = None
    stop_high: Limit | None = None
    stands: Limit | None = None
    good: tuple[str, ...] = ()
    origin: Origin = Origin.TRADE
    how: str = ""  # what the range was worked out from, one sentence
    optional: bool = False
    witness: bool = False
    never: str = ""


@dataclass(frozen=True, slots=True)
class PullLine:
    """What a pull should look like over engine speed; arrays as tuples (n,), SI."""

    speed: tuple[float, ...]  # [rad/s]
    pressure: tuple[float, ...]  # plenum [Pa absolute]
    pressure_sd: tuple[float, ...]
    lam: tuple[float, ...]
    duty: tuple[float, ...]
    duty_sd: tuple[float, ...]
    intake: tuple[float, ...]  # [K]
    intake_sd: tuple[float, ...]
    air_flow: tuple[float, ...]  # [kg/s]
    power: tuple[float, ...]  # [W]
    lam_sd: float = 0.02
    air_sd: float = 0.0  # relative [-]
    power_sd: float = 0.0  # relative [-]


@dataclass(frozen=True, slots=True)
class Rung:
    """One step made for this build.

    barred: why it may not be gone at all; empty where it may. speeds: from where to where a pull goes
    [rad/s]; None without one. line: what the pull should look like.
    """

    key: str
    number: int
    words: Phrase
    tasks: tuple[str, ...]
    task: str
    people: tuple[str, ...]
    do: tuple[Phrase, ...]
    watch: str
    stop: tuple[str, ...]
    on_stop: str
    evidence: tuple[str, ...]
    cautions: tuple[Caution, ...]
    concerns: tuple[str, ...]
    critical: bool
    expected: tuple[Expected, ...]
    barred: tuple[str, ...] = ()
    speeds: tuple[float, float] | None = None
    line: PullLine | None = None

    def of(self, measurement: str) -> Expected | None:
        """What it expects of one measurement."""
        return next((e for e in self.expected if e.measurement == measurement), None)


class State(Enum):
    """How one reading stands."""

    GOOD = "in its range"
    UNUSUAL = "at the edge of its range"
    MISSING = "not read yet"
    OLD = "read before something changed"
    ALONE = "nobody else saw it"
    OUTSIDE = "out of its range"
    BROKEN_OFF = "beyond where the step is broken off"

    @property
    def opens(self) -> bool:
        """Whether the gate opens with it."""
        return self in (State.GOOD, State.UNUSUAL)


class Stands(NamedTuple):
    """One expected reading with what was recorded. why: a sentence, '' where all is well."""

    expected: Expected
    state: State
    reading: Reading | None
    why: str


@dataclass(frozen=True, slots=True)
class Gate:
    """Whether the way past one step is open.

    own: by its own readings, or an override. open: it, and all before it. waits: tasks that are not done.
    why: what stands in the way, one sentence each. failed: how often it was broken off. back: how many steps
    one has to go back after the last time; 0 where that is done.
    """

    step: str
    own: bool
    open: bool
    readings: tuple[Stands, ...]
    waits: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    failed: int = 0
    back: int = 0
    override: Override | None = None
    refused: str = ""  # why an override that was written does not count


@dataclass(frozen=True, slots=True)
class Ladder:
    """The whole ladder of a build, and how far it was climbed.

    here: the index of the first step whose gate is shut; `len(rungs)` where all are open.
    """

    name: str
    fingerprint: str
    air: Air
    rungs: tuple[Rung, ...]
    gates: tuple[Gate, ...]
    overrides: tuple[Override, ...] = ()
    warnings: tuple[str, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)  # of tasks, where the plan says them

    @property
    def here(self) -> int:
        """Index of the step that comes next."""
        return next((i for i, gate in enumerate(self.gates) if not gate.open), len(self.rungs))

    def gate(self, step: str) -> Gate:
        """The gate behind a step. Raises KeyError."""
        for gate in self.gates:
            if gate.step == step:
                return gate
        raise KeyError(step)

    def rung(self, step: str) -> Rung:
        """A step. Raises KeyError."""
        for rung in self.rungs:
            if rung.key == step:
                return rung
        raise KeyError(step)

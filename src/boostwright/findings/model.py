"""What one finding is: a demand set against a capacity, with spreads, a place, a cause and a remedy.

Everything here is plain data in SI units. Words that hold numbers are `Phrase`s: the sentence with gaps and
the amounts that fill them, so that rounding and the choice of unit stay with the views.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum, IntEnum
from types import MappingProxyType

__all__ = [
    "Amount",
    "Caution",
    "Finding",
    "Harm",
    "Kind",
    "LimitRecord",
    "Phrase",
    "Place",
    "Reading",
    "Sense",
    "Verdict",
]


class Kind(Enum):
    """What sort of quantity an amount is. The value is in the SI unit named; views choose the unit shown."""

    PRESSURE = "pressure"  # [Pa], a pressure so high that gauge or absolute makes no difference
    PRESSURE_ABSOLUTE = "pressure, absolute"  # [Pa]
    PRESSURE_GAUGE = "pressure, gauge"  # [Pa above ambient]
    PRESSURE_DIFFERENCE = "pressure difference"  # [Pa]
    PRESSURE_SMALL = "small pressure"  # [Pa above ambient], shown in kPa
    TEMPERATURE = "temperature"  # [K]
    TEMPERATURE_DIFFERENCE = "temperature difference"  # [K]
    CRANK_ANGLE = "crank angle"  # [rad], negative before firing top dead centre
    ANGLE = "angle"  # [rad], of a part in the car
    CRANK_DIFFERENCE = "crank angle difference"  # [rad]
    ENGINE_SPEED = "engine speed"  # [rad/s]
    SHAFT_SPEED = "turbo shaft speed"  # [rad/s]
    VELOCITY = "velocity"  # [m/s]
    FORCE = "force"  # [N], of gas, rods and bolts
    SPRING_LOAD = "spring load"  # [N], of a valve spring
    TORQUE = "torque"  # [N m]
    TORQUE_PER_VOLUME = "torque per displacement"  # [N m / m3]
    POWER = "power"  # [W]
    SHARE = "share"  # [-], shown in percent
    RATIO = "ratio"  # [-], shown as it is
    OCTANE = "octane number"  # [-]
    COMPRESSION = "compression ratio"  # [-]
    MASS_FLOW = "mass flow"  # [kg/s]
    VOLUME_FLOW = "volume flow"  # [m3/s], a pump
    OIL_FLOW = "oil flow"  # [m3/s], shown in litres a minute
    INJECTOR_FLOW = "injector flow"  # [m3/s], one injector
    TIME = "time"  # [s], of work: minutes
    DELAY = "delay"  # [s], a few seconds
    INERTIA = "moment of inertia"  # [kg m2], of a turbo's shaft
    PULSE = "pulse"  # [s], of an injector
    FUEL_PER_WORK = "fuel per work"  # [kg/J]
    LENGTH = "length"  # [m]
    DISTANCE = "distance"  # [m], on the road
    VOLUME = "volume"  # [m3], of cylinders or pipes
    VOLTAGE = "voltage"  # [V]
    PULL = "pull"  # [N], on a hose or a pipe
    HOLE_AREA = "area of a hole"  # [m2]
    VOLTAGE_DROP = "voltage drop"  # [V], over cables and joints
    SPARK_VOLTAGE = "spark voltage"  # [V], thousands of them
    SIGNAL = "signal voltage"  # [V], thousandths of one
    CURRENT = "electric current"  # [A]
    COIL_CURRENT = "current of a coil"  # [A], a few of them
    RESISTANCE = "resistance"  # [ohm]
    SECTION = "section of a cable"  # [m2]
    COUNT = "count"  # [-], a number of things
    AREA = "area"  # [m2], of a radiator's face
    ROAD_SPEED = "road speed"  # [m/s]
    MASS = "mass"  # [kg]
    AGE = "age"  # [s], of a fluid: years


@dataclass(frozen=True, slots=True)
class Amount:
    """A value with its spread.

    value: SI value in the unit of `kind`.
    sd: standard deviation [same unit]; None when nobody knows it.
    name: what it is, in workshop words; for a capacity the name of the limit.
    """

    value: float
    sd: float | None
    kind: Kind
    name: str = ""

    def __post_init__(self) -> None:
        if self.sd is not None and not self.sd >= 0.0:
            raise ValueError(
                f"{self.name or self.kind.value}: a spread of {self.sd!r} is not a spread; give a number"
                " of zero or more, or None when it is unknown"
            )

    @property
    def known(self) -> bool:
        """Whether both the value and its spread are numbers."""
        return math.isfinite(self.value) and self.sd is not None and math.isfinite(self.sd)


@dataclass(frozen=True, slots=True)
class Phrase:
    """A sentence with gaps `{name}` and the amounts that fill them; views round the amounts.

    A gap `{name}` shows the value with its unit; `{name:band}` shows value, spread and unit.
    """

    text: str
    amounts: Mapping[str, Amount] = field(default_factory=lambda: MappingProxyType({}))

    def __bool__(self) -> bool:
        return bool(self.text)


class Sense(Enum):
    """Which side of the capacity is safe."""

    AT_MOST = "at most"  # the demand must stay at or below the capacity
    AT_LEAST = "at least"  # the demand must reach the capacity


class Verdict(Enum):
    """The four answers, in words. See `judge.verdict_of` for the rule."""

    BREAKS = "breaks"
    UNKNOWN = "unknown"
    TIGHT = "tight"
    HOLDS = "holds"


class Harm(IntEnum):
    """What happens if it does not hold; each class weighs about three times the one before."""

    NUISANCE = 1  # time lost, a noise, a wish not met
    POOR_RUNNING = 2  # runs badly, drinks fuel
    WEAR = 3  # a part is spoilt early
    DAMAGE = 4  # engine or turbo damaged
    SEVERE = 5  # engine destroyed in seconds, fire, or a person hurt

    @property
    def weight(self) -> float:
        """Weight in the order of findings: 1, 3, 10, 30, 100."""
        return (1.0, 3.0, 10.0, 30.0, 100.0)[self.value - 1]

    @property
    def words(self) -> str:
        """The class in words."""
        return (
            "a nuisance",
            "poor running",
            "early wear",
            "engine or turbo damaged",
            "engine destroyed or a person hurt",
        )[self.value - 1]


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the rev range a finding is worst. speed [rad/s]; None when it has no place there."""

    speed: float | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """The reading that would settle a finding: what to do, and how long it takes [s]; None when unknown."""

    what: str
    time: float | None = None


@dataclass(frozen=True, slots=True)
class LimitRecord:
    """Where a capacity comes from, so that a person can argue with it.

    key: name in the limits file, or 'computed'.
    source: a key of the literature list, or 'common practice, no source', or 'the build file, line n'.
    reason: why this value, and why this spread.
    edited: whether the person changed it; then `edit_reason` holds theirs.
    """

    key: str
    source: str
    reason: str
    edited: bool = False
    edit_reason: str = ""


@dataclass(frozen=True, slots=True)
class Caution:
    """One concrete sentence where the work can hurt someone, and whom to defer to."""

    key: str
    text: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One subject judged. Demands and capacities are SI; see `Amount`, `Phrase`.

    code: stable name of our own, 'subject.aspect'.
    probability: that it holds, 0..1; None when it cannot be told (then the verdict is 'unknown').
    sampling_error: standard error of `probability` when it was sampled; None for the normal approximation.
    corner: the weather, fuel and place in which it is worst ('' when it has none).
    about: codes of build fields that the finding rests on.
    bound: where draws saw one side only, the other happens in fewer than 1 of so many cases; else None.
    undecided: whether what is known does not settle it although both sides have numbers.
    on_assumed_part: whether the capacity is that of a part which nobody stated; it can hold but not break.
    of_the_file: whether it judges the file or the model itself, so that draws do not change it.
    at_worst_tight: whether it is a matter of comfort alone, which is never said to break.
    """

    code: str
    subject: str
    sense: Sense
    demand: Amount | None
    capacity: Amount | None
    probability: float | None
    verdict: Verdict
    place: Place
    corner: str
    cause: Phrase
    remedy: Phrase
    reading: Reading
    harm: Harm
    harm_words: str
    limit: LimitRecord
    cautions: tuple[Caution, ...] = ()
    notes: tuple[Phrase, ...] = ()
    about: tuple[str, ...] = ()
    sampling_error: float | None = None
    bound: int | None = None
    undecided: bool = False
    on_assumed_part: bool = False
    of_the_file: bool = False
    at_worst_tight: bool = False

    @property
    def bars_all(self) -> bool:
        """Whether the engine itself is unfit: worn or sick as it stands, whatever is bolted to it."""
        return self.code in _CONDITION and self.verdict is Verdict.BREAKS

    @property
    def margin(self) -> Amount | None:
        """Room left [unit of the demand]: positive when it holds; None when a side is unknown."""
        if self.demand is None or self.capacity is None:
            return None
        sign = 1.0 if self.sense is Sense.AT_MOST else -1.0
        value = sign * (self.capacity.value - self.demand.value)
        if not math.isfinite(value):
            return None
        sd = None
        if self.demand.sd is not None and self.capacity.sd is not None:
            sd = math.hypot(self.demand.sd, self.capacity.sd)
        kind = _DIFFERENCE_OF.get(self.demand.kind, self.demand.kind)
        return Amount(value, sd, kind, "margin")

    @property
    def weight(self) -> float:
        """Harm times the probability that it does not hold: the order of findings. Unknown counts as one
        half.
        """
        p_not = 0.5 if self.probability is None else 1.0 - self.probability
        return self.harm.weight * p_not


_CONDITION = frozenset(
    {
        "engine.condition",
        "engine.compression",
        "engine.leak_down",
        "engine.oil_idle",
        "engine.oil_speed",
        "engine.gas_in_coolant",
        "engine.coolant_hold",
        "engine.change_compression",
        "engine.change_leak_down",
        "engine.change_oil_idle",
        "engine.change_oil_speed",
        "engine.change_crankcase",
        "engine.change_coolant",
    }
)
_DIFFERENCE_OF = {
    Kind.TEMPERATURE: Kind.TEMPERATURE_DIFFERENCE,
    Kind.CRANK_ANGLE: Kind.CRANK_DIFFERENCE,
    Kind.PRESSURE_ABSOLUTE: Kind.PRESSURE_DIFFERENCE,
    Kind.PRESSURE_GAUGE: Kind.PRESSURE_DIFFERENCE,
}

"""A line of the parts list, and the list."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Final, NamedTuple

from boostwright.library.supplies import Supply, places

__all__ = [
    "GUESS",
    "Ask",
    "Band",
    "Group",
    "Lead",
    "Line",
    "PartsList",
    "State",
    "ToolLine",
    "band_of",
    "lead_of",
    "slug",
]

_NINE: Final = 1.2815515655446004  # standard deviations from the middle to the 90 % point
GUESS: Final = (3.0, 40.0)
"""Price of something that no table knows [EUR]: a guess, and said to be one."""


class Group(Enum):
    """What sort of thing a line is."""

    PART = "parts"
    HOSE = "hoses and cables"
    FITTING = "fittings and adapters"
    SEAL = "seals and clamps"
    FASTENER = "bolts, studs and nuts"
    FLUID = "fluids"
    CONSUMABLE = "consumables"
    SPARE = "spares"
    FIND = "to be found out"


class State(Enum):
    """Where a line stands."""

    FIND = "to be found out"
    MISSING = "missing"
    ORDERED = "ordered"
    HAVE = "have"
    NOT_NEEDED = "not needed"


class Ask(NamedTuple):
    """What is not known of a line. kind: 'length' is answered by a length, all others by words."""

    kind: str
    words: str


class Band(NamedTuple):
    """A sum of money between its 10 % and 90 % points [EUR]; between them it is read as lognormal."""

    low: float
    high: float
    source: str

    @property
    def middle(self) -> float:
        """The point that half of all offers stay below [EUR]."""
        return math.sqrt(self.low * self.high)

    @property
    def log_sd(self) -> float:
        """Standard deviation of its logarithm [-]."""
        return math.log(self.high / self.low) / (2.0 * _NINE) if self.low > 0.0 else 0.0

    @property
    def mean(self) -> float:
        """The mean [EUR]: middle * exp(log_sd^2 / 2)."""
        return self.middle * math.exp(0.5 * self.log_sd**2)


def band_of(value: float, sd: float, source: str) -> Band:
    """The band of a sum [EUR] that is known with this standard deviation [EUR]."""
    if value <= 0.0:
        return Band(0.0, 0.0, source)
    step = math.exp(_NINE * sd / value)
    return Band(value / step, value * step, source)


class Lead(NamedTuple):
    """Time from order to hand: its middle [days] and the standard deviation of its logarithm [-]."""

    days: float
    log_sd: float
    source: str


def lead_of(supply: Supply | None, log_sd: float) -> Lead:
    """The lead time of a supply."""
    if supply is None:
        return Lead(places()["post"].lead, log_sd, "judgement")
    days = places()[supply.where].lead if supply.lead is None else supply.lead
    return Lead(days, log_sd, supply.source)


_GUESSED: Final = Band(*GUESS, "a guess")
_WEEK: Final = Lead(5.0, 0.45, "judgement")


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what, how much, for what, what it costs, when it is here, and what is not known of it.

    key: 'sort.word', the same in every list of this build. item: key of the table of supplies; '' for
    something that it does not have. quantity: in `unit`, '' for pieces; None where it is to be found out.
    cost: of the whole line. joints, tasks: names and keys of what cannot be done without it. needed: False
    for spares. there: how much of it is there, where somebody said.
    """

    key: str
    group: Group
    what: str
    item: str = ""
    quantity: float | None = 1.0
    unit: str = ""
    where: str = "post"
    cost: Band = _GUESSED
    lead: Lead = _WEEK
    joints: tuple[str, ...] = ()
    tasks: tuple[str, ...] = ()
    asks: tuple[Ask, ...] = ()
    state: State = State.MISSING
    there: float | None = None
    ordered_on: date | None = None
    expected: date | None = None
    seller: str = ""
    tried: bool = False
    needed: bool = True
    other: str = ""  # what may take its place
    note: str = ""

    @property
    def order(self) -> str:
        """What it hangs together with: lines of one seller and one day of order, else of one place."""
        if self.seller:
            return f"{self.seller}, {self.ordered_on}" if self.ordered_on else self.seller
        return f"at {self.where}, {self.ordered_on}" if self.ordered_on else f"at {self.where}"

    @property
    def counts(self) -> bool:
        """Whether the job stands still without it."""
        return self.needed and self.state is not State.NOT_NEEDED

    @property
    def to_pay(self) -> bool:
        """Whether its price is still to be paid."""
        return self.state in (State.MISSING, State.FIND)

    def also(self, joints: Iterable[str] = (), tasks: Iterable[str] = ()) -> Line:
        """The same line for more joints and tasks."""
        return dataclasses.replace(
            self,
            joints=tuple(dict.fromkeys((*self.joints, *joints))),
            tasks=tuple(dict.fromkeys((*self.tasks, *tasks))),
        )


class ToolLine(NamedTuple):
    """A tool to be laid out. way: 'own', 'borrow' or 'hire'. cost: of a weekend's hire [EUR]."""

    key: str
    words: str
    way: str
    tasks: tuple[str, ...]
    cost: Band | None
    there: bool


@dataclass(frozen=True, slots=True)
class PartsList:
    """Everything that the job takes.

    strange: sentences on entries of the file or the history that no line asks for. left: sentences on what is
    stated and needs nothing bought.
    """

    lines: tuple[Line, ...]
    tools: tuple[ToolLine, ...] = ()
    strange: tuple[str, ...] = ()
    left: tuple[str, ...] = ()

    def line(self, key: str) -> Line:
        """The line of that key. Raises KeyError."""
        found = next((line for line in self.lines if line.key == key), None)
        if found is None:
            raise KeyError(key)
        return found

    @property
    def counted(self) -> tuple[Line, ...]:
        """The lines that the job stands still without."""
        return tuple(line for line in self.lines if line.counts)

    @property
    def open(self) -> tuple[Line, ...]:
        """The lines of which something is to be found out."""
        return tuple(line for line in self.lines if line.state is State.FIND)

    @property
    def missing(self) -> tuple[Line, ...]:
        """The counted lines that are neither there nor on their way."""
        return tuple(line for line in self.counted if line.to_pay)

    @property
    def closed(self) -> bool:
        """Whether every joint and every task has all it needs on the list, and each line says what to buy."""
        return not self.open


def slug(text: str) -> str:
    """A name as part of a key: small letters, figures and hyphens; 'x' where nothing is left."""
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")[:60] or "x"

"""Reading of ``supplies.toml``: what a conversion uses up, where it is bought, what it costs."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text

__all__ = [
    "Odds",
    "PartRule",
    "Place",
    "Supply",
    "Tool",
    "Way",
    "bolt_length",
    "carried",
    "clamp_tasks",
    "find_supply",
    "find_tool",
    "hose_wall",
    "is_of_the_car",
    "likes",
    "nut_height",
    "odds",
    "part_rules",
    "places",
    "said_at_the_counter",
    "sealing_ring",
    "size_field",
    "supplies",
    "ways",
]

_SOURCE = "common practice, no source"
_BREAK = re.compile(r",| with | for | of | in |:|\(")
When = Mapping[str, tuple[str, ...]]


class Place(NamedTuple):
    """Where something is bought. lead: from order to hand, the middle [days]."""

    key: str
    words: str
    lead: float
    hours: str


class Supply(NamedTuple):
    """Something that is bought. price: of one unit [EUR], the points that 1 and 9 in 10 offers stay below."""

    key: str
    words: str
    price: tuple[float, float]
    where: str
    unit: str = ""
    pack: float = 1.0
    lead: float | None = None  # from order to hand, the middle [days]; None: that of the place
    cure: float = 0.0  # [h]
    aka: tuple[str, ...] = ()
    other: str = ""  # what may take its place
    spare: bool = False
    sized: bool = False
    serves: bool = False  # one of it serves the whole job
    fluid: bool = False
    one: bool = False  # a conversion has one of it, wherever it is asked for
    family: str = ""  # what stands in for one another; '' for the first word of the key
    source: str = _SOURCE

    @property
    def like(self) -> str:
        """The family that it belongs to."""
        return self.family or self.key.partition("-")[0]


class Tool(NamedTuple):
    """A tool that few have at home. way: 'borrow' or 'hire'. price: for a weekend [EUR]."""

    key: str
    words: tuple[str, ...]
    way: str
    price: tuple[float, float]


class PartRule(NamedTuple):
    """When a part is bought, how many of it, and which fields say what to buy."""

    key: str
    task: str
    by: tuple[str, ...]
    like: tuple[str, ...]
    when: When
    number: str  # field with how many; '' for one
    length: str  # field with the length


class Way(NamedTuple):
    """What must be closed from the turbo to the car."""

    key: str
    words: str
    by: tuple[str, ...]  # of joints.carries
    bolted: tuple[str, ...]  # of fasteners.clamps
    when: When
    least: int  # ends at the turbo
    far: bool  # it may end at the turbo's own parts


class Odds(NamedTuple):
    """How likely it is that something is wrong or late. Shares and correlations [-]."""

    tried: float
    untried: float
    together: float
    lead_spread: float  # standard deviation of the logarithm of a lead time
    promised_spread: float
    price_together: float
    source: str


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(read_text("supplies.toml"))


def _when(row: Mapping[str, Any]) -> When:
    return {path: tuple(values) for path, values in row.get("when", {}).items()}


@cache
def places() -> Mapping[str, Place]:
    """Every place to buy at, in the order of the table."""
    return {key: Place(key, **row) for key, row in _table()["place"].items()}


@cache
def supplies() -> Mapping[str, Supply]:
    """Every supply by its key. Raises ValueError for a row that cannot be right."""
    found = {}
    for key, row in _table()["supply"].items():
        given: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}
        made = Supply(key, **given)
        if not 0.0 < made.price[0] <= made.price[1] or made.pack <= 0.0 or made.where not in places():
            raise ValueError(f"supplies.toml: '{key}' has no rising price, no pack or no place")
        found[key] = made
    return found


@cache
def likes() -> Mapping[str, str]:
    """The family of each supply by its key."""
    return {key: supply.like for key, supply in supplies().items()}


@cache
def _names() -> tuple[tuple[str, str], ...]:
    """Words by which a supply is recognised, the longest first, with its key."""
    pairs = [(word, key) for key, supply in supplies().items() for word in supply.aka]
    return tuple(sorted(pairs, key=lambda pair: (-len(pair[0]), pair[0])))


@cache
def find_supply(name: str) -> Supply | None:
    """The supply that a key or a name means: 'hose-fuel', 'rail hose, left'; None where none is known."""
    plain = " ".join(name.casefold().split())
    if plain in supplies():
        return supplies()[plain]
    exact = dict(_names()).get(plain)
    if exact is not None:
        return supplies()[exact]
    head = _BREAK.split(plain)[0]  # 'fuel hose clamps, small' are clamps
    for word, key in _names():
        if f" {head}".endswith((f" {word}", f" {word}s")):
            return supplies()[key]
    padded = f" {re.sub(r'[^a-z0-9-]+', ' ', plain)} "
    found = next((key for word, key in _names() if f" {word} " in padded or f" {word}s " in padded), None)
    return None if found is None else supplies()[found]


@cache
def _tools() -> tuple[Tool, ...]:
    rows = _table()["tool"].items()
    return tuple(Tool(k, tuple(r["words"]), r["way"], (r["price"][0], r["price"][1])) for k, r in rows)


def find_tool(name: str) -> Tool | None:
    """The tool that has to be borrowed or hired; None for one that a garage has."""
    plain = name.casefold()
    return next((tool for tool in _tools() if any(word in plain for word in tool.words)), None)


@cache
def part_rules() -> Mapping[str, PartRule]:
    """Every part that a build may ask for, by its key, which is that of its supply."""
    return {
        key: PartRule(
            key,
            row["task"],
            tuple(row["by"]),
            tuple(row.get("like", ())),
            _when(row),
            row.get("count", ""),
            row.get("length", ""),
        )
        for key, row in _table()["part"].items()
    }


def said_at_the_counter(path: str) -> str:
    """How a field that says what to buy is put, with '{}' for its value."""
    return str(_table()["say"].get(path, "{}"))


@cache
def ways() -> tuple[Way, ...]:
    """Every way that must be closed."""
    return tuple(
        Way(
            key,
            row["words"],
            tuple(row["by"]),
            tuple(row.get("bolted", ())),
            _when(row),
            row.get("least", 1),
            row.get("far", False),
        )
        for key, row in _table()["way"].items()
    )


@cache
def odds() -> Odds:
    """How likely it is that something is wrong or late."""
    return Odds(**_table()["odds"])


def is_of_the_car(part: str) -> bool:
    """Whether a part of that name belongs to the car as it is, so that nobody buys it."""
    padded = f" {part.casefold().replace(',', ' ')} "
    return any(f" {word} " in padded for word in _table()["car"]["words"])


def carried(carries: str) -> tuple[tuple[str, ...], str]:
    """The tasks that make a joint which carries this, and the supply of a hose for it. Raises KeyError."""
    row = _table()["carries"][carries]
    return tuple(row["tasks"]), str(row["hose"])


def clamp_tasks(clamps: str) -> tuple[str, ...]:
    """The tasks that tighten bolts which hold this, where the plan does not say. Raises KeyError."""
    return tuple(_table()["clamps"][clamps])


def size_field(task: str) -> str:
    """The field of the build that says the bore of what a task needs; '' where none does."""
    return str(_table()["sizes"].get(task, ""))


def hose_wall(material: str) -> float:
    """Wall of a hose of that material [m]."""
    walls = _table()["walls"]
    return 1e-3 * float(walls.get(material, walls["other"]))


def sealing_ring(thread: float) -> tuple[float, float, float] | None:
    """Inside, outside and thickness of the sealing ring for a thread of that outer diameter [m]: the smallest
    one that goes over it with 0.3 mm at most to spare below; None beyond the table (din7603, from memory).
    """
    for inside, outside, thick in _table()["rings"]["rows"]:
        if 1e-3 * inside >= thread - 0.3e-3:
            return 1e-3 * inside, 1e-3 * outside, 1e-3 * thick
    return None


def nut_height(thread: float) -> float:
    """Greatest height of a plain nut [m] for a thread of that diameter [m] (iso4032, from memory); between
    and beyond the table's threads 0.9 diameters.
    """
    rows = {round(size): height for size, height in _table()["nuts"]["rows"]}
    size = 1e3 * thread
    near = rows.get(round(size))
    return 1e-3 * near if near is not None and abs(size - round(size)) < 0.05 else 0.9 * thread


def bolt_length(least: float) -> float | None:
    """The shortest length that bolts are made in and that is not below this [m] (iso888, from memory); None
    beyond the table.
    """
    return next((1e-3 * v for v in _table()["lengths"]["values"] if 1e-3 * v >= least - 1e-6), None)

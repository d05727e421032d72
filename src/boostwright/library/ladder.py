"""Reading of ``ladder.toml``: the commissioning steps as they are before a build fills them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from boostwright.library import read_text
from boostwright.library.measurements import Measurement, measurements
from boostwright.quantity import read

__all__ = ["LOADS", "CrewWords", "StepRead", "StepTable", "crew_words", "ladder_steps", "what_on_stop"]

LOADS: Final = ("", "road", "spring", "goal")
"""What the engine does in a step: standing or idling, driving without boost, a pull on the spring, more."""

_NO_STEPS: Final = frozenset({"on_stop", "crew"})  # tables of the file that are none


@dataclass(frozen=True, slots=True)
class StepRead:
    """One reading of a step.

    band: expected range where it is common practice [SI]; None where a rule works it out, or the answer is
    no number. optional: read where the instrument is there.
    """

    measurement: str
    band: tuple[float, float] | None = None
    optional: bool = False


@dataclass(frozen=True, slots=True)
class StepTable:
    """One step, as the table says it; see the head of the table."""

    key: str
    words: str
    load: str
    reach: float
    tasks: tuple[str, ...]
    task: str
    people: tuple[str, ...]
    do: tuple[str, ...]
    watch: str
    stop: tuple[str, ...]
    on_stop: str
    evidence: tuple[str, ...]
    cautions: tuple[str, ...]
    concerns: tuple[str, ...]
    critical: bool
    never: Mapping[str, str]
    reads: tuple[StepRead, ...]


@dataclass(frozen=True, slots=True)
class CrewWords:
    """Who does what at the first fire. three, two: a sentence for each person; alone: what one is told."""

    three: tuple[str, ...]
    two: tuple[str, ...]
    alone: str


@cache
def crew_words() -> CrewWords:
    """The sentences for the crew of the first fire, with gaps for names."""
    raw = tomllib.loads(read_text("ladder.toml"))["crew"]
    return CrewWords(tuple(raw["three"]), tuple(raw["two"]), str(raw["alone"]))


@cache
def ladder_steps() -> tuple[StepTable, ...]:
    """Every step, in their order. Raises ValueError where the table contradicts itself."""
    raw = tomllib.loads(read_text("ladder.toml"))
    known = measurements()
    return tuple(_step(key, row, known) for key, row in raw.items() if key not in _NO_STEPS)


@cache
def what_on_stop() -> Mapping[str, str]:
    """What to do when a step is broken off, by key."""
    raw = tomllib.loads(read_text("ladder.toml"))
    return {str(key): str(text) for key, text in raw["on_stop"].items()}


def _step(key: str, row: Mapping[str, Any], known: Mapping[str, Measurement]) -> StepTable:
    reads = tuple(_read(key, one, known) for one in row["reads"])
    never = dict(row.get("never", {}))
    strange = set(never) - {one.measurement for one in reads}
    if strange:
        raise ValueError(
            f"ladder.toml: '{key}' forbids an override of {sorted(strange)}, which it does not read"
        )
    if row.get("load", "") not in LOADS:
        raise ValueError(f"ladder.toml: '{key}' has a load that there is not")
    if row["on_stop"] not in what_on_stop():
        raise ValueError(f"ladder.toml: '{key}' names nothing to do when it is broken off")
    return StepTable(
        key=key,
        words=row["words"],
        load=row.get("load", ""),
        reach=float(row.get("reach", 0.0)),
        tasks=tuple(row["tasks"]),
        task=row["task"],
        people=tuple(row["people"]),
        do=tuple(row["do"]),
        watch=row["watch"],
        stop=tuple(row["stop"]),
        on_stop=row["on_stop"],
        evidence=tuple(row["evidence"]),
        cautions=tuple(row["cautions"]),
        concerns=tuple(row["concerns"]),
        critical=bool(row["critical"]),
        never=never,
        reads=reads,
    )


def _read(key: str, row: Mapping[str, Any], known: Mapping[str, Measurement]) -> StepRead:
    name = row["read"]
    if name not in known:
        raise ValueError(f"ladder.toml: '{key}' reads '{name}', which is no measurement")
    measured = known[name]
    band = row.get("band")
    if band is None:
        if measured.dimension is not None and measured.expected in ("", "trade"):
            raise ValueError(f"ladder.toml: '{key}' has no range for '{name}', and no rule works one out")
        return StepRead(name, None, bool(row.get("optional", False)))
    if measured.dimension is None:
        raise ValueError(f"ladder.toml: '{key}' has a range for '{name}', which is no number")
    low, high = (read(text, measured.dimension).value for text in band)
    if not low <= high:
        raise ValueError(f"ladder.toml: the range of '{name}' in '{key}' does not rise")
    return StepRead(name, (low, high), bool(row.get("optional", False)))

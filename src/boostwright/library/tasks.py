"""Reading of ``tasks/``: every task that a conversion can ask for, by its key, in the order of the phases.

One file for each phase. A key within its own phase is written without the phase. Whether a task, an amount or
a wait belongs to a build is said by the names of conditions; what they mean stands in
`boostwright.planning.tasks.conditions`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, NamedTuple

from boostwright.library import read_text

__all__ = ["PHASES", "HoldRow", "LagRow", "NeedRow", "TaskRow", "When", "task_rows"]

PHASES: Final[Mapping[str, str]] = {
    "decide": "decisions, parts and people",
    "baseline": "readings before the first bolt",
    "battery": "the battery moves",
    "strip": "taking apart",
    "breathing": "crankcase breathing and small lines",
    "oil": "oil to the turbo and back",
    "turbo": "manifold, turbo, down pipe",
    "fuel": "fuel side",
    "charge": "charge air",
    "control": "sensors and settings",
    "prove": "proofs at a standstill",
    "run": "first fire to release",
}
"""The phases in the order of the job, with what each is about."""


class When(NamedTuple):
    """A thing belongs to a build when all of `if_all` and none of `unless` hold."""

    if_all: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NeedRow:
    """quantity: as written; amount: the name of the rule that works it out, in `unit`, else ''."""

    item: str
    quantity: float
    unit: str
    amount: str
    when: When


@dataclass(frozen=True, slots=True)
class LagRow:
    """A wait after another task [s]. points: all goes well, likeliest, hardly longer, where given."""

    task: str
    seconds: float
    why: str
    when: When
    points: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class HoldRow:
    """readings: key of a measurement and when it is asked for."""

    rule: str
    readings: tuple[tuple[str, When], ...]
    witness: bool
    never: str = ""  # why no override opens it, '' where one can


@dataclass(frozen=True, slots=True)
class TaskRow:
    """One task as the library states it; times [s].

    odds_of, minutes_of: names of the rules for the odds that it arises and for its time. joints: kinds of
    [[fasteners]] (`fasteners.clamps`) that it tightens; again: for a second time; audits: it goes over all.
    findings: of the check, to be said beside it where they break. says: its words, piece by piece, each with
    when it belongs to them.
    """

    key: str
    phase: str
    says: tuple[tuple[str, When], ...]
    crew: tuple[str, ...]
    place: str
    times: tuple[float, float, float]
    after: tuple[tuple[str, When], ...]
    lags: tuple[LagRow, ...]
    when: When
    odds_of: str
    minutes_of: str
    tools: tuple[str, ...]
    needs: tuple[NeedRow, ...]
    hold: HoldRow | None
    stop: str
    cautions: tuple[str, ...]
    joints: tuple[str, ...]
    opens: tuple[str, ...]
    closes: tuple[str, ...]
    critical: bool
    in_one_go: bool
    step: str
    again: bool
    audits: bool
    amounts: tuple[str, ...]
    findings: tuple[str, ...]
    source: str
    same_stay: tuple[str, ...]

    @property
    def words(self) -> str:
        """All that it can say."""
        return " ".join(text for text, _ in self.says)


@cache
def task_rows() -> Mapping[str, TaskRow]:
    """Every task by its key, in the order of the files. Raises ValueError for a fault of the library."""
    found: dict[str, TaskRow] = {}
    for phase in PHASES:
        for word, row in tomllib.loads(read_text(f"tasks/{phase}.toml")).items():
            made = _task(phase, word, dict(row))
            found[made.key] = made
    for row_ in found.values():
        unknown = {key for key, _ in row_.after} | {lag.task for lag in row_.lags} | set(row_.same_stay)
        if not unknown <= found.keys():
            raise ValueError(f"'{row_.key}' follows what there is not: {sorted(unknown - found.keys())}")
    return found


def _task(phase: str, word: str, left: dict[str, Any]) -> TaskRow:
    key = f"{phase}.{word}"

    def full(name: str) -> str:
        return name if "." in name else f"{phase}.{name}"

    low, likely, high = (60.0 * float(minutes) for minutes in left.pop("minutes"))
    lags = tuple(_lag(dict(lag), full) for lag in left.pop("lags", ()))
    after = [_named(item, "task") for item in left.pop("after", ())]
    made = TaskRow(
        key=key,
        phase=phase,
        says=_says(left.pop("words")),
        crew=tuple(left.pop("crew")),
        place=left.pop("place"),
        times=(low, likely, high),
        after=tuple((full(name), when) for name, when in after),
        lags=lags,
        when=_when(left),
        odds_of=left.pop("odds_of", ""),
        minutes_of=left.pop("minutes_of", ""),
        tools=tuple(left.pop("tools", ())),
        needs=tuple(_need(dict(need)) for need in left.pop("needs", ())),
        hold=_hold(left.pop("hold", None)),
        stop=left.pop("stop", ""),
        cautions=tuple(left.pop("cautions", ())),
        joints=tuple(left.pop("joints", ())),
        opens=tuple(left.pop("opens", ())),
        closes=tuple(left.pop("closes", ())),
        critical=left.pop("critical", False),
        in_one_go=not left.pop("divisible", False),
        step=left.pop("step", ""),
        again=left.pop("again", False),
        audits=left.pop("audits", False),
        amounts=tuple(left.pop("amounts", ())),
        findings=tuple(left.pop("findings", ())),
        source=left.pop("source", "common practice, no source"),
        same_stay=tuple(full(name) for name in left.pop("same_stay", ())),
    )
    if left:
        raise ValueError(f"task '{key}' has unknown entries: {', '.join(left)}")
    return made


def _says(words: Any) -> tuple[tuple[str, When], ...]:
    """One text, or pieces of which some belong to some builds only."""
    return tuple(_named(piece, "text") for piece in ([words] if isinstance(words, str) else words))


def _when(row: dict[str, Any]) -> When:
    return When(tuple(row.pop("if", ())), tuple(row.pop("unless", ())))


def _named(item: Any, name: str) -> tuple[str, When]:
    """A key by itself, or a table that says when it counts."""
    if isinstance(item, str):
        return item, When()
    left = dict(item)
    when = _when(left)
    text = left.pop(name)
    if left:
        raise ValueError(f"unknown entries beside '{text}': {', '.join(left)}")
    return text, when


def _lag(row: dict[str, Any], full: Any) -> LagRow:
    if "days" in row:
        low, likely, high = (86400.0 * float(days) for days in row.pop("days"))
        return LagRow(full(row["task"]), likely, row["why"], _when(row), (low, likely, high))
    seconds = 3600.0 * float(row.pop("hours", 0.0)) + 60.0 * float(row.pop("minutes", 0.0))
    return LagRow(full(row["task"]), seconds, row["why"], _when(row))


def _need(row: dict[str, Any]) -> NeedRow:
    when = _when(row)
    return NeedRow(row["item"], float(row.get("quantity", 0.0)), row["unit"], row.get("amount", ""), when)


def _hold(row: Mapping[str, Any] | None) -> HoldRow | None:
    if row is None:
        return None
    readings = tuple(_named(item, "reading") for item in row.get("readings", ()))
    return HoldRow(row["rule"], readings, row.get("witness", False), row.get("never", ""))

"""From guesses to choices: which quantity each column is, what must be asked, and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from boostwright.library.channels import channel_kinds
from boostwright.quantity import Dimension
from boostwright.readers.drive_log.candidates import Guess, guesses
from boostwright.readers.drive_log.evidence import Look, Scene, range_fit, rules
from boostwright.readers.drive_log.mapping import CLOCK, Candidate, ColumnMapping, Mapping, Question
from boostwright.readers.drive_log.pieces import RawColumn
from boostwright.readers.drive_log.settle import settle
from boostwright.readers.drive_log.units import unit_named, units_of

__all__ = ["Recognised", "recognise", "unit_text"]


class Recognised(NamedTuple):
    """The choices for all columns, and what is open."""

    columns: tuple[ColumnMapping, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]


def unit_text(guess: Guess) -> str:
    """The unit as a mapping names it: a pressure with its kind."""
    if guess.kind and not guess.unit.name.endswith((" absolute", " gauge")) and guess.unit.kind is None:
        return f"{guess.unit.name} {guess.kind}"
    return guess.unit.name


def recognise(
    columns: Sequence[RawColumn], scene: Scene, place: float, known: Mapping | None = None
) -> Recognised:
    """What each column is.

    scene: their values. place: barometer to reckon with [Pa]. known: what a person said of such a file.
    """
    open_: dict[int, list[Guess]] = {}
    copies, notes = _copies(columns, scene)
    for column in columns:
        look = scene.looks.get(column.number)
        if look is None or column.number in copies:
            continue
        found = guesses(column.heading, column.unit, look, place)
        if found:
            open_[column.number] = found
    decided = _decided(columns, known)
    for number, (key, unit_name, _) in decided.items():  # what a person said is ground for the others
        guess = _as_guess(key, unit_name)
        if guess is not None:
            open_[number] = [guess]
        else:
            open_.pop(number, None)
    with np.errstate(over="ignore", invalid="ignore"):  # broken cells may be as large as numbers can be
        settle(open_, scene, place)
    chosen: list[ColumnMapping] = []
    questions: list[Question] = []
    for column in columns:
        if column.number in decided:
            key, unit_name, cylinder = decided[column.number]
            chosen.append(
                ColumnMapping(
                    column.number,
                    column.heading,
                    unit_name,
                    key,
                    cylinder,
                    1.0,
                    (),
                    "a person said so",
                    True,
                    "person",
                    column.source,
                )
            )
            continue
        if column.number in copies:
            chosen.append(_nothing(column, copies[column.number]))
            continue
        mapped, question = _choose(column, open_.get(column.number, []), scene.looks.get(column.number))
        chosen.append(mapped)
        if question is not None:
            questions.append(question)
    return Recognised(tuple(chosen), tuple(questions), tuple(notes))


def _decided(columns: Sequence[RawColumn], known: Mapping | None) -> dict[int, tuple[str, str, int]]:
    """By column: key, unit and cylinder that a person gave; found by heading, then by place."""
    if known is None:
        return {}
    said = [c for c in known.columns if c.decided == "person" and c.key != CLOCK]
    found = {}
    for mapped in said:
        alike = [c for c in columns if c.heading == mapped.heading]
        if len(alike) > 1:
            alike = [c for c in alike if c.number == mapped.column] or alike[:1]
        for column in alike:
            found[column.number] = (mapped.key, mapped.unit, mapped.cylinder)
    return found


def _as_guess(key: str, unit_name: str) -> Guess | None:
    if key not in channel_kinds():
        return None
    unit = unit_named(unit_name, channel_kinds()[key].dimension)
    if unit is None:
        return None
    return Guess(key, unit, unit.kind.value if unit.kind else "", True, True, 0, 1.0, 1.0, "a person said so")


def _candidate(guess: Guess) -> Candidate:
    return Candidate(
        guess.key, unit_text(guess), guess.cylinder, round(float(min(guess.score, 0.99)), 3), guess.reason
    )


def _nothing(column: RawColumn, reason: str) -> ColumnMapping:
    """A column that is not read."""
    number, heading, unit = column.number, column.heading, column.unit
    return ColumnMapping(number, heading, unit, "", 0, 0.0, (), reason, False, "program", column.source)


def _choose(
    column: RawColumn, found: list[Guess], look: Look | None
) -> tuple[ColumnMapping, Question | None]:
    """The choice for one column, with the question where two readings of it are too near each other."""
    rule = rules()["choice"]
    nothing = _nothing(column, "nobody knows this heading")
    if not found or look is None:
        return nothing, None
    found = sorted(found, key=lambda g: -g.score)
    best = found[0]
    alternatives = tuple(_candidate(g) for g in found[1:6] if g.score > 0.15)
    if best.score < rule["ask"]:
        reason = (
            "its words fit badly"
            if best.by_value > 0.5
            else f"its values do not fit {channel_kinds()[best.key].words}"
        )
        return nothing._replace(reason=reason, alternatives=(_candidate(best), *alternatives)), None
    if look.filled == 0:
        return nothing._replace(
            reason="the column is empty", alternatives=(_candidate(best), *alternatives)
        ), None
    rivals = [
        g
        for g in found[1:]
        if g.score > best.score - rule["lead"] and g.score >= 0.25 and _differs(best, g, look)
    ]
    sick = best.unit_said and best.kind_said and best.by_name >= rule["exact"] and best.score >= rule["ask"]
    if sick and not rivals and best.score < rule["accept"] and not _better_unit(best, look):
        # name and unit are written and no other unit fits better: it is the sensor that is out of range
        words = (
            f"by its name and unit; its readings from {look.low:.4g} to {look.high:.4g} are out of the usual"
        )
        return (
            nothing._replace(
                unit=unit_text(best),
                key=best.key,
                cylinder=best.cylinder,
                confidence=rule["accept"],
                alternatives=alternatives,
                reason=words,
                unit_said=True,
            ),
            None,
        )
    if rivals or best.score < rule["accept"]:
        why = _why(best, rivals, look)
        mapped = nothing._replace(alternatives=(_candidate(best), *alternatives), reason=why)
        others = rivals or [g for g in found[1:] if g.key == best.key and g.score >= rule["ask"]][:2]
        offered = tuple(_candidate(g) for g in (best, *others))
        return mapped, Question(column.number, column.heading, offered, why)
    return (
        ColumnMapping(
            column.number,
            column.heading,
            unit_text(best),
            best.key,
            best.cylinder,
            round(float(min(best.score, 0.99)), 3),
            alternatives,
            best.reason,
            best.unit_said and best.kind_said,
            "program",
            column.source,
        ),
        None,
    )


def _better_unit(guess: Guess, look: Look) -> bool:
    """True where the values would be usual in another unit than the one that is written."""
    others = (u for u in units_of(guess.unit.dimension) if u.name != guess.unit.name.split()[0])
    return any(range_fit(guess.key, look, u) > 0.8 for u in others if math.isnan(u.below))


def _differs(a: Guess, b: Guess, look: Look) -> bool:
    """True where it matters which of two readings is right."""
    if a.key != b.key or a.cylinder != b.cylinder:
        return True
    if a.kind != b.kind:
        return True
    if look.distinct == 0:
        return a.unit.name != b.unit.name
    va, vb = a.unit.to_si(look.quantiles), b.unit.to_si(look.quantiles)
    scale = max(float(np.max(np.abs(va))), float(np.max(np.abs(vb))), 1e-12)
    return bool(np.max(np.abs(va - vb)) > rules()["choice"]["different"] * scale)


def _why(best: Guess, rivals: list[Guess], look: Look) -> str:
    shown = f"readings from {look.low:.4g} to {look.high:.4g}, middle {look.middle:.4g}"
    if not rivals:
        if best.by_value < 0.5:
            words = channel_kinds()[best.key].words
            return f"by its name it is {words} in {unit_text(best)}, but it has {shown}"
        return f"its name says too little; it has {shown}"
    keys = {g.key for g in (best, *rivals)}
    if len(keys) > 1:
        names = ", or ".join(channel_kinds()[k].words for k in sorted(keys))
        return f"it can be {names}; it has {shown}"
    units = ", or ".join(dict.fromkeys(unit_text(g) for g in (best, *rivals)))
    if channel_kinds()[best.key].dimension is Dimension.MIXTURE:
        return f"an air-fuel ratio means nothing without its fuel ({units}); it has {shown}"
    return f"nobody says its unit, and its values fit {units}; it has {shown}"


def _copies(columns: Sequence[RawColumn], scene: Scene) -> tuple[dict[int, str], list[str]]:
    """Columns that only repeat another of the same heading, or rest while it moves; with notes."""
    left: dict[int, str] = {}
    notes: list[str] = []
    by_heading: dict[tuple[str, int], list[int]] = {}
    for column in columns:
        if column.heading and column.number in scene.looks:
            by_heading.setdefault((column.heading, column.clock), []).append(column.number)
    for (heading, _), numbers in by_heading.items():
        if len(numbers) < 2:
            continue
        first = max(numbers, key=lambda n: (scene.looks[n].distinct > 1, -n))
        for number in numbers:
            if number == first:
                continue
            look = scene.looks[number]
            if look.distinct <= 1 or _equal(scene.looks[first], look):
                left[number] = "the same heading again, with nothing new"
                notes.append(f"'{heading}' stands twice; one of them says nothing new and is left out")
            else:
                notes.append(f"'{heading}' stands twice with different readings; both are read")
    return left, notes


def _equal(a: Look, b: Look) -> bool:
    return len(a.value) == len(b.value) and bool(np.array_equal(a.value, b.value, equal_nan=True))

"""What the model says of a reviewed drive, in words: power by the road, what parted, what was learned."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from boostwright.build.catalogue import catalogue
from boostwright.drive.learned import BreathingMap, Learned, LearnedLine
from boostwright.drive.next_step import NextStep
from boostwright.drive.pulls import Pull
from boostwright.drive.road_power import RoadPower
from boostwright.findings.model import Amount, Kind
from boostwright.fitting.record import known_word
from boostwright.quantity import write
from boostwright.views.drive_words import KINDS, moment
from boostwright.views.numbers import fill, say, say_band

if TYPE_CHECKING:
    from boostwright.drive.reviewed import ReviewedDrive

__all__ = [
    "change_lines",
    "learned_lines",
    "learned_record",
    "model_lines",
    "power_record",
    "pull_lines",
    "step_lines",
    "step_record",
]

_RPM: Final = math.pi / 30.0
_UNKNOWN_POWER: Final = 0.2  # of a power, from which its spread makes it no figure (judgement)
_MOST_WHY, _MOST_CHANGES = 4, 5  # that are printed without --all
_FOR_SPECIALISTS: Final = ("Told by the drive", "Not told")
_MOVED: Final = 0.5  # spreads from which a line is worth printing without --all


def _wrapped(text: str, width: int, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=then or first)


def _power_of(drive: ReviewedDrive, pull: Pull) -> RoadPower | None:
    expectation = None if drive.model is None else drive.model.expectation
    if expectation is None:
        return None
    return next((p for p in expectation.powers if p.stretch == pull.stretch), None)


def step_lines(drive: ReviewedDrive, width: int) -> list[str]:
    """Whether the ladder's next step opens by this drive, and what stands in the way."""
    step = None if drive.model is None else drive.model.step
    if step is None:
        return []
    if step.rung is None:
        return _wrapped("The ladder is climbed: every gate is open.", width)
    name = f"step {step.rung.number}, {fill(step.rung.words)} ({step.rung.key})"
    if step.opens and step.pull is not None:
        text = f"NEXT STEP OPEN: the pull at {moment(step.pull.start)} has every reading of {name} in its"
        text += " range. Nothing is on record before you enter it: --record --who NAME."
        return _wrapped(text, width)
    lines = _wrapped(f"NEXT STEP SHUT: {name}.", width)
    for why in step.why[:_MOST_WHY]:
        lines += _wrapped(f"{why.rstrip('.')}.", width, "  - ", "    ")
    if len(step.why) > _MOST_WHY:
        lines += _wrapped(f"and {len(step.why) - _MOST_WHY} more: boostwright ladder FILE.", width, "  - ")
    return lines


def change_lines(drive: ReviewedDrive, width: int, every: bool) -> list[str]:
    """What to change, the smallest change first."""
    step = None if drive.model is None else drive.model.step
    if step is None or not step.changes:
        return []
    lines = ["", "What to change, smallest first"]
    shown = step.changes if every else step.changes[:_MOST_CHANGES]
    for number, change in enumerate(shown, 1):
        before = "before anything else: " if change.first else ""
        lines += _wrapped(f"{number}. {before}{change.words}", width, "  ", "     ")
        lines += _wrapped(f"because {change.why}", width, "     ")
    if len(step.changes) > len(shown):
        lines += _wrapped(f"{len(step.changes) - len(shown)} more: --all.", width, "  ")
    return lines


def step_record(step: NextStep) -> dict[str, Any]:
    """The next step for programs, SI."""
    return {
        "step": None if step.rung is None else step.rung.key,
        "pull": None if step.pull is None else step.pull.start,
        "opens": step.opens,
        "why": list(step.why),
        "readings": [{"measurement": r.measurement, "values": list(r.values)} for r in step.readings],
        "changes": [
            {"words": c.words, "why": c.why, "first": c.first, "about": c.about, "effort": c.effort}
            for c in step.changes
        ],
    }


def pull_lines(drive: ReviewedDrive, width: int) -> list[str]:
    """One line a pull: when, gear, speeds, highest pressure, time to boost, power by the road."""
    review = drive.review
    if not review.pulls:
        return []
    head = f"  {'at':>9} {'gear':>4} {'rpm':>12} {'highest':>8} {'to boost':>9}"
    powers = [_power_of(drive, p) for p in review.pulls]
    shown = any(p is not None and not p.refused for p in powers)
    lines = ["", "Pulls", head + (f" {'power at the crank':>21}" if shown else "")]
    units = f"  {'':>9} {'':>4} {'':>12} {'kPa abs':>8} {'s':>9}"
    lines.append(units + (f" {'kW, by the road':>21}" if shown else ""))
    for pull, power in zip(review.pulls, powers, strict=True):
        gear = str(pull.stretch.gear) if pull.stretch.gear else "?"
        rpm = f"{pull.speed_from / _RPM:.0f} to {pull.speed_to / _RPM:.0f}"
        peak = f"{pull.peak / 1e3:.0f}" if math.isfinite(pull.peak) else "-"
        late = f"{pull.time_to_boost:.1f}" if math.isfinite(pull.time_to_boost) else "-"
        line = f"  {moment(pull.stretch.start):>9} {gear:>4} {rpm:>12} {peak:>8} {late:>9}"
        if shown:
            best = None if power is None else power.peak()
            said = "-"
            if best is not None and best[1].sd > _UNKNOWN_POWER * best[1].value:
                said = "too unsure"
            elif best is not None:
                said = say_band(Amount(best[1].value, best[1].sd, Kind.POWER)).replace("kW", "").strip()
                said += f" at {best[0] / _RPM:.0f}"
            line += f" {said:>21}"
        lines.append(line[:width])
    return lines + _power_notes([p for p in powers if p is not None], width)


def _power_notes(powers: Sequence[RoadPower], width: int) -> list[str]:
    """Corrections to a standard, what was refused, and what was taken for granted: each once."""
    lines: list[str] = []
    told: dict[str, None] = {}
    for power in powers:
        for c in power.corrected:
            if c.uncorrected_too:
                words = f"between the measured power and {c.factor:.3f} times it: what held the boost is open"
            elif c.factor == 1.0:
                words = "the measured power as it is, for the boost was held absolute"
            else:
                words = f"{c.factor:.3f} times the measured power"
            if c.out_of_range:
                words += ", outside the range for which the standard gives it"
            told.setdefault(f"By {c.standard}: {words}.")
        for note in power.notes:
            told.setdefault(note)
    refused: dict[str, list[RoadPower]] = {}
    for power in powers:
        for why in power.refused:
            refused.setdefault(why, []).append(power)
    for why, those in refused.items():
        count = "One pull" if len(those) == 1 else f"{len(those)} pulls"
        told.setdefault(f"{count} without power: {why}")
    for text in told:
        lines += _wrapped(text, width, "  ", "    ")
    return lines


def model_lines(drive: ReviewedDrive, width: int, every: bool) -> list[str]:
    """How the pulls stand to the model, and what could not be compared."""
    if drive.model is None:
        return []
    lines = ["", "Beside the model"]
    expectation = drive.model.expectation
    if expectation is not None:
        lines += _wrapped(f"Outside air: {expectation.outside.how}.", width, "  ", "    ")
        by: dict[str, list[float]] = {}
        for one in expectation.compared:
            inside = one.ratio[np.isfinite(one.ratio)]
            by.setdefault(one.words, []).extend(np.abs(inside).tolist())
        for words, ratios in by.items():
            if ratios:
                good = 100.0 * float(np.mean(np.array(ratios) <= 2.0))
                text = f"{words}: {good:.0f} % of the readings within two spreads of what was expected."
                lines += _wrapped(text, width, "  ", "    ")
        for text in expectation.cannot:
            lines += _wrapped(text, width, "  ", "    ")
    for text in drive.model.apart:
        lines += _wrapped(text, width, "  ", "    ")
    if drive.model.learned is not None:
        lines += learned_lines(drive.model.learned, width, every)
    return lines


def learned_lines(learned: Learned, width: int, every: bool) -> list[str]:
    """What the drive taught: before and after, those that moved or narrowed first."""
    lines = ["", "Learned from this drive"]
    for text in learned.words:
        if every or not text.startswith(_FOR_SPECIALISTS):
            lines += _wrapped(text, width, "  ", "    ")
    chart = learned.breathing
    low, high = (100.0 * (float(f) - 1.0) for f in _seen_range(chart))
    if math.isfinite(low):
        lines += _wrapped(
            f"Where it was driven the engine takes {low:+.0f} to {high:+.0f} % of air against what the file"
            " alone makes one expect.",
            width,
            "  ",
            "    ",
        )
    named = [line for line in learned.lines if not line.name.startswith("road.")]
    shown = [n for n in named if every or _for_a_builder(n)]
    if shown:
        lines += _wrapped("before and after, each with two spreads:", width, "  ")
    for line in shown:
        text = f"{line.words}: {_amount(line, line.before, line.before_sd)} before,"
        text += f" {_amount(line, line.after, line.after_sd)} after; {_known(line)}."
        lines += _wrapped(text, width, "    ", "      ")
    return lines


def _seen_range(chart: BreathingMap) -> tuple[float, float]:
    """Lowest and highest factor where readings stand; NaN where none do."""
    seen = chart.factor[chart.covered]
    return (float(seen.min()), float(seen.max())) if seen.size else (math.nan, math.nan)


def _for_a_builder(line: LearnedLine) -> bool:
    """A part or a sensor that moved or is known better now; what only the model knows stands under --all."""
    part = line.is_field and not line.name.startswith("model.")
    sensor = line.name.startswith("sensor.")
    return (part or sensor) and (abs(line.moved) >= _MOVED or line.known < 0.7)


def _amount(line: LearnedLine, value: float, sd: float) -> str:
    if line.is_field:  # in the unit of the build file
        field = catalogue().field(line.name)
        if field.dimension is not None:
            return write(value, field.unit, field.dimension, sd).replace("+/-", "±")
    amount = Amount(value, sd, KINDS.get(line.dimension, Kind.RATIO))
    return say_band(amount) if sd > 0.0 else say(amount)


def _known(line: LearnedLine) -> str:
    return {"told": "told by the drive", "partly": "told in part", "no": "not told"}.get(
        known_word(line.known), known_word(line.known)
    )


def power_record(power: RoadPower) -> dict[str, Any]:
    """Power of one pull for programs, SI."""
    best = power.peak()
    return {
        "start": power.stretch.start,
        "by": power.by or None,
        "peak_at": None if best is None else best[0],
        "peak": None if best is None else best[1].value,
        "peak_sd": None if best is None else best[1].sd,
        "engine_speed": power.speed.tolist(),
        "wheel": power.wheel.tolist(),
        "wheel_sd": power.wheel_sd.tolist(),
        "crank": power.crank.tolist(),
        "crank_sd": power.crank_sd.tolist(),
        "corrected": [
            {
                "standard": c.standard,
                "factor": c.factor,
                "factor_sd": c.factor_sd,
                "outside_its_range": c.out_of_range,
                "between_one_and_factor": c.uncorrected_too,
            }
            for c in power.corrected
        ],
        "refused": list(power.refused),
        "notes": list(power.notes),
    }


def learned_record(learned: Learned) -> dict[str, Any]:
    """What the drive taught for programs, SI."""
    return learned.to_plain()

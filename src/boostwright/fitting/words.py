"""What a fit was told and what it was not, in plain words."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.build.values import Source
from boostwright.fitting.data import Quantity, Row
from boostwright.fitting.model import FACTORS
from boostwright.fitting.record import FARTHEST, FEWEST, SUSPECT, Fit, FitLine, known_word

__all__ = ["words_of"]

Array = NDArray[np.float64]

_ALIKE = 0.8  # cosine from which two effects on the readings count as alike
_NAMES = {
    "model.breathing": "how well it breathes",
    "model.breathing_slope": "how its breathing changes with speed",
    "model.breathing_curve": "how its breathing bends over speed",
    "model.friction": "friction",
    "model.burn": "burn speed",
    "model.heat": "wall heat",
    "model.knock": "knock",
    "model.knock_warmth": "how knock grows with heat",
}
_WOULD = {
    "model.friction": "a run-down or motored test",
    "model.heat": "exhaust temperature in the same pull",
    "model.burn": "the spark logged in the same pull",
    "model.knock": "the spark logged in the same pull",
    "model.knock_warmth": "the spark logged in the same pull",
}
_POUND_FEET = 1.3558  # newton metres
_LIKE_UNIT = 0.08  # by which a curve may miss the factor between two units and still look like it (judgement)
_ALONE = 4.0  # spreads by which one reading stands off its row, from which it is named (judgement)
_SUSPECTS = {  # by the unit of a row
    "N m": "the rolling road's scale and correction, and what is lost between crank and wheels",
    "kg": "the injectors' flow, the pressure in the rail and the dead time",
    "kg/s": "the air meter",
    "rad": "the base timing, with a piston stop and a light",
    "K": "the probe and its place",
}
_POLYTROPIC, _POLYTROPIC_SD = 1.27, 0.04  # of cranking, leaks included (common practice, no source)


def words_of(
    fit: Fit,
    build: Build,
    rows: tuple[Row, ...],
    retarded: bool,
    alike: dict[str, tuple[str, float]],
) -> Fit:
    """The fit with its sentences. alike: the other factor whose effect on the readings runs most parallel to
    that of a factor, and the cosine between them.
    """
    by_word: dict[str, list[str]] = {"told": [], "partly": [], "no": []}
    for path, share in zip(FACTORS, fit.known, strict=True):
        by_word[known_word(float(share))].append(path)
    told, partly, open_ = by_word["told"], by_word["partly"], by_word["no"]
    said = [
        f"The readings tell {_count(fit.told)} beyond what the class of engine says; some may be of several"
        " factors together."
        if fit.told
        else "The readings tell nothing beyond what the class of engine says."
    ]
    if told:
        said.append(f"Told: {_listed([_NAMES[p] for p in told])}.")
    if partly:
        said.append(f"Told in part: {_listed([_NAMES[p] for p in partly])}.")
    if open_:
        said.append(
            f"Not told, so as little known as the class has them, wherever they were moved to:"
            f" {_listed([_NAMES[p] for p in open_])}."
        )
    if open_ or partly:
        said += _why(open_ + partly, alike)
        would = list(dict.fromkeys(_WOULD[p] for p in open_ + partly if p in _WOULD))
        have = {row.quantity for row in rows}
        if Quantity.SPARK in have:
            would = [w for w in would if "spark" not in w]
        if Quantity.EXHAUST in have:
            would = [w for w in would if "exhaust" not in w]
        if would:
            said.append(f"What would tell them: {_listed(would)}.")
    if retarded:
        said.append(
            "The logged spark stands later than both the best one and the knock limit: a cautious map. Up to"
            " 10 degrees of that tell nothing of burn and knock; what is beyond counts, for no map gives more"
            " away. Before you believe it, check the base timing with a piston stop and a light: a slipped"
            " mark looks the same."
        )
    said += [
        f"{_NAMES[path][0].upper()}{_NAMES[path][1:]} came out {abs(move):.0f} spreads from its class, where"
        " hardly any engine lies: look for a wrong unit, a wrong size, or a reading that is none."
        for path, move in zip(fit.paths, fit.moved, strict=True)
        if abs(move) > FARTHEST
    ]
    said += [*_other_unit(fit.lines), *_rows_off(fit.lines)]
    rail = fit.rail_of_stated
    if math.isfinite(rail):
        much = "more" if fit.fuel_off > 0.0 else "less"
        said.append(
            f"By the injector times the engine had {abs(math.expm1(fit.fuel_off)):.0%} {much} fuel than all"
            f" other readings say, where {fit.fuel_off_sd:.0%} would be usual. If the rail alone is at fault,"
            f" its pressure is {rail:.2f} times the stated one: a gauge settles that in ten minutes."
        )
    if fit.chi_square > SUSPECT:
        said.append(
            f"The readings and the fitted engine differ by more than their spreads allow (mean square"
            f" {fit.chi_square:.1f}, where 1 is usual): look for a wrong unit, a wrong correction, or a sick"
            " engine. The spreads are widened by that."
        )
    said += _unused(build)
    return replace(fit, words=tuple(said))


def _other_unit(lines: tuple[FitLine, ...]) -> list[str]:
    """A curve that stands off the class at all speeds by what parts pound-feet from newton metres."""
    for line in lines:
        if line.unit != "N m" or line.read.size < FEWEST:
            continue
        ratio = line.read / line.before
        middle = float(np.nanmean(ratio))
        written, meant = ("Nm", "lb-ft") if middle < 1.0 else ("lb-ft", "Nm")
        factor = _POUND_FEET if middle > 1.0 else 1.0 / _POUND_FEET
        if abs(math.log(middle / factor)) < _LIKE_UNIT and float(np.nanstd(ratio)) < _LIKE_UNIT * middle:
            asked = (
                f"The curve is {middle:.2f} times that of the class at all speeds, and {factor:.2f} is what"
                f" parts the two units of torque: was it {meant}, and stands there as {written}?"
            )
            return [asked]
    return []


def _rows_off(lines: tuple[FitLine, ...]) -> list[str]:
    """Rows to one side of the fitted engine at all speeds, and single readings far off their row."""
    said = []
    for line in lines:
        off = line.off()
        if off.size < FEWEST:
            continue
        aside = line.aside()
        if aside:
            side = "above" if aside > 0.0 else "below"
            said.append(
                f"The readings of {line.what} stand {side} the fitted engine at all speeds, by"
                f" {abs(aside):.1f} spreads on average, so they and the others contradict each other: check"
                f" {_SUSPECTS.get(line.unit, 'units and instrument')}."
            )
        alone = np.abs(off - np.median(off))
        worst = int(np.argmax(alone))
        if alone[worst] > _ALONE and np.sort(alone)[-2] < 0.5 * alone[worst]:
            counts = line.used & np.isfinite(line.read)
            rpm = float(line.speed[counts][worst]) * 30.0 / math.pi
            said.append(
                f"One reading of {line.what} lies {alone[worst]:.0f} spreads off its row, at {rpm:.0f} rpm: a"
                " slip of the pen?"
            )
    return said


def _why(paths: list[str], alike: dict[str, tuple[str, float]]) -> list[str]:
    """Why factors were not told: the readings move with them as with others, or hardly."""
    found: dict[frozenset[str], str] = {}
    for path in paths:
        other, cosine = alike.get(path, (path, 0.0))
        if cosine >= _ALIKE:
            found.setdefault(frozenset((path, other)), f"{_NAMES[path]} and {_NAMES[other]} ({cosine:.2f})")
    if not found:
        return []
    why = (
        "Why: the readings move with one much as with the other, so they know at most what the two make"
        f" together: {', '.join(found.values())}. 1 would be wholly alike."
    )
    return [why]


def _unused(build: Build) -> list[str]:
    """What the file has that tells nothing of these factors, and why."""
    found = []
    pressure, ratio = build.get("engine.compression_pressure"), build["engine.compression_ratio"]
    if pressure is not None and pressure.value:
        mean = float(np.mean(np.asarray(pressure.value))) + build.barometer
        implied = (mean / build.barometer) ** (1.0 / _POLYTROPIC)
        spread = implied * math.log(max(implied, 1.1)) * _POLYTROPIC_SD / _POLYTROPIC
        found.append(
            f"Cranking compression stands for a ratio of {implied:.1f} ± {2 * spread:.1f} with leaks and"
            f" cranking speed as they are; your {float(ratio.value):.1f} ± {2 * float(ratio.sd):.2g} is"
            " better known, so it is not moved."
        )
    if build.is_stated("engine.idle_speed"):
        found.append(
            "Idle speed alone says little of friction: throttle, spark and mixture move it as much. It is not"
            " used."
        )
    rail = build["regulator.pressure"]
    timed = build.get("baseline.injector_time") is not None
    if timed and build.get("baseline.injector_flow") is None:
        found.append(
            "Injector times without the flow of the injectors that the engine had (baseline.injector_flow)"
            " tell only a shape; they are not used."
        )
    elif not timed and (rail.source is Source.MEASURED or build.is_stated("baseline.fuel_pressure")):
        found.append(
            "Fuel pressure at the rail tells the air only together with injector times; it serves the"
            " findings on fuel."
        )
    elif timed and build.is_stated("baseline.fuel_pressure") != build.is_stated(
        "baseline.injector_flow_pressure"
    ):
        found.append(
            "The injectors' flow counts as it is stated: to bring it to the rail it takes both"
            " baseline.fuel_pressure and baseline.injector_flow_pressure."
        )
    return found


def _count(number: int) -> str:
    words = ("nothing", "one number", "two numbers", "three numbers", "four numbers", "five numbers")
    return words[number] if number < len(words) else f"{number} numbers"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"

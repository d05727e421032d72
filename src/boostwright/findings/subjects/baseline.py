"""Is the computed engine the engine in front of you: displacement, torque per litre, your own figures."""

from __future__ import annotations

import re

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.stated_curve import stated_curve
from boostwright.findings.sure import sure_demand

__all__ = ["against_stated", "displacement", "torque_per_litre"]

_MODEL_SD = 0.06  # of a computed full-load torque with class defaults: breathing and friction


@rule(
    "baseline.torque_per_litre",
    "Torque per litre before the turbo",
    asks="Does the computed engine give what such engines usually give?",
    demand="greatest computed torque over displacement",
    capacity="usual torque per litre of the class",
    harm=Harm.POOR_RUNNING,
    harm_words="a wrong input makes every other number wrong",
    sense=Sense.AT_LEAST,
    limits=("usual_torque_four_valve", "usual_torque_two_valve"),
    of_the_file=True,
)
def torque_per_litre(rule: Rule, case: Case) -> Finding | None:
    """max T / V_d against the low end of the usual band."""
    torque = case.baseline.result.torque
    best = int(np.nanargmax(torque))
    usual = float(torque[best]) / case.engine.displacement
    air = (
        case.ambient_pressure / 1.0e5 * 298.15 / case.ambient_temperature
    )  # usual figures are for common air
    two = case.engine.intake.count == 1
    limit = case.limits["usual_torque_two_valve" if two else "usual_torque_four_valve"]
    demand = Amount(
        usual / air,
        case.left(_MODEL_SD) * usual / air,
        Kind.TORQUE_PER_VOLUME,
        "best of the computed curve, in common air",
    )
    sure = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(float(case.baseline.speeds[best])),
        cause=Phrase("Valve sizes, lifts, cam timing and compression ratio decide it."),
        remedy=Phrase(
            "Check bore, stroke, valve sizes and cam timing in the file against the engine: a sound one of"
            " this size gives {sure} or more at its best, in common air.",
            {"sure": Amount(sure * case.engine.displacement, None, Kind.TORQUE)},
        ),
        reading=Reading(
            "Look up the torque that the maker states for this engine code, and put it in the file.", 600.0
        ),
        about=(
            "engine.intake_lift",
            "engine.intake_closes",
            "engine.intake_valve_diameter",
            "engine.port_flow",
        ),
    )


@rule(
    "baseline.stated_torque",
    "Computed against your torque figures",
    asks="Does the computed engine agree with the torque that you state?",
    demand="largest difference between computed and stated torque, as a share",
    capacity="agreement to be expected",
    harm=Harm.POOR_RUNNING,
    harm_words="a wrong input or a sick engine makes every other number wrong",
    sense=Sense.AT_MOST,
    limits=("stated_torque",),
    of_the_file=True,
)
def against_stated(rule: Rule, case: Case) -> Finding | None:
    """max |T_computed / T_stated - 1| at the computed speeds that have a stated point near.

    Wheels count 12 % less. The stated figure is brought from its weather, or from the atmosphere of its
    standard, to the air of the place for which the engine is computed (iso1585).
    """
    curve = stated_curve(case)
    if curve is None:
        return None
    speed, ratio = curve.speed, curve.ratio
    worst = int(np.argmax(np.abs(ratio - 1.0)))
    off = abs(float(ratio[worst]) - 1.0)
    limit = case.limits["stated_torque"]
    more = "more" if ratio[worst] > 1.0 else "less"
    demand = Amount(
        off,
        float(curve.sd[worst]),
        Kind.SHARE,
        "largest difference from your figures, brought to the air of the place",
    )
    computed = float(np.interp(speed[worst], case.baseline.speeds, case.baseline.result.torque))
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(float(speed[worst])),
        cause=Phrase(
            f"The model gives {{off}} {more} than you state, both in the air of the place.",
            {"off": Amount(off, None, Kind.SHARE)},
        ),
        remedy=Phrase(
            "Check the figures, the weather they were read in, and the engine's valve and cam data, and let"
            " 'boostwright fit' bring the model to them: at"
            " {speed} your figures come to {yours} in the air of the place, and the computed engine"
            " gives {ours}.",
            {
                "speed": Amount(float(speed[worst]), None, Kind.ENGINE_SPEED),
                "yours": Amount(computed / float(ratio[worst]), None, Kind.TORQUE),
                "ours": Amount(computed, None, Kind.TORQUE),
            },
        ),
        reading=Reading(
            "Two full-load pulls before the conversion, with lambda and manifold pressure.", 3600.0
        ),
        about=("baseline.torque", "engine.intake_closes", "engine.runner_length", "engine.port_flow"),
    )


@rule(
    "engine.displacement",
    "Displacement against bore and stroke",
    asks="Do the papers agree with bore, stroke and number of cylinders?",
    demand="difference of bore area times stroke times cylinders from the displacement stated, as a share",
    capacity="agreement to be expected of papers",
    harm=Harm.POOR_RUNNING,
    harm_words="one of the three is wrong, and with it air, fuel, rod load and every other number",
    sense=Sense.AT_MOST,
    limits=("displacement",),
    of_the_file=True,
)
def displacement(rule: Rule, case: Case) -> Finding | None:
    """|n pi/4 B^2 S / V_stated - 1|; what rounding may hide in the figure as it is written is taken off."""
    stated = case.stated("engine.displacement")
    if stated is None or not case.build.is_stated("engine.displacement"):
        return None
    engine, limit = case.engine, case.limits["displacement"]
    ratio = engine.displacement / stated.value
    off = max(0.0, abs(ratio - 1.0) - _rounding(str(getattr(stated, "text", ""))))
    bore, stroke = (case.amount(f"engine.{side}", Kind.LENGTH, side) for side in ("bore", "stroke"))
    sides = [(2.0, bore), (1.0, stroke)]
    relative = [times * (a.sd or 0.0) / a.value for times, a in sides if a is not None]
    sd = float(np.hypot.reduce([(stated.sd or 0.0) / stated.value, *relative]))
    area = engine.displacement / engine.stroke
    return rule.finding(
        Amount(off, sd, Kind.SHARE, "difference of the papers from bore, stroke and cylinders"),
        limit.amount,
        limit,
        place=Place(words="the file, before anything is computed"),
        cause=Phrase(
            f"{engine.cylinders} cylinders of {{bore}} by {{stroke}} are {{found}}; the papers say"
            " {papers}.",
            {
                "bore": Amount(engine.bore, None, Kind.LENGTH),
                "stroke": Amount(engine.stroke, None, Kind.LENGTH),
                "found": Amount(engine.displacement, None, Kind.VOLUME),
                "papers": Amount(float(stated.value), None, Kind.VOLUME),
            },
        ),
        remedy=Phrase(
            "Measure again: for the displacement of the papers the stroke would be {stroke} with this bore,"
            " or the bore {bore} with this stroke.",
            {
                "stroke": Amount(float(stated.value) / area, None, Kind.LENGTH),
                "bore": Amount(engine.bore / float(np.sqrt(ratio)), None, Kind.LENGTH),
            },
        ),
        reading=Reading("Depth gauge through a plug hole from dead centre to dead centre.", 1200.0),
        about=("engine.displacement", "engine.bore", "engine.stroke"),
    )


def _rounding(text: str) -> float:
    """Half of the last digit of a figure as it is written, over the figure [-]; 0 when it has none."""
    written = re.match(r"\s*(\d+)(?:[.,](\d+))?", text)
    if written is None:
        return 0.0
    whole, part = written.group(1), written.group(2) or ""
    value = float(f"{whole}.{part or 0}")
    return 0.5 * 10.0 ** -len(part) / value if value > 0.0 else 0.0

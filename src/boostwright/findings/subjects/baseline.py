"""Is the computed engine the engine in front of you: torque per litre, and your own torque figures."""

from __future__ import annotations

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.stated_curve import stated_curve

__all__ = ["against_stated", "torque_per_litre"]

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
    return rule.finding(
        Amount(
            usual / air,
            _MODEL_SD * usual / air,
            Kind.TORQUE_PER_VOLUME,
            "best of the computed curve, in common air",
        ),
        limit.amount,
        limit,
        place=Place(float(case.baseline.speeds[best])),
        cause=Phrase("Valve sizes, lifts, cam timing and compression ratio decide it."),
        remedy=Phrase("Check bore, stroke, valve sizes and cam timing in the file against the engine."),
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
    return rule.finding(
        Amount(
            off,
            float(curve.sd[worst]),
            Kind.SHARE,
            "largest difference from your figures, brought to the air of the place",
        ),
        limit.amount,
        limit,
        place=Place(float(speed[worst])),
        cause=Phrase(
            f"The model gives {{off}} {more} than you state, both in the air of the place.",
            {"off": Amount(off, None, Kind.SHARE)},
        ),
        remedy=Phrase(
            "Check the figures, the weather they were read in, and the engine's valve and cam data."
        ),
        reading=Reading(
            "Two full-load pulls before the conversion, with lambda and manifold pressure.", 3600.0
        ),
        about=("baseline.torque", "engine.intake_closes", "engine.runner_length", "engine.port_flow"),
    )

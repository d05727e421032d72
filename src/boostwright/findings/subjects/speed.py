"""Mean piston speed at the speed limit."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule

__all__ = ["piston_speed"]


@rule(
    "strength.piston_speed",
    "Mean piston speed",
    asks="Is the speed limit one that these pistons stand?",
    demand="twice the stroke times the speed limit",
    capacity="mean piston speed for these pistons",
    harm=Harm.DAMAGE,
    harm_words="a piston or its pin breaks at the top of the rev range",
    sense=Sense.AT_MOST,
    limits=("piston_speed_cast", "piston_speed_forged"),
)
def piston_speed(rule: Rule, case: Case) -> Finding | None:
    """S_p = 2 S n, with n the speed limit."""
    top = case.amount("engine.speed_limit", Kind.ENGINE_SPEED, "speed limit")
    if top is None:
        return None
    stroke = case.amount("engine.stroke", Kind.LENGTH, "stroke")
    stroke_sd = 0.0 if stroke is None or stroke.sd is None else stroke.sd / stroke.value
    speed = case.engine.stroke * top.value / math.pi
    forged = case.word("engine.pistons") == "forged"
    limit = case.limits["piston_speed_forged" if forged else "piston_speed_cast"]
    highest = limit.amount.value * math.pi / case.engine.stroke
    return rule.finding(
        Amount(
            speed,
            speed * math.hypot(stroke_sd, (top.sd or 0.0) / top.value),
            Kind.VELOCITY,
            "at the speed limit",
        ),
        limit.amount,
        limit,
        place=Place(top.value),
        cause=Phrase("Inertia on pins, rods and bolts grows with the square of the speed."),
        remedy=Phrase("Keep the limit at or below {top}.", {"top": Amount(highest, None, Kind.ENGINE_SPEED)}),
        reading=Reading("Look up stroke and speed limit for the engine code.", 600.0),
        about=("engine.stroke", "engine.speed_limit", "engine.pistons"),
    )

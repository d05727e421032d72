"""Compressor and turbine at full load: surge, choke, wheel speed."""

from __future__ import annotations

import numpy as np

from boostwright.findings.case import Case, GoalLine
from boostwright.findings.judge import probability_holds, verdict_of
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
    Verdict,
)
from boostwright.findings.registry import Rule, rule

__all__ = ["choke", "computed", "surge", "tip_speed"]

_SIZES = Reading(
    "Measure both diameters of the compressor wheel with a calliper, engine cold, hose off.", 1200.0
)
_ABOUT = ("turbo.compressor_inducer", "turbo.compressor_exducer")


_JOINED = Phrase(
    "Neither surge nor choke is sure, and no other inducer mends both: the band of an estimate from wheel"
    " sizes is wider than the room between them. Get the maker's map or one measured point of this compressor"
    " before you buy another, or ask for less boost."
)
_POINT = Reading(
    "Ask the maker for the map of this very compressor, or for its least and greatest flow at your pressure"
    " ratio.",
    1800.0,
)


def _surge_ratio(goal: GoalLine) -> np.ndarray:
    """Flow over surge flow where there is boost and the point settled; NaN elsewhere."""
    return np.where(goal.settled & (goal.pressure_ratio > 1.05), goal.flow_over_surge, np.nan)


def _choke_ratio(goal: GoalLine) -> np.ndarray:
    """Flow over choke flow where the point settled; NaN elsewhere."""
    return np.where(goal.settled, goal.flow_over_choke, np.nan)


def _neither_sure(case: Case) -> bool:
    """Whether surge and choke both fall short of 'holds': then their remedies would contradict each other."""
    goal = case.goal
    if goal is None:
        return False
    surging, choking = _surge_ratio(goal), _choke_ratio(goal)
    if not (np.isfinite(surging).any() and np.isfinite(choking).any()):
        return False
    least, most = float(np.nanmin(surging)), float(np.nanmax(choking))
    clear = probability_holds(
        Amount(least, least * goal.surge_sd, Kind.RATIO),
        case.limits["flow_over_surge"].amount,
        Sense.AT_LEAST,
    )
    passes = probability_holds(
        Amount(most, most * goal.choke_sd, Kind.RATIO), case.limits["flow_over_choke"].amount, Sense.AT_MOST
    )
    return Verdict.HOLDS not in (verdict_of(clear, Harm.DAMAGE), verdict_of(passes, Harm.WEAR))


@rule(
    "turbo.line",
    "The turbo side as a whole",
    asks="Could the engine with its turbo be computed at all?",
    demand="the operating line at the boost asked for",
    capacity="a line that settles",
    harm=Harm.DAMAGE,
    harm_words="nothing is known of boost, knock, heat and fuel with this turbo",
    sense=Sense.AT_LEAST,
)
def computed(rule: Rule, case: Case) -> Finding | None:
    """Unknown when there is no operating line; silent otherwise."""
    if case.goal is not None:
        return None
    why = case.no_goal or "No line with the turbo was computed."
    return rule.finding(
        None,
        None,
        LimitRecord("computed", "the match of engine and turbo", "What is not computed cannot be judged."),
        cause=Phrase(why.replace("{", "(").replace("}", ")")),
        remedy=Phrase("Check the sizes of wheels and housing in the file against the turbo in your hand."),
        reading=Reading(
            "Measure both wheels of the turbo with a calliper; A/R is cast on the turbine housing.", 1800.0
        ),
        about=(*_ABOUT, "turbo.turbine_inducer", "turbo.turbine_exducer", "turbo.turbine_housing"),
    )


@rule(
    "turbo.surge",
    "Room to surge",
    asks="Does the compressor stay clear of surge at full load?",
    demand="least flow over the surge flow at its speed",
    capacity="flow kept clear of surge",
    harm=Harm.DAMAGE,
    harm_words="the air flutters back and forth and hammers the thrust bearing",
    sense=Sense.AT_LEAST,
    limits=("flow_over_surge",),
)
def surge(rule: Rule, case: Case) -> Finding | None:
    """The least over speed; the spread is that of the surge line."""
    goal = case.goal
    if goal is None:
        return None
    ratio = _surge_ratio(goal)
    if not np.isfinite(ratio).any():
        return None
    i = int(np.nanargmin(ratio))
    limit = case.limits["flow_over_surge"]
    both = _neither_sure(case)
    return rule.finding(
        Amount(float(ratio[i]), float(ratio[i]) * goal.surge_sd, Kind.RATIO, "least flow over surge flow"),
        limit.amount,
        limit,
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "At {ratio} pressure ratio the compressor wants {least} of air, and the engine takes {flow}"
            " here.",
            {
                "ratio": Amount(float(goal.pressure_ratio[i]), None, Kind.RATIO),
                "least": Amount(float(goal.result.air_flow[i] / ratio[i]), None, Kind.MASS_FLOW),
                "flow": Amount(float(goal.result.air_flow[i]), None, Kind.MASS_FLOW),
            },
        ),
        remedy=_JOINED
        if both
        else Phrase(
            "Hold less boost below {speed}, or fit a compressor with a smaller inducer.",
            {
                "speed": Amount(
                    _clear_from(goal.speed, ratio * (1.0 - goal.surge_sd), limit.amount.value),
                    None,
                    Kind.ENGINE_SPEED,
                )
            },
        ),
        reading=_POINT if both else _SIZES,
        about=_ABOUT,
    )


def _clear_from(speed: np.ndarray, ratio: np.ndarray, least: float) -> float:
    near = np.flatnonzero(ratio < least)
    return float(speed[min(int(near[-1]) + 1, speed.size - 1)]) if near.size else float(speed[0])


@rule(
    "turbo.choke",
    "Room to choke",
    asks="Can the compressor pass the air of full load?",
    demand="largest flow over the flow at the end of its speed line",
    capacity="most flow against choke",
    harm=Harm.WEAR,
    harm_words="boost falls off at the top, the air comes hot and the wheel overspeeds",
    sense=Sense.AT_MOST,
    limits=("flow_over_choke",),
)
def choke(rule: Rule, case: Case) -> Finding | None:
    """The largest over speed; the spread is that of the estimate."""
    goal = case.goal
    if goal is None:
        return None
    ratio = _choke_ratio(goal)
    if not np.isfinite(ratio).any():
        return None
    i = int(np.nanargmax(ratio))
    limit = case.limits["flow_over_choke"]
    both = _neither_sure(case)
    flow = float(goal.result.air_flow[i])
    return rule.finding(
        Amount(float(ratio[i]), float(ratio[i]) * goal.choke_sd, Kind.RATIO, "largest flow over choke flow"),
        limit.amount,
        limit,
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "The engine takes {flow} here; at this speed the wheel passes {most} at most.",
            {
                "flow": Amount(flow, None, Kind.MASS_FLOW),
                "most": Amount(flow / float(ratio[i]), None, Kind.MASS_FLOW),
            },
        ),
        remedy=_JOINED
        if both
        else Phrase(
            "For a sure hold fit a compressor wheel with an inducer of at least {inducer}.",
            {
                "inducer": Amount(
                    _wider(case, float(ratio[i]) * (1.0 + 1.28 * goal.choke_sd) / limit.amount.value),
                    None,
                    Kind.LENGTH,
                )
            },
        ),
        reading=_POINT if both else _SIZES,
        about=_ABOUT,
    )


def _wider(case: Case, factor: float) -> float:
    """Inducer that passes `factor` times the flow: choke flow goes with about the 2.9th power of it."""
    now = case.amount("turbo.compressor_inducer", Kind.LENGTH, "inducer")
    return 0.0 if now is None else now.value * max(factor, 1.0) ** (1.0 / 2.9)


@rule(
    "turbo.tip_speed",
    "Compressor wheel speed",
    asks="Does the compressor wheel stay below the speed at which it bursts or fatigues?",
    demand="greatest tip speed over the rev range",
    capacity="tip speed of a cast wheel",
    harm=Harm.DAMAGE,
    harm_words="the wheel fatigues or bursts, and its pieces go into the engine",
    sense=Sense.AT_MOST,
    limits=("tip_speed",),
)
def tip_speed(rule: Rule, case: Case) -> Finding | None:
    """U = pi D n at the exducer."""
    goal = case.goal
    if goal is None:
        return None
    speed = np.where(goal.settled, goal.tip_speed, np.nan)
    if not np.isfinite(speed).any():
        return None
    i = int(np.nanargmax(speed))
    limit = case.limits["tip_speed"]
    return rule.finding(
        Amount(float(speed[i]), float(speed[i]) * goal.tip_speed_sd, Kind.VELOCITY, "greatest tip speed"),
        limit.amount,
        limit,
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "The wheel turns {shaft} for a pressure ratio of {ratio}.",
            {
                "shaft": Amount(float(goal.shaft_speed[i]), None, Kind.SHAFT_SPEED),
                "ratio": Amount(float(goal.pressure_ratio[i]), None, Kind.RATIO),
            },
        ),
        remedy=Phrase(
            "Ask for less boost, lose less on the way (filter, pipes, cooler), or fit a larger wheel."
        ),
        reading=Reading("Find the maker's greatest shaft speed for this wheel.", 900.0),
        about=_ABOUT,
    )

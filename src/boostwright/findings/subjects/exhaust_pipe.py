"""Pressure and speed behind the turbine."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import (
    Pipe,
    amount,
    assumed_part,
    costliest,
    exhaust_pipe,
    flow_sd,
    speed_finding,
    tail,
    wider,
)
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, worst_number

__all__ = ["exhaust_share", "exhaust_speed"]

_MOST_SHARE = 0.95  # the turbine always keeps some of the pressure [-]
_LEAST_GAUGE = 10.0e3  # exhaust pressure below which a share of it says nothing [Pa above ambient]


@rule(
    "exhaust.pipe_speed",
    "Speed behind the turbine",
    asks="Is the pipe behind the turbine wide enough for the gas?",
    demand="Mach number in the narrowest pipe behind the turbine, worst over speeds and corners",
    capacity="Mach number up to which a pipe's loss can be reckoned with",
    harm=Harm.POOR_RUNNING,
    harm_words="the pipe begins to choke, and the pressure behind the turbine is higher than any figure here",
    sense=Sense.AT_MOST,
    limits=("exhaust_mach",),
)
def exhaust_speed(rule: Rule, case: Case) -> Finding | None:
    """At the pressure behind the turbine and the temperature that the compressor's work leaves."""
    path = "exhaust.bore" if case.stated("exhaust.downpipe_bore") is None else "exhaust.downpipe_bore"
    return speed_finding(
        rule,
        case,
        Pipe("the pipe behind the turbine", exhaust_pipe(case).bore, path, "exhaust_mach"),
        lambda line: tail(case, line).mach,
    )


@rule(
    "exhaust.pipe_share",
    "Pressure behind the turbine",
    asks="Does the exhaust behind the turbine leave the turbine its pressure?",
    demand="gauge pressure behind the turbine over that before it, worst over speeds and corners",
    capacity="share that a usable exhaust leaves behind the turbine",
    harm=Harm.POOR_RUNNING,
    harm_words="boost comes late, exhaust pressure and residual gas rise, and with them heat and knock",
    sense=Sense.AT_MOST,
    limits=("exhaust_share",),
)
def exhaust_share(rule: Rule, case: Case) -> Finding | None:
    """(p4 - p0)/(p3 - p0), where the exhaust pressure is worth a share."""
    seen = worst_number(case, lambda line: _share(case, line))
    if seen is None:
        return None
    value, found = seen
    line, i = tail(case, found.line), found.place
    loss = float(line.loss[i])
    limit = case.limits["exhaust_share"]
    sd = value * math.hypot(float(line.loss_sd[i]) / loss, 2 * flow_sd(case)) * max(1.0 - value, 0.1)
    demand = Amount(value, sd, Kind.SHARE, "share of the exhaust pressure that stands behind the turbine")
    pipe = exhaust_pipe(case)
    found_part = costliest((pipe.passage,), float(found.goal.result.air_flow[i]))
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "The exhaust holds up {behind} behind the turbine, of {before} before it.",
            {
                "behind": amount(loss, Kind.PRESSURE_GAUGE),
                "before": amount(
                    float(found.goal.exhaust_pressure[i]) - found.line.ambient_pressure, Kind.PRESSURE_GAUGE
                ),
            },
        ),
        remedy=_share_remedy(case, loss, value, sure_demand(limit.amount, demand, rule.sense, rule.harm)),
        reading=Reading(
            "A gauge on the lambda boss behind the turbine, with a length of cooled pipe, one pull.",
            3600.0,
        ),
        about=("exhaust.back_pressure", "exhaust.bore"),
        assumed=assumed_part(found_part),
    )


def _share(case: Case, line: Line) -> np.ndarray:
    gauge = line.goal.exhaust_pressure - line.ambient_pressure
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(gauge > _LEAST_GAUGE, tail(case, line).loss / gauge, np.nan)


def _share_remedy(case: Case, loss: float, value: float, wanted: float) -> Phrase:
    """Wider pipes: what stands behind the turbine adds to what stands before it, so the loss must fall
    further.
    """
    if value <= wanted:
        return Phrase("Leave it as it is.")
    if wanted <= 0.0:
        return Phrase("Measure it first: as uncertain as it is, no exhaust would be sure.")
    # before = behind + across; across stays: behind' = across wanted/(1 - wanted)
    share = min(value, _MOST_SHARE)
    less = loss * (1.0 - share) / share * wanted / (1.0 - wanted)
    words, bore = wider(case, "exhaust.bore", case.build.number("exhaust.bore"), (loss / less) ** 0.2)
    return Phrase(
        f"Fit an exhaust that takes {{less}} at this flow: pipes {words} with straight silencers, or fewer"
        " bends. Keep the catalyst, of a size for the flow.",
        {"less": amount(less, Kind.PRESSURE_GAUGE), "bore": bore},
    )

"""Oil to the turbo: enough for its bearing, not more than it can give back, and pressure left at idle."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from boostwright.findings.case import Case
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
)
from boostwright.findings.oil_case import figure_sd, oil_side, sided, speaks_of
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.systems.oil import READ_AT, OilSide, feed_at, gauge_pressure, idle_with_turbo
from boostwright.systems.stated.oil import grade_of, oil_side_of, pump_at_idle

__all__ = ["feed_least", "feed_most", "idle_pressure", "stated"]

_LOADED = 0.9  # share of the highest boost from which the shaft counts as fully loaded [-]
_WIDER = 1.02  # bore that a bottle asks for over the stated one, from which it is said [-]
_HIGHEST = 10.0e5  # hot idle reading that no engine passes [Pa]
_HALVINGS = 14  # to a hundredth of a bar
_BOTTLE_SD = 0.17  # of a flow at speed that a bottle at idle tells, viscosity and pressure included [-]
_BOTTLE = Reading(
    "Hot idle, oil at 90 degC: lead the drain hose into a bottle for 30 s, measure, top up. Gloves, goggles,"
    " nothing hot below it.",
    1800.0,
)
_ABOUT = (
    "engine.oil_pressure_idle",
    "engine.oil_pressure_3000",
    "oil.feed_bore",
    "oil.turbo_flow",
    "oil.grade",
    "oil.temperature",
    "turbo.bearing",
)


class _Topic(NamedTuple):
    """One thing that a file can be silent of."""

    words: str
    state: str  # what to write
    read: str  # how to find it out
    time: float  # [s]
    about: tuple[str, ...]


_ASKED = {
    "oil": _Topic(
        "the oil's way to the turbo and home",
        "State the drain's bore, its drop to the oil level and its slope, and the smallest bore of the feed,"
        " under [oil].",
        "Tape, calliper and angle gauge on feed and drain, car level.",
        1800.0,
        ("oil.drain_bore", "oil.drain_drop", "oil.drain_slope", "oil.feed_bore"),
    ),
    "breather": _Topic(
        "the crankcase's breather",
        "State bore and length of the breather, and whether a one-way valve keeps boost out of the crankcase,"
        " under [breather].",
        "Crankcase pressure at the dipstick, full-throttle pull before the conversion, a passenger reads.",
        1800.0,
        ("breather.hose_bore", "breather.one_way_valve", "engine.crankcase_pressure"),
    ),
    "small_lines": _Topic(
        "the small lines on the manifold",
        "State purge, idle valve, brake servo and other lines under [small_lines].",
        "Follow every hose from the manifold to its end; hand pump on each.",
        1800.0,
        ("small_lines.servo", "small_lines.tank_purge", "small_lines.idle_valve", "small_lines.others"),
    ),
}


@rule(
    "oil.stated",
    "Oil and breathing of the turbo",
    asks="Does the file say how oil reaches the turbo and leaves it, how the crankcase breathes, and which "
    "small lines see boost?",
    demand="what the build file states of oil, breather and small lines on the manifold",
    capacity="drain, drop, feed, breather and lines",
    harm=Harm.DAMAGE,
    harm_words="the turbo smokes, starves or blows oil, whatever else was done right",
    sense=Sense.AT_LEAST,
)
def stated(rule: Rule, case: Case) -> Finding | None:
    """Unknown while the file says nothing of one of the three; what it is silent of is judged no further."""
    missing = [section for section in _ASKED if not speaks_of(case, section)]
    if not missing or case.goal is None:
        return None
    topics = [_ASKED[section] for section in missing]
    return rule.finding(
        None,
        None,
        LimitRecord("readings", "the build file", "Nobody can judge a drain that nobody described."),
        place=Place(words="turbo and crankcase"),
        cause=Phrase(f"The file says nothing of {_listed([topic.words for topic in topics])}."),
        remedy=Phrase(" ".join(topic.state for topic in topics)),
        reading=Reading(" ".join(topic.read for topic in topics), sum(topic.time for topic in topics)),
        about=tuple(path for topic in topics for path in topic.about),
    )


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1]


def _assumed(case: Case) -> str:
    """The reading that stands in for one that nobody took."""
    if case.build.is_stated("engine.oil_pressure_3000"):
        return ""
    return "Oil pressure at 3000 rpm was not read; that of a usual engine stands in."


def _taken(case: Case, side: OilSide, amounts: dict[str, Amount]) -> str:
    """What is taken for usual, or in place of a reading that another one contradicts."""
    words = ""
    stated = case.stated("oil.feed_bore")
    if stated is not None and side.restrictor > _WIDER * float(stated.value):
        amounts["stated"] = Amount(float(stated.value), None, Kind.LENGTH)
        amounts["wider"] = Amount(side.restrictor, None, Kind.LENGTH)
        words += " The bottle filled faster than a bore of {stated} lets oil through at idle; {wider} is"
        words += " taken. Measure both again."
    if not case.build.is_stated("turbo.bearing"):
        words += " Floating bushes are taken, for the file does not say."
    if grade_of(case.build) is None:
        words += " No oil grade is stated; a hot grade of 40 is taken, with a wide spread."
    return words


def _loaded(case: Case) -> float | None:
    """Lowest speed of the ordinary day at which the turbo makes nearly all of the boost [rad/s]."""
    goal = case.goal
    if goal is None:
        return None
    boost = np.where(goal.settled, goal.boost, -np.inf)
    if not goal.settled.any():
        return None
    return float(goal.speed[boost >= _LOADED * boost.max()].min())


def _flow(value: float, sd: float | None, name: str = "") -> Amount:
    return Amount(value, sd, Kind.OIL_FLOW, name)


@rule(
    "oil.feed_least",
    "Oil for the turbo's bearing",
    asks="Does the bearing get enough oil as soon as the turbo works hard?",
    demand="flow through feed and bearing at the oil pressure that was read, hot, where full boost begins",
    capacity="least oil for the kind of bearing",
    harm=Harm.DAMAGE,
    harm_words="the bearing runs dry under load and the shaft goes blue",
    sense=Sense.AT_LEAST,
    limits=("oil_flow_plain_least", "oil_flow_ball_least"),
)
def feed_least(rule: Rule, case: Case) -> Finding | None:
    """p = rho/2 (Q/(C_d A))^2 + mu Q/G at the lowest speed with nine tenths of the boost."""
    speed = _loaded(case)
    if speed is None or not speaks_of(case, "oil"):
        return None
    side = oil_side(case)
    at = feed_at(side, speed)
    sd = figure_sd(case, lambda s: feed_at(s, speed).flow)
    limit = case.limits[f"oil_flow_{case.build.words('turbo.bearing')}_least"]
    demand = _flow(at.flow, sided(at.flow, sd, limit.amount.value), "what the bearing gets")
    least = _flow(sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True), None)
    amounts = {
        "pressure": Amount(gauge_pressure(side, speed), None, Kind.PRESSURE_GAUGE),
        "behind": Amount(at.behind, None, Kind.PRESSURE_GAUGE),
        "hot": Amount(side.temperature, None, Kind.TEMPERATURE),
        "least": least,
    }
    text = "The gauge shows {pressure} here by the readings; oil of {hot} lets {behind} reach the bearing."
    remedy = "Leave the feed as it is; a bottle at hot idle tells the flow itself."
    if math.isfinite(side.restrictor):
        amounts["bore"] = Amount(side.restrictor, None, Kind.LENGTH)
        text += " The feed's smallest bore is {bore}."
    elif not case.build.is_stated("oil.turbo_flow"):
        text += " Its smallest bore is not stated; a feed without narrow places is taken."
    if at.flow < limit.amount.value:
        remedy = "Make it {least} or more: a feed without narrow places, a restrictor only if the bearing"
        remedy += " rolls, and the oil pressure mended first if it is low."
        if not math.isfinite(least.value):
            remedy = "Measure the flow with a bottle first: by its spread no flow would be sure."
    elif not at.flow >= least.value:
        remedy = "By its middle figure the bearing gets enough; what spoils it is the spread. A bottle at hot"
        remedy += " idle that fills with {bottle} or more makes it a sure hold."
        amounts["bottle"] = _flow(_by_bottle(rule, side, speed, limit.amount), None)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(speed),
        corner=case.corner,
        cause=Phrase(text + _taken(case, side, amounts), amounts),
        remedy=Phrase(remedy, amounts),
        reading=_BOTTLE,
        assumed=_assumed(case),
        about=_ABOUT,
    )


def _by_bottle(rule: Rule, side: OilSide, speed: float, limit: Amount) -> float:
    """Flow at hot idle that a bottle must show for a sure hold at a speed [m3/s]."""
    wanted = sure_demand(
        limit, _flow(limit.value, _BOTTLE_SD * limit.value), rule.sense, rule.harm, relative=True
    )
    return wanted * feed_at(side, side.idle_speed, READ_AT).flow / feed_at(side, speed).flow


@rule(
    "oil.feed_most",
    "Too much oil for the turbo's bearing",
    asks="Does the bearing get no more oil than it can pass on?",
    demand="flow through feed and bearing at the highest oil pressure of the rev range, hot",
    capacity="most oil for the kind of bearing",
    harm=Harm.WEAR,
    harm_words="oil is pushed past the seals: smoke, coke, a fouled catalyst",
    sense=Sense.AT_MOST,
    limits=("oil_flow_plain_most", "oil_flow_ball_most"),
)
def feed_most(rule: Rule, case: Case) -> Finding | None:
    """The same law at the top of the rev range."""
    if case.goal is None or not speaks_of(case, "oil"):
        return None
    side = oil_side(case)
    top = side.top_speed
    at = feed_at(side, top)
    bearing = case.build.words("turbo.bearing")
    limit = case.limits[f"oil_flow_{bearing}_most"]
    demand = _flow(at.flow, figure_sd(case, lambda s: feed_at(s, top).flow), "what the bearing gets")
    most = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    amounts = {
        "pressure": Amount(gauge_pressure(side, top), None, Kind.PRESSURE_GAUGE),
        "most": _flow(most, None),
    }
    bore = _restrictor_for(case, most) if at.flow > most and not case.drawn else None
    text = "At the top the gauge shows {pressure} by the readings."
    unstated = bearing == "ball" and not case.build.is_stated("oil.feed_bore")
    remedy = "Leave the feed as it is."
    if bore is not None:
        amounts["bore"] = Amount(bore, None, Kind.LENGTH)
        remedy = "Put a restrictor of {bore} at the turbo's inlet, behind a clean filter: {most} or less."
        if case.build.is_stated("oil.turbo_flow"):
            remedy += " Then fill the bottle again: its reading belongs to the feed as it was."
    elif at.flow > most:
        remedy = "Bring it to {most} or less: measure the flow with a bottle, then choose the restrictor."
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(top),
        cause=Phrase(
            text + (" No restrictor is stated." if unstated else "") + _taken(case, side, amounts), amounts
        ),
        remedy=Phrase(remedy, amounts),
        reading=_BOTTLE,
        assumed=_assumed(case) or ("A feed without a restrictor is assumed." if unstated else ""),
        about=_ABOUT,
    )


def _restrictor_for(case: Case, wanted: float) -> float | None:
    """Bore that brings the flow at the top down to what is wanted [m], by tenths of a millimetre; None where
    none of 0.7 mm or more does. Oil and bearing stay as they are: a bottle that was filled without this
    restrictor has told the bearing once and for all.
    """
    if not wanted > 0.0:
        return None
    side = oil_side(case)
    for tenths in range(40, 6, -1):
        bore = tenths * 1e-4
        if feed_at(replace(side, restrictor=bore), side.top_speed).flow <= wanted:
            return bore
    return None


@rule(
    "oil.idle_pressure",
    "Hot idle with the turbo's share taken",
    asks="Is there oil pressure left for engine and turbo at hot idle, once the turbo takes its share?",
    demand="oil pressure read at hot idle less what the turbo's flow takes from it",
    capacity="least hot idle oil pressure",
    harm=Harm.DAMAGE,
    harm_words="bearings and turbo run short at every traffic light",
    sense=Sense.AT_LEAST,
    limits=("oil_pressure_idle",),
)
def idle_pressure(rule: Rule, case: Case) -> Finding | None:
    """p Q/(Q + Q_turbo): engine and turbo side by side behind the engine's pump. Silent where the reading by
    itself is too low: `engine.oil_idle` says so.
    """
    read = case.amount("engine.oil_pressure_idle", Kind.PRESSURE_GAUGE, "read at hot idle")
    if read is None or case.goal is None or not speaks_of(case, "oil"):
        return None
    limit = case.limits["oil_pressure_idle"]
    if read.value < limit.amount.value:
        return None
    side = oil_side_of(case.build)
    pump, pump_sd = pump_at_idle(case.build)
    left = idle_with_turbo(side, pump)
    by_pump = idle_with_turbo(side, pump - pump_sd) - left
    sd = math.hypot(figure_sd(case, lambda s: idle_with_turbo(s, pump)), by_pump)
    demand = Amount(left, sd, Kind.PRESSURE_GAUGE, "left at hot idle")
    least = sure_demand(limit.amount, demand, rule.sense, rule.harm)
    taken = feed_at(side, side.idle_speed, READ_AT).flow
    amounts = {
        "read": read,
        "falls": Amount(read.value - left, None, Kind.PRESSURE_DIFFERENCE),
        "taken": _flow(taken, None),
        "least": Amount(least, None, Kind.PRESSURE_GAUGE),
        "needed": Amount(_reading(case, rule, demand, limit.amount, pump), None, Kind.PRESSURE_GAUGE),
    }
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(side.idle_speed),
        cause=Phrase(
            "The gauge read {read} before; the turbo takes about {taken} at hot idle, and the pressure falls"
            " by about {falls}.",
            amounts,
        ),
        remedy=Phrase(
            "Expect it on the gauge after the conversion; below {least} stop and look for the cause."
            if left >= least
            else "Bring the reading before the conversion to {needed} or more (bearings, pump, the grade that"
            " the vehicle manual asks for), or restrict the feed as far as the bearing allows.",
            amounts,
        ),
        reading=Reading(
            "Mechanical gauge at the block, hot idle, before and after the turbo is fed.", 1200.0
        ),
        about=("engine.oil_pressure_idle", "oil.feed_bore", "turbo.bearing", "oil.turbo_flow"),
    )


def _reading(case: Case, rule: Rule, left: Amount, limit: Amount, pump: float) -> float:
    """Reading at hot idle before the conversion of which surely enough is left [Pa]: the turbo takes the more
    the higher it is, and what is not known grows with it. pump: flow of the engine's own pump [m3/s].
    """
    wanted = sure_demand(limit, left, rule.sense, rule.harm, relative=True)
    if not wanted > 0.0:  # so uncertain that only a bottle helps
        wanted = sure_demand(limit, left, rule.sense, rule.harm)
    low, high = 0.0, _HIGHEST
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        side = oil_side_of(case.build, {"engine.oil_pressure_idle": middle})
        enough = idle_with_turbo(side, pump) >= wanted
        low, high = (low, middle) if enough else (middle, high)
    return high

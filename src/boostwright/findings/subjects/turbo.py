"""Compressor between surge and choke, the turbo side as a whole, and the state of the turbo in your hand."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
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
from boostwright.findings.resized import Bench, bench, boost_where, inducer_where
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, Worst, worst
from boostwright.library.part_spreads import part_spread
from boostwright.physics.compressor import CompressorPoint

__all__ = ["choke", "computed", "play", "surge"]

_SIZES = Reading(
    "Measure both diameters of the compressor wheel with a calliper, engine cold, hose off.", 1200.0
)
_POINT = Reading(
    "Ask the maker for the map of this very compressor, or for its least and greatest flow at your pressure"
    " ratio.",
    1800.0,
)
_ABOUT = ("turbo.compressor_inducer", "turbo.compressor_exducer", "turbo.condition")
_LEAST_BOOST = 0.2e5  # below this a turbo is not worth its trouble [Pa above ambient]
BOOSTED = 1.2
"""Pressure ratio from which surge is judged [-]: sheets draw no speed line below it, the estimate from sizes
was made on none, and a column of air that stands on so little has no force (judgement)."""


def _surge_ratio(line: Line) -> np.ndarray:
    """Flow over surge flow where there is boost; NaN elsewhere."""
    goal = line.goal
    return np.where(goal.settled & (goal.pressure_ratio > BOOSTED), goal.flow_over_surge, np.nan)


def _choke_ratio(line: Line) -> np.ndarray:
    """Flow over choke flow, with its sign turned: the largest is the worst."""
    return -np.where(line.goal.settled, line.goal.flow_over_choke, np.nan)


def _of_copy(case: Case, sd: float, name: str) -> float:
    """The relative spread of a map, widened for a compressor of no known make."""
    if case.word("turbo.condition") != "unbranded":
        return sd
    return math.hypot(sd, part_spread("unbranded_compressor", name))


def _surge_demand(case: Case, found: Worst) -> Amount:
    ratio = found.margin
    sd = _of_copy(case, found.goal.surge_sd, "surge")
    return Amount(ratio, ratio * sd, Kind.RATIO, "least flow over surge flow")


def _choke_demand(case: Case, found: Worst) -> Amount:
    ratio = -found.margin
    sd = _of_copy(case, found.goal.choke_sd, "flow")
    return Amount(ratio, ratio * sd, Kind.RATIO, "largest flow over choke flow")


def _flow(value: float, demand: Amount) -> Amount:
    """A flow of the map [kg/s], as well known as the demand is against it: so it is rounded."""
    return Amount(value, value * (demand.sd or 0.0) / demand.value, Kind.MASS_FLOW)


def _neither_sure(case: Case) -> bool:
    """Whether surge and choke both fall short of 'holds': then one inducer must mend both, or none can."""
    surging, choking = worst(case, _surge_ratio), worst(case, _choke_ratio)
    if surging is None or choking is None:
        return False
    clear = probability_holds(
        _surge_demand(case, surging), case.limits["flow_over_surge"].amount, Sense.AT_LEAST
    )
    passes = probability_holds(
        _choke_demand(case, choking), case.limits["flow_over_choke"].amount, Sense.AT_MOST
    )
    return Verdict.HOLDS not in (verdict_of(clear, Harm.DAMAGE), verdict_of(passes, Harm.WEAR))


class _Window:
    """What the wheel must be for surge and for choke, solved again at the worst place of each."""

    def __init__(self, case: Case) -> None:
        self.most: float | None = None  # inducer, for a sure hold against surge [m]
        self.least: float | None = None  # inducer, for a sure hold against choke [m]
        self.surge_boost: float | None = None  # boost at the worst place for surge that is sure [Pa]
        self.choke_boost: float | None = None
        self.surge_place: Bench | None = None
        self.choke_place: Bench | None = None
        inducer = case.amount("turbo.compressor_inducer", Kind.LENGTH, "inducer")
        surging, choking = worst(case, _surge_ratio), worst(case, _choke_ratio)
        if inducer is None:
            return
        if surging is not None:
            demand, limit = _surge_demand(case, surging), case.limits["flow_over_surge"].amount
            wanted = sure_demand(limit, demand, Sense.AT_LEAST, Harm.DAMAGE, relative=True)
            place = self.surge_place = bench(case, surging.line, surging.place)
            if place is not None:
                self.most = inducer_where(place, _of_surge, demand.value, wanted, False, inducer.value)
                self.surge_boost = boost_where(place, _of_surge, demand.value, wanted, False)
        if choking is not None:
            demand, limit = _choke_demand(case, choking), case.limits["flow_over_choke"].amount
            wanted = sure_demand(limit, demand, Sense.AT_MOST, Harm.WEAR, relative=True)
            place = self.choke_place = bench(case, choking.line, choking.place)
            if place is not None:
                self.least = inducer_where(place, _of_choke, demand.value, wanted, True, inducer.value)
                self.choke_boost = boost_where(place, _of_choke, demand.value, wanted, True)

    @property
    def open(self) -> bool:
        """Whether one inducer mends both."""
        return self.most is not None and self.least is not None and self.least <= self.most


def _of_surge(point: CompressorPoint) -> float:
    return float(point.surge_ratio)


def _of_choke(point: CompressorPoint) -> float:
    return float(point.choke_ratio)


def _joined(window: _Window) -> Phrase:
    """One remedy where neither side is sure: an inducer between, or the map that would settle it."""
    if window.open:
        assert window.least is not None
        assert window.most is not None
        return Phrase(
            "For a sure hold at both ends fit a compressor wheel of this trim with an inducer between"
            " {least} and {most}.",
            {
                "least": Amount(window.least, None, Kind.LENGTH),
                "most": Amount(window.most, None, Kind.LENGTH),
            },
        )
    low, high = window.surge_place, window.choke_place
    if low is None or high is None:
        return Phrase("Neither surge nor choke is sure: get the maker's map of this compressor.")
    return Phrase(
        "Neither surge nor choke is sure, and no inducer mends both, so get a map or one measured point"
        " before you buy: it must be clear of surge with {flow} at a pressure ratio of {ratio}, and"
        " still pass {most} at {top}.",
        {
            "flow": Amount(low.flow, None, Kind.MASS_FLOW),
            "ratio": Amount(low.ratio, None, Kind.RATIO),
            "most": Amount(high.flow, None, Kind.MASS_FLOW),
            "top": Amount(high.ratio, None, Kind.RATIO),
        },
    )


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
        about=(*_ABOUT[:2], "turbo.turbine_inducer", "turbo.turbine_exducer", "turbo.turbine_housing"),
    )


@rule(
    "turbo.surge",
    "Room to surge",
    asks="Does the compressor stay clear of surge at full load?",
    demand="least flow over the surge flow at its speed, over every speed and corner",
    capacity="flow kept clear of surge",
    harm=Harm.DAMAGE,
    harm_words="the air flutters back and forth and hammers the thrust bearing",
    sense=Sense.AT_LEAST,
    limits=("flow_over_surge",),
)
def surge(rule: Rule, case: Case) -> Finding | None:
    """The least over speeds and corners; the spread is that of the surge line."""
    found = worst(case, _surge_ratio)
    if found is None:
        return None
    goal, i = found.goal, found.place
    both = _neither_sure(case)
    limit, demand = case.limits["flow_over_surge"], _surge_demand(case, found)
    flow = float(goal.result.air_flow[i])
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "At {ratio} pressure ratio the compressor wants {least} of air, and the engine takes {flow}"
            " here.",
            {
                "ratio": Amount(float(goal.pressure_ratio[i]), None, Kind.RATIO),
                "least": _flow(flow / demand.value, demand),
                "flow": Amount(flow, None, Kind.MASS_FLOW),
            },
        ),
        remedy=_joined(_Window(case)) if both else _surge_remedy(case, found, demand, limit.amount),
        reading=_POINT if both else _SIZES,
        about=_ABOUT,
    )


def _surge_remedy(case: Case, found: Worst, demand: Amount, limit: Amount) -> Phrase:
    """Less boost at low speed, or a smaller wheel that still passes the top."""
    wanted = sure_demand(limit, demand, Sense.AT_LEAST, Harm.DAMAGE, relative=True)
    if demand.value >= wanted:
        return Phrase(
            "Keep the flow at {flow} or more at this pressure ratio: no long, tight inlet hose, no bend right"
            " before the wheel.",
            {"flow": _flow(float(found.goal.result.air_flow[found.place]) * wanted / demand.value, demand)},
        )
    window, amounts, ways = _Window(case), {}, []
    if window.surge_boost is not None and window.surge_boost >= 0.0:
        amounts["boost"] = Amount(window.surge_boost, None, Kind.PRESSURE_GAUGE)
        amounts["speed"] = Amount(_clear_from(found, wanted), None, Kind.ENGINE_SPEED)
        ways.append("hold no more than {boost} below {speed}")
    if window.most is not None and (window.least is None or window.least <= window.most):
        amounts["inducer"] = Amount(window.most, None, Kind.LENGTH)
        ways.append("fit a compressor wheel of this trim with an inducer of {inducer} or less")
    if not ways:
        amounts["flow"] = Amount(
            float(found.goal.result.air_flow[found.place]) / wanted, None, Kind.MASS_FLOW
        )
        amounts["ratio"] = Amount(float(found.goal.pressure_ratio[found.place]), None, Kind.RATIO)
        ways.append("fit a smaller compressor, one whose surge line lies at {flow} for a ratio of {ratio}")
    return _listed(ways, amounts)


def _listed(ways: list[str], amounts: dict[str, Amount]) -> Phrase:
    text = ", or ".join(ways)
    return Phrase(f"{text[0].upper()}{text[1:]}.", amounts)


def _clear_from(found: Worst, wanted: float) -> float:
    """The lowest speed [rad/s] from which the worst line stays clear of surge for sure."""
    ratio, speed = _surge_ratio(found.line), found.goal.speed
    near = np.flatnonzero(np.isfinite(ratio) & (ratio < wanted))
    return float(speed[min(int(near[-1]) + 1, speed.size - 1)]) if near.size else float(speed[0])


@rule(
    "turbo.choke",
    "Room to choke",
    asks="Can the compressor pass the air of full load?",
    demand="largest flow over the flow at the end of its speed line, over every speed and corner",
    capacity="most flow against choke",
    harm=Harm.WEAR,
    harm_words="boost falls off at the top, the air comes hot and the wheel overspeeds",
    sense=Sense.AT_MOST,
    limits=("flow_over_choke",),
)
def choke(rule: Rule, case: Case) -> Finding | None:
    """The largest over speeds and corners; the spread is that of the estimate."""
    found = worst(case, _choke_ratio)
    if found is None:
        return None
    goal, i = found.goal, found.place
    limit, demand = case.limits["flow_over_choke"], _choke_demand(case, found)
    both = _neither_sure(case)
    flow = float(goal.result.air_flow[i])
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "The engine takes {flow} here; at this speed the wheel passes {most} at most.",
            {
                "flow": Amount(flow, None, Kind.MASS_FLOW),
                "most": _flow(flow / demand.value, demand),
            },
        ),
        remedy=_joined(_Window(case)) if both else _choke_remedy(case, found, demand, limit.amount),
        reading=_POINT if both else _SIZES,
        about=_ABOUT,
    )


def _choke_remedy(case: Case, found: Worst, demand: Amount, limit: Amount) -> Phrase:
    """A wider wheel, or less boost at the top."""
    wanted = sure_demand(limit, demand, Sense.AT_MOST, Harm.WEAR, relative=True)
    flow = float(found.goal.result.air_flow[found.place])
    if demand.value <= wanted:
        most = _flow(flow * wanted / demand.value, demand)
        return Phrase("It passes up to {flow} for sure at this pressure ratio; stay below.", {"flow": most})
    window, amounts, ways = _Window(case), {}, []
    if window.least is not None:
        amounts["inducer"] = Amount(window.least, None, Kind.LENGTH)
        ways.append("fit a compressor wheel of this trim with an inducer of {inducer} or more")
    if window.choke_boost is not None and window.choke_boost >= _LEAST_BOOST:
        amounts["boost"] = Amount(window.choke_boost, None, Kind.PRESSURE_GAUGE)
        ways.append("hold {boost} at this speed")
    if not ways:
        amounts["flow"] = Amount(flow / wanted, None, Kind.MASS_FLOW)
        ways.append("fit a larger compressor, one that ends at {flow} or more at this pressure ratio")
    return _listed(ways, amounts)


@rule(
    "turbo.play",
    "Play of the turbo's shaft",
    asks="Is the thrust bearing of this turbo sound?",
    demand="axial play read on the shaft",
    capacity="most play of a sound thrust bearing",
    harm=Harm.DAMAGE,
    harm_words="the wheels touch the housing at speed, and oil burns in the exhaust",
    sense=Sense.AT_MOST,
    limits=("axial_play",),
)
def play(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit; unknown for a used turbo that nobody has read, silent for a new one."""
    read = case.amount("turbo.axial_play", Kind.LENGTH, "axial play")
    used = case.word("turbo.condition") == "used" and case.build.is_stated("turbo.condition")
    if read is None and not used:
        return None
    limit = case.limits["axial_play"]
    sure = sure_demand(limit.amount, read or limit.amount, rule.sense, rule.harm)
    most = Amount(round(sure, 5), None, Kind.LENGTH)
    return rule.finding(
        read,
        limit.amount,
        limit,
        place=Place(words="the turbo on the bench"),
        cause=Phrase("A used turbo has worn by an amount that only its shaft tells.")
        if read is None
        else Phrase("The thrust bearing alone keeps both wheels off their housings, and boost pulls at it."),
        remedy=Phrase(
            "Read the play before you fit it; {most} or less is sure, else have the thrust bearing renewed."
            if read is None or read.value > sure
            else "Fit it as it is, and read it again after the first 1000 km; {most} is the end.",
            {"most": most},
        ),
        reading=Reading("Dial gauge on the shaft's end, push and pull, oil wiped off.", 900.0),
        about=("turbo.axial_play", "turbo.condition"),
    )

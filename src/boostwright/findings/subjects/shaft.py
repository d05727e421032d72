"""What the compressor's speed and heat ask of wheel, hoses and seals: tip speed, shaft speed, outlet air."""

from __future__ import annotations

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.resized import Measure, bench, boost_where, exducer_where
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Worst, worst_number

__all__ = ["outlet", "shaft_speed", "tip_speed"]

_OUTLET_SD = 10.0  # of a compressor outlet temperature from wheel sizes: efficiency 5 points (judgement) [K]
_LEAST_BOOST = 0.2e5  # below this a turbo is not worth its trouble [Pa above ambient]
_ABOUT = ("turbo.compressor_inducer", "turbo.compressor_exducer")


def _cause(found: Worst) -> Phrase:
    goal, i = found.goal, found.place
    return Phrase(
        "The wheel turns {shaft} for a pressure ratio of {ratio}.",
        {
            "shaft": Amount(float(goal.shaft_speed[i]), None, Kind.SHAFT_SPEED),
            "ratio": Amount(float(goal.pressure_ratio[i]), None, Kind.RATIO),
        },
    )


def _remedy(
    rule: Rule, case: Case, found: Worst, demand: Amount, limit: Amount, measure: Measure, offset: float = 0.0
) -> Phrase:
    """Less boost here, or a larger wheel, each as far as it goes by itself.

    offset: what is taken off demand, limit and measure before they are compared [unit of the demand].
    """
    if case.drawn:
        return Phrase("")
    wanted = sure_demand(limit, demand, rule.sense, rule.harm, relative=offset == 0.0)
    place = bench(case, found.line, found.place)
    if demand.value <= wanted:
        most = None if place is None else boost_where(place, measure, demand.value - offset, wanted - offset,
                                                      True)  # fmt: skip
        reached = float(found.goal.boost[found.place])
        return Phrase(
            "Leave it; at this speed it is sure up to {boost}.",
            {"boost": Amount(reached if most is None else max(most, reached), None, Kind.PRESSURE_GAUGE)},
        )
    amounts: dict[str, Amount] = {}
    ways = []
    if place is not None:
        value, keep = demand.value - offset, wanted - offset
        boost = boost_where(place, measure, value, keep, True)
        if boost is not None and boost >= _LEAST_BOOST:
            amounts["boost"] = Amount(boost, None, Kind.PRESSURE_GAUGE)
            ways.append("hold no more than {boost} here")
        exducer = exducer_where(place, measure, value, keep)
        if exducer is not None and exducer > place.parts.exducer:
            amounts["exducer"] = Amount(exducer, None, Kind.LENGTH)
            ways.append("fit a compressor wheel of this trim with an exducer of {exducer} or more")
    if not ways:
        amounts["room"] = Amount(demand.value - wanted, None, _ROOM[demand.kind])
        ways.append(
            "less boost or a wheel of another size does not do it alone ({room} too much): ask for both, and"
            " lose less on the way through filter, pipes and cooler"
        )
    text = ", or ".join(ways)
    return Phrase(f"{text[0].upper()}{text[1:]}.", amounts)


_ROOM = {
    Kind.VELOCITY: Kind.VELOCITY,
    Kind.SHAFT_SPEED: Kind.SHAFT_SPEED,
    Kind.TEMPERATURE: Kind.TEMPERATURE_DIFFERENCE,
}


@rule(
    "turbo.tip_speed",
    "Compressor wheel speed",
    asks="Does the compressor wheel stay below the speed at which it bursts or fatigues?",
    demand="greatest tip speed over every speed and corner",
    capacity="tip speed of such a wheel, cast or milled",
    harm=Harm.DAMAGE,
    harm_words="the wheel fatigues or bursts, and its pieces go into the engine",
    sense=Sense.AT_MOST,
    limits=("tip_speed", "tip_speed_milled"),
)
def tip_speed(rule: Rule, case: Case) -> Finding | None:
    """U = pi D n at the exducer."""
    seen = worst_number(case, lambda line: line.goal.tip_speed)
    if seen is None:
        return None
    value, found = seen
    milled = case.word("turbo.compressor_wheel") == "milled"
    limit = case.limits["tip_speed_milled" if milled else "tip_speed"]
    demand = Amount(value, value * found.goal.tip_speed_sd, Kind.VELOCITY, "greatest tip speed")
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=_cause(found),
        remedy=_remedy(rule, case, found, demand, limit.amount, lambda point: float(point.tip_speed)),
        reading=Reading("Find the maker's greatest shaft speed for this wheel.", 900.0),
        about=(*_ABOUT, "turbo.compressor_wheel"),
    )


@rule(
    "turbo.shaft_speed",
    "Shaft speed against the maker's figure",
    asks="Does the turbo stay below the shaft speed that its maker allows?",
    demand="greatest shaft speed over every speed and corner",
    capacity="greatest shaft speed that the file states",
    harm=Harm.DAMAGE,
    harm_words="wheel or bearings fail, and the pieces go into the engine",
    sense=Sense.AT_MOST,
)
def shaft_speed(rule: Rule, case: Case) -> Finding | None:
    """Silent where the file states no limit: then the tip speed stands for it."""
    capacity = case.amount("turbo.speed_limit", Kind.SHAFT_SPEED, "the maker's greatest shaft speed")
    seen = worst_number(case, lambda line: line.goal.shaft_speed)
    if capacity is None or seen is None:
        return None
    value, found = seen
    demand = Amount(value, value * found.goal.tip_speed_sd, Kind.SHAFT_SPEED, "greatest shaft speed")
    stated = case.stated("turbo.speed_limit")
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return rule.finding(
        demand,
        capacity,
        LimitRecord("stated", f"the build file{line}", "The maker's figure for this very turbo."),
        place=Place(found.speed),
        corner=found.corner,
        cause=_cause(found),
        remedy=_remedy(rule, case, found, demand, capacity, lambda point: float(point.speed)),
        reading=Reading(
            "One logged pull with a shaft speed sensor, or the maker's map with one of your points on it.",
            7200.0,
        ),
        about=(*_ABOUT, "turbo.speed_limit"),
    )


@rule(
    "turbo.outlet",
    "Air out of the compressor",
    asks="Do hoses, cooler tanks and the wheel itself stand the air that the compressor gives?",
    demand="hottest air at the compressor outlet over every speed and corner",
    capacity="what hoses, tanks and a cast wheel stand",
    harm=Harm.WEAR,
    harm_words="hoses harden and blow off, and oil cokes at the compressor's seal",
    sense=Sense.AT_MOST,
    limits=("compressor_outlet",),
)
def outlet(rule: Rule, case: Case) -> Finding | None:
    """T02 = T01 + work / cp, at the efficiency where the wheel works."""
    seen = worst_number(case, lambda line: line.goal.compressor_outlet_temperature)
    if seen is None:
        return None
    value, found = seen
    goal, i, limit = found.goal, found.place, case.limits["compressor_outlet"]
    demand = Amount(value, case.left(_OUTLET_SD), Kind.TEMPERATURE, "hottest air at the compressor outlet")
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "The compressor heats outside air of {outside} by {rise} at a pressure ratio of {ratio}.",
            {
                "outside": Amount(found.line.ambient_temperature, None, Kind.TEMPERATURE),
                "rise": Amount(value - found.line.ambient_temperature, None, Kind.TEMPERATURE_DIFFERENCE),
                "ratio": Amount(float(goal.pressure_ratio[i]), None, Kind.RATIO),
            },
        ),
        remedy=_remedy(
            rule, case, found, demand, limit.amount,
            lambda point: float(point.outlet_temperature) - found.line.ambient_temperature,
            offset=found.line.ambient_temperature,
        ),
        reading=Reading("A thermocouple in the hose behind the compressor, on one full pull.", 3600.0),
        about=(*_ABOUT, "cooler.pressure_loss"),
    )  # fmt: skip

"""Peak pressure and rod load, judged at MBT on the best fuel with the worst timing error."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.stock_rods import stock_rod_load
from boostwright.findings.strength_days import (
    LATEST_BOOST,
    LEAST_BOOST,
    MODEL_SD,
    StrengthDay,
    boost_for,
    compression_sd,
    days_of,
    nothing_known,
    on_best_fuel,
    rod_compression,
    rod_mass,
)
from boostwright.findings.sure import sure_demand
from boostwright.systems.stated.ignition import timing_fields

__all__ = ["peak_pressure", "rod_load"]

Array = NDArray[np.float64]


@rule(
    "strength.peak_pressure",
    "Peak cylinder pressure",
    asks="Do pistons, gasket and rods stand the peak pressure of the best burn that this air allows?",
    demand="peak pressure at the boost that is reached, at MBT on the best fuel, spark early by the worst"
    " timing error",
    capacity="peak pressure that these pistons stand",
    harm=Harm.SEVERE,
    harm_words="ring land, gasket or head bolts let go at load",
    sense=Sense.AT_MOST,
    limits=("peak_pressure_stock", "peak_pressure_strengthened"),
)
def peak_pressure(rule: Rule, case: Case) -> Finding | None:
    """The greatest over speeds and corners. Spread: model 6 %, boost, and compression ratio (pressure goes
    with its power 1.3).
    """
    days = days_of(case)
    if not days:
        return None
    day = max(days, key=lambda d: float(np.nanmax(d.strong.result.peak_pressure)))
    strong, goal = day.strong, day.goal
    peak = strong.result.peak_pressure
    worst = int(np.nanargmax(peak))
    boost_sd = float(np.interp(strong.speed[worst], goal.speed, goal.boost_sd / goal.plenum_pressure))
    demand = Amount(
        float(peak[worst]),
        float(peak[worst]) * math.sqrt(case.left(MODEL_SD) ** 2 + boost_sd**2 + compression_sd(case) ** 2),
        Kind.PRESSURE,
        "best fuel, spark for greatest torque and early by the worst timing error",
    )
    limit = case.limits["peak_pressure_strengthened" if _strong_pistons(case) else "peak_pressure_stock"]
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(float(strong.speed[worst])),
        corner=on_best_fuel(case, day),
        cause=Phrase(
            "A good tank lets the spark come early, and the mark may stand {error} off: this peak shows"
            " on no day at the knock limit, and it is the one that breaks parts.",
            {"error": Amount(strong.timing_error, None, Kind.CRANK_DIFFERENCE)},
        ),
        remedy=_peak_remedy(case, rule, day, demand, worst),
        assumed=_unstated(case, "engine.pistons", "engine.rods"),
        reading=Reading(
            "Find out how pistons and rods of this engine code are made, what bolts hold its head and"
            " which gap"
            " its top rings have, and state it.",
            1800.0,
        )
        if _unstated(case, "engine.pistons", "engine.rods")
        else Reading(
            "Prove the timing mark with a piston stop and read the light at 3000 rpm: a proven mark takes"
            " a degree or two off this peak.",
            2700.0,
        ),
        notes=(
            Phrase("Head bolts and ring gap are judged apart once the file states something of these parts."),
        )
        if nothing_known(case)
        else (),
        about=("engine.compression_ratio", "engine.pistons", *timing_fields(case.build)),
    )


def _peak_remedy(case: Case, rule: Rule, day: StrengthDay, demand: Amount, worst: int) -> Phrase:
    """Less boost, or stronger parts and the boost that is sure with them."""

    def sure(key: str) -> float:
        most = sure_demand(case.limits[key].amount, demand, rule.sense, rule.harm, relative=True)
        return boost_for(day, most, worst)

    goal, strong = day.goal, _strong_pistons(case)
    boost = float(np.interp(day.strong.speed[worst], goal.speed, goal.boost))
    best = sure("peak_pressure_strengthened")
    keep = best if strong else sure("peak_pressure_stock")
    parts = "forged pistons and rods with fresh head bolts and a steel gasket"
    limited = "" if best >= boost else ", which are sure up to {best}" if best >= LEAST_BOOST else None
    if keep >= boost:
        text = "Leave it; at this speed it is sure up to {boost}."
    elif keep >= LEAST_BOOST:
        stronger = "" if strong or limited is None else f", or fit {parts}{limited}"
        text = f"For a sure hold keep boost at {{boost}} or below here{stronger}."
    elif strong or limited is None:
        text = "No boost worth its trouble is sure here: lower the compression ratio first."
    else:
        text = f"Less boost alone does not make it sure: fit {parts}{limited}."
    return Phrase(
        text,
        {
            "boost": Amount(max(keep, 0.0), None, Kind.PRESSURE_GAUGE),
            "best": Amount(max(best, 0.0), None, Kind.PRESSURE_GAUGE),
        },
    )


def _strong_pistons(case: Case) -> bool:
    return case.word("engine.pistons") == "forged" and case.word("engine.rods") == "forged"


def _unstated(case: Case, *parts: str) -> str:
    """A sentence that names what is assumed when the file states none of the parts; '' when it states one."""
    if any(case.build.is_stated(part) for part in parts):
        return ""
    names = " and ".join(part.partition(".")[2] for part in parts)
    return f"No {names} are stated; the usual original ones are assumed."


@rule(
    "strength.rod_load",
    "Rod compression against stock",
    asks="Do the rods stand the load, set against what they carried before the turbo?",
    demand="greatest gas force less inertia with the turbo, over the greatest before it in common air",
    capacity="ratio that these rods stand",
    harm=Harm.DAMAGE,
    harm_words="a rod bends, compression drops, and the block may be holed",
    sense=Sense.AT_MOST,
    limits=("rod_load_ratio", "rod_load_ratio_forged"),
)
def rod_load(rule: Rule, case: Case) -> Finding | None:
    """Worst at low speed and full boost, where inertia takes little off. Spread: model, boost, mass."""
    days = days_of(case)
    if not days:
        return None
    mass, mass_sd, stated = rod_mass(case)

    def of(day: StrengthDay) -> Array:
        return rod_compression(case.engine, mass, day.strong.speed, day.strong.result)

    day = max(days, key=lambda d: float(np.nanmax(of(d))))
    strong, goal, after = day.strong, day.goal, of(day)
    worst = int(np.nanargmax(after))

    def over_stock(weight: float) -> float:
        here = rod_compression(case.engine, weight, strong.speed, strong.result)[worst]
        return float(here) / stock_rod_load(case, weight)

    stock, ratio = stock_rod_load(case, mass), over_stock(mass)
    by_mass = over_stock(mass + mass_sd) - ratio
    boost_sd = float(np.interp(strong.speed[worst], goal.speed, goal.boost_sd / goal.plenum_pressure))
    sd = math.hypot(ratio * math.hypot(0.04, boost_sd), by_mass)  # model error mostly cancels in the ratio
    forged = case.word("engine.rods") == "forged"
    limit = case.limits["rod_load_ratio_forged" if forged else "rod_load_ratio"]
    demand = Amount(ratio, sd, Kind.RATIO, "rod load with the turbo over the greatest before it")
    sure, sure_forged = (
        sure_demand(one.amount, demand, rule.sense, rule.harm, relative=True)
        for one in (limit, case.limits["rod_load_ratio_forged"])
    )
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(float(strong.speed[worst])),
        corner=on_best_fuel(case, day),
        cause=Phrase(
            "The burn presses the rod with {after} here against {before} at worst before; at low speed"
            " the piston's own inertia takes little off.",
            {
                "after": Amount(float(after[worst]), None, Kind.FORCE),
                "before": Amount(stock, None, Kind.FORCE),
            },
        ),
        remedy=_rod_remedy(day, after, stock * sure, worst, None if forged else stock * sure_forged),
        assumed=_unstated(case, "engine.rods"),
        reading=Reading("Find out how the rods of this engine code are made, and state it.", 900.0)
        if _unstated(case, "engine.rods")
        else Reading("Weigh a piston with pin and rings and the small end of its rod.", 1800.0)
        if not stated
        else Reading("Find out how the rods of this engine code are made.", 900.0),
        about=("engine.reciprocating_mass", "engine.rods", "engine.compression_ratio"),
    )


def _rod_remedy(day: StrengthDay, load: Array, most: float, worst: int, forged: float | None) -> Phrase:
    """Full boost later where most of the rev range is left for it, else less boost; forged rods where the
    engine has none, and with how much boost they are sure.

    most: load that these rods surely stand [N]. forged: what forged ones stand; None where these are forged.
    """
    speed = day.strong.speed
    later = _safe_from(load, speed, most)
    peak = float(day.strong.result.peak_pressure[worst])
    keep = boost_for(day, peak * most / float(load[worst]), worst)
    if float(load[worst]) <= most:
        return Phrase(
            "Leave it; at this speed it is sure up to {boost}.",
            {"boost": Amount(keep, None, Kind.PRESSURE_GAUGE)},
        )
    ways = []
    if later <= LATEST_BOOST * float(speed[-1]):
        ways.append("hold full boost back until {later}")
    elif keep >= LEAST_BOOST:
        ways.append("keep boost near {boost} here")
    best = math.nan if forged is None else boost_for(day, peak * forged / float(load[worst]), worst)
    if forged is not None and forged >= float(load[worst]):
        ways.append("fit forged rods")
    elif best >= LEAST_BOOST:
        ways.append("fit forged rods and keep boost near {best} here")
    text = ", or ".join(ways) or (
        "less boost alone does not mend it: the rods must carry {load} of compression here"
    )
    return Phrase(
        f"{text[0].upper()}{text[1:]}.",
        {
            "later": Amount(later, None, Kind.ENGINE_SPEED),
            "load": Amount(float(load[worst]), None, Kind.FORCE),
            "boost": Amount(max(keep, 0.0), None, Kind.PRESSURE_GAUGE),
            **({"best": Amount(best, None, Kind.PRESSURE_GAUGE)} if math.isfinite(best) else {}),
        },
    )


def _safe_from(load: Array, speed: Array, most: float) -> float:
    """The lowest speed from which the load stays below `most`; the highest speed when it never does."""
    over = np.flatnonzero(load > most)
    if over.size == 0:
        return float(speed[0])
    return float(speed[min(int(over[-1]) + 1, speed.size - 1)])

"""Pressure lost before and behind the compressor, and the speed in the charge pipes."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.charge_path import (
    Pipe,
    amount,
    assumed_part,
    charge_air,
    costliest,
    flow_sd,
    losses,
    speed_finding,
    wider,
)
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import worst_number

__all__ = ["inlet", "path_loss", "pipe_speed"]

_REACH = 0.7  # share of its loss that one part can lose by being larger [-]; judgement
_LEAST_LEFT = 0.1  # share of the loss that wider pipes and a larger core can leave at best [-]; judgement

_GAUGES = Reading("One gauge, moved from compressor outlet to cooler outlet to plenum, a pull each.", 5400.0)


@rule(
    "charge.path_loss",
    "Pressure lost from compressor to plenum",
    asks="Does the way from compressor to plenum leave enough of the boost?",
    demand="loss of pipes, cooler and open throttle together, worst over speeds and corners",
    capacity="what a good charge path takes",
    harm=Harm.POOR_RUNNING,
    harm_words="the turbo turns faster, heats the air and holds up the exhaust, for boost that never arrives",
    sense=Sense.AT_MOST,
    limits=("charge_loss",),
)
def path_loss(rule: Rule, case: Case) -> Finding | None:
    """Each part with its own spread, independent of the others."""
    seen = worst_number(case, lambda line: losses(case, line).total_loss)
    if seen is None:
        return None
    value, found = seen
    line, i = losses(case, found.line), found.place
    air = charge_air(case)
    flow = float(found.goal.result.air_flow[i])
    passages = (air.hot, air.cold, air.throttle, *(() if air.cooler is None else (air.cooler.loss,)))
    found_part = costliest(passages, flow)
    limit = case.limits["charge_loss"]
    sd = math.hypot(float(line.total_sd[i]), 1.9 * flow_sd(case) * value)
    demand = Amount(value, sd, Kind.PRESSURE_DIFFERENCE, "loss from compressor to plenum")
    pipes = float(line.hot_loss[i] + line.cold_loss[i])
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "The pipes take {pipes}, the cooler {core}, the open throttle {throttle}.",
            {
                "pipes": amount(pipes, Kind.PRESSURE_DIFFERENCE),
                "core": amount(float(line.core_loss[i]), Kind.PRESSURE_DIFFERENCE),
                "throttle": amount(float(line.throttle_loss[i]), Kind.PRESSURE_DIFFERENCE),
            },
        ),
        remedy=_path_remedy(
            case,
            demand.value - sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True),
            (pipes, float(line.core_loss[i]), float(line.throttle_loss[i])),
        ),
        reading=_GAUGES,
        about=("cooler.pressure_loss", "pipes.loss", "pipes.bore", "throttle.bore"),
        assumed=assumed_part(found_part),
    )


def _path_remedy(case: Case, over: float, taken: tuple[float, float, float]) -> Phrase:
    """A wider pipe, a core with a larger front on its charge side or a wider throttle, each by itself.

    over: how much has to go [Pa]; NaN where no loss would be sure. taken: by pipes, core and throttle [Pa].
    """
    pipes, core, throttle = taken
    if math.isnan(over):
        over = sum(taken)
    if over <= 0.0:
        return Phrase("Leave it as it is.")
    air = charge_air(case)
    ways, amounts = [], {}
    if over < _REACH * pipes:
        words, amounts["bore"] = wider(case, "pipes.bore", air.bore, (1.0 - over / pipes) ** (-1 / 4.8))
        ways.append(f"fit charge pipes {words}")
    if over < _REACH * throttle:
        bore = air.throttle_bore * (1.0 - over / throttle) ** (-1 / 4)
        amounts["throttle"] = amount(bore, Kind.LENGTH)
        ways.append("fit a throttle of {throttle}")
    if over < _REACH * core and air.cooler is not None:
        times = (1.0 - over / core) ** (-1 / 1.8)
        if air.cooler.volume is None:
            amounts["core"] = amount(times, Kind.RATIO)
            ways.append("fit a core with {core} times as many charge tubes side by side")
        else:
            amounts["core"] = amount(air.cooler.volume * times, Kind.VOLUME)
            ways.append("fit a core of {core} that is taller or deeper, not longer along its tubes")
    if not ways:
        return _both(case, over, pipes, core)
    text = ", or ".join(ways)
    return Phrase(f"{text[0].upper()}{text[1:]}.", amounts)


def _both(case: Case, over: float, pipes: float, core: float) -> Phrase:
    """Pipes and core wider, each by the same share of its loss, where neither does it alone."""
    air = charge_air(case)
    left = 1.0 - over / (pipes + core) if pipes + core > 0.0 else 0.0
    if left < _LEAST_LEFT:
        return Phrase(
            "Wider pipes and a larger core do not do it: {over} has to go. Ask for less boost, and look"
            " for what else is too small for this flow.",
            {"over": amount(over, Kind.PRESSURE_DIFFERENCE)},
        )
    words, bore = wider(case, "pipes.bore", air.bore, left ** (-1 / 4.8))
    words, amounts = f"Fit charge pipes {words}", {"bore": bore}
    if air.cooler is not None and core > 0.0:
        amounts["times"] = amount(left ** (-1 / 1.8), Kind.RATIO)
        words += " and a core with {times} times the charge tubes side by side"
    return Phrase(f"{words}.", amounts)


@rule(
    "charge.inlet",
    "Suction before the compressor",
    asks="Does the air filter with its pipe leave the compressor enough pressure?",
    demand="pressure lost in filter and inlet pipe, worst over speeds and corners",
    capacity="suction that filter, hose and seal stand",
    harm=Harm.WEAR,
    harm_words="oil comes past the compressor's seal, the hose is sucked flat, and the shaft turns faster",
    sense=Sense.AT_MOST,
    limits=("inlet_depression",),
)
def inlet(rule: Rule, case: Case) -> Finding | None:
    """Each pascal lost here costs the pressure ratio times as much behind the compressor."""
    seen = worst_number(case, lambda line: losses(case, line).inlet_loss)
    if seen is None:
        return None
    value, found = seen
    line, i = losses(case, found.line), found.place
    limit = case.limits["inlet_depression"]
    sd = math.hypot(float(line.inlet_sd[i]), 2 * flow_sd(case) * value)
    demand = Amount(value, sd, Kind.PRESSURE_DIFFERENCE, "suction at the compressor inlet")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    found_part = costliest((charge_air(case).inlet,), float(found.goal.result.air_flow[i]))
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "{flow} of air pass here; behind the compressor the loss counts {ratio} times.",
            {
                "flow": amount(float(found.goal.result.air_flow[i]), Kind.MASS_FLOW),
                "ratio": amount(float(found.goal.pressure_ratio[i]), Kind.RATIO),
            },
        ),
        remedy=_inlet_remedy(value, wanted),
        reading=Reading("A vacuum gauge at the compressor inlet, one full-load pull.", 2400.0),
        about=("pipes.filter_loss", "pipes.inlet_bore"),
        assumed=assumed_part(found_part),
    )


def _inlet_remedy(value: float, wanted: float) -> Phrase:
    if value <= wanted:
        return Phrase("Leave it, and keep the filter clean.")
    if not math.isfinite(wanted):
        return Phrase("Measure it first: as uncertain as it is, no filter would be sure.")
    return Phrase(
        "Fit a filter with {area} times the paper and an inlet pipe {wider} wider in bore, or as much of both"
        " as brings the loss to {wanted}.",
        {
            "area": amount(value / wanted, Kind.RATIO),
            "wider": amount((value / wanted) ** 0.25 - 1.0, Kind.SHARE),
            "wanted": amount(wanted, Kind.PRESSURE_DIFFERENCE),
        },
    )


@rule(
    "charge.pipe_speed",
    "Speed in the charge pipes",
    asks="Are the charge pipes wide enough for the air?",
    demand="greatest Mach number in the charge pipes, worst over speeds and corners",
    capacity="Mach number that inlet pipes are laid out for",
    harm=Harm.POOR_RUNNING,
    harm_words="bends and couplers eat the boost, and the pipes hiss",
    sense=Sense.AT_MOST,
    limits=("pipe_mach",),
)
def pipe_speed(rule: Rule, case: Case) -> Finding | None:
    """In the bore that the file states, hot or cold side, whichever is faster."""
    return speed_finding(
        rule,
        case,
        Pipe("the charge pipes", charge_air(case).bore, "pipes.bore", "pipe_mach"),
        lambda line: losses(case, line).pipe_mach,
    )

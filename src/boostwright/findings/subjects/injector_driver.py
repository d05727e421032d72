"""What the injectors' coils draw from the output of the controller that switches them."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.library.electrics import electric_constant

__all__ = ["driver"]


@rule(
    "electrics.injector_driver",
    "Injectors on their driver",
    asks="Do the injectors' coils draw no more than the controller's output stands?",
    demand="current of the coils on one output, battery charged, by their resistance",
    capacity="current that an output without a limit of its own stands, or the stated one",
    harm=Harm.POOR_RUNNING,
    harm_words="the output burns out, mostly at key-on, and its cylinders are dead",
    sense=Sense.AT_MOST,
    limits=("plain_driver",),
)
def driver(rule: Rule, case: Case) -> Finding | None:
    """I = n U/R against the output's current; silent where nobody has measured the coils, and for a driver
    that limits the current by itself.
    """
    coil = case.stated("injectors.resistance")
    kind = case.word("controller.injector_driver")
    if coil is None or kind == "limited":
        return None
    supply = electric_constant("battery", "running_voltage")
    each = case.build.count("controller.injectors_per_output")
    current = each * supply.value / float(coil.value)
    spread = math.hypot(supply.sd / supply.value, float(coil.sd or 0.0) / float(coil.value))
    demand = Amount(current, current * spread, Kind.COIL_CURRENT, "coils on one output")
    limit = case.limits["plain_driver"]
    stated = case.amount("controller.driver_current", Kind.COIL_CURRENT, "current that the output stands")
    capacity = limit.amount if stated is None else stated
    least = sure_demand(capacity, demand, rule.sense, rule.harm, relative=True)
    amounts = {
        "current": demand,
        "coil": Amount(float(coil.value), coil.sd, Kind.RESISTANCE),
        "needed": Amount(each * supply.value / least, None, Kind.RESISTANCE),
        "volts": Amount(supply.value, None, Kind.VOLTAGE),
    }
    return rule.finding(
        demand,
        capacity,
        limit,
        place=Place(words="at key-on and whenever an injector opens"),
        cause=Phrase(
            f"At {{volts}} {'a coil' if each == 1 else f'{each} coils'} of {{coil}} on one output draw"
            f"{'s' if each == 1 else ''} {{current}}.",
            amounts,
        ),
        remedy=Phrase(
            "Leave it as it is."
            if current <= least
            else "Ask the controller's maker what its outputs stand; else fit coils of {needed} or more, a"
            " ballast resistor in each feed, or a driver that limits the current.",
            amounts,
        ),
        reading=Reading("Ohmmeter over each injector, plug off, cold.", 600.0),
        about=(
            "injectors.resistance",
            "controller.injector_driver",
            "controller.injectors_per_output",
            "controller.driver_current",
        ),
        assumed=""
        if kind is not None
        else "What kind of driver it is was not stated; a plain one stands in.",
    )

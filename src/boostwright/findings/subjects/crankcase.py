"""Pressure in the crankcase under boost: against the turbo's drain, and against seals; and the catch can."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.crankcase_case import Crankcase, crankcase_worst, read_standing
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
from boostwright.findings.sure import deviations
from boostwright.library.oil import oil_constant
from boostwright.systems.oil import head_of

__all__ = ["against_drain", "seals"]

_ABOUT: tuple[str, ...] = (
    "engine.crankcase_pressure",
    "engine.crankcase_pressure_load",
    "breather.hose_bore",
    "breather.length",
    "breather.hoses",
    "breather.one_way_valve",
    "breather.manifold_bore",
    "breather.outlet",
)
_MANOMETER = Reading(
    "Water manometer or low-range gauge on a long hose from the dipstick tube, full-throttle pull through"
    " 4000 rpm, before the conversion. A passenger reads, the driver drives.",
    1800.0,
)


def _small(value: float, sd: float | None, name: str = "") -> Amount:
    return Amount(value, sd, Kind.PRESSURE_SMALL, name)


@rule(
    "crankcase.drain",
    "Crankcase pressure against the drain",
    asks="Does the crankcase let the turbo's oil come home under boost?",
    demand="crankcase pressure from blow-by by the cycle's own pressure, the reading before the conversion"
    " and the breather, worst over speeds and corners",
    capacity="weight of the oil's column in the drain, air in it counted",
    harm=Harm.DAMAGE,
    harm_words="oil backs up to the seals: the turbo smokes, cokes and is blamed",
    sense=Sense.AT_MOST,
)
def against_drain(rule: Rule, case: Case) -> Finding | None:
    """p_read (q/q_read)^2 + hose + outside, against rho (1 - air) g h."""
    found = crankcase_worst(case)
    if not speaks_of(case, "breather") or case.extra.get("blow_by") is None:
        return None
    if found is None:
        return _not_known(rule)
    side = oil_side(case)
    head = _small(head_of(side), figure_sd(case, head_of), "column in the drain")
    demand = _small(found.value, sided(found.value, found.sd, head.value), "crankcase pressure")
    drop = Amount(side.drain_drop, None, Kind.LENGTH)
    remedy = _more_drop(rule, found, head, side.drain_drop)
    return rule.finding(
        demand,
        head,
        LimitRecord(
            "computed",
            "the build file",
            "Only the column's weight moves the oil; at the crankcase's pressure it stands still.",
        ),
        place=Place(found.there.speed),
        corner=found.there.corner,
        cause=_cause(found, {"drop": drop, "head": head}),
        remedy=remedy,
        reading=_MANOMETER,
        notes=_notes(case),
        assumed=" ".join(filter(None, (_assumed_drop(case), _assumed(case)))),
        about=("oil.drain_drop", *_ABOUT),
    )


def _not_known(rule: Rule) -> Finding:
    return rule.finding(
        None,
        None,
        LimitRecord(
            "computed", "the build file", "Without blow-by there is no pressure to set against anything."
        ),
        place=Place(words="crankcase under boost"),
        cause=Phrase("No cycle settled from which blow-by could be told, so its pressure is not known."),
        remedy=Phrase("Mend what the other findings name first, then check again."),
        reading=_MANOMETER,
        about=_ABOUT,
    )


def _assumed_drop(case: Case) -> str:
    if case.build.is_stated("oil.drain_drop"):
        return ""
    return "The drop of the turbo's drain is not stated; a usual one stands in."


def _assumed(case: Case) -> str:
    missing = []
    if read_standing(case):
        missing.append(
            "Crankcase pressure was read standing, which says little of full load; that of a usual engine"
            " stands in."
        )
    elif not case.build.is_stated("engine.crankcase_pressure"):
        missing.append(
            "Crankcase pressure before the conversion was not read; that of a usual engine stands in."
        )
    if not case.build.is_stated("breather.one_way_valve"):
        missing.append("Nothing is said of a one-way valve; none is assumed.")
    return " ".join(missing)


def _notes(case: Case) -> tuple[Phrase, ...]:
    if case.word("breather.outlet") != "open":
        return ()
    return (
        Phrase(
            "A breather that ends in the engine bay drips oil: keep its end 300 mm from turbine and manifold;"
            " many places demand a closed one."
        ),
    )


def _cause(found: Crankcase, more: dict[str, Amount]) -> Phrase:
    amounts = {
        "gas": Amount(found.gas, _share("rings", "service") * found.gas, Kind.MASS_FLOW),
        "seals": Amount(found.seals, _share("blow_by", "seals") * found.seals, Kind.MASS_FLOW),
        "times": Amount(found.times, oil_constant("blow_by", "shape").value * found.times, Kind.RATIO),
        "inside": _small(found.inside, None),
        "hose": _small(found.hose, None),
        "leak": Amount(found.leak, _share("blow_by", "leak") * found.leak, Kind.MASS_FLOW),
        "sucks": _small(max(-found.outside, 0.0), None),
        **more,
    }
    text = (
        "About {gas} of gas passes the rings here, {times} times that of full load before, and {seals}"
        " the turbo's seals; engine passages take {inside}, the breather {hose}."
    )
    if found.outside < 0.0:
        text += " The inlet pipe sucks with {sucks}."
    if found.leak > 0.0:
        text += " Boost blows {leak} more into the crankcase through its ventilation, for no one-way valve"
        text += " stops it."
    if "drop" in more:
        text += " Against it stands a column of {drop}, {head}."
    return Phrase(text, amounts)


def _share(section: str, name: str) -> float:
    """Relative spread of one row of the table [-]; it decides how many digits are said."""
    row = oil_constant(section, name)
    return row.sd / row.value


def _more_drop(rule: Rule, found: Crankcase, head: Amount, drop: float) -> Phrase:
    z = deviations(rule.harm)
    need = found.value + z * math.hypot(found.sd, head.sd or 0.0)
    if head.value >= need:
        return Phrase("Leave it as it is; read it again each spring, for rings wear.")
    if found.leak > 0.0:
        amounts = {"without": _small(found.without_leak, None), "head": head}
        more = ""
        left = sided(found.without_leak, found.without_sd, head.value)
        if found.without_leak > head.value:
            more = " That is still more than {head}: then the rings, a wider breather, or a higher turbo."
        elif found.without_leak + z * math.hypot(left, head.sd or 0.0) > head.value:
            more = (
                " Against {head} that is no sure hold yet: a wider breather or a higher turbo makes it one."
            )
        return Phrase(
            "Put a tested one-way valve into the ventilation's line to the manifold, or blank it: about"
            " {without} is left then." + more,
            amounts,
        )
    amounts = {
        "drop": Amount(_drop(z, found, head, drop), None, Kind.LENGTH),
        "least": _small(head.value - z * math.hypot(found.sd, head.sd or 0.0), None),
    }
    wide = " A wider or second breather takes {hose} away." if found.hose > 0.3 * found.value else ""
    amounts["hose"] = _small(found.hose, None)
    if head.value <= 0.0:
        return Phrase(
            "The outlet lies below the oil level: raise the turbo, or fit a scavenge pump." + wide, amounts
        )
    if not amounts["drop"].value <= 0.7:
        return Phrase(
            "No car has room for the drop that this asks for: read the crankcase pressure, mend the rings, or"
            " fit a scavenge pump." + wide,
            amounts,
        )
    if amounts["least"].value <= 0.0:
        return Phrase("Raise the turbo to a drop of {drop}, or fit a scavenge pump." + wide, amounts)
    return Phrase(
        "Bring the crankcase to {least} or less, or raise the turbo to a drop of {drop}, or fit a scavenge"
        " pump." + wide,
        amounts,
    )


def _drop(z: float, found: Crankcase, head: Amount, drop: float) -> float:
    """Drop whose column is surely enough [m], its spread growing with it; NaN beyond a metre."""
    if head.value <= 0.0:
        return math.nan
    for hundredths in range(int(drop * 100.0), 101):
        times = hundredths / 100.0 / drop
        if times * head.value >= found.value + z * math.hypot(found.sd, times * (head.sd or 0.0)):
            return hundredths / 100.0
    return math.nan


@rule(
    "crankcase.seals",
    "Crankcase pressure against seals",
    asks="Do seals and gaskets hold the crankcase's pressure under boost?",
    demand="crankcase pressure, worst over speeds and corners",
    capacity="what seals and gaskets hold",
    harm=Harm.DAMAGE,
    harm_words="a seal turns over and oil meets the exhaust: smoke, fire",
    sense=Sense.AT_MOST,
    limits=("crankcase_seals",),
)
def seals(rule: Rule, case: Case) -> Finding | None:
    """The same pressure against the limit."""
    found = crankcase_worst(case)
    if found is None or not speaks_of(case, "breather"):
        return None
    limit = case.limits["crankcase_seals"]
    z, own = deviations(rule.harm), limit.amount.sd or 0.0
    enough = found.value + z * math.hypot(found.sd, own) <= limit.amount.value
    shut = found.without_leak + z * math.hypot(found.without_sd, own) <= limit.amount.value
    amounts = {"without": _small(found.without_leak, None), "hose": _small(found.hose, None)}
    remedy = "Leave it as it is."
    if not enough:
        remedy = (
            "Put a tested one-way valve into the ventilation's line to the manifold, or blank it: about"
            " {without} is left then." + ("" if shut else " That is no sure hold yet: mend the rings too.")
            if found.leak > 0.0
            else "Find why so much passes the rings (leak-down first), and give it a wider or second"
            " breather: hoses take {hose} of it."
        )
    return rule.finding(
        _small(found.value, sided(found.value, found.sd, limit.amount.value), "crankcase pressure"),
        limit.amount,
        limit,
        place=Place(found.there.speed),
        corner=found.there.corner,
        cause=_cause(found, {}),
        remedy=Phrase(remedy, amounts),
        reading=_MANOMETER,
        assumed=_assumed(case),
        about=_ABOUT,
    )

"""End gap of the top ring: what it closes more with boost than before."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.strength_days import nothing_known
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import worst_number
from boostwright.physics.strength import ring_closing, ring_temperature
from boostwright.systems.engine.types import CycleResult

__all__ = ["ring_gap"]

Array = NDArray[np.float64]

CLOSING_SD: Final = (
    0.4  # of what boost closes more: where the ring stands between crown and liner (judgement)
)

_COMMON_AIR = 101325.0  # [Pa]
_HEAT_POWER = 0.8
_GAUGE_SD = 5e-6  # of a feeler gauge and a file [m]; it rounds the gap that is named


@rule(
    "strength.ring_gap",
    "End gap of the top ring",
    asks="Is the gap of the top ring wide enough that its ends do not meet when boost heats it?",
    demand="gap over the bore, as stated or as engine makers set it",
    capacity="gap that engines without boost have, and what the ring closes more with boost, from the"
    " crown and liner temperatures of the cycle",
    harm=Harm.DAMAGE,
    harm_words="the ring's ends meet, it scuffs the bore and breaks its land",
    sense=Sense.AT_LEAST,
    limits=("ring_gap",),
)
def ring_gap(rule: Rule, case: Case) -> Finding | None:
    """The hottest ring over speeds and corners, against the hottest one before the turbo. Silent where the
    file states nothing of pistons, rods, rings and bolts: `strength.peak_pressure` asks for all at once.
    """
    gap = case.amount("engine.ring_gap", Kind.LENGTH, "end gap")
    seen = worst_number(case, lambda line: _closing(case, line.goal.result))
    if gap is None or seen is None or nothing_known(case):
        return None
    closes, found = seen
    bore = case.engine.bore
    before = float(np.nanmax(_closing_before(case)))
    more = max(closes - before, 0.0) / bore
    limit = case.limits["ring_gap"]
    capacity = Amount(
        limit.amount.value + more,
        math.hypot(limit.amount.sd or 0.0, CLOSING_SD * more),
        Kind.SHARE,
        limit.amount.name + ", and what boost closes more",
    )
    demand = Amount(gap.value / bore, (gap.sd or 0.0) / bore, Kind.SHARE, "end gap over bore")
    stated = case.build.is_stated("engine.ring_gap")
    wide = bore * sure_demand(capacity, demand, rule.sense, rule.harm)
    wanted = Amount(math.ceil(1e6 * wide - 1e-6) / 1e6, _GAUGE_SD, Kind.LENGTH)  # never said too narrow
    ring = _ring(found.goal.result)[found.place]
    return rule.finding(
        demand,
        capacity,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "With boost the top ring comes to about {ring}, and its gap closes by {more} more than before the"
            " turbo.",
            {
                "ring": Amount(float(ring), None, Kind.TEMPERATURE),
                "more": Amount(bore * more, CLOSING_SD * bore * more, Kind.LENGTH),
            },
        ),
        remedy=Phrase(
            "Leave it; {wanted} or more is sure."
            if gap.value >= wanted.value
            else "With the pistons out file the top rings to {wanted}; until then keep pulls short, for it"
            " cannot be measured in the engine.",
            {"wanted": wanted},
        ),
        assumed="" if stated else "No ring_gap is stated; the middle of what engine makers print is assumed.",
        reading=Reading(
            "Feeler gauge with the ring square in its bore, pistons out; else the handbook for the"
            " engine code.",
            900.0,
        ),
        about=("engine.ring_gap", "engine.bore", "goal.boost"),
    )


def _ring(cycle: CycleResult) -> Array:
    """Temperature of the top ring over speed [K]."""
    crown, liner = cycle.wall_temperatures[:, 0], cycle.wall_temperatures[:, 2]
    return ring_temperature(crown, liner)


def _closing_before(case: Case) -> Array:
    """The same before the turbo, in common air or in its own if that is denser: the rings of an engine that
    lives on a mountain were fitted for the sea. Heat to the walls goes with pressure to the power 0.8
    (woschni1967).
    """
    coolant = case.stated("engine.coolant_temperature")
    walls = case.baseline.result.wall_temperatures
    if coolant is not None:
        more = max(1.0, _COMMON_AIR / case.ambient_pressure) ** _HEAT_POWER
        walls = float(coolant.value) + more * (walls - float(coolant.value))
    ring = ring_temperature(walls[:, 0], walls[:, 2])
    return ring_closing(case.engine.bore, ring, walls[:, 2])


def _closing(case: Case, cycle: CycleResult) -> Array:
    """How far the gap closes over speed [m]."""
    return ring_closing(case.engine.bore, _ring(cycle), cycle.wall_temperatures[:, 2])

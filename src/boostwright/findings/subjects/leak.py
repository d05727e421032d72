"""The charge pipes' leak, from the time in which a pressure test loses its pressure."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import charge_air, flow_sd
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, worst_number
from boostwright.systems.charge_air.leak import hole_diameter, leak_flow, leak_of
from boostwright.systems.stated.leak import TEST_FIELDS, leak_test_of, missing_of

__all__ = ["leak"]

_BOOSTED = 0.5  # of a line's greatest boost, from which its air is missed [-] (judgement)
_ABOUT = (*TEST_FIELDS, "leak_test.volume", "leak_test.temperature")
_TEST = Reading(
    "Cap on the turbo's inlet, throttle open, engine turned to where an intake valve is shut. Raise the"
    " pressure slowly, never above the boost wanted plus a fifth, shut the supply, and time its fall to one"
    " half. Soap shows where it goes.",
    2400.0,
)


@rule(
    "charge.leak",
    "Leak of the charge pipes",
    asks="How much of the engine's air does the leak in the charge pipes lose at boost?",
    demand="air through the leak that the pressure test shows, over the engine's air, worst over speeds and"
    " corners",
    capacity="share that nobody misses",
    harm=Harm.WEAR,
    harm_words="the turbo turns faster and hotter for the same boost, boost comes late, and with an air"
    " meter the mixture is rich",
    sense=Sense.AT_MOST,
    limits=("leak_share",),
)
def leak(rule: Rule, case: Case) -> Finding | None:
    """m_leak/m_air with m_leak = C_d A p/sqrt(R T) Psi(p_0/p); silent when no test is stated."""
    missing = missing_of(case.build)
    if len(missing) == len(TEST_FIELDS) or case.goal is None:
        return None
    test = leak_test_of(case.build, charge_air(case))
    if test is None or test.end >= test.start:
        return _unfinished(rule, missing)
    hole = leak_of(test)
    seen = worst_number(case, lambda line: _share(line, hole.area))
    if seen is None:
        return None
    share, there = seen
    limit = case.limits["leak_share"]
    relative = math.hypot(hole.area_sd / hole.area, flow_sd(case))
    demand = Amount(share, share * relative, Kind.SHARE, "share of the air that the leak loses")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    amounts = {
        "hole": Amount(hole_diameter(hole.area), None, Kind.LENGTH),
        "flow": Amount(share * float(there.goal.result.air_flow[there.place]), None, Kind.MASS_FLOW),
        "boost": Amount(float(there.goal.boost[there.place]), None, Kind.PRESSURE_GAUGE),
    }
    tight = math.isfinite(wanted) and wanted > 0.0
    if tight:
        amounts["seconds"] = Amount(test.seconds * max(share / wanted, 1.0), None, Kind.DELAY)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "The test shows as much as one round hole of {hole} would leak: {flow} at {boost}.", amounts
        ),
        remedy=_remedy(share <= wanted, tight, amounts),
        reading=_TEST,
        about=_ABOUT,
    )


def _share(line: Line, area: float) -> np.ndarray:
    goal = line.goal
    lost = leak_flow(area, goal.plenum_pressure, goal.plenum_temperature, line.ambient_pressure)
    most = np.nanmax(np.where(goal.settled, goal.boost, np.nan), initial=0.0)
    return np.where((goal.boost > 0.0) & (goal.boost >= _BOOSTED * most), lost / goal.result.air_flow, np.nan)


def _remedy(enough: bool, told: bool, amounts: dict[str, Amount]) -> Phrase:
    if enough:
        return Phrase("Leave it; test again after the first heat and whenever a clamp was off.")
    if not told:
        return Phrase("Test again with a gauge and a volume that are better known: as it is, none would do.")
    return Phrase(
        "Find it with soap, joint by joint, from the couplers to the blow-off valve and the throttle's"
        " shaft, until the same fall takes {seconds} or longer.",
        amounts,
    )


def _unfinished(rule: Rule, missing: tuple[str, ...]) -> Finding:
    said = " and ".join(missing) or "a pressure that falls"
    return rule.finding(
        None,
        None,
        LimitRecord("leak_test", "the build file", "A leak is worked out from all three readings."),
        cause=Phrase(f"The pressure test in the file lacks {said}."),
        remedy=Phrase(f"Write {said} into [leak_test]."),
        reading=_TEST,
        about=_ABOUT,
    )

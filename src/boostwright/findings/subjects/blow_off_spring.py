"""The blow-off valve's spring: soft enough to open at a gentle lift, stiff enough to stay shut at idle."""

from __future__ import annotations

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand

__all__ = ["opens", "stays_shut"]

_GENTLE = 0.2e5  # boost of a gentle lift, from which a compressor is heard [Pa] (judgement)
_PLENUM_SD = 4.0e3  # of the plenum behind a shut throttle [Pa] (judgement)
_ABOUT = ("blow_off.opens_at", "blow_off.outlet")
_PUMP = Reading(
    "Hand pump on the valve's hose: the vacuum at which the disc first leaves its seat; and a vacuum gauge"
    " on the plenum, engine warm and idling.",
    900.0,
)
_WHERE = LimitRecord(
    "light_loads",
    "the cycle of this engine at idle",
    "Behind a shut throttle the plenum is about as low at speed as at idle.",
)


def _shut_plenum(case: Case) -> float | None:
    """Plenum pressure behind the shut throttle, by the cycle at idle [Pa absolute]; None without one."""
    loads = case.extra.get("light_loads")
    return None if loads is None else float(loads.plenum_pressure[0])


@rule(
    "turbo.blow_off_spring",
    "Spring of the blow-off valve",
    asks="Does the valve open when the throttle shuts after a gentle pull?",
    demand="pressure difference at which the valve opens, as measured",
    capacity="difference between 0.2 bar of boost and the plenum behind a shut throttle, by the cycle at"
    " idle",
    harm=Harm.WEAR,
    harm_words="the valve stays shut at gentle lifts, the compressor flutters and its thrust bearing takes"
    " it",
    sense=Sense.AT_MOST,
)
def opens(rule: Rule, case: Case) -> Finding | None:
    """dp_opens against p_0 + 0.2 bar - p_idle; silent when the opening was not read."""
    read = case.amount("blow_off.opens_at", Kind.PRESSURE_DIFFERENCE, "opens at")
    plenum = _shut_plenum(case)
    if read is None or plenum is None or not case.build.flag("blow_off.fitted"):
        return None
    there = case.ambient_pressure + _GENTLE - plenum
    capacity = Amount(there, _PLENUM_SD, Kind.PRESSURE_DIFFERENCE, "difference at a gentle lift")
    most = Amount(sure_demand(capacity, read, rule.sense, rule.harm), None, Kind.PRESSURE_DIFFERENCE, "most")
    return rule.finding(
        read,
        capacity,
        _WHERE,
        place=Place(words="after a gentle pull"),
        cause=Phrase(
            "Behind the shut throttle the plenum falls to {plenum}, and the boost in front of it helps to"
            " push the valve open.",
            {"plenum": Amount(plenum, None, Kind.PRESSURE_ABSOLUTE)},
        ),
        remedy=Phrase(
            "Leave it as it is."
            if read.value <= most.value
            else "Fit a softer spring, one that lets the disc go at {most} or less.",
            {"most": most},
        ),
        reading=_PUMP,
        about=_ABOUT,
    )


@rule(
    "turbo.blow_off_idle",
    "Blow-off valve at idle",
    asks="Does a valve that opens into the open stay shut at idle?",
    demand="vacuum behind the shut throttle, by the cycle at idle",
    capacity="pressure difference at which the valve opens, as measured",
    harm=Harm.POOR_RUNNING,
    harm_words="at idle and in every overrun the engine draws dust, and air that nobody counted",
    sense=Sense.AT_MOST,
)
def stays_shut(rule: Rule, case: Case) -> Finding | None:
    """p_0 - p_idle against dp_opens; silent unless the outlet is stated as open and the opening was read."""
    read = case.amount("blow_off.opens_at", Kind.PRESSURE_DIFFERENCE, "opens at")
    plenum = _shut_plenum(case)
    is_open = case.build.is_stated("blow_off.outlet") and case.word("blow_off.outlet") == "open"
    if read is None or plenum is None or not is_open or not case.build.flag("blow_off.fitted"):
        return None
    vacuum = Amount(
        case.ambient_pressure - plenum, _PLENUM_SD, Kind.PRESSURE_DIFFERENCE, "vacuum behind the throttle"
    )
    least = Amount(
        vacuum.value + 0.85 * _PLENUM_SD + (read.sd or 0.0), None, Kind.PRESSURE_DIFFERENCE, "least"
    )
    return rule.finding(
        vacuum,
        read,
        _WHERE,
        place=Place(words="at idle"),
        cause=Phrase(
            "At idle no boost stands before the valve; the plenum's vacuum alone pulls at its disc."
        ),
        remedy=Phrase(
            "Leave it as it is."
            if read.value >= least.value
            else "Lead the outlet back before the compressor, where air that is drawn in is clean and"
            " counted, or fit a spring that holds to {least}.",
            {"least": least},
        ),
        reading=_PUMP,
        about=_ABOUT,
    )

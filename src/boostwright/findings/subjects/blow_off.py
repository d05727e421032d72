"""The blow-off valve when the throttle shuts at full boost: room enough, and where its air goes."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import charge_air
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations
from boostwright.findings.worst import Line, worst
from boostwright.systems.charge_air.lift_off import (
    VALVE_SPREAD,
    LiftOff,
    lift_off,
    time_to_surge,
    valve_area,
)

__all__ = ["metered_air", "valve"]

_BOOSTED = 1.15  # pressure ratio from which a compressor that loses its flow is heard [-] (judgement)
_PUSH = Reading(
    "Hand pump on the valve's hose: note the vacuum at which the disc leaves its seat, its travel, and the"
    " seat's diameter with a calliper. At idle it may be open or shut, at boost it must be shut.",
    900.0,
)


def _stated(case: Case) -> bool:
    """Whether the file says how large the valve is, or that there is none; its outlet says neither."""
    return case.build.is_stated("blow_off.diameter") or not case.build.flag("blow_off.fitted")


def _area(case: Case) -> tuple[float, float]:
    """Effective area of the valve and its standard deviation [m2]; nothing without one."""
    if not case.build.flag("blow_off.fitted"):
        return 0.0, 0.0
    d, h = case.build["blow_off.diameter"], case.build["blow_off.lift"]
    value = float(valve_area(d.value, h.value))
    by_size = float(valve_area(float(d.value) * 1.02, h.value)) / value - 1.0
    by_lift = float(valve_area(d.value, float(h.value) * 1.02)) / value - 1.0
    relative = math.hypot(
        VALVE_SPREAD,
        by_size / 0.02 * float(d.sd or 0.0) / float(d.value),
        by_lift / 0.02 * float(h.sd or 0.0) / float(h.value),
    )
    return value, relative * value


def _at(case: Case, line: Line, area: float) -> LiftOff:
    """Lift-off at every speed of a line."""
    goal = line.goal
    inlet = goal.compressor_inlet_pressure
    back = inlet if case.word("blow_off.outlet") == "recirculated" else line.ambient_pressure
    return lift_off(
        case.extra["turbo_parts"].compressor_map,
        area,
        goal.result.air_flow,
        goal.flow_over_surge,
        goal.tip_speed,
        inlet,
        line.ambient_temperature,
        back,
    )


def _boosted(line: Line) -> np.ndarray:
    return np.asarray(line.goal.settled & (line.goal.pressure_ratio > _BOOSTED))


@rule(
    "turbo.blow_off",
    "Blow-off valve",
    asks="Can the air get away when the throttle shuts at full boost, before the compressor surges?",
    demand="flow of the compressor's surge line at the shaft speed of the match, worst over speeds and"
    " corners",
    capacity="what the valve passes at the pressure that the compressor makes there",
    harm=Harm.WEAR,
    harm_words="the flow breaks down and comes back, again and again: flutter at each lift, and the thrust"
    " bearing and the wheel's blades take it",
    sense=Sense.AT_MOST,
)
def valve(rule: Rule, case: Case) -> Finding | None:
    """m_surge(N) against C_d A p_s/sqrt(R T) Psi(p_0/p_s), quasi-steady, the shaft as fast as before."""
    if case.goal is None or "turbo_parts" not in case.extra:
        return None
    area, area_sd = _area(case)

    def room(line: Line) -> np.ndarray:
        made = _at(case, line, max(area, 1e-9))
        return np.where(_boosted(line), made.valve_flow / made.surge_flow, np.nan)

    there = worst(case, room)
    if there is None:
        return None
    i, made = there.place, _at(case, there.line, max(area, 1e-9))
    asked = float(made.surge_flow[i])
    demand = Amount(asked, asked * there.goal.surge_sd, Kind.MASS_FLOW, "flow that keeps off surge")
    passes = float(made.valve_flow[i]) if area > 0.0 else 0.0
    capacity = Amount(
        passes, passes * area_sd / area if area > 0.0 else 0.0, Kind.MASS_FLOW, "flow that the valve passes"
    )
    amounts = _amounts(case, there.line, i, made, area, demand, capacity)
    fitted = area > 0.0
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "blow_off.diameter",
            "computed",
            "The valve passes what the nozzle law lets through the lesser of its seat and the gap under its"
            " disc.",
        ),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "With the throttle shut the pipes reach the surge line in {time}; from then on at least {need}"
            " must leave at {pressure}, the shaft being as fast as before."
            + ("" if fitted else " There is no valve to let it out."),
            amounts,
        ),
        remedy=_remedy(fitted, passes >= amounts["sure"].value, amounts),
        reading=_PUSH,
        about=("blow_off.fitted", "blow_off.diameter", "blow_off.lift", "turbo.compressor_inducer"),
        assumed=""
        if _stated(case)
        else "The size of the blow-off valve is not stated; a usual one is assumed.",
    )


def _amounts(
    case: Case, line: Line, i: int, made: LiftOff, area: float, demand: Amount, capacity: Amount
) -> dict[str, Amount]:
    """Numbers of the sentences; the seat is one that opens by a quarter of its diameter."""
    goal = line.goal
    air = charge_air(case)
    outlet = float(goal.compressor_inlet_pressure[i] * goal.pressure_ratio[i])
    seconds = time_to_surge(
        air.volume, goal.result.air_flow[i], outlet, made.surge_pressure[i], goal.plenum_temperature[i]
    )
    z = deviations(Harm.WEAR)
    # sure when (c - d)^2 = z^2 (sd_c^2 + sd_d^2), c the capacity with its own share of spread
    share = math.hypot(VALVE_SPREAD, 0.03)
    r = (demand.sd or 0.0) / demand.value
    a, b, c = 1.0 - (z * share) ** 2, -2.0, 1.0 - (z * r) ** 2
    factor = (-b + math.sqrt(max(b * b - 4.0 * a * c, 0.0))) / (2.0 * a)
    per_area = float(made.valve_flow[i]) / max(area, 1e-9)
    sure = demand.value * factor
    unit = float(valve_area(1.0, 0.25))  # of a seat of 1 m
    return {
        "need": demand,
        "have": capacity,
        "sure": Amount(sure, None, Kind.MASS_FLOW),
        "time": Amount(float(seconds), None, Kind.PULSE),
        "pressure": Amount(float(made.surge_pressure[i]) - line.ambient_pressure, None, Kind.PRESSURE_GAUGE),
        "seat": Amount(math.sqrt(sure / per_area / unit), None, Kind.LENGTH),
        "travel": Amount(0.25 * math.sqrt(sure / per_area / unit), None, Kind.LENGTH),
    }


def _remedy(fitted: bool, enough: bool, amounts: dict[str, Amount]) -> Phrase:
    if enough:
        return Phrase(
            "It is large enough. Give its hose the plenum behind the throttle and nothing else, and check"
            " that it shuts under boost.",
            amounts,
        )
    first = "Fit one" if not fitted else "Fit a larger one, or two side by side,"
    return Phrase(
        f"{first} with a seat of {{seat}} or more that opens by {{travel}}: it passes {{sure}}. Put it near"
        " the throttle, its hose on the plenum behind it.",
        amounts,
    )


@rule(
    "turbo.blow_off_outlet",
    "Where the blow-off valve lets its air go",
    asks="Is air that the air meter has counted let into the open?",
    demand="air that goes past the valve at lift-off, over all air that the meter counts then",
    capacity="share of counted air that may miss the engine before it stumbles",
    harm=Harm.POOR_RUNNING,
    harm_words="fuel is given for air that is gone: the engine runs rich at every lift, stumbles and stalls",
    sense=Sense.AT_MOST,
    limits=("metered_air_lost",),
)
def metered_air(rule: Rule, case: Case) -> Finding | None:
    """m_valve/(m_valve + m_idle); silent unless an air meter counts and the valve opens into the open."""
    by_meter = case.word("controller.load") == "air-meter"
    if not by_meter or case.word("blow_off.outlet") != "open" or not case.build.is_stated("blow_off.outlet"):
        return None
    area, _ = _area(case)
    if case.goal is None or "turbo_parts" not in case.extra or area <= 0.0:
        return None
    idle = _idle_air(case)

    def lost(line: Line) -> np.ndarray:
        made = _at(case, line, area)
        flow = np.minimum(made.valve_flow, made.surge_flow)
        return np.where(_boosted(line), -flow / (flow + idle), np.nan)

    there = worst(case, lost)
    if there is None:
        return None
    share = -there.margin
    limit = case.limits["metered_air_lost"]
    relative = math.hypot(there.goal.surge_sd, 0.3)
    demand = Amount(share, share * (1.0 - share) * relative, Kind.SHARE, "counted air that is lost")
    flow = share / (1.0 - share) * idle
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "The meter counts {flow} that goes into the open while the engine takes about {idle}.",
            {
                "flow": Amount(flow, None, Kind.MASS_FLOW),
                "idle": Amount(idle, None, Kind.MASS_FLOW),
            },
        ),
        remedy=Phrase(
            "Lead the valve's outlet back to the pipe between air meter and compressor, or run the engine"
            " by manifold pressure."
        ),
        reading=Reading(
            "Log lambda through a few lifts: it falls below 0.75 at each if air is lost.", 1800.0
        ),
        about=("blow_off.outlet", "controller.load", "blow_off.diameter"),
    )


_IDLE_FILLING = 0.3  # of the cylinders at shut throttle [-]; common practice, 0.25 to 0.35


def _idle_air(case: Case) -> float:
    """Air that passes the shut throttle [kg/s]: as at idle, for it is choked there and at speed.

    From the cycle's own idle; where that was not computed, V_d n/2 times a third of the filling.
    """
    loads = case.extra.get("light_loads")
    if loads is not None and math.isfinite(float(loads.air_flow[0])):
        return float(loads.air_flow[0])
    turns = case.build.number("engine.idle_speed") / (2.0 * math.pi)
    density = case.ambient_pressure / (287.05 * case.ambient_temperature)
    return float(_IDLE_FILLING * density * case.build.displacement * turns / 2.0)

"""What the findings on joints share: the joints of a build, their answers, and what they are asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.crankcase_case import crankcase_worst
from boostwright.findings.fuel_case import usual_line
from boostwright.findings.model import Amount, Kind
from boostwright.findings.oil_case import hot_oil, rise_in_turbo
from boostwright.findings.subjects.cuts import highest_pressure
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.library.car_parts import car_constant
from boostwright.library.halves import Half
from boostwright.library.joint_materials import asked
from boostwright.library.oil import oil_constant
from boostwright.library.seals import Seal
from boostwright.systems.joints import Carried, Joint, Mating, SealAnswer, Sureness, judge_seal, mates
from boostwright.systems.stated.joints import joints_of

__all__ = [
    "Answer",
    "Duty",
    "answers_of",
    "boost_and_spike",
    "duty_of",
    "plain",
    "pressure_to_test",
    "seals_for",
    "under_pressure",
]

_OUTLET_SD = 10.0  # of a compressor outlet temperature from wheel sizes [K]; judgement, as turbo.outlet
_PLENUM_SD = 8.0  # of the charge behind the cooler [K]; judgement
_GAS_SD = 40.0  # of the exhaust gas [K]; judgement, as exhaust.manifold
_GAS_PRESSURE_SD = 0.1  # of a computed mean pressure before or behind the turbine (judgement)
_FLOW_SHARE = 0.25  # of the oil that passes a turbo, one standard deviation [-]; judgement
_HARMFUL = (
    Carried.FUEL,
    Carried.OIL,
    Carried.OIL_DRAIN,
    Carried.EXHAUST,
    Carried.EXHAUST_OUT,
    Carried.COOLANT,
    Carried.AIR,
)


class Duty(NamedTuple):
    """What goes through a joint asks of it; None: nothing worth a judgement, or not known."""

    pressure: Amount | None  # above ambient
    temperature: Amount | None
    corner: str = ""
    speed: float | None = None  # crank speed of the greatest pressure [rad/s]


@dataclass(frozen=True, slots=True)
class Answer:
    """One joint with what is said of its halves and its seal."""

    joint: Joint
    mating: Mating  # of the halves alone
    seals: tuple[SealAnswer, ...]  # one for each seal; empty when none is stated

    @property
    def undecided(self) -> bool:
        """The halves fit as far as they are stated, and that is not far enough."""
        if not self.mating.mates or self.mating.sure is not Sureness.GUESS:
            return False
        cones = [end.half for end in self.joint.ends if end.half.flare is not None]
        return not self.joint.tried or any(half.cone_degrees is None for half in cones)

    @property
    def wrong_seal(self) -> SealAnswer | None:
        """The first seal that does not belong there."""
        return next((seal for seal in self.seals if not seal.suits), None)

    @property
    def seal_wanting(self) -> bool:
        """Nobody said what makes it tight, and it needs something."""
        return not self.seals and not self.bare

    @property
    def bare(self) -> bool:
        """It seals, or holds, with nothing between the halves."""
        nothing = judge_seal(self.joint.a.half, self.joint.b.half, Seal.NOTHING, oil_feed=False)
        return self.joint.carries is Carried.NOTHING or nothing.suits

    @property
    def order(self) -> tuple[bool, int]:
        """What hurts most comes first: what starts by hand and binds, then by what is carried."""
        carries = self.joint.carries
        rank = _HARMFUL.index(carries) if carries in _HARMFUL else len(_HARMFUL)
        return not self.mating.dangerous, rank


@lru_cache(maxsize=2048)
def _mating(a: Half, b: Half) -> Mating:
    return mates(a, b)


@lru_cache(maxsize=2048)
def _seal(a: Half, b: Half, seal: Seal, oil: bool, fuel: bool) -> SealAnswer:
    return judge_seal(a, b, seal, oil, fuel)


def answers_of(case: Case) -> tuple[Answer, ...]:
    """Every joint of the build with its answers; made once for each build."""
    kept: tuple[Any, tuple[Answer, ...]] | None = case.extra.get("joints")
    if kept is None or kept[0] is not case.build:
        kept = case.extra["joints"] = (case.build, tuple(_answer(joint) for joint in joints_of(case.build)))
    return kept[1]


def _answer(joint: Joint) -> Answer:
    a, b = joint.a.half, joint.b.half
    oil, fuel = joint.carries is Carried.OIL, joint.carries is Carried.FUEL
    seals: tuple[SealAnswer, ...] = ()
    if joint.carries is not Carried.NOTHING:
        seals = tuple(_seal(a, b, seal, oil, fuel) for seal in sorted(joint.seals, key=lambda s: s.value))
    return Answer(joint, _mating(a, b), seals)


def seals_for(joint: Joint) -> frozenset[Seal]:
    """The seals that suit a joint."""
    oil, fuel = joint.carries is Carried.OIL, joint.carries is Carried.FUEL
    return _seal(joint.a.half, joint.b.half, Seal.UNSTATED, oil, fuel).belongs


_TESTED = (Carried.OIL, Carried.FUEL, Carried.COOLANT, Carried.AIR, Carried.COOLED_AIR, Carried.SIGNAL)


def under_pressure(joint: Joint) -> bool:
    """Whether what goes through a joint stands under pressure, known or not."""
    return joint.carries in _TESTED


def pressure_to_test(case: Case, joint: Joint) -> Amount | None:
    """The pressure that a joint must have been tested for; None for one that only has to go together."""
    return duty_of(case, joint.carries).pressure if under_pressure(joint) else None


def plain(text: str) -> str:
    """A name out of the file, without the signs that would make a gap of it."""
    return text.replace("{", "(").replace("}", ")")


# ---------------------------------------------------------------------------------------------- what is asked


def duty_of(case: Case, carries: Carried | None) -> Duty:
    """What a joint that carries this is asked for, on the worst day; made once for each build and line."""
    if carries is None or carries is Carried.NOTHING:
        return Duty(None, None)
    kept: tuple[Any, Any, dict[Carried, Duty]] | None = case.extra.get("joint_duties")
    if kept is None or kept[0] is not case.build or kept[1] is not case.goal:
        kept = case.extra["joint_duties"] = (case.build, case.goal, {})
    if carries not in kept[2]:
        kept[2][carries] = _DUTIES[carries](case)
    return kept[2][carries]


def _gauge(value: float, sd: float, name: str) -> Amount:
    return Amount(value, sd, Kind.PRESSURE_GAUGE, name)


def _sum(case: Case, name: str, *parts: str) -> Amount | None:
    """Coolant temperature with some figures of the table added."""
    coolant = case.amount("engine.coolant_temperature", Kind.TEMPERATURE, "coolant")
    if coolant is None:
        return None
    figures = [asked(part) for part in parts]
    value = coolant.value + sum(figure.value for figure in figures)
    sd = math.hypot(coolant.sd or 0.0, *(figure.sd for figure in figures))
    return Amount(value, sd, Kind.TEMPERATURE, name)


def _oil(case: Case) -> Duty:
    """The greater of the cold and the hot reading; the oil after the hardest pulls of any day."""
    read = [
        amount
        for amount in (
            case.amount("engine.oil_pressure_cold", Kind.PRESSURE_GAUGE, "oil pressure, cold"),
            case.amount("engine.oil_pressure_3000", Kind.PRESSURE_GAUGE, "oil pressure, hot at 3000 rpm"),
        )
        if amount is not None
    ]
    pressure = max(read, key=lambda amount: amount.value) if read else None
    return Duty(pressure, _hot(case))


def _hot(case: Case) -> Amount | None:
    """Oil in the sump at load, by the heat of turbo and burn; without a match, above the coolant."""
    hot = hot_oil(case)
    if hot is None:
        return _sum(case, "oil at load", "oil_above_coolant")
    return Amount(hot.value, hot.sd, Kind.TEMPERATURE, "oil at load")


def _crankcase_pressure(case: Case) -> Amount | None:
    """The worst under boost, from blow-by and breather; without a match, the reading."""
    worst = crankcase_worst(case)
    if worst is not None:
        return _gauge(worst.value, worst.sd, "crankcase pressure")
    found = case.amount("engine.crankcase_pressure", Kind.PRESSURE_GAUGE, "crankcase pressure")
    return found if found is not None and found.value > 0.0 else None


def _oil_drain(case: Case) -> Duty:
    """What the turbo's heat makes of the oil that passes it."""
    hot, pressure = hot_oil(case), _crankcase_pressure(case)
    rise = math.inf if hot is None else rise_in_turbo(case, hot)
    if hot is None or not math.isfinite(rise):
        return Duty(pressure, _sum(case, "oil out of the turbo", "oil_above_coolant", "drain_rise"))
    # the flow is known to a quarter (`oil.feed_least`), the heat as the match has it
    sd = math.hypot(hot.sd, rise * math.hypot(hot.turbo_sd / hot.turbo, _FLOW_SHARE))
    return Duty(pressure, Amount(hot.value + rise, sd, Kind.TEMPERATURE, "oil out of the turbo"))


def _crankcase(case: Case) -> Duty:
    gas = oil_constant("breather", "temperature")
    return Duty(
        _crankcase_pressure(case), Amount(gas.value, gas.sd, Kind.TEMPERATURE, "gas out of the crankcase")
    )


def _coolant(case: Case) -> Duty:
    """The cap's pressure, stated or usual, and coolant that stands in a hot turbo for a minute."""
    cap = case.amount("cooling.cap_pressure", Kind.PRESSURE_GAUGE, "pressure under the cap")
    return Duty(cap, _sum(case, "coolant after a hot stop", "soak_above_coolant"))


def _soaked(case: Case, name: str) -> Amount:
    """What hangs under the bonnet while a hot engine stands, on the hottest day."""
    outside = max([case.ambient_temperature, *(corner.ambient_temperature for corner in case.corners)])
    rise = car_constant("hot", "bay_soak")
    return Amount(outside + rise.value, rise.sd, Kind.TEMPERATURE, name)


def _fuel(case: Case) -> Duty:
    """The pump's pressure at full load, the rail's following boost; fuel that stands in a hot rail."""
    seen = worst_number(case, lambda line: usual_line(case, line).pump_pressure)
    temperature = _soaked(case, "fuel in the rail after a hot stop")
    if seen is None:
        return Duty(None, temperature)
    value, there = seen
    rail = case.stated("regulator.pressure")
    sd = math.hypot(float(rail.sd or 0.0) if rail else 0.0, float(there.goal.boost_sd[there.place]))
    return Duty(_gauge(value, sd, "fuel pressure at full load"), temperature, there.corner, there.speed)


def boost_and_spike(case: Case, discharge: bool) -> tuple[Amount, Worst] | None:
    """Highest pressure in the charge pipes above ambient, creep and spike with it, and where it stands.

    discharge: behind the compressor, with the loss of the charge path; else in the plenum.
    """
    highest = highest_pressure(case)
    if highest is None:
        return None
    plenum, there = highest
    goal, i = there.goal, there.place
    gauge = plenum.value - there.line.ambient_pressure
    if discharge:
        before = float(goal.compressor_inlet_pressure[i] * goal.pressure_ratio[i])
        gauge += max(before - float(goal.plenum_pressure[i]), 0.0)
    name = "behind the compressor" if discharge else "in the plenum"
    return _gauge(gauge, plenum.sd or 0.0, f"boost and spike {name}"), there


def _air(case: Case) -> Duty:
    boost = boost_and_spike(case, discharge=True)
    hot = worst_number(case, lambda line: line.goal.compressor_outlet_temperature)
    if boost is None or hot is None:
        return Duty(None, None)
    air = Amount(hot[0], case.left(_OUTLET_SD), Kind.TEMPERATURE, "air behind the compressor")
    return Duty(boost[0], air, boost[1].corner, boost[1].speed)


def _cooled_air(case: Case) -> Duty:
    boost = boost_and_spike(case, discharge=False)
    hot = worst_number(case, lambda line: line.goal.plenum_temperature)
    if boost is None or hot is None:
        return Duty(None, None)
    air = Amount(hot[0], case.left(_PLENUM_SD), Kind.TEMPERATURE, "charge behind the cooler")
    return Duty(boost[0], air, boost[1].corner, boost[1].speed)


def _signal(case: Case) -> Duty:
    boost = boost_and_spike(case, discharge=True)
    bay = _soaked(case, "air under the bonnet")
    return Duty(None, bay) if boost is None else Duty(boost[0], bay, boost[1].corner, boost[1].speed)


def _gas(case: Case, behind: bool) -> Duty:
    """Mean pressure above ambient and gas temperature before, or behind, the turbine."""

    def above(line: Line) -> np.ndarray:
        pressure = line.goal.turbine_outlet_pressure if behind else line.goal.exhaust_pressure
        return np.asarray(pressure - line.ambient_pressure)

    where = "behind the turbine" if behind else "before the turbine"
    seen = worst_number(case, above)

    def warmth(line: Line) -> np.ndarray:
        return np.asarray(tail(case, line).temperature if behind else line.goal.turbine_inlet_temperature)

    hot = worst_number(case, warmth)
    if seen is None or hot is None:
        return Duty(None, None)
    value, there = seen
    return Duty(
        _gauge(value, case.left(_GAS_PRESSURE_SD) * abs(value), f"pressure {where}"),
        Amount(hot[0], case.left(_GAS_SD), Kind.TEMPERATURE, f"gas {where}"),
        there.corner,
        there.speed,
    )


def _exhaust(case: Case) -> Duty:
    return _gas(case, behind=False)


def _exhaust_out(case: Case) -> Duty:
    return _gas(case, behind=True)


_DUTIES = {
    Carried.OIL: _oil,
    Carried.OIL_DRAIN: _oil_drain,
    Carried.COOLANT: _coolant,
    Carried.FUEL: _fuel,
    Carried.AIR: _air,
    Carried.COOLED_AIR: _cooled_air,
    Carried.EXHAUST: _exhaust,
    Carried.EXHAUST_OUT: _exhaust_out,
    Carried.CRANKCASE: _crankcase,
    Carried.SIGNAL: _signal,
}

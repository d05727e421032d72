"""What a joint stands against what goes through it: pressure, heat, ethanol, and the fluid itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.joint_case import Duty, answers_of, duty_of
from boostwright.findings.judge import probability_holds, verdict_of
from boostwright.findings.model import Amount, Harm, Kind, LimitRecord, Sense, Verdict
from boostwright.library.halves import Kind as HalfKind
from boostwright.library.joint_materials import Figure, seal_temperature
from boostwright.systems.joints import Carried, End, Joint

__all__ = ["RATING_HARM", "Check", "checks_of", "weakest", "weakest_of_each"]

_GAS_LIMITS = {
    "steel": "exhaust_mild_steel",
    "stainless": "exhaust_stainless",
    "cast-iron": "exhaust_iron",
    "unknown_metal": "exhaust_unknown",
}


_GASES = (Carried.EXHAUST, Carried.EXHAUST_OUT)


class Check(NamedTuple):
    """One thing that one end of a joint, or its seal, is asked for."""

    joint: Joint
    part: str  # in words: the port, the half or the seal
    what: str  # pressure, temperature, ethanol or fluid
    demand: Amount
    capacity: Amount
    record: LimitRecord
    duty: Duty
    who: str  # whose figure the capacity is, with its verb: 'nitrile rubber stands'
    assumed: bool  # nobody said what it is made of, nor what its maker permits

    def probability(self) -> float:
        """That it holds."""
        found = probability_holds(self.demand, self.capacity, Sense.AT_MOST)
        return 0.0 if found is None else found

    def verdict(self, harm: Harm) -> Verdict:
        """The word for it; what rests on an assumed material may hold and cannot break."""
        found = verdict_of(self.probability(), harm)
        return Verdict.UNKNOWN if self.assumed and found is not Verdict.HOLDS else found


def checks_of(case: Case, joint: Joint) -> tuple[Check, ...]:
    """Everything that is judged of one joint; empty when nothing goes through it or nobody said what."""
    if joint.carries is None or joint.carries is Carried.NOTHING:
        return ()
    duty = duty_of(case, joint.carries)
    found = []
    for end in joint.ends:
        found += [*_fluid(joint, end, duty), *_figures(case, joint, end, duty)]
    return (*found, *_seals(joint, duty))


def weakest(case: Case, joint: Joint) -> Check | None:
    """The check of a joint that is worst: by verdict, then by probability."""
    found = checks_of(case, joint)
    return min(found, key=_badness) if found else None


def weakest_of_each(case: Case) -> tuple[Check, ...]:
    """The weakest check of every joint that is asked for something, worst first."""
    found = [weakest(case, answer.joint) for answer in answers_of(case)]
    return tuple(sorted((check for check in found if check is not None), key=_badness))


RATING_HARM: Final = Harm.SEVERE
_BADNESS: Final = {Verdict.BREAKS: 0, Verdict.UNKNOWN: 1, Verdict.TIGHT: 2, Verdict.HOLDS: 3}


def _badness(check: Check) -> tuple[int, float, bool, float]:
    """What breaks comes before what rests on an assumed material; then the least probable; a wrong fluid
    before a figure; of equal ones the least room in standard deviations.
    """
    room = check.capacity.value - check.demand.value
    sd = math.hypot(check.capacity.sd or 0.0, check.demand.sd or 0.0)
    nearness = room / sd if sd > 0.0 else math.inf
    return _BADNESS[check.verdict(RATING_HARM)], check.probability(), check.what != "fluid", nearness


def _fluid(joint: Joint, end: End, duty: Duty) -> Iterator[Check]:
    """An end whose material does not stand what goes through it, whatever its figures."""
    assert joint.carries is not None
    fluid = Carried.EXHAUST if joint.carries is Carried.EXHAUST_OUT else joint.carries
    if fluid.value not in end.material.bad_for:
        return
    words = f"ends that {_CARRIED[joint.carries]} attacks"
    yield Check(
        joint, end.name, "fluid", Amount(1.0, 0.0, Kind.COUNT, words), Amount(0.0, 0.0, Kind.COUNT, words),
        LimitRecord("joint_materials", "common practice, no source", f"{end.material.words}: bad for it."),
        duty, f"{end.material.words} does not stand {_CARRIED[joint.carries]}", False,
    )  # fmt: skip


def _figures(case: Case, joint: Joint, end: End, duty: Duty) -> Iterator[Check]:
    if duty.pressure is not None:
        yield _one(joint, end, "pressure", duty.pressure, end.pressure, Kind.PRESSURE_GAUGE, duty)
    if duty.temperature is not None:
        key = _GAS_LIMITS.get(end.material.name)
        if joint.carries in _GASES and key and "temperature" not in end.stated:
            limit = case.limits[key]
            assumed = end.material.name == "unknown_metal"
            who = f"{end.material.words} stands"
            yield Check(
                joint,
                end.name,
                "temperature",
                duty.temperature,
                limit.amount,
                limit.record,
                duty,
                who,
                assumed,
            )
        else:
            yield _one(joint, end, "temperature", duty.temperature, end.temperature, Kind.TEMPERATURE, duty)
    if joint.carries is Carried.FUEL:
        share = case.amount("fuel.ethanol", Kind.SHARE, "ethanol in the fuel")
        if share is not None:
            yield _one(joint, end, "ethanol", share, end.ethanol, Kind.SHARE, duty)


def _one(joint: Joint, end: End, what: str, demand: Amount, stands: Figure, kind: Kind, duty: Duty) -> Check:
    stated = what in end.stated
    name = "what its maker permits" if stated else f"what {end.material.words} stands"
    who = "its maker permits" if stated else f"{end.material.words} stands"
    capacity = Amount(stands.value, stands.sd, kind, name)
    reason = f"{end.material.words}: {stands.source}."
    record = LimitRecord("ports" if stated else "joint_materials", _source_of(stands), reason)
    assumed = not stated and not end.material_stated
    return Check(joint, end.name, what, demand, capacity, record, duty, who, assumed)


def _source_of(figure: Figure) -> str:
    """The source of a figure of the table: a key of the literature list, or what it says of itself."""
    if figure.source == "the build file":
        return figure.source
    key = figure.source.partition(",")[0].partition(":")[0]
    return key if key.isalnum() and any(sign.isdigit() for sign in key) else "common practice, no source"


def _seals(joint: Joint, duty: Duty) -> Iterator[Check]:
    if duty.temperature is None or any(end.half.kind is HalfKind.V_BAND for end in joint.ends):
        return
    for seal in sorted(joint.seals, key=lambda one: one.value):
        stands = seal_temperature(seal)
        if stands is None or joint.carries in _GASES:
            continue
        yield Check(
            joint, f"its {seal.value}", "temperature", duty.temperature,
            Amount(stands.value, stands.sd, Kind.TEMPERATURE, f"what {seal.value} stands"),
            LimitRecord("joint_materials", _source_of(stands), f"{seal.value}: {stands.source}."),
            duty, f"{seal.value} stands", False,
        )  # fmt: skip


_CARRIED = {
    Carried.OIL: "hot oil",
    Carried.OIL_DRAIN: "hot oil",
    Carried.COOLANT: "coolant",
    Carried.FUEL: "petrol",
    Carried.AIR: "charge air",
    Carried.COOLED_AIR: "charge air",
    Carried.EXHAUST: "exhaust gas",
    Carried.EXHAUST_OUT: "exhaust gas",
    Carried.CRANKCASE: "oil mist",
    Carried.SIGNAL: "charge air",
    Carried.NOTHING: "nothing",
}

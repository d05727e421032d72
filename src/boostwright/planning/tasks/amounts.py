"""How much of a thing this build needs, and sentences with this build's own numbers.

The data files name both: `needs` an amount by its rule, `amounts` a sentence by the same name. A number that
the file does not hold gives no amount and a sentence that says which field to state.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Final, NamedTuple

from boostwright.findings.model import Verdict
from boostwright.library.task_rules import task_rules
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.studs import broken_studs, stud_count
from boostwright.quantity import Dimension, write

__all__ = ["How", "amounts", "how_much"]


class How(NamedTuple):
    """value: SI, None where the file does not tell. words: the sentence; '' where there is none to say."""

    value: float | None
    dimension: Dimension
    words: str = ""


_FIRST = 6  # findings that are named; the check itself shows them all
Rule = Callable[[Ground], How]
_AMOUNTS: Final[dict[str, Rule]] = {}


def _amount(name: str) -> Callable[[Rule], Rule]:
    def keep(rule: Rule) -> Rule:
        if name in _AMOUNTS:
            raise ValueError(f"the amount '{name}' stands twice")
        _AMOUNTS[name] = rule
        return rule

    return keep


def amounts() -> Mapping[str, Rule]:
    """Every rule by its name."""
    return _AMOUNTS


def how_much(ground: Ground, name: str) -> How:
    """One rule's answer. Raises KeyError for none."""
    return _AMOUNTS[name](ground)


def _litres(value: float) -> str:
    return write(value, "L", Dimension.VOLUME, digits=2)


def _metres(value: float) -> str:
    return write(value, "m", Dimension.LENGTH, digits=2)


def _bar(value: float) -> str:
    return write(value, "bar", Dimension.PRESSURE, digits=2)


def _count(value: float | None, words: str = "") -> How:
    return How(value, Dimension.COUNT, words)


@_amount("oil fill")
def _oil_fill(ground: Ground) -> How:
    sump = ground.number("oil.sump_volume")
    added, extra = ground.number("oil.added_volume") or 0.0, ground.number("oil.extra_fill") or 0.0
    if sump is None:
        return How(None, Dimension.VOLUME, "How much oil: state oil.sump_volume.")
    grade = ground.words("oil.grade")
    total = sump + added + extra
    parts = [f"{_litres(added)} for turbo, lines and cooler"] if added else []
    parts += [f"{_litres(extra)} more as planned"] if extra else []
    name = f"oil {grade}" if grade else "oil"
    words = f"{_litres(total)} of {name}"
    if parts:
        words += f": {_litres(sump)} for engine and filter, " + ", ".join(parts)
    return How(total, Dimension.VOLUME, words + ".")


@_amount("oil added")
def _oil_added(ground: Ground) -> How:
    added = ground.number("oil.added_volume")
    return How(added if added is not None else 0.5e-3, Dimension.VOLUME)


@_amount("coolant")
def _coolant(ground: Ground) -> How:
    volume, share = ground.number("cooling.volume"), ground.number("cooling.glycol")
    if volume is None:
        return How(None, Dimension.VOLUME, "How much coolant: state cooling.volume.")
    mix = f", {100.0 * share:.0f} % glycol" if share is not None else ""
    return How(volume, Dimension.VOLUME, f"{_litres(volume)} of coolant{mix}.")


@_amount("cooler water")
def _cooler_water(ground: Ground) -> How:
    return How(ground.number("cooler.water_volume"), Dimension.VOLUME)


@_amount("battery cable")
def _battery_cable(ground: Ground) -> How:
    length, area = ground.number("battery.cable_length"), ground.number("battery.cable_area")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the cable must be: state battery.cable_length.")
    section = f" of {write(area, 'mm2', Dimension.AREA, digits=3)}" if area is not None else ""
    bought = length * task_rules().cable_spare
    return How(bought, Dimension.LENGTH, f"{_metres(length)} of cable{section} along its way.")


@_amount("cable clips")
def _clips(ground: Ground) -> How:
    length = ground.number("battery.cable_length")
    return _count(None if length is None else float(math.ceil(length / task_rules().clip_every)))


@_amount("main fuse")
def _main_fuse(ground: Ground) -> How:
    fuse = ground.number("battery.fuse")
    if fuse is None:
        return _count(1.0, "No rating is stated for the main fuse: state battery.fuse.")
    return _count(1.0, f"Main fuse {write(fuse, 'A', Dimension.CURRENT, digits=3)}, slow.")


@_amount("exhaust ports")
def _ports(ground: Ground) -> How:
    return _count(ground.number("engine.cylinders"))


@_amount("cylinders")
def _cylinders(ground: Ground) -> How:
    return _count(ground.number("engine.cylinders"))


@_amount("manifold studs")
def _studs(ground: Ground) -> How:
    return _count(float(stud_count(ground)))


@_amount("turbo nuts")
def _turbo_nuts(ground: Ground) -> How:
    return _count(float(ground.fastener_count("turbine") or 4))


@_amount("breather hose")
def _breather_hose(ground: Ground) -> How:
    length, hoses = ground.number("breather.length"), ground.number("breather.hoses") or 1.0
    bore = ground.number("breather.hose_bore")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the breather is: state breather.length.")
    words = (f"{hoses:.0f} x " if hoses > 1.0 else "") + f"{_metres(length)} of hose"
    if bore is not None:
        words += f", {write(bore, 'mm', Dimension.LENGTH, digits=3)} inside"
    return How(length * hoses * task_rules().cable_spare, Dimension.LENGTH, words + ".")


@_amount("breather clamps")
def _breather_clamps(ground: Ground) -> How:
    return _count(2.0 * (ground.number("breather.hoses") or 1.0))


@_amount("relief shim")
def _shim(ground: Ground) -> How:
    shim = ground.number("oil.relief_shim")
    if not shim:
        return _count(1.0, "How thick the shim: the readings of spring and valve decide (oil.relief_...).")
    return _count(1.0, f"Shim of {write(shim, 'mm', Dimension.LENGTH, digits=2)}.")


@_amount("drain")
def _drain(ground: Ground) -> How:
    drop, bore = ground.number("oil.drain_drop"), ground.number("oil.drain_bore")
    says = []
    if drop is not None:
        says.append(f"the turbo's outlet lies {write(drop, 'mm', Dimension.LENGTH, digits=3)} above the oil")
    if bore is not None:
        says.append(f"the drain is {write(bore, 'mm', Dimension.LENGTH, digits=3)} wide at its narrowest")
    if not says:
        return How(None, Dimension.LENGTH, "Neither fall nor bore of the drain is stated: oil.drain_drop.")
    words = " and ".join(says)
    return How(drop, Dimension.LENGTH, words[0].upper() + words[1:] + ".")


@_amount("drain hose")
def _drain_hose(ground: Ground) -> How:
    rules, drop = task_rules(), ground.number("oil.drain_drop")
    length = None if drop is None else max(rules.least_drain, drop * rules.drain_spare)
    return How(length, Dimension.LENGTH)


@_amount("feed restrictor")
def _restrictor(ground: Ground) -> How:
    bearing, bore = ground.words("turbo.bearing"), ground.number("oil.feed_bore")
    kind = {"plain": "Plain bearings", "ball": "Ball bearings"}.get(bearing)
    if kind is None:
        return _count(None)
    if bore is None:
        return _count(1.0, f"{kind}; the narrowest bore of the feed is not stated (oil.feed_bore).")
    narrow = write(bore, "mm", Dimension.LENGTH, digits=2)
    return _count(1.0, f"{kind}; the narrowest bore of the feed is planned as {narrow}.")


@_amount("gate spring")
def _gate_spring(ground: Ground) -> How:
    spring = ground.number("wastegate.spring")
    return How(
        spring, Dimension.PRESSURE, "" if spring is None else f"The rod should start at {_bar(spring)}."
    )


@_amount("pump wire")
def _pump_wire(ground: Ground) -> How:
    length, area = ground.number("pump.cable_length"), ground.number("pump.cable_area")
    fuse = ground.number("pump.fuse")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the pump's wire is: state pump.cable_length.")
    words = f"{_metres(length)} of wire"
    words += f" of {write(area, 'mm2', Dimension.AREA, digits=2)}" if area is not None else ""
    words += f", fuse {write(fuse, 'A', Dimension.CURRENT, digits=3)}" if fuse is not None else ""
    back = 2.0 if ground.words("pump.earth") == "cable" else 1.0
    return How(length * back * task_rules().cable_spare, Dimension.LENGTH, words + ".")


@_amount("fuel hose")
def _fuel_hose(ground: Ground) -> How:
    length = ground.number("regulator.line_length")
    return How(None if length is None else length * task_rules().fuel_spare, Dimension.LENGTH)


@_amount("injectors")
def _injectors(ground: Ground) -> How:
    return _count(ground.number("injectors.count") or ground.number("engine.cylinders"))


@_amount("injector rings")
def _rings(ground: Ground) -> How:
    return _count(2.0 * (_injectors(ground).value or 0.0))


@_amount("fuel need")
def _fuel_need(ground: Ground) -> How:
    flow = ground.finding("fuel.pump_flow")
    rail, boost = ground.number("regulator.pressure"), ground.number("goal.boost")
    words = ""
    if rail is not None and boost is not None:
        follows = ground.words("regulator.reference") == "manifold"
        words = f"Pump against {_bar(rail + (boost if follows else 0.0))}"
    if flow is not None and flow.demand is not None and flow.demand.known and words:
        asked = flow.demand.value * task_rules().fuel_reserve
        words += f": at least {write(asked, 'L/min', Dimension.VOLUME_FLOW, digits=3)}"
    return How(None, Dimension.VOLUME_FLOW, words + "." if words else "")


@_amount("charge pipe")
def _charge_pipe(ground: Ground) -> How:
    length, bore = ground.number("pipes.length"), ground.number("pipes.bore")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the charge pipes are: state pipes.length.")
    wide = f", {write(bore, 'mm', Dimension.LENGTH, digits=3)} inside" if bore is not None else ""
    return How(length * task_rules().cable_spare, Dimension.LENGTH, f"{_metres(length)} of pipe{wide}.")


@_amount("couplers")
def _couplers(ground: Ground) -> How:
    return _count(ground.number("pipes.couplers"))


@_amount("charge clamps")
def _clamps(ground: Ground) -> How:
    number, torque = ground.number("pipes.couplers"), ground.number("pipes.clamp_torque")
    count = None if number is None else 2.0 * number
    if torque is None:
        return _count(count, "Clamp torque: what the clamp's maker prints (pipes.clamp_torque).")
    return _count(count, f"Clamps to {write(torque, 'Nm', Dimension.TORQUE, digits=2)}.")


@_amount("signal clamps")
def _signal_clamps(ground: Ground) -> How:
    return _count({"solenoid": 6.0, "bleed": 4.0}.get(ground.words("wastegate.control"), 2.0))


@_amount("blow-off spring")
def _blow_off_spring(ground: Ground) -> How:
    opens = ground.number("blow_off.opens_at")
    words = "" if opens is None else f"It should open at {_bar(opens)} across its diaphragm."
    return How(opens, Dimension.PRESSURE, words)


@_amount("plug gap")
def _plug_gap(ground: Ground) -> How:
    gap, heat = ground.number("ignition.plug_gap"), ground.number("ignition.plug_heat")
    if gap is None:
        return How(None, Dimension.LENGTH, "The gap is not stated: ignition.plug_gap.")
    colder = f", {heat:.0f} steps colder than standard" if heat else ""
    return How(gap, Dimension.LENGTH, f"Gap {write(gap, 'mm', Dimension.LENGTH, digits=2)}{colder}.")


@_amount("inlet hose")
def _inlet_hose(ground: Ground) -> How:
    return How(ground.number("pipes.inlet_length"), Dimension.LENGTH)


@_amount("sensor range")
def _sensor_range(ground: Ground) -> How:
    highest = ground.number("pressure_sensor.highest")
    words = (
        ""
        if highest is None
        else f"It reads up to {write(highest, 'kPa', Dimension.PRESSURE, digits=3)} absolute."
    )
    return How(highest, Dimension.PRESSURE, words)


@_amount("cuts")
def _cuts(ground: Ground) -> How:
    boost, speed = ground.number("controller.boost_cut"), ground.number("controller.speed_cut")
    says = []
    if boost is not None:
        says.append(f"boost cut {write(boost, 'kPa', Dimension.PRESSURE, digits=3)} absolute")
    if speed is not None:
        says.append(f"speed cut {write(speed, 'rpm', Dimension.ROTATION, digits=4)}")
    if boost is None:
        says.append("no boost cut is stated (controller.boost_cut)")
    words = ", ".join(says)
    return How(boost, Dimension.PRESSURE, words[0].upper() + words[1:] + ".")


@_amount("test pressure")
def _test_pressure(ground: Ground) -> How:
    spring = ground.number("wastegate.spring")
    if spring is None:
        return How(None, Dimension.PRESSURE, "Never above the spring's pressure: state wastegate.spring.")
    most = spring * task_rules().test_over_spring
    return How(most, Dimension.PRESSURE, f"Up to the spring's {_bar(spring)}, never above {_bar(most)}.")


@_amount("broken stud")
def _broken_stud(ground: Ground) -> How:
    found = broken_studs(ground)
    return _count(
        found.expected,
        f"{found.studs} studs, each breaks in {100.0 * found.each:.1f} of 100 cases ({found.because}):"
        f" at least one in {100.0 * found.at_least_one:.0f} of 100.",
    )


@_amount("law")
def _law(ground: Ground) -> How:
    """What the file plans that the law may not allow: asked about, never advised."""
    says = []
    if ground.stated("exhaust.catalyst") and not ground.flag("exhaust.catalyst"):
        says.append(
            "The file says that there is no catalyst. Taking one out, or driving without, is an offence in"
            " most places; nothing in this plan takes one out"
        )
    if ground.words("breather.outlet") == "open":
        says.append("A breather that ends in the open air is not allowed where crankcase gas must be burned")
    if ground.stated("blow_off.outlet") and ground.words("blow_off.outlet") == "open":
        says.append("Ask whether a blow-off valve that opens into the air passes for noise")
    return _count(None, ". ".join(says) + "." if says else "")


@_amount("what breaks")
def _what_breaks(ground: Ground) -> How:
    if ground.result is None:
        return _count(None, "Nobody has run the check on this file yet.")
    breaks = [f.code for f in ground.result.of(Verdict.BREAKS)]
    if not breaks:
        return _count(0.0, "Nothing breaks in the file as it stands.")
    first = ", ".join(breaks[:_FIRST])
    more = f" and {len(breaks) - _FIRST} more" if len(breaks) > _FIRST else ""
    return _count(float(len(breaks)), f"As the file stands, {len(breaks)} findings break: {first}{more}.")

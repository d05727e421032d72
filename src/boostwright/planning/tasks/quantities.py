"""How much of a thing this build needs: the rules that `needs` name in the tables of tasks."""

from __future__ import annotations

import math

from boostwright.library.task_rules import task_rules
from boostwright.planning.tasks.conditions import ask
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.how import How, amount, count
from boostwright.planning.tasks.studs import spare_studs, stud_count
from boostwright.quantity import Dimension, write

__all__: list[str] = []


def _litres(value: float) -> str:
    return write(value, "L", Dimension.VOLUME, digits=2)


def _metres(value: float) -> str:
    return write(value, "m", Dimension.LENGTH, digits=2)


def _difference(value: float) -> str:
    return write(value, "bar", Dimension.PRESSURE, digits=2)


def _bar(value: float) -> str:
    """A pressure above the air around."""
    return write(value, "bar", Dimension.PRESSURE, digits=2) + " gauge"


@amount("oil fill")
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


@amount("oil added")
def _oil_added(ground: Ground) -> How:
    added = ground.number("oil.added_volume")
    return How(added if added is not None else 0.5e-3, Dimension.VOLUME)


@amount("coolant")
def _coolant(ground: Ground) -> How:
    volume, share = ground.number("cooling.volume"), ground.number("cooling.glycol")
    if volume is None:
        return How(None, Dimension.VOLUME, "How much coolant: state cooling.volume.")
    mix = f", {100.0 * share:.0f} % glycol" if share is not None else ""
    return How(volume, Dimension.VOLUME, f"{_litres(volume)} of coolant{mix}.")


@amount("cooler water")
def _cooler_water(ground: Ground) -> How:
    return How(ground.number("cooler.water_volume"), Dimension.VOLUME)


@amount("battery cable")
def _battery_cable(ground: Ground) -> How:
    length, area = ground.number("battery.cable_length"), ground.number("battery.cable_area")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the cable must be: state battery.cable_length.")
    section = f" of {write(area, 'mm2', Dimension.AREA, digits=3)}" if area is not None else ""
    bought = length * task_rules().cable_spare
    return How(bought, Dimension.LENGTH, f"{_metres(length)} of cable{section} along its way.")


@amount("cable clips")
def _clips(ground: Ground) -> How:
    length = ground.number("battery.cable_length")
    return count(None if length is None else float(math.ceil(length / task_rules().clip_every)))


@amount("main fuse")
def _main_fuse(ground: Ground) -> How:
    fuse = ground.number("battery.fuse")
    if fuse is None:
        return count(1.0, "No rating is stated for the main fuse: state battery.fuse.")
    return count(1.0, f"Main fuse {write(fuse, 'A', Dimension.CURRENT, digits=3)}, slow.")


@amount("exhaust ports")
def _ports(ground: Ground) -> How:
    return count(ground.number("engine.cylinders"))


@amount("cylinders")
def _cylinders(ground: Ground) -> How:
    return count(ground.number("engine.cylinders"))


@amount("manifold studs")
def _studs(ground: Ground) -> How:
    return count(float(stud_count(ground)))


@amount("turbo nuts")
def _turbo_nuts(ground: Ground) -> How:
    return count(float(ground.fastener_count("turbine") or 4))


@amount("breather hose")
def _breather_hose(ground: Ground) -> How:
    length, hoses = ground.number("breather.length"), ground.number("breather.hoses") or 1.0
    bore = ground.number("breather.hose_bore")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the breather is: state breather.length.")
    words = (f"{hoses:.0f} x " if hoses > 1.0 else "") + f"{_metres(length)} of hose"
    if bore is not None:
        words += f", {write(bore, 'mm', Dimension.LENGTH, digits=3)} inside"
    return How(length * hoses * task_rules().cable_spare, Dimension.LENGTH, words + ".")


@amount("breather clamps")
def _breather_clamps(ground: Ground) -> How:
    return count(2.0 * (ground.number("breather.hoses") or 1.0))


@amount("relief shim")
def _shim(ground: Ground) -> How:
    shim = ground.number("oil.relief_shim")
    if not shim:
        return count(1.0, "How thick the shim: the readings of spring and valve decide (oil.relief_...).")
    return count(1.0, f"Shim of {write(shim, 'mm', Dimension.LENGTH, digits=2)}.")


@amount("drain")
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


@amount("drain hose")
def _drain_hose(ground: Ground) -> How:
    rules, drop = task_rules(), ground.number("oil.drain_drop")
    length = None if drop is None else max(rules.least_drain, drop * rules.drain_spare)
    return How(length, Dimension.LENGTH)


@amount("feed restrictor")
def _restrictor(ground: Ground) -> How:
    bearing, bore = ground.words("turbo.bearing"), ground.number("oil.feed_bore")
    kind = {"plain": "Plain bearings", "ball": "Ball bearings"}.get(bearing)
    if kind is None:
        return count(None)
    if bore is None:
        return count(1.0, f"{kind}; the narrowest bore of the feed is not stated (oil.feed_bore).")
    narrow = write(bore, "mm", Dimension.LENGTH, digits=2)
    return count(1.0, f"{kind}; the narrowest bore of the feed is planned as {narrow}.")


@amount("gate spring")
def _gate_spring(ground: Ground) -> How:
    spring = ground.number("wastegate.spring")
    return How(
        spring, Dimension.PRESSURE, "" if spring is None else f"The rod should start at {_bar(spring)}."
    )


@amount("pump wire")
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


@amount("fuel hose")
def _fuel_hose(ground: Ground) -> How:
    length = ground.number("regulator.line_length")
    return How(None if length is None else length * task_rules().fuel_spare, Dimension.LENGTH)


@amount("injectors")
def _injectors(ground: Ground) -> How:
    return count(ground.number("injectors.count") or ground.number("engine.cylinders"))


@amount("injector rings")
def _rings(ground: Ground) -> How:
    return count(2.0 * (_injectors(ground).value or 0.0))


@amount("fuel need")
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


@amount("charge pipe")
def _charge_pipe(ground: Ground) -> How:
    length, bore = ground.number("pipes.length"), ground.number("pipes.bore")
    if length is None:
        return How(None, Dimension.LENGTH, "How long the charge pipes are: state pipes.length.")
    wide = f", {write(bore, 'mm', Dimension.LENGTH, digits=3)} inside" if bore is not None else ""
    return How(length * task_rules().cable_spare, Dimension.LENGTH, f"{_metres(length)} of pipe{wide}.")


@amount("couplers")
def _couplers(ground: Ground) -> How:
    return count(ground.number("pipes.couplers"))


@amount("charge clamps")
def _clamps(ground: Ground) -> How:
    couplers, torque = ground.number("pipes.couplers"), ground.number("pipes.clamp_torque")
    clamps = None if couplers is None else 2.0 * couplers
    if torque is None:
        return count(clamps, "Clamp torque: what the clamp's maker prints (pipes.clamp_torque).")
    return count(clamps, f"Clamps to {write(torque, 'Nm', Dimension.TORQUE, digits=2)}.")


@amount("signal clamps")
def _signal_clamps(ground: Ground) -> How:
    return count({"solenoid": 6.0, "bleed": 4.0}.get(ground.words("wastegate.control"), 2.0))


@amount("spare studs")
def _spare_studs(ground: Ground) -> How:
    return count(float(spare_studs(ground)))


@amount("nipples")
def _nipples(ground: Ground) -> How:
    wanted = [
        words
        for words, name in (
            ("pressure sensor", "pressure sensor"),
            ("fuel regulator", "regulator sees the manifold"),
            ("blow-off valve", "blow-off valve"),
        )
        if ask(ground, name).holds
    ]
    if not wanted:
        return count(0.0)
    return count(float(len(wanted)), f"Nipples: {', '.join(wanted)}.")


@amount("blow-off spring")
def _blow_off_spring(ground: Ground) -> How:
    opens = ground.number("blow_off.opens_at")
    words = "" if opens is None else f"It should open at {_difference(opens)} across its diaphragm."
    return How(opens, Dimension.PRESSURE, words)


@amount("plug gap")
def _plug_gap(ground: Ground) -> How:
    gap, heat = ground.number("ignition.plug_gap"), ground.number("ignition.plug_heat")
    if gap is None:
        return How(None, Dimension.LENGTH, "The gap is not stated: ignition.plug_gap.")
    colder = f", {heat:.0f} steps colder than standard" if heat else ""
    return How(gap, Dimension.LENGTH, f"Gap {write(gap, 'mm', Dimension.LENGTH, digits=2)}{colder}.")


@amount("inlet hose")
def _inlet_hose(ground: Ground) -> How:
    return How(ground.number("pipes.inlet_length"), Dimension.LENGTH)


@amount("sensor range")
def _sensor_range(ground: Ground) -> How:
    highest = ground.number("pressure_sensor.highest")
    words = (
        ""
        if highest is None
        else f"It reads up to {write(highest, 'kPa', Dimension.PRESSURE, digits=3)} absolute."
    )
    return How(highest, Dimension.PRESSURE, words)


@amount("cuts")
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


@amount("test pressure")
def _test_pressure(ground: Ground) -> How:
    spring = ground.number("wastegate.spring")
    if spring is None:
        return How(None, Dimension.PRESSURE, "Never above the spring's pressure: state wastegate.spring.")
    most = spring * task_rules().test_over_spring
    return How(most, Dimension.PRESSURE, f"Up to the spring's {_bar(spring)}, never above {_bar(most)}.")

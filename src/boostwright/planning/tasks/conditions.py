"""Conditions by name: whether something belongs to this build, and the words that say why.

Each is one function over build and check. The data files of ``library/tasks`` name them under 'if' and
'unless'; their words become `Task.why`, or the reason why a task is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final, NamedTuple

from boostwright.library.tasks import When
from boostwright.planning.tasks.ground import Ground
from boostwright.quantity import Dimension, write

__all__ = ["Answer", "ask", "conditions", "reasons"]


class Answer(NamedTuple):
    """Whether it holds in this build, and the fact that says so."""

    holds: bool
    because: str


Condition = Callable[[Ground], Answer]
_CONDITIONS: Final[dict[str, Condition]] = {}
_SAME_FLOW = 0.03  # two injectors closer than this are the same size; a matched set spreads by 2 to 4 %


def _condition(name: str) -> Callable[[Condition], Condition]:
    def keep(rule: Condition) -> Condition:
        if name in _CONDITIONS:
            raise ValueError(f"the condition '{name}' stands twice")
        _CONDITIONS[name] = rule
        return rule

    return keep


def conditions() -> Mapping[str, Condition]:
    """Every condition by its name."""
    return _CONDITIONS


def ask(ground: Ground, name: str) -> Answer:
    """One condition's answer. Raises KeyError for none."""
    return _CONDITIONS[name](ground)


def reasons(ground: Ground, when: When) -> tuple[bool, tuple[str, ...]]:
    """Whether all hold, with the facts that decide: those for it, or those against it."""
    wanted = [(ask(ground, name), True) for name in when.if_all]
    wanted += [(ask(ground, name), False) for name in when.unless]
    against = tuple(answer.because for answer, want in wanted if answer.holds is not want)
    if against:
        return False, against
    return True, tuple(answer.because for answer, _ in wanted)


@_condition("battery moved")
def _battery_moved(ground: Ground) -> Answer:
    place = ground.words("battery.position")
    if place in {"boot", "cabin"}:
        return Answer(True, f"the battery moves to the {place} (battery.position)")
    return Answer(False, "the battery stays in the engine bay (battery.position)")


@_condition("water-cooled turbo")
def _water_cooled(ground: Ground) -> Answer:
    if ground.flag("turbo.water_cooled"):
        return Answer(True, "the turbo's housing is cooled by water (turbo.water_cooled)")
    return Answer(False, "the turbo's housing has no water in it (turbo.water_cooled)")


@_condition("coolant is drained")
def _coolant_drained(ground: Ground) -> Answer:
    return _water_cooled(ground)


@_condition("charge cooler")
def _charge_cooler(ground: Ground) -> Answer:
    kind = ground.words("cooler.type")
    if kind in {"air", "water"}:
        return Answer(True, f"there is a charge cooler, cooled by {kind} (cooler.type)")
    return Answer(False, "there is no charge cooler (cooler.type)")


@_condition("water charge cooler")
def _water_charge_cooler(ground: Ground) -> Answer:
    if ground.words("cooler.type") == "water":
        return Answer(True, "the charge cooler has a water circuit of its own (cooler.type)")
    return Answer(False, "the charge cooler has no water circuit (cooler.type)")


@_condition("front comes off")
def _front_off(ground: Ground) -> Answer:
    if not _charge_cooler(ground).holds:
        return Answer(False, "no charge cooler needs the front off (cooler.type)")
    if ground.words("cooler.type") == "water":
        return Answer(True, "the water circuit's radiator sits in front (cooler.type)")
    place = ground.words("cooler.position")
    if place == "front":
        return Answer(True, "the charge cooler sits in front (cooler.position)")
    return Answer(False, f"the charge cooler's place is '{place}', the front stays on (cooler.position)")


@_condition("drain needs an entry")
def _drain_entry(ground: Ground) -> Answer:
    entry = ground.words("oil.sump_entry")
    if entry == "there":
        return Answer(False, "the sump has an entry for the drain already (oil.sump_entry)")
    if entry == "second":
        return Answer(False, "the second sump gets its entry beforehand (oil.sump_entry)")
    if ground.stated("oil.sump_entry"):
        return Answer(True, "the drain needs a new entry into the sump (oil.sump_entry)")
    return Answer(True, "nobody says that the sump has an entry for the drain (oil.sump_entry)")


@_condition("sump comes off")
def _sump_off(ground: Ground) -> Answer:
    entry = ground.words("oil.sump_entry")
    if entry == "there":
        return Answer(False, "the drain's entry is there, the sump stays on (oil.sump_entry)")
    if entry == "in-place":
        return Answer(False, "the sump is drilled where it is (oil.sump_entry)")
    if entry == "second":
        return Answer(True, "another sump goes on, its entry made beforehand (oil.sump_entry)")
    return Answer(True, "the drain's entry is made with the sump off (oil.sump_entry)")


@_condition("second sump")
def _second_sump(ground: Ground) -> Answer:
    if ground.words("oil.sump_entry") == "second":
        return Answer(True, "a second sump is drilled and welded beforehand (oil.sump_entry)")
    return Answer(False, "there is no second sump (oil.sump_entry)")


@_condition("nobody welds")
def _nobody_welds(ground: Ground) -> Answer:
    people = ground.build.table("people")
    if any("welds" in row and row["welds"].value is True for row in people):
        return Answer(False, "one of the people welds (people.welds)")
    return Answer(True, "nobody of the people is said to weld (people.welds)")


@_condition("drilled in place")
def _in_place(ground: Ground) -> Answer:
    if ground.words("oil.sump_entry") == "in-place":
        return Answer(True, "the sump cannot come off and is drilled where it is (oil.sump_entry)")
    return Answer(False, "the sump is not drilled on the car (oil.sump_entry)")


@_condition("entry screwed")
def _screwed(ground: Ground) -> Answer:
    if ground.words("oil.sump_entry") == "screwed":
        return Answer(True, "the drain's entry is screwed in, not welded (oil.sump_entry)")
    return Answer(False, "the drain's entry is not screwed in (oil.sump_entry)")


@_condition("relief shim")
def _relief_shim(ground: Ground) -> Answer:
    if not (ground.number("oil.relief_shim") or 0.0) > 0.0:
        return Answer(False, "no shim under the relief spring is planned (oil.relief_shim)")
    if ground.breaks("oil.shim_need"):
        return Answer(False, "the shim that is planned would help nothing: oil.shim_need breaks")
    return Answer(True, "a shim under the relief spring is planned (oil.relief_shim)")


@_condition("studs are wasted")
def _wasted(ground: Ground) -> Answer:
    if ground.words("engine.exhaust_studs") == "wasted":
        return Answer(True, "studs or nuts of the old manifold are eaten away (engine.exhaust_studs)")
    return Answer(False, "the old manifold's studs are not said to be eaten away (engine.exhaust_studs)")


@_condition("one-way valve")
def _one_way(ground: Ground) -> Answer:
    if not ground.stated("breather.one_way_valve"):
        return Answer(True, "nobody says that boost is kept out of the crankcase (breather.one_way_valve)")
    if ground.flag("breather.one_way_valve"):
        return Answer(True, "a one-way valve keeps boost out of the crankcase (breather.one_way_valve)")
    return Answer(False, "the file plans no one-way valve in the crankcase line (breather.one_way_valve)")


@_condition("breather is laid anew")
def _breather(ground: Ground) -> Answer:
    outlet = ground.words("breather.outlet")
    if ground.stated("breather.hose_bore") or outlet in {"can", "open"}:
        return Answer(True, "the file states a breather of its own (breather)")
    return Answer(False, "the breather stays as delivered (breather)")


@_condition("catch can")
def _can(ground: Ground) -> Answer:
    if ground.words("breather.outlet") == "can":
        return Answer(True, "the breather ends in a catch can (breather.outlet)")
    return Answer(False, "there is no catch can (breather.outlet)")


@_condition("oil cooler")
def _oil_cooler(ground: Ground) -> Answer:
    if ground.flag("oil.cooler"):
        return Answer(True, "an oil cooler goes in (oil.cooler)")
    return Answer(False, "there is no oil cooler (oil.cooler)")


@_condition("new pump")
def _new_pump(ground: Ground) -> Answer:
    if ground.words("pump.fitted") == "own" and ground.breaks("fuel.pump_flow"):
        return Answer(True, "the car's own pump gives too little: fuel.pump_flow breaks")
    if ground.words("pump.fitted") == "own":
        return Answer(False, "the car's own pump stays (pump.fitted)")
    if ground.stated("pump.fitted"):
        return Answer(True, "another fuel pump goes in (pump.fitted)")
    return Answer(True, "nobody says that the car's own pump stays (pump.fitted)")


@_condition("pump wired anew")
def _pump_wiring(ground: Ground) -> Answer:
    feed = ground.finding("electrics.pump_feed")
    if feed is not None and ground.fails("electrics.pump_feed"):
        fact = f"electrics.pump_feed {'breaks' if ground.breaks('electrics.pump_feed') else 'is tight'}"
        sees = feed.cause.amounts.get("volts")
        if sees is None or not sees.known:
            return Answer(True, fact)
        volts = write(sees.value, "V", Dimension.VOLTAGE, digits=3)
        return Answer(True, f"the pump sees {volts}: {fact}")
    if ground.flag("pump.relay") and ground.stated("pump.relay"):
        return Answer(True, "the pump gets a relay and wires of its own (pump.relay)")
    if not ground.stated("pump.voltage") and not ground.stated("pump.cable_area"):
        return Answer(True, "nobody says what the pump's old wires lose (pump.voltage, pump.cable_area)")
    return Answer(False, "the pump's wires stay (pump.relay; electrics.pump_feed does not break)")


@_condition("new injectors")
def _new_injectors(ground: Ground) -> Answer:
    before, now = ground.number("baseline.injector_flow"), ground.number("injectors.flow")
    condition = ground.words("injectors.condition")
    if before and now:
        if abs(now / before - 1.0) > _SAME_FLOW:
            return Answer(True, "the injectors' flow differs from the old ones' (baseline.injector_flow)")
        if condition != "new":
            return Answer(False, "the injectors are the car's own (baseline.injector_flow)")
    if condition == "new" or not ground.stated("injectors.condition"):
        return Answer(True, "a new set of injectors goes in (injectors.condition)")
    if ground.stated("injectors.flow"):
        return Answer(True, "other injectors go in (injectors; baseline.injector_flow is not stated)")
    return Answer(False, "the injectors are the car's own (injectors.condition)")


@_condition("injectors come out")
def _injectors_out(ground: Ground) -> Answer:
    new = _new_injectors(ground)
    if new.holds:
        return new
    if ground.words("injectors.condition") == "cleaned":
        return Answer(True, "the injectors are cleaned and flowed (injectors.condition)")
    return Answer(False, new.because)


@_condition("brake fluid is old")
def _brake_fluid(ground: Ground) -> Answer:
    if ground.fails("brakes.fluid"):
        return Answer(True, "the brake fluid is old: brakes.fluid does not hold")
    if not ground.stated("car.brake_fluid_date"):
        return Answer(True, "nobody says how old the brake fluid is (car.brake_fluid_date)")
    return Answer(False, "its date is stated and brakes.fluid does not break (car.brake_fluid_date)")


@_condition("regulator sees the manifold")
def _regulator(ground: Ground) -> Answer:
    if ground.words("regulator.reference") == "manifold":
        return Answer(True, "the rail pressure follows the manifold (regulator.reference)")
    return Answer(False, "the rail pressure does not follow the manifold (regulator.reference)")


@_condition("rail has a hose")
def _rail_hose(ground: Ground) -> Answer:
    reference = ground.words("regulator.reference")
    if reference == "tank":
        return Answer(False, "the rail is held in the tank, with no return line (regulator.reference)")
    if reference == "atmosphere":
        return Answer(False, "the rail is held against the air around (regulator.reference)")
    return Answer(True, "a hose from the plenum leads to the regulator (regulator.reference)")


@_condition("blow-off valve")
def _blow_off(ground: Ground) -> Answer:
    if ground.flag("blow_off.fitted"):
        return Answer(True, "there is a blow-off valve (blow_off.fitted)")
    return Answer(False, "there is no blow-off valve (blow_off.fitted)")


@_condition("boost is controlled")
def _controlled(ground: Ground) -> Answer:
    control = ground.words("wastegate.control")
    if control in {"solenoid", "bleed"}:
        return Answer(True, f"boost is held by a {control} valve (wastegate.control)")
    return Answer(False, "the spring alone holds the boost (wastegate.control)")


@_condition("external gate")
def _external(ground: Ground) -> Answer:
    if ground.words("wastegate.type") == "external":
        return Answer(True, "the wastegate is a valve of its own (wastegate.type)")
    return Answer(False, "the wastegate sits in the turbine housing (wastegate.type)")


@_condition("pressure sensor")
def _pressure_sensor(ground: Ground) -> Answer:
    if ground.words("controller.load") == "air-meter" and not ground.stated("pressure_sensor.highest"):
        return Answer(False, "an air meter tells the load and no pressure sensor is stated (controller.load)")
    return Answer(True, "the controller must see the pressure in the plenum (pressure_sensor)")


@_condition("exhaust probe")
def _probe(ground: Ground) -> Answer:
    if ground.stated("exhaust.probe"):
        return Answer(True, "an exhaust temperature probe is planned (exhaust.probe)")
    return Answer(False, "no exhaust temperature probe is planned (exhaust.probe)")


@_condition("knock sensor")
def _knock(ground: Ground) -> Answer:
    if ground.flag("controller.knock_sensor"):
        return Answer(True, "the controller listens for knock (controller.knock_sensor)")
    return Answer(False, "the controller does not listen for knock (controller.knock_sensor)")


@_condition("boost above the spring")
def _above_spring(ground: Ground) -> Answer:
    goal, spring = ground.number("goal.boost"), ground.number("wastegate.spring")
    if goal is None or spring is None:
        return Answer(False, "spring or boost is not stated (wastegate.spring, goal.boost)")
    words = (
        f"the goal of {write(goal, 'bar', Dimension.PRESSURE, digits=2)} and the spring's"
        f" {write(spring, 'bar', Dimension.PRESSURE, digits=2)}, both gauge (goal.boost, wastegate.spring)"
    )
    if goal > spring and ground.words("wastegate.control") != "spring":
        return Answer(True, f"the spring alone stays below what is wanted: {words}")
    return Answer(False, f"nothing lifts boost above the spring: {words}")

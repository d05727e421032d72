"""Orders that people break, each with its reason. All are common practice, no source."""

from __future__ import annotations

from itertools import pairwise

import pytest

from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.network import ancestors
from boostwright.verbs import demo_build
from tests.labels import check
from tests.planning.tasks.forced import forced

ALL = {
    "battery moved": True,
    "sump comes off": True,
    "drain needs an entry": True,
    "relief shim": True,
    "water-cooled turbo": True,
    "coolant is drained": True,
    "new pump": True,
    "pump wired anew": True,
    "injectors come out": True,
    "front comes off": True,
    "boost above the spring": True,
}

ORDERS = (
    ("battery.first_start", "strip.stands", "the moved battery is proven on the engine that is known to run"),
    (
        "strip.fuel_pressure_off",
        "strip.battery_off",
        "the rail is emptied while the pump and starter have power",
    ),
    ("strip.fuel_pressure_off", "fuel.lines", "no fuel joint is opened under pressure"),
    ("baseline.soak", "strip.nuts", "penetrant soaks a night before the nuts are touched"),
    ("oil.sump_on", "oil.fill", "sealant cures before oil touches it"),
    ("oil.wash", "oil.sump_on", "chips of the drill never reach the pump"),
    (
        "control.second_look",
        "prove.crank_timing",
        "settings are read by the other before anything turns by them",
    ),
    ("prove.fuel_dry", "prove.crank", "no crank with live coils beside a fuel joint that is not proven"),
    ("prove.fuel_dry", "control.outputs", "no spark is made beside a fuel joint that is not proven"),
    ("turbo.shields", "turbo.ports_open", "ports stay capped while metal is cut and drilled around them"),
    ("turbo.ports_open", "charge.filter", "the last look into the turbo is before the inlet is shut"),
    ("baseline.full_load", "strip.stands", "the pull before is lost for ever once a part is off"),
    ("baseline.full_load", "battery.out", "the pull before is lost for ever once a part is off"),
    (
        "baseline.oil_pressure",
        "oil.relief_measure",
        "whether a shim is needed follows from the pressures before",
    ),
    ("baseline.fuel_pressure", "baseline.plugs", "an engine with its plugs out does not run"),
    ("baseline.oil_pressure", "baseline.plugs", "an engine with its plugs out does not run"),
    ("baseline.crankcase", "baseline.plugs", "an engine with its plugs out does not run"),
    ("baseline.charging", "baseline.plugs", "an engine with its plugs out does not run"),
    ("strip.broken_stud", "fuel.pump", "no heat, flame or arc at the studs beside an open tank"),
    ("strip.broken_stud", "fuel.lines", "no heat, flame or arc at the studs beside an open fuel joint"),
    ("strip.broken_stud", "fuel.injectors", "no heat, flame or arc at the studs beside an open rail"),
    ("baseline.codes", "baseline.road", "a stone-cold engine is to be had once a day"),
    ("baseline.oil_cold", "baseline.road", "a stone-cold engine is to be had once a day"),
    ("baseline.running_gear", "baseline.full_load", "brakes and tyres are looked at before full load"),
    ("baseline.oil_pressure", "baseline.full_load", "oil pressure is known before full load"),
    ("decide.dry_fit", "strip.stands", "a missing fitting is found before the car is apart"),
    ("decide.save_settings", "battery.out", "codes and learned values go with the battery's current"),
    ("decide.save_settings", "strip.battery_off", "codes and learned values go with the battery's current"),
    (
        "strip.ports_shut",
        "turbo.trial_fit",
        "nothing falls into a port while parts are held against the head",
    ),
    ("turbo.gate", "turbo.on", "the gate is measured where the actuator can be reached"),
    ("turbo.bench", "turbo.on", "housings are turned on the bench, not against a tight flange"),
    ("turbo.feed", "prove.prime", "the banjo is tightened after priming, not before"),
    ("oil.fill", "prove.prime", "priming with an empty sump is none"),
    ("prove.prime", "prove.crank", "the bearing is wet before the crank turns"),
    ("prove.crank", "prove.plugs_in", "the starter spins freely and hot bearings are spared"),
    ("prove.charge_leak", "charge.filter", "the test cap sits where the inlet hose goes"),
    ("charge.gate_hose", "prove.charge_leak", "the gate's hose is part of what is tested"),
    ("breathing.small_lines", "prove.charge_leak", "the small lines are part of what is tested"),
    ("control.lambda", "prove.exhaust_leak", "an open sensor hole hides every other leak"),
    ("fuel.timed_flow", "prove.fuel_dry", "the joint opened for the flow test is proven after it"),
    ("control.two_point", "run.first_fire", "fuel follows the pressure sensor from the first turn"),
    ("control.earths", "run.first_fire", "a lifted ground is a wrong load from the first turn"),
    ("prove.car", "run.first_fire", "nobody starts a car that stands on stands"),
    ("breathing.servo", "prove.car", "the servo's line is on before the pedal is tried"),
    ("run.timing", "run.warm_up", "a timing error is found before heat is made with it"),
    ("run.tighten_again", "run.first_drive", "the joints have settled in the first heat"),
    ("run.read_log", "run.cut_test", "the vacuum part of the map is right before anything more"),
    ("run.cut_test", "run.pull_low", "a cut that nobody has seen cut is no cut"),
    ("run.pull_high", "run.plugs", "specks show before the full pull, not after"),
    ("run.plugs", "run.full_pull", "specks show before the full pull, not after"),
    ("run.heat_soak", "run.release", "knock shows on the third pull"),
    ("run.release", "run.more_boost", "more is a new step with its own card"),
    ("battery.earth", "fuel.pump_wiring", "the pump's current needs a proven way back"),
    ("decide.flow_data", "control.settings", "no table is loaded for injectors nobody has measured"),
)


def everything() -> dict[str, Task]:
    with forced(ALL):
        return {task.key: task for task in tasks_for(demo_build("sound"))}


TASKS = everything()


@check("common practice", note="each order with its reason; from memory of the trade")
@pytest.mark.parametrize(("first", "then", "reason"), ORDERS, ids=lambda value: str(value)[:40])
def test_this_comes_before_that(first: str, then: str, reason: str) -> None:
    far = ancestors({key: task.after for key, task in TASKS.items()})
    assert first in far[then], reason


@check(
    "common practice",
    note="waits with nobody at work: cure of sealant 2 to 24 h, soak 12 h, cooling 1 to 8 h",
)
@pytest.mark.parametrize(
    ("task", "after", "least", "most"),
    [
        ("oil.fill", "oil.sump_on", 2.0, 24.0),
        ("strip.nuts", "baseline.soak", 8.0, 24.0),
        ("strip.fuel_pressure_off", "battery.hot_joints", 6.0, 12.0),
        ("run.tighten_again", "run.warm_up", 1.0, 6.0),
        ("run.plugs", "run.pull_high", 0.5, 2.0),
        ("baseline.plugs", "baseline.full_load", 0.5, 2.0),
    ],
)
def test_waits_are_waits_and_not_work(task: str, after: str, least: float, most: float) -> None:
    lags = {lag.task: lag.seconds / 3600.0 for lag in TASKS[task].lags}
    assert least <= lags[after] <= most


@check("common practice", note="fabric wrap hides leaks and holds oil until the last round with the wrench")
def test_nothing_is_wrapped_before_the_last_round() -> None:
    for task in TASKS.values():
        for need in task.needs:
            assert "wrap" not in need.item, task.key
    assert "wrap" in TASKS["run.tighten_500"].words
    assert "No fabric wrap" in TASKS["turbo.shields"].words


@check("common practice", note="the auditor is not the person who tightened")
def test_the_audit_is_not_by_the_one_who_tightened() -> None:
    audit = TASKS["prove.audit"]
    assert audit.hold is not None
    assert audit.hold.witness
    for key in ("turbo.manifold_on", "turbo.on", "turbo.down_pipe", "oil.tee", "charge.gate_hose"):
        assert TASKS[key].crew[0] != audit.crew[0]


ALONE_NEVER = (
    "fuel.",
    "run.first",
    "run.pull",
    "run.cut_test",
    "run.full_pull",
    "run.heat_soak",
    "run.endurance",
)


@check("common practice", note="fuel, brakes, starting and driving: never alone, never after a long day")
def test_fuel_brakes_starts_and_drives_are_critical() -> None:
    for key, task in TASKS.items():
        touches = {"fuel_open", "brake_servo_open"} & {*task.opens, *task.closes}
        meter_only = key == "fuel.ohms"  # a meter on a plug: no joint is opened
        if (touches or task.place == "road" or key.startswith(ALONE_NEVER)) and not meter_only:
            assert task.critical, key


STEPS = (
    "key-on cranking cranking-timing first-fire timing-truth warm-up first-retorque blips first-drive"
    " cut-test pull-low pull-middle pull-high plug-look full-pull heat-soak endurance release more-boost"
)


def test_each_commissioning_step_is_one_task_and_they_come_in_their_order() -> None:
    steps = tuple(STEPS.split())
    by_step = {task.step: task.key for task in TASKS.values() if task.step}
    assert tuple(by_step) == steps
    far = ancestors({key: task.after for key, task in TASKS.items()})
    for earlier, later in pairwise(steps):
        assert by_step[earlier] in far[by_step[later]], later

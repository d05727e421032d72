"""What in the build file brings a task in, and what leaves it out, with the words that say so."""

from __future__ import annotations

from dataclasses import replace

import pytest

from boostwright.findings.judge import sort_findings
from boostwright.findings.model import Amount, Kind, Phrase, Verdict
from boostwright.findings.result import CheckResult
from boostwright.planning.tasks import left_out_for, tasks_for
from boostwright.verbs import demo_build
from tests.planning.tasks.builds import changed
from tests.sample import result as sample


def keys(fields: dict[str, str | None], result: CheckResult | None = None) -> set[str]:
    return {task.key for task in tasks_for(changed(fields), result)}


BATTERY_WORDS = "place out tray cable lugs fuse earth insulation first_start hot_joints"
BATTERY = {f"battery.{word}" for word in BATTERY_WORDS.split()}

CASES: tuple[tuple[dict[str, str | None], set[str], set[str]], ...] = (
    ({"battery.position": '"boot"', "battery.cable_length": '"5 m"'}, BATTERY, set()),
    ({"battery.position": '"cabin"', "battery.cable_length": '"5 m"'}, BATTERY, set()),
    ({"battery.position": '"bay"'}, set(), BATTERY),
    ({}, {"strip.sump", "oil.mark", "oil.drill", "oil.bung", "oil.sump_on"}, {"oil.drill_in_place"}),
    ({"oil.sump_entry": '"welded"'}, {"oil.bung"}, {"oil.bung_screwed"}),
    ({"oil.sump_entry": '"screwed"'}, {"oil.bung_screwed", "strip.sump"}, {"oil.bung"}),
    (
        {"oil.sump_entry": '"there"'},
        {"turbo.drain"},
        {"strip.sump", "oil.mark", "oil.drill", "oil.bung", "oil.wash", "oil.sump_on", "oil.drill_in_place"},
    ),
    (
        {"oil.sump_entry": '"in-place"'},
        {"oil.mark", "oil.drill_in_place"},
        {"strip.sump", "oil.drill", "oil.sump_on"},
    ),
    ({"oil.relief_shim": '"1 mm"'}, {"oil.relief_measure", "oil.relief_shim"}, set()),
    ({"oil.relief_shim": '"0 mm"'}, set(), {"oil.relief_measure", "oil.relief_shim"}),
    ({"oil.cooler": "true"}, {"oil.cooler"}, set()),
    (
        {"turbo.water_cooled": "true"},
        {"strip.coolant_out", "turbo.coolant_lines", "prove.coolant"},
        set(),
    ),
    (
        {"turbo.water_cooled": "false"},
        set(),
        {"strip.coolant_out", "turbo.coolant_lines", "prove.coolant"},
    ),
    (
        {"cooler.type": '"none"'},
        set(),
        {"charge.cooler", "charge.cooler_wash", "strip.front", "run.front_on"},
    ),
    ({"cooler.type": '"water"'}, {"charge.water_circuit", "strip.front"}, set()),
    ({"cooler.position": '"top"'}, {"charge.cooler"}, {"strip.front", "run.front_on"}),
    ({"wastegate.control": '"spring"'}, set(), {"charge.gate_valve", "run.more_boost"}),
    ({"wastegate.control": '"bleed"'}, {"charge.gate_valve", "run.more_boost"}, set()),
    ({"wastegate.spring": '"0.6 bar"'}, set(), {"run.more_boost"}),
    ({"wastegate.type": '"external"'}, {"turbo.gate_on"}, set()),
    ({"blow_off.fitted": "false"}, set(), {"charge.blow_off"}),
    ({"breather.outlet": '"can"'}, {"breathing.can"}, set()),
    ({"breather.outlet": '"inlet"'}, set(), {"breathing.can"}),
    ({"breather.one_way_valve": "false"}, set(), {"breathing.one_way"}),
    ({"breather.one_way_valve": None}, {"breathing.one_way"}, set()),
    ({"regulator.reference": '"atmosphere"'}, set(), {"fuel.regulator"}),
    ({"pump.fitted": '"own"'}, set(), {"fuel.pump"}),
    ({"pump.fitted": '"changed"'}, {"fuel.pump"}, set()),
    ({"pump.relay": "false"}, set(), {"fuel.pump_wiring"}),
    ({"injectors.condition": '"new"'}, {"fuel.injectors"}, set()),
    (
        {"injectors.condition": '"used"', "baseline.injector_flow": '"430 cc/min"'},
        {"fuel.ohms"},
        {"fuel.injectors"},
    ),
    (
        {"injectors.condition": '"cleaned"', "baseline.injector_flow": '"430 cc/min"'},
        {"fuel.injectors"},
        set(),
    ),
    ({"injectors.condition": '"used"', "baseline.injector_flow": '"210 cc/min"'}, {"fuel.injectors"}, set()),
    ({"car.brake_fluid_date": None}, {"baseline.brake_fluid"}, set()),
)


def named(value: object) -> str:
    """The same name in every process: a set has no order of its own."""
    return str(sorted(value) if isinstance(value, set) else value)[:60]


@pytest.mark.parametrize(("fields", "there", "gone"), CASES, ids=named)
def test_a_field_brings_its_tasks_in_or_leaves_them_out(
    fields: dict[str, str | None], there: set[str], gone: set[str]
) -> None:
    found = keys(fields)
    assert there <= found
    assert not gone & found


@pytest.mark.parametrize(("fields", "there", "gone"), CASES, ids=named)
def test_the_reason_names_a_field_of_the_file(
    fields: dict[str, str | None], there: set[str], gone: set[str]
) -> None:
    build = changed(fields)
    why = {task.key: task.why for task in tasks_for(build)} | {
        out.key: out.because for out in left_out_for(build)
    }
    sections = {path.partition(".")[0] for path in fields} or {"oil"}
    for key in (there | gone) - {"fuel.ohms", "turbo.drain"}:
        assert any(f"{section}." in why[key] for section in sections | {"cooler", "wastegate"}), why[key]


LADDER_WORDS = (
    "first_fire timing warm_up tighten_again blips first_drive cut_test pull_low pull_middle pull_high"
    " plugs full_pull heat_soak endurance release"
)
LADDER = {f"run.{word}" for word in LADDER_WORDS.split()}


@pytest.mark.parametrize("name", ["sound", "planted", "highland"])
def test_the_ladder_is_never_left_out(name: str) -> None:
    assert {task.key for task in tasks_for(demo_build(name))} >= LADDER


def with_finding(code: str, verdict: Verdict, **amounts: Amount) -> CheckResult:
    """The sample result with one finding more: its verdict and the amounts of its cause set by hand."""
    base = sample()
    one = replace(base.findings[0], code=code, verdict=verdict, cause=Phrase("", amounts))
    others = [finding for finding in base.findings if finding.code != code]
    return replace(base, findings=tuple(sort_findings([*others, one])))


def why_of(key: str, fields: dict[str, str | None], result: CheckResult) -> str:
    return next((task.why for task in tasks_for(changed(fields), result) if task.key == key), "")


def test_a_thin_feed_brings_the_wires_in_with_the_voltage_that_the_pump_sees() -> None:
    seen = Amount(11.94, 0.1, Kind.VOLTAGE)
    result = with_finding("electrics.pump_feed", Verdict.BREAKS, volts=seen)
    why = why_of("fuel.pump_wiring", {"pump.relay": "false"}, result)
    assert why == "the pump sees 11.9 V: electrics.pump_feed breaks"
    assert "fuel.pump_wiring" not in keys({"pump.relay": "false"})


def test_a_shim_that_would_help_nothing_is_left_out() -> None:
    result = with_finding("oil.shim_need", Verdict.BREAKS)
    assert "oil.relief_shim" not in keys({"oil.relief_shim": '"1 mm"'}, result)
    gone = {out.key: out.because for out in left_out_for(changed({"oil.relief_shim": '"1 mm"'}), result)}
    assert "oil.shim_need breaks" in gone["oil.relief_shim"]


def test_a_pump_that_gives_too_little_is_changed_although_it_should_stay() -> None:
    result = with_finding("fuel.pump_flow", Verdict.BREAKS)
    assert "fuel.pump_flow breaks" in why_of("fuel.pump", {"pump.fitted": '"own"'}, result)


def test_old_brake_fluid_is_renewed_before_boost() -> None:
    assert "brakes.fluid" in why_of("baseline.brake_fluid", {}, with_finding("brakes.fluid", Verdict.TIGHT))


def test_what_the_check_says_against_a_task_stands_beside_it() -> None:
    result = with_finding("sensor.range", Verdict.BREAKS)
    tasks = {task.key: task for task in tasks_for(changed({}), result)}
    assert any("sensor.range breaks" in text for text in tasks["control.pressure_sensor"].amounts)
    held = {task.key: task for task in tasks_for(changed({}), with_finding("sensor.range", Verdict.HOLDS))}
    assert not any("sensor.range" in text for text in held["control.pressure_sensor"].amounts)

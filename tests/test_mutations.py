"""One fault planted in a sound build: the finding that belongs to it must see it. Few speeds."""

from __future__ import annotations

import re

import numpy as np
import pytest

from boostwright.findings.model import Finding, Verdict
from boostwright.findings.result import CheckResult
from boostwright.library import read_text
from boostwright.verbs import check
from tests.mutation_builds import with_its_map

SPEEDS = np.array([1500.0, 2500.0, 3500.0, 6000.0]) * np.pi / 30
SOUND = read_text("builds/sound.toml")

# section, field, what to write instead (None takes the line out), finding that must see it, verdicts that
# count
FAULTS = [
    ("injectors", "flow", '"190 cc/min"', "fuel.injector_duty", {Verdict.BREAKS}),
    ("pump", "flow", '"60 L/h"', "fuel.pump_flow", {Verdict.BREAKS}),
    ("pressure_sensor", "highest", '"110 kPa"', "sensor.range", {Verdict.BREAKS}),
    ("pressure_sensor", "highest", None, "sensor.range", {Verdict.UNKNOWN}),
    ("turbo", "compressor_inducer", '"60 mm"\ncompressor_exducer = "80 mm"', "turbo.surge", {Verdict.BREAKS}),
    ("goal", "boost_by", '"1800 rpm"', "boost.arrival", {Verdict.BREAKS}),
    ("goal", "power", '"230 kW"', "goal.power", {Verdict.BREAKS}),
    ("wastegate", "spring", '"0.8 bar"', "boost.spring", {Verdict.BREAKS}),
    ("pressure_sensor", "highest", '"150 kPa"', "sensor.cut", {Verdict.BREAKS}),
    ("controller", "boost_cut", '"136 kPa"', "boost.cut", {Verdict.BREAKS}),
    ("goal", "boost", '"1.3 bar"', "strength.peak_pressure", {Verdict.BREAKS}),
    ("goal", "boost", '"1.3 bar"', "knock.half_burned", {Verdict.BREAKS}),
    ("cooler", "effectiveness", '"9 %"', "charge.cooler_sizes", {Verdict.BREAKS}),
    ("controller", "timing_error", '"11 deg"', "controller.timing", {Verdict.BREAKS}),
    ("manifold", "material", '"mild-steel"', "exhaust.manifold", {Verdict.BREAKS}),
    ("manifold", "material", None, "exhaust.manifold", {Verdict.UNKNOWN, Verdict.HOLDS}),
    ("engine", "leak_down", '"6 27 7 6 %"', "engine.leak_down", {Verdict.BREAKS}),
    ("engine", "oil_pressure_idle", '"0.4 bar"', "engine.oil_idle", {Verdict.BREAKS}),
    ("engine", "leak_down", None, "engine.condition", {Verdict.UNKNOWN}),
]  # fmt: skip


def changed(section: str, field: str, value: str | None) -> str:
    """The sound build with one line changed or taken out."""
    head = re.search(rf"^\[{section}\]$", SOUND, re.MULTILINE)
    assert head
    rest = SOUND[head.end() :]
    line = re.search(rf"^{field} = .*$\n", rest, re.MULTILINE)
    assert line, f"{section}.{field} is not in the sound build"
    new = "" if value is None else f"{field} = {value}\n"
    made = SOUND[: head.end()] + rest[: line.start()] + new + rest[line.end() :]
    if field == "compressor_inducer":  # the exducer came with it
        made = re.sub(r'^compressor_exducer = "54.*$\n', "", made, flags=re.MULTILINE)
        made = re.sub(r"^compressor_map = .*$\n", "", made, flags=re.MULTILINE)  # it was of another wheel
    if (section, field) == ("goal", "boost"):  # a cut below the wish is another fault
        made = re.sub(r"^boost_cut = .*$\n", "", made, flags=re.MULTILINE)
    return made


def judged(text: str) -> CheckResult:
    return check(with_its_map(text), speeds=SPEEDS)


def of(result: CheckResult, code: str) -> Finding | None:
    return next((f for f in result.findings if f.code == code), None)


@pytest.fixture(scope="module")
def sound() -> CheckResult:
    return judged(SOUND)


def test_the_sound_build_has_no_break_and_nothing_unknown(sound: CheckResult) -> None:
    assert sound.of(Verdict.BREAKS) == ()
    assert sound.of(Verdict.UNKNOWN) == ()


@pytest.mark.parametrize(("section", "field", "value", "code", "verdicts"), FAULTS)
def test_a_planted_fault_is_found(
    section: str, field: str, value: str | None, code: str, verdicts: set[Verdict], sound: CheckResult
) -> None:
    result = judged(changed(section, field, value))
    found = of(result, code)
    assert found is not None
    assert found.verdict in verdicts, f"{code}: {found.verdict.value}, probability {found.probability}"
    before = of(sound, code)
    if before is not None and found.probability is not None and before.probability is not None:
        assert found.probability < before.probability


def test_a_rail_that_ignores_boost_is_seen(sound: CheckResult) -> None:
    result = judged(changed("regulator", "reference", '"atmosphere"'))
    before, after = of(sound, "fuel.injector_duty"), of(result, "fuel.injector_duty")
    assert before is not None
    assert after is not None
    assert before.demand is not None
    assert after.demand is not None
    assert after.demand.value > 1.05 * before.demand.value


def test_thin_air_asks_more_of_the_compressor(sound: CheckResult) -> None:
    high = judged(changed("place", "altitude", '"1750 m"'))
    before, after = of(sound, "turbo.tip_speed"), of(high, "turbo.tip_speed")
    assert before is not None
    assert after is not None
    assert before.demand is not None
    assert after.demand is not None
    assert after.demand.value > before.demand.value


def test_better_fuel_and_a_better_cooler_help_against_knock(sound: CheckResult) -> None:
    base = of(sound, "knock.half_burned")
    assert base is not None
    assert base.demand is not None
    worse = judged(changed("fuel", "octane", '"95 RON"'))
    sizes = r"^(width|height|depth) = .*$\n"  # without them the stated effectiveness is what counts
    poor = re.sub(sizes, "", changed("cooler", "effectiveness", '"30 %"'), flags=re.MULTILINE)
    warm = judged(poor)
    for other in (worse, warm):
        found = of(other, "knock.half_burned")
        assert found is not None
        assert found.demand is not None
        assert found.demand.value > base.demand.value

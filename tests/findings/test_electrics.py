"""Battery, fuse, cable, pump wiring, sensor ground: by hand, remedies at their word, one fault each."""

from __future__ import annotations

import re

import pytest

from boostwright.build.document import Build
from boostwright.errors import BuildFileError
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.registry import find_all
from boostwright.library.electrics import electric_constant
from boostwright.library.fuses import fuse_type
from boostwright.systems.electrics import Fuse, Pulse, cold_current, start_use
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check

BOOT = {
    "position": '"boot"',
    "cable_area": '{ value = "70 mm2", source = "measured" }',
    "cable_length": '{ value = "4.5 m", source = "measured" }',
    "cable_cover": '"cross_linked_125"',
    "cranking_current": '{ value = "190 A", source = "measured" }',
    "fuse": '"225 A"',
    "fuse_distance": '{ value = "150 mm", source = "measured" }',
    "vented": "true",
    "mass": '{ value = "15 kg", source = "measured" }',
    "hold_down": '"plates"',
    "hold_points": "4",
}
COLD = '\n[[corners]]\nname = "frost"\ntemperature = "-12 degC"\n'
CODES = ("fuse_start", "fuse_cable", "fuse_distance", "cranking_drop", "venting", "hold_down")


def boot(rest: str = COLD, **changes: str | None) -> Build:
    """A battery in the boot with all stated, some of it changed or left out."""
    lines = {k: v for k, v in {**BOOT, **changes}.items() if v is not None}
    return build(rest="[battery]\n" + "\n".join(f"{k} = {v}" for k, v in lines.items()) + "\n" + rest)


def of(code: str, document: Build) -> Finding:
    return found(f"electrics.{code}", case(document))


# ---------------------------------------------------------------------------------------------- who is asked


def test_a_battery_in_its_place_is_asked_nothing() -> None:
    assert not [f for f in find_all(case()) if f.code.startswith("electrics.")]


def test_a_battery_that_moved_without_a_word_is_one_question() -> None:
    some = [f for f in find_all(case(build(rest='[battery]\nposition = "boot"'))) if "electrics" in f.code]
    assert [f.code for f in some] == ["electrics.battery"]
    assert some[0].verdict is Verdict.UNKNOWN
    for word in ("section", "length", "fuse", "tube", "ties it down"):
        assert word in fill(some[0].cause)


@pytest.mark.parametrize(
    "left_out", ["cable_area", "cable_length", "fuse", "fuse_distance", "vented", "hold_down"]
)
def test_what_is_missing_is_named_alone(left_out: str) -> None:
    one = of("battery", boot(**{left_out: None}))
    assert one.verdict is Verdict.UNKNOWN
    assert f"battery.{left_out}" in one.about
    assert sum(f"battery.{name}" in one.about for name in BOOT) == 2  # itself and the position


@pytest.mark.parametrize(
    ("text", "code", "word"),
    [
        ('[battery]\ncable_area = "35 mm2"', "battery", "length"),
        ('[battery]\ncable_length = "1 m"', "battery", "section"),
        ('[pump]\ncable_area = "4 mm2"', "pump_feed", "length"),
        ("[pump]\nrelay = true", "pump_feed", "section and length"),
        ('[pump]\nfuse = "15 A"', "pump_feed", "section and length"),
    ],
)
def test_what_is_half_told_is_a_question_and_no_silence(text: str, code: str, word: str) -> None:
    one = of(code, build(rest=text))
    assert one.verdict is Verdict.UNKNOWN
    assert word in fill(one.cause)


def test_a_sound_move_holds_everywhere() -> None:
    assert maybe("electrics.battery", case(boot())) is None
    assert maybe("electrics.fuse", case(boot())) is None
    told = {code: of(code, boot()).verdict for code in CODES}
    assert told == dict.fromkeys(CODES, Verdict.HOLDS)


# ------------------------------------------------------------------------------------------- one fault each

FAULTS = [
    ({"cable_area": '"16 mm2"'}, "cranking_drop"),
    ({"cable_length": '"11 m"', "cable_area": '"35 mm2"'}, "cranking_drop"),
    ({"cranking_current": '"420 A"'}, "cranking_drop"),
    ({"fuse": '"100 A"'}, "fuse_start"),
    ({"fuse": '"40 A"', "fuse_type": '"blade"'}, "fuse_start"),
    ({"fuse": '"500 A"'}, "fuse_cable"),
    ({"cable_area": '"10 mm2"', "cable_cover": '"pvc_70"'}, "fuse_cable"),
    ({"fuse_distance": '"900 mm"'}, "fuse_distance"),
    ({"vented": "false"}, "venting"),
    ({"hold_down": '"strap"', "hold_points": "1"}, "hold_down"),
    ({"hold_down": '"screws"'}, "hold_down"),
    ({"hold_down": '"none"'}, "hold_down"),
    ({"fuse": None, "fuse_distance": None, "fused": "false"}, "fuse"),
]


@pytest.mark.parametrize(("changes", "code"), FAULTS, ids=[f"{c}-{i}" for i, (_, c) in enumerate(FAULTS)])
def test_a_fault_breaks_its_own_finding_and_its_remedy_says_a_number(
    changes: dict[str, str], code: str
) -> None:
    one = of(code, boot(**changes))
    assert one.verdict is Verdict.BREAKS
    assert re.search(r"\d", fill(one.remedy))
    assert one.cautions


def test_a_missing_fuse_is_not_asked_for_its_rating() -> None:
    none = boot(fuse=None, fuse_distance=None, fused="false")
    assert maybe("electrics.battery", case(none)) is None
    assert maybe("electrics.fuse_start", case(none)) is None
    assert maybe("electrics.fuse_cable", case(none)) is None


# ---------------------------------------------------------------------------------------------- arithmetic


@check(
    "limit",
    id="P13",
    note="190 A over 4.5 m of 70 mm2 at 60 degC, clamp, lugs, fuse, joints of the body: 0.588 V",
)
def test_cranking_drop_by_hand() -> None:
    one = of("cranking_drop", boot())
    cable = 0.272e-3 * 4.5 * (1 + 0.00393 * 40.0)
    feed = cable + 0.10e-3 + 4 * 0.05e-3 + 0.35e-3
    back = 0.10e-3 + 4 * 0.05e-3 + 3 * 0.15e-3 + 0.3e-3
    assert one.demand is not None
    assert one.demand.value == pytest.approx(190.0 * (feed + back), rel=1e-6)
    assert one.cause.amounts["feed"].value == pytest.approx(190.0 * feed, rel=1e-6)


@check("limit", id="P14", note="15 kg at 20 g are 2.94 kN; half of four points of 8 kN stand 16 kN; exact")
def test_hold_down_by_hand() -> None:
    one = of("hold_down", boot())
    assert one.capacity is not None
    assert one.demand is not None
    assert one.capacity.value == pytest.approx(15 * 20 * 9.80665)
    assert one.demand.value == pytest.approx(16e3)


@pytest.mark.parametrize("area", ["16 mm2", "25 mm2", "35 mm2"])
def test_the_section_of_the_remedy_holds(area: str) -> None:
    thin = boot(cable_area=f'"{area}"')
    one = of("cranking_drop", thin)
    section = one.remedy.amounts["section"].value
    again = of(
        "cranking_drop", boot(cable_area=f'{{ value = "{section * 1e6:g} mm2", source = "measured" }}')
    )
    assert again.verdict is Verdict.HOLDS


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("fuse_start", {"fuse": '"125 A"', "cable_area": '"25 mm2"'}),
        ("fuse_cable", {"fuse": '"400 A"', "cable_area": '"35 mm2"', "cable_cover": '"pvc_85"'}),
        ("fuse", {"fuse": None, "fused": "false", "cable_area": '"16 mm2"'}),
    ],
)
def test_the_pair_of_the_remedy_lives_and_saves(code: str, changes: dict[str, str | None]) -> None:
    amounts = of(code, boot(**changes)).remedy.amounts
    now = {
        "fuse": f'"{amounts["rating"].value:g} A"',
        "cable_area": f'{{ value = "{amounts["section"].value * 1e6:g} mm2", source = "measured" }}',
        "fused": "true",
    }
    after = boot(**{**changes, **now})
    assert of("fuse_start", after).verdict is Verdict.HOLDS
    assert of("fuse_cable", after).verdict is Verdict.HOLDS


def test_a_blade_fuse_cannot_break_a_dead_short_of_a_battery() -> None:
    blade, bolted = (
        of("fuse_cable", boot(fuse='"40 A"', fuse_type=f'"{kind}"')) for kind in ("blade", "bolted")
    )
    assert any("can break" in fill(note) for note in blade.notes)
    assert not any("can break" in fill(note) for note in bolted.notes)


def test_a_rating_that_no_fuse_of_its_type_has_is_to_be_read_again() -> None:
    one = of("fuse_start", boot(fuse='"225 A"', fuse_type='"blade"'))
    assert "no fuse of this type is sold above" in fill(one.remedy)
    assert fill(of("fuse_start", boot()).remedy).startswith("Keep 225")


def test_a_colder_morning_uses_more_of_the_fuse() -> None:
    def used(T: float) -> float:
        corner = f'\n[[corners]]\nname = "frost"\ntemperature = "{T} degC"\n'
        demand = of("fuse_start", boot(corner, fuse='"150 A"')).demand
        assert demand is not None
        return demand.value

    assert used(-30.0) > used(-10.0)


@check(
    "common practice",
    note="a cold engine's current is known to 30 % of its rise, and a stubborn start to a second: one of each"
    " takes a fuse past what it may use, so it is no sure hold",
)
def test_how_long_and_how_hard_it_cranks_is_not_known_for_sure() -> None:
    document = boot(fuse='"200 A"')
    one = of("fuse_start", document)
    assert one.demand is not None
    assert one.capacity is not None
    slope, time = (electric_constant("start", name) for name in ("cold", "cold_time"))
    frost = 273.15 - 12.0
    fuse = Fuse(fuse_type("bolted").gates, 200.0)
    current = cold_current(190.0, frost, slope.value + slope.sd)
    drawn_out = start_use(fuse, (Pulse(current, time.value + time.sd),), frost, 0.0)
    assert drawn_out > one.capacity.value
    assert one.demand.sd is not None
    assert one.demand.value + 1.3 * one.demand.sd > one.capacity.value
    assert one.verdict is Verdict.TIGHT


def test_a_cable_under_carpet_is_saved_by_a_smaller_fuse() -> None:
    free, carpet = (of("fuse_cable", boot(cable_lie=f'"{lie}"')).capacity for lie in ("free", "under_carpet"))
    assert free is not None
    assert carpet is not None
    assert carpet.value <= free.value


# ----------------------------------------------------------------------------------------- pump and sensor

PUMP = """
[pump]
source = "measured"
cable_area = "{area} mm2"
cable_length = "5 m"
relay = {relay}
earth = "cable"
connectors = 1
"""


def pump(area: float, relay: str = "true", more: str = 'current = "8 A"') -> Build:
    return build(rest=PUMP.format(area=area, relay=relay) + more)


@pytest.mark.parametrize(
    ("area", "relay", "verdict"),
    [(6, "true", Verdict.HOLDS), (1, "true", Verdict.BREAKS), (2.5, "false", Verdict.BREAKS)],
)
def test_pump_feed(area: float, relay: str, verdict: Verdict) -> None:
    assert maybe("electrics.pump_feed", case()) is None
    assert of("pump_feed", pump(area, relay)).verdict is verdict


def test_the_wire_of_the_remedy_holds() -> None:
    one = of("pump_feed", pump(1.5))
    assert of("pump_feed", pump(one.remedy.amounts["section"].value * 1e6)).verdict is Verdict.HOLDS


@pytest.mark.parametrize("earth", ["body", "cable"])
@pytest.mark.parametrize("plugs", [1, 4])
@pytest.mark.parametrize("relay", ["true", "false"])
@pytest.mark.parametrize("amps", [8, 15])
def test_a_wire_that_is_named_is_enough_with_its_joints(
    amps: int, relay: str, plugs: int, earth: str
) -> None:
    def wired(area: float) -> Build:
        text = PUMP.format(area=f"{area:g}", relay=relay).replace('"cable"', f'"{earth}"')
        return build(rest=text.replace("connectors = 1", f"connectors = {plugs}") + f'current = "{amps} A"')

    one = of("pump_feed", wired(1.5))
    assert one.verdict is not Verdict.HOLDS
    section = one.remedy.amounts.get("section")
    if section is None:  # joints
        assert "wire alone does not do it" in fill(one.remedy)
        assert of("pump_feed", wired(35.0)).verdict is not Verdict.HOLDS
    else:
        assert of("pump_feed", wired(1e6 * section.value)).verdict is Verdict.HOLDS


def test_thin_wires_take_the_pumps_flow() -> None:
    def delivers(area: float) -> float:
        capacity = found("fuel.pump_flow", case(pump(area))).capacity
        assert capacity is not None
        return capacity.value

    assert delivers(0.75) < 0.95 * delivers(6.0)


def test_a_reading_that_the_wires_do_not_account_for_is_said() -> None:
    far, near = (of("pump_feed", pump(6, more=f'current = "8 A"\nvoltage = "{v} V"')) for v in (11.9, 13.2))
    assert "less than these wires" in fill(far.notes[0])
    assert not near.notes


def test_wires_that_cannot_feed_the_pump_leave_it_nothing() -> None:
    starved = pump(0.3, more='current = "60 A"')
    one = of("pump_feed", starved)
    assert one.verdict is Verdict.BREAKS
    assert one.cause.amounts["volts"].value == 0.0
    assert one.remedy.amounts["most"].value > 0.3
    delivered = found("fuel.pump_flow", case(starved)).capacity
    assert delivered is not None
    assert delivered.value < 0.01 / 3.6e6  # a drop: 10 mL/h


@pytest.mark.parametrize(
    ("fuse", "load", "wire"),
    [
        (15, Verdict.HOLDS, Verdict.HOLDS),
        (7.5, Verdict.BREAKS, Verdict.HOLDS),
        (60, Verdict.HOLDS, Verdict.BREAKS),
    ],
)
def test_fuse_of_the_pump_between_its_current_and_its_wire(fuse: float, load: Verdict, wire: Verdict) -> None:
    fused = pump(4, more=f'current = "8 A"\nfuse = "{fuse} A"')
    assert of("pump_fuse", fused).verdict is load
    assert of("pump_wire", fused).verdict is wire
    assert maybe("electrics.pump_fuse", case(pump(4))) is None
    assert maybe("electrics.pump_wire", case(pump(4))) is None


def test_fuse_and_wire_of_the_remedies_hold() -> None:
    small = of("pump_fuse", pump(4, more='current = "11 A"\nfuse = "10 A"'))
    fit = small.remedy.amounts["fit"].value
    assert of("pump_fuse", pump(4, more=f'current = "11 A"\nfuse = "{fit:g} A"')).verdict is Verdict.HOLDS
    large = of("pump_wire", pump(1.5, more='fuse = "40 A"'))
    section = large.remedy.amounts["section"].value * 1e6
    assert of("pump_wire", pump(section, more='fuse = "40 A"')).verdict is Verdict.HOLDS


def test_a_reading_at_the_pump_goes_before_its_wires_and_is_told() -> None:
    both = pump(1, more='current = "8 A"\nvoltage = "13.2 V"')
    assert "13.2" in fill(of("pump_feed", both).cause)
    assert found("fuel.pump_flow", case(both)).cause.amounts["volts"].value == pytest.approx(13.2)


SENSOR = """
[pressure_sensor]
source = "measured"
highest = "250 kPa"
lowest = "20 kPa"
ground_offset = "{mV} mV"
"""


@check("limit", id="M4", note="230 kPa over 4.25 V: 1.5 kPa are 27.7 mV; exact")
def test_ground_of_the_sensor_by_hand() -> None:
    one = of("sensor_ground", build(rest=SENSOR.format(mV=10)))
    assert one.capacity is not None
    assert one.capacity.value == pytest.approx(1.5e3 / (230e3 / 4.25))
    assert one.verdict is Verdict.HOLDS


@pytest.mark.parametrize("mV", [60, -60])
def test_a_bad_ground_breaks_on_either_side(mV: int) -> None:
    assert of("sensor_ground", build(rest=SENSOR.format(mV=mV))).verdict is Verdict.BREAKS
    assert maybe("electrics.sensor_ground", case()) is None


@pytest.mark.parametrize("end", ['lowest = "4.65 V"', 'lowest = "5 V"', 'highest = "0.40 V"'])
def test_one_end_of_a_signal_beyond_the_usual_other_one_keeps_their_distance(end: str) -> None:
    usual = of("sensor_ground", build(rest=SENSOR.format(mV=10))).capacity
    moved = of("sensor_ground", build(rest=SENSOR.format(mV=10) + f"voltage_{end}\n")).capacity
    assert usual is not None
    assert moved is not None
    assert moved.value == pytest.approx(usual.value)


def test_a_signal_that_stands_still_is_refused() -> None:
    flat = SENSOR.format(mV=10) + 'voltage_lowest = "2 V"\nvoltage_highest = "2 V"\n'
    with pytest.raises(BuildFileError, match=r"line \d+.*voltage_lowest"):
        build(rest=flat)

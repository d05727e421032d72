"""Joints: halves that mate, what seals them, what they stand, whether they were tried; and the refusals."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from boostwright.errors import BuildFileError
from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.joint_case import answers_of, duty_of
from boostwright.findings.joint_graph import drawn_joints, open_ends
from boostwright.findings.joint_ratings import Check, checks_of
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.worst import lines
from boostwright.systems.joints import Carried
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check


def joint(a: str, b: str, seal: str = "", carries: str = "oil", more: str = "", name: str = "feed") -> str:
    """One joint as a table."""
    sealed = f'seal = "{seal}"\n' if seal else ""
    carried = f'carries = "{carries}"\n' if carries else ""
    return f'[[joints]]\nname = "{name}"\nfrom = "{a}"\nto = "{b}"\n{sealed}{carried}{more}\n'


def port(name: str, half: str, more: str = "") -> str:
    return f'[[ports]]\nname = "{name}"\nhalf = "{half}"\n{more}\n'


def of(*tables: str, fuel: str = "", engine: str = "") -> Case:
    return case(build(rest="".join(tables), fuel=fuel, engine=engine))


def asked(code: str, *tables: str) -> Finding:
    return found(code, of(*tables))


GOOD = joint("Rc 1/8", "R 1/8", "paste", more="tried = true\ntested = '8 bar'")


# ------------------------------------------------------------------------------------------------ mates


def test_no_joint_listed_is_one_unknown_and_the_other_rules_are_silent() -> None:
    one = asked("joint.mates")
    assert one.verdict is Verdict.UNKNOWN
    assert "[[joints]]" in fill(one.remedy)
    for code in ("joint.seal", "joint.rating", "joint.tried"):
        assert maybe(code, of()) is None
    assert maybe("joint.mates", case(build(), goal=None)) is None


def test_a_sound_joint_holds_in_every_respect() -> None:
    for code in ("joint.mates", "joint.seal", "joint.rating", "joint.tried"):
        assert asked(code, GOOD).verdict is Verdict.HOLDS, code


@pytest.mark.parametrize(
    ("a", "b", "word"),
    [
        ("1/8-27 NPT male", "Rc 1/8", "flank angle 60 against 55"),
        ("1/8-27 NPT male", "M10x1 female", "pitch"),
        ("9/16-18 male", "M14x1.5 female", "diameter"),
        ("-4 flare male 37", "-4 flare female 45", "cone 37 against 45"),
        ("M10x1 male", "M10x1 male", "both are male"),
        ("hose 16 mm", "M10x1 male", "hose against thread"),
        ("hose 16 mm", "spigot 19 mm", "too wide"),
        ("flange 2 bolts 44 mm", "flange 4 bolts 44 mm", "2 against 4 bolts"),
        ("quick connector 9.49 mm female", "quick connector 7.89 mm male", "7.89"),
    ],
)
def test_a_wrong_pair_breaks_and_says_why_and_what_mends_it(a: str, b: str, word: str) -> None:
    one = asked("joint.mates", GOOD, joint(a, b, name="the bad one"))
    assert one.verdict is Verdict.BREAKS
    assert word in fill(one.cause)
    assert "the bad one" in one.place.words
    assert one.demand is not None
    assert one.demand.value == 1.0
    assert "adapter" in fill(one.remedy)


def test_what_starts_by_hand_comes_first() -> None:
    one = asked(
        "joint.mates", joint("M10x1 male", "M10x1 male", name="dull"),
        joint("1/8-27 NPT male", "Rc 1/8", name="tempting"),
    )  # fmt: skip
    assert one.place.words.startswith("tempting")
    assert "start by hand" in fill(one.cause)
    assert "dull" in fill(one.cause)
    assert any("dull" in fill(note) for note in one.notes)


def test_a_cone_of_unstated_angle_is_unknown() -> None:
    one = asked("joint.mates", joint("-4 flare male", "-4 flare female 37", more="tried = true"))
    assert one.verdict is Verdict.UNKNOWN
    assert "measure" in fill(one.cause).lower()


def test_a_port_that_nothing_is_joined_to_is_named() -> None:
    one = asked("joint.mates", GOOD, port("forgotten hole", "M10x1 female"))
    assert one.verdict is Verdict.UNKNOWN
    assert "forgotten hole" in fill(one.cause)
    joined = port("forgotten hole", "M10x1 female") + joint("Forgotten  hole", "banjo M10x1", "washer")
    assert asked("joint.mates", GOOD, joined).verdict is Verdict.HOLDS


def test_a_circuit_that_the_list_leaves_out_is_said() -> None:
    text = " ".join(fill(note) for note in asked("joint.mates", GOOD).notes)
    assert "the drain" in text
    assert "the oil feed" not in text
    assert "coolant" not in text
    wet = asked("joint.mates", GOOD, "[turbo]\nwater_cooled = true\n")
    assert "coolant" in " ".join(fill(note) for note in wet.notes)


def test_names_with_braces_are_only_names() -> None:
    odd = joint("1/8-27 NPT male", "Rc 1/8", "tape", name="{feed} {turns}")
    for code in ("joint.mates", "joint.seal", "joint.rating", "joint.tried"):
        one = asked(code, odd)
        assert "{" not in fill(one.cause) + fill(one.remedy) + one.place.words


# ------------------------------------------------------------------------------------------------- seal


@pytest.mark.parametrize(
    ("a", "b", "seal", "carries", "verdict"),
    [
        ("Rc 1/8", "R 1/8", "tape", "oil", Verdict.BREAKS),
        ("Rc 1/8", "R 1/8", "tape", "coolant", Verdict.HOLDS),
        ("Rc 1/8", "R 1/8", "PTFE tape", "fuel", Verdict.BREAKS),
        ("Rc 1/8", "R 1/8", "sealant", "fuel", Verdict.HOLDS),
        ("Rc 1/8", "R 1/8", "paste and tape", "oil", Verdict.BREAKS),
        ("Rc 1/8", "R 1/8", "nothing", "oil", Verdict.BREAKS),
        ("Rc 1/8", "R 1/8", "", "oil", Verdict.UNKNOWN),
        ("-4 flare male 37", "-4 flare female 37", "tape", "fuel", Verdict.BREAKS),
        ("-4 flare male 37", "-4 flare female 37", "", "fuel", Verdict.HOLDS),
        ("banjo M10x1", "M10x1 female", "paste", "oil", Verdict.BREAKS),
        ("banjo M10x1", "M10x1 female", "copper washers", "oil", Verdict.HOLDS),
        ("G 1/4 male", "G 1/4 female", "tape", "coolant", Verdict.BREAKS),
        ("G 1/4 male", "G 1/4 female", "tape", "none", Verdict.HOLDS),
        ("hose 16 mm", "spigot 16 mm", "clamp", "coolant", Verdict.HOLDS),
        ("hose 16 mm", "spigot 16 mm", "", "coolant", Verdict.UNKNOWN),
        ("flange 2 bolts 44 mm", "flange 2 bolts 44 mm", "gasket", "oil-drain", Verdict.HOLDS),
        ("quick connector 9.49 mm female", "quick connector 9.49 mm male", "its own", "fuel", Verdict.HOLDS),
    ],
)
def test_what_seals_a_joint(a: str, b: str, seal: str, carries: str, verdict: Verdict) -> None:
    assert asked("joint.seal", joint(a, b, seal, carries)).verdict is verdict


# ------------------------------------------------------------------------------------------------ rating


def hose(material: str, carries: str, more: str = "", bore: str = "16 mm") -> tuple[str, str, str]:
    stated = f'material = "{material}"\n' if material else ""
    return (
        port("end", f"hose {bore}", stated + more), port("tail", f"spigot {bore}", 'material = "steel"'),
        joint("end", "tail", "clamp", carries, "tried = true"),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("material", "carries", "verdict"),
    [
        ("epdm", "coolant", Verdict.HOLDS),
        ("epdm", "oil-drain", Verdict.BREAKS),
        ("silicone", "fuel", Verdict.BREAKS),
        ("silicone", "air", Verdict.HOLDS),
        ("nitrile", "oil-drain", Verdict.BREAKS),
        ("ptfe", "oil", Verdict.HOLDS),
        ("nitrile", "oil", Verdict.BREAKS),  # 5.5 bar cold in a hose for 3.4
        ("", "oil", Verdict.UNKNOWN),
    ],
)
def test_a_hose_stands_what_its_material_stands(material: str, carries: str, verdict: Verdict) -> None:
    assert asked("joint.rating", *hose(material, carries)).verdict is verdict


def test_what_breaks_is_not_hidden_behind_what_nobody_stated() -> None:
    unknown = port("far end", "hose 16 mm") + joint("far end", "spigot 16 mm", "clamp", "oil", name="unknown")
    broken = hose("nitrile", "oil", 'temperature = "200 degC"\npressure = "5.4 bar"')
    assert asked("joint.rating", unknown).verdict is Verdict.UNKNOWN
    one = asked("joint.rating", unknown, *broken)
    assert one.verdict is Verdict.BREAKS
    assert any("unknown" in fill(note) for note in one.notes)


def test_ethanol_is_set_against_the_hose() -> None:
    def share(ethanol: str) -> Finding:
        return found(
            "joint.rating",
            of(
                *hose("nitrile", "fuel", 'pressure = "10 bar"\ntemperature = "140 degC"', "8 mm"),
                fuel=ethanol,
            ),
        )

    assert share('ethanol = "5 %"').verdict is Verdict.HOLDS
    rich = share('ethanol = "85 %"')
    assert rich.verdict is Verdict.BREAKS
    assert "ethanol" in fill(rich.cause)
    stated = hose(
        "nitrile", "fuel", 'pressure = "10 bar"\ntemperature = "140 degC"\nethanol = "100 %"', "8 mm"
    )
    assert found("joint.rating", of(*stated, fuel='ethanol = "85 %"')).verdict is Verdict.HOLDS


def test_the_makers_figure_takes_the_place_of_the_table() -> None:
    weak = asked("joint.rating", *hose("ptfe", "oil", 'pressure = "4 bar"'))
    assert weak.verdict is Verdict.BREAKS
    assert weak.capacity is not None
    assert weak.capacity.value == pytest.approx(4e5)


def test_pressure_follows_the_readings_and_the_match() -> None:
    def demand(carries: str, engine: str = "", rest: str = "") -> float:
        one = found("joint.rating", of(*hose("ptfe", carries, 'pressure = "1 bar"'), rest, engine=engine))
        assert one.demand is not None
        return one.demand.value

    assert demand("oil", 'oil_pressure_cold = "7 bar"') == pytest.approx(7e5)
    assert demand("oil", 'oil_pressure_cold = "3 bar"\noil_pressure_3000 = "4 bar"') == pytest.approx(4e5)
    assert demand("coolant", rest='[cooling]\ncap_pressure = "1.4 bar"\n') == pytest.approx(1.4e5)
    low, high = (demand("fuel", rest=f'[regulator]\npressure = "{p} bar"\n') for p in (3, 4))
    assert 0.9e5 < high - low < 1.1e5
    spike = demand("air", rest='[wastegate]\nspike = "40 kPa"\n') - demand(
        "air", rest="[wastegate]\nspike = '10 kPa'\n"
    )
    assert spike == pytest.approx(30e3, rel=1e-6)
    assert demand("air") > demand("cooled-air")


@check("conservation", note="what the gas loses is what the air gains, within 3 % of the gas's heat capacity")
def test_gas_behind_the_turbine_has_lost_what_the_air_has_won() -> None:
    given = of()
    (line,) = lines(given)
    hot = duty_of(given, Carried.EXHAUST_OUT).temperature
    assert hot is not None
    flow, fuel = line.goal.result.air_flow, line.goal.result.fuel_flow
    won = flow * 1004.5 * (line.goal.compressor_outlet_temperature - line.ambient_temperature)
    left = line.goal.turbine_inlet_temperature - won / ((flow + fuel) * 1190.0)
    drop = float(np.max(won / ((flow + fuel) * 1190.0)))
    assert hot.value == pytest.approx(float(np.nanmax(left)), abs=0.03 * drop)
    assert hot.value == np.nanmax(tail(given, line).temperature)  # the same as in every other finding


def test_an_exhaust_joint_is_set_against_the_limits_of_manifolds() -> None:
    def flange(material: str, carries: str, more: str = "") -> Finding:
        half = "v-band 63 mm"
        ports = port("a", half, f'material = "{material}"\n{more}') + port(
            "b", half, 'material = "stainless"'
        )
        return asked("joint.rating", ports, joint("a", "b", "clamp", carries, "tried = true"))

    assert flange("steel", "exhaust").verdict is Verdict.BREAKS
    assert flange("silicone", "exhaust-out").verdict is Verdict.BREAKS
    before, behind = (flange("stainless", carries) for carries in ("exhaust", "exhaust-out"))
    assert before.demand is not None
    assert behind.demand is not None
    assert before.demand.value > behind.demand.value
    assert "stainless" in before.limit.key
    assert flange("cast-iron", "exhaust-out", 'temperature = "1000 degC"').probability == behind.probability


# ------------------------------------------------------------------------------------------------ tried


def test_an_untried_joint_is_named() -> None:
    one = asked("joint.tried", GOOD, joint("Rc 1/4", "R 1/4", "paste", name="left for later"))
    assert one.verdict is Verdict.UNKNOWN
    assert "left for later" in fill(one.cause)
    assert "feed" not in fill(one.cause)


def test_what_carries_no_pressure_is_only_put_together() -> None:
    drain = ("flange 2 bolts 44 mm", "flange 2 bolts 44 mm", "gasket", "oil-drain")
    assert asked("joint.tried", joint(*drain, "tried = true")).verdict is Verdict.HOLDS
    assert asked("joint.tried", joint(*drain)).verdict is Verdict.UNKNOWN


def test_the_least_sure_of_several_tests_is_the_finding() -> None:
    near = joint("Rc 1/8", "R 1/8", "paste", "coolant", "tried = true\ntested = '1.2 bar'", name="near")
    far = joint("Rc 1/8", "R 1/8", "paste", "oil", "tried = true\ntested = '9 bar'", name="far")
    one = asked("joint.tried", far, near)
    assert one.place.words.startswith("near")
    assert one.verdict is not Verdict.HOLDS


@pytest.mark.parametrize("spread", ["0.1", "1.5"])
def test_the_test_pressure_named_is_enough_as_it_is_written(spread: str) -> None:
    """As the report writes it, in two digits; with a good gauge and with a poor one."""

    def tested(bar: float) -> Finding:
        more = f"tried = true\ntested = '{bar:.2f} +/- {bar * float(spread) / 5:.3f} bar'"
        return asked("joint.tried", joint("Rc 1/8", "R 1/8", "paste", more=more))

    low = tested(5.0)
    assert low.verdict is not Verdict.HOLDS
    shown = re.search(r"Test it at ([\d.]+)", fill(low.remedy))
    assert shown is not None
    assert tested(float(shown[1])).verdict is Verdict.HOLDS


def test_the_figure_asked_of_a_maker_is_enough_as_it_is_written() -> None:
    def one(stands: str) -> Finding:
        weak = port("hose end", "hose 19 mm", stands)
        strong = port("pipe", "spigot 19 mm", "material = 'steel'\npressure = '300 bar'")
        return asked("joint.rating", weak, strong, joint("hose end", "pipe", "clamp", "fuel"))

    low = one("material = 'fluoro-rubber'\npressure = { value = '1 bar', source = 'maker' }")
    assert low.verdict is Verdict.BREAKS
    needed = low.remedy.amounts["needed"].value
    enough = (
        f"material = 'fluoro-rubber'\npressure = {{ value = '{needed / 1e5:.4f} bar', source = 'maker' }}"
    )
    after = one(enough)
    pressures = [c for c in checks_of_file(enough) if c.what == "pressure" and c.part == "hose end"]
    assert after.probability is not None
    assert pressures[0].probability() == pytest.approx(0.975, abs=1e-3)


def checks_of_file(stands: str) -> tuple[Check, ...]:
    """What is judged of a fuel hose that stands so much."""
    made = of(port("hose end", "hose 19 mm", stands), joint("hose end", "spigot 19 mm", "clamp", "fuel"))
    return checks_of(made, answers_of(made)[0].joint)


def test_a_pressure_that_nobody_knows_is_no_pass() -> None:
    """Without a match nothing tells what fuel and charge air press with."""

    def at(more: str) -> Case:
        rest = joint("hose 54 mm", "spigot 54 mm", "clamp", "air", more)
        return case(build(rest=rest), goal=None, strength=None)

    untested = at("tried = true")
    assert found("joint.tried", untested).verdict is Verdict.UNKNOWN
    assert "Never tested" in fill(found("joint.tried", untested).cause)
    tested = at("tried = true\ntested = '2 bar'")
    assert found("joint.tried", tested).verdict is Verdict.UNKNOWN
    assert drawn_joints(tested)[0].verdict is Verdict.UNKNOWN
    both = joint("Rc 1/8", "R 1/8", "paste", more="tried = true\ntested = '9 bar'", name="oil")
    mixed = case(build(rest=both + joint("hose 8 mm", "spigot 8 mm", "clamp", "fuel", name="fuel line")),
                 goal=None, strength=None)  # fmt: skip
    assert "fuel line" in " ".join(fill(note) for note in found("joint.rating", mixed).notes)


def test_a_spread_of_the_models_is_not_counted_twice() -> None:
    """In a draw the pressure of the exhaust is drawn already."""
    table = joint("v-band 63 mm", "v-band 63 mm", "clamp", "exhaust")
    once, drawn = of(table), replace(of(table), drawn=True)
    for carries in (Carried.EXHAUST, Carried.EXHAUST_OUT):
        before, after = duty_of(once, carries).pressure, duty_of(drawn, carries).pressure
        assert before is not None
        assert after is not None
        assert (before.sd or 0.0) > 0.0
        assert after.sd == 0.0


def test_a_test_below_what_comes_later_does_not_hold() -> None:
    low = asked("joint.tried", joint("Rc 1/8", "R 1/8", "paste", more="tried = true\ntested = '2 bar'"))
    assert low.verdict is Verdict.BREAKS
    assert asked("joint.tried", GOOD).verdict is Verdict.HOLDS


# ------------------------------------------------------------------------------------------- the picture


@pytest.mark.parametrize(
    ("table", "verdict", "why"),
    [
        (GOOD, Verdict.HOLDS, ""),
        (joint("1/8-27 NPT male", "Rc 1/8", "paste"), Verdict.BREAKS, "halves do not mate (pitch)"),
        (joint("Rc 1/8", "R 1/8", "tape", more="tried = true"), Verdict.BREAKS, "wrong seal"),
        (joint("Rc 1/8", "R 1/8", more="tried = true\ntested = '8 bar'"), Verdict.UNKNOWN, "seal not stated"),
        (joint("Rc 1/8", "R 1/8", "paste"), Verdict.UNKNOWN, "not tried"),
        (joint("Rc 1/8", "R 1/8", "paste", more="tried = true"), Verdict.UNKNOWN, "not tested"),
        (
            joint("Rc 1/8", "R 1/8", "paste", more="tried = true\ntested = '2 bar'"),
            Verdict.BREAKS,
            "tested too low",
        ),
        ("".join(hose("epdm", "oil-drain")), Verdict.BREAKS, "its material"),
        ("".join(hose("nitrile", "oil", 'temperature = "200 degC"')), Verdict.BREAKS, "pressure"),
    ],
)
def test_each_joint_has_its_own_verdict_in_the_picture(table: str, verdict: Verdict, why: str) -> None:
    (one,) = drawn_joints(of(table))
    assert (one.verdict, one.why) == (verdict, why)


def test_a_port_without_its_other_is_a_hole_in_the_picture() -> None:
    (hole,) = open_ends(of(GOOD, port("spare", "M10x1 female", 'of = "block"')))
    assert (hole.name, hole.parts[0].name, hole.verdict) == ("spare", "block", Verdict.UNKNOWN)
    assert open_ends(of(GOOD)) == ()


def test_parts_are_told_apart_by_name_and_unnamed_ones_by_number() -> None:
    ports = port("a", "Rc 1/8", 'of = "block"') + port("b", "M10x1 female", 'of = "block"')
    first, second = drawn_joints(of(ports, joint("a", "R 1/8"), joint("b", "banjo M10x1")))
    assert first.parts[0] == second.parts[0]
    assert first.parts[1] != second.parts[1]


# --------------------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("tables", "code", "word"),
    [
        (joint("M10x1.3 male", "M10x1 female"), "unknown-half", "M10x1"),
        (joint("R 1/8 female", "R 1/8"), "unknown-half", "Rc 1/8"),
        (port("oil gallery", "Rc 1/8") + joint("oil galery", "R 1/8"), "unknown-port", "oil gallery"),
        (port("a", "Rc 1/8") + port("A", "R 1/8"), "duplicate-port", "line"),
        (port("a", "7/8 wombat"), "unknown-half", "pitch gauge"),
        (port("a", "Rc 1/8") + joint("a", "R 1/8") + joint("a", "R 1/8"), "port-taken", "tee"),
        (joint("Rc 1/8", "R 1/8", "chewing gum"), "unknown-seal", "O-ring"),
        (joint("Rc 1/8 parallel", "R 1/8"), "unknown-half", "Read the thread"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_line_and_a_remedy(tables: str, code: str, word: str) -> None:
    with pytest.raises(BuildFileError) as refused:
        build(rest=tables)
    fault = next(f for f in refused.value.faults if f.code == code)
    assert fault.line > 10
    assert word in fault.sentence()

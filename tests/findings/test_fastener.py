"""Findings of bolted joints, on invented operating lines: what they say, and that each follows its causes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.catalogue import Field, catalogue
from boostwright.findings.case import Case
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.registry import rules
from boostwright.systems.fasteners import Known, Missing, sheet_row, torque_sheet
from boostwright.systems.fasteners.clamp import ClampLeft, Heat, clamp_left, heat_of, opening_force
from boostwright.systems.stated.fasteners import fasteners_of
from boostwright.views.numbers import fill
from tests.findings.test_subjects import case
from tests.labels import check
from tests.sample import goal
from tests.systems.fasteners.parts import build_with, joint, joint_text

OWN_FIELDS = (
    "clamps",
    "size",
    "class",
    "count",
    "grip_length",
    "clamped_material",
    "lubricant",
    "tool",
    "whose",
)
CODES = (
    "fastener.stated",
    "fastener.overstress",
    "fastener.clamp",
    "fastener.engagement",
    "fastener.seating",
)
TURBO: dict[str, object] = {
    "name": "turbo to manifold", "clamps": "turbine", "size": "M10x1.5", "class": "660", "grip_length": "46"
        " mm",
    "clamped_material": "stainless", "lubricant": "hot-paste", "gasket": "steel", "whose": "part",
    "manual_torque": "40 Nm", "page": "sheet 2",
}  # fmt: skip
PORT: dict[str, object] = {
    "name": "manifold to head", "clamps": "manifold", "count": 8, "class": "8.8", "grip_length": "30 mm",
    "engaged_length": "20 mm", "parent_material": "aluminium", "clamped_material": "nodular-iron",
    "lubricant": "hot-paste", "gasket": "steel", "whose": "car", "manual_torque": "20 Nm", "page": "manual 1"
        "1",
}  # fmt: skip
HOT = Heat(Known(930.0, 40.0), Known(850.0, 40.0))


def _fields() -> dict[str, Field]:
    return {field.name: field for field in catalogue().sections["fasteners"].fields}


def with_joints(*joints: str) -> Case:
    return case(build_with(*joints))


def maybe(code: str, of: Case) -> Finding | None:
    return next(r for r in rules() if r.code == code)(of)


def found(code: str, of: Case) -> Finding:
    one = maybe(code, of)
    assert one is not None
    return one


def chance(code: str, **changed: object) -> float:
    """The probability of a finding for one joint, the turbo's or (with a hole) the manifold's."""
    base = PORT if "engaged_length" in changed or changed.pop("port", False) else TURBO
    one = found(code, with_joints(joint_text(**{**base, **changed})))
    assert one.probability is not None
    return one.probability


def left(torque: float = 40.0, heat: Heat | None = HOT, **changed: object) -> ClampLeft:
    made = clamp_left(joint(**{**TURBO, **changed}), torque, heat)
    assert isinstance(made, ClampLeft)
    return made


# --- what is said


@pytest.mark.parametrize(
    "joints",
    [
        (joint_text(**TURBO), joint_text(**PORT)), (joint_text(**{**TURBO, "class": None}),),
        (joint_text(**{**TURBO, "manual_torque": "190 Nm"}), joint_text(name="a {brace}", whose="car")),
        (joint_text(**{**PORT, "engaged_length": "6 mm", "class": "12.9"}),), (),
        (joint_text(**{**TURBO, "grip_length": None}),), (joint_text(**{**TURBO, "manual_angle": "90 deg"}),),
    ],
)  # fmt: skip
def test_each_finding_is_whole(joints: tuple[str, ...]) -> None:
    of = with_joints(*joints)
    for code in CODES:
        one = maybe(code, of)
        if one is None:
            continue
        for phrase in (one.cause, one.remedy, *one.notes):
            text = fill(phrase)
            assert "{" not in text
            assert "nan" not in text.lower()
            assert text.endswith(".")
        assert one.cautions
        assert one.reading.what.endswith(".")


def test_nothing_stated_is_one_question_only() -> None:
    of = with_joints()
    assert found("fastener.stated", of).verdict is Verdict.UNKNOWN
    for code in CODES[1:]:
        assert maybe(code, of) is None
    assert maybe("fastener.stated", case(build_with(), goal=None, strength=None)) is None


def test_a_hold_point_is_named_and_goes_once_it_has_its_page() -> None:
    blank = found(
        "fastener.stated", with_joints(joint_text(**TURBO), joint_text(name="head bolts", clamps="head"))
    )
    assert blank.verdict is Verdict.UNKNOWN
    assert "head bolts" in fill(blank.cause)
    assert "turbo" not in fill(blank.cause)
    printed = joint_text(name="head bolts", clamps="head", manual_torque="60 Nm", page="manual 5")
    assert maybe("fastener.stated", with_joints(joint_text(**TURBO), printed)) is None


def test_six_hold_points_are_counted_not_listed_whole() -> None:
    many = tuple(joint_text(name=f"joint {i}", whose="car") for i in range(7))
    assert "2 more" in fill(found("fastener.stated", with_joints(*many)).cause)


def test_a_torque_without_the_state_of_its_thread_is_unknown() -> None:
    one = found("fastener.overstress", with_joints(joint_text(**{**TURBO, "lubricant": None})))
    assert one.verdict is Verdict.UNKNOWN
    both = found(
        "fastener.overstress", with_joints(joint_text(**{**TURBO, "lubricant": None}), joint_text(**PORT))
    )
    assert both.verdict is not Verdict.UNKNOWN
    assert "turbo to manifold" in fill(both.notes[0])


def test_the_worst_joint_is_the_one_that_is_shown() -> None:
    hard = joint_text(**{**PORT, "name": "wrung", "manual_torque": "45 Nm"})
    one = found("fastener.overstress", with_joints(joint_text(**TURBO), hard, joint_text(**PORT)))
    assert one.place.words == "wrung"
    assert one.verdict is Verdict.BREAKS


# --- each follows its causes


def test_stress_follows_torque_thread_and_class() -> None:
    code = "fastener.overstress"
    assert chance(code, manual_torque="60 Nm") < chance(code, manual_torque="48 Nm") < chance(code)
    assert chance(code, lubricant="molybdenum", manual_torque="50 Nm") < chance(code, manual_torque="50 Nm")
    assert chance(code, lubricant="dry", manual_torque="60 Nm") > chance(code, manual_torque="60 Nm")
    assert chance(code, **{"class": "4.6"}) < chance(code) < chance(code, **{"class": "10.9"})
    assert chance(code, tool="feel", manual_torque="45 Nm") < chance(code, manual_torque="45 Nm")


def test_an_own_torque_never_stretches_its_own_bolt() -> None:
    for state in ("dry", "oiled", "molybdenum", "hot-paste"):
        for name in ("4.6", "8.8", "10.9", "660"):
            one = found("fastener.overstress", with_joints(joint_text(lubricant=state, **{"class": name})))
            assert one.verdict is Verdict.HOLDS, (state, name)


def test_engagement_follows_length_hole_and_bolt() -> None:
    code = "fastener.engagement"
    assert (
        chance(code, engaged_length="9 mm")
        < chance(code, engaged_length="14 mm")
        < chance(code, engaged_length="18 mm")
    )
    assert chance(code, engaged_length="12 mm", **{"class": "12.9"}) < chance(code, engaged_length="12 mm")
    assert chance(code, engaged_length="12 mm", parent_material="grey-iron") > chance(
        code, engaged_length="12 mm"
    )
    short = found(code, with_joints(joint_text(**{**PORT, "engaged_length": "7 mm"})))
    assert short.verdict is Verdict.BREAKS


@pytest.mark.parametrize(
    ("name", "into"), [("8.8", "aluminium"), ("10.9", "aluminium"), ("12.9", "grey-iron")]
)
def test_the_engaged_length_named_is_enough_as_it_is_written(name: str, into: str) -> None:
    """As the report writes it, to a tenth of a millimetre."""
    code, changed = "fastener.engagement", {"class": name, "parent_material": into}
    short = found(code, with_joints(joint_text(**{**PORT, **changed, "engaged_length": "6 mm"})))
    wanted = 1e3 * short.remedy.amounts["wanted"].value
    assert f"{wanted:.1f}\u00a0mm" in fill(short.remedy)
    enough = joint_text(**{**PORT, **changed, "engaged_length": f"{wanted:.1f} mm"})
    assert found(code, with_joints(enough)).verdict is Verdict.HOLDS


def test_what_is_taken_as_usual_is_said() -> None:
    bare = found("fastener.clamp", with_joints(joint_text(**{**TURBO, "tool": None, "hangs_on": None})))
    said = " ".join(fill(note) for note in bare.notes)
    assert "6 kg" in said
    assert "opening" in said
    assert "wrench" in said
    whole = {**TURBO, "tool": "beam", "hangs_on": "5 kg", "opening": "20 cm2"}
    assert found("fastener.clamp", with_joints(joint_text(**whole))).notes == ()


def test_clamp_follows_pressure_heat_and_parts() -> None:
    code = "fastener.clamp"
    usual = chance(code, clamped_material="nodular-iron", **{"class": "A2-70"})
    assert chance(code, clamped_material="stainless", **{"class": "A2-70"}) > usual
    assert chance(code, clamped_material="nodular-iron", **{"class": "A2-70"}, hangs_on="30 kg") < usual
    base = with_joints(joint_text(**{**TURBO, "clamped_material": "nodular-iron"}))
    hard = replace(goal(), pulse_peak_pressure=3.0 * goal().pulse_peak_pressure)
    before, after = found(code, base), found(code, replace(base, goal=hard, extra={}))
    assert before.demand is not None
    assert after.demand is not None
    assert after.demand.value > before.demand.value
    cool = replace(goal(), turbine_inlet_temperature=goal().turbine_inlet_temperature - 300.0)
    warm, cooler = found(code, base), found(code, replace(base, goal=cool, extra={}))
    assert warm.capacity is not None
    assert cooler.capacity is not None
    assert cooler.capacity.value > warm.capacity.value


@check("conservation", note="gas force counted apart from the rule, pulse peak on opening and gasket; 1e-9")
def test_the_gas_force_is_that_of_the_line() -> None:
    text = joint_text(**{**TURBO, "opening": "20 cm2", "hangs_on": "0 kg"})
    one = found("fastener.clamp", with_joints(text))
    assert one.demand is not None
    p = float(np.nanmax(goal().pulse_peak_pressure)) - 1.0e5
    land = 3.5 * 4e-3 * 2 * np.sqrt(np.pi * 20e-4)
    assert one.demand.value * 4 * left().tightened.value == pytest.approx(p * (20e-4 + land), rel=1e-9)


@check("conservation", note="bedding force by hand: 45 MPa on 2 mm around 20 cm2, over four bolts; 1e-9")
def test_the_bedding_force_by_hand() -> None:
    one = found("fastener.seating", with_joints(joint_text(**{**TURBO, "opening": "20 cm2"})))
    assert one.demand is not None
    force = 45e6 * 2e-3 * 2 * np.sqrt(np.pi * 20e-4)
    assert one.demand.value * 4 * left().tightened.value == pytest.approx(force, rel=1e-9)


def test_seating_follows_torque_bolts_and_gasket() -> None:
    code = "fastener.seating"
    assert chance(code, manual_torque="14 Nm") < chance(code, manual_torque="22 Nm") < chance(code)
    assert chance(code, count=2, manual_torque="22 Nm") < chance(code, manual_torque="22 Nm")
    assert chance(code, gasket="graphite", manual_torque="14 Nm") > chance(code, manual_torque="14 Nm")
    assert (
        found(code, with_joints(joint_text(**{**TURBO, "manual_torque": "4 Nm"}))).verdict is Verdict.BREAKS
    )
    assert maybe(code, with_joints(joint_text(**{**TURBO, "gasket": "none"}))) is None
    assert maybe(code, with_joints(joint_text(**{**TURBO, "gasket": "ring"}))) is None
    assert maybe(code, with_joints(joint_text(**{**TURBO, "clamps": "support"}))) is None


def test_a_charge_flange_takes_the_pressure_behind_the_compressor_with_its_spike() -> None:
    def pressed(spike: str) -> float:
        flange = joint_text(opening="20 cm2", gasket="ring")
        one = found("fastener.clamp", case(build_with(flange, more=f'[wastegate]\nspike = "{spike}"\n')))
        assert one.verdict is Verdict.HOLDS
        assert one.demand is not None
        row = sheet_row(joint())
        assert row.clamp is not None
        return one.demand.value * 4 * row.clamp.value / 20e-4

    line = goal()
    steady = float(np.nanmax(line.pressure_ratio * line.compressor_inlet_pressure)) - 1.0e5
    assert pressed("0 bar") >= 0.97 * steady  # plenum and the path's loss where the plenum is highest
    assert pressed("0.3 bar") == pytest.approx(pressed("0 bar") + 0.3e5, rel=1e-9)


def test_the_remedy_of_a_loose_joint_is_a_single_change_that_holds() -> None:
    one = found(
        "fastener.clamp", with_joints(joint_text(**{**TURBO, "class": "10.9", "manual_torque": "25 Nm"}))
    )
    assert one.verdict is not Verdict.HOLDS
    text = fill(one.remedy)
    assert "%" in text
    assert "stud" in text or "sleeves" in text


def test_whatever_can_be_written_of_a_joint_is_answered() -> None:
    """Three hundred drawn joints, two in each file: every rule and the sheet answer, in whole sentences."""
    rng = np.random.default_rng(20250621)
    choices = {name: list(field.choices) for name, field in _fields().items() if field.choices}
    texts = {
        "size": ("M8x1.25", "M5", "M24x3", "3/8-16", "R 1/8", "eight", "M12x1.5"),
        "grip_length": ("1 mm", "12 mm", "60 mm", "240 mm"), "engaged_length": ("1 mm", "9 mm", "60 mm"),
        "face": ("6 mm", "16 mm", "50 mm"), "opening": ("0.2 cm2", "20 cm2"), "hangs_on": ("0 kg", "40 kg"),
        "manual_torque": ("0.6 Nm", "25 Nm", "550 Nm"), "page": ("page 3", "sheet"),
        "manual_angle": ("90 deg",),
    }  # fmt: skip
    options: dict[str, list[str]] = {**choices, **{name: list(values) for name, values in texts.items()}}
    for _ in range(150):
        joints = []
        for number in range(2):
            row: dict[str, object] = dict.fromkeys((*OWN_FIELDS, *options))
            row["name"] = f"joint {number}"
            for name, values in options.items():
                if rng.random() < 0.75:
                    row[name] = str(rng.choice(values))
            if rng.random() < 0.8:
                row["count"] = int(rng.integers(1, 12))
            joints.append(joint_text(**row))
        of = with_joints(*joints)
        for code in CODES:
            one = maybe(code, of)
            if one is not None:
                said = " ".join(fill(phrase) for phrase in (one.cause, one.remedy, *one.notes))
                assert "{" not in said, joints
                assert "nan" not in said.lower(), joints
                assert "not known" not in said, joints
        for sheet in torque_sheet(fasteners_of(of.build)):
            assert (sheet.low is None) == bool(sheet.blank), joints
            assert sheet.low is None or 0.0 < sheet.low <= sheet.high, joints  # type: ignore[operator]


# --- physics of what is left


@check(
    "limit", note="bolt and part alike and equally warm, one modulus over temperature: nothing changes; 3 %"
)
def test_a_joint_that_grows_as_one_keeps_its_clamp() -> None:
    even = Heat(Known(500.0, 10.0), Known(500.0, 10.0))
    one = left(heat=even, clamped_material="steel", gasket="none", **{"class": "10.9"})
    assert one.hot.value == pytest.approx(one.settled.value * 0.914, rel=0.03)  # modulus at 500 K, table


def test_what_takes_clamp_and_what_keeps_it() -> None:
    assert (
        left(grip_length="20 mm").settled.value
        < left().settled.value
        < left(grip_length="90 mm").settled.value
    )
    assert (
        left(gasket="fibre").settled.value
        < left(gasket="steel").settled.value
        < left(gasket="none").settled.value
    )
    assert left(clamped_material="nodular-iron").hot.value < left().hot.value
    assert (
        left(**{"class": "10.9"}).least.value < 0.5 * left().least.value
    )  # creep of plain steel at 580 degC
    hotter = Heat(Known(1000.0, 40.0), Known(920.0, 40.0))
    assert left(heat=hotter).least.value < left().least.value
    assert left(heat=None).least == left(heat=None).settled


def test_tightening_again_makes_good_what_settled() -> None:
    again = clamp_left(joint(**TURBO), 40.0, HOT, settled_before=True)
    assert isinstance(again, ClampLeft)
    assert again.settled.value == pytest.approx(again.tightened.value)
    assert again.least.value > left().least.value


def test_the_spread_is_there_and_grows_with_what_is_not_known() -> None:
    one = left()
    assert 0.05 < one.least.sd / one.least.value < 0.6
    assert left(tool="feel").least.sd > one.least.sd
    assert (
        left(lubricant="stainless-dry").tightened.sd / left(lubricant="stainless-dry").tightened.value > 0.2
    )


def test_what_is_not_stated_is_named() -> None:
    made = clamp_left(joint(**{**TURBO, "grip_length": None, "class": None}), 40.0, HOT)
    assert isinstance(made, Missing)
    assert "grip_length" in made.words
    assert "class" in made.words
    assert heat_of("charge", Known(1100.0, 40.0), 365.0) is None


def test_the_opening_force_adds_gas_and_mass() -> None:
    bolt = joint(**{**TURBO, "hangs_on": "6 kg"})
    gas, none = Known(1.0e5, 0.0), Known(0.0, 0.0)
    area = Known(20e-4, 0.0)
    whole = opening_force(bolt, gas, area, 1).value
    assert whole == pytest.approx(opening_force(bolt, none, area, 1).value + opening_force(
        joint(**{**TURBO, "hangs_on": "0 kg"}), gas, area, 1).value)  # fmt: skip
    assert opening_force(bolt, none, area, 1).value == pytest.approx(2 * 6.0 * 100.0 * 1.0)
    assert opening_force(bolt, gas, area, 4).value > whole  # more edge to seal

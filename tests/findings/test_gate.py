"""The wastegate judged: a build's gate on the two-litre stand-in engine, and the findings from it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.findings.case import Case
from boostwright.findings.gate_case import gate_along
from boostwright.findings.judge import verdict_of
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.registry import rules
from boostwright.findings.worst import lines
from boostwright.systems.stated.wastegate import gate_of
from boostwright.systems.wastegate import Gate, GateAnswers, GateLine, gate_answers
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import RPM, goal
from tests.systems.gate_line import reference_line

P0 = 100e3
SPEEDS = goal().speed / RPM
CODES = (
    "boost.spring", "boost.spring_alone", "boost.fall", "boost.crack", "boost.control_range", "boost.bleed",
    "boost.creep", "boost.gate_port",
)  # fmt: skip
NEEDED_SD = 0.06 * 468e-6
SOUND = """[wastegate]
source = "measured"
spring = "0.70 bar"
spring_rate = "8 N/mm"
diaphragm_diameter = "45 mm"
valve_diameter = "30 mm"
rod_travel = "10 mm"
rod_arm = "22 mm"
valve_arm = "22 mm"
"""


@cache
def line() -> GateLine:
    return reference_line(SPEEDS)


@cache
def answers(gate: Gate, boost: float = 0.6e5) -> GateAnswers:
    return gate_answers(gate, line(), P0, P0 + boost, needed_sd=NEEDED_SD)


def of(rows: str, boost: float = 0.6e5) -> Case:
    """The case of a build with these rows in its [wastegate]; its wish is 0.6 bar, as the answers take it."""
    document: Build = build(rest=rows)
    return case(document, extra={"gate": answers(gate_of(document), boost)})


def changed(old: str, new: str, rows: str = SOUND) -> str:
    assert old in rows
    return rows.replace(old, new)


def demand(one: Finding) -> float:
    assert one.demand is not None
    return one.demand.value


def capacity(one: Finding) -> float:
    assert one.capacity is not None
    return one.capacity.value


def test_without_answers_nothing_is_said() -> None:
    for code in CODES:
        assert maybe(code, case()) is None


def test_a_gate_that_suits_holds() -> None:
    here = of(SOUND)
    for code in ("boost.spring", "boost.spring_alone", "boost.creep", "boost.crack", "boost.gate_port"):
        assert found(code, here).verdict is Verdict.HOLDS, code
    assert maybe("boost.control_range", here) is None
    assert maybe("boost.bleed", here) is None


def test_every_finding_reads_well() -> None:
    controlled = changed("[wastegate]", '[wastegate]\ncontrol = "solenoid"')
    by_hand = changed("[wastegate]", '[wastegate]\ncontrol = "bleed"\nbleed = "60 %"')
    for rows in (
        SOUND, controlled, by_hand, changed("30 mm", "16 mm"), changed("0.70 bar", "1.3 bar"), "",
        changed("0.70 bar", "0.2 bar"), changed("[wastegate]", '[wastegate]\ncreep = "20 kPa"'),
    ):  # fmt: skip
        for code in CODES:
            one = maybe(code, of(rows))
            if one is None:
                continue
            for phrase in (one.cause, one.remedy, *one.notes):
                text = fill(phrase)
                assert text.endswith("."), (code, text)
                assert "nan" not in text.lower(), (code, text)
                assert "not known" not in text, (code, text)
                assert "{" not in text, (code, text)
            assert one.demand is not None
            assert np.isfinite(one.demand.value), code
            assert one.cautions


# ------------------------------------------------------------------------------------------------------
# spring


def test_demands_come_from_the_force_balance() -> None:
    here = of(SOUND)
    given = here.extra["gate"]
    assert demand(found("boost.spring", here)) == pytest.approx(np.max(given.boost_spring_only[2:]))
    assert capacity(found("boost.spring_alone", here)) == pytest.approx(np.max(given.boost_spring_only[2:]))
    port = found("boost.gate_port", here)
    assert demand(port) == pytest.approx(np.pi / 4 * 0.030**2 / np.nanmax(given.gate_area_needed))
    assert demand(found("boost.creep", here)) == pytest.approx(np.max(given.boost_gate_open))


@check(
    "common practice",
    note="a controller can only add to the spring: a stiff one breaks anyway",
)
@pytest.mark.parametrize("control", ["spring", "solenoid"])
def test_a_stiff_spring_breaks(control: str) -> None:
    rows = changed("[wastegate]", f'[wastegate]\ncontrol = "{control}"')
    assert found("boost.spring", of(rows)).verdict is Verdict.HOLDS
    stiff = found("boost.spring", of(changed("0.70 bar", "1.1 bar", rows)))
    assert stiff.verdict is Verdict.BREAKS
    assert demand(stiff) > 0.75e5
    assert "bar" in fill(stiff.remedy)


def test_the_softer_spring_that_is_named_holds() -> None:
    """What the remedy names is taken at its word and judged again."""
    rows = changed("0.70 bar", "1.1 bar")
    named = float(found("boost.spring", of(rows)).remedy.amounts["softer"].value) / 1e5
    assert 0.5 < named < 0.9
    assert found("boost.spring", of(changed("0.70 bar", f"{named:.4f} bar"))).verdict is Verdict.HOLDS


def test_a_soft_spring_alone_cannot_hold_the_wish() -> None:
    soft = found("boost.spring_alone", of(changed("0.70 bar", "0.3 bar")))
    assert soft.verdict is Verdict.UNKNOWN  # nobody said that there is no solenoid
    alone = changed("[wastegate]", '[wastegate]\ncontrol = "spring"', changed("0.70 bar", "0.3 bar"))
    one = found("boost.spring_alone", of(alone))
    assert one.verdict is Verdict.BREAKS
    named = one.remedy.amounts["stiffer"].value / 1e5
    again = found("boost.spring_alone", of(changed("0.3 bar", f"{named:.4f} bar", alone)))
    assert again.verdict in (Verdict.HOLDS, Verdict.TIGHT)
    assert found("boost.spring", of(changed("0.3 bar", f"{named:.4f} bar", alone))).verdict is Verdict.HOLDS
    assert maybe("boost.spring_alone", of(changed('"spring"', '"solenoid"', alone))) is None


def test_an_assumed_spring_never_breaks() -> None:
    for code in ("boost.spring", "boost.spring_alone", "boost.creep", "boost.gate_port"):
        one = found(code, of(""))
        assert one.verdict in (Verdict.HOLDS, Verdict.UNKNOWN)
        assert "not stated" in fill(one.cause)


@check("common practice", note="boost on a spring falls towards the limit, the more the larger the valve")
def test_a_large_valve_lets_the_boost_fall() -> None:
    good = found("boost.fall", of(SOUND))
    large = found("boost.fall", of(changed("30 mm", "40 mm")))
    assert demand(large) > 1.5 * demand(good) > 0
    given = of(SOUND).extra["gate"]
    on_spring = given.boost_spring_only[given.spring_status == 0]
    assert demand(good) == pytest.approx(on_spring.max() - on_spring[-1])
    assert 0 < large.remedy.amounts["share"].value < 0.5
    assert maybe("boost.fall", of(changed("[wastegate]", '[wastegate]\ncontrol = "solenoid"'))) is None


def test_a_gate_that_opens_early_delays_the_boost() -> None:
    early = found("boost.crack", of(changed("0.70 bar", "0.25 bar")))
    assert early.verdict is Verdict.BREAKS
    assert demand(early) < 0.5
    assert early.place.speed is not None
    assert early.place.speed / RPM < 2500
    assert demand(found("boost.crack", of(SOUND))) > 0.7


# ------------------------------------------------------------------------------------------------------
# control


def test_the_reach_of_a_control() -> None:
    three = changed("[wastegate]", '[wastegate]\ncontrol = "solenoid"', changed("0.70 bar", "0.4 bar"))
    good = found("boost.control_range", of(three))
    assert good.verdict is Verdict.HOLDS
    duty = good.notes[0].amounts
    assert 0 < duty["low"].value < duty["high"].value < 1
    soft = found("boost.control_range", of(changed("0.4 bar", "0.1 bar", three), boost=1.2e5))
    assert soft.capacity is not None
    assert soft.capacity.value < 1.2e5
    bleed = changed('"solenoid"', '"solenoid"\nsolenoid = "bleed"', three)
    assert capacity(found("boost.control_range", of(bleed))) < capacity(good)


def test_a_bleed_set_by_hand_is_judged_at_its_setting() -> None:
    def set_to(opening: str) -> Finding:
        return found(
            "boost.bleed", of(changed("[wastegate]", f'[wastegate]\ncontrol = "bleed"\nbleed = "{opening}"'))
        )

    assert set_to("0 %").verdict is Verdict.HOLDS
    wide = set_to("60 %")
    assert wide.verdict is Verdict.BREAKS
    assert demand(wide) > demand(set_to("30 %")) > demand(set_to("0 %"))
    assert wide.remedy.amounts["less"].value < 0.3


# ------------------------------------------------------------------------------------------------------
# port


@check("common practice", note="too small a port: boost creeps up with speed whatever the spring")
def test_a_small_port_creeps() -> None:
    rows = changed("30 mm", "16 mm", changed("0.70 bar", "0.45 bar"))
    here = of(rows)
    one = found("boost.creep", here)
    assert one.verdict is Verdict.BREAKS
    assert demand(one) > 0.9e5
    assert one.place.speed is not None
    assert one.place.speed / RPM > 5500
    given = here.extra["gate"]
    assert given.gate_at_stop[-1]
    assert demand(one) == pytest.approx(given.boost_spring_only[-1])  # the boost reached, spring or no spring
    assert found("boost.gate_port", here).verdict is Verdict.BREAKS
    assert found("boost.spring", here).verdict is Verdict.HOLDS  # the port is blamed, not the spring


def test_the_port_that_is_named_holds() -> None:
    for code in ("boost.creep", "boost.gate_port"):
        wide = found(code, of(changed("30 mm", "16 mm"))).remedy.amounts["wider"].value
        assert 0.018 < wide < 0.045
        scale = wide / 0.016
        rows = changed("30 mm", f"{wide * 1e3:.2f} mm", changed("10 mm", f"{10 * scale:.2f} mm"))
        assert found(code, of(rows)).verdict is Verdict.HOLDS, code


def test_a_short_lift_asks_for_lift_first() -> None:
    one = found("boost.creep", of(changed('rod_travel = "10 mm"', 'rod_travel = "3 mm"')))
    assert one.verdict is Verdict.BREAKS
    lift = one.remedy.amounts["lift"].value
    assert lift > 1.3 * one.remedy.amounts["lift_now"].value
    assert "lift" in fill(one.remedy)
    longer = changed('rod_travel = "10 mm"', f'rod_travel = "{lift * 1e3:.2f} mm"')
    assert found("boost.creep", of(longer)).verdict is Verdict.HOLDS
    assert found("boost.gate_port", of(longer)).verdict is Verdict.HOLDS  # the port itself will do


def test_a_creep_that_was_read_beats_the_computed_one() -> None:
    one = found("boost.creep", of(changed("[wastegate]", '[wastegate]\ncreep = "30 kPa"')))
    assert one.verdict is Verdict.BREAKS
    held = of(SOUND).extra["gate"]
    assert demand(one) == pytest.approx(min(np.nanmax(held.boost_held[held.status == 0]), 0.6e5) + 30e3)
    none = found("boost.creep", of(changed("[wastegate]", '[wastegate]\ncreep = "1 kPa"')))
    assert none.verdict in (Verdict.HOLDS, Verdict.TIGHT)


# ------------------------------------------------------------------------------------------------------
# corners and bad points


def test_the_worst_corner_is_named() -> None:
    from types import SimpleNamespace

    document = build(rest=SOUND)
    ordinary, cold = answers(gate_of(document)), answers(replace(gate_of(document), port_diameter=0.016))
    frosty = SimpleNamespace(
        name="on a frosty night", ambient_pressure=P0, ambient_temperature=260.0, goal=goal(), strength=None
    )
    base = case(document, extra={"gate": ordinary, "gate_corners": {frosty.name: cold}})

    class WithCorners(Case):
        corners = (frosty,)

    here = WithCorners(**{f: getattr(base, f) for f in Case.__slots__ if f != "corners"})
    if len(lines(here)) == 1:  # the case keeps its corners in a field of its own
        here = replace(base, corners=(frosty,))  # type: ignore[call-arg]
    assert gate_along(here, lines(here)[1]) is cold
    one = found("boost.creep", here)
    assert one.corner == "on a frosty night"
    assert one.verdict is Verdict.BREAKS


def test_points_that_did_not_settle_are_left_out() -> None:
    document = build(rest=changed("30 mm", "16 mm"))
    settled = np.ones(SPEEDS.size, dtype=bool)
    settled[SPEEDS > 2900] = False
    here = case(document, replace(goal(), settled=settled), extra={"gate": answers(gate_of(document))})
    one = found("boost.creep", here)
    assert one.place.speed is not None
    assert one.place.speed / RPM < 3000
    assert demand(one) < demand(found("boost.creep", of(changed("30 mm", "16 mm"))))


def test_verdicts_follow_their_probability() -> None:
    for rule in rules():
        if rule.code in CODES:
            one = rule(of(SOUND))
            if one is not None and one.probability is not None:
                assert one.verdict is verdict_of(one.probability, rule.harm)

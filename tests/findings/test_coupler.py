"""Couplers: what the highest pressure of the match pulls with, and what clamps and beads hold."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from boostwright.findings.model import Finding, Verdict
from boostwright.findings.subjects.cuts import highest_pressure
from boostwright.library.clamps import KINDS, clamp, hose_grip
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import goal


def judged(pipes: str, boost: float = 0.6e5) -> Finding:
    document = build(rest=f'[pipes]\nsource = "measured"\n{pipes}\n')
    return found("charge.coupler", case(document, goal(boost=boost)))


def test_the_pull_is_the_pressure_of_the_worst_day_on_the_bore() -> None:
    of = case(build(rest='[pipes]\nsource = "measured"\nbore = "60 mm"\nclamp = "bolt"\nbead = true\n'))
    one = found("charge.coupler", of)
    top = highest_pressure(of)
    assert top is not None
    assert one.demand is not None
    line = top[1].goal
    before = line.compressor_inlet_pressure[top[1].place] * line.pressure_ratio[top[1].place]
    loss = max(float(before - line.plenum_pressure[top[1].place]), 0.0)
    by_hand = (top[0].value + loss - 1.0e5) * math.pi / 4 * 0.060**2
    assert one.demand.value == pytest.approx(by_hand, rel=1e-9)


def test_plain_end_holds_by_friction_alone() -> None:
    one = judged('bore = "54 mm"\nclamp = "worm"\nbead = false')
    grip, band = hose_grip(), clamp("worm")
    assert one.capacity is not None
    pressure = one.cause.amounts["pressure"].value
    squeeze = 2 * math.pi * band.tension * grip.setting[0] - pressure * math.pi * 0.054 * grip.width[0]
    assert one.capacity.value == pytest.approx(grip.friction[0] * squeeze, rel=1e-9)
    assert one.capacity.sd is not None
    least = math.hypot(
        band.sd / band.tension, grip.friction[1] / grip.friction[0], grip.setting[1] / grip.setting[0]
    )
    assert one.capacity.sd == pytest.approx(one.capacity.value * least, rel=0.05)


def test_a_bead_holds_more_and_the_hose_is_the_end_of_it() -> None:
    plain, beaded = judged('clamp = "worm"\nbead = false'), judged('clamp = "worm"\nbead = true')
    assert plain.capacity is not None
    assert beaded.capacity is not None
    assert beaded.capacity.value > 2.0 * plain.capacity.value
    strong = judged('bore = "54 mm"\nclamp = "bolt"\nbead = true')
    assert strong.capacity is not None
    assert strong.capacity.value == pytest.approx(2 * hose_grip().burst[0] * math.pi / 4 * 0.054**2)


@check(
    "common practice", note="cable ties on plain ends let go at one bar; bolted bands behind a bead do not"
)
def test_ties_and_bolts() -> None:
    assert judged('bore = "60 mm"\nclamp = "tie"\nbead = false', 1.0e5).verdict is Verdict.BREAKS
    assert judged('bore = "60 mm"\nclamp = "bolt"\nbead = true', 1.0e5).verdict is Verdict.HOLDS


def test_more_boost_and_a_wider_pipe_pull_harder() -> None:
    low, high = judged('clamp = "worm"\nbead = false', 0.4e5), judged('clamp = "worm"\nbead = false', 1.2e5)
    wide = judged('bore = "75 mm"\nclamp = "worm"\nbead = false', 0.4e5)
    pulls = [one.demand.value for one in (low, high, wide) if one.demand is not None]
    assert pulls[0] < pulls[2]
    assert pulls[0] < pulls[1]
    odds = [low.probability or 0.0, high.probability or 0.0]
    assert odds[1] < odds[0]


@pytest.mark.parametrize("kind", ["tie", "spring"])
def test_what_the_remedy_names_holds(kind: str) -> None:
    bad = judged(f'bore = "60 mm"\nclamp = "{kind}"\nbead = false', 1.0e5)
    assert bad.verdict is not Verdict.HOLDS
    text = fill(bad.remedy)
    assert "bolt across" in text
    bead = "true" if "bead" in text else "false"
    assert judged(f'bore = "60 mm"\nclamp = "bolt"\nbead = {bead}', 1.0e5).verdict is Verdict.HOLDS


def test_nothing_stated_is_assumed_and_cannot_break() -> None:
    one = found("charge.coupler", case())
    assert "worm-drive bands on plain ends are assumed" in fill(one.cause)
    high = found("charge.coupler", case(line_with=goal(boost=4e5)))
    assert high.verdict is Verdict.UNKNOWN


def test_silent_without_couplers_or_boost() -> None:
    assert maybe("charge.coupler", case(build(rest="[pipes]\ncouplers = 0\n"))) is None
    assert maybe("charge.coupler", replace(case(), goal=None)) is None


def test_every_kind_of_clamp_has_a_row_with_its_source() -> None:
    field = build().field("pipes.clamp")
    assert set(field.choices) == set(KINDS)
    for kind in KINDS:
        row = clamp(kind)
        assert 0.0 < row.sd < 0.5 * row.tension
        assert "no source" in row.source
    with pytest.raises(KeyError):
        clamp("friction")
    assert clamp("tie").tension < clamp("spring").tension < clamp("worm").tension < clamp("bolt").tension


@check("limit", note="half the torque is half the tension; a tie has no screw")
def test_a_known_torque_sets_the_tension() -> None:
    worm = clamp("worm")
    half = worm.at_torque(0.5 * worm.torque, 0.0)
    assert half.tension == pytest.approx(0.5 * worm.tension)
    assert half.sd == pytest.approx(half.tension * worm.screw_sd)
    assert half.sd / half.tension < worm.sd / worm.tension  # a reading narrows it
    assert clamp("tie").at_torque(5.0, 0.1) == clamp("tie")
    loose, firm = (judged(f'clamp = "worm"\nbead = false\nclamp_torque = "{nm} Nm"') for nm in (0.5, 5.0))
    assert loose.verdict is not Verdict.HOLDS
    assert firm.verdict is Verdict.HOLDS


@check(
    "common practice",
    note="5 N m on an M6 bolt: preload M/(0.2 d), 4.2 kN, of which two thirds press far from it",
)
def test_tension_of_a_bolt_is_that_of_its_thread() -> None:
    preload = 5.0 / (0.2 * 6.0e-3)
    assert clamp("bolt").at_torque(5.0, 0.0).tension == pytest.approx(2 / 3 * preload, rel=0.1)

"""Findings of crankcase, catch can and small lines, on invented lines and blow-by."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boostwright.findings.blow_by_case import BlowBy
from boostwright.findings.crankcase_case import crankcase_line, crankcase_worst
from boostwright.findings.model import Verdict
from boostwright.findings.worst import lines
from boostwright.library.oil import oil_constant
from boostwright.physics.nozzle import nozzle_flow
from boostwright.systems.oil import breather_pressure
from boostwright.systems.stated.oil import breather_of
from boostwright.views.numbers import fill
from tests.findings.oiled import (
    BREATHER,
    DAY,
    ENGINE,
    OIL,
    SMALL_LINES,
    demand,
    oiled,
    text,
)
from tests.findings.test_subjects import found, maybe
from tests.labels import check
from tests.sample import goal

# ------------------------------------------------------------------------------------------------- crankcase


@check("limit", note="sealed: the reading times the square of the flow's ratio; exact")
def test_the_reading_scales_with_the_square_of_blow_by() -> None:
    of = oiled()
    at = crankcase_line(of, lines(of)[0])
    assert at is not None
    before = oil_constant("rings", "service").value * 0.4e-3
    assert at.gas == pytest.approx(1.4 * before)
    assert at.inside == pytest.approx(200.0 * ((at.gas + at.seals) / before) ** 2)
    assert np.all(at.leak == 0.0)
    assert at.pressure == pytest.approx(at.inside + at.hose)


@check("conservation", note="what boost blows backwards is what the nozzle passes at the pressure found; 1 %")
def test_boost_blows_backwards_against_the_pressure_it_makes() -> None:
    of = oiled(text(breather=BREATHER | {"one_way_valve": "false"}))
    line = lines(of)[0]
    at = crankcase_line(of, line)
    assert at is not None
    area = oil_constant("blow_by", "leak").value * 0.25 * math.pi * 3e-3**2
    down = line.ambient_pressure + at.pressure
    up = np.maximum(line.goal.plenum_pressure, down)
    passes = nozzle_flow(area, up, line.goal.plenum_temperature, down, 287.05, 1.4)
    assert at.leak == pytest.approx(passes, rel=0.01, abs=2e-6)
    assert np.all(at.pressure < line.goal.boost)


@check("common practice", note="the seals of a sound turbo pass 3 to 20 % of the blow-by under boost")
def test_the_turbos_own_seals() -> None:
    of = oiled()
    at = crankcase_line(of, lines(of)[0])
    assert at is not None
    share = at.seals / at.gas
    boosted = lines(of)[0].goal.boost > 0.3e5
    assert np.all((share[boosted] > 0.03) & (share[boosted] < 0.2))
    still = oiled(pressure_ratio=np.ones_like(goal().pressure_ratio))
    calm = crankcase_line(still, lines(still)[0])
    assert calm is not None
    assert np.all(calm.seals == 0.0)


def test_what_moves_the_crankcase() -> None:
    usual = demand("crankcase.drain", oiled())
    narrow, long = BREATHER | {"hose_bore": '"7 mm"'}, BREATHER | {"length": '"3 m"'}
    assert demand("crankcase.drain", oiled(text(breather=narrow))) > 1.3 * usual
    assert demand("crankcase.drain", oiled(text(breather=long))) > usual
    two = narrow | {"hoses": "2"}
    assert demand("crankcase.drain", oiled(text(breather=two))) < demand(
        "crankcase.drain", oiled(text(breather=narrow))
    )
    can = BREATHER | {"outlet": '"can"'}
    assert demand("crankcase.drain", oiled(text(breather=can))) > usual
    inlet = BREATHER | {"outlet": '"inlet"'}
    assert demand("crankcase.drain", oiled(text(breather=inlet))) < usual
    opened = BREATHER | {"one_way_valve": "false"}
    assert demand("crankcase.drain", oiled(text(breather=opened))) > 3.0 * usual
    worn = ENGINE.replace("0.2 +/- 0.06 kPa", "1.8 +/- 0.1 kPa")
    assert demand("crankcase.drain", oiled(engine=worn)) > 5.0 * usual


def test_a_missing_one_way_valve_is_named_with_what_is_left_without_it() -> None:
    of = oiled(text(breather=BREATHER | {"one_way_valve": "false"}))
    for code in ("crankcase.drain", "crankcase.seals"):
        one = found(code, of)
        assert "one-way valve" in fill(one.remedy)
        assert one.remedy.amounts["without"].value == pytest.approx(
            demand("crankcase.drain", oiled()), rel=1e-6
        )


def test_a_valve_that_is_not_enough_is_said_to_be_not_enough() -> None:
    worn = ENGINE.replace("0.2 +/- 0.06 kPa", "2.0 +/- 0.1 kPa")
    rest = text(breather=BREATHER | {"one_way_valve": "false"})
    assert "still more" in fill(found("crankcase.drain", oiled(rest, engine=worn)).remedy)
    assert "still more" not in fill(found("crankcase.drain", oiled(rest)).remedy)


def test_the_drop_of_the_remedy_holds() -> None:
    low = found("crankcase.drain", oiled(text(OIL | {"drain_drop": '"90 mm"'})))
    assert low.verdict is not Verdict.HOLDS
    drop = low.remedy.amounts["drop"].value
    mended = {"drain_drop": f'"{1e3 * drop:.0f} mm"'}
    assert found("crankcase.drain", oiled(text(OIL | mended))).verdict is Verdict.HOLDS


def test_a_valve_that_leaves_too_little_room_is_said_to_be_no_sure_hold() -> None:
    worn = ENGINE.replace("0.2 +/- 0.06 kPa", "0.35 +/- 0.06 kPa")
    one = found("crankcase.drain", oiled(text(breather=BREATHER | {"one_way_valve": "false"}), engine=worn))
    assert found("crankcase.drain", oiled(engine=worn)).verdict is Verdict.TIGHT  # with the valve
    assert "no sure hold" in fill(one.remedy)
    usual = found("crankcase.drain", oiled(text(breather=BREATHER | {"one_way_valve": "false"})))
    assert found("crankcase.drain", oiled()).verdict is Verdict.HOLDS
    assert "no sure hold" not in fill(usual.remedy)


@check(
    "limit", note="the same mass through the same passages: pressure loss goes with one over density; exact"
)
def test_thin_air_costs_more_for_the_same_mass() -> None:
    of = oiled()
    day = lines(of)[0]
    low = crankcase_line(of, day)
    high = crankcase_line(of, day._replace(ambient_pressure=0.75 * day.ambient_pressure))
    assert low is not None
    assert high is not None
    mass = (high.gas + high.seals) / (low.gas + low.seals)
    assert high.inside == pytest.approx(low.inside * mass**2 / 0.75)
    breather, gas = breather_of(of.build), np.array([5e-4, 2e-3])
    hose = [breather_pressure(breather, gas, np.zeros(2), share * 101325.0) for share in (1.0, 0.75)]
    assert hose[1] == pytest.approx(hose[0] / 0.75)


def test_a_reading_of_a_standing_engine_counts_as_none() -> None:
    standing = oiled(engine=ENGINE + '\ncrankcase_pressure_load = "standing"')
    one = found("crankcase.drain", standing)
    assert one.on_assumed_part
    assert "read standing" in fill(one.cause)
    unread = oiled(engine=ENGINE.replace("crankcase_pressure", "# crankcase_pressure"))
    assert demand("crankcase.drain", standing) == pytest.approx(demand("crankcase.drain", unread))
    assert demand("crankcase.drain", standing) > demand("crankcase.drain", oiled())


def test_an_open_breather_is_spoken_of() -> None:
    opened = found("crankcase.drain", oiled(text(breather=BREATHER | {"outlet": '"open"'})))
    assert any("300 mm" in fill(note) for note in opened.notes)
    assert found("crankcase.drain", oiled()).notes == ()


def test_blow_by_that_could_not_be_told_is_no_silent_pass() -> None:
    of = oiled()
    of.extra["blow_by"] = BlowBy(math.nan, {DAY: np.full(goal().speed.shape, 5e-4)})
    assert crankcase_worst(of) is None
    assert found("crankcase.drain", of).verdict is Verdict.UNKNOWN


def test_no_blow_by_no_word() -> None:
    of = oiled()
    del of.extra["blow_by"]
    assert crankcase_worst(of) is None
    assert maybe("crankcase.drain", of) is None


# ------------------------------------------------------------------------------------------------- can, lines


CAN = BREATHER | {"outlet": '"can"', "can_volume": '"0.8 L"', "can_interval": '"500 km"'}


def test_a_can_fills_with_distance_and_blow_by() -> None:
    usual = demand("crankcase.can", oiled(text(breather=CAN)))
    far = CAN | {"can_interval": '"1000 km"'}
    assert demand("crankcase.can", oiled(text(breather=far))) == pytest.approx(2.0 * usual)
    assert demand("crankcase.can", oiled(text(breather=CAN), blow_by=0.8e-3)) == pytest.approx(2.0 * usual)
    assert found("crankcase.can", oiled(text(breather=CAN))).verdict is Verdict.HOLDS
    tiny = CAN | {"can_volume": '"0.08 L"', "can_interval": '"3000 km"'}
    assert found("crankcase.can", oiled(text(breather=tiny))).verdict is Verdict.BREAKS
    nameless = {k: v for k, v in CAN.items() if k != "can_volume"}
    assert found("crankcase.can", oiled(text(breather=nameless))).verdict is Verdict.UNKNOWN
    assert maybe("crankcase.can", oiled()) is None


def test_the_way_and_the_can_of_the_remedy_hold() -> None:
    small = CAN | {"can_volume": '"0.1 +/- 0.001 L"'}
    one = found("crankcase.can", oiled(text(breather=small)))
    assert one.verdict is not Verdict.HOLDS
    often, size = (one.remedy.amounts[name].value for name in ("often", "size"))
    for change in (
        {"can_interval": f'"{0.999 * often / 1e3:.3f} km"'},
        {"can_volume": f'"{1.001e3 * size:.4f} +/- 0.001 L"'},
    ):
        assert found("crankcase.can", oiled(text(breather=small | change))).verdict is Verdict.HOLDS


@check("common practice", note="a can gathers 5 to 40 ml in 100 km")
def test_what_a_can_gathers() -> None:
    rate = found("crankcase.can", oiled(text(breather=CAN))).cause.amounts["rate"].value
    assert 50e-6 < rate < 400e-6  # in 1000 km


@pytest.mark.parametrize(
    ("change", "verdict", "names"),
    [
        ({}, Verdict.HOLDS, ()),
        ({"servo": '"open"'}, Verdict.BREAKS, ("brake servo",)),
        ({"servo": '"untried"'}, Verdict.BREAKS, ("brake servo",)),
        ({"tank_purge": '"open"', "others": '"open"'}, Verdict.BREAKS, ("purge", "other small lines")),
    ],
)
def test_small_lines_are_named(change: dict[str, str], verdict: Verdict, names: tuple[str, ...]) -> None:
    one = found("lines.boost", oiled(text(small_lines=SMALL_LINES | change)))
    assert one.verdict is verdict
    for name in names:
        assert name in fill(one.cause)
        assert name in fill(one.remedy)
    for name in {"brake servo", "purge", "idle valve"} - set(names):
        assert (name in fill(one.remedy)) == any(n in name for n in names)


def test_a_line_that_nobody_described_is_asked_for() -> None:
    rest = text(small_lines={k: v for k, v in SMALL_LINES.items() if k != "servo"})
    one = found("lines.boost", oiled(rest))
    assert one.verdict is Verdict.UNKNOWN
    assert "Not described: the brake servo" in fill(one.cause)
    assert maybe("lines.boost", oiled(text(small_lines=dict.fromkeys(SMALL_LINES, '"none"')))) is None

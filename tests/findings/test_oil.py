"""Findings of oil, crankcase, catch can and small lines, on invented lines and blow-by."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from boostwright.findings.blow_by_case import BlowBy
from boostwright.findings.case import Case
from boostwright.findings.crankcase_case import crankcase_line, crankcase_worst
from boostwright.findings.model import Finding, Kind, Verdict
from boostwright.findings.oil_case import hot_oil, sided
from boostwright.findings.registry import find_all
from boostwright.findings.worst import lines
from boostwright.library.oil import oil_constant
from boostwright.physics.nozzle import nozzle_flow
from boostwright.systems.oil import drain_of, feed_at, head_of
from boostwright.systems.stated.oil import oil_side_of
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check
from tests.sample import goal
from tests.systems.turbo_parts import parts

DAY = "on an ordinary warm day"
ENGINE = (
    'oil_pressure_idle = { value = "1.6 bar", source = "measured" }\n'
    'oil_pressure_3000 = { value = "4.0 bar", source = "measured" }\n'
    'crankcase_pressure = { value = "0.2 +/- 0.06 kPa", source = "measured" }'
)
OIL = {
    "grade": '"5W-40"', "temperature": '"98 degC"', "drain_bore": '"18 mm"', "drain_drop": '"220 mm"',
    "drain_slope": '"45 deg"', "drain_entry": '"40 mm"', "outlet_tilt": '"5 deg"', "feed_bore": '"4 mm"',
}  # fmt: skip
BREATHER = {"hose_bore": '"18 mm"', "length": '"0.7 m"', "one_way_valve": "true"}
PORTS = dict.fromkeys(("tank_purge", "idle_valve", "servo", "others"), '"tried"')
SPRING = {
    "relief_shim": '"1 mm"', "relief_wire": '"2.0 mm"', "relief_outside": '"14 mm"', "relief_turns": "8",
    "relief_free_length": '"42 mm"', "relief_fitted_length": '"34 mm"', "relief_plunger": '"14 mm"',
    "relief_port_travel": '"4 mm"',
}  # fmt: skip
CODES = (
    "oil.feed_least", "oil.feed_most", "oil.idle_pressure", "oil.drain", "oil.drain_entry",
    "oil.outlet_tilt", "oil.level", "oil.heat", "crankcase.drain", "crankcase.seals", "ports.boost",
)  # fmt: skip


def text(
    oil: dict[str, str] = OIL, breather: dict[str, str] = BREATHER, ports: dict[str, str] = PORTS
) -> str:
    rows = []
    for section, fields in (("oil", oil), ("breather", breather), ("ports", ports)):
        if fields:
            rows.append(
                f"[{section}]\nsource = 'measured'\n" + "\n".join(f"{k} = {v}" for k, v in fields.items())
            )
    return "\n".join(rows) + "\n"


def oiled(
    rest: str | None = None, engine: str = ENGINE, blow_by: float = 0.4e-3, more: str = "", **line: Any
) -> Case:
    """A case with a turbo, and blow-by that is 1.4 times that before at every speed."""
    document = build(engine=engine, rest=(text() if rest is None else rest) + more)
    with_line = replace(goal(), **line)
    given = case(document, with_line)
    gas = np.full(with_line.speed.shape, 1.4 * blow_by)
    given.extra["blow_by"] = BlowBy(blow_by, {DAY: gas})
    given.extra["turbo_parts"] = parts()
    return given


def demand(code: str, of: Case) -> float:
    one = found(code, of).demand
    assert one is not None
    return one.value


def capacity(code: str, of: Case) -> float:
    one = found(code, of).capacity
    assert one is not None
    return one.value


def told(of: Case) -> dict[str, Finding]:
    return {f.code: f for f in find_all(of) if f.code.split(".")[0] in ("oil", "crankcase", "ports")}


# ------------------------------------------------------------------------------------------------- whole


def test_a_file_that_says_nothing_is_asked_once() -> None:
    bare = oiled("", engine="")
    assert list(told(bare)) == ["oil.stated"]
    assert told(bare)["oil.stated"].verdict is Verdict.UNKNOWN
    assert "oil.stated" not in told(oiled())
    assert told(replace(bare, goal=None)) == {}


def test_a_well_described_build_holds_everywhere() -> None:
    with_bottle = told(oiled(text(OIL | {"turbo_flow": '"0.9 L/min"'})))
    assert {c: f.verdict for c, f in with_bottle.items()} == dict.fromkeys(CODES, Verdict.HOLDS)


def test_a_feed_that_is_enough_by_its_middle_is_told_to_be_measured() -> None:
    loose = oiled(engine=ENGINE.replace("4.0 bar", "3.6 bar"))
    one = found("oil.feed_least", loose)
    assert one.verdict is Verdict.TIGHT
    assert "spread" in fill(one.remedy)
    bottle = one.remedy.amounts["bottle"].value * 6e4
    engine = ENGINE.replace("4.0 bar", "3.6 bar")
    read = oiled(text(OIL | {"turbo_flow": f'"{bottle:.3f} L/min"'}), engine)
    assert found("oil.feed_least", read).verdict is Verdict.HOLDS


@pytest.mark.parametrize(
    "rest",
    [
        text(),
        text(OIL | SPRING),
        text(OIL | {"relief_shim": '"2 mm"'}),
        text({"drain_bore": '"9 mm"', "drain_slope": '"3 deg"', "drain_drop": '"-20 mm"'}, {}, {}),
        text(
            {"drain_slope": '"-5 deg"'}, {"one_way_valve": "false", "outlet": '"inlet"'}, {"servo": '"open"'}
        ),
        text(
            {"grade": '"what was in it"'}, {"outlet": '"can"', "can_volume": '"0.2 L"'}, {"others": '"none"'}
        ),
        text({"turbo_flow": '"0.1 L/min"'}, {"outlet": '"can"'}, dict.fromkeys(PORTS, '"none"')),
        text({}, {}, {"servo": '"untried"'}),
    ],
)
def test_every_sentence_is_whole(rest: str) -> None:
    for bearing in ("plain", "ball"):
        for engine in (ENGINE, "", 'oil_pressure_idle = "0.3 bar"\ncrankcase_pressure = "-0.1 kPa"'):
            of = oiled(rest, engine, more=f'[turbo]\nbearing = "{bearing}"\n')
            for one in told(of).values():
                for phrase in (one.cause, one.remedy, *one.notes):
                    words = fill(phrase)
                    assert "{" not in words
                    assert "nan" not in words.lower()
                    assert "not known" not in words
                    assert words.endswith(".")
                assert one.cautions
                assert one.verdict is not Verdict.UNKNOWN or one.reading.what


def test_small_pressures_are_said_in_kilopascal() -> None:
    one = found("crankcase.drain", oiled())
    assert one.demand is not None
    assert one.demand.kind is Kind.PRESSURE_SMALL
    assert "kPa" in fill(one.cause)
    assert "0.00 bar" not in fill(one.cause)


def test_nothing_assumed_breaks() -> None:
    bare = oiled(text({"temperature": '"98 degC"'}, {}, {}), engine="", blow_by=3e-3)
    for code in ("crankcase.drain", "crankcase.seals", "ports.boost"):
        assert told(bare)[code].verdict is Verdict.UNKNOWN, code


# ------------------------------------------------------------------------------------------ feed, drain


@check("conservation", note="demands and capacities are those of the oil side, computed apart; 1e-9")
def test_flows_come_from_the_oil_side() -> None:
    of = oiled()
    hot = hot_oil(of)
    assert hot is not None
    side = oil_side_of(of.build, {"oil.temperature": hot.value})
    top = side.top_speed
    assert demand("oil.feed_most", of) == pytest.approx(feed_at(side, top).flow, rel=1e-9)
    assert demand("oil.drain", of) == pytest.approx(feed_at(side, top).flow, rel=1e-9)
    assert capacity("oil.drain", of) == pytest.approx(drain_of(side, feed_at(side, top)), rel=1e-9)
    assert capacity("crankcase.drain", of) == pytest.approx(head_of(side), rel=1e-9)


@pytest.mark.parametrize(
    ("field", "value", "code", "side", "sign"),
    [
        ("feed_bore", '"0.8 mm"', "oil.feed_least", "demand", -1),
        ("turbo_flow", '"0.3 L/min"', "oil.feed_least", "demand", -1),
        ("turbo_flow", '"2.5 L/min"', "oil.feed_most", "demand", +1),
        ("grade", '"10W-60"', "oil.feed_most", "demand", -1),
        ("turbo_flow", '"2.5 L/min"', "oil.idle_pressure", "demand", -1),
        ("temperature", '"125 degC"', "oil.heat", "demand", +1),
        ("drain_bore", '"12 mm"', "oil.drain", "capacity", -1),
        ("drain_slope", '"10 deg"', "oil.drain", "capacity", -1),
        ("drain_drop", '"120 mm"', "crankcase.drain", "capacity", -1),
        ("added_volume", '"0.9 L"', "oil.level", "demand", +1),
        ("cooler", "true", "oil.level", "demand", +1),
        ("extra_fill", '"0.2 L"', "oil.level", "demand", -1),
    ],
)
def test_each_field_moves_its_finding(field: str, value: str, code: str, side: str, sign: int) -> None:
    of = demand if side == "demand" else capacity
    usual, moved = of(code, oiled()), of(code, oiled(text(OIL | {field: value})))
    assert sign * (moved - usual) > 0.02 * abs(usual)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"feed_bore": '"0.45 mm"'}, "oil.feed_least"),
        ({"turbo_flow": '"4 L/min"'}, "oil.feed_most"),
        ({"drain_bore": '"7 mm"'}, "oil.drain"),
        ({"drain_slope": '"-2 deg"'}, "oil.drain"),
        ({"drain_entry": '"-20 mm"'}, "oil.drain_entry"),
        ({"outlet_tilt": '"50 deg"'}, "oil.outlet_tilt"),
        ({"added_volume": '"2 L"'}, "oil.level"),
        ({"temperature": '"140 degC"'}, "oil.heat"),
        ({"drain_drop": '"20 mm"'}, "crankcase.drain"),
    ],
)
def test_a_harmful_value_breaks(change: dict[str, str], code: str) -> None:
    assert found(code, oiled(text(OIL | change))).verdict is Verdict.BREAKS


def test_rolling_bearings_take_less_and_want_a_restrictor() -> None:
    ball = '[turbo]\nbearing = "ball"\n'
    without = {k: v for k, v in OIL.items() if k != "feed_bore"}
    free = found("oil.feed_most", oiled(text(without), more=ball))
    assert free.verdict is Verdict.UNKNOWN  # nobody said that there is none
    stated = found("oil.feed_most", oiled(text(OIL | {"feed_bore": '"4 mm"'}), more=ball))
    assert stated.verdict is Verdict.BREAKS
    bore = stated.remedy.amounts["bore"].value
    assert 0.7e-3 <= bore < 1.25e-3
    fitted = oiled(text(OIL | {"feed_bore": f'"{bore * 1e3:.1f} mm"'}), more=ball)
    assert found("oil.feed_most", fitted).verdict is Verdict.HOLDS
    assert found("oil.feed_least", fitted).verdict is Verdict.HOLDS


@pytest.mark.parametrize("bore", ["8 mm", "11 mm"])
def test_the_drain_of_the_remedy_holds(bore: str) -> None:
    small = found("oil.drain", oiled(text(OIL | {"drain_bore": f'"{bore}"', "drain_slope": '"8 deg"'})))
    wide, steep = small.remedy.amounts["wide"].value, small.remedy.amounts["steep"].value
    better = {"drain_bore": f'"{wide * 1e3:.1f} mm"', "drain_slope": f'"{math.degrees(steep):.1f} deg"'}
    assert found("oil.drain", oiled(text(OIL | better))).verdict is Verdict.HOLDS


def test_wide_spreads_are_factors() -> None:
    assert sided(2.0, 1.0, 5.0) == 1.0
    assert sided(2.0, 1.0, 0.5) == pytest.approx(2.0 - 2.0 / 1.5)
    assert sided(-1.0, 1.0, -3.0) == 1.0


# ------------------------------------------------------------------------------------------------- heat


def test_what_warms_the_oil() -> None:
    usual = demand("oil.heat", oiled())
    hot_gas = oiled(turbine_inlet_temperature=goal().turbine_inlet_temperature + 150.0)
    fast = oiled(shaft_speed=1.3 * goal().shaft_speed)
    assert demand("oil.heat", hot_gas) > usual
    assert demand("oil.heat", fast) > usual
    assert demand("oil.heat", oiled(more="[turbo]\nwater_cooled = true\n")) < usual
    assert demand("oil.heat", oiled(more='[cooler]\npull_time = "20 s"\n')) > usual
    assert demand("oil.heat", oiled(text(OIL | {"sump_volume": '"7 L"'}))) < usual


@check(
    "common practice",
    note="oil leaves a plain turbo of this size 15 to 50 K warmer at full load, 1 to 4 kW",
)
def test_rise_through_the_turbo() -> None:
    amounts = found("oil.heat", oiled()).cause.amounts
    assert 15.0 < amounts["rise"].value < 50.0
    assert 1.0e3 < amounts["turbo"].value < 4.0e3


# ------------------------------------------------------------------------------------------------- crankcase


@check("limit", note="sealed, without hose loss: the reading times the square of the flow's ratio; exact")
def test_the_reading_scales_with_the_square_of_blow_by() -> None:
    of = oiled()
    at = crankcase_line(of, lines(of)[0])
    assert at is not None
    assert at.inside == pytest.approx(200.0 * 1.4**2)
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


def test_the_drop_of_the_remedy_holds() -> None:
    low = found("crankcase.drain", oiled(text(OIL | {"drain_drop": '"90 mm"'})))
    assert low.verdict is not Verdict.HOLDS
    drop = low.remedy.amounts["drop"].value
    mended = {"drain_drop": f'"{1e3 * drop:.0f} mm"'}
    assert found("crankcase.drain", oiled(text(OIL | mended))).verdict is Verdict.HOLDS


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
    one = found("ports.boost", oiled(text(ports=PORTS | change)))
    assert one.verdict is verdict
    for name in names:
        assert name in fill(one.cause)
        assert name in fill(one.remedy)
    for name in {"brake servo", "purge", "idle valve"} - set(names):
        assert (name in fill(one.remedy)) == any(n in name for n in names)


def test_a_line_that_nobody_described_is_asked_for() -> None:
    rest = text(ports={k: v for k, v in PORTS.items() if k != "servo"})
    one = found("ports.boost", oiled(rest))
    assert one.verdict is Verdict.UNKNOWN
    assert "Not described: the brake servo" in fill(one.cause)
    assert maybe("ports.boost", oiled(text(ports=dict.fromkeys(PORTS, '"none"')))) is None


# ------------------------------------------------------------------------------------------------- relief


def test_no_shim_no_word() -> None:
    assert not {"oil.shim_need", "oil.shim_travel", "oil.shim_peak"} & set(told(oiled()))


@check("published", id="O8", source="shigley2015", note="from memory; a millimetre adds 0.745 bar, by hand")
def test_a_millimetre_of_shim() -> None:
    one = found("oil.shim_peak", oiled(text(OIL | SPRING)))
    assert one.cause.amounts["adds"].value / 1e5 == pytest.approx(0.745, abs=0.002)
    two = found("oil.shim_peak", oiled(text(OIL | SPRING | {"relief_shim": '"2 mm"'})))
    assert two.cause.amounts["adds"].value == pytest.approx(2.0 * one.cause.amounts["adds"].value)


@check("limit", note="fitted 34, solid 20, port 4, shim 1 mm: 9 mm are left when the port is open; exact")
def test_travel_left() -> None:
    assert demand("oil.shim_travel", oiled(text(OIL | SPRING))) == pytest.approx(9e-3)
    assert found("oil.shim_travel", oiled(text(OIL | SPRING))).verdict is Verdict.HOLDS
    thick = oiled(text(OIL | SPRING | {"relief_shim": '"9.5 mm"'}))
    assert found("oil.shim_travel", thick).verdict is Verdict.BREAKS
    solid = oiled(text(OIL | SPRING | {"relief_shim": '"10 mm"', "relief_fitted_length": '"29 mm"'}))
    assert "solid before" in fill(found("oil.shim_travel", solid).cause)
    unmeasured = oiled(text(OIL | {"relief_shim": '"1 mm"'}))
    assert found("oil.shim_travel", unmeasured).verdict is Verdict.UNKNOWN


def test_a_shim_is_needed_only_where_speed_is_low_and_idle_is_not() -> None:
    rest = text(OIL | SPRING)
    good = found("oil.shim_need", oiled(rest))
    assert good.verdict is Verdict.BREAKS
    assert "Take the shim out" in fill(good.remedy)
    low = ENGINE.replace("4.0 bar", "1.9 bar")
    assert found("oil.shim_need", oiled(rest, low)).verdict is Verdict.HOLDS
    worn = low.replace("1.6 bar", "0.4 bar")
    one = found("oil.shim_need", oiled(rest, worn))
    assert one.verdict is Verdict.BREAKS
    assert "wear" in fill(one.cause)
    assert found("oil.shim_need", oiled(rest, "")).verdict is Verdict.UNKNOWN


def test_a_cold_reading_goes_before_what_is_worked_out() -> None:
    cold = OIL | SPRING | {"cold_pressure": '"5.0 bar"'}
    read = demand("oil.shim_peak", oiled(text(cold)))
    assert read == pytest.approx(5.0e5 + 0.745e5, rel=1e-3)
    thick = found("oil.shim_peak", oiled(text(cold | {"relief_shim": '"4 mm"'})))
    assert thick.verdict is Verdict.BREAKS
    assert "shim" in fill(thick.remedy)
    by_spring = demand("oil.shim_peak", oiled(text(OIL | SPRING)))
    stiffer = demand("oil.shim_peak", oiled(text(OIL | SPRING | {"relief_free_length": '"45 mm"'})))
    assert stiffer > by_spring

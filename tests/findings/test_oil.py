"""Findings of oil, crankcase, catch can and small lines, on invented lines and blow-by."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from boostwright.build.catalogue import Field, FieldType, catalogue
from boostwright.findings.case import CornerLine
from boostwright.findings.model import Kind, Verdict
from boostwright.findings.oil_case import hot_oil, oil_side, sided
from boostwright.quantity import write
from boostwright.systems.oil import READ_AT, drain_of, feed_at, head_of, minutes_to
from boostwright.views.numbers import fill
from tests.findings.oiled import (
    BREATHER,
    CODES,
    ENGINE,
    OIL,
    SMALL_LINES,
    SPRING,
    capacity,
    demand,
    oiled,
    text,
    told,
)
from tests.findings.test_subjects import found, maybe
from tests.labels import check
from tests.sample import goal

# ------------------------------------------------------------------------------------------------- whole


@pytest.mark.parametrize("silent", ["oil", "breather", "small_lines"])
def test_what_a_file_is_silent_of_is_asked_for_and_judged_no_further(silent: str) -> None:
    rest = text(**({"oil": OIL, "breather": BREATHER, "small_lines": SMALL_LINES} | {silent: {}}))
    codes = set(told(oiled(rest)))
    assert "oil.stated" in codes
    gone = {"oil": "oil.drain", "breather": "crankcase.drain", "small_lines": "lines.boost"}
    assert {code for code in gone.values() if code not in codes} == {gone[silent]}
    asked = found("oil.stated", oiled(rest))
    assert f"[{silent}]" in fill(asked.remedy)
    assert all(f"[{other}]" not in fill(asked.remedy) for other in gone if other != silent)


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
        text({"turbo_flow": '"0.1 L/min"'}, {"outlet": '"can"'}, dict.fromkeys(SMALL_LINES, '"none"')),
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
    rest = text({"temperature": '"98 degC"'}, {"length": '"0.7 m"'}, {"others": '"none"'})
    bare = oiled(rest, engine="", blow_by=3e-3)
    for code in ("crankcase.drain", "crankcase.seals", "lines.boost"):
        assert told(bare)[code].verdict is Verdict.UNKNOWN, code


def _anything(rng: np.random.Generator) -> str:
    """Oil, breather and lines with values drawn anywhere inside the ranges of their fields; the spring, which
    must fit together, only in its shim.
    """
    rows = []
    for name in ("oil", "breather", "small_lines"):
        rows.append(f"[{name}]\nsource = 'measured'")
        for known in catalogue().sections[name].fields:
            spring = known.name.startswith("relief_") and known.name != "relief_shim"
            if not spring and known.name != "grade" and rng.random() < 0.65:
                rows.append(f"{known.name} = {_value(rng, known)}")
    return "\n".join(rows) + "\n"


def _value(rng: np.random.Generator, known: Field) -> str:
    if known.type is FieldType.CHOICE:
        return f'"{rng.choice(list(known.choices))}"'
    if known.type is FieldType.FLAG:
        return "true" if rng.random() < 0.5 else "false"
    assert known.low is not None
    assert known.high is not None
    assert known.dimension is not None
    share = float(rng.choice([0.0, 1.0, rng.random(), rng.random()]))
    value = known.low + share * (known.high - known.low)
    return str(round(value)) if known.whole else f'"{write(value, known.unit, known.dimension, digits=6)}"'


@pytest.mark.parametrize("seed", range(30))
def test_no_file_within_the_ranges_makes_a_rule_stumble(seed: int) -> None:
    rng = np.random.default_rng(seed)
    of = oiled(_anything(rng), more=f'[turbo]\nbearing = "{rng.choice(["plain", "ball"])}"\n')
    assert told(of)
    for one in told(of).values():
        for phrase in (one.cause, one.remedy, *one.notes):
            words = fill(phrase).lower()
            assert not re.search(r"\bnan\b|\binf\b|not known", words), f"{one.code}: {words}"
        for side in (one.demand, one.capacity):
            assert side is None or math.isfinite(side.value), one.code


# ------------------------------------------------------------------------------------------ feed, drain


def test_flows_come_from_the_oil_side() -> None:
    of = oiled()
    side = oil_side(of)
    top = side.top_speed
    assert demand("oil.feed_most", of) == feed_at(side, top).flow == demand("oil.drain", of)
    assert capacity("oil.drain", of) == drain_of(side, feed_at(side, top))
    assert capacity("crankcase.drain", of) == head_of(side)


@check(
    "reference library",
    source="scipy",
    note="the feed's law and Walther's line written out anew, the root by bisection; 1e-6",
)
def test_flow_at_the_top_by_another_way() -> None:
    of = oiled()
    hot = hot_oil(of)
    assert hot is not None
    at_40, at_100 = 85.0, 14.2  # mm2/s, hot grade of 40

    def dynamic(T: float) -> tuple[float, float]:
        warm, hundred = (math.log10(math.log10(v + 0.7)) for v in (at_40, at_100))
        along = math.log10(T / 313.15) / math.log10(373.15 / 313.15)
        density = 860.0 * (1.0 - 6.4e-4 * (T - 288.15))
        return (10.0**10.0 ** (warm + along * (hundred - warm)) - 0.7) * 1e-6 * density, density

    viscosity, density = dynamic(hot.value)
    pressure = 1.15 * 4.0e5 * math.sqrt(viscosity / dynamic(363.15)[0])
    area = 0.61 * math.pi / 4.0 * 4e-3**2
    flow = brentq(
        lambda q: density / 2.0 * (q / area) ** 2 + viscosity * q / 1.0e-12 - pressure, 0.0, 1e-2, xtol=1e-15
    )
    assert demand("oil.feed_most", of) == pytest.approx(flow, rel=1e-6)
    column = density * 9.80665 * 0.220 * (1.0 - 0.45)
    assert capacity("crankcase.drain", of) == pytest.approx(column, rel=1e-6)


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


def test_a_feed_without_a_stated_bore_is_said_to_be_taken_as_wide() -> None:
    without = {k: v for k, v in OIL.items() if k != "feed_bore"}
    assert "smallest bore is not stated" in fill(found("oil.feed_least", oiled(text(without))).cause)
    assert "not stated" not in fill(found("oil.feed_least", oiled()).cause)
    read = oiled(text(without | {"turbo_flow": '"0.9 L/min"'}))
    assert "not stated" not in fill(found("oil.feed_least", read).cause)


BALL = '[turbo]\nbearing = "ball"\n'


def test_a_bottle_goes_before_a_bore_that_cannot_pass_it() -> None:
    told_both = oiled(text(OIL | {"feed_bore": '"1.1 mm"', "turbo_flow": '"4 L/min"'}), more=BALL)
    one = found("oil.feed_most", told_both)
    assert one.verdict is Verdict.BREAKS
    assert one.demand is not None
    assert one.demand.value > 4.0 / 6e4  # at the top of the rev range no less than at idle
    assert "filled faster than" in fill(one.cause)
    agrees = oiled(text(OIL | {"feed_bore": '"4 mm"', "turbo_flow": '"0.9 L/min"'}))
    assert "filled faster than" not in fill(found("oil.feed_most", agrees).cause)


@pytest.mark.parametrize("change", [{"turbo_flow": '"3 L/min"'}, {"temperature": '"118 degC"'}])
def test_a_restrictor_is_chosen_for_the_bearing_as_it_is_and_hot_oil(change: dict[str, str]) -> None:
    of = oiled(text(OIL | change), more=BALL)
    one = found("oil.feed_most", of)
    bore = one.remedy.amounts["bore"].value
    fitted = replace(oil_side(of), restrictor=bore)
    wider = replace(fitted, restrictor=bore + 1e-4)
    most = one.remedy.amounts["most"].value
    assert feed_at(fitted, fitted.top_speed).flow <= most < feed_at(wider, wider.top_speed).flow
    idle = feed_at(fitted, fitted.idle_speed, READ_AT).flow
    again = change | {"feed_bore": f'"{bore * 1e3:.1f} mm"'}
    if "turbo_flow" in change:
        assert "bottle again" in fill(one.remedy)
        again["turbo_flow"] = f'"{idle * 6e4:.3f} L/min"'
    assert found("oil.feed_most", oiled(text(OIL | again), more=BALL)).verdict is Verdict.HOLDS


@pytest.mark.parametrize("bore", ["8 mm", "11 mm"])
def test_the_drain_of_the_remedy_holds(bore: str) -> None:
    small = found("oil.drain", oiled(text(OIL | {"drain_bore": f'"{bore}"', "drain_slope": '"8 deg"'})))
    wide, steep = small.remedy.amounts["wide"].value, small.remedy.amounts["steep"].value
    better = {"drain_bore": f'"{wide * 1e3:.1f} mm"', "drain_slope": f'"{math.degrees(steep):.1f} deg"'}
    assert found("oil.drain", oiled(text(OIL | better))).verdict is Verdict.HOLDS


@pytest.mark.parametrize(("extra", "verdict"), [("0.5 L", Verdict.HOLDS), ("1.9 L", Verdict.BREAKS)])
def test_too_much_oil_is_judged_as_too_little_is(extra: str, verdict: Verdict) -> None:
    one = found("oil.level", oiled(text(OIL | {"added_volume": '"0.3 L"', "extra_fill": f'"{extra}"'})))
    assert one.verdict is verdict
    assert one.demand is not None
    assert one.demand.value > 0.0
    assert "above the upper mark" in fill(one.cause)
    if verdict is Verdict.BREAKS:
        assert "Drain 1.6" in fill(one.remedy)
        drained = oiled(text(OIL | {"added_volume": '"0.3 L"', "extra_fill": '"0.3 L"'}))
        even = found("oil.level", drained)
        assert even.verdict is Verdict.HOLDS
        assert fill(even.remedy).startswith("Dip it")


def test_a_low_idle_is_said_once() -> None:
    low = oiled(engine=ENGINE.replace("1.6 bar", "0.6 bar"))
    assert found("engine.oil_idle", low).verdict is Verdict.BREAKS
    assert maybe("oil.idle_pressure", low) is None
    near = oiled(text(OIL | {"turbo_flow": '"3 L/min"'}), ENGINE.replace("1.6 bar", "1.0 bar"))
    one = found("oil.idle_pressure", near)
    assert one.verdict is not Verdict.HOLDS
    assert one.demand is not None
    assert one.remedy.amounts["needed"].value > 1.0e5 > one.demand.value


@pytest.mark.parametrize("flow", [None, "2 L/min", "3.5 L/min"])
@pytest.mark.parametrize("bar", [0.85, 0.95, 1.05])
def test_the_reading_of_the_remedy_leaves_enough_at_idle(bar: float, flow: str | None) -> None:
    rest = text(OIL | ({} if flow is None else {"turbo_flow": f'"{flow}"'}))
    one = found("oil.idle_pressure", oiled(rest, ENGINE.replace("1.6 bar", f"{bar} bar")))
    assert one.verdict is not Verdict.HOLDS
    needed = one.remedy.amounts["needed"].value / 1e5
    assert needed > bar
    mended = ENGINE.replace("1.6 bar", f"{needed:.4f} bar")
    assert found("oil.idle_pressure", oiled(rest, mended)).verdict is Verdict.HOLDS


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
    "limit", note="20 K hotter air: oil 20 K hotter, and the cooler takes conductance times 20 K more; exact"
)
def test_a_hot_day_counts_in_cooler_and_time() -> None:
    of = oiled(text(OIL | {"temperature": '"118 degC"'}))
    assert of.goal is not None
    day = CornerLine("hot", "", of.ambient_pressure, of.ambient_temperature + 20.0, False, of.goal)
    hot = replace(of, corners=(day,), extra={k: v for k, v in of.extra.items() if k != "hot_oil"})
    before, now = hot_oil(of), hot_oil(hot)
    assert before is not None
    assert now is not None
    assert now.value == pytest.approx(before.value + 20.0)
    takes = [found("oil.heat", one).remedy.amounts["takes"].value for one in (of, hot)]
    assert takes[1] - takes[0] == pytest.approx(20.0 * now.heat.conductance)
    assert minutes_to(now.heat, 403.15) < minutes_to(before.heat, 403.15)
    assert "118" in fill(found("oil.heat", hot).cause)


@check(
    "common practice",
    note="oil leaves a plain turbo of this size 15 to 50 K warmer at full load, 1 to 4 kW",
)
def test_rise_through_the_turbo() -> None:
    amounts = found("oil.heat", oiled()).cause.amounts
    assert 15.0 < amounts["rise"].value < 50.0
    assert 1.0e3 < amounts["turbo"].value < 4.0e3


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
    cold = OIL | SPRING
    gauge = ENGINE + '\noil_pressure_cold = "5.0 bar"'
    read = demand("oil.shim_peak", oiled(text(cold), gauge))
    assert read == pytest.approx(5.0e5 + 0.745e5, rel=1e-3)
    thick = found("oil.shim_peak", oiled(text(cold | {"relief_shim": '"4 mm"'}), gauge))
    assert thick.verdict is Verdict.BREAKS
    assert "shim" in fill(thick.remedy)
    by_spring = demand("oil.shim_peak", oiled(text(OIL | SPRING)))
    stiffer = demand("oil.shim_peak", oiled(text(OIL | SPRING | {"relief_free_length": '"45 mm"'})))
    assert stiffer > by_spring

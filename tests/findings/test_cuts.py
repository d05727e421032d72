"""The order of cuts in the worst corner, the controller under boost, and single failures played through."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from boostwright.findings.case import Case, GoalLine, StrengthLine
from boostwright.findings.limited_pressure import knock_ceiling, strength_ceiling
from boostwright.findings.model import Finding, Kind, Verdict
from boostwright.readers.build_file import read_build
from boostwright.views.numbers import fill
from tests.findings.test_fuel import corner, plain, with_corners
from tests.findings.test_subjects import MINIMAL, build, case, found, maybe
from tests.labels import check
from tests.sample import DEG, cycles, goal


def settings(cut: str = "", top: str = "", more: str = "", sensor: str = "") -> str:
    lines = ["[controller]"]
    lines += [f'boost_cut = "{cut}"'] if cut else []
    lines += [f'table_top = "{top}"'] if top else []
    lines += [more, "[pressure_sensor]"]
    lines += [f'highest = "{sensor}"'] if sensor else []
    return "\n".join(lines) + "\n"


def easy(peak: float = 60e5, ca50: float = 10 * DEG, line: GoalLine | None = None) -> Case:
    """A case whose peak pressure goes with the plenum up to `peak`, with one half-burned point."""
    with_turbo = line or goal()
    n = with_turbo.speed.size
    result = with_turbo.result._replace(ca50=np.full(n, ca50))
    share = with_turbo.plenum_pressure / with_turbo.plenum_pressure.max()
    strong = cycles(with_turbo.speed)._replace(peak_pressure=peak * share)
    made = replace(with_turbo, result=result)
    return case(line_with=made, strength=StrengthLine(made.speed, made.mbt_spark, 2 * DEG, strong))


def told(given: Case, rest: str) -> Case:
    return replace(given, build=build('pistons = "cast"\nrods = "forged"', rest=rest))


# -------------------------------------------------------------------------------------------- order of cuts


@check("limit", note="peak pressure goes with the plenum: p_plenum limit/peak, by hand")
def test_pressure_that_pistons_stand_by_hand() -> None:
    given = told(easy(peak=60e5), "")
    ceiling = strength_ceiling(given)
    assert ceiling is not None
    assert given.goal is not None
    assert ceiling.amount.value == pytest.approx(given.goal.plenum_pressure.max() * 105 / 60)
    assert ceiling.words == "pistons and gasket"


@check("limit", note="one degree of spark an octane number, 3.5 of them for 10 kPa (russ1996), by hand")
def test_pressure_that_knock_allows_by_hand() -> None:
    given = told(easy(ca50=10 * DEG), "")
    ceiling = knock_ceiling(given)
    assert ceiling is not None
    assert given.goal is not None
    lowest = given.goal.plenum_pressure[given.goal.turbine_enough].min()
    assert ceiling.amount.value == pytest.approx(lowest + ((36 - 10) / 1.2 - 2) / 3.5 * 10e3)


def test_the_cut_stands_below_strength_and_knock() -> None:
    given = easy(peak=60e5, ca50=5 * DEG)
    for code in ("boost.cut_strength", "boost.cut_knock"):
        assert maybe(code, told(given, "")) is None
        low, high = (
            found(code, told(given, settings(cut, sensor="300 kPa"))) for cut in ("140 kPa", "290 kPa")
        )
        assert low.verdict is not Verdict.BREAKS
        assert high.verdict is Verdict.BREAKS
        assert low.probability is not None
        assert high.probability is not None
        assert low.probability > high.probability
        assert low.demand is not None
        assert low.demand.value > 140e3  # something passes the cut before the fuel stops


def lower(given: Case, less: float) -> Case:
    """The same car with so much less boost [Pa]: wish, plenum and hardest burn come down together."""
    assert given.goal is not None
    assert given.strength is not None
    plenum = given.goal.plenum_pressure - less
    strong = given.strength.result
    strong = strong._replace(peak_pressure=strong.peak_pressure * plenum / given.goal.plenum_pressure)
    text = MINIMAL.replace("0.6 bar", f"{(0.6e5 - less) / 1e5:.6f} bar").format(
        engine='pistons = "cast"\nrods = "forged"', fuel="", rest=settings("200 kPa", sensor="300 kPa")
    )
    return replace(
        given,
        build=read_build(text.encode()),
        goal=replace(given.goal, plenum_pressure=plenum, boost=given.goal.boost - less),
        strength=replace(given.strength, result=strong),
    )


@check("limit", note="the ceiling of strength stays where it is: what is asked less fits a cut under it")
def test_no_cut_fits_says_what_stands_in_the_way_and_how_much_less_boost_makes_room() -> None:
    tight = lower(easy(peak=90e5), 0.0)
    stuck = found("boost.cut_strength", tight)
    text = fill(stuck.remedy).replace("\u00a0", " ")
    assert text.startswith("No cut fits. Pistons and gasket give out at about 190 ± ")
    assert "an ordinary pull reaches" in text
    assert "fit pistons and a gasket that stand more" in text
    less = stuck.remedy.amounts["less"].value
    assert 0.0 < less < 0.4e5
    assert stuck.remedy.amounts["fits"].value == pytest.approx(0.6e5 - less)
    assert "less makes room for a sure cut at" in text
    eased = found("boost.cut_strength", lower(easy(peak=90e5), less))
    assert fill(eased.remedy).startswith("Set the cut at ")
    assert eased.remedy.amounts["sure"].value == pytest.approx(stuck.remedy.amounts["sure"].value)
    open_hose = found("failure.gate_hose", replace(tight, gate_shut=tight.goal))
    assert open_hose.remedy.text.startswith("No cut fits. ")
    knocking = lower(easy(peak=40e5, ca50=80 * DEG), 0.0)
    hopeless = fill(found("boost.cut_knock", knocking).remedy).replace("\u00a0", " ")
    assert "Knock leaves no useful spark" in hopeless
    assert "Less boost alone leaves nothing of 0.60 bar gauge: run fuel of more octane" in hopeless
    assert "octane" in hopeless


def test_the_worst_corner_decides_the_ceilings() -> None:
    given = told(easy(), settings("150 kPa", sensor="300 kPa"))
    assert given.goal is not None
    hot = replace(given.goal, result=given.goal.result._replace(ca50=np.full(12, 24 * DEG)))
    both = with_corners(given, corner(hot, "pass road in August", 0.82e5, 304.0))
    alone, worse = found("boost.cut_knock", given), found("boost.cut_knock", both)  # type: ignore[arg-type]
    assert worse.corner == "pass road in August"
    assert worse.capacity is not None
    assert alone.capacity is not None
    assert worse.capacity.value < alone.capacity.value
    hard = cycles(given.goal.speed)._replace(peak_pressure=np.full(12, 90e5))
    dense = SimpleNamespace(
        name="frosty night", ambient_pressure=1.02e5, ambient_temperature=261.0, goal=goal(),
        strength=StrengthLine(given.goal.speed, given.goal.mbt_spark, 2 * DEG, hard),
    )  # fmt: skip
    colder = found("boost.cut_strength", with_corners(given, dense))  # type: ignore[arg-type]
    assert colder.corner == "frosty night"


def test_a_corner_with_more_boost_raises_what_cut_sensor_and_tables_must_bear() -> None:
    given = case(build(rest=settings("185 kPa", "185 kPa", sensor="190 kPa")))
    dense = replace(goal(), plenum_pressure=goal().plenum_pressure + 0.15e5)
    both = with_corners(given, corner(dense, "frosty night"))
    for code in ("boost.cut", "sensor.range", "controller.table_top"):
        a, b = found(code, given), found(code, both)  # type: ignore[arg-type]
        assert b.demand is not None
        assert a.demand is not None
        assert b.demand.value == pytest.approx(
            max(a.demand.value, dense.plenum_pressure.max() + 18e3), abs=1.0
        )
        assert b.corner == "frosty night"


def test_a_stiff_spring_counts_above_what_the_match_was_asked_for() -> None:
    rest = '[wastegate]\nspring = "0.9 bar"\n' + settings("205 kPa", sensor="300 kPa")
    one = found("boost.cut", case(build(rest=rest)))
    assert one.demand is not None
    assert one.demand.value == pytest.approx(1.0e5 + 0.9e5 + 8e3 + 10e3)


def test_creep_is_not_counted_twice_when_the_match_has_a_gate() -> None:
    def highest(rest: str, gate: bool) -> float:
        given = case(build(rest=rest + settings("205 kPa", sensor="300 kPa")))
        assert given.goal is not None
        fields = {name: getattr(given.goal, name) for name in given.goal.__dataclass_fields__}
        line = SimpleNamespace(**{**fields, "gate_lift": np.zeros(12) if gate else None})
        both = with_corners(given)
        both.goal = line  # type: ignore[attr-defined]
        demand = found("boost.cut", both).demand  # type: ignore[arg-type]
        assert demand is not None
        return demand.value

    creep = '[wastegate]\ncreep = { value = "20 kPa", source = "measured" }\n'
    assert highest("", gate=False) == pytest.approx(1.6e5 + 8e3 + 10e3)
    assert highest("", gate=True) == pytest.approx(1.6e5 + 10e3)
    assert highest(creep, gate=False) == pytest.approx(1.6e5 + 20e3 + 10e3)
    assert highest(creep, gate=True) == pytest.approx(1.6e5 + 20e3 + 10e3)


@check("common practice", note="a sensor of unknown transfer may end near 105 kPa: unknown, never 'holds'")
def test_a_cut_on_an_unknown_sensor_is_unknown() -> None:
    for cut in ("102 kPa", "180 kPa"):
        one = found("sensor.cut", case(build(rest=settings(cut))))
        assert one.verdict is Verdict.UNKNOWN
    assert found("sensor.range", case(build(rest=settings("180 kPa")))).verdict is Verdict.UNKNOWN


@check(
    "common practice", note="a 3 bar absolute sensor leaves ample room at 10 psi; one that ends at 1.05 none"
)
@pytest.mark.parametrize(
    ("top", "verdict"), [("105 kPa", Verdict.BREAKS), ("170 kPa", Verdict.BREAKS), ("300 kPa", Verdict.HOLDS)]
)
def test_sensor_ranges_of_the_trade_at_ten_psi(top: str, verdict: Verdict) -> None:
    line = goal(boost=10 * 6894.757)
    assert found("sensor.range", case(build(rest=settings(sensor=top)), line)).verdict is verdict


def test_sensor_cut_and_remedy() -> None:
    good = found("sensor.cut", case(build(rest=settings("205 kPa", sensor="250 kPa"))))
    bad = found("sensor.cut", case(build(rest=settings("205 kPa", sensor="150 kPa"))))
    assert good.verdict is Verdict.HOLDS
    assert bad.verdict is Verdict.BREAKS
    needed = bad.remedy.amounts["needed"].value / 1e3
    assert (
        found("sensor.cut", case(build(rest=settings("205 kPa", sensor=f"{needed:.1f} kPa")))).verdict
        is not Verdict.BREAKS
    )


# ----------------------------------------------------------------------------------------------- controller


def test_closed_loop_under_boost_breaks() -> None:
    def loop(pressure: str) -> Finding:
        return found(
            "controller.closed_loop", case(build(rest=settings(more=f'closed_loop_below = "{pressure}"')))
        )

    assert loop("85 kPa").verdict is Verdict.HOLDS
    one = loop("250 kPa")
    assert one.verdict is Verdict.BREAKS
    assert "lambda 1" in fill(one.cause)
    assert maybe("controller.closed_loop", case()) is None


def test_tables_must_reach_the_cut() -> None:
    short = found("controller.table_top", case(build(rest=settings("250 kPa", "230 kPa", sensor="300 kPa"))))
    assert short.demand is not None
    assert short.demand.value == pytest.approx(250e3)
    assert short.verdict is Verdict.BREAKS
    sure = short.remedy.amounts["sure"].value / 1e3
    mended = settings("250 kPa", f"{sure:.1f} kPa", sensor="300 kPa")
    assert found("controller.table_top", case(build(rest=mended))).verdict is Verdict.HOLDS
    assert maybe("controller.table_top", case()) is None


def test_the_air_meter_is_judged_only_where_there_is_one() -> None:
    def meter(more: str) -> Finding | None:
        return maybe("controller.meter_range", case(build(rest=settings(more=more))))

    assert meter("") is None
    small = meter('load = "air-meter"\nmeter_highest = "100 g/s"')
    large = meter('load = "air-meter"\nmeter_highest = "400 g/s"')
    unknown = meter('load = "air-meter"')
    assert small is not None
    assert large is not None
    assert unknown is not None
    assert small.verdict is Verdict.BREAKS
    assert large.verdict is Verdict.HOLDS
    assert unknown.verdict is Verdict.UNKNOWN
    assert small.demand is not None
    assert small.demand.value == pytest.approx(float(goal().result.air_flow.max()))
    needed = small.remedy.amounts["needed"].value * 1e3
    again = meter(f'load = "air-meter"\nmeter_highest = "{needed + 25:.0f} g/s"')
    assert again is not None
    assert again.verdict is not Verdict.BREAKS


def test_an_electronic_throttle_is_unknown_until_its_torque_limit_is_stated() -> None:
    def plate(more: str) -> Finding | None:
        return maybe(
            "controller.throttle", case(build(rest=settings(more=more) + '[throttle]\nkind = "electronic"\n'))
        )

    assert maybe("controller.throttle", case()) is None
    unknown, low, high = plate(""), plate('torque_limit = "180 Nm"'), plate('torque_limit = "400 Nm"')
    assert unknown is not None
    assert low is not None
    assert high is not None
    assert unknown.verdict is Verdict.UNKNOWN
    assert low.verdict is Verdict.BREAKS
    assert high.verdict is Verdict.HOLDS
    assert low.demand is not None
    assert low.demand.kind is Kind.TORQUE
    assert low.demand.value == pytest.approx(float(goal().result.torque.max()))


# ------------------------------------------------------------------------------------------ single failures


def shut(boost: float = 1.6e5) -> GoalLine:
    """The line with the gate held shut."""
    return goal(boost=boost)


def failing(given: Case, rest: str, gate: GoalLine | None = None) -> object:
    told_ = told(given, rest)
    fields = {name: getattr(told_, name) for name in told_.__dataclass_fields__}
    fields["gate_shut"] = gate
    made = SimpleNamespace(**fields)
    for name in ("stated", "amount", "word", "left"):
        setattr(made, name, getattr(Case, name).__get__(made))
    return made


@pytest.mark.parametrize("code", ["failure.gate_hose", "failure.gate_stuck"])
def test_a_gate_that_stays_shut_is_caught_by_a_low_cut_only(code: str) -> None:
    given = easy(peak=50e5, ca50=2 * DEG)

    def one(rest: str) -> Finding:
        return found(code, failing(given, rest, shut()))  # type: ignore[arg-type]

    low = one(settings("150 kPa", sensor="300 kPa"))
    blind = one(settings("150 kPa", sensor="105 kPa"))
    high = one(settings("290 kPa", sensor="300 kPa"))
    assert low.demand is not None
    assert low.demand.value == pytest.approx(150e3 + 6e3)
    assert low.verdict is not Verdict.BREAKS
    assert "cut stops it" in fill(low.cause)
    for free in (blind, high):
        assert free.demand is not None
        assert free.demand.value == pytest.approx(260e3)  # what the turbo gives
        assert free.verdict is Verdict.BREAKS
    assert "nothing stops it" in fill(blind.cause)
    assert "octane numbers are missing" in fill(blind.cause)
    assert "of what they stand" in fill(blind.cause)
    assert "octane" not in fill(low.cause)
    assert "lambda goes to" in fill(blind.cause)
    assert one("").verdict is Verdict.UNKNOWN  # no cut stated: nobody knows
    assert maybe(code, told(given, "")) is None  # no line with the gate shut


def test_a_small_turbo_with_its_gate_shut_may_do_no_harm() -> None:
    given = easy(peak=40e5, ca50=-5 * DEG)
    mild = failing(given, settings("200 kPa", sensor="300 kPa"), shut(0.65e5))
    one = found("failure.gate_stuck", mild)  # type: ignore[arg-type]
    assert "only the turbo ends it" in fill(one.cause)
    assert one.verdict is Verdict.HOLDS


def test_a_pressure_that_the_turbo_cannot_make_at_that_speed_does_not_count() -> None:
    given = easy(peak=60e5, ca50=5 * DEG)
    rest = settings("230 kPa", sensor="300 kPa")
    late = replace(shut(), plenum_pressure=np.linspace(1.05e5, 2.6e5, 12))
    blind = found("boost.cut_knock", told(given, rest))
    seeing = found("boost.cut_knock", failing(given, rest, late))  # type: ignore[arg-type]
    assert blind.place.speed is not None
    assert seeing.place.speed is not None
    assert seeing.place.speed > blind.place.speed
    assert blind.probability is not None
    assert seeing.probability is not None
    assert seeing.probability >= blind.probability


MILD = replace(goal(), lam=np.full(12, 0.80))


@pytest.mark.parametrize(("flow", "verdict"), [(400, Verdict.HOLDS), (75, Verdict.BREAKS)])
def test_a_dead_alternator_leans_a_pump_without_reserve(flow: int, verdict: Verdict) -> None:
    rest = plain() + f'[pump]\nflow = "{flow} L/h"\nflow_pressure = "3 bar"\nvoltage = "12.4 V"\n'
    one = found("failure.voltage", case(build(rest=rest + settings(more='lean_guard = "none"')), MILD))
    assert one.verdict is verdict
    guarded = found("failure.voltage", case(build(rest=rest + settings(more='lean_guard = "cuts"')), MILD))
    assert guarded.verdict is Verdict.HOLDS
    assert one.cause.amounts["volts"].value == pytest.approx(12.4 - 1.8)


def test_half_a_pump_leans_and_only_a_guard_stops_it() -> None:
    rest = plain() + '[pump]\nflow = "100 L/h"\nflow_pressure = "3 bar"\n'

    def one(more: str) -> Finding:
        return found("failure.pump", case(build(rest=rest + settings(more=more)), MILD))

    assert one('lean_guard = "none"').verdict is Verdict.BREAKS
    assert one('lean_guard = "cuts"').verdict is Verdict.HOLDS
    assert one("").verdict is Verdict.UNKNOWN
    demand = one('lean_guard = "none"').demand
    assert demand is not None
    assert demand.value > 0.95
    large = (
        plain() + '[pump]\nflow = "400 L/h"\nflow_pressure = "3 bar"\n' + settings(more='lean_guard = "none"')
    )
    assert found("failure.pump", case(build(rest=large), MILD)).verdict is Verdict.HOLDS


@check("limit", note="fuel for the outside air at full boost: lambda times p_plenum/p_ambient")
def test_a_lost_pressure_signal() -> None:
    def one(more: str) -> Finding:
        return found("failure.pressure_signal", case(build(rest=settings(more=more)), MILD))

    ignored = one('sensor_fault = "ignores"')
    assert ignored.demand is not None
    assert ignored.demand.value == pytest.approx(0.80 * 1.6)
    assert ignored.verdict is Verdict.BREAKS
    assert one('sensor_fault = "limits"').verdict is Verdict.HOLDS
    assert one("").verdict is Verdict.UNKNOWN
    meter = one('load = "air-meter"\nsensor_fault = "ignores"')
    assert meter.verdict is Verdict.HOLDS
    assert "gone blind" in fill(meter.cause)

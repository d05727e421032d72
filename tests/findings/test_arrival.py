"""When boost comes, in a gear and held: demand, spread, remedy with its number, the reading to take."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.findings.arrival_case import arrival_in
from boostwright.findings.case import Case
from boostwright.findings.model import Kind, Verdict
from boostwright.findings.subjects.arrival import arrival_of
from boostwright.readers.build_file import read_build
from boostwright.systems.engine.baseline import baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of
from boostwright.systems.stated.place import ambient_of
from boostwright.systems.stated.turbo import turbo_of
from boostwright.systems.transient import Arrival
from boostwright.systems.turbo import Pulses
from boostwright.verbs import demo_build
from boostwright.views.numbers import fill, say
from tests.findings.test_subjects import MINIMAL, case, found, goal, maybe
from tests.labels import check
from tests.sample_arrival import RPM, arrival, pull


def with_arrival(made: Arrival | None, by: str = "3000 rpm") -> Case:
    text = MINIMAL.format(engine="", fuel="", rest="")
    wish = f'boost = "0.6 bar"\nboost_by = "{by}"'
    document = read_build(text.replace('boost = "0.6 bar"', wish).encode())
    return case(document, extra={} if made is None else {"arrival": made})


def test_without_a_transient_nothing_is_said() -> None:
    assert arrival_of(case()) is None
    assert maybe("boost.in_gear", with_arrival(None)) is None
    assert maybe("boost.wait", with_arrival(None)) is None
    assert maybe("boost.in_gear", case(extra={"arrival": arrival()})) is None  # no speed is wanted


@pytest.mark.parametrize(("by", "verdict"), [("4000 rpm", Verdict.HOLDS), ("2300 rpm", Verdict.BREAKS)])
def test_the_reference_gear_is_set_against_the_speed_wanted(by: str, verdict: Verdict) -> None:
    one = found("boost.in_gear", with_arrival(arrival(), by))
    third = arrival().pulls[1]
    assert one.verdict is verdict
    assert one.demand is not None
    assert one.demand.value == third.arrival_speed
    assert one.demand.sd is not None
    gained = third.arrival_speed - third.start
    assert one.demand.sd == pytest.approx(math.hypot(third.arrival_speed_sd, 0.2 * gained))
    assert "in gear 3" in fill(one.cause)
    assert "gear ratios" in fill(one.notes[0])


def test_the_remedy_names_the_housing_that_just_does_it() -> None:
    made = arrival()
    sizes = [made.turbine, *made.housings]
    by = 2550.0
    one = found("boost.in_gear", with_arrival(made, f"{by:.0f} rpm"))
    speeds = [s.arrival_speed / RPM for s in sizes]
    expected = np.interp(-by, [-s for s in speeds], [s.area_over_radius for s in sizes])
    assert one.remedy.amounts["housing"].value == pytest.approx(float(expected))
    assert "back pressure" in fill(one.remedy)
    wheel = found("boost.in_gear", with_arrival(made, "2310 rpm"))
    assert 40e-3 <= wheel.remedy.amounts["wheel"].value <= 50e-3
    hopeless = found("boost.in_gear", with_arrival(made, "2100 rpm"))
    assert "smaller turbo" in fill(hopeless.remedy)
    assert say(hopeless.remedy.amounts["best"]) in fill(hopeless.remedy)
    fine = found("boost.in_gear", with_arrival(made, "4000 rpm"))
    assert fill(fine.remedy).startswith("Leave it")


def test_boost_that_never_comes_breaks_or_cannot_be_told() -> None:
    never = pull(3, 2000, 450, math.inf)
    made = arrival()._replace(pulls=(arrival().pulls[0], never, *arrival().pulls[2:]))
    blind = made.turbine._replace(arrival=math.nan, arrival_speed=math.nan)
    made = made._replace(turbine=blind, housings=(), wheels=())
    passed = found("boost.in_gear", with_arrival(made, "3000 rpm"))  # the pull ends at 3800 rpm
    assert passed.verdict is Verdict.BREAKS
    assert "has not come" in fill(passed.cause)
    assert "nan" not in fill(passed.cause) + fill(passed.remedy)
    short = found("boost.in_gear", with_arrival(made, "5000 rpm"))
    assert short.verdict is Verdict.UNKNOWN


@pytest.mark.parametrize(("lag", "verdict"), [(1.0, Verdict.HOLDS), (4.5, Verdict.BREAKS)])
def test_the_wait_is_set_against_what_a_driver_puts_up_with(lag: float, verdict: Verdict) -> None:
    one = found("boost.wait", with_arrival(arrival(lag)))
    assert one.verdict is verdict
    assert one.demand is not None
    assert one.demand.kind is Kind.DELAY
    assert one.demand.value == pytest.approx(0.6 * lag * math.sqrt(math.log(10)))
    words = fill(one.cause)
    assert "25\u00a0kg\u00a0mm2" in words
    assert "L" in words
    never = arrival()._replace(pulls=(*arrival().pulls[:3], pull(0, 3000, 0, math.inf)))
    assert maybe("boost.wait", with_arrival(never)) is None


def test_the_remedy_of_a_long_wait_has_a_number() -> None:
    one = found("boost.wait", with_arrival(arrival(3.3)))  # 3.0 s wanted 2.5: a sixth less
    assert one.remedy.amounts["housing"].value == arrival().housings[1].area_over_radius
    assert one.remedy.amounts["gain"].value == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("first", "words"),
    [
        ("inertia of the shaft", "two threads"), ("flow area of the turbine", "A/R"),
        ("efficiency of the turbine", "Log boost"),
    ],
)  # fmt: skip
def test_the_reading_takes_most_out_of_the_spread(first: str, words: str) -> None:
    one = found("boost.in_gear", with_arrival(arrival(first=first)))
    assert words in one.reading.what


@check(
    "common practice", note="third gear of a small car with a small turbo: boost within one to three seconds"
)
def test_a_demo_build_from_its_file() -> None:
    document = demo_build("sound")
    turbo = turbo_of(document)
    assert turbo is not None
    air = ambient_of(document)
    solver = CycleSolver(engine_of(document), fuel_of(document), factors=factors_of(document))
    speeds = np.array([1500.0, 2500.0, 3500.0, 4500.0, 5500.0, 6200.0]) * RPM
    base = baseline(solver, speeds, air.pressure, air.temperature, document.number("fuel.lambda_full_load"))
    made = arrival_in(document, solver, base, turbo)
    assert 1.0 < made.pulls[made.reference].arrival < 3.0
    assert made.pulls[made.reference].gear == 3
    one = found("boost.in_gear", case(document, extra={"arrival": made}))
    assert one.demand is not None
    assert one.demand.value == made.pulls[made.reference].arrival_speed
    pulses = Pulses(np.full(6, 0.9), np.full(6, 1.2))
    assert arrival_in(document, solver, base, turbo, pulses).pulls[1].arrival < made.pulls[1].arrival


@pytest.mark.parametrize(("share", "said"), [(0.7, True), (0.95, False)])
def test_boost_that_this_gate_never_holds_is_said(share: float, said: bool) -> None:
    given = with_arrival(arrival())
    line = goal(boost=np.full_like(goal().boost, share * given.build.number("goal.boost")))
    short = replace(given, goal=line)
    for code in ("boost.in_gear", "boost.wait"):
        words = " ".join(fill(note) for note in found(code, short).notes)
        assert ("never comes" in words) == said

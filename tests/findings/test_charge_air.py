"""Findings of the charge air path and of the exhaust behind the turbine, on invented operating lines."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest

from boostwright.findings.case import Case, GoalLine
from boostwright.findings.charge_path import charge_air, last_pull, losses, soak, tail
from boostwright.findings.model import Finding, Kind, Verdict
from boostwright.findings.registry import rules
from boostwright.findings.worst import lines
from boostwright.systems.charge_air.cooler import CoolingAir
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case
from tests.labels import check
from tests.sample import goal

CODES = (
    "charge.third_pull", "charge.path_loss", "charge.inlet", "charge.pipe_speed", "exhaust.pipe_share",
    "exhaust.pipe_speed",
)  # fmt: skip
CORE = '[cooler]\nwidth = "500 mm"\nheight = "200 mm"\ndepth = "65 mm"'


class Corner(NamedTuple):
    name: str
    ambient_pressure: float
    ambient_temperature: float
    goal: GoalLine | None


class WithCorners:
    """A case with corners beside its ordinary day."""

    def __init__(self, ordinary: Case, corners: tuple[Corner, ...]) -> None:
        self._ordinary = ordinary
        self.corners = corners

    def __getattr__(self, name: str) -> object:
        return getattr(self._ordinary, name)


def found(code: str, of: Case) -> Finding:
    one = next(r for r in rules() if r.code == code)(of)
    assert one is not None
    return one


def with_file(rest: str, **changed: object) -> Case:
    return case(build(rest=rest), replace(goal(), **changed) if changed else None)  # type: ignore[arg-type]


@pytest.mark.parametrize("code", CODES)
def test_each_says_what_it_needs_to(code: str) -> None:
    for rest in (
        "",
        CORE,
        '[cooler]\ntype = "none"',
        '[cooler]\ntype = "water"',
        '[exhaust]\nbore = "48 mm"',
    ):
        one = found(code, with_file(rest))
        for phrase in (one.cause, one.remedy, *one.notes):
            text = fill(phrase)
            assert "{" not in text
            assert "nan" not in text.lower()
            assert text.endswith(".")
        assert one.demand is not None
        assert one.demand.sd is not None
        assert one.demand.sd > 0
        assert one.place.speed is not None
        assert all(field in with_file(rest).build or field for field in one.about)


def test_nothing_is_said_without_a_line() -> None:
    for code in CODES:
        assert next(r for r in rules() if r.code == code)(case(goal=None, strength=None)) is None


def test_nothing_stated_never_breaks() -> None:
    for code in CODES[1:]:
        hard = replace(goal(), result=goal().result._replace(air_flow=3.0 * goal().result.air_flow))
        assert found(code, case(build(), hard)).verdict is not Verdict.BREAKS, code


@check("conservation", note="demands are those of the operating line, computed apart from the rule; 1e-9")
def test_demands_come_from_the_line() -> None:
    one = with_file(CORE)
    line = lines(one)[0]
    pairs = (
        ("charge.third_pull", last_pull(one, line)),
        ("charge.path_loss", losses(one, line).total_loss),
        ("charge.inlet", losses(one, line).inlet_loss),
        ("charge.pipe_speed", losses(one, line).pipe_mach),
        ("exhaust.pipe_speed", tail(one, line).mach),
    )
    for code, values in pairs:
        demand = found(code, one).demand
        assert demand is not None
        assert demand.value == pytest.approx(float(np.nanmax(values)), rel=1e-9), code


def test_more_flow_costs_more_everywhere() -> None:
    for code in CODES:
        usual, more = with_file(CORE), with_file(
            CORE, result=goal().result._replace(air_flow=1.3 * goal().result.air_flow)
        )  # fmt: skip
        a, b = found(code, usual).demand, found(code, more).demand
        assert a is not None
        assert b is not None
        assert b.value > a.value, code


def test_the_worst_corner_decides() -> None:
    hot = Corner("desert noon", 0.98e5, 318.15, replace(
        goal(), compressor_outlet_temperature=goal().compressor_outlet_temperature + 25.0))  # fmt: skip
    both = case(build(rest=CORE))
    one = found("charge.third_pull", WithCorners(both, (hot,)))  # type: ignore[arg-type]
    assert one.corner == "desert noon"
    plain = found("charge.third_pull", both)
    assert one.demand is not None
    assert plain.demand is not None
    assert one.demand.value > plain.demand.value + 15.0


def test_a_small_core_gets_hot_and_the_larger_one_of_the_remedy_does_not() -> None:
    small = '[cooler]\nwidth = "300 mm"\nheight = "150 mm"\ndepth = "60 mm"'
    hot = goal().compressor_outlet_temperature
    one = with_file(small, compressor_outlet_temperature=hot)
    finding = found("charge.third_pull", one)
    assert finding.verdict in (Verdict.BREAKS, Verdict.TIGHT)
    litres = finding.remedy.amounts["litres"]
    assert litres.kind is Kind.VOLUME
    cooler = charge_air(one).cooler
    assert cooler is not None
    assert cooler.volume is not None
    assert litres.value > cooler.volume
    line = soak(one, lines(one)[0], cooler.times(litres.value / cooler.volume))
    assert line is not None
    assert finding.demand is not None
    assert finding.demand.sd is not None
    limit = one.limits["charge_hot"].amount
    assert limit.sd is not None
    sure = limit.value - 0.8416 * math.hypot(limit.sd, finding.demand.sd)  # 80 % for poor running
    assert float(np.nanmax(line.charge[-1])) == pytest.approx(sure, abs=0.3)


def test_standing_between_pulls_is_the_harder_case() -> None:
    one = with_file(CORE)
    cooler = charge_air(one).cooler
    assert cooler is not None
    line = lines(one)[0]
    stands = soak(one, line, cooler)
    rolls = soak(one, line, cooler, pause_air=CoolingAir.MOVING)
    assert stands is not None
    assert rolls is not None
    assert np.all(stands.charge[-1, -3:] > rolls.charge[-1, -3:])


def test_no_cooler_is_the_compressor_outlet() -> None:
    one = with_file('[cooler]\ntype = "none"')
    finding = found("charge.third_pull", one)
    assert finding.demand is not None
    assert finding.demand.value == pytest.approx(float(np.max(goal().compressor_outlet_temperature)))
    assert fill(finding.remedy) == "Fit a charge cooler."


def test_a_tight_pipe_names_the_bore_that_would_do() -> None:
    narrow = '[pipes]\nbore = "32 mm"\nlength = "3 m"\nbends = 8\n[exhaust]\nbore = "38 mm"'
    loss = found("charge.path_loss", with_file(narrow))
    assert loss.verdict is Verdict.BREAKS
    assert "bore" in loss.remedy.amounts
    assert loss.remedy.amounts["bore"].value > 0.032
    speed = found("charge.pipe_speed", with_file(narrow))
    assert speed.demand is not None
    if "bore" in speed.remedy.amounts:
        assert 0.032 < speed.remedy.amounts["bore"].value < 0.08
    back = found("exhaust.pipe_share", with_file(narrow))
    assert back.verdict is Verdict.BREAKS
    assert back.remedy.amounts["bore"].value > 0.038
    assert "catalyst" in fill(back.remedy)


def test_the_filter_that_sucks_is_named() -> None:
    one = found("charge.inlet", with_file('[pipes]\nfilter_loss = "14 kPa"'))
    assert one.verdict is Verdict.BREAKS
    assert one.remedy.amounts["area"].value > 1.0


def test_a_throttle_that_is_too_small_is_named_with_its_bore() -> None:
    small = '[throttle]\nbore = "34 mm"\n[pipes]\nbore = "60 mm"\n[cooler]\npressure_loss = "3 kPa"'
    one = found("charge.path_loss", with_file(small))
    assert one.verdict is not Verdict.HOLDS
    wider = one.remedy.amounts["throttle"]
    assert 0.034 < wider.value < 0.06
    again = small.replace("34 mm", f"{wider.value * 1e3:.2f} mm")
    assert found("charge.path_loss", with_file(again)).verdict is Verdict.HOLDS


def test_a_bore_that_nobody_stated_is_asked_for_as_so_much_wider() -> None:
    one = found("charge.path_loss", with_file('[pipes]\nloss = "22 kPa"\n[cooler]\npressure_loss = "3 kPa"'))
    assert one.verdict is Verdict.BREAKS
    assert one.remedy.amounts["bore"].kind is Kind.SHARE
    assert "wider in bore" in fill(one.remedy)
    back = found("exhaust.pipe_share", with_file('[exhaust]\nback_pressure = "70 kPa"'))
    assert back.remedy.amounts["bore"].kind is Kind.SHARE

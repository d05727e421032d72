"""Ranges and limits follow the build: regulator, material, drain, fuel, shim, cut, sensor, older readings."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import pytest

from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.job.records import Reading, new_id
from boostwright.planning.ladder import Expected, Origin
from tests.labels import check
from tests.planning.ladder.made import at, build, condition, ladder


def stated(**values: Any) -> Build:
    """The sound build with other values, by path with '__' for the point."""
    kept = dict(build().values)
    for name, value in values.items():
        path = name.replace("__", ".")
        old = build().get(path)
        kept[path] = StatedValue(path, value, 0.0, Source.MEASURED, kind=None if old is None else old.kind)
    return dataclasses.replace(build(), values=kept, _defaults={})


def without(*paths: str) -> Build:
    kept = {path: value for path, value in build().values.items() if path not in paths}
    return dataclasses.replace(build(), values=kept, _defaults={})


def of(step: str, name: str, made: Build | None = None, **other: Any) -> Expected:
    car = build() if made is None else made
    found = ladder(spring=condition(of=car, **other), of=car).rung(step).of(name)
    assert found is not None
    return found


def stop(expected: Expected) -> float:
    assert expected.stop_high is not None
    return expected.stop_high.value


@check("common practice", id="LD4", note="limits of materials as the findings have them, in the same order")
def test_the_gas_limit_follows_the_material() -> None:
    steel = stop(of("full-pull", "pull_exhaust_gas", stated(manifold__material="stainless")))
    iron = stop(of("full-pull", "pull_exhaust_gas", stated(manifold__material="iron")))
    mild = stop(of("full-pull", "pull_exhaust_gas", stated(manifold__material="mild-steel")))
    assert mild < iron < steel
    housed = stop(
        of(
            "full-pull",
            "pull_exhaust_gas",
            stated(manifold__material="stainless", turbo__housing_material="iron"),
        )
    )
    assert housed < steel


@check("limit", id="LD5", note="exact: 70 % of the column, or 1 kPa")
def test_the_crankcase_limit_follows_the_column_in_the_drain() -> None:
    assert stop(of("full-pull", "pull_crankcase", head=1.0e3)) == pytest.approx(700.0)
    assert stop(of("full-pull", "pull_crankcase", head=0.6e3)) == pytest.approx(420.0)
    assert stop(of("full-pull", "pull_crankcase", head=9.0e3)) == pytest.approx(1.0e3)
    assert of("full-pull", "pull_crankcase", head=math.nan).stands is None
    low = ladder(spring=condition(head=0.4e3)).rung("full-pull")
    assert any("crankcase" in why for why in low.barred)


@check("limit", id="LD6", note="exact: the regulator's equation")
def test_the_rail_at_idle_follows_the_kind_of_regulator() -> None:
    idle = of("warm-up", "idle_manifold_after", stated()).middle
    assert idle is not None
    air = condition().air.pressure
    manifold = of("warm-up", "rail_minus_manifold", stated(regulator__reference="manifold"))
    outside = of("warm-up", "rail_minus_manifold", stated(regulator__reference="atmosphere"))
    assert manifold.middle == pytest.approx(3.0e5)
    assert outside.middle == pytest.approx(3.0e5 + air - idle)
    gauge = of("first-fire", "first_rail", stated(regulator__reference="manifold"))
    fixed = of("first-fire", "first_rail", stated(regulator__reference="atmosphere"))
    assert gauge.middle == pytest.approx(3.0e5 + idle - air)
    assert fixed.middle == pytest.approx(3.0e5)


def test_the_lambda_limit_follows_the_mixture_asked_for_up_to_the_leanest() -> None:
    rich = of("full-pull", "pull_lambda", stated(fuel__lambda_boost=0.78))
    lean = of("full-pull", "pull_lambda", stated(fuel__lambda_boost=0.84))
    assert stop(rich) == pytest.approx(0.84)
    assert stop(lean) == pytest.approx(0.88)  # no leaner than the leanest that a boosted engine is run at
    too_lean = ladder(spring=condition(lam=condition().lam + 0.06)).rung("full-pull")
    assert any("lambda" in why for why in too_lean.barred)


def test_a_pull_is_barred_where_the_injectors_are_at_their_end_further_up() -> None:
    found = ladder(spring=condition(duty=condition().duty * 1.25))
    assert not found.rung("pull-low").barred
    assert any("duty" in why for why in found.rung("full-pull").barred)
    assert "(most useful injector duty)" in found.rung("full-pull").barred[0]
    assert "likeliest is 8" in found.rung("full-pull").barred[0]
    beyond = ladder(spring=condition(duty=condition().duty * 1.6)).rung("full-pull").barred[0]
    assert beyond.endswith(")"), "no reading settles what lies beyond by its middle"


def test_the_cut_of_the_pulls_clears_the_band_and_keeps_below_cut_and_sensor() -> None:
    peak = of("full-pull", "pull_peak")
    assert peak.high is not None
    assert stop(peak) == pytest.approx(peak.high + 10.0e3, rel=1e-3)
    low = stated(controller__boost_cut=130.0e3)
    assert stop(of("full-pull", "pull_peak", low)) == pytest.approx(130.0e3)
    assert any("manifold pressure" in why for why in ladder(of=low).rung("full-pull").barred)
    small = stated(pressure_sensor__highest=120.0e3)
    assert stop(of("full-pull", "pull_peak", small)) < 120.0e3
    blind = without("pressure_sensor.highest", "pressure_sensor.lowest")
    assert stop(of("full-pull", "pull_peak", blind)) == pytest.approx(105.0e3)


@check("limit", id="LD7", note="exact: shim times pressure for each millimetre")
def test_the_shim_adds_at_speed_and_cold_but_not_at_idle() -> None:
    plain, shimmed = build(), stated(oil__relief_shim=1.0e-3)
    for step, name in (("pull-low", "pull_oil"), ("first-fire", "first_oil_pressure")):
        before, after = of(step, name, plain), of(step, name, shimmed)
        assert before.middle is not None
        assert after.middle is not None
        assert after.middle - before.middle > 0.2e5
    assert of("warm-up", "oil_idle_warm", shimmed).middle == of("warm-up", "oil_idle_warm", plain).middle


def test_readings_of_before_come_before_the_file_and_the_trade() -> None:
    read = Reading(new_id(), "N", at(-900), "cranking_voltage", (10.6,), when="before")
    found = ladder([read]).rung("cranking").of("crank_voltage")
    assert found is not None
    assert found.origin is Origin.RECORDED
    assert found.middle == pytest.approx(10.6)
    assert of("cranking", "crank_voltage").origin is Origin.TRADE
    bare = without("engine.oil_pressure_3000", "engine.oil_pressure_idle", "engine.oil_pressure_cold")
    assert of("pull-low", "pull_oil", bare).origin is Origin.TRADE
    assert of("pull-low", "pull_oil").origin is Origin.RECORDED


def test_the_rail_as_it_was_read_moves_what_is_expected_in_the_pull() -> None:
    read = Reading(new_id(), "N", at(0), "rail_primed", (3.1e5,), step="key-on", witness="A")
    before, after = of("pull-low", "pull_rail_minus_manifold"), ladder([read]).rung("pull-low")
    moved = after.of("pull_rail_minus_manifold")
    assert moved is not None
    assert moved.middle is not None
    assert before.middle is not None
    assert moved.middle - before.middle == pytest.approx(0.1e5)


def test_the_pressure_may_not_climb_so_that_the_last_pull_ends_at_the_cut() -> None:
    """Slope times what is left to the top stays below the cut; near the top no more is allowed than 5 kPa
    beyond what the match expects: 20 kPa in the last 500 rpm is a gate that runs away.
    """
    for name in ("pull-middle", "pull-high", "full-pull"):
        rise = of(name, "pull_creep")
        assert rise.middle is not None
        assert rise.middle < stop(rise) <= max(rise.middle, 0.0) + 5.0e3
    middle = of("pull-middle", "pull_creep")
    peak = of("pull-middle", "pull_peak")
    assert peak.middle is not None
    rung = ladder().rung("pull-middle")
    assert rung.speeds is not None
    top = ladder().rung("full-pull").speeds
    assert top is not None
    steps = (top[1] - rung.speeds[1]) / (500.0 * math.pi / 30.0)
    assert peak.middle + stop(middle) * steps <= stop(peak) + 1.0


def test_pulls_begin_where_the_rods_stand_full_boost() -> None:
    speeds = ladder().rung("pull-low").speeds
    assert speeds is not None
    assert speeds[0] == pytest.approx(2500.0 * math.pi / 30.0)
    unknown = without("engine.rods")
    later = ladder(of=unknown, spring=condition(of=unknown)).rung("pull-low").speeds
    assert later is not None
    assert later[0] > speeds[0]


def test_without_a_line_the_pulls_are_barred_and_the_rest_is_not() -> None:
    from boostwright.planning.ladder.conditions import without_pulls

    none = without_pulls(build(), condition().air, "the file states two turbos")
    found = ladder(spring=none)
    for rung in found.rungs:
        if rung.key.startswith("pull-") or rung.key in ("full-pull", "heat-soak"):
            assert any("two turbos" in why for why in rung.barred)
        elif rung.key != "more-boost":
            assert not rung.barred, (rung.key, rung.barred)


@check("published", id="LD8", source="iso2533", note="the standard's equation below 11 km, written out again")
def test_the_standing_sensor_shows_the_air_of_the_place() -> None:
    """The sound build stands at 330 m and names no barometer."""
    found = of("key-on", "map_key_on")
    assert found.middle == pytest.approx(101325.0 * (1.0 - 0.0065 * 330.0 / 288.15) ** 5.25588, rel=2e-4)


def test_a_cut_that_would_stand_below_the_outside_air_bars_the_pulls_and_is_never_set_there() -> None:
    made = stated(**{"controller.boost_cut": 42.0e3})
    found = ladder(of=made)
    air = found.air.pressure
    assert any("below the outside air" in why for why in found.rung("pull-low").barred)
    for phrase in found.rung("cut-test").do:
        for name, amount in phrase.amounts.items():
            assert name != "cut" or air - 5e3 < amount.value < air

"""Remedies carry numbers, and the numbers do what they promise when they are taken at their word."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.build.document import Build
from boostwright.findings.case import Case, CornerLine
from boostwright.findings.judge import HOLDS_FROM, probability_holds
from boostwright.findings.model import Amount, Finding, Harm, Kind, Sense, Verdict
from boostwright.findings.resized import bench, boost_where, housing_where, inducer_where
from boostwright.findings.subjects.knock import worst_of
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import lines
from boostwright.library import turbo_sizes
from boostwright.physics.compressor import operating_point
from boostwright.physics.compressor_sizes import WheelMap, wheel_sizes
from boostwright.readers.build_file import read_build
from boostwright.views.numbers import fill
from tests.findings.test_subjects import MINIMAL, build, case, found, maybe
from tests.labels import check
from tests.sample import RPM, goal


def with_corner(base: Case, corner: CornerLine) -> Case:
    """The case with one corner more."""
    return replace(base, corners=(corner,))


def has_number(finding: Finding) -> bool:
    return re.search(r"\d", fill(finding.remedy)) is not None


@given(
    st.sampled_from(list(Harm)), st.sampled_from(list(Sense)), st.floats(0.0, 0.1), st.floats(0.0, 0.15),
    st.booleans(),
)  # fmt: skip
def test_a_sure_demand_holds_and_a_little_more_does_not(
    harm: Harm, sense: Sense, own: float, other: float, relative: bool
) -> None:
    capacity = Amount(1.0, own, Kind.RATIO)
    demand = Amount(1.2, 1.2 * other if relative else other, Kind.RATIO)
    value = sure_demand(capacity, demand, sense, harm, relative)
    sd = other * value if relative else other
    at = probability_holds(Amount(value, sd, Kind.RATIO), capacity, sense)
    assert at is not None
    if math.hypot(own, sd) > 1e-9:  # below that the last digit of the demand itself counts
        assert at == pytest.approx(HOLDS_FROM[harm], abs=1e-6)


@check("published", source="harter1961", note="expected values of normal order statistics, from memory")
def test_the_worst_of_some_cylinders() -> None:
    for count, mean in ((1, 0.0), (2, 0.56419), (3, 0.84628), (4, 1.02938), (6, 1.26721), (8, 1.42360)):
        assert worst_of(count).mean == pytest.approx(mean, abs=5e-6)
    assert worst_of(1).sd == pytest.approx(1.0, abs=1e-6)
    assert worst_of(2).sd == pytest.approx(math.sqrt(1 - 1 / math.pi), abs=1e-6)


# ------------------------------------------------------------------------------------- solved again


def test_the_inducer_that_a_remedy_names_does_what_it_promises() -> None:
    """The wheel of that size, made anew with its own small-wheel loss, against the remedy's short way."""
    given_case = case()
    line = lines(given_case)[0]
    place = bench(given_case, line, 6)
    assert place is not None
    here = float(place.compressor().choke_ratio)
    inducer = float(given_case.build.number("turbo.compressor_inducer"))
    exducer = float(given_case.build.number("turbo.compressor_exducer"))
    wanted = 0.9 * here
    size = inducer_where(place, lambda p: float(p.choke_ratio), here, wanted, True, inducer)
    assert size is not None
    assert size > inducer
    recipe = turbo_sizes.compressor_recipe()
    D2 = exducer * size / inducer
    point = operating_point(
        WheelMap(wheel_sizes(size, D2, recipe), recipe), D2, place.flow, place.ratio, place.air.temperature,
        place.inlet_pressure,
    )  # fmt: skip
    # the efficiency of a larger wheel is a little better, which moves the speed by less than one per cent
    assert float(point.choke_ratio) == pytest.approx(wanted, rel=0.01)


def test_a_larger_housing_lowers_exhaust_pressure_just_as_far_as_asked() -> None:
    given_case = case()
    place = bench(given_case, lines(given_case)[0], 8)
    assert place is not None
    here = place.back_pressure(place.parts.turbine.area_over_radius)
    wanted = place.exhaust * 0.98
    housing = housing_where(place, wanted)
    assert housing is not None
    assert place.exhaust * place.back_pressure(housing) / here <= wanted
    assert place.exhaust * place.back_pressure(0.98 * housing) / here > wanted * 0.999


def test_less_boost_never_asks_more_speed_of_the_wheel() -> None:
    given_case = case()
    place = bench(given_case, lines(given_case)[0], 8)
    assert place is not None
    here = float(place.compressor().tip_speed)
    boosts = [
        boost_where(place, lambda p: float(p.tip_speed), here, k * here, True) for k in (0.95, 0.9, 0.8)
    ]
    assert all(b is not None for b in boosts)
    assert boosts == sorted(boosts, reverse=True)  # type: ignore[type-var]


# ------------------------------------------------------------------------------------------- rules


def test_every_remedy_of_the_turbo_side_and_of_the_engine_carries_a_number() -> None:
    n = goal().speed.size
    tests = {
        "turbo.surge": replace(goal(), flow_over_surge=np.full(n, 0.9), flow_over_choke=np.full(n, 0.3)),
        "turbo.choke": replace(goal(), flow_over_surge=np.full(n, 3.0), flow_over_choke=np.full(n, 1.3)),
        "turbo.tip_speed": replace(goal(), tip_speed=np.full(n, 560.0)),
        "turbo.outlet": replace(goal(), compressor_outlet_temperature=np.full(n, 470.0)),
        "exhaust.back_pressure": replace(goal(), exhaust_pressure=2.2 * goal().plenum_pressure),
    }
    for code, line in tests.items():
        one = found(code, case(line_with=line))
        assert one.verdict is Verdict.BREAKS, code
        assert has_number(one), fill(one.remedy)
    worn = build('leak_down = "6 24 7 6 %"\noil_pressure_idle = "0.4 bar"\noil_pressure_3000 = "1 bar"')
    for code in ("engine.leak_down", "engine.oil_idle", "engine.oil_speed"):
        one = found(code, case(worn))
        assert one.verdict is Verdict.BREAKS
        assert has_number(one), fill(one.remedy)


def test_the_reading_that_a_remedy_asks_for_holds_when_it_is_there() -> None:
    low = found(
        "engine.oil_idle", case(build('oil_pressure_idle = { value = "0.4 bar", source = "measured" }'))
    )
    least = low.remedy.amounts["least"].value
    text = f'oil_pressure_idle = {{ value = "{least / 1e5 + 0.002:.3f} bar", source = "measured" }}'
    assert found("engine.oil_idle", case(build(text))).verdict is Verdict.HOLDS


def test_the_worst_corner_is_named_and_decides() -> None:
    fast = replace(goal(), tip_speed=np.full(goal().speed.size, 480.0))
    base = case()
    hot = with_corner(base, CornerLine("pass road in August", "", 0.82e5, 305.0, False, fast))
    one = found("turbo.tip_speed", hot)
    assert one.demand is not None
    assert one.demand.value == pytest.approx(480.0)
    assert one.corner == "pass road in August"
    assert found("turbo.tip_speed", base).corner == base.corner


def test_a_milled_wheel_stands_more_tip_speed_than_a_cast_one() -> None:
    cast = found("turbo.tip_speed", case())
    milled = found("turbo.tip_speed", case(build(rest='[turbo]\ncompressor_wheel = "milled"')))
    assert cast.capacity is not None
    assert milled.capacity is not None
    assert milled.capacity.value > cast.capacity.value


def test_the_makers_shaft_speed_is_read() -> None:
    assert maybe("turbo.shaft_speed", case()) is None
    one = found("turbo.shaft_speed", case(build(rest='[turbo]\nspeed_limit = "90000 rpm"')))
    assert one.capacity is not None
    assert one.demand is not None
    assert one.capacity.value == pytest.approx(90000 * RPM)
    assert one.demand.value == pytest.approx(float(goal().shaft_speed.max()))
    assert one.verdict is Verdict.BREAKS


@pytest.mark.parametrize(
    ("rest", "verdict"),
    [
        ('[turbo]\ncondition = "used"', Verdict.UNKNOWN),
        (
            '[turbo]\ncondition = "used"\naxial_play = { value = "0.04 mm", source = "measured" }',
            Verdict.HOLDS,
        ),
        ('[turbo]\naxial_play = { value = "0.25 mm", source = "measured" }', Verdict.BREAKS),
    ],
)
def test_play_of_a_used_turbo(rest: str, verdict: Verdict) -> None:
    assert found("turbo.play", case(build(rest=rest))).verdict is verdict


def test_a_turbo_of_no_known_make_widens_surge_and_choke() -> None:
    new, copy = (
        case(build(rest=f'[turbo]\ncondition = "{condition}"')) for condition in ("new", "unbranded")
    )
    for code in ("turbo.surge", "turbo.choke"):
        a, b = found(code, new).demand, found(code, copy).demand
        assert a is not None
        assert b is not None
        assert b.sd > a.sd  # type: ignore[operator]


def test_back_pressure_is_a_ratio_of_absolute_pressures() -> None:
    one, line = found("exhaust.back_pressure", case()), goal()
    assert one.demand is not None
    ratio = line.exhaust_pressure / line.plenum_pressure
    assert one.demand.value == pytest.approx(float(ratio[line.boost >= 0.1e5].max()))


@check("limit", note="swept volume of cylinders; rounding of a figure is half of its last digit")
@pytest.mark.parametrize(
    ("litres", "verdict"),
    [
        ("2.0 L", Verdict.HOLDS),
        ("1.998 L", Verdict.HOLDS),
        ("1.95 L", Verdict.BREAKS),
        ("2.05 L", Verdict.BREAKS),
    ],
)
def test_displacement_against_bore_and_stroke(litres: str, verdict: Verdict) -> None:
    text = f'displacement = {{ value = "{litres}", source = "maker" }}'
    one = found("engine.displacement", case(build(text)))
    assert one.verdict is verdict
    stroke = one.remedy.amounts["stroke"].value
    assert stroke * 4 * math.pi / 4 * 0.086**2 == pytest.approx(float(litres.split()[0]) * 1e-3)
    assert maybe("engine.displacement", case()) is None


def test_load_at_low_speed_is_judged_below_its_end_only() -> None:
    line = goal()
    bmep = np.where(line.speed < 2200 * RPM, 21e5, 12e5)
    heavy = replace(line, result=line.result._replace(bmep=bmep))
    one = found("knock.low_speed", case(line_with=heavy))
    assert one.verdict is Verdict.BREAKS
    assert one.demand is not None
    assert one.demand.value == pytest.approx(21e5)
    late = replace(line, result=line.result._replace(bmep=np.where(line.speed < 2200 * RPM, 9e5, 21e5)))
    assert found("knock.low_speed", case(line_with=late)).verdict is Verdict.HOLDS


def test_gas_and_probe_are_two_things() -> None:
    one = found("exhaust.turbine", case())
    assert one.demand is not None
    shows = one.notes[0].amounts["shows"].value
    assert 40.0 <= one.demand.value - shows <= 90.0


@pytest.mark.parametrize(
    ("code", "section", "weak", "strong"),
    [
        ("exhaust.turbine", "[turbo]\nhousing_material", "iron", "steel"),
        ("exhaust.manifold", "[manifold]\nmaterial", "mild-steel", "ni-resist"),
    ],
)
def test_material_decides_what_heat_is_stood(code: str, section: str, weak: str, strong: str) -> None:
    a, b = (found(code, case(build(rest=f'{section} = "{name}"'))).capacity for name in (weak, strong))
    assert a is not None
    assert b is not None
    assert b.value > a.value + 50.0


def test_used_injectors_ask_more_octane_of_the_worst_cylinder() -> None:
    new, used = (
        found("knock.half_burned", case(build(rest=f'[injectors]\ncondition = "{condition}"'))).demand
        for condition in ("new", "used")
    )
    assert new is not None
    assert used is not None
    assert used.value > new.value


def test_the_boost_that_power_lacks_follows_the_engine_itself() -> None:
    assert maybe("goal.power", case()) is None  # nobody asked for any
    most = float(goal().result.power.max())
    made = build_with_power(1.25 * most)
    one = found("goal.power", case(made))
    assert one.verdict is Verdict.BREAKS
    more = one.remedy.amounts["more"].value
    assert 0.05e5 < more < 1.5e5


def build_with_power(power: float) -> Build:
    """The build with a power wanted [W]."""
    text = MINIMAL.format(engine="", fuel="", rest="").replace(
        'boost = "0.6 bar"', f'boost = "0.6 bar"\npower = "{power / 1e3:.1f} kW"'
    )
    return read_build(text.encode())

"""Cooling, clutch, gears, tyres, grip, brakes and neighbours: what each finding rests on, and its remedy."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.catalogue import Field, FieldType, catalogue
from boostwright.build.document import Build
from boostwright.build.limits import value_text
from boostwright.errors import BuildFileError
from boostwright.findings.case import Case, GoalLine
from boostwright.findings.cooling_case import air_behind, hottest
from boostwright.findings.judge import with_probability
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.moved import moved_spread
from boostwright.findings.registry import rules
from boostwright.findings.worst import lines
from boostwright.readers.build_file import read_build
from boostwright.views.numbers import fill
from tests.findings.test_fuel import corner, with_corners
from tests.findings.test_subjects import MINIMAL, build, case, found, maybe
from tests.labels import check
from tests.sample import cycles, goal

COOLING = """
[cooling]
source = "measured"
radiator_area = "{area} m2"
cap_pressure = "{cap} bar"
glycol = "{glycol} %"
volume = "7 L"
{more}
"""
CAR = """
[clutch]
source = "maker"
torque = "{clutch} Nm"
[car]
source = "measured"
mass = "1150 kg"
gears = "3.45 1.95 1.30 0.97 0.80"
final_drive = "4.0"
tyre = "185/65 R14"
tyre_speed = "{tyres} km/h"
driven_wheels = "{driven}"
front_share = "60 %"
brake_disc_mass = "{disc} kg"
brake_pads = "{pads}"
brake_fluid_date = {fluid}
{more}
"""
NEAR = """
[[neighbours]]
what = "{what}"
kind = "{kind}"
distance = {{ value = "{distance} mm", source = "measured" }}
beside = "{beside}"
{more}
"""


def cooling(area: float = 0.25, cap: float = 1.2, glycol: float = 40, more: str = "") -> str:
    return COOLING.format(area=area, cap=cap, glycol=glycol, more=more)


def car(
    clutch: float = 600,
    tyres: float = 270,
    driven: str = "front",
    disc: float = 7,
    pads: str = "sport",
    fluid: str = "2025-01-01",
    more: str = "",
) -> str:
    return CAR.format(clutch=clutch, tyres=tyres, driven=driven, disc=disc, pads=pads, fluid=fluid, more=more)


def near(
    what: str = "brake hose",
    kind: str = "brake-line",
    distance: float = 200,
    beside: str = "turbine",
    more: str = "",
) -> str:
    return NEAR.format(what=what, kind=kind, distance=distance, beside=beside, more=more)


def used(use: str, rest: str) -> Build:
    """A build for another use, dated."""
    head = f'[build]\nuse = "{use}"\ndate = 2025-06-01'
    return read_build(MINIMAL.format(engine="", fuel="", rest=rest).replace("[build]", head).encode())


def of(rest: str, line_with: GoalLine | None = None) -> Case:
    return case(build(rest=rest), line_with)


def value(one: Finding) -> float:
    assert one.demand is not None
    return one.demand.value


# ------------------------------------------------------------------------------------------ how far it moves


@check("limit", note="straight figures: the root of the sum of squares, exact")
def test_moved_spread_of_a_straight_figure() -> None:
    rows = [("a", 3.0, 0.5), ("b", -1.0, 0.25), ("c", 7.0, 0.0)]
    middle, sd = moved_spread(rows, lambda v: 2 * v["a"] - 4 * v["b"] + v["c"])
    assert middle == pytest.approx(17.0)
    assert sd == pytest.approx(math.hypot(2 * 0.5, 4 * 0.25))
    assert moved_spread([("c", 7.0, 0.0)], lambda v: v["c"]) == (7.0, 0.0)


# --------------------------------------------------------------------------------------------------- cooling


def test_a_radiator_at_its_end_breaks_and_a_large_one_holds() -> None:
    small = found("cooling.climb", of(cooling(0.10, more='slope_before = "4 K"')))
    large = found("cooling.climb", of(cooling(0.50, more='slope_before = "0 K"')))
    assert small.verdict is Verdict.BREAKS
    assert large.verdict is Verdict.HOLDS
    assert "Leave it" in fill(large.remedy)


def test_the_radiator_that_it_names_holds() -> None:
    """The remedy, taken at its word: the same car with that face."""
    given = of(cooling(0.15))
    small = found("cooling.climb", given)
    assert small.verdict is not Verdict.HOLDS
    wanted = small.remedy.amounts["wider"].value
    assert wanted > 0.15
    large = found("cooling.climb", of(cooling(round(wanted + 0.005, 3))))
    assert large.verdict is Verdict.HOLDS


def test_with_nothing_stated_it_is_unknown_and_asks_for_the_reading_and_boiling_stays_silent() -> None:
    one = found("cooling.climb", case(line_with=replace(goal(), result=cycles(goal().speed, 1.6e5))))
    assert one.verdict is Verdict.UNKNOWN
    assert fill(one.cause).startswith("Nothing is stated of the cooling system")
    assert "rise in a minute" in one.reading.what
    assert maybe("cooling.boil", case()) is None
    capped = found("cooling.climb", of('[cooling]\ncap_pressure = "1.1 bar"\n'))
    assert capped.on_assumed_part


def test_a_reading_narrows_what_is_known_of_the_coolant() -> None:
    """The cheapest reading: the slope before the conversion."""
    without = found("cooling.climb", of(cooling(0.18)))
    with_it = found("cooling.climb", of(cooling(0.18, more='slope_before = "1.5 K"')))
    assert without.demand is not None
    assert with_it.demand is not None
    assert with_it.demand.sd is not None
    assert with_it.demand.sd < 0.8 * (without.demand.sd or 0.0)


def test_more_boost_warms_the_coolant_and_a_hot_day_is_the_one_that_counts() -> None:
    given = of(cooling(0.14))
    more = replace(goal(), result=cycles(goal().speed, 1.4e5))
    assert value(found("cooling.climb", of(cooling(0.14), more))) > value(found("cooling.climb", given))
    hot = with_corners(given, corner(goal(), "in August", 1.0e5, 313.0))
    one = found("cooling.climb", hot)  # type: ignore[arg-type]
    assert one.corner == "in August"
    assert value(one) > value(found("cooling.climb", given))


def test_height_and_a_soft_cap_bring_the_boil_nearer() -> None:
    base = found("cooling.boil", of(cooling(0.14)))
    soft = found("cooling.boil", of(cooling(0.14, cap=0.3)))
    high = with_corners(of(cooling(0.14)), corner(goal(), "on the pass", 0.75e5, 298.15))
    thin = found("cooling.boil", high)  # type: ignore[arg-type]
    assert base.capacity is not None
    assert soft.capacity is not None
    assert thin.capacity is not None
    assert soft.capacity.value < base.capacity.value - 10
    assert thin.capacity.value < base.capacity.value - 3
    assert thin.corner == "on the pass"
    assert soft.probability < base.probability  # type: ignore[operator]


def test_the_cap_that_it_names_holds() -> None:
    for slope in (0.3, 0.6, 0.9, 1.2, 1.5):
        more = f'slope_before = "{slope} K"'
        one = found("cooling.boil", of(cooling(0.25, cap=0.2, more=more)))
        if "would do" in fill(one.remedy):
            wanted = one.remedy.amounts["cap"].value / 1e5
            assert wanted > 0.2
            again = found("cooling.boil", of(cooling(0.25, cap=round(wanted + 0.005, 2), more=more)))
            assert again.verdict is Verdict.HOLDS
            return
    pytest.fail("no soft cap was answered with one that would do")


def test_a_cooler_in_front_is_counted_and_one_in_the_wing_is_not() -> None:
    front = found("cooling.climb", of(cooling(0.14) + '[cooler]\nposition = "front"\n'))
    side = found("cooling.climb", of(cooling(0.14) + '[cooler]\nposition = "side"\n'))
    assert value(front) > value(side)
    assert "charge cooler in front" in fill(front.cause)
    assert "charge cooler in front" not in fill(side.cause)


def test_the_use_of_the_car_sets_the_load() -> None:
    ends = {use: value(found("cooling.climb", case(used(use, cooling(0.12))))) for use in ("road", "track")}
    assert ends["road"] != ends["track"]
    assert "circuit" in fill(found("cooling.climb", case(used("track", cooling(0.12)))).cause)


def test_a_stated_load_takes_the_place_of_the_use() -> None:
    easy = 'load_share = "30 %"\nload_time = "5 min"\nload_speed = "130 km/h"'
    hard = 'load_share = "90 %"\nload_time = "20 min"\nload_speed = "60 km/h"'
    usual, less, more = (found("cooling.climb", of(cooling(0.14, more=m))) for m in ("", easy, hard))
    assert value(less) < value(usual) < value(more)
    assert fill(more.cause).startswith("Under the load that you state")


def test_points_that_did_not_settle_are_left_out() -> None:
    line = goal()
    broken = line.result._replace(
        wall_heat=np.where(line.speed > line.speed[5], np.nan, line.result.wall_heat)
    )
    settled = np.isfinite(broken.wall_heat)
    one = found("cooling.climb", of(cooling(), replace(line, result=broken, settled=settled)))
    assert one.place.speed is not None
    assert one.place.speed <= line.speed[5]
    assert math.isfinite(value(one))


def test_the_air_behind_the_radiator_is_warmer_than_the_day() -> None:
    given = of(cooling())
    assert 300.0 < air_behind(given, lines(given)[0]) < 360.0
    seen = hottest(given)
    assert seen is not None
    assert seen.before.heat.flat[0] < seen.climb.heat.flat[0]


# ------------------------------------------------------------------------------------------------- driveline


def test_the_clutch_is_set_against_the_torque_of_the_match() -> None:
    given = of(car(clutch=250))
    assert given.goal is not None
    weak = found("driveline.clutch", given)
    assert value(weak) == pytest.approx(float(given.goal.result.torque.max()))
    assert weak.verdict is Verdict.BREAKS
    least = weak.remedy.amounts["least"].value
    assert found("driveline.clutch", of(car(clutch=math.ceil(least)))).verdict is Verdict.HOLDS


def test_a_plate_is_judged_by_its_clamp_load() -> None:
    plate = '[clutch]\nclamp_load = "4000 N"\ndisc_outer = "215 mm"\ndisc_inner = "145 mm"\n'
    one = found("driveline.clutch", of(plate))
    assert one.capacity is not None
    assert one.capacity.value == pytest.approx(0.29 * 4000 * (0.1075 + 0.0725))
    assert "clamp load" in fill(one.remedy)
    assert one.limit.source == "shigley2015"


def test_exchanged_diameters_are_refused_with_their_line() -> None:
    with pytest.raises(BuildFileError, match="exchanged"):
        build(rest='[clutch]\ndisc_outer = "145 mm"\ndisc_inner = "215 mm"\n')


def test_what_is_not_stated_of_the_driveline_is_asked_for_once_with_numbers() -> None:
    one = found("driveline.stated", case())
    assert one.verdict is Verdict.UNKNOWN
    assert "clutch, gear ratios" in fill(one.cause)
    stock = float(np.nanmax(case().baseline.result.torque))
    assert one.cause.amounts["usual"].value == pytest.approx(1.35 * stock)
    assert one.remedy.amounts["torque"].value == pytest.approx(float(goal().result.torque.max()))
    for code in ("clutch", "gearbox", "tyre_speed", "traction"):
        assert maybe(f"driveline.{code}", case()) is None
    assert maybe("driveline.stated", of(car())) is None
    assert maybe("driveline.stated", case(goal=None, strength=None)) is None


def test_a_gearbox_is_judged_where_its_rating_is_stated() -> None:
    weak = found("driveline.gearbox", of(car(more='gearbox_torque = "200 Nm"')))
    strong = found("driveline.gearbox", of(car(more='gearbox_torque = "500 Nm"')))
    assert weak.verdict is Verdict.BREAKS
    assert strong.verdict is Verdict.HOLDS
    assert weak.remedy.amounts["most"].value < 200.0


def test_tyres_are_set_against_the_speed_that_is_reached() -> None:
    slow = found("driveline.tyre_speed", of(car(tyres=160, more='drag_area = "1.4 m2"')))
    fast = found("driveline.tyre_speed", of(car(tyres=300)))
    assert slow.verdict is Verdict.BREAKS
    assert fast.verdict is Verdict.HOLDS
    sure = slow.remedy.amounts["sure"].value * 3.6
    again = car(tyres=math.ceil(sure), more='drag_area = "1.4 m2"')
    assert found("driveline.tyre_speed", of(again)).verdict is Verdict.HOLDS
    assert value(slow) > slow.cause.amounts["before"].value  # the turbo made it faster


def test_unstated_gears_leave_the_tyres_unknown() -> None:
    rest = '[car]\ntyre_speed = "160 km/h"\ntyre = "185/65 R14"\n'
    one = found("driveline.tyre_speed", of(rest))
    assert one.verdict is Verdict.UNKNOWN
    assert fill(one.cause).startswith("Not stated: gear ratios, final drive")


def test_spinning_tyres_are_tight_at_worst_whatever_the_torque() -> None:
    strong = replace(goal(), result=cycles(goal().speed, 3.0e5))
    one = found("driveline.traction", of(car(driven="front"), strong))
    assert one.verdict is Verdict.TIGHT
    assert one.probability is not None
    assert one.probability < 0.5
    assert with_probability(one, 0.01).verdict is Verdict.TIGHT
    assert "third" in fill(one.cause)
    assert found("driveline.traction", of(car(driven="all"))).verdict is Verdict.HOLDS


def test_the_axle_loads_are_told_where_the_battery_has_moved() -> None:
    here = found("driveline.traction", of(car() + '[battery]\nposition = "boot"\n'))
    assert "Axle loads" in fill(here.notes[0])
    total = here.notes[0].amounts["front"].value + here.notes[0].amounts["rear"].value
    assert total == pytest.approx(1150 * 9.80665)
    assert found("driveline.traction", of(car())).notes == ()


# ---------------------------------------------------------------------------------------------------- brakes


def test_small_discs_break_and_those_that_it_names_hold() -> None:
    drag = 'drag_area = "1.4 m2"'
    small = found("brakes.discs", of(car(disc=2.2, pads="standard", more=drag)))
    assert small.verdict is Verdict.BREAKS
    wanted = small.remedy.amounts["disc"].value
    big = found("brakes.discs", of(car(disc=round(wanted + 0.15, 1), pads="standard", more=drag)))
    assert big.verdict is Verdict.HOLDS
    assert value(big) < value(small)
    assert value(small) > small.cause.amounts["before"].value


def test_better_pads_stand_more_and_unstated_discs_cannot_break() -> None:
    worn, good = (found("brakes.discs", of(car(disc=3.4, pads=p))) for p in ("standard", "track"))
    assert worn.probability < good.probability  # type: ignore[operator]
    rest = '[car]\nmass = "1700 kg"\nbrake_pads = "standard"\n'
    one = found("brakes.discs", of(rest))
    assert one.verdict in (Verdict.UNKNOWN, Verdict.HOLDS)
    assert one.on_assumed_part
    assert maybe("brakes.discs", case()) is None


def test_the_circuit_asks_more_of_the_brakes_than_the_road() -> None:
    ends = {use: value(found("brakes.discs", case(used(use, car())))) for use in ("road", "track")}
    assert ends["track"] > ends["road"] + 50


def test_brake_fluid_by_its_age_on_the_date_of_the_file() -> None:
    old = found("brakes.fluid", case(used("road", car(fluid="2020-06-01"))))
    young = found("brakes.fluid", case(used("road", car(fluid="2025-01-01"))))
    assert old.verdict is Verdict.BREAKS
    assert young.verdict is Verdict.HOLDS
    assert value(old) == pytest.approx(5 * 365.25 * 86400, rel=1e-3)
    ahead = found("brakes.fluid", case(used("road", car(fluid="2026-01-01"))))
    assert ahead.verdict is Verdict.UNKNOWN
    assert "after the date of the file" in fill(ahead.cause)
    undated = found("brakes.fluid", of(car()))
    assert undated.verdict is Verdict.UNKNOWN
    assert "no date" in fill(undated.cause)


def test_without_an_operating_line_none_of_them_speaks() -> None:
    whole = build(rest=cooling() + car() + near())
    silent = case(whole, goal=None, strength=None)
    for code in (
        "cooling.climb", "cooling.boil", "driveline.clutch", "driveline.tyre_speed", "driveline.traction",
        "brakes.discs", "brakes.fluid", "neighbours.heat", "neighbours.room", "neighbours.survey",
    ):  # fmt: skip
        assert maybe(code, silent) is None, code


@pytest.mark.parametrize(
    ("rest", "word"),
    [
        ('[[neighbours]]\nwhat = "x"\nkind = "cheese"\ndistance = "10 mm"\nbeside = "turbine"\n', "cheese"),
        ('[[neighbours]]\nwhat = "x"\nkind = "wiring"\nbeside = "turbine"\n', "distance"),
        ('[cooling]\nglycol = "90 %"\n', "60 %"),
        ('[cooling]\nradiator_area = "3 m2"\n', "radiator_area"),
        ('[car]\nbrake_fluid = "dot5"\n', "dot5"),
        ('[clutch]\nlining = "leather"\n', "leather"),
    ],
)
def test_what_cannot_be_is_refused(rest: str, word: str) -> None:
    with pytest.raises(BuildFileError, match=word):
        build(rest=rest)


# -------------------------------------------------------------------------------- the ends of every field

OURS = ("cooling", "driveline", "brakes", "neighbours")
FOUND_IN = ("cooling", "clutch", "battery", "car", "cooler", "manifold", "exhaust")


def drawn_value(known: Field, rng: np.random.Generator) -> str:
    """A value of a field as one would write it: often an end of its range."""
    if known.type is FieldType.CHOICE:
        return f'"{rng.choice(sorted(known.choices))}"'
    if known.type is FieldType.FLAG:
        return str(rng.choice(["true", "false"]))
    if known.type is FieldType.DATE:
        return f"20{rng.integers(10, 25)}-03-02"
    if known.path == "car.gears":
        return '"3.4 2.0 1.3 0.97 0.8"'
    if known.path == "car.tyre" or known.low is None or known.high is None:
        return '"185/65 R14"'
    way = float(rng.choice([0.0, 1.0, rng.random(), rng.random(), rng.random()]))
    there = known.low + way * (known.high - known.low)
    return f'"{round(there)}"' if known.whole else f'"{value_text(known, there)}"'


@pytest.mark.parametrize("seed", range(40))
def test_whatever_the_file_may_state_is_answered_in_whole_sentences(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rest = ""
    for section in FOUND_IN:
        known = [f for f in catalogue().fields.values() if f.section == section and "[]" not in f.path]
        lines_of = [f"{f.name} = {drawn_value(f, rng)}" for f in known if rng.random() < 0.6]
        rest += f"[{section}]\n" + "\n".join(lines_of) + "\n"
    for _ in range(int(rng.integers(0, 3))):
        row = [f for f in catalogue().fields.values() if f.section == "neighbours" and f.name != "what"]
        stated = "\n".join(f"{f.name} = {drawn_value(f, rng)}" for f in row)
        rest += f'[[neighbours]]\nwhat = "thing"\n{stated}\n'
    rest = re.sub(
        r"^fused = false$", "fused = true", rest, flags=re.MULTILINE
    )  # a rating says that there is one
    rest = re.sub(r"^disc_inner = .*$", 'disc_inner = "75 mm"', rest, flags=re.MULTILINE)  # never exchanged
    document = used(str(rng.choice(["road", "hills", "towing", "track"])), rest)
    given = case(document, goal(boost=float(rng.uniform(0.1, 2.0)) * 1e5), drawn=bool(seed % 5 == 0))
    for one in rules():
        answer = one(given) if one.code.partition(".")[0] in OURS else None
        if answer is None:
            continue
        said = " ".join(fill(p) for p in (answer.cause, answer.remedy, *answer.notes))
        assert "nan" not in said.lower()
        assert "{" not in said
        for side in (answer.demand, answer.capacity):
            assert side is None or (math.isfinite(side.value) and side.sd is not None)

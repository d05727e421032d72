"""Radiator, tyres, gearbox, brakes: remedies taken at their word, and no silence where a field is missing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from boostwright.findings.model import Verdict
from boostwright.physics.driveline import road_speed_at
from boostwright.systems.cooling import Air, climb
from boostwright.systems.stated.cooling import cooling_of, uncertain_cooling
from boostwright.systems.stated.transient import car_of
from boostwright.views.numbers import fill
from tests.findings.test_cooling_and_car import car, cooling, of, value
from tests.findings.test_subjects import build, case, found, maybe
from tests.sample import cycles, goal


def test_revs_are_cut_in_every_gear_that_passes_the_tyres() -> None:
    """The remedy, taken at its word: in each gear the cut brings the car below the rating, for sure."""
    one = found("driveline.tyre_speed", of(car(tyres=170)))
    cuts = {k: v.value for k, v in one.remedy.amounts.items() if k.startswith("cut")}
    assert set(cuts) == {"cut3", "cut4"}  # 182 km/h in fourth gear at the end of revs
    assert "in fourth gear" in fill(one.remedy)
    gears = car_of(of(car()).build)
    for k in (3, 4):
        reached = road_speed_at(cuts[f"cut{k}"], gears.gears[k] * gears.final_drive, gears.radius)
        assert reached == pytest.approx(0.98 * 170 / 3.6, rel=2e-3)


@pytest.mark.parametrize("last", [-3, -1])
def test_a_line_that_ends_early_makes_the_car_no_slower(last: int) -> None:
    """Speeds that did not settle, or were not asked for, are not the engine's end of revs."""
    line = goal()
    whole = found("driveline.tyre_speed", of(car(tyres=200), line))
    settled = line.settled.copy()
    settled[last:] = False
    short = found("driveline.tyre_speed", of(car(tyres=200), replace(line, settled=settled)))
    assert whole.verdict is Verdict.BREAKS
    assert short.verdict is Verdict.BREAKS
    assert value(short) >= 0.99 * value(whole)


def test_brakes_that_nobody_can_judge_are_asked_for() -> None:
    bare = car().replace('mass = "1150 kg"\n', "").replace('brake_disc_mass = "7 kg"\n', "")
    assert maybe("brakes.discs", of(bare)) is None
    one = found("driveline.stated", of(bare))
    assert one.verdict is Verdict.UNKNOWN
    assert "mass of the car" in fill(one.cause)


def test_gears_that_nobody_stated_spare_no_gearbox() -> None:
    strong = replace(goal(), result=cycles(goal().speed, 2.0e5))
    alone = found("driveline.gearbox", of('[car]\ngearbox_torque = "200 Nm"\n', strong))
    whole = found("driveline.gearbox", of(car(more='gearbox_torque = "200 Nm"'), strong))
    assert "tyres spin" not in fill(alone.cause)
    assert "tyres spin" in fill(whole.cause)


@pytest.mark.parametrize("slope", ["1.5 K", "3 K"])
def test_the_radiator_that_it_names_holds_beside_a_reading_with_the_old_one(slope: str) -> None:
    """The remedy, taken at its word: the new face, and the old one beside the rise that was read with it."""
    read = f'slope_before = "{slope}"'
    small = found("cooling.climb", of(cooling(0.20, more=read)))
    assert small.verdict is Verdict.BREAKS
    assert "slope_area" in fill(small.remedy)
    face = round(small.remedy.amounts["wider"].value + 0.005, 3)
    large = found("cooling.climb", of(cooling(face, more=f'{read}\nslope_area = "0.20 m2"')))
    assert large.verdict is Verdict.HOLDS
    assert "slope_area" not in fill(large.remedy)
    same = found("cooling.climb", of(cooling(0.20, more=f'{read}\nslope_area = "0.20 m2"')))
    assert value(same) == pytest.approx(value(small))
    # what it came to before the turbo was with the old radiator
    assert large.cause.amounts["was"].value == pytest.approx(small.cause.amounts["was"].value)


def test_a_draw_counts_the_law_of_wall_heat_once() -> None:
    """Which law holds is drawn with the engine; what the draw does not hold stays in the spread."""
    plain, drawn = (found("cooling.climb", case(build(rest=cooling(0.14)), drawn=d)) for d in (False, True))
    assert plain.demand is not None
    assert drawn.demand is not None
    assert drawn.demand.value == plain.demand.value
    assert 0.0 < (drawn.demand.sd or 0.0) < (plain.demand.sd or 0.0)


def test_a_cap_that_nobody_stated_cannot_break() -> None:
    given = cooling(0.10, more='slope_before = "4 K"')
    stated = found("cooling.boil", of(given))
    bare = found("cooling.boil", of(given.replace('cap_pressure = "1.2 bar"\n', "")))
    assert stated.verdict is Verdict.BREAKS
    assert bare.verdict is Verdict.UNKNOWN
    assert fill(bare.cause).startswith("No cap is stated")


def test_the_air_of_the_day_of_the_reading_is_not_known() -> None:
    """A rise says what a radiator does over the air of that day: 6 K of 70 are a twelfth of it."""
    given = cooling_of(of(cooling(0.20, more='slope_before = "1.5 K"')).build)
    air = Air(101325.0, 303.15)
    warm, mild = (
        climb(replace(given, slope_air=given.slope_air + by), 60e3, 0.0, air, 50e3).conductance
        for by in (6.0, 0.0)
    )
    over = given.start - given.slope_air
    assert warm / mild == pytest.approx(over / (over - 6.0), rel=0.05)
    rows = {
        name: sd for name, _, sd in uncertain_cooling(of(cooling(0.20, more='slope_before = "1 K"')).build)
    }
    assert rows["radiator/reading_air"] == pytest.approx(6.0)
    assert "radiator/reading_air" not in {n for n, *_ in uncertain_cooling(of(cooling(0.20)).build)}

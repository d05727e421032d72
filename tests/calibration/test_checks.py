"""Each consistency check can fail: a fault is planted, and it alone is found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from boostwright.calibration.checks import checks_of
from boostwright.calibration.records import Calibration, Check, Origin, Table
from tests.calibration.conftest import Small

Plant = Callable[[Calibration], Calibration]


def edited(calibration: Calibration, key: str, change: Callable[[np.ndarray], None]) -> Calibration:
    """The calibration with one table changed by hand."""

    def one(table: Table) -> Table:
        if table.key != key:
            return table
        value, origin = table.value.copy(), table.origin.copy()
        change(value)
        origin[value != table.value] = Origin.HAND
        return replace(table, value=value, origin=origin)

    return replace(calibration, tables=tuple(one(t) for t in calibration.tables))


def set_to(calibration: Calibration, key: str, value: float) -> Calibration:
    """The calibration with one setting changed."""
    settings = tuple(s._replace(value=value) if s.key == key else s for s in calibration.settings)
    return replace(calibration, settings=settings)


def cell(i: int, j: int, times: float = 1.0, plus: float = 0.0) -> Callable[[np.ndarray], None]:
    def change(value: np.ndarray) -> None:
        value[i, j] = value[i, j] * times + plus

    return change


def failing(checks: tuple[Check, ...]) -> set[str]:
    return {check.key for check in checks if check.holds is False}


PLANTS: dict[str, tuple[Plant, set[str]]] = {
    "charge alone": (lambda c: edited(c, "volumetric_efficiency", cell(3, 3, 1.01)), {"sizing"}),
    "pulse alone": (lambda c: edited(c, "injector_pulse", cell(2, 2, 1.02)), {"sizing"}),
    "spark rises with boost": (
        lambda c: edited(c, "spark", cell(1, 5, plus=-np.radians(25.0))),
        {"spark_falls"},
    ),
    "spark too early": (
        lambda c: edited(c, "spark", cell(3, 2, plus=-np.radians(2.0))),
        {"spark_margin"},
    ),
    "spark too early in the last row": (
        lambda c: edited(c, "spark", cell(5, 4, plus=-np.radians(10.0))),
        {"spark_margin", "spark_falls"},
    ),
    "dead time grows with voltage": (lambda c: edited(c, "dead_time", cell(4, 2, 1.5)), {"dead_time_falls"}),
    "cut below the boost": (lambda c: set_to(c, "boost_cut", 140e3), {"cut_above_boost"}),
    "cut above the parts": (
        lambda c: set_to(c, "boost_cut", 158e3),
        {"cut_below_strength", "cut_below_check"},
    ),
    "cut above the sensor": (
        lambda c: set_to(c, "boost_cut", 245e3),
        {"cut_below_sensor", "cut_below_knock", "cut_below_strength", "cut_below_check", "tables_reach"},
    ),
    "no cut": (
        lambda c: set_to(c, "boost_cut", float("nan")),
        {"cut_above_boost", "cut_below_sensor", "cut_below_knock", "cut_below_strength", "cut_below_check"},
    ),
    "speed cut too high": (lambda c: set_to(c, "speed_limit", 720.0), {"speed_limit"}),
    "pulse longer than the injector can": (
        lambda c: edited(c, "injector_pulse", cell(5, 4, plus=9e-3)),
        {"sizing", "injectors"},
    ),
    "pulse too short to repeat": (
        lambda c: edited(c, "injector_pulse", cell(1, 0, plus=-0.9e-3)),
        {"sizing", "smallest_pulse"},
    ),
    "no pulse where the injector could": (
        lambda c: edited(c, "injector_pulse", cell(4, 4, float("nan"))),
        {"sizing", "injectors"},
    ),
    "lean under boost": (
        lambda c: edited(c, "lambda_target", lambda v: v[:, 4:].__imul__(1.12)),
        {"lambda_falls", "sizing", "turbine_heat"},
    ),
    "leaner with boost": (
        lambda c: edited(c, "lambda_target", cell(4, 5, plus=0.1)),
        {"lambda_falls", "sizing"},
    ),
}


@pytest.mark.parametrize("name", PLANTS)
def test_a_planted_fault_is_found_and_no_other(sound: Small, name: str) -> None:
    plant, wanted = PLANTS[name]
    made = sound.made
    before = failing(made.calibration.checks)
    after = failing(checks_of(plant(made.calibration), made.work, made.cut))
    assert wanted <= after, f"{name}: not seen {wanted - after}"
    assert after - before <= wanted, f"{name}: also {after - before - wanted}"


def test_a_fault_says_where_it_is(sound: Small) -> None:
    made = sound.made
    bad = edited(made.calibration, "spark", cell(1, 5, plus=-np.radians(25.0)))
    check = next(c for c in checks_of(bad, made.work, made.cut) if c.key == "spark_falls")
    assert check.cells == (("spark", 1, 5),)
    assert check.remedy


def test_the_sound_builds_tables_hold_together(sound: Small) -> None:
    broken = failing(sound.made.calibration.checks)
    assert not broken & {
        "sizing", "spark_falls", "spark_margin", "lambda_falls", "dead_time_falls", "cut_above_boost",
        "cut_below_sensor", "cut_below_knock", "cut_below_strength", "tables_reach", "injectors", "pump",
        "smallest_pulse", "coil", "speed_limit",
    }  # fmt: skip


def test_the_planted_builds_mistakes_are_all_seen(demo: Callable[[str], Small]) -> None:
    made = demo("planted").made
    broken = failing(made.calibration.checks)
    assert {
        "cut_above_boost", "cut_below_sensor", "cut_below_knock", "cut_below_strength", "injectors",
        "pump", "coil", "even_burn", "turbine_heat",
    } <= broken  # fmt: skip
    # what can be asked of its tables alone still holds
    assert not broken & {"sizing", "spark_falls", "spark_margin", "lambda_falls", "dead_time_falls"}
    cut = made.calibration.setting("boost_cut")
    assert np.isnan(cut.value)
    assert "No cut leaves ordinary driving alone" in cut.why


def test_an_injector_that_never_closes_has_no_number(demo: Callable[[str], Small]) -> None:
    made = demo("planted").made
    pulse = made.calibration.table("injector_pulse")
    turns = 4 * np.pi / pulse.axes[0].values[:, None]
    known = np.isfinite(pulse.value)
    assert not known.all()
    assert (pulse.value[known] <= (turns * np.ones_like(pulse.value))[known] + 1e-12).all()
    # spark and lambda stand even there: what keeps an engine alive when a gate sticks
    assert np.isfinite(made.calibration.table("spark").value).all()
    assert np.isfinite(made.calibration.table("lambda_target").value).all()


def test_a_sensor_of_unknown_range_cannot_be_told(sound: Small) -> None:
    from boostwright.calibration.settings import cut_of
    from boostwright.systems.stated.sensing import pressure_sensor_of

    values = {k: v for k, v in sound.build.values.items() if k != "pressure_sensor.highest"}
    build = replace(sound.build, values=values)
    cut = cut_of(build, replace(sound.case, build=build), pressure_sensor_of(build))
    checks = checks_of(sound.made.calibration, sound.made.work, cut)
    told = next(c for c in checks if c.key == "cut_below_sensor")
    assert told.holds is None
    assert "nobody has stated" in told.words


def test_an_air_meter_that_ends_too_early_is_seen(demo: Callable[[str], Small]) -> None:
    made = demo("planted").made
    told = next(c for c in made.calibration.checks if c.key == "meter")
    assert told.holds is None
    assert not any(c.key == "meter" for c in demo("sound").made.calibration.checks)
    from boostwright.build.values import Source, StatedValue

    for highest, holds in ((0.100, False), (0.500, True)):
        values = dict(made.work.build.values)
        path = "controller.meter_highest"
        values[path] = StatedValue(path, highest, 0.002, Source.MAKER)
        work = replace(
            made.work,
            build=replace(made.work.build, values=values),
            controller=replace(made.work.controller, meter_highest=highest),
        )
        told = next(c for c in checks_of(made.calibration, work, made.cut) if c.key == "meter")
        assert told.holds is holds
        assert bool(told.cells) is not holds


def test_coil_pump_knock_and_burn_can_fail(sound: Small) -> None:
    """What no edit of a table touches: the parts and the cells are changed instead."""
    from boostwright.calibration.settings import Room

    made = sound.made
    work = made.work
    hot = work.cells.made.result._replace(ca50=work.cells.made.result.ca50 + np.radians(25.0))
    late = replace(work, cells=replace(work.cells, made=replace(work.cells.made, result=hot)))
    assert "even_burn" in failing(checks_of(made.calibration, late, made.cut))
    values = dict(work.build.values)
    values["ignition.coil_voltage"] = replace(values["ignition.coil_voltage"], value=9e3)
    weak = replace(work.build, values=values)
    coil = replace(work, build=weak, case=replace(work.case, build=weak))
    assert "coil" in failing(checks_of(made.calibration, coil, made.cut))
    pump = replace(work, parts=replace(work.parts, pump_voltage=6.0))
    assert "pump" in failing(checks_of(made.calibration, pump, made.cut))
    near = made.cut._replace(
        above=(Room("knock", made.cut.value - 2e3, 1e3, "where knock leaves no spark,"),)
    )
    assert "cut_below_knock" in failing(checks_of(made.calibration, work, near))

"""What a recorded drive read of the charge, in the tables: cells, spread, source, no field counted twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.calibration.breathing import Breathing
from boostwright.calibration.make import calibration_in
from boostwright.calibration.records import Origin
from boostwright.drive.charge_left import charge_left
from boostwright.drive.learned import BreathingMap, Learned, LearnedLine, learned_build
from boostwright.systems.stated.engine import factors_of
from tests.calibration.conftest import PRESSURES, SPEEDS, Small
from tests.labels import check

RPM = np.pi / 30.0
MAP_SPEEDS = np.array([1000.0, 3000.0, 5000.0, 7000.0]) * RPM
MAP_PRESSURES = np.array([60e3, 110e3, 160e3])


def breathing(factor: float) -> Breathing:
    shape = (MAP_SPEEDS.size, MAP_PRESSURES.size)
    covered = np.zeros(shape, dtype=bool)
    covered[1:3, 1:] = True  # 3000 to 5000 rpm under boost
    return Breathing(MAP_SPEEDS, MAP_PRESSURES, np.full(shape, factor), np.full(shape, 0.015), covered)


@check("limit", note="air and open time go with the factor, to what the pump's lines lose more (1 %)")
def test_charge_and_pulse_go_with_what_was_read(sound: Small) -> None:
    made = calibration_in(
        sound.build, sound.case, speeds=SPEEDS, pressures=PRESSURES["sound"], spreads=False,
        breathing=breathing(1.06),
    ).calibration  # fmt: skip
    plain = calibration_in(
        sound.build, sound.case, speeds=SPEEDS, pressures=PRESSURES["sound"], spreads=False
    ).calibration
    before, after = (c.table("volumetric_efficiency") for c in (plain, made))
    np.testing.assert_allclose(after.value, 1.06 * before.value, rtol=1e-12)
    read = after.origin == Origin.LOG
    assert read.any()
    rows, columns = np.nonzero(read)
    assert SPEEDS[rows].min() >= 2000 * RPM
    assert SPEEDS[rows].max() <= 6000 * RPM
    assert PRESSURES["sound"][columns].min() >= 85e3
    np.testing.assert_allclose(after.sd[read], 0.015 * after.value[read], rtol=1e-6)
    np.testing.assert_allclose(after.sd[~read], 1.06 * before.sd[~read], rtol=1e-12)
    assert (after.origin != before.origin).sum() == read.sum()
    pulses = [c.table("injector_pulse").value for c in (plain, made)]
    assert np.all(pulses[1][read] > pulses[0][read])
    assert np.all(pulses[1] - pulses[0] < 0.07 * pulses[0])
    np.testing.assert_array_equal(made.table("spark").value, plain.table("spark").value)
    (sizing,) = (one for one in made.checks if one.key == "sizing")
    assert sizing.holds is True


def learned(build_before: tuple[float, float], after: tuple[float, float], factor: np.ndarray) -> Learned:
    lines = tuple(
        LearnedLine(f"model.{name}", name, "ratio", b, 0.05, a, 0.02, 0.4, True)
        for name, b, a in zip(("breathing", "breathing_slope"), build_before, after, strict=True)
    )
    shape = (MAP_SPEEDS.size, MAP_PRESSURES.size)
    chart = BreathingMap(
        MAP_SPEEDS, MAP_PRESSURES, factor, np.full(shape, 0.02), np.full(shape, 0.1),
        np.ones(shape, dtype=bool), *(np.zeros(1) for _ in range(4)),
    )  # fmt: skip
    return Learned("drive.csv", "f" * 16, lines, np.eye(2), chart, 1.0, 0.8, 40, ())


@check("limit", note="a map that is nothing but level and slope leaves nothing over")
@pytest.mark.parametrize("fitted", [None, 0.95])
def test_what_the_fields_hold_is_not_counted_twice(sound: Small, fitted: float | None) -> None:
    """Whether or not a fit has moved the build since: the map is a factor on the build of the drive."""
    build = sound.build
    factors = factors_of(build)
    before = (factors.breathing, factors.breathing_slope)
    after = (0.9 * factors.breathing, factors.breathing_slope + 0.04)
    moved = replace(factors, breathing=after[0], breathing_slope=after[1])
    ratio = moved.breathing_at(MAP_SPEEDS) / factors.breathing_at(MAP_SPEEDS)
    local = np.ones((MAP_SPEEDS.size, MAP_PRESSURES.size))
    local[2, 1] = 1.03
    taught = learned(before, after, ratio[:, None] * local)
    if fitted is not None:
        value = replace(build["model.breathing"], value=fitted)
        build = replace(build, _defaults={"model.breathing": value})
    left = charge_left(build, taught)
    np.testing.assert_allclose(left.factor, local, rtol=1e-12)
    after_it = factors_of(learned_build(build, taught))
    assert after_it.breathing == pytest.approx(after[0])


def test_a_move_that_the_drive_told_nothing_of_stays_in_the_map(sound: Small) -> None:
    factors = factors_of(sound.build)
    before = (factors.breathing, factors.breathing_slope)
    taught = learned(before, (0.97 * before[0], before[1]), np.full((4, 3), 0.97))
    untold = replace(
        taught, lines=(replace(taught.lines[0], known=0.99), taught.lines[1])
    )  # `learned_build` leaves such a field as it is
    np.testing.assert_allclose(charge_left(sound.build, untold).factor, 0.97, rtol=1e-12)
    np.testing.assert_allclose(charge_left(sound.build, taught).factor, 1.0, rtol=1e-12)


def test_what_a_drive_has_found_stays_while_the_others_are_moved(sound: Small) -> None:
    """One unknown at a time is moved; were the learned ones to fall back, each would count as their whole
    move.
    """
    factors = factors_of(sound.build)
    before = (factors.breathing, factors.breathing_slope)
    taught = learned(before, (0.9 * before[0], 0.05), np.full((4, 3), 0.9))
    made = calibration_in(
        learned_build(sound.build, taught), sound.case, speeds=SPEEDS, pressures=PRESSURES["sound"],
        together=taught.together(),
    )  # fmt: skip
    burning = made.work.cells.burns & sound.made.work.cells.burns
    now, then = (m.work.cells.air_sd[burning] for m in (made, sound.made))
    assert np.median(now) < np.median(then)
    assert np.all(now < 1.2 * then)

"""The front door of the room: what goes in, what comes out, what is refused."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.calibration.make import calibration_in, starting_calibration
from boostwright.calibration.records import Calibration, Origin
from boostwright.errors import OutOfRange
from tests.calibration.conftest import PRESSURES, SPEEDS, Small


def without(build: Build, *paths: str) -> Build:
    """The build with some statements taken out of its file."""
    return replace(build, values={k: v for k, v in build.values.items() if k not in paths}, _defaults={})


def quick(one: Small, build: Build) -> Calibration:
    """Tables of a changed build on the case at hand, no spreads."""
    return calibration_in(
        build, replace(one.case, build=build), speeds=SPEEDS[1:5:3], pressures=PRESSURES["sound"][1:5],
        spreads=False,
    ).calibration  # fmt: skip


@pytest.mark.parametrize("probability", [0.3, 1.0, float("nan"), -1.0])
def test_a_probability_outside_its_range_is_refused(sound: Small, probability: float) -> None:
    with pytest.raises(OutOfRange, match=r"it takes 0\.5 to 0\.999"):
        calibration_in(sound.build, sound.case, probability=probability)


def test_the_door_takes_what_the_others_count_on() -> None:
    names = inspect.signature(starting_calibration).parameters
    assert next(iter(names)) == "build"
    assert {"speeds", "pressures", "probability", "progress"} <= set(names)


def test_cautions_and_what_was_taken_for_granted_come_with_it(sound: Small) -> None:
    calibration = sound.made.calibration
    text = " ".join(calibration.cautions)
    for words in (
        "starting point for a competent person",
        "wideband",
        "knock detection",
        "dynamometer",
        "law",
    ):
        assert words in text
    assert any("not fitted" in words for words in calibration.warnings)
    assert calibration.fingerprint == sound.build.fingerprint
    assert calibration.name == sound.build.name
    assert calibration.probability == 0.9


def test_settings_carry_their_rule(demo: Callable[[str], Small]) -> None:
    for name in PRESSURES:
        for setting in demo(name).made.calibration.settings:
            assert setting.why, setting.key
            assert isinstance(setting.origin, Origin)


def test_the_cut_of_the_sound_build_lies_between_boost_and_parts(sound: Small) -> None:
    cut = sound.made.cut
    assert cut.highest.pressure <= cut.value <= min(room.pressure for room in cut.above)
    assert {room.key for room in cut.above} == {"sensor", "knock", "strength", "check"}


def test_no_sensor_no_transfer_and_it_is_said(sound: Small) -> None:
    calibration = quick(sound, without(sound.build, "pressure_sensor.highest"))
    assert not any(table.key == "pressure_sensor" for table in calibration.tables)
    assert any("Transfer of the pressure sensor" in words for words in calibration.not_said)


def test_no_spring_no_gate_numbers_and_it_is_said(sound: Small) -> None:
    calibration = quick(sound, without(sound.build, "wastegate.spring"))
    assert not any(table.key.startswith("gate") for table in calibration.tables)
    assert any("wastegate.spring" in words for words in calibration.not_said)


def test_a_plumbed_solenoid_gets_its_duty(sound: Small) -> None:
    from boostwright.build.values import Source, StatedValue

    values = dict(sound.build.values)
    values["wastegate.solenoid"] = StatedValue("wastegate.solenoid", "bleed", 0.0, Source.CHOSEN)
    calibration = quick(sound, replace(sound.build, values=values))
    duty, share = calibration.table("gate_duty"), calibration.table("gate_signal_share")
    held = np.isfinite(duty.value)
    assert held.any()
    assert ((duty.value[held] > 0) & (duty.value[held] < 1)).all()
    assert (np.argsort(duty.value[held]) == np.argsort(share.value[held])).all(), (
        "more to take off, more duty"
    )
    assert (duty.sd[held] > 0).all()


def test_without_a_turbo_the_engine_still_has_its_tables(sound: Small) -> None:
    light = {key: value for key, value in sound.case.extra.items() if key == "light_loads"}
    case = replace(
        sound.case, goal=None, gate_shut=None, corners=(), no_goal="The file states no turbo.", extra=light
    )
    calibration = calibration_in(
        sound.build, case, speeds=SPEEDS[1:5:3], pressures=np.array([40e3, 70e3, 97e3]), spreads=False
    ).calibration
    assert np.isnan(calibration.setting("boost_cut").value)
    assert not any(table.key == "boost_target" for table in calibration.tables)
    assert any("no turbo" in words for words in calibration.not_said)
    assert np.isfinite(calibration.table("spark").value).all()


def test_ground_that_a_fit_reaches_is_the_baselines(sound: Small) -> None:
    from boostwright.fitting.fitted import FITTED

    build = sound.build
    fitted = replace(build["model.breathing"], note=FITTED)
    fitted_build = replace(build, _defaults={"model.breathing": fitted})
    made = calibration_in(
        fitted_build,
        replace(sound.case, build=fitted_build),
        speeds=SPEEDS,
        pressures=PRESSURES["sound"],
        spreads=False,
    )
    origin = made.calibration.table("volumetric_efficiency").origin
    pressures = PRESSURES["sound"]
    near = np.abs(pressures / sound.case.ambient_pressure - 1) <= 0.2
    assert (origin[2][near] == Origin.BASELINE).all()
    assert (origin[2][~near] == Origin.MODEL).all()
    assert not any("not fitted" in words for words in made.calibration.warnings)


def test_the_same_build_gives_the_same_tables(sound: Small) -> None:
    one, two = quick(sound, sound.build), quick(sound, sound.build)
    for a, b in zip(one.tables, two.tables, strict=True):
        assert np.array_equal(a.value, b.value, equal_nan=True), a.key

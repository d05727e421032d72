"""Hot intake air told apart by what makes it hot; coolant against its habit."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive import watch_heat
from tests.drive.made import RATE, between, everyday, scene, smooth


def test_a_sound_drive_says_nothing_of_heat() -> None:
    whole = scene(everyday(600.0))
    assert watch_heat.intake_air(whole) == []
    assert watch_heat.coolant(whole) == []


def test_air_that_heats_with_each_pull_is_a_weak_cooler() -> None:
    channels = everyday(600.0)
    boosted = np.where(channels["manifold_pressure"] > 110e3, 25.0, 0.0)
    boosted[: int(300 * RATE)] = boosted[int(400 * RATE) :] = 0.0
    channels["intake_temperature"] = np.round((channels["intake_temperature"] + smooth(boosted, 2.0)) * 2) / 2
    notices = watch_heat.intake_air(scene(channels))
    assert {n.kind for n in notices} == {"cooler-weak"}
    assert all(295.0 < n.start < 405.0 for n in notices)


def test_air_that_is_hot_between_pulls_is_soak() -> None:
    channels = everyday(600.0)
    quiet = np.where(channels["manifold_pressure"] < 60e3, 20.0, 3.0)
    quiet[: int(300 * RATE)] = quiet[int(380 * RATE) :] = 0.0
    channels["intake_temperature"] = np.round((channels["intake_temperature"] + smooth(quiet, 3.0)) * 2) / 2
    notices = watch_heat.intake_air(scene(channels))
    assert {n.kind for n in notices} == {"intake-soak"}


def test_coolant_that_climbs_carries_its_slope() -> None:
    channels = everyday(600.0)
    rng = np.random.default_rng(1)
    level = 361.0 + rng.normal(0.0, 0.1, channels["throttle"].size)
    channels["coolant_temperature"] = np.round(level * 2) / 2
    where = between(300.0, 400.0)
    channels["coolant_temperature"][where] += (
        np.round(np.linspace(0.0, 15.0, where.stop - where.start) * 2) / 2
    )
    (notice,) = watch_heat.coolant(scene(channels))
    assert notice.kind == "coolant-rising"
    assert notice.size.value == pytest.approx(15.0, abs=3.0)
    assert notice.also[1].value == pytest.approx(9.0, abs=2.0)  # K in a minute: 15 K in 100 s


def test_coolant_beyond_108_degrees_is_said_however_usual() -> None:
    channels = everyday(600.0)
    channels["coolant_temperature"] += 21.0
    assert [n.kind for n in watch_heat.coolant(scene(channels))][:1] == ["coolant-rising"]

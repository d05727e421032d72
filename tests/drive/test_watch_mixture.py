"""Lambda: its delay against a known one, lean and rich under load, sensor ends, and what is not real."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive import watch_mixture
from boostwright.drive.lambda_time import lambda_time
from tests.drive.made import RATE, between, everyday, scene, smooth
from tests.labels import check


def under_load(channels):
    return [n for n in watch_mixture.mixture(scene(channels)) if n.size.of != "lean moments of this cause"]


def kinds(channels):
    return [n.kind for n in under_load(channels)]


def test_a_sound_mixture_says_nothing() -> None:
    assert kinds(everyday(480.0)) == []


@check("limit", note="a pure delay and a first-order lag, both known; +/- two readings of 20 ms")
@pytest.mark.parametrize("late", [0.0, 0.2, 0.4])
def test_the_delay_is_that_which_was_put_in(late: float) -> None:
    channels = everyday(480.0)
    channels["lambda"] = np.roll(channels["lambda"], int(late * RATE))
    time = lambda_time(scene(channels))
    assert time.edges >= 5
    flow = 25e3 * 2300 * 2 * np.pi / 60  # of the overrun, where the edges are
    assert time.sensor + time.gas / flow == pytest.approx(late + _lag_to_the_mark(), abs=0.04)


def _lag_to_the_mark() -> float:
    """Time of the lag of 0.1 s from 1.0 towards 1.4 until 0.4 of the way to the highest reading."""
    mark = 1.0 + 0.4 * 0.36
    return -0.1 * float(np.log((1.4 - mark) / 0.4))


def test_no_cuts_and_no_target_leave_a_usual_delay_that_says_so() -> None:
    channels = everyday(120.0)
    del channels["lambda_target"]
    channels["injector_pulse"][:] = 0.003
    channels["injector_duty"][:] = 0.2
    assert lambda_time(scene(channels)).edges == 0


@pytest.mark.parametrize(("factor", "kind"), [(1.08, "lean"), (0.92, "rich")])
def test_lean_and_rich_under_load_with_their_size(factor: float, kind: str) -> None:
    channels = everyday(480.0)
    channels["lambda"][between(301.5, 307.0)] *= factor
    (notice,) = under_load(channels)
    assert notice.kind == kind
    assert 300.5 < notice.start < notice.end < 308.0
    assert abs(notice.size.value) == pytest.approx(0.8 * 0.08, abs=0.02)
    assert kind == "rich" or "real" in notice.note


def test_without_a_target_the_drives_own_habit_is_the_measure() -> None:
    channels = everyday(480.0)
    del channels["lambda_target"]
    channels["lambda"][between(301.5, 307.0)] *= 1.08
    assert kinds(channels) == ["lean"]


def test_a_lean_reading_after_a_torque_cut_is_explained() -> None:
    channels = everyday(480.0)
    channels["spark_advance"][between(303.0, 303.3)] -= 0.35
    channels["lambda"][between(303.1, 304.0)] *= 1.15
    (notice,) = under_load(channels)
    assert (notice.kind, notice.fault) == ("lean-explained", False)
    assert "gear change" in notice.note


def test_lean_with_little_fuel_pressure_says_so() -> None:
    channels = everyday(480.0)
    channels["fuel_pressure"][between(301.0, 307.0)] -= 40e3
    channels["lambda"][between(301.5, 307.0)] *= 1.08
    (notice,) = under_load(channels)
    assert notice.kind == "lean"
    assert "fuel pressure" in notice.note


def test_lean_while_the_car_pulls_less_may_be_a_misfire() -> None:
    channels = everyday(480.0)
    n = channels["lambda"].size
    t = np.arange(n) / RATE
    pause = (t > 303.0) & (t < 306.0)
    speed = channels["engine_speed"]
    slower = np.interp(t, [303.0, 306.0], [0.0, 1.0]) * 80.0
    channels["engine_speed"] = speed - np.where(t > 303.0, slower, 0.0) * (t < 308.0)
    channels["lambda"][pause] *= 1.12
    notices = under_load(channels)
    assert any("unburned" in n.note for n in notices)


def test_the_rich_end_of_the_sensor_under_load() -> None:
    channels = everyday(480.0)
    channels["lambda"][between(302.0, 304.0)] = 0.65
    (notice,) = watch_mixture.lambda_ends(scene(channels))
    assert notice.kind == "lambda-at-its-rich-end"
    assert notice.size.value == pytest.approx(2.0, abs=0.1)


def test_overrun_at_the_lean_end_is_everyday() -> None:
    assert watch_mixture.lambda_ends(scene(everyday(480.0))) == []


def starts(waits: list[float]) -> dict[str, np.ndarray]:
    """A start each 100 s, after which lambda stands for that long."""
    channels = everyday(100.0 * len(waits))
    for k, wait in enumerate(waits):
        channels["engine_speed"][between(100.0 * k, 100.0 * k + 4.0)] = 0.0
        channels["lambda"][between(100.0 * k, 100.0 * k + 4.0 + wait)] = 1.36
    return channels


def test_the_start_after_which_lambda_reads_late() -> None:
    (notice,) = watch_mixture.lambda_ready(scene(starts([10.0, 10.0, 17.0])))
    assert notice.kind == "lambda-not-ready"
    assert notice.size.value == pytest.approx(17.0, abs=0.5)
    assert notice.start == pytest.approx(214.0, abs=1.0)


def test_a_sensor_found_warm_is_no_measure_for_one_that_was_not() -> None:
    assert watch_mixture.lambda_ready(scene(starts([10.0, 0.1, 10.0]))) == []


def test_smooth_is_a_first_order_lag() -> None:
    step = np.r_[0.0, np.ones(50)]
    assert smooth(step, 0.2)[10] == pytest.approx(1.0 - np.exp(-10 / RATE / 0.2))


def moments(channels) -> float:
    found = [n for n in watch_mixture.mixture(scene(channels)) if n.size.of == "lean moments of this cause"]
    assert all(n.kind == "lean-explained" and not n.fault for n in found)
    return sum(n.size.value for n in found)


def test_brief_lean_readings_after_cuts_are_counted_and_blamed_on_nobody() -> None:
    channels = everyday(480.0)
    before = moments(channels)
    rate = int(RATE)
    for k in range(12):  # a spell of air one second after each overrun, when fuel is given again
        first = int((40.0 * k + 33.0) * rate)
        channels["lambda"][first : first + rate // 10] = 1.2
    assert moments(channels) == before + 12.0

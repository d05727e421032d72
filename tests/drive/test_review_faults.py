"""One fault at a time in a plain made-up drive: found in its place, named rightly, nothing else blamed."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive.review import review
from boostwright.library.notice_kinds import notice_kinds
from tests.drive.made_up import DEGREE, OUTSIDE, RATIO, RPM, TARGET, Drive, drive


@pytest.fixture
def made() -> Drive:
    return drive()


def faults(made: Drive, *, without: tuple[str, ...] = ()) -> list[tuple[str, int, int]]:
    return [(n.kind, n.first_row, n.last_row) for n in review(made.recording(without=without)).faults]


def only(made: Drive, kind: str, where: slice, *, without: tuple[str, ...] = ()) -> None:
    found = faults(made, without=without)
    assert [f[0] for f in found] == [kind], found
    slack = round(1.0 * made.rate)
    assert found[0][1] < where.stop + slack
    assert found[0][2] > where.start - slack


def test_a_sound_drive_has_no_fault(made: Drive) -> None:
    done = review(made.recording())
    assert done.faults == ()
    assert len(done.pulls) == 8
    assert {p.stretch.gear for p in done.pulls} == {3}


@pytest.mark.parametrize(
    "without", [("boost_target",), ("gate_duty",), ("gear",), ("throttle",), ("road_speed",)]
)
def test_a_sound_drive_with_a_channel_missing_has_no_fault(made: Drive, without: tuple[str, ...]) -> None:
    assert faults(made, without=without) == []


def test_overshoot(made: Drive) -> None:
    here = made.part(3, "pull", 3.0, 3.5)
    made.value["manifold_pressure"][here] += 14e3
    only(made, "boost-over-target", here)


def test_creep(made: Drive) -> None:
    here = made.part(4, "pull", 3.2, 8.0)
    made.value["manifold_pressure"][here] += np.linspace(0.0, 25e3, here.stop - here.start)
    made.write("gate_duty", here, 0.0)
    only(made, "boost-creep", here)


def test_every_pull_that_creeps_is_told_by_the_target(made: Drive) -> None:
    for k in range(8):
        here = made.part(k, "pull", 3.2, 8.0)
        made.value["manifold_pressure"][here] += np.linspace(0.0, 25e3, here.stop - here.start)
        made.write("gate_duty", here, 0.0)
    assert [f[0] for f in faults(made)] == ["boost-creep"] * 8


def test_oscillation(made: Drive) -> None:
    here = made.part(2, "pull", 3.5, 7.5)
    t = np.arange(here.stop - here.start) / made.rate
    made.value["manifold_pressure"][here] += 7e3 * np.sin(2 * np.pi * 1.8 * t)
    only(made, "boost-oscillation", here)


def test_a_gate_that_does_not_shut(made: Drive) -> None:
    here = made.part(5, "pull", 0.0, 5.5)
    t = np.arange(here.stop - here.start) / made.rate
    made.write("manifold_pressure", here, np.minimum(OUTSIDE + 7.5e3 * t, TARGET))
    made.write("gate_duty", here, 0.9)
    only(made, "gate-not-shutting", here)


def _later(made: Drive, k: int, *, gain: float) -> slice:
    """A pull that begins 700 rev/min higher than the others: its boost rises from the same moment on."""
    pull = made.part(k, "pull", 0.0, 8.0)
    t = np.arange(pull.stop - pull.start) / made.rate
    made.write("engine_speed", pull, (2700 + 2500 * t / 8.0) * RPM)
    made.value["road_speed"][pull] = made.value["engine_speed"][pull] / RATIO
    made.write("manifold_pressure", pull, np.minimum(OUTSIDE + gain * t, TARGET))
    made.write("gate_duty", pull, np.where(OUTSIDE + gain * t < TARGET, 0.9, 0.4))
    return pull


def test_a_pull_that_begins_at_a_higher_speed_has_no_open_gate(made: Drive) -> None:
    _later(made, 5, gain=18e3)  # at like speed short by some 25 kPa, in time ahead of the others
    assert faults(made) == []


def test_a_pull_that_begins_higher_and_gains_slowly_has_one(made: Drive) -> None:
    here = _later(made, 5, gain=6e3)
    only(made, "gate-not-shutting", here)


def test_a_charge_leak(made: Drive) -> None:
    slow = made.part(5, "pull", 0.0, 5.0)
    t = np.arange(slow.stop - slow.start) / made.rate
    made.write("manifold_pressure", slow, np.minimum(OUTSIDE + 9e3 * t, TARGET))
    made.write("gate_duty", slow, 0.9)
    made.write("gate_duty", made.part(5, "pull", 4.5, 8.0), 0.49)
    only(made, "charge-leak", slow)


def test_without_the_duty_one_notice_names_both_causes(made: Drive) -> None:
    here = made.part(5, "pull", 0.0, 5.5)
    t = np.arange(here.stop - here.start) / made.rate
    made.write("manifold_pressure", here, np.minimum(OUTSIDE + 7.5e3 * t, TARGET))
    done = review(made.recording(without=("gate_duty",)))
    assert [n.kind for n in done.faults] == ["boost-short"]
    assert "cannot tell" in done.faults[0].note
    looks = " ".join(notice_kinds()["boost-short"].change)
    assert "clamp" in looks
    assert "lever" in looks
    assert any("gate-not-shutting" in c.kinds and "solenoid" in c.reason for c in done.cannot_show)


def test_less_boost_that_was_asked_for_is_no_fault(made: Drive) -> None:
    here = made.part(5, "pull", 0.0, 8.0)
    made.write("manifold_pressure", here, np.minimum(made.value["manifold_pressure"][here], 118e3))
    made.write("boost_target", here, 118e3)
    made.write("gate_duty", here, 0.05)
    assert faults(made) == []


def test_clutch_slip(made: Drive) -> None:
    here = made.part(6, "pull", 4.0, 5.5)
    made.value["engine_speed"][here] *= 1.09
    only(made, "clutch-slip", here)


def test_speed_dropout(made: Drive) -> None:
    one = made.at(2, "cruise", 3.0)
    made.value["engine_speed"][[one, one + 40]] *= 0.5
    done = review(made.recording())
    assert [n.kind for n in done.faults] == ["speed-dropout"]
    assert done.faults[0].first_row == one
    assert done.faults[0].also[0].value == 2


def test_idle_that_hunts(made: Drive) -> None:
    here = made.part(3, "idle", 3.0, 9.0)
    t = np.arange(here.stop - here.start) / made.rate
    made.value["spark_advance"][here] += 5 * DEGREE * np.sin(2 * np.pi * 0.7 * t)
    only(made, "idle-hunting", here)


def test_exhaust_leak_at_idle(made: Drive) -> None:
    here = made.part(3, "idle", 3.0, 8.0)
    made.value["lambda"][here] += 0.09
    only(made, "exhaust-leak", here)


def test_crankcase_pressure(made: Drive) -> None:
    here = made.part(4, "idle", 0.0, 40.0)
    made.value["crankcase_pressure"][here] *= 2.0
    only(made, "crankcase-pressure", here)


def test_surge_at_a_lift(made: Drive) -> None:
    here = made.part(5, "overrun", 0.0, 0.9)
    beat = 4e3 * (-1.0) ** np.arange(here.stop - here.start)
    made.value["charge_pressure"][here] += beat
    only(made, "surge", here)


def test_surge_on_a_steady_pull_is_told_from_a_controller_by_how_quick_it_beats(made: Drive) -> None:
    here = made.part(5, "pull", 1.0, 2.5)
    t = np.arange(here.stop - here.start) / made.rate
    made.value["charge_pressure"][here] += 5e3 * np.sin(2 * np.pi * 8.0 * t)
    only(made, "surge", here)
    note = review(made.recording()).faults[0].note
    assert "times a second" in note
    slow = drive()
    slow.value["charge_pressure"][here] += 5e3 * np.sin(2 * np.pi * 1.8 * t)
    assert "surge" not in [f[0] for f in faults(slow)]


def test_a_blow_off_valve_that_stays_shut(made: Drive) -> None:
    here = made.part(5, "overrun", 0.0, 3.0)
    t = np.arange(here.stop - here.start) / made.rate
    made.write("charge_pressure", here, OUTSIDE + (TARGET - OUTSIDE) * np.exp(-t / 0.9))
    only(made, "surge", here)
    assert "blow-off" in review(made.recording()).faults[0].note


def test_misfire_is_told_from_lean(made: Drive) -> None:
    here = made.part(3, "pull", 4.0, 5.5)
    made.value["lambda"][here] += 0.1
    assert "misfire" not in [f[0] for f in faults(made)]
    pace = np.gradient(made.value["engine_speed"])
    lost = np.zeros_like(pace)
    lost[here] = 0.22 * (3200 * RPM / 8.0) / made.rate
    end = made.at(3, "pull", 8.0)
    made.value["engine_speed"][here.start : end] -= np.cumsum(lost[here.start : end])
    made.value["road_speed"][here.start : end] = made.value["engine_speed"][here.start : end] / 19.0
    assert "misfire" in [f[0] for f in faults(made)]


def test_a_torque_cut_is_explained(made: Drive) -> None:
    for k in (2, 5):
        cut = made.part(k, "pull", 7.75, 8.0)
        made.value["spark_advance"][cut] -= 12 * DEGREE
        made.value["gear"][made.part(k, "overrun", 0.0, 0.3)] = 0
        made.value["gear"][made.part(k, "overrun", 0.3, 4.0)] = 4
        made.value["gear"][made.part(k, "coast", 0.0, 4.0)] = 4
    done = review(made.recording())
    cuts = [n for n in done.notices if n.kind == "torque-cut"]
    assert len(cuts) == 2
    assert not any(n.fault for n in cuts)
    assert done.faults == ()


def test_faults_come_worst_first(made: Drive) -> None:
    made.value["engine_speed"][made.at(2, "cruise", 3.0)] *= 0.5
    here = made.part(3, "idle", 3.0, 8.0)
    made.value["lambda"][here] += 0.09
    shown = [n.kind for n in review(made.recording()).notices if n.fault]
    ranks = [notice_kinds()[k].rank for k in shown]
    assert shown == ["speed-dropout", "exhaust-leak"]
    assert ranks == sorted(ranks, reverse=True)


def test_a_road_speed_that_is_wrong_in_one_pull_is_no_slip_of_the_others(made: Drive) -> None:
    """A lone pull in a higher range of speed has only the broken one beside it."""
    made.value["road_speed"][made.part(4, "pull", 0.0, 8.0)] = 300 / 3.6
    for k in (0, 1, 2, 3, 5, 6):  # leave the last pull without a peer but the broken one at high speed
        end = made.part(k, "pull", 4.0, 8.0)
        made.value["throttle"][end] = 0.0
    assert "clutch-slip" not in [f[0] for f in faults(made)]


def _sawing(made: Drive, *, rises: tuple[float, ...], by: float = 30e3) -> slice:
    """A pull in which fuel is cut at the end of each second: lambda to its end, the pressure down."""
    here = made.part(4, "pull", 3.0, 3.0 + len(rises))
    n = round(made.rate)
    u = np.arange(n) / n
    for k, top in enumerate(rises):
        one = slice(here.start + k * n, here.start + (k + 1) * n)
        made.write(
            "manifold_pressure", one, np.where(u < 0.6, top - by * (1 - u / 0.6), top - by * (u - 0.6) / 0.4)
        )
        made.write("lambda", slice(one.start + round(0.65 * n), one.start + round(0.9 * n)), 1.36)
    made.write("gate_duty", here, 0.0)
    return here


def test_a_boost_cut_that_trips_is_said_and_no_misfire(made: Drive) -> None:
    here = _sawing(made, rises=(168e3, 170e3, 169e3, 168e3))
    done = review(made.recording())
    kinds = {n.kind for n in done.faults if n.last_row > here.start and n.first_row < here.stop}
    assert "boost-cut" in kinds
    assert kinds == {"boost-cut", "boost-creep"}  # and no misfire, lean, swing or end of the sensor
    (cut,) = [n for n in done.faults if n.kind == "boost-cut"]
    assert cut.size.value == pytest.approx(169e3, abs=2e3)
    assert cut.also[0].value == 4
    assert notice_kinds()["boost-cut"].harm == "part"


def test_fuel_that_goes_at_no_one_pressure_is_no_boost_cut(made: Drive) -> None:
    _sawing(made, rises=(128e3, 170e3, 150e3, 140e3))
    assert "boost-cut" not in [f[0] for f in faults(made)]


def test_lean_at_full_boost_that_holds_is_no_boost_cut(made: Drive) -> None:
    made.write("lambda", made.part(4, "pull", 4.0, 7.0), 1.36)
    assert "boost-cut" not in [f[0] for f in faults(made)]

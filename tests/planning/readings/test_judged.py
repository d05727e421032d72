"""A reading against its range: inside, outside, far outside, again, and taken back."""

from __future__ import annotations

import pytest

from boostwright.build.recorded import Standing
from boostwright.job.records import Reading, Withdrawal
from boostwright.library.measurements import measurements
from boostwright.planning.readings import Expected, judge_values, judged_readings
from tests.findings.test_subjects import build

BAR = 1e5


def reading(
    key: str, *values: float, id: str = "a", day: int = 1, answer: str = "", when: str = "before"
) -> Reading:
    return Reading(
        id, "L", f"2025-04-{day:02}T10:00:00.000+00:00", key, tuple(values), answer=answer, when=when
    )


@pytest.mark.parametrize(
    ("value", "state"),
    [
        (1.0, Standing.INSIDE),
        (0.8, Standing.INSIDE),
        (1.2, Standing.INSIDE),
        (1.21, Standing.OUTSIDE),
        (1.55, Standing.OUTSIDE),
        (0.45, Standing.OUTSIDE),
        (1.9, Standing.FAR),
        (10.0, Standing.FAR),
        (0.79, Standing.OUTSIDE),
        (0.1, Standing.FAR),
    ],
)
def test_states_by_hand(value: float, state: Standing) -> None:
    """A band of 0.8 to 1.2, sd 0.1: far is 4 sd and half of the end beyond it, or 2.5 times off it."""
    expected = Expected(0.8, 1.2, 1.0, 0.1, "because", "somebody")
    assert judge_values(measurements()["oil_pressure_idle"], [value], expected)[0] is state


def test_only_a_limit_is_far_at_two_and_a_half_times_it() -> None:
    limit = Expected(None, 0.15, None, None, "because", "somebody")
    one = measurements()["leak_down"]
    assert judge_values(one, [0.05, 0.16], limit)[:2] == (Standing.OUTSIDE, 1)
    assert judge_values(one, [0.37, 0.05], limit)[0] is Standing.OUTSIDE
    assert judge_values(one, [0.38, 0.05], limit)[:2] == (Standing.FAR, 0)
    assert judge_values(one, [0.05], None)[0] is Standing.OPEN


def test_a_decimal_point_that_slipped_is_far_outside() -> None:
    for text, state in ((1.5 * BAR, Standing.INSIDE), (15 * BAR, Standing.FAR), (0.15 * BAR, Standing.FAR)):
        found = judged_readings(build(), None, [reading("oil_pressure_idle", text)])
        assert found[0].state is state, text


def test_a_second_reading_makes_it_a_hold() -> None:
    once = judged_readings(build(), None, [reading("leak_down", 0.2, 0.05, 0.05, 0.05)])
    assert (once[0].repeated, once[0].holds_work) == (1, False)
    twice = judged_readings(
        build(),
        None,
        [
            reading("leak_down", 0.2, 0.05, 0.05, 0.05),
            reading("leak_down", 0.22, 0.05, 0.05, 0.05, id="b", day=2),
        ],
    )
    assert [one.repeated for one in twice] == [2, 2]
    assert all(one.holds_work for one in twice)


def test_a_good_reading_ends_the_run_and_the_other_way_is_another_run() -> None:
    low, high = reading("oil_pressure_3000", 1.0 * BAR), reading("oil_pressure_3000", 9 * BAR, id="b", day=2)
    found = judged_readings(build(), None, [low, high])
    assert [one.repeated for one in found] == [1, 1]
    good = reading("oil_pressure_3000", 3.8 * BAR, id="c", day=3)
    again = reading("oil_pressure_3000", 9 * BAR, id="d", day=4)
    assert [one.repeated for one in judged_readings(build(), None, [low, high, good, again])] == [1, 1, 0, 1]


def test_uneven_compression_is_outside_though_each_value_is_possible() -> None:
    even = judged_readings(build(), None, [reading("compression", 13 * BAR, 12.8 * BAR, 13 * BAR, 13 * BAR)])
    assert even[0].state is Standing.INSIDE
    found = judged_readings(build(), None, [reading("compression", 13 * BAR, 13 * BAR, 11 * BAR, 13 * BAR)])
    assert (found[0].state, found[0].place) == (Standing.OUTSIDE, 2)


def test_a_wrong_answer_holds_at_once() -> None:
    found = judged_readings(build(), None, [reading("coolant_gas", answer="found")])
    assert found[0].state is Standing.OUTSIDE
    assert found[0].holds_work
    assert judged_readings(build(), None, [reading("coolant_gas", answer="none")])[0].state is Standing.INSIDE


def test_a_withdrawn_reading_is_gone_and_can_come_back() -> None:
    first = reading("leak_down", 0.2, 0.05, 0.05, 0.05)
    second = reading("leak_down", 0.21, 0.05, 0.05, 0.05, id="b", day=2)
    back = Withdrawal("c", "L", "2025-04-03T10:00:00.000+00:00", "b")
    found = judged_readings(build(), None, [first, second, back])
    assert [(one.reading.id, one.repeated) for one in found] == [("a", 1)]
    again = Withdrawal("d", "L", "2025-04-04T10:00:00.000+00:00", "c")
    assert len(judged_readings(build(), None, [first, second, back, again])) == 2


def test_readings_of_another_program_version_are_passed_over() -> None:
    assert judged_readings(build(), None, [reading("no_such_measurement", 1.0)]) == ()

"""Edits of the tables: what changed, how far in spreads, and which limit or run of the table it breaks."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from boostwright.calibration.edits import Edited, Trouble, edited_calibration
from boostwright.calibration.records import Calibration, Check, Origin
from tests.labels import check
from tests.sample_calibration import DEG, sample_calibration

SAMPLE = sample_calibration()
ROUNDING = {"spark": 0.005 * DEG, "lambda_target": 5e-4, "gate_duty": 5e-4, "boost_target": 50.0}


def edited(key: str, changes: dict[tuple[int, ...], float]) -> Edited:
    values = SAMPLE.table(key).value.copy()
    for at, value in changes.items():
        values[at] = value
    return edited_calibration(SAMPLE, {key: values}, ROUNDING)


def test_nothing_changed_is_nothing_edited() -> None:
    values = SAMPLE.table("spark").value + 0.004 * DEG  # within the rounding of a file
    found = edited_calibration(SAMPLE, {"spark": values}, ROUNDING)
    assert found.cells == ()
    assert not found.hurts
    np.testing.assert_array_equal(found.calibration.table("spark").value, SAMPLE.table("spark").value)


@check("limit", note="spreads are the change over the standard deviation of the cell")
def test_a_change_is_told_in_spreads_and_marks_its_cell() -> None:
    table = SAMPLE.table("spark")
    (cell,) = edited("spark", {(4, 6): float(table.value[4, 6]) + 2.8 * DEG}).cells
    assert (cell.table, cell.at) == ("spark", (4, 6))
    assert cell.spreads == pytest.approx(2.0)
    assert cell.new - cell.old == pytest.approx(2.8 * DEG)
    found = edited("spark", {(4, 6): float(table.value[4, 6]) + 2.8 * DEG})
    assert found.calibration.table("spark").origin[4, 6] is Origin.HAND
    assert np.count_nonzero(found.calibration.table("spark").origin == Origin.HAND) == 1


def test_a_spark_past_the_knock_limit_is_warned_of() -> None:
    table = SAMPLE.table("spark")
    assert table.low is not None
    earlier = float(table.low[4, 9]) - 0.5 * DEG
    found = edited("spark", {(4, 9): earlier})
    (concern,) = [c for c in found.cells[0].concerns if c.trouble is Trouble.BELOW]
    assert concern.limit == pytest.approx(float(table.low[4, 9]))
    assert concern.why == "the charge knocks from here on"
    assert not concern.before
    assert found.hurts
    up_to_it = edited("spark", {(4, 9): float(table.low[4, 9]) + 0.1 * DEG})
    assert not up_to_it.hurts


def test_a_lean_cell_and_a_rich_one_pass_their_limits() -> None:
    lean = edited("lambda_target", {(5, 10): 0.95})
    rich = edited("lambda_target", {(5, 10): 0.70})
    assert [c.trouble for c in lean.cells[0].concerns if c.trouble.hurts] == [Trouble.ABOVE]
    assert [c.trouble for c in rich.cells[0].concerns if c.trouble.hurts] == [Trouble.BELOW]


def test_what_was_beyond_before_says_so() -> None:
    table = SAMPLE.table("lambda_target")
    assert table.high is not None
    assert table.value[0, 5] > table.high[0, 5]
    (cell,) = edited("lambda_target", {(0, 5): 0.94}).cells
    assert cell.concerns[0].before


def test_a_number_where_none_may_stand() -> None:
    found = edited("gate_duty", {(0,): 0.2})
    assert [c.trouble for c in found.cells[0].concerns] == [Trouble.NO_NUMBER]
    assert found.hurts
    gone = edited("gate_duty", {(5,): np.nan})
    assert gone.cells[0].at == (5,)
    assert np.isnan(gone.calibration.table("gate_duty").value[5])


def test_a_row_that_turns_is_warned_of_and_a_table_that_turns_by_itself_is_not() -> None:
    table = SAMPLE.table("spark")  # later with pressure everywhere, so its crank angle rises
    found = edited("spark", {(4, 6): float(table.value[4, 7]) + 0.2 * DEG})
    over_speed, over_pressure = found.cells[0].concerns
    assert {over_speed.trouble, over_pressure.trouble} == {Trouble.TURN}
    assert (over_speed.axis, over_speed.rising) == (0, False)  # earlier with speed everywhere, too
    assert (over_pressure.axis, over_pressure.rising) == (1, True)
    assert not found.hurts
    target = SAMPLE.table("boost_target").value  # rises and falls over speed
    assert edited("boost_target", {(5,): float(target[5]) + 2e3}).cells[0].concerns == ()


def test_the_worst_edit_comes_first() -> None:
    table = SAMPLE.table("spark")
    assert table.low is not None
    found = edited(
        "spark",
        {
            (1, 1): float(table.value[1, 1]) + 0.5 * DEG,
            (2, 2): float(table.value[2, 2]) + 1.5 * DEG,
            (8, 8): float(table.low[8, 8]) - 1.0 * DEG,
        },
    )
    assert [cell.at for cell in found.cells] == [(8, 8), (2, 2), (1, 1)]


def test_the_checks_run_on_the_edited_tables() -> None:
    seen: list[Calibration] = []

    def recheck(whole: Calibration) -> tuple[Check, ...]:
        seen.append(whole)
        return (Check("again", "Run again.", whole.table("boost_target").value[4] < 0.7e5),)

    values = SAMPLE.table("boost_target").value.copy()
    values[4] = 0.75e5
    found = edited_calibration(SAMPLE, {"boost_target": values}, ROUNDING, recheck)
    assert len(seen) == 1
    assert [one.holds for one in found.calibration.checks] == [False]


def test_a_cell_without_spread_and_another_shape() -> None:
    table = SAMPLE.table("warm_up_fuel")
    bare = dataclasses.replace(table, sd=np.zeros_like(table.sd))
    sample = dataclasses.replace(SAMPLE, tables=(bare,))
    found = edited_calibration(sample, {"warm_up_fuel": table.value + 0.1}, {})
    assert np.isnan(found.cells[0].spreads)
    with pytest.raises(ValueError, match="values"):
        edited_calibration(SAMPLE, {"spark": np.zeros(3)}, {})
    with pytest.raises(KeyError):
        edited_calibration(SAMPLE, {"sprak": np.zeros(3)}, {})

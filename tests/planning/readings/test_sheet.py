"""The sheet: printed, filled in, read back; faults with their lines; the same sheet twice; whatever else
comes.
"""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.library.measurements import measurements
from boostwright.planning.readings.sheet import COLUMNS, Blank, SheetRead, read_sheet, write_sheet

TIME = "2025-04-12T12:00:00.000+00:00"


def read(text: str) -> SheetRead:
    return read_sheet(text, who="Lena", time=TIME, barometer=101325.0, places={"cylinder": 4, "injector": 4})


def filled(**values: str) -> str:
    rows = [Blank(measurements()[key], "before", value=value) for key, value in values.items()]
    return write_sheet(rows)


def test_a_blank_sheet_holds_nothing() -> None:
    text = write_sheet([Blank(one, one.sides[0]) for one in measurements().values()])
    found = read(text)
    assert found.readings == ()
    assert found.faults == ()
    assert found.blank == len(measurements())


def test_filled_in_rows_become_readings_with_their_lines() -> None:
    text = filled(compression="13,1 13,2 13,1 13,2 bar", air_cold="", coolant_gas="none")
    found = read(text)
    assert found.faults == ()
    assert [(line, one.measurement) for line, one in found.readings] == [
        (2, "compression"),
        (4, "coolant_gas"),
    ]
    one = found.readings[0][1]
    assert one.values == pytest.approx((13.1e5, 13.2e5, 13.1e5, 13.2e5))
    assert (one.who, one.time, one.when) == ("Lena", TIME, "before")


def test_the_same_sheet_twice_gives_the_same_ids() -> None:
    text = filled(oil_pressure_idle="1.5 bar", leak_down="6 5 7 6 %")
    assert [r.id for _, r in read(text).readings] == [r.id for _, r in read(text).readings]
    other = filled(oil_pressure_idle="1.6 bar")
    assert {r.id for _, r in read(text).readings}.isdisjoint({r.id for _, r in read(other).readings})


def test_faults_stand_with_their_lines_and_leave_the_others() -> None:
    text = filled(oil_pressure_idle="7", leak_down="6 5 7 %", coolant_gas="none")
    text += "nonsense,x,x,before,,,1 bar,,,,\n"
    found = read(text)
    assert [fault.line for fault in found.faults] == [2, 3, 5]
    assert all(fault.remedy for fault in found.faults)
    assert len(found.readings) == 1


@pytest.mark.parametrize("separator", [";", "\t"])
def test_other_separators_are_read(separator: str) -> None:
    rows = list(csv.reader(io.StringIO(filled(oil_pressure_idle="1,5 bar"))))
    text = io.StringIO()
    csv.writer(text, delimiter=separator).writerows(rows)
    found = read("\ufeff" + text.getvalue())
    assert found.faults == ()
    assert found.readings[0][1].values == pytest.approx((1.5e5,))


def test_a_value_with_a_bare_comma_is_not_cut_in_two_unseen() -> None:
    found = read("measurement,value\noil_pressure_idle,1,5 bar\n")
    assert found.readings == ()
    assert "quotes" in found.faults[0].remedy


def test_a_sheet_without_its_columns_is_refused() -> None:
    assert "value" in read("measurement,who\nair_cold,Lena\n").faults[0].why


def test_own_name_time_and_side_of_a_row_count() -> None:
    text = (
        "measurement,value,who,time,when\n"
        "oil_pressure_idle,1.4 bar,Tom,2025-04-11 09:30,after\n"
        "oil_pressure_3000,4 bar,,,sideways\n"
        "air_cold,9 degC,,2999-01-01,\n"
    )
    found = read(text)
    one = found.readings[0][1]
    assert (one.who, one.when) == ("Tom", "after")
    assert one.time.startswith("2025-04-1")
    assert [fault.line for fault in found.faults] == [3, 4]


@given(st.text(max_size=300))
def test_any_text_is_a_sheet_or_has_faults(text: str) -> None:
    found = read(text)
    assert found.readings == () or all(one.id for _, one in found.readings)


_CELL = st.sampled_from(
    ["", "oil_pressure_idle", "1.5 bar", '"', "x", "13 13 13 13 bar", "compression", "\x00", "after"]
)


@given(st.lists(st.lists(_CELL, max_size=6), max_size=6))
def test_any_table_is_read_or_has_faults(rows: list[list[str]]) -> None:
    text = (
        ",".join(COLUMNS[:1] + COLUMNS[6:7] + COLUMNS[3:4]) + "\n" + "\n".join(",".join(row) for row in rows)
    )
    found = read(text)
    assert all(fault.line >= 1 and fault.why for fault in found.faults)

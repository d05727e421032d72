"""A list that went through a spreadsheet and back: what was changed, and nothing else."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.planning.parts import State, parts_for
from boostwright.planning.parts.sheet import read_parts_sheet
from boostwright.views.parts_table import PARTS_COLUMNS, parts_csv

SOUND = verbs.demo_build("sound")
FOUND = parts_for(SOUND)
ACCOUNT = verbs.parts_account(SOUND, FOUND)
TIME = "2025-05-03T10:00:00+00:00"


def changed(semicolon: bool = False, **cells: dict[str, str]) -> str:
    """The list with some cells filled in, by the lines' keys."""
    part = ";" if semicolon else ","
    rows = list(csv.DictReader(io.StringIO(parts_csv(ACCOUNT, semicolon), newline=""), delimiter=part))
    for row in rows:
        row.update(cells.get(row["line"], {}))
    text = io.StringIO()
    table = csv.DictWriter(text, PARTS_COLUMNS, delimiter=part)
    table.writeheader()
    table.writerows(rows)
    return text.getvalue()


@pytest.mark.parametrize("semicolon", [False, True])
def test_a_list_that_nobody_touched_changes_nothing(semicolon: bool) -> None:
    assert read_parts_sheet(parts_csv(ACCOUNT, semicolon), FOUND, "N", TIME) == ((), ())


@pytest.mark.parametrize("semicolon", [False, True])
def test_what_was_filled_in_comes_back(semicolon: bool) -> None:
    price = "18,50" if semicolon else "18.50"
    text = changed(
        semicolon,
        **{
            "part.air-filter": {"state": "ordered", "seller": "filters, by post", "expected": "2025-05-20"},
            "fluid.oil-filter": {"state": "have", "there": "2", "paid_EUR": price},
            "part.cooler": {"is": "the wide one"},
        },
    )
    read = read_parts_sheet(text, FOUND, "N", TIME)
    assert not read.faults
    assert {event.part for event in read.events} == {"part.air-filter", "fluid.oil-filter", "part.cooler"}
    again = parts_for(SOUND, (), read.events)
    ordered = again.line("part.air-filter")
    assert (ordered.state, ordered.seller) == (State.ORDERED, "filters, by post")
    assert ordered.expected is not None
    assert ordered.expected.isoformat() == "2025-05-20"
    assert (again.line("fluid.oil-filter").cost.low, again.line("fluid.oil-filter").state) == (
        18.5,
        State.HAVE,
    )
    assert "the wide one" in again.line("part.cooler").what
    assert again.line("part.cooler").state is State.HAVE
    once_more = verbs.parts_account(SOUND, again)
    assert read_parts_sheet(parts_csv(once_more), again, "N", TIME).events == ()


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ({"state": "perhaps"}, "'perhaps' is no state"),
        ({"there": "a few"}, "'a few' under there is no number"),
        ({"paid_EUR": "-4"}, "'-4' under paid_eur is no number"),
        ({"paid_EUR": "nan"}, "'nan' under paid_eur is no number"),
        ({"expected": "soon"}, "'soon' under expected is no day"),
        ({"line": "part.coler"}, "no line 'part.coler'"),
    ],
)
def test_mistakes_name_their_row(cells: dict[str, str], why: str) -> None:
    read = read_parts_sheet(changed(**{"part.cooler": cells}), FOUND, "N", TIME)
    (fault,) = read.faults
    assert why in fault.why
    assert fault.remedy
    row = [line.key for line in FOUND.lines].index("part.cooler") + 2
    assert fault.line == row


def test_another_table_is_refused() -> None:
    (fault,) = read_parts_sheet("a,b\n1,2\n", FOUND, "N", TIME).faults
    assert "no column 'line'" in fault.why


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(
        st.text(max_size=300),
        st.lists(
            st.lists(
                st.one_of(
                    st.text(max_size=12), st.sampled_from(["part.turbo", "have", "3", "2025-01-01", '"'])
                ),
                min_size=1,
                max_size=6,
            ).map(",".join),
            max_size=8,
        ).map(lambda rows: "line,state,there,paid_EUR,expected,is\r\n" + "\r\n".join(rows)),
    )
)
def test_no_text_is_too_odd(text: str) -> None:
    read = read_parts_sheet(text, FOUND, "N", TIME)
    keys = {line.key for line in FOUND.lines}
    assert all(event.part in keys for event in read.events)
    assert all(fault.line >= 1 and fault.why and fault.remedy for fault in read.faults)
    parts_for(SOUND, (), read.events)

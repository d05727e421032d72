"""Records go to plain data and back unchanged; a withdrawal takes one back, a second one brings it back."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.job import (
    Override,
    Reading,
    Record,
    TaskEvent,
    Withdrawal,
    from_plain,
    new_id,
    now,
    standing,
    to_plain,
)

WORDS = st.text(max_size=12)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
READINGS = st.builds(
    Reading, WORDS, WORDS, WORDS, WORDS, st.lists(FINITE, max_size=4).map(tuple), FINITE | st.none()
)
EVENTS = st.builds(
    TaskEvent, WORDS, WORDS, WORDS, WORDS, WORDS, joints=st.lists(st.tuples(WORDS, FINITE)).map(tuple)
)
OVERRIDES = st.builds(Override, WORDS, WORDS, WORDS, WORDS, WORDS)
WITHDRAWALS = st.builds(Withdrawal, WORDS, WORDS, WORDS, WORDS)


@given(READINGS | EVENTS | OVERRIDES | WITHDRAWALS)
def test_a_record_comes_back_as_it_was(record: Record) -> None:
    assert from_plain(json.loads(json.dumps(to_plain(record)))) == record


@pytest.mark.parametrize(
    "plain",
    [
        {},
        {"kind_of_record": "song"},
        {"kind_of_record": "reading", "id": "a", "who": "L", "time": now()},
        {"kind_of_record": "withdrawal", "id": "a", "who": "L", "time": now(), "of": "b", "colour": "blue"},
    ],
)
def test_what_is_no_record_is_refused(plain: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"record|missing"):
        from_plain(plain)


def test_what_was_taken_back_does_not_count_until_that_is_taken_back() -> None:
    read = Reading(new_id(), "L", now(), "compression", (1.3e6,))
    gone = Withdrawal(new_id(), "L", now(), read.id, "wrong cylinder")
    back = Withdrawal(new_id(), "H", now(), gone.id, "it was the right one")
    assert standing([read]) == (read,)
    assert standing([read, gone]) == ()
    assert standing([read, gone, back]) == (read,)

"""The gate before money is spent: its one verdict, what it lacks, and the coolant's readings."""

from __future__ import annotations

import pytest

from boostwright.findings.model import Finding, Verdict
from boostwright.findings.subjects import condition as readings
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check

GOOD = {
    "compression_pressure": '{ value = "13.2 13.3 13.2 13.3 bar", source = "measured" }',
    "leak_down": '{ value = "5 6 5 6 %", source = "measured" }',
    "oil_pressure_idle": '{ value = "1.6 bar", source = "measured" }',
    "oil_pressure_3000": '{ value = "4.2 bar", source = "measured" }',
    "coolant_gas": '"none"',
}
NAMES = {
    "compression_pressure": "compression of every cylinder",
    "leak_down": "leak-down of every cylinder",
    "oil_pressure_idle": "oil pressure at hot idle",
    "oil_pressure_3000": "oil pressure at 3000 rpm",
    "coolant_gas": "coolant",
}


def stated(**changed: str | None) -> str:
    """Lines of [engine] with some readings changed or, for None, left out."""
    return "\n".join(f"{k} = {v}" for k, v in {**GOOD, **changed}.items() if v is not None)


def gate(**changed: str | None) -> Finding:
    return found("engine.condition", case(build(stated(**changed))))


def test_a_file_without_readings_gets_one_unknown_that_asks_for_all_of_them() -> None:
    bare = case()
    one = found("engine.condition", bare)
    assert one.verdict is Verdict.UNKNOWN
    assert "cannot be told yet" in fill(one.cause)
    for words in NAMES.values():
        assert words in fill(one.remedy)
    for code in ("engine.compression", "engine.leak_down", "engine.oil_idle", "engine.oil_speed"):
        assert maybe(code, bare) is None
    assert maybe("engine.gas_in_coolant", bare) is None
    assert maybe("engine.coolant_hold", bare) is None


def test_good_readings_are_worth_boosting() -> None:
    one = gate()
    assert one.verdict is Verdict.HOLDS
    assert fill(one.cause).startswith("Worth boosting: yes.")


@pytest.mark.parametrize("field", GOOD)
def test_one_reading_missing_is_unknown_and_named(field: str) -> None:
    one = gate(**{field: None})
    assert one.verdict is Verdict.UNKNOWN
    assert NAMES[field] in fill(one.remedy)
    others = [words for name, words in NAMES.items() if name != field]
    assert not any(words in fill(one.remedy) for words in others)


@pytest.mark.parametrize(
    ("field", "bad", "named"),
    [
        ("compression_pressure", '"13.2 13.3 8.9 13.3 bar"', "evenness of compression"),
        ("leak_down", '"5 6 29 6 %"', "leak-down"),
        ("oil_pressure_idle", '"0.3 bar"', "oil pressure at hot idle"),
        ("oil_pressure_3000", '"1.2 bar"', "oil pressure at 3000 rpm"),
        ("coolant_gas", '"found"', "combustion gas in the coolant"),
    ],
)
def test_one_bad_reading_is_a_no_whatever_else_is_missing(field: str, bad: str, named: str) -> None:
    one = gate(**{field: bad})
    assert one.verdict is Verdict.BREAKS
    assert one.bars_all
    assert fill(one.cause).startswith("Worth boosting: no.")
    assert named in fill(one.cause)
    other = "leak_down" if field != "leak_down" else "oil_pressure_idle"
    still = gate(**{field: bad, other: None})
    assert still.verdict is Verdict.BREAKS
    assert NAMES[other] in fill(still.cause)


def test_the_weakest_reading_decides_and_the_odds_of_all_are_told() -> None:
    text = stated()
    of = case(build(text))
    each = [
        one.probability
        for judge in (
            readings.evenness,
            readings.leakage,
            readings.oil_at_idle,
            readings.oil_at_speed,
            readings.coolant_gas,
        )
        if (one := judge(of)) is not None and one.probability is not None
    ]
    assert len(each) == 5
    one = found("engine.condition", of)
    assert one.probability == pytest.approx(min(each))
    together = 1.0
    for p in each:
        together *= p
    assert one.cause.amounts["together"].value == pytest.approx(together)
    assert together < min(each)


def test_either_test_of_the_coolant_will_do() -> None:
    only_hold = gate(coolant_gas=None, coolant_drop='{ value = "1 kPa", source = "measured" }')
    assert only_hold.verdict is Verdict.HOLDS
    both = gate(coolant_drop='{ value = "30 kPa", source = "measured" }')
    assert both.verdict is Verdict.BREAKS
    assert "pressure hold" in fill(both.cause)


@check(
    "common practice", note="gas in the coolant means stop; a system that loses 30 kPa in ten minutes leaks"
)
def test_coolant() -> None:
    assert found("engine.gas_in_coolant", case(build('coolant_gas = "found"'))).verdict is Verdict.BREAKS
    assert found("engine.gas_in_coolant", case(build('coolant_gas = "none"'))).verdict is Verdict.HOLDS
    assert found("engine.coolant_hold", case(build('coolant_drop = "30 kPa"'))).verdict is Verdict.BREAKS


def test_a_larger_fall_is_less_likely_to_hold() -> None:
    odds = [
        found("engine.coolant_hold", case(build(f'coolant_drop = "{kpa} kPa"'))).probability
        for kpa in (0, 3, 7, 12, 20)
    ]
    assert odds == sorted(odds, key=lambda p: -(p or 0.0))
    assert odds[0] != odds[-1]


def test_what_was_never_read_is_named_among_what_the_odds_leave_out() -> None:
    unread, read = found("engine.condition", case()), gate()
    assert not unread.of_the_file
    assert read.of_the_file


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("engine.leak_down", "5 6 5 24 %", "engine.leak_down"),
        ("engine.compression_pressure", "13.2 13.3 13.2 9.5 bar", "engine.compression"),
        ("engine.oil_pressure_idle", "0.4 bar", "engine.oil_idle"),
        ("engine.oil_pressure_3000", "1.1 bar", "engine.oil_speed"),
    ],
)
def test_what_was_read_after_the_conversion_is_the_engine_of_today(field: str, value: str, code: str) -> None:
    row = f'\n[[readings]]\nfield = "{field}"\nvalue = "{value}"\nwhen = "after"\n'
    assert gate().verdict is not Verdict.BREAKS
    for rest, breaks in ((row, True), (row.replace("after", "before"), False)):
        now = case(build(stated(), rest=rest))
        assert (found(code, now).verdict is Verdict.BREAKS) == breaks
        assert (found("engine.condition", now).verdict is Verdict.BREAKS) == breaks
    worse = found(code, case(build(stated(), rest=row)))
    assert worse.bars_all

"""The same reading before and after: is the change larger than what the test scatters by itself?"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from boostwright.findings.before_after import Sides, change_of
from boostwright.findings.model import Finding, Verdict
from boostwright.library.repeatability import repeatability
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check

FIELD = "engine.compression_pressure"


def row(field: str, value: str, date: str = "", when: str = "") -> str:
    text = f'\n[[readings]]\nfield = "{field}"\nvalue = "{value}"\n'
    text += f"date = {date}\n" if date else ""
    return text + (f'when = "{when}"\n' if when else "")


def compression(before: list[str], after: list[str]) -> Finding:
    rows = "".join(row(FIELD, v, when="before") for v in before) + "".join(
        row(FIELD, v, when="after") for v in after
    )
    return found("engine.change_compression", case(build(rest=rows)))


# ------------------------------------------------------------------------------------------------------
# arithmetic


@check("limit", note="by hand: 12.0 to 11.4 bar is 5 %; 3 % twice is 4.24 %; one of four by chance 1 - Phi^4")
def test_change_of_one_pair() -> None:
    old, new = np.array([12.0e5, 12e5, 12e5, 12e5]), np.array([12.0e5, 11.4e5, 12.1e5, 12e5])
    one = change_of(FIELD, Sides((old,), (new,), 0, False), True, True)
    assert one is not None
    assert one.value == pytest.approx(0.05)
    assert one.sd == pytest.approx(0.03 * math.sqrt(2))
    assert one.chance == pytest.approx(1 - NormalDist().cdf(0.05 / (0.03 * math.sqrt(2))) ** 4)
    assert one.place == 1


@check("limit", note="n readings on each side scatter as 1/sqrt(n)")
def test_more_readings_narrow_it() -> None:
    old, new = np.array([12.0e5] * 4), np.array([11.4e5] * 4)
    one = change_of(FIELD, Sides((old,), (new,), 0, False), True, True)
    four = change_of(FIELD, Sides((old,) * 4, (new,) * 4, 0, False), True, True)
    assert one is not None
    assert four is not None
    assert four.sd == pytest.approx(one.sd / 2)
    assert four.chance < one.chance


@check(
    "limit",
    note="20 000 pairs of tests of an unchanged engine: the chance told is uniform; 1 point at each tenth",
)
def test_the_chance_is_an_honest_one() -> None:
    rng = np.random.default_rng(7)
    told = []
    for _ in range(20000):
        old, new = 12e5 * (1 + 0.03 * rng.standard_normal((2, 4)))
        # the spread is taken at the value before, which scatters itself: hold it at the true one
        scaled = np.full(4, 12e5)
        one = change_of(FIELD, Sides((scaled,), (scaled + (new - old),), 0, False), True, True)
        assert one is not None
        told.append(one.chance)
    shares = np.quantile(told, np.arange(0.1, 1.0, 0.1))
    assert shares == pytest.approx(np.arange(0.1, 1.0, 0.1), abs=0.015)


def test_a_dead_cylinder_that_stays_dead_is_no_change() -> None:
    dead = np.array([0.0, 12e5, 12e5, 12e5])
    one = change_of(FIELD, Sides((dead,), (dead,), 0, False), True, True)
    assert one is not None
    assert one.value == 0.0
    assert 0.0 <= one.chance <= 1.0


def test_rows_of_different_engines_do_not_match() -> None:
    assert change_of(FIELD, Sides((np.zeros(4),), (np.zeros(3),), 0, False), True, True) is None
    assert change_of(FIELD, Sides((), (np.zeros(3),), 0, False), True, True) is None


# ------------------------------------------------------------------------------------------------------
# finding


def test_silent_without_a_later_reading() -> None:
    assert maybe("engine.change_compression", case()) is None
    only = row(FIELD, "12 12 12 12 bar", when="before")
    assert maybe("engine.change_compression", case(build(rest=only))) is None


def test_scatter_alone_is_called_so_and_a_real_fall_is_called_real() -> None:
    nothing = compression(["12.0 12.1 12.0 11.9 bar"], ["11.8 12.0 12.1 11.9 bar"])
    assert nothing.verdict in (Verdict.HOLDS, Verdict.TIGHT)
    assert "own scatter" in fill(nothing.cause)
    real = compression(["12.0 12.1 12.0 11.9 bar"], ["11.9 12.0 8.6 11.9 bar"])
    assert real.verdict is Verdict.BREAKS
    assert "the change is real" in fill(real.cause)
    assert "cylinder 3" in real.place.words
    assert "Stop boosting" in fill(real.remedy)


def test_larger_falls_are_less_likely_to_hold() -> None:
    odds = [
        compression(["12 12 12 12 bar"], [f"12 {v} 12 12 bar"]).probability
        for v in (12.0, 11.4, 10.8, 10.0, 8.5)
    ]
    assert odds == sorted(odds, key=lambda p: -(p or 0.0))
    assert odds[0] != odds[-1]


def test_the_number_of_tests_of_the_remedy_is_enough() -> None:
    once = compression(["12 12 12 12 bar"], ["12 11.1 12 12 bar"])
    assert once.verdict is Verdict.TIGHT
    count = round(once.remedy.amounts["tests"].value)
    assert count >= 2
    assert f"{count} readings" in fill(once.remedy)
    again = compression(["12 12 12 12 bar"] * count, ["12 11.1 12 12 bar"] * count)
    assert again.verdict is Verdict.HOLDS


def test_a_rise_that_no_engine_makes_is_questioned() -> None:
    one = compression(["12 12 12 12 bar"], ["14.5 14.6 14.4 14.5 bar"])
    assert "another gauge" in fill(one.cause)


def test_dates_sort_the_rows_by_the_day_of_the_conversion() -> None:
    rows = row("engine.leak_down", "6 6 6 6 %", "2025-03-01") + row(
        "engine.leak_down", "7 6 26 6 %", "2025-07-01"
    )
    document = build(rest=rows).values
    assert document  # it reads
    text = "converted_on = 2025-05-01\n[goal]"
    from boostwright.readers.build_file import read_build
    from tests.findings.test_subjects import MINIMAL

    made = MINIMAL.format(engine="", fuel="", rest=rows).replace("[goal]", text, 1)
    one = found("engine.change_leak_down", case(read_build(made.encode())))
    assert one.verdict is Verdict.BREAKS
    assert one.demand is not None
    assert one.demand.value == pytest.approx(0.20)
    unsorted = found("engine.change_leak_down", case(build(rest=rows)))
    assert unsorted.verdict is Verdict.UNKNOWN
    assert "converted_on" in fill(unsorted.remedy)


def test_the_value_of_the_file_stands_in_for_an_earlier_row() -> None:
    document = build(
        'oil_pressure_idle = "1.6 bar"', rest=row("engine.oil_pressure_idle", "0.8 bar", when="after")
    )
    one = found("engine.change_oil_idle", case(document))
    assert one.verdict is Verdict.BREAKS
    assert one.demand is not None
    assert one.demand.value == pytest.approx(0.5)
    assert "[engine]" in fill(one.notes[0])


def test_an_after_without_a_before_is_unknown() -> None:
    one = found(
        "engine.change_oil_idle", case(build(rest=row("engine.oil_pressure_idle", "0.8 bar", when="after")))
    )
    assert one.verdict is Verdict.UNKNOWN
    assert "none before it" in fill(one.cause)


@pytest.mark.parametrize(
    ("code", "field", "good", "bad"),
    [
        (
            "engine.change_oil_speed",
            "engine.oil_pressure_3000",
            ("4.0 bar", "4.0 bar"),
            ("4.0 bar", "2.4 bar"),
        ),
        (
            "engine.change_crankcase",
            "engine.crankcase_pressure",
            ("0.3 kPa", "0.4 kPa"),
            ("0.3 kPa", "2.0 kPa"),
        ),
        ("engine.change_coolant", "engine.coolant_drop", ("1 kPa", "1 kPa"), ("1 kPa", "25 kPa")),
    ],
)
def test_the_other_readings(code: str, field: str, good: tuple[str, str], bad: tuple[str, str]) -> None:
    def of(pair: tuple[str, str]) -> Finding:
        return found(
            code, case(build(rest=row(field, pair[0], when="before") + row(field, pair[1], when="after")))
        )

    assert of(good).verdict is not Verdict.BREAKS
    assert of(bad).verdict is Verdict.BREAKS
    assert (of(good).probability or 0.0) > (of(bad).probability or 0.0)


def test_every_row_of_the_table_names_a_field_and_says_where_it_comes_from() -> None:
    known = build()
    for field, repeat in repeatability().items():
        assert known.field(field).dimension is not None
        assert repeat.spread.at(known.field(field).high or 1.0) > 0.0
        assert "no source" in repeat.source


def test_rows_of_no_side_are_left_out_and_said_so() -> None:
    good, odd = row(FIELD, "12 12 12 12 bar", when="after"), row(FIELD, "6 6 6 6 bar")
    rows = row(FIELD, "12 12 12 12 bar", when="before") + good
    whole = found("engine.change_compression", case(build(rest=rows)))
    short = found("engine.change_compression", case(build(rest=rows + odd)))
    assert whole.notes == ()
    assert fill(short.notes[0]).startswith("Left out are 1 of the rows")
    assert short.demand == whole.demand

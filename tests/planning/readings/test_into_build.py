"""Readings in the build: what they stand for and contradict, and that taking them back undoes it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.build.catalogue import FieldType, catalogue
from boostwright.build.values import Source
from boostwright.findings.model import Verdict
from boostwright.job.records import Reading, Record, Withdrawal
from boostwright.library.measurements import measurements
from boostwright.planning.readings import with_readings, without_readings
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe

BAR = 1e5


def reading(
    key: str, *values: float, id: str = "a", day: int = 1, when: str = "before", answer: str = ""
) -> Reading:
    time = f"2025-04-{day:02}T10:00:00.000+00:00"
    return Reading(id, "Lena", time, key, tuple(values), answer=answer, when=when, text="as read")


def test_fields_that_measurements_state_are_of_the_same_kind() -> None:
    for one in measurements().values():
        for path in filter(None, (one.field, one.field_before)):
            known = catalogue().field(path)
            assert known.dimension is one.dimension, one.key
            assert known.kind is one.pressure, one.key
            assert bool(one.each) or not known.many, one.key
            if known.type is FieldType.CHOICE:
                assert set(one.choices or {}) <= set(known.choices), one.key


def test_a_reading_stands_in_for_what_nobody_stated() -> None:
    made = with_readings(build(), [reading("oil_pressure_cold", 5.0 * BAR)])
    value = made["engine.oil_pressure_cold"]
    assert value.value == 5.0 * BAR
    assert value.source is Source.MEASURED
    assert value.line is None
    assert "2025-04-01" in value.note
    assert "Lena" in value.note
    assert value.sd > 0.0
    assert maybe("record.against_file", case(made)) is None


def test_it_stands_in_for_an_older_value_of_the_file_and_says_so() -> None:
    filed = build(engine='oil_pressure_idle = "1.5 bar"')
    made = with_readings(filed, [reading("oil_pressure_idle", 1.4 * BAR)])
    assert made.number("engine.oil_pressure_idle") == 1.4 * BAR
    assert "1 value of the file" in verbs.used_words(made)
    one = found("record.against_file", case(made))
    assert one.verdict is Verdict.HOLDS


def test_against_the_file_beyond_both_spreads_is_a_finding() -> None:
    filed = build(engine='oil_pressure_3000 = "4.1 bar"')
    made = with_readings(filed, [reading("oil_pressure_3000", 2.9 * BAR)])
    one = found("record.against_file", case(made))
    assert one.verdict is Verdict.UNKNOWN
    words = fill(one.cause)
    assert "2.9" in words
    assert "4.1" in words
    assert f"line {filed['engine.oil_pressure_3000'].line} " in words


def test_the_newest_reading_counts() -> None:
    rows = [
        reading("oil_pressure_idle", 1.3 * BAR, id="b", day=9),
        reading("oil_pressure_idle", 1.7 * BAR, day=2),
    ]
    assert with_readings(build(), rows).number("engine.oil_pressure_idle") == 1.3 * BAR


def test_far_outside_waits_for_a_second_reading() -> None:
    once = with_readings(build(), [reading("oil_pressure_idle", 7 * BAR)])
    assert not once.is_stated("engine.oil_pressure_idle")
    assert not once.recorded[0].used
    one = found("record.outside", case(once))
    assert one.verdict is Verdict.UNKNOWN
    assert any("not used" in fill(note) for note in one.notes)
    rows = [reading("oil_pressure_idle", 7 * BAR), reading("oil_pressure_idle", 7.1 * BAR, id="b", day=2)]
    twice = with_readings(build(), rows)
    assert twice.number("engine.oil_pressure_idle") == 7.1 * BAR
    assert found("record.outside", case(twice)).verdict is Verdict.BREAKS


@pytest.mark.parametrize(
    ("key", "values", "answer"),
    [  # planted: sick engines and slips, one each
        ("leak_down", (0.25, 0.05, 0.05, 0.05), ""),
        ("compression", (8 * BAR, 13 * BAR, 13 * BAR, 13 * BAR), ""),
        ("oil_pressure_3000", (1.2 * BAR,), ""),
        ("coolant_drop", (20e3,), ""),
        ("idle_manifold_pressure", (55e3,), ""),
        ("rail_pressure_static", (2.3 * BAR,), ""),
        ("pump_voltage", (10.2,), ""),
        ("charging_voltage", (12.4,), ""),
        ("crankcase_pressure", (2.6e3,), ""),
        ("top_dead_centre_error", (math.radians(3),), ""),
        ("coolant_gas", (), "found"),
        ("plug_look", (), "specks"),
        ("trouble_codes", (), "open"),
    ],
)
def test_planted_readings_are_found(key: str, values: tuple[float, ...], answer: str) -> None:
    made = with_readings(build(), [reading(key, *values, answer=answer)])
    one = found("record.outside", case(made))
    assert one.verdict in (Verdict.UNKNOWN, Verdict.BREAKS)
    assert measurements()[key].words in fill(one.cause)
    good = found("record.outside", case(with_readings(build(), [reading("oil_pressure_cold", 5.5 * BAR)])))
    assert good.verdict is Verdict.HOLDS


@pytest.mark.parametrize(("key", "value"), [("pull_knock", 3.0), ("cranking_oil_pressure", 0.0)])
def test_harm_that_does_not_wait_is_broken_by_one_reading(key: str, value: float) -> None:
    """Nobody is sent on a second pull to see whether it knocks again."""
    made = with_readings(build(), [reading("oil_pressure_idle", 7 * BAR), reading(key, value)])
    one = found("record.outside", case(made))
    assert one.verdict is Verdict.BREAKS
    assert fill(one.remedy) == measurements()[key].at_once
    assert one.reading is not None
    assert "None before" in one.reading.what


@pytest.mark.parametrize(
    ("share", "peak", "verdict"),
    [
        (0.8, 1.0, Verdict.UNKNOWN),
        (0.97, 1.0, Verdict.HOLDS),
        (0.9, 0.9, Verdict.HOLDS),  # as much less boost
    ],
)
def test_power_that_fell_between_two_pulls_is_a_finding(share: float, peak: float, verdict: Verdict) -> None:
    """The model's own range does not see a fifth gone; repetition does."""
    rows = [
        replace(
            reading(key, value * (1.0 if day == 1 else part), id=f"{key}{day}", day=day, when="after"),
            step="full-pull",
        )
        for day in (1, 2)
        for key, value, part in (("pull_power", 120e3, share), ("pull_peak", 150e3, peak))
    ]
    one = found("record.outside", case(with_readings(build(), rows)))
    assert one.verdict is verdict
    assert ("at like boost it is 20 % less" in fill(one.cause)) is (share == 0.8)
    assert ("before the next pull" in fill(one.remedy)) is (share == 0.8)
    alone = found("record.outside", case(with_readings(build(), rows[2:])))
    assert alone.verdict is Verdict.HOLDS


def test_nothing_on_record_is_no_finding() -> None:
    assert maybe("record.outside", case()) is None
    assert with_readings(build(), []).fingerprint == build().fingerprint


def test_after_the_conversion_it_is_compared_and_does_not_replace_the_value_before() -> None:
    filed = build(engine='compression_pressure = "13 13 13 13 bar"')
    made = with_readings(
        filed, [reading("compression", *(13 * BAR, 13 * BAR, 10.5 * BAR, 13 * BAR), when="after")]
    )
    assert made.numbers("engine.compression_pressure") == pytest.approx([13 * BAR] * 4)
    one = found("engine.change_compression", case(made))
    written = (
        '\n[[readings]]\nfield = "engine.compression_pressure"\nvalue = "13 13 10.5 13 bar"\nwhen = "after"\n'
    )
    same = found(
        "engine.change_compression", case(build('compression_pressure = "13 13 13 13 bar"', rest=written))
    )
    assert one.verdict is same.verdict is Verdict.BREAKS
    assert one.probability == same.probability


def test_a_rail_read_before_is_that_of_the_delivered_car() -> None:
    planned = build(rest='[regulator]\npressure = "4 bar"\n')
    made = with_readings(planned, [reading("rail_pressure_static", 3.0 * BAR)])
    assert made.number("baseline.fuel_pressure") == 3.0 * BAR
    assert made.number("regulator.pressure") == 4.0 * BAR
    open_ = with_readings(build(), [reading("rail_pressure_static", 3.0 * BAR)])
    assert open_.number("regulator.pressure") == 3.0 * BAR
    after = with_readings(planned, [reading("rail_pressure_static", 3.9 * BAR, when="after")])
    assert after.number("regulator.pressure") == 3.9 * BAR
    assert not after.is_stated("baseline.fuel_pressure")


def test_places_of_a_field_that_is_one_value_count_as_their_mean() -> None:
    rows = [reading("injector_flow", *(x * 1e-6 / 60 for x in (430.0, 440.0, 435.0, 455.0)), when="during")]
    made = with_readings(build(), rows)
    assert made.number("injectors.flow") == pytest.approx(440e-6 / 60)


def test_a_field_of_a_list_of_tables_is_judged_and_not_filled_in() -> None:
    made = with_readings(build(), [reading("clearance_hot", 0.02, when="during")])
    assert made.recorded[0].fields == ()
    assert made.values.keys() == build().values.keys()


def test_a_count_that_does_not_fit_the_engine_is_not_used() -> None:
    made = with_readings(build(), [reading("compression", 13 * BAR, 13 * BAR)])
    assert not made.is_stated("engine.compression_pressure")


SOME = st.lists(
    st.tuples(
        st.sampled_from(["oil_pressure_idle", "oil_pressure_3000", "leak_down", "coolant_gas", "idle_speed"]),
        st.floats(0.01, 3.0),
        st.sampled_from(["before", "after", "during"]),
        st.integers(1, 28),
    ),
    max_size=8,
)


def _records(rows: list[tuple[str, float, str, int]]) -> list[Record]:
    made: list[Record] = []
    usual = {"oil_pressure_idle": 1.5e5, "oil_pressure_3000": 3.8e5, "leak_down": 0.08, "idle_speed": 89.0}
    for i, (key, times, when, day) in enumerate(rows):
        values = () if key == "coolant_gas" else (usual[key] * times,) * (4 if key == "leak_down" else 1)
        answer = "" if values else ("none" if times < 1 else "found")
        made.append(reading(key, *values, id=f"r{i}", day=day, when=when, answer=answer))
    return made


@settings(deadline=None, max_examples=60)
@given(SOME, st.data())
def test_taking_readings_back_undoes_them_everywhere(
    rows: list[tuple[str, float, str, int]], data: st.DataObject
) -> None:
    filed = build(engine='oil_pressure_idle = "1.5 bar"\nleak_down = "6 5 7 6 %"')
    records = _records(rows)
    made = with_readings(filed, records)
    assert without_readings(made) == filed
    assert without_readings(made).fingerprint == filed.fingerprint
    assert with_readings(made, records) == made
    gone = [
        Withdrawal(f"w{i}", "L", "2025-05-01T10:00:00.000+00:00", one.id)
        for i, one in enumerate(records)
        if data.draw(st.booleans())
    ]
    left = [one for one in records if one.id not in {w.of for w in gone}]
    assert with_readings(filed, [*records, *gone]) == with_readings(filed, left)
    everything = [Withdrawal(f"x{one.id}", "L", "2025-05-02T10:00:00.000+00:00", one.id) for one in left]
    back = with_readings(made, [*records, *gone, *everything])
    assert back == filed
    assert back.fingerprint == filed.fingerprint
    assert (made.fingerprint != filed.fingerprint) is bool(records)

"""The starting calibration on a terminal, as JSON, and what the pages say of edits."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from boostwright.calibration.edits import edited_calibration
from boostwright.calibration.records import NO_PLACE, Calibration, Check, Origin, Table
from boostwright.quantity import Dimension
from boostwright.views.calibration_document import calibration_document, calibration_schema
from boostwright.views.calibration_page import calibration_report, table_report, verdict_words
from boostwright.views.edit_page import edit_report
from boostwright.views.table_csv import Stamp
from boostwright.views.table_words import said, step_of, table_face
from boostwright.views.words import plain
from tests.sample_calibration import CAUTION, DEG, sample_calibration

SAMPLE = sample_calibration()
STAMP = Stamp("1.0", "d1")


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("\u00a0", " "))


def test_the_verdict_comes_first_and_the_worst_check_before_the_rest() -> None:
    lines = calibration_report(SAMPLE).splitlines()
    assert lines[2].startswith("Do not start with these tables: of 4 checks, 1 does not hold")
    text = flat(calibration_report(SAMPLE))
    order = [text.index(words) for words in ("take care:", "The cut at 180", "The full scale", "hold: arith")]
    assert order == sorted(order)
    assert "boost_target at 3000 rpm" in text
    assert "Settings" in text[order[-1] :]


@pytest.mark.parametrize(
    ("holds", "words"),
    [
        ((), "Nothing was checked"),
        ((True,), "The one check holds"),
        ((True, True), "All 2 checks hold"),
        ((True, None), "of 2 checks, 1 cannot be told"),
        ((False, False), "2 do not hold"),
    ],
)
def test_the_verdict_in_words(holds: tuple[bool | None, ...], words: str) -> None:
    assert words in verdict_words(tuple(Check(str(i), "x", one) for i, one in enumerate(holds)))


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_every_page_keeps_to_its_width_and_carries_the_caution(width: int) -> None:
    edited = edited_calibration(SAMPLE, {"spark": SAMPLE.table("spark").value - 3 * DEG}, {})
    pages = [calibration_report(SAMPLE, width=width, every=True), edit_report(edited, width=width)]
    pages += [table_report(table, SAMPLE, width=width) for table in SAMPLE.tables]
    for page in pages:
        assert max(len(line) for line in page.splitlines()) <= width
        assert CAUTION in flat(page)
        plain(page).encode("ascii")


def test_every_setting_stands_with_its_spread_and_reason() -> None:
    text = flat(calibration_report(SAMPLE))
    assert "boost cut (boost_cut): 180 ± 5 kPa absolute" in text
    assert "spring 0.45 bar, creep 0.1 bar" in text
    assert "engine speed limit (speed_limit): 6500 rpm" in text


def test_a_table_says_range_limit_and_what_is_visited() -> None:
    text = flat(calibration_report(SAMPLE))
    assert "-4.0 to 45.1 deg, ± 2.8, over 10 of engine speed by 11 of manifold pressure" in text
    visited = int(np.count_nonzero(SAMPLE.table("spark").visited))
    assert f"{visited} of 110 cells visited by the predicted trajectory" in text
    assert "the charge knocks from here on" in text
    assert "at or beyond it in 10 cells" in text  # lambda at idle speed and 115 kPa, by intention


def test_a_cell_beyond_its_limit_is_called_so() -> None:
    lean = flat(table_report(SAMPLE.table("lambda_target"), SAMPLE))
    assert "115 kPa absolute, 0.926 ± 0.024 where 0.920 is the limit" in lean
    assert "farthest beyond at" in lean
    spark = SAMPLE.table("spark")
    assert "nearest at" in flat(table_report(spark, SAMPLE))
    assert spark.low is not None
    past = spark.value.copy()
    past[4, 9] = spark.low[4, 9] - 2 * DEG
    told = flat(table_report(replace(spark, value=past), SAMPLE))
    assert "farthest beyond at 3000 rpm, 175 kPa absolute, 9.7 ± 2.8 deg where 7.7 deg" in told


def numbers_of(page: str) -> set[str]:
    return set(re.findall(r"-?\d+(?:\.\d+)?(?=[*! ])", page))


def test_a_table_in_full_shows_every_cell_and_its_marks() -> None:
    table = SAMPLE.table("volumetric_efficiency")
    page = table_report(table, SAMPLE)
    body = page.split("across:")[1].split("* visited")[0]
    cells = re.findall(r"\d+(?:\.\d+)?([* !])([blprh ])", body + "  ")
    stars = sum(mark == "*" for mark, _ in cells)
    assert stars == np.count_nonzero(table.visited)
    assert sum(letter == "b" for _, letter in cells) == np.count_nonzero(table.origin == Origin.BASELINE)
    for value in table.value.ravel():
        assert f"{100 * value:.0f}" in numbers_of(body)


def test_a_cell_that_fails_a_check_is_marked() -> None:
    checks = (Check("x", "This cell is wrong.", False, (("spark", 3, 4),)),)
    page = table_report(SAMPLE.table("spark"), replace(SAMPLE, checks=checks))
    assert page.count("23.5!") == 1
    assert "! a check does not hold here" in flat(page)
    assert "This cell is wrong." in flat(page)


def test_spark_is_shown_before_the_centre_and_keeps_no_more_digits_than_its_spread() -> None:
    table = SAMPLE.table("spark")
    assert table.value[0, 0] < 0.0  # a crank angle
    assert "36.0" in table_report(table, SAMPLE)
    assert step_of(table) == pytest.approx(0.1)
    wide = replace(table, sd=np.full_like(table.sd, 8 * DEG))
    assert step_of(wide) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("value", "sd", "dimension", "words"),
    [
        (3.1e-3, 0.0, Dimension.TIME, "3.1 ms"),
        (4.0, 0.5, Dimension.TIME, "4.0 ± 1.0 s"),
        (0.881, 0.01, Dimension.MIXTURE, "0.881 ± 0.020"),
        (-12.0 * DEG, 1.0 * DEG, Dimension.SPARK, "12.0 ± 2.0 deg"),
        (3.2e-5, 1e-6, Dimension.MASS, "32.0 ± 2.0 mg"),
        (float("nan"), 0.1, Dimension.SHARE, "none"),
        (1234567.0, 0.0, Dimension.RATIO, "1235000"),
    ],
)
def test_a_value_with_its_unit(value: float, sd: float, dimension: Dimension, words: str) -> None:
    assert said(value, sd, dimension).replace("\u00a0", " ") == words


def test_edits_stand_worst_first_with_limit_and_spreads() -> None:
    table = SAMPLE.table("spark")
    assert table.low is not None
    values = table.value.copy()
    values[4, 9] = table.low[4, 9] - 1.0 * DEG  # 1 degree earlier than the limit
    values[1, 1] += 0.5 * DEG
    page = flat(edit_report(edited_calibration(SAMPLE, {"spark": values}, {"spark": 1e-4})))
    assert "2 cells are changed in spark; 1 passes a limit of knock, mixture or a part" in page
    assert "✕ spark at 3000 rpm, 175 kPa absolute: 5.20 deg before, 8.70 deg now, 2.5 spreads more" in page
    assert "above 7.7 deg: the charge knocks from here on" in page
    assert page.index("3000 rpm, 175") < page.index("1500 rpm, 50") < page.index("Checks with the edits in")


def test_an_edit_that_a_check_refuses_is_not_listed_as_one_that_passes() -> None:
    values = SAMPLE.table("spark").value.copy()
    values[4, 9] -= 0.5 * DEG  # within the limit
    values[1, 1] += 0.5 * DEG
    failing = Check("behind", "Spark keeps its distance.", False, (("spark", 4, 9),), "Take it back.")
    edited = edited_calibration(SAMPLE, {"spark": values}, {"spark": 1e-4}, lambda _: (failing,))
    assert edited.hurts
    page = flat(edit_report(edited))
    assert "2 cells are changed in spark; 1 stands in a check that does not hold" in page
    assert "a check does not hold here: Spark keeps its distance. Take it back." in page
    listed = page.index("Past no limit, in no failing check")
    assert page.index("✕ spark at 3000 rpm, 175") < listed < page.index("spark at 1500 rpm, 50")
    elsewhere = edited_calibration(
        SAMPLE, {"spark": values}, {"spark": 1e-4}, lambda _: (failing._replace(cells=()),)
    )
    assert not elsewhere.hurts
    assert "not every check holds" in flat(edit_report(elsewhere))


def test_no_edit_is_said() -> None:
    same = edited_calibration(SAMPLE, {"spark": SAMPLE.table("spark").value}, {"spark": 1e-4})
    assert "Nothing is changed in spark" in edit_report(same)


# ------------------------------------------------------------------------------------------------- JSON


def with_edits() -> tuple[Calibration, str]:
    edited = edited_calibration(SAMPLE, {"spark": SAMPLE.table("spark").value - 3 * DEG}, {})
    return edited.calibration, calibration_document(edited.calibration, STAMP, edited)


def test_the_document_follows_its_schema() -> None:
    schema = calibration_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for text in (calibration_document(SAMPLE, STAMP), with_edits()[1]):
        validator.validate(json.loads(text, parse_constant=pytest.fail))
        assert "\u00a0" not in text
    broken = json.loads(calibration_document(SAMPLE, STAMP))
    del broken["tables"][0]["visited"]
    assert not validator.is_valid(broken)


def arrays_of(table: Table) -> dict[str, np.ndarray]:
    return {"value": table.value, "sd": table.sd}


def test_the_document_keeps_every_number_in_si() -> None:
    record = json.loads(calibration_document(SAMPLE, STAMP))
    assert record["made_by"] == {
        "program": "boostwright", "version": "1.0", "data": "d1", "inputs": SAMPLE.fingerprint
    }  # fmt: skip
    for table, plain_table in zip(SAMPLE.tables, record["tables"], strict=True):
        for name, array in arrays_of(table).items():
            back = np.array(plain_table[name], dtype=float)
            np.testing.assert_array_equal(back, array)
        assert plain_table["axes"][0]["values"] == table.axes[0].values.tolist()
        assert np.array(plain_table["visited"]).tolist() == table.visited.tolist()
    assert record["cautions"] == [CAUTION]
    assert record["edits"] is None


def test_the_document_tells_of_edits() -> None:
    calibration, text = with_edits()
    record = json.loads(text)
    assert len(record["edits"]) == calibration.table("spark").value.size
    first = record["edits"][0]
    assert first["concerns"][0]["hurts"]
    assert "knocks" in first["concerns"][0]["words"]
    assert table_face(calibration.table("spark")).backwards


def test_the_headline_says_where_the_numbers_are_no_place_to_drive() -> None:
    first, *others = SAMPLE.tables
    noted = replace(first, notes=(*first.notes, f"In 3 cells knock rules. They are {NO_PLACE}."))
    page = calibration_report(replace(SAMPLE, tables=(noted, *others)), brief=True)
    assert f"But, {first.key}" in page
    assert "But, " not in calibration_report(SAMPLE, brief=True)

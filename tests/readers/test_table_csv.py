"""Edited calibration tables: what a spreadsheet makes of them is read, and what cannot be meant is said."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.build.faults import Fault
from boostwright.calibration.records import Calibration, Table
from boostwright.errors import BuildFileError
from boostwright.readers.table_csv import ReadTable, read_table_csv
from boostwright.readers.table_form import AxisForm, TableForm
from boostwright.readers.table_head import read_head
from boostwright.views.table_csv import Stamp, cells_csv, table_csv
from boostwright.views.table_words import table_face, write_step
from tests.labels import check
from tests.sample_calibration import sample_calibration

SAMPLE: Calibration = sample_calibration()
STAMP = Stamp("1.0", "d1")


def form_of(table: Table) -> TableForm:
    axes = tuple(AxisForm(a.key, a.words, a.dimension, a.values, a.pressure) for a in table.axes)
    return TableForm(table.key, table.words, table.dimension, axes, np.isnan(table.value), table.pressure)


def exported(key: str, cells: bool = False, semicolon: bool = False) -> str:
    make = cells_csv if cells else table_csv
    return make(SAMPLE.table(key), SAMPLE, STAMP, semicolon)


def values_of(text: str | bytes, key: str) -> Any:
    data = text if isinstance(text, bytes) else text.encode()
    return read_table_csv(data, form_of(SAMPLE.table(key)), "edited.csv").values


def faults_of(text: str | bytes, key: str) -> tuple[Fault, ...]:
    data = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(BuildFileError) as caught:
        read_table_csv(data, form_of(SAMPLE.table(key)), "edited.csv")
    for fault in caught.value.faults:
        assert fault.line >= 1
        assert fault.why
        assert fault.remedy
    return caught.value.faults


def same_as_written(values: Any, key: str) -> None:
    table = SAMPLE.table(key)
    values = -values if table_face(table).backwards else values  # read as people count, before the centre
    half = 0.5 * write_step(table) * table_face(table).size
    np.testing.assert_allclose(values, table.value, rtol=0.0, atol=1.0001 * half)


@check("limit", note="what was written is read: half of the last digit written apart at most")
@pytest.mark.parametrize("semicolon", [False, True])
@pytest.mark.parametrize("cells", [False, True])
@pytest.mark.parametrize("key", [table.key for table in SAMPLE.tables])
def test_what_is_exported_is_read_back(key: str, cells: bool, semicolon: bool) -> None:
    text = exported(key, cells, semicolon)
    same_as_written(values_of(text, key), key)
    head = read_head(text.encode())
    assert head.key == key
    assert head.inputs == SAMPLE.fingerprint
    for axis in SAMPLE.table(key).axes:
        if axis.key in head.breakpoints:
            np.testing.assert_allclose(head.breakpoints[axis.key], axis.values, rtol=1e-5)
    assert ("engine_speed" in head.breakpoints) == (SAMPLE.table(key).axes[0].key == "engine_speed")


FORMS = {
    "tabs": lambda s: s.replace(";", "\t").encode(),
    "a mark": lambda s: b"\xef\xbb\xbf" + s.encode(),
    "UTF-16": lambda s: s.encode("utf-16"),
    "line feeds": lambda s: s.replace("\r\n", "\n").encode(),
    "every cell quoted": lambda s: "\n".join(
        ";".join(f'"{cell}"' for cell in line.split(";")) for line in s.splitlines()
    ).encode(),
    "empty columns": lambda s: s.replace("\r\n", ";;;;\r\n").encode(),
    "empty lines": lambda s: s.replace("\r\n", "\r\n;;\r\n").encode(),
    "a line that names the sign": lambda s: b"sep=;\n" + s.encode(),
    "no remarks": lambda s: "\n".join(
        line for line in s.splitlines() if not line.startswith(("caution", "note", "made", "about", "build"))
    ).encode(),
    "remarks of one's own": lambda s: ("my own remark;see page 3\n" + s).encode(),
    "rows the other way round": lambda s: "\n".join(
        [*s.splitlines()[:11], *reversed(s.splitlines()[11:])]
    ).encode(),
}


@pytest.mark.parametrize("name", FORMS)
def test_what_a_spreadsheet_makes_of_it(name: str) -> None:
    text = exported("spark", semicolon=True)
    assert text.splitlines()[10].startswith("engine speed [rpm] \\")
    same_as_written(values_of(FORMS[name](text), "spark"), "spark")


def test_columns_in_another_order() -> None:
    lines = [line.split(",") for line in exported("lambda_target").splitlines()]
    start = next(i for i, cells in enumerate(lines) if "\\" in cells[0])
    order = [0, *reversed(range(1, len(lines[start])))]
    turned = [",".join(cells[i] for i in order) for cells in lines[start:]]
    text = "\n".join([*exported("lambda_target").splitlines()[:start], *turned])
    same_as_written(values_of(text, "lambda_target"), "lambda_target")


def test_other_units_of_the_same_kind_are_converted() -> None:
    """Boost target in psi instead of bar, speeds in revolutions a second."""
    lines = [
        "table;boost_target", "unit;psi absolute", "down;engine_speed;Hz",
        "engine speed [Hz];value [psi absolute]",
    ]  # fmt: skip
    table = SAMPLE.table("boost_target")
    for speed, value in zip(table.axes[0].values, table.value, strict=True):
        lines.append(f"{speed / (2 * np.pi):.6f};{value / 6894.757293:.6f}")
    np.testing.assert_allclose(values_of("\n".join(lines), "boost_target"), table.value, atol=1.0)


CHANGES = {
    "another table": ("table;spark", "table;lambda_target", "wrong-form"),
    "no name of the table": ("table;spark", "tible", "missing-key"),
    "a unit of something else": ("unit;deg", "unit;kPa", "unknown-unit"),
    "no unit": ("unit;deg\r\n", "unit;\r\n", "no-unit"),
    "no line of the unit": ("unit;deg\r\n", "", "no-unit"),
    "a breakpoint changed": ("\r\n3000;", "\r\n3100;", "out-of-range"),
    "a row gone": ("\r\n3000;", "\r\n;", "missing-value"),
    "a row twice": ("\r\n3000;", "\r\n3500;", "duplicate-key"),
    "a word": ("17,20", "late", "no-number"),
    "an empty cell": ("17,20", "", "missing-value"),
    "a number that two people read differently": ("17,20", "1.234,5", "ambiguous-number"),
    "beyond the possible": ("17,20", "172,0", "out-of-range"),
    "endless": ("17,20", "1e999", "not-finite"),
    "breakpoints that fall": ("rpm;800 1500", "rpm;1500 800", "out-of-range"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_what_cannot_be_meant_is_said(name: str) -> None:
    old, new, code = CHANGES[name]
    text = exported("spark", semicolon=True)
    assert old in text
    faults = faults_of(text.replace(old, new, 1), "spark")
    assert code in {fault.code for fault in faults}, [fault.sentence() for fault in faults]


def test_gauge_where_absolute_is_counted() -> None:
    text = exported("spark", semicolon=True).replace("kPa absolute;30", "kPa gauge;30", 1)
    assert {fault.code for fault in faults_of(text, "spark")} == {"gauge-absolute"}


def line_of(text: str, start: str) -> int:
    return next(i for i, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def test_the_label_of_an_axis_is_read_and_must_agree_with_the_head() -> None:
    text = exported("spark", semicolon=True)
    label = "manifold pressure [kPa absolute]"
    assert label in text
    row = line_of(text, "engine speed [rpm]")
    (fault,) = faults_of(text.replace(label, "manifold pressure [psi gauge]", 1), "spark")
    assert (fault.code, fault.line, fault.written) == ("gauge-absolute", row, "psi gauge")
    (fault,) = faults_of(text.replace(label, "manifold pressure [psi absolute]", 1), "spark")
    assert (fault.code, fault.line) == ("wrong-unit", row)
    assert f"line {line_of(text, 'across')} says 'kPa absolute'" in fault.why
    (fault,) = faults_of(text.replace("engine speed [rpm]", "engine speed [Hz]", 1), "spark")
    assert (fault.code, fault.line) == ("wrong-unit", row)


@pytest.mark.parametrize("key", ["dead_time", "boost_target"])
def test_the_label_of_the_only_axis_too(key: str) -> None:
    text = exported(key, semicolon=True)
    row = line_of(text, "battery voltage" if key == "dead_time" else "engine speed")
    old, new = ("[V];", "[mV];") if key == "dead_time" else ("[rpm];", "[Hz];")
    assert old in text
    faults = faults_of(text.replace(old, new, 1), key)
    assert [fault.line for fault in faults] == [row]


def test_a_wrong_unit_of_all_breakpoints_is_one_fault_that_says_where_they_lie() -> None:
    """30 psi are 207 kPa (6.894 757 kPa each)."""
    text = exported("boost_target", semicolon=True)
    line = line_of(text, "down")
    bad = text.replace("down;engine_speed;rpm", "down;engine_speed;Hz").replace("speed [rpm]", "speed [Hz]")
    (fault,) = faults_of(bad, "boost_target")
    assert (fault.code, fault.line) == ("wrong-unit", line)
    assert "lie at 48000 90000" in fault.why  # 800 and 1500 turns a second in turns a minute
    grid = exported("spark", semicolon=True).replace("kPa absolute", "psi absolute")
    faults = faults_of(grid, "spark")
    assert any(f.code == "wrong-unit" and "206.8 to 1310 kPa absolute" in f.why for f in faults)
    with pytest.raises(BuildFileError, match=r"206\.8 to 1310 kPa"):
        read_head(grid.encode())


@pytest.mark.parametrize(
    ("key", "old", "new"),
    [("spark", "unit;deg", "unit;rad"), ("boost_target", "kPa absolute", "bar absolute")],
)
def test_a_wrong_unit_of_the_values_is_one_fault(key: str, old: str, new: str) -> None:
    text = exported(key, semicolon=True)
    assert old in text
    (fault,) = faults_of(text.replace(old, new), key)
    assert (fault.code, fault.line) == ("wrong-unit", line_of(text, "unit"))


@pytest.mark.parametrize("word", ["AFR", "afr", "A/F ratio", "AFR ethnaol"])
def test_a_ratio_without_its_fuel_guesses_none(word: str) -> None:
    text = exported("lambda_target", semicolon=True)
    (fault,) = faults_of(text.replace("unit;lambda", f"unit;{word}", 1), "lambda_target")
    assert fault.line == line_of(text, "unit")
    if word in ("AFR", "afr"):
        assert "Write lambda" in fault.remedy
        assert "E5" not in fault.sentence()


def test_two_units_for_one_column() -> None:
    text = exported("dead_time", semicolon=True).replace("unit;ms", "unit;us", 1)
    (fault,) = faults_of(text, "dead_time")
    assert fault.code == "wrong-unit"
    assert fault.line == 3


def test_decimal_commas_between_commas() -> None:
    text = exported("spark").replace("17.20", "17,20", 1)
    (fault,) = faults_of(text, "spark")
    assert fault.code == "wrong-form"
    assert "decimal signs" in fault.why


def test_a_row_that_was_deleted_is_named_once() -> None:
    lines = exported("spark", semicolon=True).splitlines()
    (gone,) = (i for i, line in enumerate(lines) if line.startswith("3000;"))
    (fault,) = faults_of("\n".join([*lines[:gone], *lines[gone + 1 :]]), "spark")
    assert "3000 rpm" in fault.why


def test_every_fault_at_once_each_with_its_line() -> None:
    text = exported("spark", semicolon=True)
    text = text.replace("17,20", "x", 1).replace("28,60", "999", 1).replace("\r\n6000;", "\r\n6100;", 1)
    faults = faults_of(text, "spark")
    lines = text.splitlines()
    assert [lines[fault.line - 1].split(";")[0] for fault in faults] == ["1500", "3000", "6100"]


def test_a_cell_without_a_number_may_stay_so() -> None:
    text = exported("gate_duty")
    assert np.isnan(values_of(text, "gate_duty")[0])
    assert "\r\n3000,32.0," in text
    (fault,) = faults_of(text.replace("\r\n3000,32.0,", "\r\n3000,,", 1), "gate_duty")
    assert fault.code == "missing-value"


def test_a_file_that_is_too_large_or_empty() -> None:
    assert faults_of(b"", "spark")[0].code == "missing-key"
    assert faults_of(b"1" * 600_000, "spark")[0].code == "too-large"
    assert faults_of(b"table;spark\n", "spark")[0].code == "missing-value"


def answered(data: bytes, key: str) -> None:
    """Cells, or faults that say where and what to do; nothing else."""
    said: tuple[Fault, ...] = ()
    found: ReadTable | None = None
    try:
        found = read_table_csv(data, form_of(SAMPLE.table(key)))
    except BuildFileError as mishap:
        said = mishap.faults
    assert (found is None) == bool(said)
    assert all(fault.line >= 1 and fault.why and fault.remedy for fault in said)
    if found is None:
        return
    table = SAMPLE.table(key)
    assert found.values.shape == table.value.shape
    assert np.isfinite(found.values[~np.isnan(table.value)]).all()


@given(
    st.one_of(
        st.binary(max_size=300),
        st.text(alphabet='table;unitdownspark,[]\\"\t\r\n0123456789.-e', max_size=300).map(str.encode),
    )
)
def test_any_bytes_are_answered(data: bytes) -> None:
    answered(data, "spark")


PIECES = (b";", b",", b'"', b"1e999", b"nan", b"-", b"\xff", b"0", b"\n", b"\t", b"unit;K\n", b"value", b"[")


@given(st.data())
@settings(max_examples=400, deadline=None)
def test_a_damaged_table_is_answered(data: st.DataObject) -> None:
    key = data.draw(st.sampled_from(["boost_target", "dead_time", "gate_duty", "warm_up_fuel"]))
    text = bytearray(exported(key, semicolon=data.draw(st.booleans())).encode())
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(text) - 1))
        kind = data.draw(st.sampled_from(["cut", "put", "swap", "line"]))
        if kind == "cut":
            del text[at : at + data.draw(st.integers(1, 30))]
        elif kind == "put":
            text[at:at] = data.draw(st.sampled_from(PIECES))
        elif kind == "swap":
            text[at] = data.draw(st.integers(0, 255))
        else:
            rows = bytes(text).split(b"\n")
            rows.insert(data.draw(st.integers(0, len(rows))), data.draw(st.sampled_from(rows)))
            text = bytearray(b"\n".join(rows))
        if not text:
            break
    answered(bytes(text), key)


def test_two_thousand_spoilt_grids() -> None:
    rng = np.random.default_rng(7)
    whole = exported("spark", semicolon=True).encode()
    signs = list(b';,\t\n\r"[]\\-.0123456789eE%#\xff\x00 ')
    for _ in range(2000):
        spoilt = bytearray(whole)
        for _ in range(int(rng.integers(1, 10))):
            spoilt[int(rng.integers(len(spoilt)))] = signs[int(rng.integers(len(signs)))]
        if rng.random() < 0.2:
            del spoilt[int(rng.integers(len(spoilt))) :]
        answered(bytes(spoilt), "spark")

"""The statement reader against the standard library's parser, and what it saves from a broken file."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.build.faults import Fault
from boostwright.library import demo_builds, demo_path
from boostwright.readers.decode import LARGEST_FILE, decode
from boostwright.readers.toml_lines import statements
from tests.labels import check


def tree_of(text: str) -> tuple[dict[str, Any], list[Fault]]:
    """What our statements say, as the plain tree that a TOML parser gives."""
    lines, faults = decode(text.encode())
    tree: dict[str, Any] = {}
    here: dict[str, Any] = tree
    for part in statements(lines, faults, 100):
        if part.header:
            here = tree
            for name in part.path[:-1]:
                here = here.setdefault(name, {})
            last = part.path[-1]
            if part.many:
                here.setdefault(last, []).append({})
                here = here[last][-1]
            else:
                here = here.setdefault(last, {})
        else:
            inner = here
            for name in part.path[:-1]:
                inner = inner.setdefault(name, {})
            inner[part.path[-1]] = part.value
    return tree, faults


@check("reference library", source="tomllib", note="Python's own parser; equal trees for valid files")
@pytest.mark.parametrize("name", demo_builds())
def test_demo_files_read_as_toml(name: str) -> None:
    text = demo_path(name).read_text("utf-8")
    tree, faults = tree_of(text)
    assert not faults
    assert tree == tomllib.loads(text)


VALUES = st.one_of(
    st.text(
        alphabet=st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"], exclude_characters='"\\'),
        max_size=30,
    ).map(lambda t: f'"{t}"'),
    st.sampled_from(
        ['"a\\"b"', "'lit # eral'", '"""two\nlines"""', "'''x\n# no remark\ny'''", '"# no remark"']
    ),
    st.integers(-(10**14), 10**14).map(str),
    st.floats(-1e6, 1e6).map(lambda f: f"{f:.6f}"),
    st.sampled_from(["true", "false", "1979-05-27", "07:32:00", "0x1F", "1_000", "inf", "1e5", "+3", "-0.5"]),
)
ARRAYS = st.lists(VALUES, max_size=4).map(lambda v: "[" + ", ".join(v) + "]")
LONG_ARRAYS = st.lists(VALUES, min_size=1, max_size=4).map(
    lambda v: "[\n  " + ", # remark ]\n  ".join(v) + ",\n]"
)
TABLES = st.lists(VALUES, max_size=3).map(
    lambda v: "{ " + ", ".join(f"k{i} = {x}" for i, x in enumerate(v) if "\n" not in x) + " }"
)
LINES = st.tuples(
    st.one_of(VALUES, ARRAYS, LONG_ARRAYS, TABLES),
    st.sampled_from(["", " # remark", "  #"]),
)


@check("reference library", source="tomllib", note="Python's own parser; equal trees for valid files")
@given(lines=st.lists(LINES, max_size=8), indent=st.sampled_from(["", "  ", "\t"]))
def test_valid_toml_reads_alike(lines: list[tuple[str, str]], indent: str) -> None:
    text = "[s]\n"
    for number, (value, remark) in enumerate(lines):
        if number % 4 == 3:
            text += f"[[list{number % 3}]] # header\n"
        key = [f"key{number}", f'"quoted {number}"', f"a{number}.b", f"a{number} . 'c d'"][number % 4]
        text += f"{indent}{key} = {value}{remark}\n"
    expected = tomllib.loads(text)
    tree, faults = tree_of(text)
    assert not faults
    assert tree == expected


@pytest.mark.parametrize(
    ("line", "code", "remedy"),
    [
        ("bore = 86 mm", "broken-value", 'bore = "86 mm"'),
        ("bore = 86,5", "broken-value", 'bore = "86,5"'),
        ('bore = "86 mm', "broken-value", 'bore = "86 mm"'),
        ("bore = '86 mm\"", "broken-value", 'bore = "86 mm"'),
        ("bore 86 mm", "no-equals", 'bore = "86 mm"'),
        ('bore: "86 mm"', "no-equals", 'bore = "86 mm"'),
        ("bore =", "broken-value", "anew"),
        ('= "86 mm"', "broken-line", "#"),
        ("[engine", "broken-header", "[engine]"),
        ("[engine]]", "broken-header", "[engine]"),
        ("[]", "broken-header", "[engine]"),
        ("just words here", "broken-line", "#"),
        ("bore = [1, 2", "broken-value", "anew"),
        ("bore = {value = ", "broken-value", "anew"),
        ('bore = "a" "b"', "broken-value", "anew"),
        ("bore = " + "[" * 50, "broken-value", "anew"),
        ("bore = " + "x" * 5000, "too-long", "Break it up"),
        ('bore = "86\x00 mm"', "control-character", "Delete"),
        ('story = "C:\\parts"', "broken-value", "anew"),
    ],
)
def test_a_broken_line_does_not_hide_the_next(line: str, code: str, remedy: str) -> None:
    lines, faults = decode(f'[engine]\n{line}\nstroke = "84 mm"\n'.encode())
    parts = statements(lines, faults, 100)
    assert [f.code for f in faults][:1] == [code]
    assert faults[0].line == 2
    assert remedy in faults[0].remedy
    assert any(part.path == ("stroke",) and part.line == 3 and part.value == "84 mm" for part in parts)


def test_an_open_list_ends_where_the_next_value_begins() -> None:
    text = '[a]\nspeed = [1500,\n 2000,\n 2500\ntorque = "1 2 Nm"\n[b]\nx = 1\n'
    tree, faults = tree_of(text)
    assert [(f.code, f.line) for f in faults] == [("broken-value", 2)]
    assert tree["a"]["torque"] == "1 2 Nm"
    assert tree["b"] == {"x": 1}


def test_bytes_that_are_not_utf8_are_placed_and_read_on() -> None:
    lines, faults = decode(b'[a]\nx = "1 mm"\ny = "25 ' + b'\xb0C"\nz = 3\n')
    assert [(f.code, f.line, f.column, f.field) for f in faults] == [("not-utf8", 3, 9, "y")]
    assert "0xB0" in faults[0].written
    assert "°" in faults[0].written
    assert lines[2] == 'y = "25 °C"'
    assert lines[3] == "z = 3"


def test_other_encodings_and_sizes() -> None:
    assert decode("bore".encode("utf-16"))[1][0].code == "not-utf8"
    assert decode(b"\xef\xbb\xbf[a]\n")[0] == ["[a]", ""]
    assert decode(b"[a]\r\nx = 1\r\n")[0] == ["[a]", "x = 1", ""]
    assert decode(b"#" * (LARGEST_FILE + 1))[1][0].code == "too-large"
    lines, faults = decode(b"x = 1\n" * 6000)
    statements(lines, faults, 100)
    assert faults[0].code == "too-large"

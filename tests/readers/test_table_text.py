"""A table that a spreadsheet saved is read with every letter as it was written."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.readers.decode import table_text

TEXT = "key;state;note\ngasket.turbine;have;für Lücke, 5 €\n"


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_the_usual_codings_give_the_same_text(coding: str) -> None:
    assert table_text(TEXT.encode(coding)).lstrip("\ufeff") == TEXT


def test_any_bytes_give_some_text() -> None:
    assert table_text(b"\xff\xfe\x00") is not None
    assert table_text(bytes(range(256))).startswith("\x00")


@pytest.mark.parametrize("coding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_note_of_the_parts_list_stays_what_it_was(tmp_path: Path, coding: str) -> None:
    found = verbs.parts(verbs.demo_build("sound"))
    key = found.lines[0].key
    sheet = tmp_path / "parts.csv"
    sheet.write_bytes(f"line;state;seller\n{key};ordered;für Lücke\n".encode(coding))
    events, faults = verbs.read_parts(sheet, found, "Lena")
    assert faults == ()
    assert [event.seller for event in events] == ["für Lücke"]

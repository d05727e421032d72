"""Every table that a calibration can hold has its form, so that an edit of it is read and it can be shown."""

from __future__ import annotations

import re
from pathlib import Path

import boostwright.calibration
from boostwright.readers.table_form import TABLES


def test_every_key_that_the_tables_are_made_with_is_known() -> None:
    folder = Path(boostwright.calibration.__file__).parent
    made: set[str] = set()
    for file in folder.glob("*.py"):
        text = file.read_text("utf-8")
        made |= set(re.findall(r"Table\(\s*(?:key=)?\"([a-z_]+)\"", text))
        if "tables" in file.name:
            made |= set(re.findall(r"\bkey=\"([a-z_]+)\"", text))
    axes = {"engine_speed", "manifold_pressure", "battery_voltage", "pressure_difference"}
    assert "gate_duty" in made
    assert len(made) >= 6
    assert made - axes - set(TABLES) == set()

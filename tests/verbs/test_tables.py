"""The starting calibration of a demo build through its door: made, exported, edited, checked again, drawn."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from boostwright import verbs
from boostwright.calibration.edits import Trouble
from boostwright.errors import OutOfRange
from boostwright.views.calibration_folder import write_calibration
from boostwright.views.table_csv import Stamp
from boostwright.views.table_words import table_face
from tests.labels import check

DEG = np.pi / 180.0
STAMP = Stamp("1.0", "d1")


@pytest.fixture(scope="module")
def tabled() -> verbs.Tabled:
    return verbs.tables(
        verbs.demo_build("sound"),
        speeds=verbs.read_speeds("1500 3000 5500 rpm"),
        pressures=verbs.read_pressures("40 100 125 140 165 kPa absolute"),
    )


@pytest.fixture(scope="module")
def folder(tabled: verbs.Tabled, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("tables")
    write_calibration(tabled.calibration, place, STAMP, beside=tabled.beside)
    return place


def test_the_breakpoints_are_those_asked_for(tabled: verbs.Tabled) -> None:
    axes = tabled.calibration.table("spark").axes
    np.testing.assert_allclose(axes[0].values * 30 / np.pi, [1500, 3000, 5500])
    np.testing.assert_allclose(axes[1].values, [40e3, 100e3, 125e3, 140e3, 165e3])


@check("limit", note="spark is a crank angle: the spark of full load lies some degrees before its centre")
def test_the_sign_of_a_spark_is_that_of_a_crank_angle(tabled: verbs.Tabled) -> None:
    """The doors turn the sign; where a maker of tables turns it as well, this breaks."""
    table = tabled.calibration.table("spark")
    assert np.all(table.value[:, 0] < 0.0)  # light load
    assert np.all(np.diff(table.value, axis=1) > -1e-9)  # later with pressure
    assert table_face(table).backwards
    assert table.low is not None  # knock: earlier is less
    known = np.isfinite(table.low)
    assert known.any()


def test_the_document_follows_its_schema_and_every_page_is_drawn(tabled: verbs.Tabled, folder: Path) -> None:
    jsonschema.Draft202012Validator(verbs.tables_schema()).validate(
        json.loads((folder / "tables.json").read_text("utf-8"))
    )
    drawn = {path.stem for path in folder.glob("*.png")}
    assert drawn == {
        "table_volumetric_efficiency", "table_lambda_target", "table_spark", "table_injector_pulse",
        "table_boost",
    }  # fmt: skip


def test_every_file_comes_back_unchanged(tabled: verbs.Tabled, folder: Path) -> None:
    cells = []
    for table in tabled.calibration.tables:
        file = verbs.read_edited(folder / f"{table.key}.csv")
        cells.append(verbs.read_edited_cells(tabled.calibration, file))
    edited = verbs.edit_tables(tabled, cells)
    assert edited.cells == ()
    assert edited.calibration.checks == tabled.calibration.checks


def test_a_spark_past_knock_fails_where_it_is_edited(tabled: verbs.Tabled, folder: Path) -> None:
    table = tabled.calibration.table("spark")
    assert table.low is not None
    (row, column), *_ = np.argwhere(np.isfinite(table.low) & table.visited)
    lines = (folder / "spark.csv").read_text("utf-8").split("\n")
    first = next(i for i, line in enumerate(lines) if line.startswith("engine speed"))
    cells = lines[first + 1 + row].split(",")
    cells[column + 1] = f"{-table.low[row, column] / DEG + 2.0:.2f}"
    lines[first + 1 + row] = ",".join(cells)
    (folder / "mine.csv").write_text("\n".join(lines), "utf-8")
    read = verbs.read_edited_cells(tabled.calibration, verbs.read_edited(folder / "mine.csv"))
    edited = verbs.edit_tables(tabled, [read])
    (cell,) = edited.cells
    assert cell.at == (row, column)
    assert Trouble.BELOW in {concern.trouble for concern in cell.concerns}
    before = {one.key: one.holds for one in tabled.calibration.checks}
    after = {one.key: one.holds for one in edited.calibration.checks}
    assert before["spark_margin"] is True
    assert after["spark_margin"] is False


def test_ceilings_over_speed_hold_the_ones_that_the_cut_is_set_against(tabled: verbs.Tabled) -> None:
    assert tabled.beside is not None
    ceilings = tabled.beside.ceilings
    assert ceilings is not None
    cut = tabled.calibration.setting("boost_cut").value
    for line in (ceilings.knock, ceilings.strength):
        known = np.isfinite(line)
        assert known.any()
        assert np.all(line[known] > cut)
    assert tabled.beside.mbt.shape == tabled.calibration.table("spark").value.shape


def test_a_probability_that_no_margin_can_be_made_for() -> None:
    with pytest.raises(OutOfRange, match=r"0\.5"):
        verbs.tables(verbs.demo_build("sound"), probability=1.0)


def test_the_folder_holds_every_setting_with_its_number(tabled: verbs.Tabled, folder: Path) -> None:
    rows = list(csv.reader((folder / "settings.csv").read_text(encoding="utf-8-sig").splitlines()))
    start = next(i for i, row in enumerate(rows) if row[0] == "setting")
    found = {row[0]: row for row in rows[start + 1 :]}
    assert set(found) == {one.key for one in tabled.calibration.settings}
    cut = found["boost_cut"]
    assert cut[3] == "kPa absolute"
    assert float(cut[2]) * 1e3 == pytest.approx(tabled.calibration.setting("boost_cut").value, rel=1e-4)
    assert any(row[0] == "caution" for row in rows)

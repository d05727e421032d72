"""Plots of the starting calibration: which there are, that names do not touch, that colour is not needed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg

from boostwright.calibration.beside import Beside
from boostwright.views.plots.calibration import calibration_sheets, draw_calibration
from boostwright.views.plots.style import RC, Sheet
from tests.sample_calibration import CAUTION, sample_beside, sample_calibration

SAMPLE, BESIDE = sample_calibration(), sample_beside()


@pytest.fixture(autouse=True)
def style() -> Iterator[None]:
    with mpl.rc_context(RC):
        yield


def sheets(*only: str, beside: Beside | None = BESIDE) -> dict[str, Sheet]:
    """Pages by name; those named, or all."""
    made = calibration_sheets(SAMPLE, "foot", beside)
    return {name: make() for name, make in made if not only or name in only}


def test_each_table_over_speed_and_pressure_has_its_page_and_boost_one() -> None:
    assert list(sheets()) == [
        "volumetric_efficiency", "injector_pulse", "lambda_target", "spark", "boost_target"
    ]  # fmt: skip


def texts_of(axis: Axes) -> list[str]:
    return [text.get_text() for text in axis.texts]


def test_every_page_carries_the_caution() -> None:
    for sheet in sheets().values():
        assert CAUTION in sheet.sentence


def line_of(axis: Axes, y: np.ndarray) -> bool:
    """Whether one of the lines runs through these heights."""
    return any(
        len(line.get_ydata()) == y.size and np.allclose(line.get_ydata(), y, equal_nan=True)
        for line in axis.lines
    )


def test_the_spark_page_shows_spark_mbt_and_knock_as_people_count_them() -> None:
    figure = sheets("spark")["spark"].figure
    table = SAMPLE.table("spark")
    axis = figure.axes[1]
    (row,) = (i for i in range(10) if line_of(axis, -np.degrees(table.value[i])))
    assert line_of(axis, -np.degrees(BESIDE.mbt[row]))
    assert table.low is not None
    knock = -np.degrees(table.low[row])
    low, high = axis.get_ylim()
    assert line_of(axis, np.where((knock > low) & (knock < high), knock, np.nan))
    assert {"MBT", "in the table"} <= set(texts_of(axis))
    assert any("knocks" in text for text in texts_of(axis))


def test_visited_and_not_visited_differ_in_their_marks_not_in_their_colour() -> None:
    figure = sheets("spark")["spark"].figure
    marked = [line for line in figure.axes[1].lines if line.get_marker() == "o"]
    fills = {line.get_markerfacecolor() for line in marked}
    assert len(fills) == 2
    table = SAMPLE.table("spark")
    total = sum(len(line.get_xdata()) for line in marked)
    assert total == table.axes[1].values.size


@pytest.mark.parametrize("name", ["spark", "lambda_target", "injector_pulse", "boost_target"])
def test_names_at_the_right_do_not_touch(name: str) -> None:
    figure = sheets(name)[name].figure
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    for axis in figure.axes:
        boxes = [t.get_window_extent(renderer) for t in axis.texts if t.get_text()]
        for i, one in enumerate(boxes):
            assert one.x1 <= figure.bbox.x1
            for other in boxes[i + 1 :]:
                assert min(one.y1, other.y1) - max(one.y0, other.y0) < 1.0


def test_the_boost_page_shows_target_cut_and_ceilings() -> None:
    figure = sheets("boost_target")["boost_target"].figure
    axis = figure.axes[0]
    assert {"target", "boost cut", "knock, worst day", "parts"} <= set(texts_of(axis))
    assert BESIDE.ceilings is not None
    assert axis.get_ylim()[1] > np.nanmax(BESIDE.ceilings.knock) / 1e3
    plain = sheets("boost_target", beside=None)["boost_target"].figure.axes[0]
    assert "parts" not in texts_of(plain)


def test_a_calibration_with_holes_can_be_drawn(tmp_path: Path) -> None:
    table = SAMPLE.table("volumetric_efficiency")
    value = table.value.copy()
    value[:2, :3] = np.nan
    holed = replace(table, value=value, visited=np.ones_like(table.visited))
    empty = replace(SAMPLE.table("lambda_target"), value=np.full_like(table.value, np.nan))
    drawn = draw_calibration(replace(SAMPLE, tables=(holed, empty), settings=()), tmp_path, "1.0", "stamp")
    assert [path.name for path in drawn] == [
        "table_volumetric_efficiency.svg", "table_volumetric_efficiency.png"
    ]  # fmt: skip


def test_the_same_calibration_gives_the_same_bytes(tmp_path: Path) -> None:
    only = replace(SAMPLE, tables=(SAMPLE.table("boost_target"),))
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        draw_calibration(only, tmp_path / folder, "1.0", "stamp", BESIDE)
    for name in ("table_boost.svg", "table_boost.png"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()

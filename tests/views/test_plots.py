"""Plots: what is drawn, that nothing runs off the sheet, and that the same result gives the same bytes."""

from __future__ import annotations

import struct
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from boostwright.findings.model import Amount, Kind, Place, Verdict
from boostwright.findings.result import CheckResult
from boostwright.views.plots.book import _PLOTS, draw_all, pages_of, plot_names
from boostwright.views.plots.engine import _HOT_LIMITS
from boostwright.views.plots.margins import _BAR, margins
from boostwright.views.plots.style import RC, Sheet, _spread
from tests.sample import CORNERS, result


def sheets(given: CheckResult) -> Iterator[Sheet]:
    with mpl.rc_context(RC):  # type: ignore[arg-type]
        for module, function in _PLOTS.values():
            yield from pages_of(getattr(import_module(module), function)(given, "foot"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("plots")
    draw_all(result(), place)
    return place


def test_every_plot_is_there_as_drawing_and_picture(folder: Path) -> None:
    names = {f"{n}.{e}" for n in plot_names() for e in ("svg", "png")}
    assert {p.name for p in folder.iterdir()} == names
    for path in folder.glob("*.svg"):
        assert ET.parse(path).getroot().tag.endswith("svg")
    for path in folder.glob("*.png"):
        head = path.read_bytes()[:24]
        assert head.startswith(b"\x89PNG")
        width, height = struct.unpack(">II", head[16:24])
        assert width >= 900
        assert height >= 500


def test_without_a_turbo_its_plots_are_left_out(tmp_path: Path) -> None:
    written = draw_all(result(False), tmp_path)
    names = {path.stem for path, _ in written}
    turbo_side = {"boost", "compressor", "back_pressure", "knock_margin", "fuel_supply", "arrival", "joints"}
    assert names == set(plot_names()) - turbo_side


def test_the_same_result_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    draw_all(result(), tmp_path)
    for path in folder.iterdir():
        assert path.read_bytes() == (tmp_path / path.name).read_bytes(), path.name


@pytest.mark.parametrize("with_goal", [True, False])
def test_every_word_stays_on_the_sheet_and_no_legend_is_used(with_goal: bool) -> None:
    for sheet in sheets(result(with_goal)):
        canvas = FigureCanvasAgg(sheet.figure)
        canvas.draw()
        renderer = canvas.get_renderer()
        width, height = sheet.figure.get_size_inches() * sheet.figure.dpi
        words: list[Text] = [*sheet.figure.texts]
        for axis in sheet.figure.axes:
            words += [*axis.texts, axis.xaxis.label, axis.yaxis.label]
        for text in words:
            if not text.get_text().strip():
                continue
            box = text.get_window_extent(renderer)
            assert box.x0 >= 0, (sheet.name, text.get_text())
            assert box.x1 <= width, (sheet.name, text.get_text())
            assert box.y0 >= 0, (sheet.name, text.get_text())
            assert box.y1 <= height, (sheet.name, text.get_text())
        assert all(axis.get_legend() is None for axis in sheet.figure.axes)


def test_axes_are_named_in_words_with_units() -> None:
    for sheet in sheets(result()):
        if sheet.name in ("margins", "joints"):
            continue
        below = {"compressor": "air flow [g/s]", "arrival": "time after the throttle opens [s]"}
        assert sheet.figure.axes[-1].get_xlabel().startswith(below.get(sheet.name, "engine speed [rpm]"))
        for axis in sheet.figure.axes:
            label = axis.get_ylabel()
            assert label
            assert "[" in label or "ratio" in label


def test_the_sentence_names_the_marked_point() -> None:
    given = result()
    for sheet in sheets(given):
        assert sheet.sentence.endswith(".")
        if sheet.name == "torque_and_power":
            best = int(np.argmax(given.baseline.result.torque))
            assert f"{given.baseline.speeds[best] * 30 / np.pi:.0f}\u00a0rpm" in sheet.sentence
        marked = [line for axis in sheet.figure.axes for line in axis.lines if line.get_marker() == "o"]
        assert marked or sheet.name in ("margins", "joints")


def test_the_margins_sheet_has_a_bar_for_each_finding() -> None:
    given = result()
    sheet = next(s for s in sheets(given) if s.name == "margins")
    asked = [t for t in sheet.figure.texts if t.get_text().startswith("asked ")]
    assert len(asked) == len(given.findings)
    words = " ".join(t.get_text() for t in sheet.figure.texts)
    for verdict in Verdict:
        assert verdict.value in words


def test_end_names_never_overlap() -> None:
    rng = np.random.default_rng(7)
    for _ in range(200):
        count = int(rng.integers(1, 7))
        wanted = sorted(rng.uniform(0.0, 1.0, count).tolist())
        sizes = rng.uniform(0.03, 0.12, count).tolist()
        places = _spread(wanted, sizes)
        for i in range(count - 1):
            room = places[i + 1] - places[i]
            assert room >= 0.5 * (sizes[i] + sizes[i + 1]) - 1e-9
        if count == 1:
            assert places == wanted


def test_names_at_the_right_of_the_temperatures_touch_neither_each_other_nor_a_curve() -> None:
    kelvin = (1273.15, 1233.15, 1223.15)  # two of them close together
    hot = tuple(
        replace(finding, code=code, capacity=Amount(value, 40.0, Kind.TEMPERATURE))
        for finding, (code, _), value in zip(result().findings, _HOT_LIMITS, kelvin, strict=False)
    )
    sheet = next(s for s in sheets(replace(result(), findings=hot)) if s.name == "temperatures")
    canvas = FigureCanvasAgg(sheet.figure)
    canvas.draw()
    axis = sheet.figure.axes[0]
    boxes = [text.get_window_extent(canvas.get_renderer()) for text in axis.texts]
    assert sum(text.get_text().startswith("limit") for text in axis.texts) == 3
    for i, box in enumerate(boxes):
        assert box.x0 > axis.bbox.x1, axis.texts[i].get_text()
        assert not any(box.overlaps(other) for other in boxes[i + 1 :]), axis.texts[i].get_text()


def test_lines_of_the_spark_that_lie_on_one_another_are_told_apart_without_colour() -> None:
    sheet = next(s for s in sheets(result()) if s.name == "spark")
    lines = [line for line in sheet.figure.axes[0].lines if len(np.atleast_1d(line.get_xdata())) > 2]
    looks = {(line.get_linestyle(), line.get_marker(), line.get_linewidth()) for line in lines[:3]}
    assert len(looks) == 3
    heights = [
        text.xy[1] for text in sheet.figure.axes[0].texts if text.get_text() != "knock, before the turbo"
    ]
    assert len(heights) == 3
    assert min(abs(a - b) for i, a in enumerate(heights) for b in heights[:i]) > 0.05


def test_many_margins_stand_on_pages_that_print_on_a_sheet_of_paper() -> None:
    given = result()
    for count, pages in ((1, 1), (14, 1), (15, 2), (60, 5)):
        many = (given.findings * 60)[:count]
        with mpl.rc_context(RC):  # type: ignore[arg-type]
            made = margins(replace(given, findings=many), "foot")
        assert len(made) == pages
        assert [s.name for s in made] == ["margins", *(f"margins_{k}" for k in range(2, pages + 1))]
        shown = 0
        for sheet in made:
            width, height = sheet.figure.get_size_inches()
            assert width == 8.0
            assert height <= 11.2  # A4 less a margin
            shown += sum(t.get_text().startswith("asked ") for t in sheet.figure.texts)
        assert shown == count


def test_pages_that_an_earlier_result_left_do_not_stay(tmp_path: Path) -> None:
    given = result(False)
    draw_all(replace(given, findings=given.findings * 6), tmp_path)
    assert (tmp_path / "margins_3.png").exists()
    (tmp_path / "margins_mine.png").write_bytes(b"kept")
    draw_all(given, tmp_path)
    assert not (tmp_path / "margins_2.png").exists()
    assert not (tmp_path / "margins_3.svg").exists()
    assert (tmp_path / "margins.png").exists()
    assert (tmp_path / "margins_mine.png").read_bytes() == b"kept"


def test_words_of_the_margins_touch_neither_bars_nor_each_other() -> None:
    given = result()
    wide = replace(
        given.findings[0],
        subject="Compressor outlet pressure on the coldest day of the year",
        demand=Amount(80e3, 50e3, Kind.PRESSURE_ABSOLUTE, "x"),
        capacity=Amount(125.5e3, 98e3, Kind.PRESSURE_ABSOLUTE, "y"),
    )
    with mpl.rc_context(RC):  # type: ignore[arg-type]
        (sheet,) = margins(replace(given, findings=(wide, *given.findings, wide)), "foot")
    canvas = FigureCanvasAgg(sheet.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in sheet.figure.texts]
    boxes += [(t.get_text(), t.get_window_extent(renderer)) for t in sheet.figure.axes[0].texts]
    assert [(a, b) for i, (a, x) in enumerate(boxes) for b, y in boxes[i + 1 :] if _touch(x, y)] == []
    width = sheet.figure.get_size_inches()[0] * sheet.figure.dpi
    begin, end = (share * width for share in _BAR)
    for text, box in boxes[3 : len(sheet.figure.texts)]:
        assert box.x1 <= begin or box.x0 >= end, text
        assert box.x1 <= width, text


def _overlaps(sheet: Sheet) -> list[tuple[str, str]]:
    """Pairs of words beside or on the axes that touch one another."""
    canvas = FigureCanvasAgg(sheet.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    words = [t for axis in sheet.figure.axes for t in axis.texts if t.get_text().strip()]
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in words]
    return [(a, b) for i, (a, x) in enumerate(boxes) for b, y in boxes[i + 1 :] if _touch(x, y)]


def _touch(a: Bbox, b: Bbox) -> bool:
    room = 1.0  # pixel
    return bool(a.x0 + room < b.x1 and b.x0 + room < a.x1 and a.y0 + room < b.y1 and b.y0 + room < a.y1)


@pytest.mark.parametrize("corners", [(), (*CORNERS, "low barometer", "high barometer")])
def test_every_corner_is_named_at_the_end_of_its_line_and_no_names_touch(corners: tuple[str, ...]) -> None:
    for sheet in sheets(result(corners=corners)):
        if sheet.name == "margins":
            continue
        assert _overlaps(sheet) == [], sheet.name
        if sheet.name in ("boost", "compressor", "back_pressure", "knock_margin", "fuel_supply"):
            for axis in sheet.figure.axes:
                named = {" ".join(t.get_text().split()) for t in axis.texts}
                for corner in corners:
                    assert any(name.startswith(corner[:20]) for name in named), (sheet.name, corner)


def test_corners_are_told_apart_without_colour() -> None:
    sheet = next(s for s in sheets(result()) if s.name == "boost")
    thin = [x for x in sheet.figure.axes[0].lines if x.get_linewidth() < 1.0 and len(x.get_xdata()) > 2]
    looks = {str(x._unscaled_dash_pattern) for x in thin if x.get_linestyle() != "-"}  # type: ignore[attr-defined]
    assert len(looks) == len(CORNERS)


def test_the_map_hatches_beyond_surge_and_choke_and_marks_engine_speed_on_the_line() -> None:
    sheet = next(s for s in sheets(result()) if s.name == "compressor")
    axis = sheet.figure.axes[0]
    assert sum(bool(c.get_hatch()) for c in axis.collections) == 2
    words = {t.get_text() for t in axis.texts}
    assert {"surge", "choke", "30"} <= words  # 3000 rpm
    ticks = [x for x in axis.lines if x.get_marker() in ("|", "_")]
    assert len(ticks) >= 5


def test_rings_and_words_of_the_map_are_those_of_the_findings() -> None:
    given = result()
    assert given.drawing is not None
    assert given.drawing.chart is not None
    lines = given.drawing.lines
    day, i = 1, 4
    demand = Amount(0.93, 0.11, Kind.RATIO, "least flow over surge flow")
    named = tuple(
        replace(f, demand=demand, corner=lines[day].corner, place=Place(float(lines[day].goal.speed[i])))
        if f.code == "turbo.surge"
        else f
        for f in given.findings
    )
    sheet = next(s for s in sheets(replace(given, findings=named)) if s.name == "compressor")
    said = sheet.sentence.replace("\u00a0", " ")
    assert "0.93 ± 0.22 times the surge flow" in said
    assert lines[day].corner in said
    flow, ratio = given.drawing.chart.points[day]
    rings = [x for x in sheet.figure.axes[0].lines if x.get_marker() == "o"]
    spots = [(float(x.get_xdata()[0]), float(x.get_ydata()[0])) for x in rings]  # type: ignore[index]
    assert (pytest.approx(1e3 * flow[i]), pytest.approx(ratio[i])) in spots
    without = tuple(f for f in given.findings if not f.code.startswith("turbo."))
    plain = next(s for s in sheets(replace(given, findings=without)) if s.name == "compressor")
    assert "surge flow" not in plain.sentence
    assert not [x for x in plain.figure.axes[0].lines if x.get_marker() == "o"]


def test_labels_of_a_crowded_map_cover_neither_rings_nor_each_other() -> None:
    given = result()
    assert given.drawing is not None
    assert given.drawing.chart is not None
    chart = given.drawing.chart
    flow, ratio = chart.points[0]
    tight = chart._replace(
        points=((np.linspace(0.9, 1.0, flow.size) * np.nanmax(flow), ratio), *chart.points[1:])
    )
    sheet = next(
        s
        for s in sheets(replace(given, drawing=given.drawing._replace(chart=tight)))
        if s.name == "compressor"
    )
    assert _overlaps(sheet) == []


def test_bars_of_arrival_stand_above_every_line() -> None:
    sheet = next(s for s in sheets(result()) if s.name == "arrival")
    upper = sheet.figure.axes[0]
    bars = [x for x in upper.lines if x.get_linewidth() > 4.0]
    curves = [x for x in upper.lines if len(np.atleast_1d(x.get_xdata())) > 5]
    assert bars
    lowest = min(float(np.min(x.get_ydata())) for x in bars)
    assert lowest > max(float(np.max(x.get_ydata())) for x in curves)
    assert upper.get_ylim()[1] > max(float(np.max(x.get_ydata())) for x in bars)


def test_a_line_that_leaves_the_map_stays_on_the_sheet() -> None:
    given = result()
    assert given.drawing is not None
    assert given.drawing.chart is not None
    wide = given.drawing.chart._replace(
        points=tuple((1.6 * flow, ratio) for flow, ratio in given.drawing.chart.points)
    )
    sheet = next(
        s
        for s in sheets(replace(given, drawing=given.drawing._replace(chart=wide)))
        if s.name == "compressor"
    )
    axis = sheet.figure.axes[0]
    for flow, ratio in wide.points:
        assert axis.get_xlim()[1] > 1e3 * float(np.nanmax(flow))
        assert axis.get_ylim()[1] > float(np.nanmax(ratio))

"""The table of threads against the formulas of its standards."""

from __future__ import annotations

import pytest

from boostwright import sources
from boostwright.library import threads as library
from boostwright.physics import threads as physics
from tests.labels import check

MM, INCH = 1e-3, 0.0254
ROWS = library.threads()


def of(*series: str) -> list[library.Thread]:
    found = [row for row in ROWS.values() if row.series in series]
    assert found
    return found


@check(
    "published", id="Q3", source="iso228", note="every row, from memory; 0.002 mm, from the printed digits"
)
@pytest.mark.parametrize("row", of("G", "R", "Rc", "Rp"), ids=lambda row: row.name)
def test_whitworth_rows(row: library.Thread) -> None:
    found = physics.whitworth_diameters(row.major, row.pitch)
    assert float(found.pitch) == pytest.approx(row.pitch_diameter, abs=0.002 * MM)
    assert float(found.minor) == pytest.approx(row.minor_diameter, abs=0.002 * MM)


@check("published", id="Q3", source="iso7", note="gauge and useful lengths, from memory; rounded to 0.1 mm")
@pytest.mark.parametrize("row", of("R"), ids=lambda row: row.name)
def test_iso_7_lengths(row: library.Thread) -> None:
    assert row.gauge_turns is not None
    assert row.gauge_length is not None
    assert row.gauge_turns * row.pitch == pytest.approx(row.gauge_length, abs=0.06 * MM)
    useful = float(physics.iso_7_useful_length(row.gauge_length, row.pitch))
    assert useful == pytest.approx(row.useful_length, abs=0.1 * MM)


@check(
    "published", id="Q1", source="asmeb1201", note="E0, E1, L2, from memory; printed to 1e-5 and 1e-4 inch"
)
@pytest.mark.parametrize("row", of("NPT"), ids=lambda row: row.name)
def test_npt_rows(row: library.Thread) -> None:
    end = float(physics.npt_end_pitch_diameter(row.major, row.pitch))
    assert end == pytest.approx(row.pitch_diameter, abs=1e-5 * INCH)
    assert row.gauge_length is not None
    mouth = float(physics.tapered_diameter(end, row.gauge_length))
    assert mouth == pytest.approx(row.mouth_pitch_diameter, abs=2e-5 * INCH)
    assert float(physics.npt_effective_length(row.major, row.pitch)) == pytest.approx(
        row.useful_length, abs=1e-4 * INCH
    )


STEP = INCH / 64
WIDER = {"9/16-18", "5/8-18", "7/8-14"}  # the charts give the next wider drill: they disagree with d - P
DRILLED = [r for r in of("metric_coarse", "metric_fine", "UNC", "UNF", "UN") if r.tap_drill]


@check("common practice", id="Q5", note="drill of the rack against d - P; half a step of 1/64 inch, 0.2 mm")
@pytest.mark.parametrize("row", [r for r in DRILLED if r.name not in WIDER], ids=lambda r: r.name)
def test_tap_drills(row: library.Thread) -> None:
    assert float(physics.tap_drill(row.major, row.pitch)) == pytest.approx(row.tap_drill, abs=0.2 * MM)


@check("common practice", id="Q5", note="charts that disagree with d - P by more than half a step, under one")
@pytest.mark.parametrize("row", [r for r in DRILLED if r.name in WIDER], ids=lambda r: r.name)
def test_tap_drills_that_the_charts_give_wider(row: library.Thread) -> None:
    assert row.tap_drill is not None
    assert STEP / 2 < row.tap_drill - float(physics.tap_drill(row.major, row.pitch)) < STEP


@check("published", id="Q2", source="asmeb1201", note="drill charts, from memory; half a step of 1/64 inch")
@pytest.mark.parametrize("row", [r for r in of("NPT") if r.tap_drill], ids=lambda r: r.name)
def test_npt_tap_drills(row: library.Thread) -> None:
    assert float(physics.npt_tap_drill(row.major, row.pitch)) == pytest.approx(row.tap_drill, abs=STEP / 2)


@check("published", id="Q6", source="saej514", note="threads by dash size, from memory; exact")
def test_flare_37() -> None:
    want = {
        3: "3/8-24",
        4: "7/16-20",
        6: "9/16-18",
        8: "3/4-16",
        10: "7/8-14",
        12: "1 1/16-12",
        14: "1 3/16-12",
        16: "1 5/16-12",
        20: "1 5/8-12",
    }
    for dash, thread in want.items():
        row = library.flare(37, dash)
        assert row.thread == thread
        assert row.tube == pytest.approx(dash / 16 * INCH, abs=1e-7)


@check("published", id="Q6", source="saej512", note="the sizes whose thread both families share, from memory")
def test_families_share_threads() -> None:
    shared = {
        n
        for d, n in library.flares()
        if d == 45 and library.flare(37, n).thread == library.flare(45, n).thread
    }
    assert {4, 8, 10} <= shared
    assert not {6, 12} & shared


def test_every_row_says_where_it_is_from() -> None:
    for row in ROWS.values():
        assert row.source in sources.SOURCES
        assert row.standard
        assert 0 <= row.spread < 1e-4
        assert 0.5 * MM < row.pitch < 4 * MM
    for flare in library.flares().values():
        assert flare.thread in ROWS
        assert flare.source in sources.SOURCES
    assert set(library.banjo_threads()) <= ROWS.keys()
    with pytest.raises(KeyError):
        library.flare(37, 7)

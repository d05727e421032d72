"""Screw threads: basic profile, taper, stripping, unlike pitches."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics import threads
from tests.labels import check

MM = 1e-3
INCH = 0.0254


@check("published", id="Q1", source="asmeb1201", note="basic sizes, from memory; last printed digit")
@pytest.mark.parametrize(
    ("pipe", "per_inch", "end", "length"),
    [(0.405, 27, 0.36351, 0.2639), (0.540, 18, 0.47739, 0.4018), (0.675, 18, 0.61201, 0.4078),
     (0.840, 14, 0.75843, 0.5337)],
)  # fmt: skip
def test_npt_basic_size(pipe: float, per_inch: int, end: float, length: float) -> None:
    size, p = pipe * INCH, INCH / per_inch
    assert float(threads.npt_end_pitch_diameter(size, p)) / INCH == pytest.approx(end, abs=1e-5)
    assert float(threads.npt_effective_length(size, p)) / INCH == pytest.approx(length, abs=1e-4)


@check("limit", id="Q1", note="arctangent of 1/32: 1.7899 degrees; printed digits")
def test_taper() -> None:
    assert float(np.degrees(threads.taper_half_angle())) == pytest.approx(1.7899, abs=5e-5)
    assert float(threads.tapered_diameter(9e-3, 16e-3)) == pytest.approx(10e-3, rel=1e-12)


@check("published", id="Q2", source="asmeb1201", note="drill charts, from memory; half a step of 1/64 inch")
@pytest.mark.parametrize(
    ("pipe", "per_inch", "drill"),
    [(0.405, 27, 0.332), (0.540, 18, 7 / 16), (0.675, 18, 9 / 16), (0.840, 14, 45 / 64)],
)
def test_npt_tap_drill(pipe: float, per_inch: int, drill: float) -> None:
    assert float(threads.npt_tap_drill(pipe * INCH, INCH / per_inch)) / INCH == pytest.approx(
        drill, abs=1 / 128
    )


@check(
    "published", id="Q3", source="iso228", note="table 1, from memory; 0.002 mm: pitch printed to 0.001 mm"
)
@pytest.mark.parametrize(
    ("d", "per_inch", "d2", "d1"),
    [(9.728, 28, 9.147, 8.566), (13.157, 19, 12.301, 11.445), (16.662, 19, 15.806, 14.950)],
)
def test_whitworth(d: float, per_inch: int, d2: float, d1: float) -> None:
    found = threads.whitworth_diameters(d * MM, INCH / per_inch)
    assert float(found.pitch) / MM == pytest.approx(d2, abs=0.002)
    assert float(found.minor) / MM == pytest.approx(d1, abs=0.002)


@check("published", id="Q4", source="iso68", note="ISO 724 and root diameter, from memory; last digit")
@pytest.mark.parametrize(
    ("d", "P", "d2", "minor", "root"),
    [(8, 1.25, 7.188, 6.647, 6.466), (10, 1, 9.350, 8.917, 8.773), (12, 1.5, 11.026, 10.376, 10.160)],
)
def test_metric(d: float, P: float, d2: float, minor: float, root: float) -> None:
    found = threads.metric_diameters(d * MM, P * MM)
    assert [float(x) / MM for x in found] == pytest.approx([d2, minor, root], abs=0.0006)


@check("published", id="R1", source="iso898", note="stress areas, from memory; last printed digit")
@pytest.mark.parametrize(
    ("d", "P", "area"),
    [(6, 1, 20.1), (8, 1.25, 36.6), (10, 1.5, 58.0), (12, 1.75, 84.3), (8, 1, 39.2), (12, 1.25, 92.1)],
)
def test_stress_area(d: float, P: float, area: float) -> None:
    assert float(threads.stress_area(d * MM, P * MM)) * 1e6 == pytest.approx(area, abs=0.06)


@check("published", source="asmeb11", note="stress areas in square inch, from memory; last printed digit")
@pytest.mark.parametrize(("d", "n", "area"), [(0.25, 20, 0.0318), (0.375, 24, 0.0878), (0.4375, 20, 0.1187)])
def test_unified_stress_area_differs_from_the_iso_form(d: float, n: int, area: float) -> None:
    assert float(threads.unified_stress_area(d * INCH, INCH / n)) / INCH**2 == pytest.approx(area, abs=6e-5)
    ours = float(threads.stress_area(d * INCH, INCH / n)) / INCH**2
    assert 1.005 < ours / area < 1.02  # the two standards disagree, and this keeps it in sight


@check(
    "published", source="iso965", note="6g and 6H of M10x1: 26, 112, 150 um, from memory; R20 rounding 5 %"
)
def test_largest_play() -> None:
    assert float(threads.largest_play(10 * MM, 1 * MM)) == pytest.approx(288e-6, rel=0.05)


@check("limit", note="play on the flanks, c tan 30 degrees, over the difference of pitches; exact")
def test_turns_until_bound() -> None:
    turns = threads.turns_until_bound(0.3 * MM, 1.5 * MM, 1.4 * MM, np.pi / 3)
    assert float(turns) == pytest.approx(3 * np.tan(np.pi / 6), rel=1e-9)
    taper = threads.turns_until_bound(0.25 * MM, 1 * MM, 1 * MM, np.pi / 3, 1 / 16)
    assert float(taper) == pytest.approx(4.0, rel=1e-9)  # one pitch takes 1/16 mm
    assert float(threads.turns_until_bound(0.1 * MM, MM, MM, np.pi / 3)) == np.inf
    assert float(threads.turns_until_bound(-0.1 * MM, MM, MM, np.pi / 3)) == 0.0
    assert float(threads.turns_until_bound(-0.1 * MM, MM, 1.2 * MM, np.pi / 3)) == 0.0
    assert np.isnan(float(threads.turns_until_bound(np.nan, MM, MM, np.pi / 3)))


def test_more_unlike_binds_sooner() -> None:
    turns = threads.turns_until_bound(0.3 * MM, 1 * MM, np.array([1.02, 1.06, 1.1, 1.25]) * MM, np.pi / 3)
    assert np.all(np.diff(turns) < 0)
    assert float(threads.engaged_length(3, 1 * MM)) == pytest.approx(3 * MM)


@check("common practice", note="0.5 to 1 d in like steel, 1.5 to 2.5 d in soft cast metal")
def test_stripping_length() -> None:
    margin = 1.2  # the trade's lengths hold the play and chamfer that the docstring says to add
    steel = threads.stripping_length(10 * MM, 1.5 * MM, 800e6, 800e6)
    assert 0.5 <= margin * float(steel.needed) / (10 * MM) <= 1.0
    soft = threads.stripping_length(10 * MM, 1.5 * MM, 200e6, 800e6)
    assert 1.5 <= margin * float(soft.needed) / (10 * MM) <= 2.5
    assert float(soft.internal) == pytest.approx(4 * float(steel.internal), rel=1e-12)
    assert float(soft.external) == pytest.approx(float(steel.external), rel=1e-12)

"""The compressor that a build states: points before a known point before sizes, with spreads and warnings."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.errors import OutOfRange
from boostwright.library import read_bytes
from boostwright.library.compressor_points import points_band
from boostwright.library.turbo_sizes import compressor_band
from boostwright.physics.compressor import PointStatus, corrected_flow, operating_point
from boostwright.physics.compressor_points import PointsMap
from boostwright.physics.compressor_sizes import WheelMap
from boostwright.readers.build_file import read_build
from boostwright.systems.stated.compressor import Basis, StatedCompressor, compressor_of
from tests.labels import check

DEMO_MAP = read_bytes("builds/sound_compressor.csv")
RPM = np.pi / 30
HEAD = """[build]
name = "x"
[goal]
boost = "0.5 bar"
[engine]
cylinders = 4
bore = "82.5 mm"
stroke = "79 mm"
[turbo]
source = "measured"
"""
SIZES = 'compressor_inducer = "41.5 mm"\ncompressor_exducer = "54.5 mm"\n'
NAMED = 'compressor_map = "one.csv"\n'
REFERENCE = 'map_reference_temperature = "298 K"\nmap_reference_pressure = "100 kPa"\n'


def build(text: str, map_file: bytes = DEMO_MAP) -> Build:
    return read_build((HEAD + text).encode(), "x.toml", lambda name: map_file)


def stated(text: str, map_file: bytes = DEMO_MAP) -> StatedCompressor:
    found = compressor_of(build(text, map_file))
    assert found is not None
    return found


def at(one: StatedCompressor, flow: float = 0.1, ratio: float = 1.7) -> tuple[float, float, float]:
    """Speed [rpm], efficiency and surge ratio of one operating point."""
    point = operating_point(one.map, one.exducer, flow, ratio, 298.0, 1e5)
    return float(point.speed) / RPM, float(point.efficiency), float(point.surge_ratio)


BY_POINTS = stated(SIZES + NAMED)
BY_SIZES = stated(SIZES)


def test_a_map_comes_before_sizes() -> None:
    assert BY_POINTS.basis is Basis.POINTS
    assert isinstance(BY_POINTS.map, PointsMap)
    assert BY_POINTS.warnings == ()
    assert BY_SIZES.basis is Basis.SIZES
    assert isinstance(BY_SIZES.map, WheelMap)
    assert BY_SIZES.warnings == ()
    for narrow, wide in zip(BY_POINTS.band, BY_SIZES.band, strict=True):
        assert float(narrow) < 0.6 * float(wide)


@check(
    "limit", id="C23",
    note="the demo map against the points it was read from: scatter of 0.5 % of flow and pressure and 0.4 "
    "points of efficiency went in, and a shape that the fit has not; 1 % and 1.5 points must cover both",
)  # fmt: skip
def test_the_demo_map_gives_back_its_own_points() -> None:
    report = BY_POINTS.report
    assert report is not None
    assert (report.lines, report.points, report.outliers, report.crossing) == (6, 48, (), False)
    assert report.ratio_rms < 0.01
    assert report.radial_rms < 0.01
    assert report.efficiency_rms < 0.015
    points = build(SIZES + NAMED).maps["turbo.compressor_map"]
    k = np.array([3, 12, 20, 28, 36])  # the middles of lines: there speed by flow and pressure is well posed
    flow, ratio = np.array(points.flow)[k], np.array(points.pressure_ratio)[k]
    found = operating_point(BY_POINTS.map, BY_POINTS.exducer, flow, ratio, 298.0, 1e5)
    np.testing.assert_allclose(found.speed, np.array(points.speed)[k], rtol=0.015)
    np.testing.assert_allclose(found.efficiency, np.array([points.efficiency[i] for i in k]), atol=0.02)
    assert np.all(found.status == PointStatus.ON_MAP)
    assert BY_POINTS.outside(found).inside.all()


def test_the_spread_widens_outside_the_ground() -> None:
    flow = np.array([0.1, 0.03, 0.19])  # inside, left of surge, past the line's end
    point = operating_point(BY_POINTS.map, BY_POINTS.exducer, flow, np.array([1.7, 1.6, 1.3]), 298.0, 1e5)
    assert BY_POINTS.outside(point).inside.tolist() == [True, False, False]
    band = BY_POINTS.band_at(point)
    assert float(np.asarray(band.efficiency)[0]) == pytest.approx(float(BY_POINTS.band.efficiency))
    assert np.all(np.asarray(band.efficiency)[1:] > BY_POINTS.band.efficiency)
    assert np.all(np.asarray(band.head)[1:] > BY_POINTS.band.head)
    too_fast = operating_point(BY_POINTS.map, BY_POINTS.exducer, 0.1, 5.0, 298.0, 1e5)
    assert int(too_fast.status) == PointStatus.TOO_FAST
    assert float(BY_POINTS.outside(too_fast).faster) == pytest.approx(0.05)


def test_leaving_the_ground_is_said_in_words() -> None:
    flow, ratio = np.array([0.03, 0.1, 0.19, 0.01]), np.array([1.6, 1.7, 1.3, 1.07])
    point = operating_point(BY_POINTS.map, BY_POINTS.exducer, flow, ratio, 298.0, 1e5)
    said = BY_POINTS.ground_words(point, np.array([1500, 3500, 6500, 1000]) * RPM)
    assert len(said) == 3
    assert said[0].startswith("At 1000 rpm the compressor runs slower than the speeds that were measured")
    assert said[1].startswith("At 1500")
    assert "less air" in said[1]
    assert said[2].startswith("At 6500 rpm the compressor runs at more air")
    idle = operating_point(BY_POINTS.map, BY_POINTS.exducer, 0.01, 1.02, 298.0, 1e5)
    assert BY_POINTS.ground_words(idle, 1000 * RPM) == ()
    inside = operating_point(BY_POINTS.map, BY_POINTS.exducer, flow[1:2], ratio[1:2], 298.0, 1e5)
    assert BY_POINTS.ground_words(inside, 3500 * RPM) == ()


WITHOUT_STATE = b"\n".join(line for line in DEMO_MAP.split(b"\n") if b"reference" not in line)


def test_an_unknown_reference_state_widens_the_flow() -> None:
    one = stated(SIZES + NAMED, WITHOUT_STATE)
    assert float(one.band.flow) >= 0.06 > 0.03 > float(BY_POINTS.band.flow)
    assert len(one.warnings) == 1
    assert "298 K and 100 kPa" in one.warnings[0]
    assert "turbo.map_reference_temperature" in one.warnings[0]
    assert at(one) == pytest.approx(at(BY_POINTS), rel=1e-9)  # it is what the file says anyway
    told = stated(SIZES + NAMED + REFERENCE, WITHOUT_STATE)
    assert told.warnings == ()
    assert told.band == BY_POINTS.band


@check("limit", note="another reference state is another flow: the corrected flow of each, exact arithmetic")
def test_the_reference_state_moves_the_map() -> None:
    other = stated(
        SIZES + NAMED + 'map_reference_temperature = "288.15 K"\nmap_reference_pressure = "101.325 kPa"\n',
        WITHOUT_STATE,
    )
    flow = float(corrected_flow(0.1, 298.0, 1e5, 288.15, 101325.0))
    here = operating_point(other.map, other.exducer, 0.1, 1.7, 298.0, 1e5)
    there = operating_point(BY_POINTS.map, BY_POINTS.exducer, flow, 1.7, 298.0, 1e5)
    assert float(here.surge_ratio) == pytest.approx(float(there.surge_ratio), rel=1e-6)
    assert float(here.efficiency) == pytest.approx(float(there.efficiency), rel=1e-6)


def test_two_reference_states_are_pointed_out() -> None:
    one = stated(SIZES + NAMED + 'map_reference_temperature = "288 K"\n')
    assert "different reference temperatures" in one.warnings[0]


def test_a_wrong_point_is_named_by_its_line() -> None:
    lines = DEMO_MAP.split(b"\n")
    at_line = next(n for n, line in enumerate(lines, 1) if line.startswith(b"112000"))
    lines[at_line - 1] = lines[at_line - 1].replace(b"; 1.", b"; 2.", 1)
    assert f"line {at_line} lies more than 10 %" in " ".join(
        stated(SIZES + NAMED, b"\n".join(lines)).warnings
    )


def test_a_map_without_efficiencies_takes_those_of_the_sizes() -> None:
    lines = [line.rsplit(b";", 1)[0] if b";" in line and not line.startswith(b"#") else line
             for line in DEMO_MAP.split(b"\n")]  # fmt: skip
    one = stated(SIZES + NAMED, b"\n".join(lines))
    assert "no efficiencies" in one.warnings[0]
    assert float(one.band.efficiency) == points_band().estimated_efficiency
    assert at(one)[0] == pytest.approx(at(BY_POINTS)[0], rel=1e-6)
    assert at(one)[1] == pytest.approx(at(BY_POINTS)[1], abs=0.05)


def test_efficiencies_may_come_on_contours() -> None:
    """Speed lines without efficiency, and points of contours without speed: how a printed map is read off."""
    rows = DEMO_MAP.decode().split("\n")
    points = [line.split("; ") for line in rows if line[:1].isdigit()]
    split = [f"{n}; {m}; {r};" for n, m, r, _ in points] + [f"; {m}; {r}; {e}" for _, m, r, e in points]
    head = [line for line in rows if line and not line[:1].isdigit()]
    one = stated(SIZES + NAMED, "\n".join(head + split).encode())
    assert one.report is not None
    assert one.warnings == ()
    assert one.report.points == len(points)
    assert one.report.efficiency_rms < 0.015
    assert at(one)[0] == pytest.approx(at(BY_POINTS)[0], rel=1e-6)
    assert at(one)[1] == pytest.approx(at(BY_POINTS)[1], abs=0.01)


def test_efficiencies_that_cannot_be_are_doubted() -> None:
    lines = DEMO_MAP.decode().split("\n")
    for n, line in enumerate(lines):
        cells = line.split("; ")
        if line[:1].isdigit():
            cells[3] = str(round(94 - 0.5 * float(cells[3]), 1))  # best where it should be worst
            lines[n] = "; ".join(cells)
    assert "do not go together" in " ".join(stated(SIZES + NAMED, "\n".join(lines).encode()).warnings)


def test_tip_speeds_instead_of_shaft_speeds() -> None:
    rows = DEMO_MAP.decode().replace("speed;", "tip speed;").replace("rpm;", "m/s;").split("\n")
    for n, line in enumerate(rows):
        if line[:1].isdigit():
            rpm, rest = line.split(";", 1)
            rows[n] = f"{float(rpm) * RPM * 0.0545 / 2!r};{rest}"
    one = stated(SIZES + NAMED, "\n".join(rows).encode())
    assert at(one) == pytest.approx(at(BY_POINTS), rel=1e-6)


def test_two_lines_are_refused_with_what_to_do() -> None:
    few = b"\n".join(line for line in DEMO_MAP.split(b"\n") if not line.startswith((b"1", b"92")))
    with pytest.raises(OutOfRange, match=r"map needs at least 3 lines.*known_flow"):
        stated(SIZES + NAMED, few)


def test_a_wheel_that_no_estimate_covers_may_have_a_map() -> None:
    large = 'compressor_inducer = "80 mm"\ncompressor_exducer = "110 mm"\n'
    with pytest.raises(OutOfRange, match=r"38 to 95 mm.*turbo.compressor_map"):
        stated(large)
    assert stated(large + NAMED).basis is Basis.POINTS
    with pytest.raises(OutOfRange, match=r"trims of 45 to 66.*turbo.compressor_map"):
        stated('compressor_inducer = "35 mm"\ncompressor_exducer = "60 mm"\n')


def test_a_wheel_a_little_outside_is_less_sure() -> None:
    one = stated('compressor_inducer = "31 mm"\ncompressor_exducer = "41 mm"\n')
    assert "1.3 times as wide" in one.warnings[0]
    assert float(one.band.head) == pytest.approx(1.3 * compressor_band().head, rel=0.01)


@check(
    "common practice", source="no source",
    note="choke flow goes with about the 2.8 to 2.95th power of the inducer at one exducer, for inducers "
    "above 45 mm: 5 % of diameter is 14 % of flow",
)  # fmt: skip
def test_unsure_diameters_widen_the_spread() -> None:
    sure = stated('compressor_inducer = "48 mm"\ncompressor_exducer = "63 mm"\n')
    rough = stated('compressor_inducer = "48 +/- 4.8 mm"\ncompressor_exducer = "63 mm"\n')
    added = np.sqrt(float(rough.band.flow) ** 2 - float(sure.band.flow) ** 2)
    assert 2.7 < added / 0.05 < 3.0
    assert float(sure.band.flow) == pytest.approx(compressor_band().choke, rel=0.01)


def test_a_known_point_narrows_and_says_what() -> None:
    point = 'known_place = "choke"\nknown_flow = "0.175 kg/s"\nknown_speed = "128000 rpm"\n'
    one = stated(SIZES + point + REFERENCE)
    assert one.basis is Basis.KNOWN_POINT
    assert float(one.band.flow) < 0.8 * float(BY_SIZES.band.flow)
    assert {touched.factor for touched in one.touched} == {"choke", "surge"}
    assert "largest flow" in one.warnings[0]
    assert "from 10 to" in one.warnings[0]
    unsure = stated(SIZES + point)
    assert float(unsure.band.flow) > float(one.band.flow)
    assert any("reference state of the known compressor point" in line for line in unsure.warnings)
    far = stated(SIZES + point.replace("0.175", "0.4") + REFERENCE)
    assert "standard deviations from what the wheel's sizes give" in far.warnings[-1]
    no_flow = stated(SIZES + 'known_speed = "128000 rpm"\n')
    assert no_flow.basis is Basis.SIZES
    assert "known_flow" in no_flow.warnings[0]
    with pytest.raises(OutOfRange, match="known_speed"):
        stated(SIZES + 'known_flow = "0.1 kg/s"\nknown_pressure_ratio = "1.8"\n')


def test_one_deviation_worse_costs_efficiency() -> None:
    for one in (BY_POINTS, BY_SIZES):
        worse = operating_point(one.one_deviation_worse(), one.exducer, 0.1, 1.7, 298.0, 1e5)
        plain = operating_point(one.map, one.exducer, 0.1, 1.7, 298.0, 1e5)
        assert float(plain.efficiency) - float(worse.efficiency) == pytest.approx(
            float(one.band.efficiency), abs=0.3 * float(one.band.efficiency)
        )
        assert float(worse.power) > float(plain.power)


def test_a_map_that_could_not_be_read_is_pointed_out() -> None:
    lonely = compressor_of(read_build((HEAD + SIZES + NAMED).encode()))
    assert lonely is not None
    assert lonely.basis is Basis.SIZES
    assert "was not read" in lonely.warnings[0]

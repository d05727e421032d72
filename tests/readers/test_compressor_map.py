"""Reading compressor maps: the forms a table may have, every fault at once, damaged files."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import BuildFileError
from boostwright.library import read_bytes
from boostwright.readers.build_file import read_build, read_build_file
from boostwright.readers.compressor_map import ReadMap, read_compressor_map
from tests.labels import check
from tools import fuzz_compressor_maps as fuzz

GOOD = b"""# a sheet
# reference temperature = 25 degC
# Reference pressure: 1 bar

speed; mass flow; pressure ratio; efficiency
rpm; kg/s; -; %
90000; 0.0461; 1.52; 71.5
90000; 0.0561; 1.50;
"""
BUILD = b"""[build]
name = "x"
[goal]
boost = "0.5 bar"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
[turbo]
compressor_inducer = "41.5 mm"
compressor_exducer = "54.5 mm"
compressor_map = "maps/one.csv"
"""


def faults(data: bytes) -> list[str]:
    with pytest.raises(BuildFileError) as caught:
        read_compressor_map(data, "map.csv")
    assert not [trouble for fault in caught.value.faults if (trouble := fuzz.trouble_with(fault))]
    return [fault.sentence() for fault in caught.value.faults]


def read(data: bytes) -> ReadMap:
    return read_compressor_map(data, "map.csv")


def test_a_whole_map() -> None:
    points, notes = read(GOOD)
    assert notes == ()
    assert points.speed == pytest.approx((9424.778, 9424.778), rel=1e-6)
    assert points.flow == (0.0461, 0.0561)
    assert points.pressure_ratio == (1.52, 1.5)
    assert points.efficiency == (pytest.approx(0.715), None)
    assert points.line == (7, 8)
    assert (points.reference_temperature, points.reference_pressure) == (298.15, 1e5)
    assert points.with_efficiency
    assert not points.tip_speed
    assert not points.volume_flow


SAME = {
    "decimal commas": GOOD.replace(b".", b","),
    "tabs": GOOD.replace(b"; ", b"\t").replace(b";", b"\t"),
    "tabs and decimal commas": GOOD.replace(b"; ", b"\t").replace(b";", b"\t").replace(b".", b","),
    "commas": GOOD.replace(b"; ", b",").replace(b";", b","),
    "three decimals after a comma": GOOD.replace(b".", b",").replace(b"1,52;", b"1,520;"),
    "units in brackets": GOOD.replace(b"rpm; kg/s; -; %\n", b"").replace(
        b"speed; mass flow; pressure ratio; efficiency",
        b"Speed [rpm]; Mass Flow (kg/s); Pressure ratio [-]; eta [%]",
    ),
    "quotes and a byte order mark": b"\xef\xbb\xbf" + GOOD.replace(b"90000", b'"90000"'),
    "Windows lines": GOOD.replace(b"\n", b"\r\n"),
    "a line for a spreadsheet": b"sep=;\n" + GOOD[10:],
    "shares": GOOD.replace(b"-; %", b"-; -").replace(b"71.5", b"0.715"),
    "other order": b"# reference temperature = 298.15 K\n# reference pressure = 100 kPa\n#\n#\n"
    b"efficiency;PR;flow;n\n%;;g/s;rad/s\n71.5;1.52;46.1;9424.7779607694\n;1.5;56.1;9424.7779607694\n",
    "a Windows degree sign in a remark": GOOD.replace(b"# a sheet", b"# at 25 \xb0C"),
}


@pytest.mark.parametrize("name", SAME)
def test_the_same_map_in_another_form(name: str) -> None:
    ours, theirs = read(SAME[name]).points, read(GOOD).points
    for one in ("speed", "flow", "pressure_ratio", "reference_temperature", "reference_pressure"):
        assert getattr(ours, one) == pytest.approx(getattr(theirs, one), rel=1e-9)
    assert ours.efficiency[0] == pytest.approx(0.715)
    assert ours.efficiency[1] is None


def test_a_point_of_a_contour_has_no_speed() -> None:
    points, _ = read(GOOD + b"; 0.06; 1.6; 74\n")
    assert points.speed[2] is None
    assert points.efficiency[2] == pytest.approx(0.74)
    assert "has no shaft speed" in faults(GOOD + b"; 0.06; 1.6;\n")[0]


@check("limit", note="pound of 0.453 592 37 kg, cubic foot of 0.3048 m; exact")
def test_units_of_the_trade() -> None:
    points, _ = read(b"u2 [m/s],volume flow [cfm],pr\n350,150,2.1\n350,160,2.0\n")
    assert points.tip_speed
    assert points.volume_flow
    assert points.flow[0] == pytest.approx(150 * 0.3048**3 / 60, rel=1e-12)
    assert not points.with_efficiency
    points, _ = read(b"speed [rpm],flow [lb/min],pr\n120000,20,2.1\n")
    assert points.flow[0] == pytest.approx(20 * 0.45359237 / 60, rel=1e-12)
    assert points.reference_temperature is None


def test_every_fault_at_once() -> None:
    said = faults(
        b"# reference pressure = 1 barg\n# reference temperature = 25\n"
        b"speed; flow; pressure ratio; efficiency\nrpm; kg/s; ; %\n"
        b"90000; 0.05; 1.5; 70\nabc; 0.05; 1.5; 70\n90000; ; 0.5; 70\n90000; 0.05; 1.5; 170\n90000; 55; 1.5\n"
    )
    assert len(said) == 7
    assert said[0].startswith("line 1: reference pressure = 1 barg")
    assert "has no unit" in said[1]
    assert "line 6, column 1: speed = abc" in said[2]
    assert "this point has no air flow" in said[3]
    assert "absolute pressures" in said[4]
    assert "line 8, column 4: efficiency = 170" in said[5]
    assert "0.001 to 12 kg/s" in said[6]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no table of points"),
        (b"# only a remark\n", "no table of points"),
        (b"90000; 0.05; 1.5\n", "not names of columns"),
        (b"speed [rpm]; flow [kg/s]\n90000; 0.05\n", "no column of pressure ratio"),
        (b"speed [rpm]; flow [kg/s]; pr\n", "not one point"),
        (b"speed; flow [kg/s]; pr\n90000; 0.05; 1.5\n", "column of shaft speed has no unit"),
        (b"speed [rpm]; flow [kgs]; pr\n90000; 0.05; 1.5\n", "Did you mean kg/s"),
        (b"speed [rpm]; flow [kg/s]; pr [bar]\n90000; 0.05; 1.5\n", "a pressure ratio has no unit"),
        (b"speed [rpm],flow [kg/s],pr\n90000,0,05,1,5\n", "semicolons"),
        (b"speed [rpm]; speed [rpm]; flow [kg/s]; pr\n90000; 90000; 0.05; 1.5\n", "stands twice"),
        (b"speed [rpm]; flow [kg/s]; pr; eta\n90000; 0.05; 1.5; 71\n", "Write %"),
        (b"speed [rpm]; flow [kg/s]; pr\n90000; 0.05; 1,500\n", "1.500 or"),
        (b"speed [rpm]; flow [kg/s]; pr\n90000; 0.05; " + b"9" * 300 + b"\n", "too long"),
        (
            b"# reference temperature = 500 K\nspeed [rpm]; flow [kg/s]; pr\n90000; 0.05; 1.5\n",
            "250 to 330 K",
        ),
        (b"\xff\xfes\x00", "UTF-16"),
        (b"x" * 600_000, "few dozen lines"),
        (b"speed [rpm]; flow [kg/s]; pr\n" + b"90000; 0.05; 1.5\n" * 2001, "up to 2000"),
        (b"speed [rpm]; flow [kg/s]; pr\n" + b"90000; x; 1.5\n" * 300, "more than 100 faults"),
    ],
)
def test_one_fault(data: bytes, words: str) -> None:
    assert words in " ".join(faults(data))


def test_what_is_not_read_is_said() -> None:
    _, notes = read(
        GOOD.replace(b"reference temperature", b"refrence temprature").replace(b"efficiency", b"eficiency")
    )
    said = [note.sentence() for note in notes]
    assert any("reference temperature = 25 degC" in line for line in said)
    assert any("read as 'efficiency'" in line for line in said)


def test_a_build_brings_its_map(tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    (tmp_path / "car.toml").write_bytes(BUILD)
    with pytest.raises(BuildFileError) as caught:
        read_build_file(tmp_path / "car.toml")
    assert [fault.code for fault in caught.value.faults] == ["no-file"]
    assert caught.value.faults[0].line == 12
    (tmp_path / "maps" / "one.csv").write_bytes(GOOD)
    build = read_build_file(tmp_path / "car.toml")
    assert build.maps["turbo.compressor_map"].pressure_ratio == (1.52, 1.5)
    (tmp_path / "maps" / "one.csv").write_bytes(GOOD.replace(b"1.52", b"1.53"))
    assert read_build_file(tmp_path / "car.toml").fingerprint != build.fingerprint
    (tmp_path / "maps" / "one.csv").write_bytes(GOOD.replace(b"1.52", b"0.2").replace(b"0.0561", b"?"))
    with pytest.raises(BuildFileError) as caught:
        read_build_file(tmp_path / "car.toml")
    assert [fault.line for fault in caught.value.faults] == [12, 12]
    assert "one.csv, line 7, column 3: pressure ratio = 0.2" in caught.value.faults[0].sentence()
    (tmp_path / "maps" / "one.csv").unlink()
    (tmp_path / "maps" / "one.csv").mkdir()
    with pytest.raises(BuildFileError, match="cannot be opened"):
        read_build_file(tmp_path / "car.toml")
    assert read_build(BUILD).maps == {}  # bytes alone have no folder
    strange = BUILD.replace(b'"maps/one.csv"', b'"a\\u0000b"')
    with pytest.raises(BuildFileError):
        read_build(strange, "x", lambda name: (tmp_path / name).read_bytes())


def test_the_demo_map_is_whole() -> None:
    points, notes = read(read_bytes("builds/sound_compressor.csv"))
    assert notes == ()
    assert len(points.flow) == 48
    assert None not in points.efficiency
    assert points.reference_temperature == 298.0


@pytest.mark.parametrize("block", range(4))
def test_a_thousand_damaged_maps(block: int) -> None:
    tally = fuzz.run(1_000_000 + 500 * block, 500)
    assert not tally.failures, tally.failures[:5]
    assert tally.counts["points"] > 20
    assert tally.counts["refused"] > 250


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(st.binary(max_size=300), st.text(alphabet="speed;flow,PR\t\n0123456789.[]#=%-", max_size=300))
)
def test_any_bytes_are_answered(data: bytes | str) -> None:
    assert fuzz.judge(data.encode() if isinstance(data, str) else data)[0] in ("points", "refused")


def test_damaged_maps_that_read_are_fitted_or_refused() -> None:
    tally = fuzz.run(2_000_000, 60, fit=True)
    assert not tally.failures, tally.failures[:5]

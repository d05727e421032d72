"""Reading turbine maps: forms, every fault at once, damaged files; and from the build file to a turbine."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.build.faults import Fault
from boostwright.errors import BuildFileError
from boostwright.readers.build_file import read_build, read_build_file
from boostwright.readers.turbine_map import ReadTurbineMap, read_turbine_map
from boostwright.systems.stated.pulses import manifold_of
from boostwright.systems.stated.turbine import turbine_of
from tools import fuzz_compressor_maps as fuzz
from tools.fuzz_build_files import trouble_with

GOOD = b"""# reference temperature = 15 degC
# reference pressure = 101.325 kPa
expansion ratio; flow; efficiency; speed
; kg/s; %; rpm
1.3; 0.0750; 66; 52000
1.6; 0.0948; 68; 66000
2.0; 0.1075; 67; 78000
2.5; 0.1140; 65; 88000
3.0; 0.1170; 64; 90000
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
turbine_map = "maps/hot.csv"
"""


def faults(data: bytes) -> list[str]:
    with pytest.raises(BuildFileError) as caught:
        read_turbine_map(data, "hot.csv")
    assert not [trouble for fault in caught.value.faults if (trouble := trouble_with(fault))]
    return [fault.sentence() for fault in caught.value.faults]


def test_a_whole_map() -> None:
    points, notes = read_turbine_map(GOOD)
    assert notes == ()
    assert points.expansion_ratio == (1.3, 1.6, 2.0, 2.5, 3.0)
    assert points.flow[0] == 0.075
    assert points.efficiency[1] == pytest.approx(0.68)
    assert points.speed[0] == pytest.approx(5445.4, rel=1e-4)
    assert (points.reference_temperature, points.reference_pressure) == (288.15, 101325.0)
    assert points.line == (5, 6, 7, 8, 9)


def test_ratio_and_flow_are_enough() -> None:
    points, _ = read_turbine_map(b"PR,flow [lb/min]\n1.5,12\n2.0,13,5\n".replace(b"13,5", b"13.5"))
    assert points.flow[0] == pytest.approx(12 * 0.45359237 / 60)
    assert points.efficiency == points.speed == (None, None)
    assert points.reference_temperature is None


def test_every_fault_at_once() -> None:
    said = faults(
        b"# reference pressure = 5 bar\nexpansion ratio; flow; efficiency\n; kg/s; %\n"
        b"0.9; 0.05; 70\n1.5; x; 70\n1.6; 55; 70\n1.7; 0.06; 95\n; 0.06; 60\n"
    )
    assert len(said) == 6
    assert "80 to 320 kPa" in said[0]
    assert "no turbine of a road car" in said[1]
    assert "0.001 to 3 kg/s" in said[3]
    assert "no expansion ratio" in said[5]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no table of points"),
        (b"1.5; 0.05\n", "not names of columns"),
        (b"flow [kg/s]\n0.05\n", "no column of expansion ratio"),
        (b"er; flow\n1.5; 0.05\n", "has no unit"),
        (b"er; flow [m3/s]\n1.5; 0.05\n", "no unit of corrected gas flow"),
        (b"er; flow [kg/s]; eta\n1.5; 0.05; 70\n", "Write %"),
    ],
)
def test_what_is_wrong_is_said(data: bytes, words: str) -> None:
    assert any(words in text for text in faults(data))


def _outcome(data: bytes) -> ReadTurbineMap | None:
    refused: tuple[Fault, ...] | None = None
    try:
        read = read_turbine_map(data, "hot.csv")
    except BuildFileError as error:
        refused = tuple(error.faults)
    if refused is not None:
        assert refused
        assert not [t for fault in refused if (t := trouble_with(fault))]
        return None
    assert not [t for note in read.notes if (t := trouble_with(note))]
    hash(read.points)
    return read


def test_damaged_files() -> None:
    readable = 0
    for number in range(600):
        chance = random.Random(number)
        data = bytearray(chance.choice((GOOD, GOOD.replace(b"; ", b","), GOOD.replace(b".", b","))))
        for _ in range(chance.choice((1, 1, 2, 4))):
            data = chance.choice(fuzz._CHANGES)(data or bytearray(b"\n"), chance)
        readable += _outcome(bytes(data)) is not None
    assert 20 < readable < 580  # both answers are given


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    _outcome(data)


def test_from_the_build_file_to_a_turbine(tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    (tmp_path / "maps" / "hot.csv").write_bytes(GOOD)
    file = tmp_path / "car.toml"
    file.write_bytes(BUILD)
    build = read_build_file(file)
    stated = turbine_of(build)
    assert stated.fit is not None
    assert stated.fit.flow_worst < 0.03
    assert stated.turbine.area == pytest.approx(stated.fit.turbine.area)
    assert stated.worse[0].area > stated.turbine.area
    assert float(stated.worse[1].efficiency(0.6)) < float(stated.turbine.efficiency(0.6))
    assert build.fingerprint != read_build(BUILD).fingerprint
    (tmp_path / "maps" / "hot.csv").write_bytes(GOOD.replace(b"0.0750", b"zero"))
    with pytest.raises(BuildFileError, match=r"hot\.csv, line 5, column 2"):
        read_build_file(file)


def test_sizes_stand_in_for_a_map_that_was_not_read() -> None:
    stated = turbine_of(read_build(BUILD))
    assert stated.fit is None
    assert "not read" in stated.warnings[0]


def test_manifold_of_a_build() -> None:
    plain = manifold_of(read_build(BUILD))
    assert plain.manifold.entries == 1
    assert plain.manifold.volume == pytest.approx(0.6 * 1.998e-3, rel=1e-3)
    tubes = manifold_of(read_build(BUILD + b'[manifold]\nkind = "tubular"\n'))
    assert tubes.manifold.volume > 2 * plain.manifold.volume
    assert "Fill it with water" in tubes.warnings[0]
    stated = manifold_of(read_build(BUILD + b'[manifold]\nkind = "tubular"\nvolume = "2 L"\n'))
    assert stated.manifold.volume == pytest.approx(2e-3)
    assert stated.warnings == ()

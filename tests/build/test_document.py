"""The build document: values, defaults, fingerprint."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.build.air import standard_pressure
from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.errors import UnknownField
from boostwright.readers.build_file import read_build
from tests.labels import check

SMALL = """\
[build]
name = "Small"
[goal]
boost = "0.5 bar"
[engine]
source = "handbook"
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
"""


def small(more: str = "") -> Build:
    return read_build((SMALL + more).encode())


def test_typed_access() -> None:
    build = small('pistons = "forged"\n')
    assert build.name == "Small"
    assert build.number("engine.bore") == pytest.approx(0.086)
    assert build.count("engine.cylinders") == 4
    assert build.words("engine.pistons") == "forged"
    assert build.flag("blow_off.fitted") is True
    assert "engine.bore" in build
    assert "engine.valve_mass" not in build
    assert "engine.nothing" not in build
    assert build.get("engine.valve_mass") is None
    assert build.is_stated("engine.bore")
    assert not build.is_stated("engine.rod_length")
    for wrong in (
        lambda: build.number("engine.pistons"),
        lambda: build.words("engine.bore"),
        lambda: build.flag("engine.bore"),
        lambda: build.numbers("engine.bore"),
        lambda: build.count("engine.bore"),
    ):
        with pytest.raises(TypeError):
            wrong()


def test_unknown_and_unstated() -> None:
    build = small()
    with pytest.raises(UnknownField, match=r"engine\.bore"):
        build["engine.borre"]
    with pytest.raises(UnknownField, match="not stated"):
        build["engine.valve_mass"]
    with pytest.raises(UnknownField):
        build.table("jionts")
    assert build.table("joints") == ()


def test_it_does_not_change() -> None:
    build = small()
    with pytest.raises(dataclasses.FrozenInstanceError):
        build.file = "x"  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        build["engine.bore"].value = 1  # type: ignore[misc]


@check(
    "limit",
    note="the class engine: 86 x 86 mm gives the valves, rod, runner and port of the class by proportion",
)
def test_defaults_follow_the_bore_and_stroke() -> None:
    build = small()
    assert build.displacement == pytest.approx(1.998e-3, rel=1e-3)
    assert build.number("engine.rod_length") == pytest.approx(0.143, rel=2e-3)
    assert build.number("engine.intake_valve_diameter") == pytest.approx(0.034, rel=2e-3)
    assert build.number("engine.exhaust_valve_diameter") == pytest.approx(0.029, rel=8e-3)
    assert build.number("engine.intake_lift") == pytest.approx(9.5e-3, rel=3e-3)
    assert build.number("engine.exhaust_lift") == pytest.approx(9.0e-3, rel=8e-3)
    assert math.pi / 4 * build.number("engine.runner_diameter") ** 2 == pytest.approx(1.15e-3, rel=2e-3)
    assert build.number("engine.port_volume") == pytest.approx(0.12e-3, rel=2e-3)
    assert math.degrees(build.number("engine.intake_opens")) == pytest.approx(340)
    assert math.degrees(build.number("engine.intake_closes")) == pytest.approx(596)
    assert math.degrees(build.number("engine.exhaust_opens")) == pytest.approx(124)
    assert math.degrees(build.number("engine.exhaust_closes")) == pytest.approx(378)
    assert build.count("injectors.count") == 4


def test_a_class_has_its_own_defaults() -> None:
    build = small('class = "two-valve"\n')
    assert build.count("engine.intake_valves") == 1
    assert build.number("engine.compression_ratio") == 9.0
    assert build.number("engine.intake_valve_diameter") == pytest.approx(0.042, rel=5e-3)
    assert build.number("engine.port_flow") == pytest.approx(0.905)


def test_what_is_assumed_is_listed() -> None:
    build = small()
    assumed = {value.path for value in build.assumed()}
    used = {value.path for value in build.assumed("check")}
    assert "engine.rod_length" in used
    assert assumed - used
    assert all("check" not in build.field(path).used_by for path in assumed - used)
    assert "engine.bore" not in assumed
    assert all(value.source is Source.ASSUMED and value.line is None for value in build.assumed())
    assert not used & {
        value.path for value in small('rod_length = "143 mm"\n').assumed() if value.path == "x"
    }
    assert "engine.rod_length" not in {v.path for v in small('rod_length = "143 mm"\n').assumed()}


def test_the_fingerprint_is_of_the_content() -> None:
    same = [
        SMALL,
        "# a remark\n\n" + SMALL.replace("=", "   =  "),
        SMALL.replace('"86 mm"', "'8.6 cm'"),
        SMALL.replace('"0.5 bar"', '"50 kPa"').replace("\n", "\r\n"),
        SMALL.replace('bore = "86 mm"\nstroke = "86 mm"', 'stroke = "86 mm"\nbore = "86 mm" # remark'),
    ]
    assert len({read_build(text.encode()).fingerprint for text in same}) == 1
    other = [
        SMALL,
        SMALL.replace("86 mm", "86.1 mm", 1),
        SMALL.replace("handbook", "measured"),
        SMALL.replace('"86 mm"', '"86 +/- 1 mm"', 1),
        SMALL + 'rod_length = "143 mm"\n',
        SMALL + '[[joints]]\nname = "a"\nfrom = "G 1/4 male"\nto = "G 1/4 female"\n',
        SMALL.replace("Small", "Other"),
    ]
    assert len({read_build(text.encode()).fingerprint for text in other}) == len(other)


@check(
    "reference library",
    id="A1",
    source="ambiance",
    note="ISO 2533 standard atmosphere; exponents are rounded to six digits, so 1e-4",
)
@pytest.mark.parametrize("altitude", [-400.0, 0.0, 120.0, 1000.0, 2300.0, 3000.0, 5000.0])
def test_standard_air(altitude: float) -> None:
    ambiance = pytest.importorskip("ambiance")
    assert standard_pressure(altitude) == pytest.approx(
        float(ambiance.Atmosphere(altitude).pressure[0]), rel=1e-4
    )


@check(
    "published",
    id="A1",
    source="iso2533",
    note="1000, 2000, 3000 m, from memory and as two libraries code it; 0.01 %",
)
@pytest.mark.parametrize(("altitude", "pressure"), [(1000.0, 89876.0), (2000.0, 79501.0), (3000.0, 70121.0)])
def test_standard_air_table(altitude: float, pressure: float) -> None:
    assert standard_pressure(altitude) == pytest.approx(pressure, rel=1e-4)


def test_the_barometer_follows_the_height() -> None:
    assert small('[place]\naltitude = "2300 m"\n').barometer == pytest.approx(standard_pressure(2300))
    assert small('[place]\naltitude = "2300 m"\nbarometer = "76 kPa"\n').barometer == pytest.approx(76e3)


@given(path=st.sampled_from(sorted(catalogue().fields)))
def test_every_field_answers(path: str) -> None:
    value = small().get(path)
    assert value is None or isinstance(value, StatedValue)

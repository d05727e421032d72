"""The air of a build: every day and the worst days."""

from __future__ import annotations

import pytest

from boostwright.build.document import Build
from boostwright.library import demo_path
from boostwright.physics.atmosphere import humid_air_density, standard_atmosphere
from boostwright.readers.build_file import read_build
from boostwright.systems.stated.place import Corner, ambient_of, corner_fuel, corners_of
from boostwright.systems.turbo import Ambient
from tests.labels import check

START = """
[build]
name = "x"
[goal]
boost = "0.5 bar"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
[fuel]
octane = "95 RON"
"""
MORE = """poorest_octane = "91 RON"
[place]
altitude = "100 m"
temperature = "25 degC"
humidity = "50 %"
[[corners]]
name = "pass"
altitude = "2000 m"
temperature = "20 degC"
[[corners]]
name = "frost"
temperature = "-15 degC"
barometer = "103 kPa"
[[corners]]
name = "coast"
temperature = "35 degC"
humidity = "80 %"
"""


def build(more: str = "") -> Build:
    return read_build((START + more).encode())


@pytest.mark.parametrize("name", ["sound", "planted", "highland"])
def test_the_demos_have_corners_of_their_own_and_the_poorest_fuel(name: str) -> None:
    read = read_build(demo_path(name).read_bytes())
    corners = corners_of(read)
    assert [c.stated for c in corners[:-1]] == [True] * len(read.table("corners"))
    assert [c.poorest_fuel for c in corners] == [False] * (len(corners) - 1) + [True]
    assert corners[-1].ambient.temperature == max(c.ambient.temperature for c in corners)
    assert len({c.name for c in corners}) == len(corners)


def test_without_corners_the_usual_ones_stand_in_about_the_place() -> None:
    read = build()
    air = ambient_of(read)
    low, high, cold, hot, poor = corners_of(read)
    assert low.ambient.pressure < air.pressure < high.ambient.pressure
    assert cold.ambient.temperature < air.temperature < hot.ambient.temperature
    assert low.ambient.temperature == high.ambient.temperature == air.temperature
    assert cold.ambient.pressure == hot.ambient.pressure == air.pressure
    assert poor.ambient == hot.ambient
    assert not any(c.stated for c in (low, high, cold, hot, poor))
    assert "no poorest fuel" in poor.why


def test_stated_corners_are_filled_from_the_place() -> None:
    read = build(MORE)
    passed, frost, coast, poor = corners_of(read)
    assert passed.ambient.pressure == pytest.approx(float(standard_atmosphere(2000.0).pressure), rel=1e-5)
    assert frost.ambient.pressure == 103e3
    assert coast.ambient.pressure == ambient_of(read).pressure
    assert coast.humidity == 0.8
    assert frost.humidity == 1.0  # cannot hold the water of the ordinary day
    assert passed.humidity == pytest.approx(0.5 * 3169.9 / 2339.3, rel=2e-3)  # vapour pressures of water
    assert poor.ambient == coast.ambient
    assert poor.poorest_fuel


def test_the_poorest_fuel_is_in_the_tank_of_its_corner_only() -> None:
    read = build(MORE)
    *usual, poor = corners_of(read)
    assert {corner_fuel(read, c).ron for c in usual} == {95.0}
    fuel = corner_fuel(read, poor)
    assert fuel.ron == 91.0
    assert fuel.mon < corner_fuel(read, usual[0]).mon
    assert corner_fuel(build(), corners_of(build())[-1]).ron == 93.0


@check(
    "published",
    id="A5",
    source="wagner2002",
    note="2339 and 5629 Pa at 20 and 35 degC, from memory; share of vapour at 101.325 kPa; 0.3 %",
)
@pytest.mark.parametrize(("celsius", "humidity", "share"), [(20.0, 0.5, 0.01154), (35.0, 0.8, 0.04444)])
def test_vapour_displaces_dry_air(celsius: float, humidity: float, share: float) -> None:
    corner = Corner("x", Ambient(101325.0, celsius + 273.15), humidity, False, "")
    assert corner.vapour_share == pytest.approx(share, rel=3e-3)
    assert corner.dry_share == pytest.approx(1 - share, abs=2e-4)


@check(
    "limit",
    id="A6",
    note="humid gas constant: sum of partial densities, and R(1 + 0.608 q), q the mass share of vapour; "
    "1e-4, rounding of 0.608",
)
def test_humid_gas_constant() -> None:
    corner = Corner("x", Ambient(98e3, 308.15), 0.8, False, "")
    vapour = 1.0 - corner.dry_mass_share
    assert corner.gas_constant == pytest.approx(287.05 * (1 + 0.608 * vapour), rel=1e-4)
    assert corner.density == pytest.approx(float(humid_air_density(98e3, 308.15, 0.8)), rel=1e-9)
    dry = corner.dry_share * 98e3 / (287.05 * 308.15)
    assert corner.density * corner.dry_mass_share == pytest.approx(dry, rel=1e-9)

"""What a build states of its charge air path and exhaust, and what stands in for the rest."""

from __future__ import annotations

import math
import random
import subprocess
import sys

import numpy as np
import pytest

from boostwright.build.catalogue import FieldType, catalogue
from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.library import demo_builds, demo_path
from boostwright.readers.build_file import read_build
from boostwright.systems.charge_air.cooler import CoolingAir
from boostwright.systems.charge_air.passage import Origin
from boostwright.systems.stated.charge_air import charge_air_of
from boostwright.systems.stated.exhaust import exhaust_of
from boostwright.systems.stated.full_load import full_load_of
from boostwright.systems.stated.road import road_speed_of
from tests.labels import check

START = """
[build]
name = "x"
[goal]
boost = "0.8 bar"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
speed_limit = "6500 rpm"
[fuel]
octane = "95 RON"
"""
CORE = """
[cooler]
width = "500 mm"
height = "200 mm"
depth = "65 mm"
"""


def build(more: str = "") -> Build:
    return read_build((START + more).encode())


@pytest.mark.parametrize("name", demo_builds())
def test_the_demos_have_whole_paths(name: str) -> None:
    read = read_build(demo_path(name).read_bytes())
    air, pipe = charge_air_of(read), exhaust_of(read)
    flow = np.linspace(0.01, 0.2, 20)
    for passage in (air.inlet, air.cold, air.throttle, air.charge_pipes, pipe.passage):
        assert passage.parts
        assert all(0.0 < part.spread < 2.0 for part in passage.parts)
        assert np.all(np.diff(passage.at(flow, 1.5)) > 0)
    assert air.cooler is not None
    for kind in CoolingAir:
        effectiveness = air.cooler.effectiveness_at(flow, kind)
        assert np.all((effectiveness > 0) & (effectiveness < 1))
        assert np.all(air.cooler.to_air_at(flow, kind) > 0)
    assert 2e-3 < air.volume < 20e-3
    assert 0 < air.volume_sd < air.volume
    assert 0 < air.plenum_volume_sd < air.plenum_volume


def test_a_reading_wins_over_sizes_and_sizes_over_what_is_usual() -> None:
    for usual, sizes, reading, passage in (
        ("", '[pipes]\nbore = "54 mm"', '[pipes]\nbore = "54 mm"\nloss = "3 kPa"', "cold"),
        (
            "",
            '[pipes]\ninlet_bore = "60 mm"',
            '[pipes]\ninlet_bore = "60 mm"\nfilter_loss = "3 kPa"',
            "inlet",
        ),
    ):
        found = [getattr(charge_air_of(build(text)), passage) for text in (usual, sizes, reading)]
        origins = [{part.origin for part in one.parts} for one in found]
        assert origins[0] == {Origin.USUAL}
        assert Origin.GEOMETRY in origins[1]
        assert origins[2] == {Origin.READING}
    cores = (build(), build(CORE), build(CORE + 'pressure_loss = "5 kPa"\neffectiveness = "70 %"'))
    coolers = [charge_air_of(one).cooler for one in cores]
    order = [Origin.USUAL, Origin.GEOMETRY, Origin.READING]
    assert [c.origin for c in coolers if c] == order
    assert [c.loss.parts[0].origin for c in coolers if c] == order
    pipes = ("", '[exhaust]\nbore = "60 mm"', '[exhaust]\nbore = "60 mm"\nback_pressure = "20 kPa"')
    assert [exhaust_of(build(one)).passage.origin for one in pipes] == order


@check(
    "limit",
    note="a loss read at peak flow comes back at the build's own greatest flow and the air it was read in",
)
def test_a_reading_comes_back_where_it_was_read() -> None:
    read = build('[pipes]\nloss = "3 kPa"\nfilter_loss = "2.5 kPa"\n[exhaust]\nback_pressure = "20 kPa"')
    load, air = full_load_of(read), charge_air_of(read)
    cold = load.plenum_pressure / (287.05 * load.plenum_temperature)
    hot = load.plenum_pressure / (287.05 * load.outlet_temperature)
    both = float(air.hot.at(load.flow, hot)) + float(air.cold.at(load.flow, cold))
    assert both == pytest.approx(3e3, rel=1e-9)
    outside = load.ambient_pressure / (287.05 * load.ambient_temperature)
    assert float(air.inlet.at(load.flow, outside)) == pytest.approx(2.5e3, rel=1e-9)
    loss = float(exhaust_of(read).passage.from_outlet(1.08 * load.flow, load.ambient_pressure, 950.0, 288.0))
    assert loss == pytest.approx(20e3, rel=1e-6)


@check(
    "common practice",
    id="E8",
    note="6.5 litres, 0.15 kg/s, moving: effectiveness 0.6 to 0.8 at power, higher at less flow; a "
    "ducted core gets more air, a top-mounted one less; standing air is far worse",
)
def test_a_core_by_its_sizes() -> None:
    def at_power(more: str = "", air: CoolingAir = CoolingAir.MOVING) -> float:
        cooler = charge_air_of(build(CORE + more)).cooler
        assert cooler is not None
        return float(cooler.effectiveness_at(0.15, air))

    plain = at_power()
    assert 0.6 < plain < 0.8
    assert at_power("ducted = true") > plain > at_power('position = "top"')
    assert at_power('construction = "tube-fin"') < plain
    assert at_power(air=CoolingAir.STANDING) < at_power(air=CoolingAir.FAN) < plain
    cooler = charge_air_of(build(CORE)).cooler
    assert cooler is not None
    assert np.all(np.diff(cooler.effectiveness_at(np.linspace(0.04, 0.2, 9))) < 0)
    assert 0.03 < cooler.sd < 0.12
    assert cooler.volume == pytest.approx(6.5e-3)
    assert cooler.heat_capacity == pytest.approx(900 * 4.0, rel=0.01)


def test_a_stated_effectiveness_is_met_at_peak_flow_and_shapes_the_rest() -> None:
    read = build(CORE + 'effectiveness = "60 %"')
    cooler, load = charge_air_of(read).cooler, full_load_of(read)
    assert cooler is not None
    assert float(cooler.effectiveness_at(load.flow)) == pytest.approx(0.6, abs=1e-3)
    assert float(cooler.effectiveness_at(load.flow / 3)) > 0.65
    assert cooler.sd == pytest.approx(read["cooler.effectiveness"].sd)


def test_no_cooler_and_a_water_cooled_one() -> None:
    none = charge_air_of(build('[cooler]\ntype = "none"'))
    assert none.cooler is None
    assert none.hot.parts == ()
    assert none.cold.parts
    water = charge_air_of(build('[cooler]\ntype = "water"\nwater_volume = "5 L"')).cooler
    dry = charge_air_of(build()).cooler
    assert water is not None
    assert dry is not None
    assert water.water
    assert 0.5 < float(water.effectiveness_at(0.12)) < 0.8  # against the outside air, not the water
    assert water.heat_capacity > 4 * dry.heat_capacity


@check(
    "common practice",
    id="F7",
    note="back pressure at 0.15 kg/s: 63.5 mm with straight silencers 15 to 25 kPa, 76 mm 6 to 12 kPa,"
    " a production exhaust with chambered ones 35 to 60 kPa",
)
@pytest.mark.parametrize(
    ("bore", "kind", "low", "high"),
    [(63.5, "straight", 15e3, 25e3), (76.0, "straight", 6e3, 12e3), (56.0, "chambered", 35e3, 60e3)],
)
def test_exhaust_by_its_bore(bore: float, kind: str, low: float, high: float) -> None:
    text = f'[exhaust]\nbore = "{bore} mm"\nsilencer_kind = "{kind}"\nlength = "4 m"'
    loss = float(exhaust_of(build(text)).passage.from_outlet(0.15, 100e3, 950.0, 288.0))
    assert low < loss < high


def test_the_catalyst_and_a_narrow_down_pipe_cost_their_share() -> None:
    def loss(more: str) -> float:
        return float(exhaust_of(build(f'[exhaust]\nbore = "63 mm"\n{more}')).at(0.15, 0.37))

    plain = loss("")
    assert loss("catalyst = false") < plain - 2e3
    assert loss('downpipe_bore = "50 mm"') > plain
    assert loss("silencers = 0") < plain
    assert loss('length = "5.5 m"') > plain


@check(
    "common practice",
    id="F8",
    note="54 mm with five bends costs some 1.5 kPa at 0.15 kg/s and 1.8 bar, cooler not counted, "
    "throttle 0.8 kPa; within a factor of two, as bends differ",
)
def test_charge_pipes_by_their_bore() -> None:
    air = charge_air_of(
        build('[pipes]\nbore = "54 mm"\nlength = "2 m"\nbends = 5\n[throttle]\nbore = "52 mm"')
    )
    density = 180e3 / (287.05 * 328.0)
    pipes = float(air.hot.and_then(air.cold, 1.1).at(0.15, density))
    assert 0.75e3 < pipes < 3.0e3
    assert 0.5e3 < float(air.throttle.at(0.15, density)) < 1.3e3
    wider = charge_air_of(
        build('[pipes]\nbore = "63 mm"\nlength = "2 m"\nbends = 5\n[throttle]\nbore = "52 mm"')
    )
    assert float(wider.cold.at(0.15, density)) < 0.6 * float(air.cold.at(0.15, density))


def test_volume_counts_pipe_and_core() -> None:
    read = build(CORE + '[pipes]\nbore = "54 mm"\nlength = "2.4 m"\nplenum_volume = "1.7 L"')
    air = charge_air_of(read)
    pipe = math.pi / 4 * 0.054**2 * 2.4
    assert pipe + 2e-3 < air.volume < pipe + 6e-3
    assert air.plenum_volume == pytest.approx(1.7e-3)


def test_road_speed_in_the_gear_of_a_pull() -> None:
    gears = '[car]\ngears = "3.5 2.0 1.3 1.0 0.8"\nfinal_drive = "4.0"\ntyre = "195/60 R14"\n'
    third, second = road_speed_of(build(gears)), road_speed_of(build(gears + "test_gear = 2"))
    radius = 0.97 * (0.195 * 0.60 + 14 * 0.0254 / 2)
    assert third == pytest.approx(radius / 5.2)
    assert second == pytest.approx(third * 1.3 / 2.0)
    assert road_speed_of(build(gears + "test_gear = 8")) == pytest.approx(third * 1.3 / 0.8)
    assert road_speed_of(build()) == pytest.approx(third, rel=0.15)


def anything(seed: int) -> Build:
    """A build with values anywhere in their ranges, ends included."""
    rng, values = random.Random(seed), dict(build().values)
    for known in catalogue().fields.values():
        if known.section not in ("cooler", "pipes", "exhaust", "throttle", "place") or rng.random() < 0.45:
            continue
        value: object
        sd = 0.0
        if known.type is FieldType.CHOICE:
            value = rng.choice(list(known.choices))
        elif known.type is FieldType.FLAG:
            value = rng.random() < 0.5
        elif known.type is FieldType.QUANTITY and not known.many:
            assert known.low is not None
            assert known.high is not None
            value = known.low + (known.high - known.low) * rng.choice([0.0, 1.0, rng.random()])
            value = round(value) if known.whole else value
            sd = known.spread_for(rng.choice([Source.MEASURED, Source.HANDBOOK])).at(value)
        else:
            continue
        values[known.path] = StatedValue(known.path, value, sd, Source.MEASURED, 1, "", known.kind)
    return Build(values)


@pytest.mark.parametrize("seed", range(40))
def test_whatever_a_file_may_state_gives_whole_paths(seed: int) -> None:
    read = anything(seed)
    air, pipe = charge_air_of(read), exhaust_of(read)
    flow = np.geomspace(1e-3, 0.6, 20)
    for passage in (air.inlet, air.charge_pipes, pipe.passage):
        assert np.all(np.isfinite(passage.sd_at(flow, 1.5)))
        assert np.all(np.diff(passage.at(flow, 1.5)) > 0)
    for kind in CoolingAir if air.cooler is not None else ():
        assert air.cooler is not None
        for cooler in (air.cooler, air.cooler.worse(2.0), air.cooler.worse(-2.0), air.cooler.times(3.0)):
            effectiveness = cooler.effectiveness_at(flow, kind)
            assert np.all((effectiveness >= 0.0) & (effectiveness < 1.0))
            assert np.all(cooler.to_air_at(flow, kind) >= 0.0)


def test_the_turbo_side_takes_them_in_the_place_of_its_own() -> None:
    from boostwright.physics.turbine import ExhaustGas
    from boostwright.systems.turbo import Ambient, TurboParts, turbo_point

    read = build(CORE + '[pipes]\nbore = "54 mm"\n[exhaust]\nbore = "60 mm"')
    air, pipe = charge_air_of(read), exhaust_of(read)

    def point(loss: float) -> object:
        parts = TurboParts.from_sizes(
            (0.0445, 0.059), (0.050, 0.044, 0.01524), inlet=air.inlet.scaled(loss),
            charge_pipes=air.charge_pipes.scaled(loss), exhaust=pipe, cooler=air.cooler,
        )  # fmt: skip
        flow = np.array([0.08, 0.12])
        gas = ExhaustGas(288.5, 1190.0, 0.0, 1100.0)
        return turbo_point(parts, Ambient(1e5, 298.15), flow, flow / 12.5, 170e3, 1120.0, gas)

    usual, lossy = point(1.0), point(2.0)
    assert np.all(usual.outlet_pressure > 170e3)  # type: ignore[attr-defined]
    assert np.all(lossy.outlet_pressure > usual.outlet_pressure)  # type: ignore[attr-defined]
    assert np.all(lossy.inlet_pressure < usual.inlet_pressure)  # type: ignore[attr-defined]
    assert np.all(np.diff(usual.cooler_effectiveness) < 0)  # type: ignore[attr-defined]


def test_building_the_path_imports_no_heavy_library() -> None:
    code = (
        "import sys\nfrom tests.systems.test_charge_air_stated import build, CORE\n"
        "from boostwright.systems.stated.charge_air import charge_air_of\ncharge_air_of(build(CORE))\n"
        "assert 'ht' not in sys.modules and 'scipy.integrate' not in sys.modules, sorted(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)

"""The tables of cables, joints, covers and fuses: against their standards, and against each other."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright import sources
from boostwright.library import cables, fuses
from boostwright.physics import cable, cable_heat
from tests.labels import check

MM2 = 1e-6
MILLI = 1e-3


@check(
    "published",
    id="P1",
    source="iec60228",
    note="class 5, plain copper, 20 degC, read in pages that reprint the table; exact",
)
@pytest.mark.parametrize(
    ("section", "resistance"),
    [(10, 1.91), (16, 1.21), (25, 0.780), (35, 0.554), (50, 0.386), (70, 0.272), (95, 0.206), (120, 0.161)],
)
def test_class_5(section: float, resistance: float) -> None:
    assert cables.cable(section * MM2).resistance_20 == pytest.approx(resistance * MILLI, rel=1e-12)


@check(
    "published",
    id="P2",
    source="iso6722",
    note="vehicle cable, from memory, not found in print; exact as remembered",
)
@pytest.mark.parametrize(
    ("section", "resistance"), [(16, 1.16), (25, 0.743), (35, 0.527), (50, 0.368), (70, 0.259), (95, 0.196)]
)
def test_vehicle_cable(section: float, resistance: float) -> None:
    row = cables.cable(section * MM2, "vehicle")
    assert row.resistance_20 == pytest.approx(resistance * MILLI, rel=1e-12)
    assert "from memory" in row.note


@check(
    "limit",
    id="P2",
    note="1.05 to 1.08 times solid copper from 16 to 95 mm2, half a digit of 0.01: the column hangs together",
)
@pytest.mark.parametrize("section", [16, 25, 35, 50, 70, 95])
def test_vehicle_cable_is_near_solid_copper(section: float) -> None:
    row = cables.cable(section * MM2, "vehicle")
    assert 1.045 <= row.resistance_20 / float(cable.ideal_resistance(row.section)) <= 1.085


@check(
    "limit", id="P3", note="no standard may ask for less resistance than solid copper, nor for 1.2 times it"
)
@pytest.mark.parametrize("table", cables.CABLE_TABLES)
def test_every_size_is_copper(table: str) -> None:
    rows = list(cables.cables(table).values())
    assert len(rows) == 15
    ratio = np.array([r.resistance_20 / float(cable.ideal_resistance(r.section)) for r in rows])
    assert np.all(ratio > 1.0)
    assert np.all(ratio < 1.2)
    assert np.all(np.diff([r.section for r in rows]) > 0)
    assert np.all(np.diff([r.resistance_20 for r in rows]) < 0)
    assert np.all(np.diff([r.core for r in rows]) > 0)
    assert np.all(np.diff([r.outer for r in rows]) > 0)


@check("limit", note="strands fill 50 to 85 % of the core's circle; a wall is 0.35 to 2 mm thick")
@pytest.mark.parametrize("table", cables.CABLE_TABLES)
def test_widths_fit_the_copper(table: str) -> None:
    for row in cables.cables(table).values():
        fill = float(cable.copper_section(row.resistance_20)) / (np.pi / 4 * row.core**2)
        assert 0.5 < fill < 0.85
        assert 0.35e-3 < (row.outer - row.core) / 2 < 2.0e-3


@check(
    "common practice", note="single vehicle cables bear 10 to 40 A (1 to 2.5 mm2) and 200 to 350 A (50 mm2)"
)
def test_continuous_currents_are_those_of_the_trade() -> None:
    def bears(section: float) -> float:
        return float(
            cable_heat.continuous_current(cables.heat_cable(section * MM2, "pvc_105"), 373.15, 303.15)
        )

    assert 10.0 < bears(1.0) < bears(2.5) < 40.0
    assert 200.0 < bears(50.0) < 350.0


def test_every_row_says_where_it_is_from() -> None:
    rows = [
        *(row for table in cables.CABLE_TABLES for row in cables.cables(table).values()),
        *cables.insulations().values(),
        *cables.joints().values(),
        *cables.lyings().values(),
        *fuses.fuse_types().values(),
        *(fuses.fuse_practice(n) for n in ("lasting", "temperature_slope", "rated_temperature")),
    ]
    for row in rows:
        assert row.source == "common practice" or row.source in sources.SOURCES
        assert row.note
    for joint in cables.joints().values():
        assert 0.0 < joint.sd < joint.resistance < 0.1
    for cover in cables.insulations().values():
        assert 330.0 < cover.continuous < cover.short_circuit < 600.0
    for lying in cables.lyings().values():
        assert 0.0 < lying.open_share <= 1.0
    for kind in fuses.fuse_types().values():
        assert list(kind.ratings) == sorted(kind.ratings)
        assert np.all(np.diff(kind.gates.ratio) > 0)
        assert 0 < kind.gates.breaking_current < np.inf


def test_look_up() -> None:
    assert cables.cable(50.2 * MM2).section == 50e-6
    assert cables.next_section(11 * MM2) == 16e-6
    assert cables.next_section(16 * MM2) == 16e-6
    assert cables.next_section(121 * MM2) is None
    assert cables.section_for(0.386 * MILLI) == 50e-6
    assert cables.section_for(0.385 * MILLI) == 70e-6
    assert cables.section_for(0.385 * MILLI, "vehicle") == 50e-6
    assert cables.section_for(0.1 * MILLI) is None
    with pytest.raises(KeyError, match="there are"):
        cables.cable(45 * MM2)
    with pytest.raises(KeyError, match="class_5, vehicle"):
        cables.cables("house")
    lug = cables.joint("crimped_lug")
    assert isinstance(lug, cable.Joint)
    assert lug == (5e-5, 3e-5)


@check("common practice", note="shares for 1, 100, 1000, 10000 pulses; straight over the logarithm between")
def test_share_of_pulses() -> None:
    assert [fuses.pulse_share(n) for n in (1, 100, 1000, 10_000)] == pytest.approx([1.0, 0.5, 0.4, 0.3])
    assert fuses.pulse_share(10) == pytest.approx(0.75)
    assert fuses.pulse_share(0) == 1.0
    assert fuses.pulse_share(1e9) == pytest.approx(0.2)

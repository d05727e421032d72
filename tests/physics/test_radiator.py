"""Radiator: limits of its conductance, and the balance of a covered one."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.cooler import face_velocity
from boostwright.physics.radiator import CP_AIR, Face, covered_radiator, face_speed, radiator_conductance
from tests.labels import check

FACE = Face(0.19, 6700.0, 5.8, 0.55)


@check("limit", note="endless conductance: all the air leaves as warm as the coolant enters, UA = m cp")
def test_no_radiator_sheds_more_than_its_air_can_take() -> None:
    endless = radiator_conductance(FACE._replace(conductance=1e7), 4.0, 1.2, 1e9)
    assert endless == pytest.approx(4.0 * 1.2 * 0.19 * CP_AIR, rel=1e-6)
    real = radiator_conductance(FACE, 4.0, 1.2, 6e3)
    assert 0.4 * endless < real < 0.9 * endless


@check("limit", note="little conductance: UA is k A, whatever the flows; first order in NTU, so 1 %")
def test_a_poor_core_sheds_by_its_conductance_alone() -> None:
    poor = FACE._replace(conductance=40.0, exponent=0.0)
    assert radiator_conductance(poor, 5.0, 1.16, 6e3) == pytest.approx(40.0 * 0.19, rel=1e-2)


def test_more_air_more_coolant_and_more_face_shed_more() -> None:
    base = radiator_conductance(FACE, 4.0, 1.16, 5e3)
    assert radiator_conductance(FACE, 5.0, 1.16, 5e3) > base
    assert radiator_conductance(FACE, 4.0, 1.16, 8e3) > base
    assert radiator_conductance(FACE._replace(area=0.25), 4.0, 1.16, 5e3) > base
    assert radiator_conductance(FACE, 4.0, 0.95, 5e3) < base  # thin air


@check("limit", note="standing it is the fan's speed, without a fan the ram's; pressures add: exact")
def test_ram_and_fan() -> None:
    assert face_speed(0.0, 2.5, 15.0, 0.6) == pytest.approx(2.5)
    ram = face_velocity(30.0, 15.0, 0.6, 0.0)
    assert face_speed(30.0, 0.0, 15.0, 0.6) == pytest.approx(ram)
    assert face_speed(30.0, 2.5, 15.0, 0.6) == pytest.approx(np.hypot(ram, 2.5))


@check("common practice", note="face speed of a radiator behind a grille: 0.15 to 0.25 of the road speed")
def test_share_of_the_road_speed() -> None:
    assert 0.15 < face_speed(30.0, 0.0, 15.0, 0.6) / 30.0 < 0.25


@check(
    "conservation", note="heat of both parts of the face, counted apart, is what the whole is said to shed"
)
def test_a_covered_radiator_is_its_two_parts() -> None:
    share, free, slow, rho, C, shed, over = 0.45, 6.0, 4.2, 1.14, 6e3, 7e3, 65.0
    whole = covered_radiator(FACE, share, free, slow, rho, C, shed)
    bare = radiator_conductance(FACE._replace(area=0.19 * 0.55), free, rho, C * 0.55)
    behind = radiator_conductance(FACE._replace(area=0.19 * 0.45), slow, rho, C * 0.45)
    warmer = shed / (slow * rho * 0.19 * 0.45 * CP_AIR)
    apart = bare * over + behind * (over - warmer)
    assert whole.conductance * (over - whole.air_warmer) == pytest.approx(apart, rel=1e-6)
    assert whole.air_flow == pytest.approx(rho * 0.19 * (0.55 * free + 0.45 * slow), rel=1e-6)


@check("limit", note="nothing in front: the plain radiator in cold air")
def test_an_uncovered_radiator_is_the_plain_one() -> None:
    plain = covered_radiator(FACE, 0.0, 6.0, 4.0, 1.14, 6e3, 7e3)
    assert plain.conductance == pytest.approx(radiator_conductance(FACE, 6.0, 1.14, 6e3), rel=1e-6)
    assert plain.air_warmer == 0.0

"""Radiation: grey plates, shields, view factors, a part beside a hot one."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize

from boostwright.errors import OutOfRange
from boostwright.physics import radiation as rad
from tests.labels import check

SIGMA = 5.670374419e-8


@check(
    "published", id="U3", source="incropera2007", note="sigma of CODATA at 1000 K, from memory; all digits"
)
def test_blackbody() -> None:
    assert float(rad.blackbody_emission(1000.0)) == pytest.approx(56703.7, abs=0.05)


@check(
    "published",
    id="U1",
    source="incropera2007",
    note="form of ch. 13, from memory; example worked apart, 0.05 %",
)
def test_plates_and_shield() -> None:
    bare = float(rad.plate_exchange(1000.0, 400.0, 0.8, 0.9))
    shielded = float(rad.plate_exchange(1000.0, 400.0, 0.8, 0.9, 1, 0.1))
    assert bare == pytest.approx(40593, rel=5e-4)
    assert shielded == pytest.approx(2714, rel=5e-4)
    assert shielded / bare == pytest.approx(0.06685, rel=5e-4)


@check("limit", id="U1", note="N shields of the plates' own emissivity leave 1/(N + 1); round-off")
@pytest.mark.parametrize("shields", [1, 2, 5])
@pytest.mark.parametrize("e", [0.1, 0.8, 1.0])
def test_equal_emissivities(shields: int, e: float) -> None:
    bare = float(rad.plate_exchange(900.0, 350.0, e, e))
    found = float(rad.plate_exchange(900.0, 350.0, e, e, shields, e))
    assert found == pytest.approx(bare / (shields + 1))


@check("conservation", id="U1", note="each gap passes the same heat as the whole; round-off")
def test_shields_pass_one_heat() -> None:
    whole = float(rad.plate_exchange(1100.0, 350.0, 0.85, 0.9, 3, 0.15))
    T = [1100.0, *rad.shield_temperatures(1100.0, 350.0, 0.85, 0.9, 3, 0.15), 350.0]
    e = [0.85, 0.15, 0.15, 0.15, 0.9]
    for i in range(4):
        assert float(rad.plate_exchange(T[i], T[i + 1], e[i], e[i + 1])) == pytest.approx(whole)
    assert np.all(np.diff(T) < 0)
    assert rad.shield_temperatures(1100.0, 350.0, 0.85, 0.9, 0, 0.15).shape == (0,)


@check(
    "limit", note="large plates F = 1: per area the plates' form; small body in a large room: e A sigma dT4"
)
def test_surface_exchange_limits() -> None:
    plates = float(rad.surface_exchange(1000.0, 400.0, 0.8, 0.9, 2.0, 2.0, 1.0))
    assert plates == pytest.approx(2 * float(rad.plate_exchange(1000.0, 400.0, 0.8, 0.9)))
    room = float(rad.surface_exchange(500.0, 300.0, 0.7, 0.5, 0.01, 1e6, 1.0))
    assert room == pytest.approx(0.7 * 0.01 * SIGMA * (500.0**4 - 300.0**4), rel=1e-6)


@pytest.mark.parametrize("e", [0.0, -0.1, 1.1])
def test_impossible_emissivity(e: float) -> None:
    with pytest.raises(OutOfRange, match="emissivity"):
        rad.plate_exchange(900.0, 300.0, e, 0.9)


# --------------------------------------------------------------------------------------- view factors


@check("published", id="U2", source="howell2010", note="C-11 squares, C-41 discs, from memory; 1e-5")
def test_printed_view_factors() -> None:
    assert float(rad.view_factor_parallel_rectangles(1, 1, 1)) == pytest.approx(0.199825, abs=1e-5)
    assert float(rad.view_factor_parallel_rectangles(1, 1, 0.5)) == pytest.approx(0.415253, abs=1e-5)
    assert float(rad.view_factor_coaxial_discs(1, 1, 1)) == pytest.approx(0.381966, abs=1e-5)


@check("limit", id="U2", note="double area integral of cos cos/(pi s^2) by 24-point Gauss; 1e-6")
@pytest.mark.parametrize(("a", "b", "c"), [(1.0, 1.0, 1.0), (0.3, 0.2, 0.25)])
def test_rectangles_against_the_integral(a: float, b: float, c: float) -> None:
    x, w = np.polynomial.legendre.leggauss(24)
    x, w = (x + 1) / 2, w / 2
    dx = a * (x[:, None] - x[None, :])
    dy = b * (x[:, None] - x[None, :])
    s2 = dx[:, :, None, None] ** 2 + dy[None, None] ** 2 + c**2
    found = np.einsum("ijkl,i,j,k,l", c**2 / (np.pi * s2**2), w, w, w, w) * a * b
    assert float(rad.view_factor_parallel_rectangles(a, b, c)) == pytest.approx(found, rel=1e-6)


@check("limit", id="U2", note="A1 F12 = A2 F21, and a small disc 1 is the small target; round-off, 1e-6")
def test_discs_are_reciprocal() -> None:
    there = float(rad.view_factor_coaxial_discs(0.03, 0.08, 0.05)) * 0.03**2
    back = float(rad.view_factor_coaxial_discs(0.08, 0.03, 0.05)) * 0.08**2
    assert there == pytest.approx(back)
    small = float(rad.view_factor_coaxial_discs(1e-5, 0.08, 0.05))
    assert small == pytest.approx(float(rad.view_factor_to_disc(0.05, 0.08)), rel=1e-6)


def seen(h: float, inside: Callable[[float, float], bool]) -> float:
    """View factor as the share of cosine-weighted directions that hit, by the midpoint rule on a fine grid.

    A direction at the disc point (x, y), x^2 + y^2 < 1, has the weight of its area: the unit-sphere method.
    """
    n = 1200
    grid = (np.arange(n) + 0.5) / n * 2 - 1
    x, y = np.meshgrid(grid, grid)
    hit = np.array(inside(x, y)) & (x**2 + y**2 < 1)
    return float(hit.sum() * (2 / n) ** 2 / np.pi)


@check("limit", note="share of cosine-weighted rays that hit, 1.4 million of them; 0.002 of the edge's grain")
@pytest.mark.parametrize("h", [1.05, 1.5, 3.0])
def test_sphere_and_disc_by_rays(h: float) -> None:
    def sphere(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return x**2 + y**2 <= 1 / h**2  # sine of the angle off the middle

    def disc(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z2 = np.maximum(1 - x**2 - y**2, 1e-12)
        return h**2 * (x**2 + y**2) <= z2

    assert float(rad.view_factor_to_sphere(h, 1.0)) == pytest.approx(seen(h, sphere), abs=2e-3)
    assert float(rad.view_factor_to_disc(h, 1.0)) == pytest.approx(seen(h, disc), abs=2e-3)


@check("limit", note="the same rays against a cylinder along y of two unequal lengths, radius 1; 0.002")
@pytest.mark.parametrize(
    ("h", "one", "other"), [(1.2, 2.0, 0.5), (2.0, 3.0, 3.0), (3.0, 1.0, 0.0), (1.05, 1e3, 1e3)]
)
def test_cylinder_by_rays(h: float, one: float, other: float) -> None:
    def cylinder(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = np.sqrt(np.maximum(1 - x**2 - y**2, 0.0))
        a = x**2 + z**2
        root = (h * z) ** 2 - a * (h**2 - 1)  # ray t (x, y, z), circle about (0, h)
        t = (h * z - np.sqrt(np.maximum(root, 0.0))) / np.maximum(a, 1e-300)
        reach = t * y
        return (root >= 0) & (reach <= one) & (reach >= -other)

    assert float(rad.view_factor_to_cylinder(h, 1.0, one, other)) == pytest.approx(
        seen(h, cylinder), abs=2e-3
    )


@check("limit", note="area integral over the seen part of the cylinder by quadrature; 1e-7")
@pytest.mark.parametrize(("h", "length"), [(1.3, 0.7), (2.5, 4.0)])
def test_cylinder_against_its_integral(h: float, length: float) -> None:
    def element(y: float, phi: float) -> float:
        # point on the cylinder, phi from the line to the target; target at the origin looks along z
        x, z = np.sin(phi), h - np.cos(phi)
        s2 = x**2 + y**2 + z**2
        toward = np.cos(phi) * z - np.sin(phi) * x  # normal of the cylinder on the way back to the target
        return z * toward / (np.pi * s2**2)

    edge = np.arccos(1 / h)
    found, _ = integrate.dblquad(element, -edge, edge, 0, length, epsabs=1e-10)
    assert float(rad.view_factor_to_cylinder(h, 1.0, length)) == pytest.approx(found, rel=1e-7)


@check("limit", note="endless cylinder r/h; no length 0; touching 1; 1e-5 at 1000 radii")
@given(st.floats(1.001, 20.0))
def test_cylinder_limits(h: float) -> None:
    endless = float(rad.view_factor_to_long_cylinder(h, 1.0))
    assert endless == pytest.approx(1 / h)
    assert float(rad.view_factor_to_cylinder(h, 1.0, 5e3, 5e3)) == pytest.approx(endless, rel=1e-5)
    assert float(rad.view_factor_to_cylinder(h, 1.0, 0.0, 0.0)) == 0.0
    assert 0 < float(rad.view_factor_to_cylinder(h, 1.0, 2.0, 2.0)) < endless


def test_view_factors_fall_with_distance_and_stay_shares() -> None:
    h = np.linspace(1.0, 12.0, 200)
    for found in (
        rad.view_factor_to_sphere(h, 1.0),
        rad.view_factor_to_disc(h, 1.0),
        rad.view_factor_to_long_cylinder(h, 1.0),
        rad.view_factor_to_cylinder(h, 1.0, 2.0, 1.0),
    ):
        assert np.all(np.diff(found) < 0)
        assert np.all((found > 0) & (found <= 1 + 1e-12))


def test_a_target_inside_is_refused() -> None:
    with pytest.raises(OutOfRange, match="inside it"):
        rad.view_factor_to_sphere(0.02, 0.05)
    with pytest.raises(OutOfRange, match="inside it"):
        rad.view_factor_to_cylinder(0.02, 0.05, 0.1)


# ----------------------------------------------------------------------------------- a part near a hot one

HOSE = rad.Exposure(
    T_source=1000.0, e_source=0.85, T_air=350.0, T_surroundings=360.0, coefficient=15.0, surface_ratio=np.pi
)


@check("conservation", note="heat in from source and surroundings is heat out, counted apart; 1e-8")
@pytest.mark.parametrize("F", [0.0, 0.1, 0.5, 1.0])
def test_target_balance(F: float) -> None:
    T = float(rad.target_temperature(HOSE, F))
    radiosity = 0.85 * SIGMA * 1000.0**4 + 0.15 * SIGMA * 360.0**4
    absorbed = 0.9 * (F * radiosity + (np.pi - F) * SIGMA * 360.0**4)
    given_off = 0.9 * np.pi * SIGMA * T**4 + 15.0 * np.pi * (T - 350.0)
    assert given_off == pytest.approx(absorbed, rel=1e-8)


@check("limit", note="same balance by SciPy brentq; 1e-9")
def test_target_against_another_root() -> None:
    def excess(T: float) -> float:
        gain = 0.9 * 0.3 * 0.85 * SIGMA * (1000.0**4 - 360.0**4)
        return gain - np.pi * (15.0 * (T - 350.0) + 0.9 * SIGMA * (T**4 - 360.0**4))

    theirs = optimize.brentq(excess, 350, 1000, xtol=1e-12, rtol=1e-14)
    assert float(rad.target_temperature(HOSE, 0.3)) == pytest.approx(theirs, rel=1e-9)


@check("limit", note="out of sight in one air: air; no air, black, all seen: source; fierce wind: air")
def test_target_limits() -> None:
    calm = rad.Exposure(1000.0, 0.85, 350.0, 350.0, 15.0)
    assert float(rad.target_temperature(calm, 0.0)) == pytest.approx(350.0)
    airless = rad.Exposure(1000.0, 1.0, 350.0, 350.0, 0.0, 1.0)
    assert float(rad.target_temperature(airless, 1.0)) == pytest.approx(1000.0)
    wind = rad.Exposure(1000.0, 0.85, 350.0, 350.0, 1e9)
    assert float(rad.target_temperature(wind, 0.5)) == pytest.approx(350.0, abs=1e-3)
    found = rad.target_temperature(HOSE, np.linspace(0, 1, 30))
    assert np.all(np.diff(found) > 0)
    polished = HOSE._replace(e_target=0.1)
    assert float(rad.target_temperature(polished, 0.5)) < float(rad.target_temperature(HOSE, 0.5))


def test_target_refuses_nonsense() -> None:
    with pytest.raises(OutOfRange, match="view factor"):
        rad.target_temperature(HOSE, 1.2)
    with pytest.raises(OutOfRange, match="1 or more"):
        rad.target_temperature(HOSE._replace(surface_ratio=0.5), 0.2)
    with pytest.raises(OutOfRange, match="emissivity"):
        rad.target_temperature(HOSE._replace(e_source=85.0), 0.2)


@check("limit", note="allowed view factor put back gives the limit; 1e-9")
@pytest.mark.parametrize("limit", [380.0, 423.0, 500.0])
def test_allowed_view_factor_is_the_inverse(limit: float) -> None:
    F = rad.allowed_view_factor(HOSE, limit)
    assert 0 < float(F) < 1
    assert float(rad.target_temperature(HOSE, F)) == pytest.approx(limit, rel=1e-9)


def test_a_limit_below_the_bay_has_no_view_factor() -> None:
    assert float(rad.allowed_view_factor(HOSE, 340.0)) < 0
    assert float(rad.allowed_view_factor(HOSE, 900.0)) > 1


@check("limit", note="clearance by closed form: sphere r/sqrt(F) - r, disc r sqrt(1/F - 1); 1e-8")
def test_clearance() -> None:
    F, r = np.array([0.05, 0.2, 0.6]), 0.06
    sphere = rad.clearance_for_view_factor(lambda c: rad.view_factor_to_sphere(c + r, r), F, 1e-4, 10.0)
    assert sphere == pytest.approx(r / np.sqrt(F) - r, rel=1e-8)
    disc = rad.clearance_for_view_factor(lambda h: rad.view_factor_to_disc(h, r), F, 1e-4, 10.0)
    assert disc == pytest.approx(r * np.sqrt(1 / F - 1), rel=1e-8)


def test_clearance_ends() -> None:
    def disc(h: np.ndarray) -> np.ndarray:
        return rad.view_factor_to_disc(h, 0.06)

    found = rad.clearance_for_view_factor(disc, [1.5, -0.1, 1e-9], 1e-3, 5.0)
    assert found[0] == 1e-3
    assert np.all(np.isinf(found[1:]))
    with pytest.raises(OutOfRange, match="above 0"):
        rad.clearance_for_view_factor(disc, 0.2, 0.0, 5.0)


def test_a_hotter_source_asks_for_more_clearance() -> None:
    hot = HOSE._replace(T_source=np.array([800.0, 950.0, 1100.0]))
    F = rad.allowed_view_factor(hot, 400.0)
    found = rad.clearance_for_view_factor(lambda c: rad.view_factor_to_sphere(c + 0.06, 0.06), F, 1e-3, 5.0)
    assert np.all(np.diff(found) > 0)

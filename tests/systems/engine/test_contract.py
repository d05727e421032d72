"""What a caller may count on: shapes, order, repetition, refusals, flags; trace and figures agree."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.slider_crank import volume_slope
from boostwright.systems.engine.cycle import STATUS_WORDS, run_cycle, run_cycles, trace_cycle
from boostwright.systems.engine.types import BurnLaw, CycleResult, Fuel, OperatingPoints
from tests.labels import check
from tests.systems.engine.cases import DEG, PETROL, RPM, WITHOUT_RUNNER, at, engine, solver


def same(a: CycleResult, b: CycleResult, pick: object = slice(None)) -> None:
    """Every figure of both is equal to the last bit."""
    for name, x, y in zip(a._fields, a, b, strict=True):
        assert np.array_equal(x, np.asarray(y)[pick], equal_nan=True), name


# --- Shape, order, repetition ---


def test_fields_broadcast() -> None:
    points = OperatingPoints(np.array([2000.0, 4000.0]) * RPM, 1e5, 298.15, [101e3, 105e3], 0.9, -0.3)  # type: ignore[arg-type]
    r = run_cycles(engine(), PETROL, points)
    for name, value in r._asdict().items():
        assert value.shape == ((2, 3) if name == "wall_temperatures" else (2,)), name
    one = run_cycle(engine(), PETROL, at(2000.0))
    assert one.torque.shape == (1,)


@pytest.mark.parametrize(
    "kind", [{}, {"geometry": WITHOUT_RUNNER, "burn_law": BurnLaw.WIEBE}], ids=["runner", "plain"]
)
def test_a_point_does_not_know_its_neighbours(kind: dict[str, Any]) -> None:
    """One at a time, in any order, in any company: the same to the last bit."""
    s = solver(**kind)
    rng = np.random.default_rng(5)
    n = 19
    rpm, kpa = rng.uniform(800, 7000, n), rng.uniform(50, 190, n)
    points = at(rpm, kpa, lam=np.round(rng.uniform(0.78, 1.1, n), 2), btdc=rng.uniform(0, 25, n))
    together = s.run(points)
    assert (together.status == 0).all()
    order = rng.permutation(n)
    same(s.run(points.pick(order)), together, order)  # type: ignore[arg-type]
    for few in ([0], [7], [18], [3, 11], [5, 2, 16]):
        same(s.run(points.pick(np.isin(np.arange(n), few))), together, sorted(few))
    # a company of points that fail does not touch those that do not
    late = points.with_spark(np.where(np.arange(n) % 2 == 0, 58 * DEG, points.arrays()[5]))
    mixed = s.run(late)
    assert (mixed.status[::2] != 0).any()
    same(s.run(late.pick(np.arange(n) % 2 == 1)), mixed, np.arange(n) % 2 == 1)


def test_the_same_twice() -> None:
    points = at(np.array([1500.0, 6000.0]))
    same(solver().run(points), solver().run(points))


# --- Refusals ---

REFUSED = [
    ({"rpm": 100.0}, "engine speed 100 rev/min", "500 to 12000 rev/min"),
    ({"rpm": 20000.0}, "engine speed 20000 rev/min", "500 to 12000 rev/min"),
    ({"rpm": float("nan"), "btdc": 20.0}, "engine speed nan", "500 to 12000"),
    ({"kpa": 5.0}, "plenum pressure 5 kPa absolute", "20 to 400 kPa absolute"),
    ({"kpa": float("inf")}, "plenum pressure inf", "20 to 400"),
    ({"T": 500.0}, "plenum temperature 226.85 degC", "-50 to 150 degC"),
    ({"T": 25.0}, "plenum temperature -248.15 degC", "-50 to 150 degC"),  # degrees taken for kelvin
    ({"back": 10.0}, "exhaust manifold pressure 10 kPa absolute", "50 to 600 kPa absolute"),
    ({"btdc": 150.0}, "spark 150 degrees before TDC", "-60 to"),
    ({"btdc": -80.0}, "spark -80 degrees before TDC", "-60 to"),
    ({"lam": 0.3}, "0.3", "0.6"),
    ({"lam": float("nan")}, "nan", "0.6"),
]


@pytest.mark.parametrize(("given", "says", "limits"), REFUSED, ids=[r[1] for r in REFUSED])
def test_conditions_outside_the_ground_are_refused(given: dict[str, float], says: str, limits: str) -> None:
    with pytest.raises(OutOfRange, match=re.escape(says)) as caught:
        run_cycles(engine(), PETROL, at(**given))  # type: ignore[arg-type]
    assert limits in str(caught.value)


def test_one_bad_point_of_many_is_named() -> None:
    with pytest.raises(OutOfRange, match="plenum pressure 900 kPa"):
        run_cycles(engine(), PETROL, at(3000.0, np.array([100.0, 900.0, 120.0])))


@pytest.mark.parametrize(
    ("side", "event", "degrees", "says"),
    [
        ("exhaust", "opens", 40.0, "exhaust opening"),
        ("intake", "closes", 700.0, "intake closing"),
        ("intake", "opens", 20.0, "intake opening"),
        ("exhaust", "closes", 500.0, "exhaust closing"),
    ],
)
def test_valve_timings_from_another_dead_centre_are_refused(
    side: str, event: str, degrees: float, says: str
) -> None:
    valves = dataclasses.replace(getattr(engine(), side), **{event: degrees * DEG})
    with pytest.raises(OutOfRange, match=says) as caught:
        run_cycles(engine(**{side: valves}), PETROL, at())
    assert f"{degrees:.0f} degrees" in str(caught.value)


def test_fuel_outside_the_tables_is_refused() -> None:
    with pytest.raises(OutOfRange):
        run_cycles(engine(), Fuel(1.4), at())


def test_one_cycle_takes_one_point() -> None:
    with pytest.raises(OutOfRange, match="one operating point, got 2"):
        run_cycle(engine(), PETROL, at([2000.0, 3000.0]))


# --- Flags ---


def test_a_charge_that_cannot_burn_in_time_is_flagged() -> None:
    points = at(6000.0, btdc=np.array([25.0, -55.0]))
    r = solver().run(points)
    assert r.status.tolist() == [0, 3]
    assert "still burning" in STATUS_WORDS[3]
    with pytest.raises(NotConverged, match="still burning"):
        run_cycle(engine(), PETROL, at(6000.0, btdc=-55.0))


def test_marks_that_were_not_reached_are_not_numbers() -> None:
    late = solver().run(at(6000.0, btdc=-55.0))
    assert np.isnan(late.ca90[0])
    motored = solver(burn_law=BurnLaw.NONE).run(at(3000.0))
    assert np.isnan(motored.ca50[0])


def test_every_flag_has_its_words() -> None:
    assert set(STATUS_WORDS) == {0, 1, 2, 3}


@settings(max_examples=40, deadline=None)
@given(
    st.floats(600, 9000),
    st.floats(30, 350),
    st.floats(240, 420),
    st.floats(60, 500),
    st.floats(0.6, 1.6),
    st.floats(-30, 50),
)
def test_anywhere_on_its_ground_it_answers_or_says_why(
    rpm: float, kpa: float, T: float, back: float, lam: float, btdc: float
) -> None:
    with np.errstate(all="ignore"):  # a point that breaks down is the business of the next test
        r = solver().run(at(rpm, kpa, T=T, back=back, lam=lam, btdc=btdc))
    assert int(r.status[0]) in STATUS_WORDS
    if r.status[0] == 0:
        for name in r._fields:
            assert np.isfinite(getattr(r, name)).all(), name
        assert 0 < r.residual[0] < 1
        assert r.air_flow[0] > 0
        assert r.peak_pressure[0] > kpa * 1e3
        assert r.ca10[0] < r.ca50[0] < r.ca90[0]
        assert 250 < r.charge_temperature[0] < 1500
        assert r.exhaust_manifold_temperature[0] < r.exhaust_port_temperature[0]
        assert r.exhaust_port_temperature[0] < r.exhaust_valve_temperature[0]


def test_a_point_that_broke_down_carries_no_numbers() -> None:
    r = solver().run(at(2700.0, 30.0, T=240.0, back=165.0, lam=1.0, btdc=0.0))
    assert r.status[0] == 2
    assert np.isnan(r.torque[0])
    assert np.isnan(r.air_flow[0])


# --- Trace and figures ---


@check("limit", note="figures against the trace of the same cycle: work 2e-4, peak 1e-3, CA50 0.05 degrees")
@pytest.mark.parametrize(("rpm", "kpa"), [(1200.0, 100.0), (3000.0, 100.0), (5500.0, 170.0)])
def test_trace_and_figures_agree(rpm: float, kpa: float) -> None:
    e = engine()
    point = at(rpm, kpa, btdc=15.0)
    r, t = solver(tolerance=1e-8).run(point), trace_cycle(e, PETROL, point)
    keep = np.flatnonzero(np.diff(t.theta, prepend=-100.0) > 1e-9)
    theta, p = t.theta[keep], t.pressure[keep]
    assert theta[-1] - theta[0] == pytest.approx(4 * np.pi, abs=1e-6)
    work = float(np.trapezoid(p * volume_slope(theta, e.bore, e.stroke, e.rod), theta))
    assert work == pytest.approx(float(r.imep[0]) * e.swept_volume, rel=3e-3)
    assert p.max() == pytest.approx(float(r.peak_pressure[0]), rel=1e-3)
    burn = t.phase == 1.0
    half = np.interp(0.5, t.burned_mass[burn] / t.mass[burn], t.theta[burn])
    assert half == pytest.approx(float(r.ca50[0]), abs=0.05 * DEG)
    assert t.burned_mass[0] / t.mass[0] == pytest.approx(float(r.residual[0]), rel=1e-6)
    assert t.mass[0] == pytest.approx(float(r.trapped_mass[0]), rel=1e-6)
    assert (t.burned_temperature[burn] > t.temperature[burn] + 500).all()


def test_pressure_has_no_jump_between_the_phases() -> None:
    t = trace_cycle(engine(), PETROL, at(3000.0), refine=2.0)
    seam = np.flatnonzero(np.diff(t.phase) != 0)
    assert t.phase[seam].tolist() == [0.0, 1.0, 2.0]
    for k in seam[1:]:  # the flame kernel's own 0.05 % of the charge burns at once at the first
        assert t.pressure[k + 1] == pytest.approx(t.pressure[k], rel=3e-3)
    assert t.pressure[seam[0] + 1] == pytest.approx(t.pressure[seam[0]], rel=5e-3)
    assert t.pressure[-1] == pytest.approx(t.pressure[0], rel=1e-6)


# --- The page ---


def test_the_example_on_the_page_runs(capsys: pytest.CaptureFixture[str]) -> None:
    page = (Path(__file__).parents[3] / "docs" / "engine_cycle.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", page, re.DOTALL)
    assert code
    exec(compile(code[1], "docs/engine_cycle.md", "exec"), {})
    assert "[0 0]" in capsys.readouterr().out  # both converged

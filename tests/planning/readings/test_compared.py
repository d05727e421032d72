"""Before against after: the z test, its chance over several places, and how often it cries wolf."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from boostwright.job.records import Reading
from boostwright.library.measurements import measurements
from boostwright.planning.readings.compared import REAL, Comparer, two_sample
from tests.labels import check


@check(
    "published",
    source="montgomery2003",
    note="example 10-1, drying time of a paint, from memory: means 121 and 112 min, s 8 min, 10 of each:"
    " z0 = 2.52, one-sided P = 0.0059; both printed to two digits",
)
def test_two_means_with_known_spread() -> None:
    found = two_sample([[121.0]] * 10, [[112.0]] * 10, 8.0)
    assert -found.z == pytest.approx(2.52, abs=0.005)
    assert found.chance / 2 == pytest.approx(0.0059, abs=0.00005)
    assert found.real


@check("reference library", source="scipy", note="normal tail; k places: 1 - (1 - p)^k; to rounding")
@pytest.mark.parametrize("k", [1, 4, 6])
@pytest.mark.parametrize("z", [0.5, 1.96, 3.0, 7.0])
def test_chance_of_the_worst_of_several_places(z: float, k: int) -> None:
    after = np.zeros((1, k))
    after[0, k - 1] = z * np.sqrt(2.0)
    found = two_sample(np.zeros((1, k)), after, 1.0)
    assert found.place == k - 1
    assert found.chance == pytest.approx(-np.expm1(k * np.log1p(-2 * stats.norm.sf(z))), rel=1e-9)


@check(
    "limit", note="unchanged cars: the share called real is the level itself; 4 standard errors of 4000 draws"
)
@pytest.mark.parametrize(("n", "m", "k"), [(1, 1, 4), (3, 2, 1)])
def test_false_alarms_come_at_the_level(n: int, m: int, k: int) -> None:
    rng = np.random.default_rng(11)
    alarms = [
        two_sample(rng.normal(5.0, 0.3, (n, k)), rng.normal(5.0, 0.3, (m, k)), 0.3).real for _ in range(4000)
    ]
    assert np.mean(alarms) == pytest.approx(REAL, abs=4 * np.sqrt(REAL * (1 - REAL) / 4000))


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=6), st.floats(1e-3, 1e3), st.integers(1, 5))
def test_nothing_changed_is_never_real(values: list[float], sd: float, n: int) -> None:
    found = two_sample([values] * n, [values] * 2, sd)
    assert found.z == pytest.approx(0.0, abs=1e-6)
    assert not found.real


def test_sides_of_unlike_places_are_refused() -> None:
    with pytest.raises(ValueError, match="4 places before and 3 after"):
        two_sample([[1.0] * 4], [[1.0] * 3], 1.0)


def _reading(
    when: str, values: tuple[float, ...], time: str, step: str = "", key: str = "oil_pressure_idle"
) -> Reading:
    return Reading(f"{when}{time}", "L", time, key, values, when=when, step=step)


@check(
    "limit",
    note="by hand: 0.08 bar and 8 % of 1.5 bar make 0.144 bar; means of 2 and 1 readings: times 1.2247",
)
def test_readings_of_one_side_are_pooled() -> None:
    one = measurements()["oil_pressure_idle"]
    rows = [
        _reading("before", (1.4e5,), "2025-04-01"),
        _reading("before", (1.6e5,), "2025-04-02"),
        _reading("after", (1.1e5,), "2025-06-01"),
    ]
    comparer = Comparer(rows)
    assert comparer.next(one, "before", rows[0]) is None
    found = comparer.next(one, "after", rows[2])
    assert found is not None
    assert found.before == pytest.approx(1.5e5)
    assert found.sd == pytest.approx(np.hypot(8e3, 12e3) * np.sqrt(1.5))
    assert found.counts == (2, 1)
    assert Comparer(rows[2:]).next(one, "after", rows[2]) is None


def test_readings_of_another_step_or_count_of_places_are_left_out() -> None:
    one = measurements()["oil_pressure_idle"]
    rows = [
        _reading("before", (1.5e5,), "2025-04-01"),
        _reading("before", (9.9e5,), "2025-04-01", step="blips"),
        _reading("before", (1.0e5, 2.0e5), "2025-04-01"),
    ]
    found = Comparer(rows).next(one, "after", _reading("after", (1.5e5,), "2025-06-01", step="warm-up"))
    assert found is not None
    assert found.before == pytest.approx(1.5e5)
    assert found.counts == (1, 1)


def test_a_comparison_is_the_two_sample_test() -> None:
    """The running sums against the plain function on the same rows."""
    one = measurements()["compression"]
    rng = np.random.default_rng(3)
    before, after = rng.normal(13e5, 4e4, (3, 4)), rng.normal(12.5e5, 4e4, (2, 4))
    rows = [_reading("before", tuple(v), "2025-04-01", key="compression") for v in before.tolist()]
    later = [_reading("after", tuple(v), "2025-06-01", key="compression") for v in after.tolist()]
    comparer = Comparer([*rows, *later])
    comparer.next(one, "after", later[0])
    found = comparer.next(one, "after", later[1])
    assert one.repeat is not None
    spread = [one.repeat.at(float(v)) for v in before.mean(axis=0)]
    assert found is not None
    plain = two_sample(before, after, spread)
    assert found.z == pytest.approx(plain.z)
    assert found.chance == pytest.approx(plain.chance)
    assert found.place == plain.place

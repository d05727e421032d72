"""Shares of variance: functions whose shares are known exactly, and what chance alone makes."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import special

from boostwright.errors import OutOfRange
from boostwright.uncertainty.design import Design
from boostwright.uncertainty.marginals import Normal
from boostwright.uncertainty.shares import alone_by_draws, shares_of
from boostwright.uncertainty.surrogate import Scale, fit_surrogate
from tests.labels import check

Array = NDArray[np.float64]


def scores(n: int, d: int, seed: int = 3) -> Array:
    made = Design([Normal(0.0, 1.0)] * d, seed=seed)
    return np.concatenate([made.scores(k) for k in range(n // 8)])


def ishigami(z: Array, a: float = 7.0, b: float = 0.1) -> Array:
    x = np.pi * (2.0 * special.ndtr(z) - 1.0)
    return np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])


ALONE, TOTAL = (0.3139, 0.4424, 0.0), (0.5576, 0.4424, 0.2437)


@check("published", id="V8", source="ishigami1990", note="a 7, b 0.1; shares in closed form, four figures")
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_ishigami_by_the_surrogate(seed: int) -> None:
    z = scores(2048, 3, seed)
    y = ishigami(z)
    made = fit_surrogate(z, y, [Scale.EVEN] * 3)
    assert made.held_out < 1e-3
    for share in shares_of(made, z, y):
        i = share.columns[0]
        assert share.alone == pytest.approx(ALONE[i], abs=max(3.0 * share.error, 0.01))
        assert share.total == pytest.approx(TOTAL[i], abs=0.015)


@check("published", id="V8", source="ishigami1990", note="the same from draws alone; spread of 4096 draws")
def test_ishigami_from_draws_alone() -> None:
    z = scores(4096, 3)
    y = ishigami(z)
    found = [alone_by_draws(z[:, i], y) for i in range(3)]
    assert found == pytest.approx(ALONE, abs=0.03)


@check("published", source="sobol1993", note="g-function, V_i = 1/(3 (1+a_i)^2), shares in closed form")
def test_g_function() -> None:
    a = np.array([0.0, 1.0, 4.5, 9.0, 99.0])
    z = scores(4096, 5)
    u = special.ndtr(z)
    y = np.prod((np.abs(4.0 * u - 2.0) + a) / (1.0 + a), axis=1)
    part = 1.0 / (3.0 * (1.0 + a) ** 2)
    whole = np.prod(1.0 + part) - 1.0
    found = [alone_by_draws(z[:, i], y) for i in range(5)]
    assert found == pytest.approx(part / whole, abs=0.035)
    made = fit_surrogate(z, y, [Scale.EVEN] * 5)
    for share in shares_of(made, z, y):
        assert share.alone == pytest.approx(part[share.columns[0]] / whole, abs=0.05)


@check("limit", note="a sum of independent terms: shares are the squares of the weights")
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_a_hundred_unknowns_from_256_draws(seed: int) -> None:
    z = scores(256, 100, seed)
    noise = np.random.default_rng(seed).standard_normal(256)
    y = 2.0 * z[:, 5] + z[:, 17] + np.where(z[:, 40] < 0.0, -1.0, 1.0) + z[:, 17] * z[:, 5] + 0.5 * noise
    kinds = [Scale.TWO if i == 40 else Scale.NORMAL for i in range(100)]
    made = fit_surrogate(z, y, kinds)
    exact = {5: 4.0 / 7.25, 17: 1.0 / 7.25, 40: 1.0 / 7.25}
    found = {s.columns[0]: s for s in shares_of(made, z, y)}
    assert made.held_out == pytest.approx(0.25 / 7.25, abs=0.03)
    for i, share in exact.items():
        assert found[i].alone == pytest.approx(share, abs=0.10)
    others = sum(s.alone for i, s in found.items() if i not in exact)
    assert others < 0.03


@check("limit", note="a product of three without terms of their own is not found, and is not hidden")
def test_what_the_terms_cannot_say_stays_in_the_error() -> None:
    z = scores(256, 100, 2)
    y = 2.0 * z[:, 5] + z[:, 60] * z[:, 61] * z[:, 62]
    made = fit_surrogate(z, y)
    assert made.held_out == pytest.approx(0.2, abs=0.06)
    found = {s.columns[0]: s for s in shares_of(made, z, y)}
    assert found[5].alone == pytest.approx(0.8, abs=0.06)


@check("limit", note="pure chance: nothing is explained, and the held-out error says so")
def test_noise_gets_no_shares() -> None:
    for seed in range(6):
        z = scores(256, 80, seed)
        y = np.random.default_rng(100 + seed).standard_normal(256)
        made = fit_surrogate(z, y)
        assert made.held_out > 0.85
        assert sum(s.total for s in shares_of(made, z, y)) < 0.35


@check("limit", note="unknowns that move together share one group")
def test_groups_take_the_terms_inside_them() -> None:
    z = scores(1024, 4)
    y = z[:, 0] + z[:, 1] + z[:, 0] * z[:, 1] + z[:, 2]
    made = fit_surrogate(z, y)
    found = {s.columns: s for s in shares_of(made, z, y, [(0, 1), (2,), (3,)])}
    assert found[0, 1].alone == pytest.approx(0.75, abs=0.04)
    assert found[0, 1].total == pytest.approx(found[0, 1].alone)
    assert found[2,].alone == pytest.approx(0.25, abs=0.03)


def test_too_few_draws_and_numbers_that_are_none_are_refused() -> None:
    z = scores(256, 3)
    with pytest.raises(OutOfRange, match="8"):
        fit_surrogate(z[:8], np.arange(8.0))
    with pytest.raises(OutOfRange, match="all numbers"):
        fit_surrogate(z, np.full(256, np.nan))
    with pytest.raises(OutOfRange):
        alone_by_draws(z[:8, 0], np.arange(8.0))
    still = fit_surrogate(z, np.full(256, 4.0))
    assert still(z) == pytest.approx(4.0)
    assert all(s.total == 0.0 for s in shares_of(still, z, np.full(256, 4.0)))

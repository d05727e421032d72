"""The estimator against closed forms and against many draws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from boostwright.errors import NotConverged
from boostwright.fitting.solve import posterior
from boostwright.fitting.update import Belief, below, smooth_covariance, update
from tests.labels import check


def some(seed: int, m: int = 9, k: int = 4) -> tuple[Belief, np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    A = rng.normal(size=(k, k))
    return (
        Belief(rng.normal(size=k), A @ A.T + 0.1 * np.eye(k)),
        rng.normal(size=(m, k)),
        rng.normal(size=m),
        rng.uniform(0.2, 2, m),
    )


@check("limit", note="precision form (P^-1 + H'R^-1H)^-1 of the same linear Gaussian problem; round-off")
@pytest.mark.parametrize("seed", range(5))
def test_the_update_is_the_closed_form(seed: int) -> None:
    belief, H, read, sd = some(seed)
    found = update(belief, H, read, sd).belief
    precision = np.linalg.inv(belief.covariance)
    C = np.linalg.inv(precision + (H.T / sd**2) @ H)
    mean = C @ (precision @ belief.mean + (H.T / sd**2) @ read)
    assert found.mean == pytest.approx(mean, rel=1e-9, abs=1e-9)
    assert found.covariance == pytest.approx(C, rel=1e-9, abs=1e-9)


@check("limit", note="independent priors: the covariance of the fit of the baseline; round-off")
def test_the_update_is_the_posterior_of_the_fit() -> None:
    _, H, read, sd = some(7)
    prior = np.array([0.5, 1.0, 2.0, 0.1])
    found = update(Belief(np.zeros(4), np.diag(prior**2)), H, read, sd).belief
    assert found.covariance == pytest.approx(posterior(H / sd[:, None], prior), rel=1e-9, abs=1e-12)


@check("limit", note="one by one or all at once is the same; round-off")
def test_the_order_of_readings_does_not_matter() -> None:
    belief, H, read, sd = some(3)
    whole = update(belief, H, read, sd).belief
    for row in (2, 0, 1, 3, 8, 4, 7, 5, 6):
        belief = update(belief, H[row : row + 1], read[row : row + 1], sd[row : row + 1]).belief
    assert belief.mean == pytest.approx(whole.mean, rel=1e-8, abs=1e-9)
    assert belief.covariance == pytest.approx(whole.covariance, rel=1e-8, abs=1e-9)


@check("limit", note="truth drawn from the prior: its distance is chi-square of k, three errors of 400 draws")
def test_the_belief_covers_the_truth() -> None:
    belief, H, _, sd = some(11)
    rng = np.random.default_rng(2)
    square, chi = [], []
    for _ in range(400):
        truth = rng.multivariate_normal(belief.mean, belief.covariance)
        found = update(belief, H, H @ truth + sd * rng.normal(size=sd.size), sd)
        off = truth - found.belief.mean
        square.append(off @ np.linalg.solve(found.belief.covariance, off))
        chi.append(found.chi_square)
    assert np.mean(square) == pytest.approx(4.0, abs=3 * np.sqrt(8 / 400))
    assert np.mean(chi) == pytest.approx(1.0, abs=3 * np.sqrt(2 / 9 / 400))


def test_nothing_read_changes_nothing_and_no_numbers_are_refused() -> None:
    belief, H, read, sd = some(1)
    assert update(belief, H[:0], read[:0], sd[:0]).belief is belief
    with pytest.raises(NotConverged, match="no number"):
        update(belief, H, np.where(read > 0, np.nan, read), sd)


@check("limit", note="nine readings of one number and one far off: within a third of a deviation of the nine")
def test_one_wild_reading_does_not_carry_the_belief() -> None:
    H = np.ones((10, 1))
    read = np.array([1.0, 1.1, 0.9, 1.05, 0.95, 1.0, 1.02, 0.98, 1.0, 40.0])
    wide = Belief(np.zeros(1), np.eye(1) * 1e4)
    plain = update(wide, H, read, np.full(10, 0.1)).belief
    robust = update(wide, H, read, np.full(10, 0.1), robust=2.0)
    assert plain.mean[0] > 4
    assert robust.belief.mean[0] == pytest.approx(1.0, abs=0.06)
    assert robust.weight[-1] < 0.02


@check("limit", note="moments of the cut normal against 400 000 draws; four standard errors")
@pytest.mark.parametrize("most", [-1.0, 0.5, 4.0])
def test_a_belief_that_is_cut(most: float) -> None:
    belief, H, _, _ = some(5, k=3)
    a, soft = H[0], 0.3
    found = below(belief, a, most, soft)
    draws = multivariate_normal(belief.mean, belief.covariance, seed=4).rvs(400_000)
    noise = np.random.default_rng(6).normal(0, soft, draws.shape[0])
    kept = draws[draws @ a + noise < most]
    assert found.mean == pytest.approx(kept.mean(axis=0), abs=4 * belief.sd.max() / np.sqrt(kept.shape[0]))
    assert found.covariance == pytest.approx(
        np.cov(kept.T), abs=8 * belief.sd.max() ** 2 / np.sqrt(kept.shape[0])
    )
    assert np.all(found.sd <= belief.sd + 1e-12)


@check("limit", note="conditioning of a Gaussian process on one place, by hand; round-off")
def test_a_smooth_function_goes_back_to_what_it_was() -> None:
    places = np.array([[0.0, 0.0], [1.0, 0.0], [9.0, 9.0]])
    P = smooth_covariance(places, places, 0.05, np.array([1.0, 2.0]))
    assert pytest.approx(P.T) == P
    found = update(
        Belief(np.zeros(3), P), np.array([[1.0, 0.0, 0.0]]), np.array([0.1]), np.array([1e-6])
    ).belief
    assert found.mean == pytest.approx([0.1, 0.1 * np.exp(-0.5), 0.0], abs=1e-6)
    assert found.sd[1] == pytest.approx(0.05 * np.sqrt(1 - np.exp(-1.0)), rel=1e-6)
    assert found.sd[2] == pytest.approx(0.05)

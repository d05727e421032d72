"""Nets of draws: evenness, seeds, correlation."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.errors import OutOfRange
from boostwright.uncertainty.design import Design
from boostwright.uncertainty.marginals import LogNormal, Normal
from tests.labels import check


def design(d: int, seed: int = 5, **more: object) -> Design:
    return Design([Normal(0.0, 1.0)] * d, seed=seed, **more)  # type: ignore[arg-type]


@check("published", source="sobol1967", note="a net of 2^k points has one in every 2^k-th of each axis")
@pytest.mark.parametrize("k", [3, 5, 7])
def test_every_net_is_even_on_every_axis(k: int) -> None:
    made, n = design(40), 2**k
    points = np.stack([made.uniforms(i) for i in range(n)])
    cells = np.floor(points * n).astype(int)
    for net in range(made.replicates):
        for axis in range(40):
            assert sorted(cells[:, net, axis]) == list(range(n))


def test_a_seed_gives_the_same_draws_whatever_the_order_and_another_gives_others() -> None:
    a, b, c = design(6, 11), design(6, 11), design(6, 12)
    late = a.block(100)
    early = a.block(3)
    assert np.array_equal(early, b.block(3))
    assert np.array_equal(late, b.block(100))
    assert not np.allclose(early, c.block(3))
    rows = {tuple(row) for row in np.round(early, 12)}
    assert len(rows) == early.shape[0]  # the nets are scrambled each in its own way


@check("limit", note="correlation of normal scores; 3 standard errors of 4096 independent draws")
def test_correlation_comes_out_and_marginals_are_kept() -> None:
    matrix = np.array([[1.0, 0.7, 0.0], [0.7, 1.0, -0.3], [0.0, -0.3, 1.0]])
    made = Design([Normal(1.0, 2.0), LogNormal(3.0, 1.0), Normal(0.0, 1.0)], matrix, seed=2)
    values = np.concatenate([made.block(k) for k in range(512)])
    scores = np.concatenate([made.correlated_scores(k) for k in range(512)])
    assert np.corrcoef(scores.T) == pytest.approx(matrix, abs=3.0 / np.sqrt(4096.0))
    assert values.mean(axis=0) == pytest.approx([1.0, 3.0, 0.0], abs=0.02)
    assert values.std(axis=0) == pytest.approx([2.0, 1.0, 1.0], rel=0.02)


def test_correlations_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(OutOfRange, match="contradict"):
        Design([Normal(0, 1)] * 3, [[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]])
    for bad in ([[1.0, 0.5]], [[1.0, 0.5], [0.4, 1.0]], [[1.0, 1.5], [1.5, 1.0]], [[2.0, 0.0], [0.0, 1.0]]):
        with pytest.raises(OutOfRange, match="symmetric"):
            Design([Normal(0, 1)] * 2, bad)
    with pytest.raises(OutOfRange):
        Design([])


def test_a_perfect_correlation_is_taken_as_nearly_perfect() -> None:
    made = Design([Normal(0, 1)] * 2, [[1.0, 1.0], [1.0, 1.0]])
    z = np.concatenate([made.correlated_scores(k) for k in range(16)])
    assert z[:, 0] == pytest.approx(z[:, 1], abs=1e-3)

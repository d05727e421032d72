"""Engines that several tests share, computed once."""

from __future__ import annotations

from functools import cache

from tests.truth.bands import Bands, bands_of
from tests.truth.engines import Outcome, Truth
from tests.truth.fitted import fitted_build_of
from tests.truth.invent import make_truth
from tests.truth.stated import Run, logged_run, stated_build

__all__ = ["DRAWS", "SEEDS", "after", "before", "ran", "run_of"]

SEEDS = (1, 4)
DRAWS = 32


@cache
def ran(seed: int) -> tuple[Truth, Outcome, Outcome]:
    """An engine, what it does without boost, and under boost."""
    truth = make_truth(seed)
    return truth, truth.unboosted(), truth.boosted()


@cache
def run_of(seed: int) -> Run:
    """Its log without boost."""
    truth, stock, _ = ran(seed)
    return logged_run(truth, stock)


@cache
def before(seed: int) -> Bands:
    """The bands of what its builder states, without a fit."""
    truth = ran(seed)[0]
    return bands_of(stated_build(truth, run_of(seed)), truth.goal, truth.stock.speed, DRAWS, seed)


@cache
def after(seed: int) -> Bands:
    """The bands once the program is fitted to the log."""
    truth = ran(seed)[0]
    build, together, _ = fitted_build_of(stated_build(truth, run_of(seed)))
    return bands_of(build, truth.goal, truth.stock.speed, DRAWS, seed, together)

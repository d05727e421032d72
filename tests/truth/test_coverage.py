"""Bands of a few invented engines, not blind nor boundless. The study: benchmarks/hundred_engines.py."""

from __future__ import annotations

import numpy as np

from boostwright.build.catalogue import catalogue
from boostwright.build.values import Source
from tests.labels import check
from tests.truth.bands import QUANTITIES, Bands, held, truth_of
from tests.truth.cases import DRAWS, SEEDS, after, before, ran, run_of
from tests.truth.invent import CLASS_FIELDS, OWN_FIELDS
from tests.truth.stated import PER_POINT, PER_RUN, stated_build

WIDEST = {
    "torque": 1.2,
    "air": 0.8,
    "peak": 1.6,
    "exhaust": 0.5,
    "valve": 0.5,  # both were 0.4 before knock's growth with heat was an unknown
    "stock torque": 1.2,
    "stock air": 0.8,
}
"""Greatest mean width of a band over its middle: four spreads of what the class leaves open, and no more."""


def share(bands: Bands, seed: int) -> float:
    """Share of all quantities at all speeds at which the truth lies in the band."""
    inside = held(bands, truth_of(*ran(seed))).inside
    return float(np.mean([inside[q].mean() for q in QUANTITIES]))


@check(
    "limit",
    note="two engines of other laws, 32 draws: a 90 % band that holds less than 60 % over all quantities "
    "is blind; the study holds it against 80 to 97 % (docs/coverage.md)",
)
def test_bands_hold_engines_of_other_laws() -> None:
    assert np.mean([share(before(seed), seed) for seed in SEEDS]) > 0.60


@check("limit", note="the same after the fit, two engines; and what was read without boost is held closer")
def test_fitted_bands_hold_them_and_are_narrower() -> None:
    assert np.mean([share(after(seed), seed) for seed in SEEDS]) > 0.60
    for name in ("stock torque", "stock air"):
        wide, close = (
            np.mean([(b.high[name] - b.low[name]) / b.middle[name] for b in map(bands, SEEDS)])
            for bands in (before, after)
        )
        assert close < 0.9 * wide, name


@check("limit", note="a band as wide as the thing itself says nothing; limits of width are our own")
def test_bands_are_not_boundless() -> None:
    for seed in SEEDS:
        bands = before(seed)
        assert bands.lost <= DRAWS // 8
        for name, most in WIDEST.items():
            width = (bands.high[name] - bands.low[name]) / np.abs(bands.middle[name])
            assert width.mean() < most, name
        assert np.all(bands.high["spark"] - bands.low["spark"] < np.radians(70.0))


@check("limit", note="what lies in a band does not lie in the same band moved by its own width")
def test_a_wrong_band_is_found_out() -> None:
    for seed in SEEDS:
        bands, true = before(seed), truth_of(*ran(seed))
        up = {n: bands.high[n] - bands.low[n] for n in QUANTITIES}
        moved = bands._replace(
            low={n: bands.low[n] + up[n] for n in QUANTITIES},
            high={n: bands.high[n] + up[n] for n in QUANTITIES},
        )
        was, now = held(bands, true), held(moved, true)
        assert sum(int(was.inside[n].sum()) for n in QUANTITIES) > 25
        for name in QUANTITIES:
            assert not np.any(was.inside[name] & now.inside[name])
            assert np.all(now.below[name] | ~was.inside[name])


@check(
    "limit", note="what a builder states lies within four of its spreads of the truth, and is not the truth"
)
def test_what_is_stated_is_a_reading_of_the_truth() -> None:
    for seed in SEEDS:
        truth = ran(seed)[0]
        build = stated_build(truth, run_of(seed))
        for path in OWN_FIELDS + CLASS_FIELDS:
            if not build.is_stated(path):
                assert build[path].source is Source.ASSUMED
                continue
            off = build.number(path) - truth.build.number(path)
            spread = catalogue().field(path).spread_for(build[path].source).at(build.number(path))
            assert 0.0 < abs(off) < 4.0 * spread + 1e-4


@check("limit", note="noise of point and run as stated, within four spreads of both")
def test_the_log_is_off_by_its_sensors_only() -> None:
    for seed in SEEDS:
        truth, stock, _ = ran(seed)
        run = run_of(seed)
        most = 4.0 * np.hypot(PER_POINT["torque"], PER_RUN["torque"])
        assert np.all(np.abs(run.torque / stock.torque - 1.0) < most)
        assert np.all(np.abs(run.spark - stock.spark) < 4.0 * np.hypot(PER_POINT["spark"], PER_RUN["spark"]))
        # air by injector time and lambda is that of the engine, to what is known of the injectors
        fuel = (run.injector_time - run.dead_time) * run.injector_flow * run.speed / (4.0 * np.pi)
        air = fuel * truth.engine.cylinders * run.lam * 14.6
        assert np.all(np.abs(air / stock.air_flow - 1.0) < 4.0 * np.hypot(0.04, 0.02))


@check(
    "regression",
    note="two engines of other laws of friction and burn, whose torque falls more steeply than ours. Taken "
    "for back pressure it made the air of one 25 % too much above 4500 rpm; now it is 10 %",
)
def test_air_at_high_speed_is_not_mistaken_for_back_pressure() -> None:
    for seed in SEEDS:
        truth, stock, _ = ran(seed)
        fast = truth.stock.speed > 4500.0 * np.pi / 30.0
        off = after(seed).middle["stock air"][fast] / stock.air_flow[fast] - 1.0
        assert abs(float(off.mean())) < 0.15

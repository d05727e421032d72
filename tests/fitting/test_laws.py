"""What stays open after a fit: the laws of the model, and how far what was read goes for under boost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.fitting import Fit, fit, fitted_build, model, solve
from boostwright.fitting.data import conditions_of
from boostwright.fitting.model import FACTORS, FORMS, USUAL, Laws, Seen, Viewed
from boostwright.readers.build_file import read_build
from boostwright.trust.unknowns import unknowns_of
from boostwright.uncertainty.design import Design
from tests.fitting.test_rows import FILE
from tests.labels import check

Array = NDArray[np.float64]
KNOCK = FACTORS.index("model.knock")


@pytest.fixture(scope="module")
def logged() -> Build:
    """The engine of the class with its own computed torque and spark, and a noise of 1 % on torque."""
    bare = read_build(FILE.encode())
    seen = Viewed(bare, conditions_of(bare)).see(np.zeros(len(FACTORS)), [np.zeros(4)])[0]
    noise = np.array([0.01, -0.005, 0.008, -0.01])
    rows = {
        "torque": (np.exp(seen.torque + noise), 0.02 * np.exp(seen.torque)),
        "spark": (-seen.spark, np.full(4, np.radians(1.5))),
    }
    given = {
        f"baseline.{name}": StatedValue(f"baseline.{name}", tuple(v), tuple(sd), Source.MEASURED, 1)
        for name, (v, sd) in rows.items()
    }
    return replace(bare, values={**bare.values, **given}, _defaults={})


@pytest.fixture(scope="module")
def found(logged: Build) -> Fit:
    return fit(logged)


def test_the_laws_stay_unknown_and_go_with_the_factors(logged: Build, found: Fit) -> None:
    assert set(found.forms) == set(FORMS)
    unknowns = unknowns_of(fitted_build(logged, found, for_draws=True), found.together())
    assert set(FORMS) < set(unknowns.names)
    i, j = (unknowns.names.index(n) for n in ("model.breathing", "form.heat_law"))
    assert unknowns.correlation[i, j] == pytest.approx(
        found.with_forms[0, found.forms.index("form.heat_law")]
    )
    assert np.linalg.eigvalsh(unknowns.correlation).min() > -1e-9
    Design(unknowns.marginals, unknowns.correlation, replicates=2, seed=1)  # refuses what contradicts itself


@check(
    "limit", note="linear: where the other law alone would have put the factors; 0.02, a tenth of the class"
)
def test_with_the_other_law_the_fit_stands_where_it_was_said(
    logged: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    heat = {"form.heat_law": FORMS["form.heat_law"]}
    monkeypatch.setattr(model, "FORMS", heat)
    said = fit(logged)

    class Other(Viewed):
        def see(self, move: Array, nuisances: list[Array], laws: Laws = USUAL) -> list[Seen]:
            return super().see(move, nuisances, heat["form.heat_law"] if laws is USUAL else USUAL)

    monkeypatch.setattr(solve, "Viewed", Other)
    other = fit(logged)
    shift = 2.0 * np.log(said.between[0] / said.value[0])
    assert abs(shift) > 0.01  # Hohenberg takes less heat at low speed: the same torque from less air
    assert np.log(other.value[0] / said.value[0]) == pytest.approx(shift, abs=0.02)


@check("limit", note="a knock factor read without boost is less sure under it, and never less than its class")
def test_what_is_known_of_knock_under_boost(logged: Build, found: Fit) -> None:
    without = fit(
        replace(
            logged, values={k: v for k, v in logged.values.items() if k != "baseline.spark"}, _defaults={}
        )
    )
    class_sd = found.before_sd[KNOCK] / found.before[KNOCK]
    read, untold = (f.between_sd[KNOCK] / f.value[KNOCK] for f in (found, without))
    assert found.sd[KNOCK] / found.value[KNOCK] < 0.75 * class_sd  # the logged spark told it, without boost
    assert found.sd[KNOCK] / found.value[KNOCK] < read < untold <= class_sd * (1 + 1e-9)

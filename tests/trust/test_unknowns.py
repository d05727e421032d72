"""What is not known of a build, and one draw of it."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright import verbs
from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.build.new_file import new_build
from boostwright.build.values import Source
from boostwright.library import turbo_sizes
from boostwright.library.unknowns import unknown_rules
from boostwright.readers.build_file import read_build
from boostwright.systems.engine.types import BurnLaw, HeatLaw
from boostwright.trust.unknowns import drawn_build, drawn_form, unknowns_of
from boostwright.uncertainty.design import Design
from boostwright.uncertainty.marginals import Bounded, HeavyTail, LogNormal, Normal, TwoSided


@pytest.fixture(scope="module", params=["sound", "planted", "highland"])
def build(request: pytest.FixtureRequest) -> Build:
    return verbs.demo_build(request.param)


def test_every_unknown_keeps_the_value_and_the_spread_that_the_file_states(build: Build) -> None:
    for unknown in unknowns_of(build).every:
        if unknown.is_form:
            continue
        value = build[unknown.name]
        inner = unknown.marginal.inner if isinstance(unknown.marginal, Bounded) else unknown.marginal
        if isinstance(inner, TwoSided):
            assert inner.middle == pytest.approx(value.value)
        else:
            assert inner.mean == pytest.approx(float(value.value))
            assert inner.sd == pytest.approx(float(value.sd))
        ends = unknown.marginal.ppf(np.array([1e-9, 1.0 - 1e-9]))
        known = catalogue().field(unknown.name)
        assert known.low is None or ends[0] >= known.low
        assert known.high is None or ends[1] <= known.high


def test_nothing_chosen_known_or_left_out_is_drawn(build: Build) -> None:
    names = set(unknowns_of(build).names)
    assert not names & set(unknown_rules().left_out)
    for name in names:
        if not name.startswith("form."):
            assert not catalogue().field(name).chosen
            assert float(build[name].sd) > 0.0
    assert ("turbo.compressor_inducer" in names) != ("turbo.compressor_map" in build.maps)


def test_shapes_follow_source_and_width(build: Build) -> None:
    rules = unknown_rules()
    for unknown in unknowns_of(build).every:
        if unknown.is_form or not isinstance(unknown.marginal, Bounded):
            continue
        value, inner = build[unknown.name], unknown.marginal.inner
        relative = float(value.sd) / abs(float(value.value)) if value.value else np.inf
        if unknown.name in rules.two_sided and value.source is not Source.MEASURED:
            assert isinstance(inner, TwoSided)
        elif isinstance(inner, LogNormal):
            assert rules.even_up_to < relative <= 1.0
        elif isinstance(inner, HeavyTail):
            assert value.source is Source.MAKER
        else:
            assert isinstance(inner, Normal)


def test_what_moves_together_stands_in_one_group_and_the_rest_alone(build: Build) -> None:
    unknowns = unknowns_of(build)
    groups = unknowns.groups()
    assert sorted(c for g in groups for c in g) == list(range(len(unknowns.every)))
    place = {name: i for i, name in enumerate(unknowns.names)}
    for pair in unknown_rules().together:
        if pair.first in place and pair.second in place:
            assert any({place[pair.first], place[pair.second]} <= set(g) for g in groups)
    Design(unknowns.marginals, unknowns.correlation).block(0)  # the matrix can be one of correlations


def test_a_draw_has_no_spread_left_and_changes_nothing_else(build: Build) -> None:
    unknowns = unknowns_of(build)
    design = Design(unknowns.marginals, unknowns.correlation, seed=3)
    for values in design.block(0):
        made = drawn_build(build, unknowns.names, values)
        assert set(made.values) == set(build.values)
        for name, value in zip(unknowns.names, values, strict=True):
            if name.startswith("form."):
                continue
            assert float(made[name].sd) == 0.0
            assert made.is_stated(name) == build.is_stated(name)
            if build.is_stated(name):
                assert made.number(name) == value
        for path in build.values:
            if path not in unknowns.names:
                assert made[path] == build[path]


def test_an_assumed_value_follows_what_it_is_worked_out_from() -> None:
    build = verbs.demo_build("sound")
    unknowns = unknowns_of(build)
    middle = np.array([float(build[n].value) if not n.startswith("form.") else 0.5 for n in unknowns.names])
    place = {name: i for i, name in enumerate(unknowns.names)}
    assert not build.is_stated("throttle.bore")
    bigger, both = middle.copy(), middle.copy()
    bigger[place["engine.bore"]] *= 1.1
    both[place["engine.bore"]] *= 1.1
    both[place["throttle.bore"]] += 1e-3
    before = drawn_build(build, unknowns.names, middle).number("throttle.bore")
    after = drawn_build(build, unknowns.names, bigger).number("throttle.bore")
    assert after == pytest.approx(1.1 * before)
    assert drawn_build(build, unknowns.names, both).number("throttle.bore") == pytest.approx(after + 1e-3)


def test_the_form_of_the_models_reads_its_own_names_only() -> None:
    names = ("engine.bore", "form.knock_law", "form.heat_law", "form.burn_law", "form.choke", "form.control")
    form = drawn_form(names, np.array([0.08, 1.0, 1.0, 1.0, 1.1, 500.0]))
    assert form.drawn
    assert (form.knock_law, form.control, form.compressor.choke) == (1.0, 500.0, 1.1)
    assert (form.heat_law, form.burn_law) == (HeatLaw.HOHENBERG, BurnLaw.ENTRAINMENT)
    assert form.turbine_area == 1.0


def test_a_fit_brings_its_correlations_and_fixes_the_law_that_it_was_made_with() -> None:
    build = verbs.demo_build("sound")
    plain = unknowns_of(build)
    fitted = unknowns_of(build, {("model.breathing", "model.friction"): 0.4})
    assert "form.heat_law" in plain.names
    assert "form.heat_law" not in fitted.names
    i, j = (fitted.names.index(n) for n in ("model.breathing", "model.friction"))
    assert fitted.correlation[i, j] == fitted.correlation[j, i] == 0.4
    absorbed = set(unknown_rules().absorbed)
    assert absorbed & set(plain.names)
    assert not absorbed & set(fitted.names)


def test_assumed_wheels_stay_where_the_estimate_stands() -> None:
    """Drawn far out, the sizes that nobody stated stop at the wheels on which the estimate stands."""
    bare = read_build(new_build().encode())
    unknowns = unknowns_of(bare)
    wheels, turbines = turbo_sizes.compressor_recipe(), turbo_sizes.turbine_recipe()
    for side in (-3.0, 3.0):
        marginals = zip(unknowns.names, unknowns.marginals, strict=True)
        values = np.array([float(m.mean) + side * float(m.sd) * n.startswith("turbo.") for n, m in marginals])
        drawn = drawn_build(bare, unknowns.names, values)
        inducer, exducer = drawn.number("turbo.compressor_inducer"), drawn.number("turbo.compressor_exducer")
        assert wheels.trim[0] <= 100.0 * (inducer / exducer) ** 2 <= wheels.trim[1]
        low, high = turbines.plausible_diameter
        assert low <= drawn.number("turbo.turbine_inducer") <= high

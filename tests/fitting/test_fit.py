"""The fit: what it must do whatever the numbers, and what it finds on data of its own model with noise.

Engines that follow other laws are asked in `tests/truth`.
"""

from __future__ import annotations

import contextlib
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.errors import OutOfRange
from boostwright.fitting import Fit, fit, fitted_build
from boostwright.fitting.data import conditions_of, rows_of
from boostwright.fitting.model import FACTORS, NUISANCES, Viewed
from boostwright.fitting.record import known_word
from boostwright.fitting.solve import posterior
from boostwright.fitting.words import words_of
from tests.labels import check

Array = NDArray[np.float64]
RPM = np.pi / 30.0
SPEEDS = tuple(float(n) * RPM for n in (1000, 1750, 2500, 3250, 4000, 4750, 5500, 6250))


def row(name: str, values: Array, sd: float) -> StatedValue:
    given = tuple(float(v) for v in values)
    return StatedValue(f"baseline.{name}", given, (sd,) * len(given), Source.MEASURED, 1)


@pytest.fixture(scope="module")
def sound() -> Build:
    return verbs.demo_build("sound")


@pytest.fixture(scope="module")
def middle(sound: Build) -> Build:
    """The demo build with eight speeds, its own computed torque for a curve, nothing else logged."""
    speeds = StatedValue("baseline.speed", SPEEDS, (0.0,) * 8, Source.CHOSEN, 1)
    guess = row("torque", np.full(8, 130.0), 2.6)
    bare = replace(
        sound, values={**sound.values, "baseline.speed": speeds, "baseline.torque": guess}, _defaults={}
    )
    seen = Viewed(bare, conditions_of(bare)).see(np.zeros(len(FACTORS)), [np.zeros(4)])[0]
    torque = np.exp(seen.torque)
    return with_rows(bare, row("torque", torque, 0.02 * float(torque.mean())))


def with_rows(build: Build, *rows: StatedValue) -> Build:
    return replace(build, values={**build.values, **{r.path: r for r in rows}}, _defaults={})


@pytest.fixture(scope="module")
def slopes(middle: Build) -> Array:
    """d ln T / d unknown, (8, 12)."""
    _, found = Viewed(middle, conditions_of(middle)).slopes(np.zeros(len(FACTORS)), np.zeros(4))
    return np.column_stack([s.torque for s in found])


@check("limit", note="with no weight on the data the prior comes back; more data never widen a spread")
def test_the_posterior_of_nothing_is_the_prior_and_data_never_widen_it() -> None:
    rng = np.random.default_rng(4)
    prior = rng.uniform(0.05, 0.5, 6)
    assert np.sqrt(np.diag(posterior(np.zeros((3, 6)), prior))) == pytest.approx(prior)
    J = rng.normal(size=(40, 6)) * 5.0
    spreads = [np.sqrt(np.diag(posterior(J[:m], prior))) for m in range(0, 41, 4)]
    for before, after in itertools.pairwise(spreads):
        assert np.all(after <= before * (1.0 + 1e-12))


@check("reference library", source="numpy", note="linear model: least squares with the prior as more rows")
def test_the_posterior_of_a_linear_model_is_least_squares() -> None:
    rng = np.random.default_rng(5)
    J, prior = rng.normal(size=(12, 4)), np.array([0.1, 0.2, 0.3, 1.0])
    stacked = np.vstack([J, np.diag(1.0 / prior)])
    _, R = np.linalg.qr(stacked)
    inverse = np.linalg.solve(R, np.eye(4))
    assert posterior(J, prior) == pytest.approx(inverse @ inverse.T)


def _column(slopes: Array, name: str) -> Array:
    names = [*FACTORS, *NUISANCES]
    return slopes[:, names.index(name)]


@check("limit", note="columns that torque cannot tell apart: cosines near one from 1750 rpm on; below, less")
@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("model.burn", "model.breathing"),
        ("model.heat", "model.breathing"),
        ("inlet temperature", "model.breathing"),
        ("model.friction", "model.breathing"),
        ("model.heat", "model.burn"),
    ],
)
def test_what_torque_cannot_tell_apart(slopes: Array, first: str, second: str) -> None:
    a, b = _column(slopes, first), _column(slopes, second)
    for from_, least in ((1, 0.93), (0, 0.90)):  # at 1000 rpm backflow makes breathing count for more
        u, v = a[from_:], b[from_:]
        assert abs(u @ v) / np.linalg.norm(u) / np.linalg.norm(v) > least


@check("limit", note="seven factors scaled by 2 %: three numbers stand out, the rest is left to the class")
def test_a_torque_curve_gives_three_numbers(slopes: Array) -> None:
    prior = np.array([0.08, 0.08, 0.08, 0.15, 0.20, 0.15, 0.25])
    singular = np.linalg.svd(slopes[:, :7] * prior / 0.02, compute_uv=False)
    assert singular[2] > 1.5
    assert singular[3] < 1.0


@check("limit", note="signs and sizes of d ln T: more charge, less friction, less wall heat make torque")
def test_slopes_have_the_signs_of_physics(slopes: Array) -> None:
    for name, low, high in (
        ("model.breathing", 0.5, 2.0),  # more charge knocks sooner, and later spark takes a part back
        ("model.friction", -0.30, -0.05),
        ("model.burn", 0.0, 0.15),
        ("model.heat", -0.35, -0.05),
        ("inlet temperature", -1.6, -0.4),
        ("back pressure", -0.2, 0.0),
    ):
        column = _column(slopes, name)
        assert np.all((low <= column) & (column <= high)), (name, column)
    friction = -_column(slopes, "model.friction")
    assert friction[-1] > friction[0]  # friction grows with speed


def test_a_fit_to_its_own_class_stays_there(middle: Build) -> None:
    found = fit(middle)
    assert found.value == pytest.approx(found.before, abs=0.02)
    assert found.chi_square < 0.2
    assert np.all(found.sd <= found.before_sd * (1 + 1e-9))


@check("limit", note="a charge of 6 % more over all speeds, told by torque to its own posterior spread")
def test_another_breathing_is_found(middle: Build) -> None:
    model = Viewed(middle, conditions_of(middle))
    move = np.array([0.06, -0.05, 0.04, 0.0, 0.0, 0.0, 0.0, 0.0])
    torque = np.exp(model.see(move, [np.zeros(4)])[0].torque)
    found = fit(with_rows(middle, row("torque", torque, 0.02 * float(torque.mean()))))
    assert np.log(found.value[0]) == pytest.approx(0.06, abs=1.5 * found.sd[0])
    assert found.value[1] == pytest.approx(-0.05, abs=1.5 * found.sd[1])
    assert found.value[2] == pytest.approx(0.04, abs=1.5 * found.sd[2])
    assert found.sd[0] < 0.06
    assert np.all(found.sd[3:] > 0.8 * found.before_sd[3:])  # the rest was hardly told


def _logged(build: Build, move: Array) -> tuple[Build, Build]:
    """The build with torque of a moved engine, and the same with its spark, air and exhaust logged too."""
    seen = Viewed(build, conditions_of(build)).see(move, [np.zeros(4)])[0]
    torque = row("torque", np.exp(seen.torque), 0.02 * float(np.exp(seen.torque).mean()))
    only = with_rows(build, torque)
    flow = np.exp(seen.air)
    return only, with_rows(
        only,
        row("spark", -seen.spark, np.radians(1.5)),
        row("air_flow", flow, 0.025 * float(flow.mean())),
        row("exhaust_temperature", seen.exhaust - 50.0, 30.0),
    )


def test_logged_spark_and_air_tell_what_torque_cannot(middle: Build) -> None:
    only, more = _logged(middle, np.array([0.03, 0.0, 0.0, 0.1, 0.15, 0.05, 0.2, 0.0]))
    plain, rich = fit(only), fit(more)
    names = list(FACTORS)
    for name, share in (("model.burn", 0.6), ("model.breathing", 0.9), ("model.heat", 0.9)):
        i = names.index(name)
        assert rich.sd[i] < share * plain.sd[i], name
    i = names.index("model.burn")
    assert rich.value[i] == pytest.approx(np.exp(0.15), abs=2.0 * rich.sd[i])
    assert all(rich.sd[k] <= plain.sd[k] * 1.02 for k in range(len(FACTORS)))
    assert any("Told" in w and "burn" in w for w in rich.words)


def _late(middle: Build, degrees: float) -> Fit:
    """The fit with a spark logged so much later than the model's."""
    seen = Viewed(middle, conditions_of(middle)).see(np.zeros(len(FACTORS)), [np.zeros(4)])[0]
    return fit(with_rows(middle, row("spark", -seen.spark - np.radians(degrees), np.radians(1.5))))


def test_a_cautious_spark_tells_little_and_is_said(middle: Build) -> None:
    found = _late(middle, 13.0)
    for name in ("model.burn", "model.knock"):
        i = list(FACTORS).index(name)
        assert found.value[i] == pytest.approx(1.0, abs=0.5 * found.before_sd[i]), name
    assert any("cautious map" in w for w in found.words)


@check(
    "limit", note="no factory gives 30 degrees away: so late a map says that the engine knocks or burns fast"
)
def test_no_map_is_as_cautious_as_that(middle: Build) -> None:
    little, much = _late(middle, 13.0), _late(middle, 30.0)
    moved = [sum(np.abs(f.value[i] / f.before[i] - 1.0) for i in (4, 6)) for f in (little, much)]
    assert moved[1] > moved[0] + 0.1
    line = next(li for li in much.lines if li.what == "spark")
    assert line.used.any()


def test_readings_that_contradict_the_engine_are_said(middle: Build) -> None:
    torque = np.asarray(middle["baseline.torque"].value)
    saw = np.where(np.arange(8) % 2 == 0, 1.12, 0.88)
    found = fit(with_rows(middle, row("torque", torque * saw, 0.01 * float(torque.mean()))))
    assert found.chi_square > 2.5
    assert any("more than their spreads allow" in w for w in found.words)


def test_without_a_curve_there_is_nothing_to_fit_to(sound: Build) -> None:
    bare = replace(
        sound, values={k: v for k, v in sound.values.items() if not k.startswith("baseline.")}, _defaults={}
    )
    with pytest.raises(OutOfRange, match="nothing to fit to"):
        fit(bare)


def test_injector_times_shorter_than_the_dead_time_are_refused(middle: Build) -> None:
    flow = StatedValue("baseline.injector_flow", 3e-6, 6e-8, Source.MEASURED, 1)
    short = with_rows(middle, row("injector_time", np.full(8, 0.5e-3), 1e-5), flow)
    with pytest.raises(OutOfRange, match="dead time"):
        rows_of(short, conditions_of(short))


# ------------------------------------------------------------------------------------------ what is kept


def test_what_is_stated_wins_and_what_was_fitted_stays_assumed(sound: Build) -> None:
    found = fit(sound)
    made = fitted_build(sound, found)
    assert made.values is sound.values
    assert made.fingerprint == sound.fingerprint
    for path, value, sd in zip(found.paths, found.value, found.sd, strict=True):
        assert made.number(path) == value
        assert float(made[path].sd) == sd
        assert made[path].assumed
    stated = replace(
        sound,
        values={
            **sound.values,
            "model.friction": StatedValue("model.friction", 1.2, 0.02, Source.MEASURED, 9),
        },
        _defaults={},
    )
    assert fitted_build(stated, found).number("model.friction") == 1.2


def test_a_fit_survives_its_file_and_anything_else_is_refused(sound: Build) -> None:
    found = fit(sound)
    back = Fit.from_plain(found.to_plain())
    assert np.array_equal(back.value, found.value)
    assert np.array_equal(back.correlation, found.correlation)
    assert back.words == found.words
    plain = found.to_plain()
    rng = np.random.default_rng(1)
    for _ in range(300):
        spoilt = dict(plain)
        key = list(plain)[rng.integers(len(plain))]
        spoilt[key] = [None, "x", [], {}, [[1.0]], float("nan")][rng.integers(6)]
        if rng.random() < 0.3:
            del spoilt[key]
        with contextlib.suppress(KeyError, TypeError, ValueError):
            Fit.from_plain(spoilt)


def test_fit_keep_list_undo_and_check_from_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from boostwright.cli.door import main

    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text)
    file = str(tmp_path / "sound.toml")
    before = (tmp_path / "sound.toml").read_text()
    assert main(["fit", file, "--quiet", "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "kept as revision 1" in said
    assert "three numbers" in said
    assert {p.name for p in (tmp_path / "out").iterdir()} == {"fit.txt", "fit.json", "fit.svg", "fit.png"}
    main(["check", file, "--quiet", "--speeds", "2000 3500 5000"])
    assert "Computed with fit 1" in capsys.readouterr().out
    main(["check", file, "--quiet", "--no-fit", "--speeds", "2000 3500 5000"])
    assert "Computed with fit" not in capsys.readouterr().out
    assert main(["fit", file, "--undo"]) == 0
    assert main(["fit", file, "--undo"]) == 2
    assert main(["fit", file, "--list"]) == 0
    assert "taken back" in capsys.readouterr().out
    assert (tmp_path / "sound.toml").read_text() == before


@check("limit", note="torque and 40 % more air than it takes cannot both be: the breathing for it is named")
def test_an_engine_that_cannot_be_is_named(middle: Build) -> None:
    seen = Viewed(middle, conditions_of(middle)).see(np.zeros(len(FACTORS)), [np.zeros(4)])[0]
    flow = 1.4 * np.exp(seen.air)
    sure = row("air_flow", flow, 0.01 * float(flow.mean()))
    found = fit(with_rows(middle, sure))
    assert found.contradicted
    assert any("How well it breathes came out" in w for w in found.words)
    assert not fit(middle).contradicted


def test_one_reading_far_off_its_row_is_named_with_its_speed(middle: Build) -> None:
    torque = np.asarray(middle["baseline.torque"].value, dtype=float).copy()
    torque[5] *= 0.7
    found = fit(with_rows(middle, row("torque", torque, 0.02 * float(torque.mean()))))
    rpm = float(np.asarray(middle["baseline.speed"].value)[5]) * 30.0 / np.pi
    assert any(f"at {rpm:.0f} rpm" in w and "slip of the pen" in w for w in found.words)


def test_words_and_table_agree_on_what_was_told(middle: Build) -> None:
    found = fit(middle)
    told = next(w for w in found.words if w.startswith("Told:"))
    for path, share in zip(found.paths, found.known, strict=True):
        if path == "model.breathing":
            assert ("how well it breathes" in told) == (known_word(float(share)) == "told")
        if path == "model.knock":
            assert known_word(float(share)) == "no"


@pytest.mark.parametrize(("true", "below"), [(0.6, True), (1.6, False)])
def test_injector_times_of_another_rail_pressure_ask_for_a_gauge(
    middle: Build, true: float, below: bool
) -> None:
    """Times as an engine logs them whose rail has not the stated pressure: more, or less."""
    seen = Viewed(middle, conditions_of(middle)).see(np.zeros(len(FACTORS)), [np.zeros(4)])[0]
    flow, density = 4e-6, float(middle["fuel.density"].value)
    times = np.exp(seen.fuel) / (flow * density * np.sqrt(true)) + 0.9e-3
    stated = StatedValue("baseline.injector_flow", flow, 0.01 * flow, Source.MEASURED, 1)
    dead = StatedValue("baseline.injector_dead_time", 0.9e-3, 2e-5, Source.MEASURED, 1)
    at = [
        StatedValue(f"baseline.{name}", 3e5, 3e3, Source.MEASURED, 1)
        for name in ("fuel_pressure", "injector_flow_pressure")
    ]
    found = fit(with_rows(middle, row("injector_time", times, 1e-5), stated, dead, *at))
    assert (found.rail_of_stated < 1.0) == below
    assert found.rail_of_stated == pytest.approx(true, rel=0.15)  # torque tells the air to some 4 %
    assert Fit.from_plain(found.to_plain()).rail_of_stated == found.rail_of_stated
    assert any("If the rail alone is at fault" in w for w in found.words)
    assert np.isnan(fit(middle).rail_of_stated)


def test_a_row_to_one_side_is_named_with_what_to_check(middle: Build) -> None:
    found = fit(middle)
    line = replace(found.lines[0], read=found.lines[0].after + 2.0 * found.lines[0].sd)
    off = words_of(replace(found, lines=(line,)), middle, (), False, {})
    assert line.aside() == pytest.approx(2.0)
    assert any("above the fitted engine at all speeds" in w and "rolling road" in w for w in off.words)
    mixed = replace(line, read=line.after + line.sd * np.where(np.arange(8) % 2 == 0, 2.0, -2.0))
    assert mixed.aside() == 0.0


@pytest.mark.parametrize(("times", "meant"), [(1.0 / 1.3558, "lb-ft"), (1.3558, "Nm")])
def test_a_curve_in_the_other_unit_is_asked_about(middle: Build, times: float, meant: str) -> None:
    torque = np.asarray(middle["baseline.torque"].value, dtype=float) * times
    found = fit(with_rows(middle, row("torque", torque, 0.02 * float(torque.mean()))))
    assert any(f"was it {meant}" in w for w in found.words)
    assert not any("was it" in w for w in fit(middle).words)

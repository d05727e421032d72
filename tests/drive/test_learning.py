"""What a drive teaches: truths that were drawn, drives of another hand, and what stays unknown."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.drive.expected import Expectation, expect
from boostwright.drive.learned import Learned, LearnedLine, learned_build
from boostwright.drive.learning import learn
from boostwright.drive.records import Notice, Reading
from boostwright.drive.review import scene_of
from boostwright.drive.rows import Rows, rows_of
from boostwright.errors import OutOfRange
from boostwright.readers.drive_log.recording import Recording
from tests.drive.modelled import RPM, drawn, logged, pulls_of, steady_of
from tests.labels import check


def expected(build: Build, **what) -> Expectation:  # type: ignore[no-untyped-def]
    rows, stretches = logged(build, **what)
    return expect(build, rows, pulls_of(stretches), None, steady_of(stretches))


@pytest.fixture(scope="module")
def by_simulator(sound: Build, clean_drive: Recording) -> Learned:
    scene = scene_of(clean_drive, sound)
    found = expect(sound, rows_of(scene.signals), scene.of("pull"), None, scene.of("steady"))
    return learn(sound, found, file=clean_drive.file)


@check(
    "limit",
    note="engines drawn from the prior, the model against itself: square of the error 1 by its spread",
)
def test_the_belief_covers_a_drawn_engine(sound: Build) -> None:
    rng = np.random.default_rng(21)
    square, narrower = [], []
    for seed in range(4):
        factors, z = drawn(sound, rng)
        flow, lam, kilo = 0.014 * rng.normal(), 0.015 * rng.normal(), 1.5e3 * rng.normal()
        what = expected(
            sound,
            factors=factors,
            flow=float(np.exp(flow)),
            noise=0.005,
            seed=seed,
            sensors={"lambda": lam, "manifold_pressure": kilo, "air_flow": 0.04 * rng.normal()},
        )
        found = learn(sound, what)
        truth = {
            "model.breathing": np.exp(0.08 * z["breathing"]),
            "model.breathing_slope": 0.08 * z["slope"],
            "model.friction": np.exp(0.15 * z["friction"]),
            "model.exhaust_cooling": np.exp(0.25 * z["cooling"]),
            "injectors.flow": sound.number("injectors.flow") * np.exp(flow),
            "sensor.lambda": lam,
            "sensor.manifold_pressure": kilo,
        }
        for name, value in truth.items():
            line = found.line(name)
            square.append((line.after - value) ** 2 / line.after_sd**2)
        narrower.append(found.line("model.breathing").known)
    assert np.mean(square) < 1.8  # 1 plus three errors of 28
    assert np.mean(narrower) < 0.7


@check(
    "limit", note="more air than the class has, by the meter: found within three of its spreads, and narrower"
)
def test_more_air_is_found_where_it_was_driven_and_nowhere_else(sound: Build) -> None:
    usual = learn(sound, expected(sound))
    rows, stretches = logged(sound)
    bump = 1 + 0.10 * np.exp(-(((rows.values["engine_speed"] / RPM - 4000) / 500) ** 2))
    more = {"air_flow": bump * rows.values["air_flow"]}
    parts = rows.values["injector_pulse"]
    more["injector_pulse"] = 0.9e-3 + (parts - 0.9e-3) * bump
    other = Rows(rows.t, rows.row, {**rows.values, **more})
    found = learn(sound, expect(sound, other, pulls_of(stretches), None, steady_of(stretches)))
    chart = found.breathing
    i, top = int(np.argmin(np.abs(chart.speed - 4000 * RPM))), chart.pressure.size - 2
    assert chart.covered[i, top]
    assert abs(chart.factor[i, top] - 1.10) < 3 * chart.sd[i, top]
    assert chart.factor[i, top] > usual.breathing.factor[i, top] + 0.03
    assert chart.sd[i, top] < 0.6 * chart.before_sd[i, top]
    # at light load and high speed nobody drove
    assert not chart.covered[-1, 0]
    assert chart.sd[-1, 0] > 1.5 * chart.sd[i, top]
    assert any("smooth continuation" in w for w in found.words)


@check(
    "measured", source="tools/drives", note="another hand's engine; it says that its sensors have no offset"
)
def test_sound_sensors_and_injectors_of_the_simulator_are_found_sound(
    by_simulator: Learned, sound: Build
) -> None:
    for name in ("sensor.manifold_pressure", "sensor.lambda", "sensor.intake_temperature"):
        line = by_simulator.line(name)
        assert abs(line.after) < 2.6 * line.after_sd  # 1 % of three that are free
    flow = by_simulator.line("injectors.flow")
    assert abs(flow.after - sound.number("injectors.flow")) < 2.6 * flow.after_sd
    scale = by_simulator.line("road.scale")
    assert abs(scale.after) < 2.6 * scale.after_sd  # mass, gears and tyre are those of the file


@check("measured", source="tools/drives", note="what is left is what the spreads say: mean square below 2")
def test_the_answer_fits_the_simulator_better_than_the_class(
    by_simulator: Learned, sound: Build, clean_drive: Recording
) -> None:
    assert 0.3 < by_simulator.chi_square < 2.0
    assert by_simulator.left < 2.0
    assert by_simulator.line("model.breathing").known < 0.7
    scene = scene_of(clean_drive, sound)
    rows = rows_of(scene.signals)
    before = expect(sound, rows, scene.of("pull"))
    after = expect(learned_build(sound, by_simulator), rows, scene.of("pull"))
    for key in ("air_injectors", "torque"):
        old, new = (next(r for r in e.rows if r.key == key) for e in (before, after))
        assert np.sqrt(np.mean(new.off**2)) < 0.8 * np.sqrt(np.mean(old.off**2))
        assert np.median(new.band(after.spreads)) < np.median(old.band(before.spreads))


def test_silence_at_the_limit_moves_the_knock_factor_and_noise_the_other_way(sound: Build) -> None:
    early = {"spark_advance": np.radians(30.0)}
    quiet = learn(sound, expected(sound, **early)).line("model.knock")
    assert quiet.after < quiet.before
    assert quiet.known < 1.0
    loud = learn(sound, expected(sound, spark_advance=np.radians(10.0), knock_retard=np.radians(4.0)))
    assert loud.line("model.knock").after > quiet.before
    deaf = learn(sound, expected(sound, knock_retard=np.nan, **early)).line("model.knock")
    assert deaf.after == pytest.approx(deaf.before)
    assert deaf.known == pytest.approx(1.0)


def test_spark_past_the_limit_in_silence_teaches_though_it_is_a_finding(sound: Build) -> None:
    known = {"model.knock": 0.04, "model.knock_warmth": 0.03, "model.breathing": 0.02, "model.burn": 0.05}
    known |= {"model.breathing_slope": 0.02, "model.breathing_curve": 0.02}
    fitted = replace(sound, _defaults={path: replace(sound[path], sd=sd) for path, sd in known.items()})
    found = expected(fitted, spark_advance=np.radians(42.0))
    assert any(n.kind == "knock-past-the-model" for n in found.notices)
    taught = learn(fitted, found)
    # all that may be wrong gives way a little, by how unsure it is: the law's own error more than the factor
    assert taught.line("model.knock").moved < -0.2
    assert taught.line("form.knock").moved < -0.2
    deaf = learn(fitted, expected(fitted, spark_advance=np.radians(42.0), knock_retard=np.nan))
    assert deaf.line("form.knock").after == pytest.approx(0.0)


@check("limit", note="a second drive of the same drawn engine: narrower again, and still over the truth")
def test_drives_add_up_and_none_counts_twice(sound: Build) -> None:
    factors, z = drawn(sound, np.random.default_rng(33))
    first = learn(sound, expected(sound, factors=factors, noise=0.005, seed=1), file="one.csv")
    better = learned_build(sound, first)
    again = expected(better, factors=factors, noise=0.005, seed=2)
    second = learn(better, again, file="two.csv")
    a, b = first.line("model.breathing"), second.line("model.breathing")
    assert b.before == a.after
    assert b.after_sd < a.after_sd
    assert abs(b.after - np.exp(0.08 * z["breathing"])) < 3 * b.after_sd
    with pytest.raises(OutOfRange, match=r"'one.csv' taught"):
        learn(better, again, file="one.csv")


def test_what_the_review_calls_a_fault_teaches_nothing(sound: Build) -> None:
    rows, stretches = logged(sound)
    first = pulls_of(stretches)[0]
    bad = rows.t <= first.end
    values = dict(rows.values, injector_pulse=np.where(bad, 1.12, 1.0) * rows.values["injector_pulse"])
    found = expect(sound, Rows(rows.t, rows.row, values), pulls_of(stretches), None, steady_of(stretches))
    fault = Notice("lean", True, first.start, first.end, 0, 1, Reading("x", 1.0, 0.1, "share"), 9.0, ())
    with_it, without = learn(sound, found), learn(sound, found, (fault,))
    clean = learn(sound, expected(sound))
    name = "injectors.flow"
    assert abs(without.line(name).after - clean.line(name).after) < abs(
        with_it.line(name).after - clean.line(name).after
    )
    assert without.readings < with_it.readings


def test_the_record_comes_back_to_the_last_bit_and_damage_is_refused(by_simulator: Learned) -> None:
    plain = json.loads(json.dumps(by_simulator.to_plain()))
    again = Learned.from_plain(plain)
    assert again.to_plain() == by_simulator.to_plain()
    assert again.together() == by_simulator.together()
    for key, value in (("form", 99), ("correlation", [[1.0]])):
        with pytest.raises(ValueError, match=r"form|fields"):
            Learned.from_plain({**plain, key: value})
    broken = {**plain, "breathing": {**plain["breathing"], "factor": [[1.0]]}}
    with pytest.raises(ValueError, match="axes"):
        Learned.from_plain(broken)


def test_the_build_takes_what_was_learned_and_gives_it_back(by_simulator: Learned, sound: Build) -> None:
    taught = learned_build(sound, by_simulator)
    for path in ("model.breathing", "injectors.dead_time"):
        line = by_simulator.line(path)
        assert taught[path].value == line.after
        assert taught[path].sd == line.after_sd
        assert "recorded drive" in taught[path].note
    assert taught["injectors.dead_time"].source is sound["injectors.dead_time"].source
    assert taught.is_stated("injectors.dead_time")
    assert not taught.is_stated("model.breathing")
    assert taught["car.mass"] == sound["car.mass"]
    untold = replace(by_simulator, lines=tuple(replace(line, known=1.0) for line in by_simulator.lines))
    assert learned_build(sound, untold)["model.breathing"].value == sound["model.breathing"].value


def test_too_little_is_refused(sound: Build) -> None:
    what = expected(
        sound,
        injector_pulse=np.nan,
        air_flow=np.nan,
        exhaust_temperature=np.nan,
        fuel_pressure_difference=np.nan,
    )
    bare = replace(what, rows=())
    with pytest.raises(OutOfRange, match="holds 0 places"):
        learn(sound, bare)


def test_what_moved_too_far_to_be_believed_is_not_taken_over(sound: Build, by_simulator: Learned) -> None:
    flow = by_simulator.line("injectors.flow")
    far = replace(flow, after=flow.before + 4.0 * flow.before_sd, known=0.3)
    near = replace(flow, after=flow.before + 2.0 * flow.before_sd, known=0.3)

    def with_flow(line: LearnedLine) -> Learned:
        lines = tuple(line if one.name == line.name else one for one in by_simulator.lines)
        return replace(by_simulator, lines=lines)

    assert learned_build(sound, with_flow(near)).number("injectors.flow") == near.after
    assert learned_build(sound, with_flow(far)).number("injectors.flow") == flow.before
    assert [line.name for line in with_flow(far).doubtful if line.name == flow.name] == [flow.name]


@pytest.mark.parametrize(("moves", "taken"), [(4.0, True), (-4.0, False)])
def test_more_knock_is_believed_however_far_and_less_is_not(
    sound: Build, by_simulator: Learned, moves: float, taken: bool
) -> None:
    old = by_simulator.line("model.knock")
    new = replace(old, after=old.before + moves * old.before_sd, known=0.3)
    lines = tuple(new if one.name == old.name else one for one in by_simulator.lines)
    build = learned_build(sound, replace(by_simulator, lines=lines))
    assert build.number("model.knock") == (new.after if taken else sound.number("model.knock"))

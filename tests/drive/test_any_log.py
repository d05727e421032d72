"""Logs of any kind: nothing but an answer or a clear refusal comes out of comparing, learning and reading."""

from __future__ import annotations

import json

import numpy as np
import pytest

import boostwright
from boostwright.build.document import Build
from boostwright.drive.expected import expect
from boostwright.drive.learned import Learned, learned_build
from boostwright.drive.learning import learn
from boostwright.drive.pull_readings import pull_values
from boostwright.drive.records import Stretch
from boostwright.drive.rows import Rows
from boostwright.errors import BoostwrightError
from tests.drive.conftest import SOUND
from tests.drive.modelled import logged, pulls_of, steady_of


def spoiled(rows: Rows, rng: np.random.Generator) -> Rows:
    """The drive with channels lost, holed, frozen, of another unit, coarse, or with a wild reading."""
    values = {key: np.array(column) for key, column in rows.values.items()}
    values |= {
        "road_speed": values["engine_speed"] * 0.05,
        "acceleration": np.full(rows.t.shape, 0.1),
        "altitude": np.full(rows.t.shape, 300.0),
        "boost_target": np.full(rows.t.shape, 137e3),
    }
    for key in list(values):
        column, luck = values[key], rng.random()
        if luck < 0.10:
            del values[key]
        elif luck < 0.16:
            column[:] = np.nan
        elif luck < 0.24:
            column[rng.random(column.size) < 0.5] = np.nan
        elif luck < 0.29:
            column[:] = column[0]
        elif luck < 0.34:
            column *= rng.choice([0.0, -1.0, 10.0, 0.1, 1e6, 1e-9])
        elif luck < 0.38:
            column[rng.integers(column.size)] = rng.choice([1e30, -1e30, 0.0])
        elif luck < 0.42:
            step = np.nanmax(np.abs(column)) / 4 + 1e-9
            values[key] = np.round(column / step) * step
    return Rows(rows.t, rows.row, values)


@pytest.mark.parametrize("seed", range(8))
def test_any_log_is_answered_or_refused(sound: Build, seed: int) -> None:
    rng = np.random.default_rng(seed)
    whole, stretches = logged(sound)
    if seed % 4 == 3:
        stretches = tuple(Stretch("pull", s.start, s.start + 2 * rng.random(), 0, 1) for s in stretches)
    others = sorted(SOUND.parent.glob("*.toml"))
    build = boostwright.load_build(others[seed % len(others)])
    rows = spoiled(whole, rng)
    try:
        found = expect(build, rows, pulls_of(stretches), None, steady_of(stretches))
        for stretch, power in zip(pulls_of(stretches), found.powers, strict=True):
            figures = pull_values(stretch, rows, found.outside, power)
            assert all(np.isfinite(value) for value, _ in figures.values())
            assert power.refused or np.all(power.crank_sd > 0)
        for one in found.compared:
            assert np.isfinite(one.ratio).all()
        taught = learn(build, found)
    except BoostwrightError as refusal:
        taught, words = None, str(refusal)
    if taught is None:
        assert len(words) > 20
        return
    assert all(np.isfinite([line.after, line.after_sd]).all() for line in taught.lines)
    assert Learned.from_plain(json.loads(json.dumps(taught.to_plain()))).readings == taught.readings
    learned_build(build, taught)

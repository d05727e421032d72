"""Tasks of builds of many kinds: other engines, fields drawn at random, fields taken out."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.planning.tasks import left_out_for, tasks_for
from tests.mutation_builds import SOUND_BUILDS, with_its_map
from tests.planning.tasks.builds import changed
from tests.planning.tasks.test_network import faults

CHOSEN = (
    "battery.position breather.outlet cooler.type cooler.position controller.load exhaust.probe"
    " injectors.condition manifold.kind oil.sump_entry pump.earth pump.fitted regulator.reference"
    " turbo.bearing wastegate.control wastegate.type small_lines.servo"
)
FLAGS = (
    "blow_off.fitted breather.one_way_valve controller.knock_sensor exhaust.catalyst oil.cooler pump.relay"
    " turbo.water_cooled"
)
LOST = (
    "oil.sump_volume oil.added_volume oil.drain_drop oil.drain_bore cooling.volume pipes.length"
    " pump.cable_length wastegate.spring injectors.flow ignition.plug_gap controller.boost_cut"
    " breather.length car.brake_fluid_date engine.compression_pressure"
)


def sound(build: Build) -> None:
    tasks, gone = tasks_for(build), left_out_for(build)
    assert not faults(tasks)
    for task in tasks:
        assert task.why
        assert all(text.endswith(".") for text in task.amounts), task.amounts
        for text in (*task.amounts, task.why):
            assert "None" not in text
            assert "nan" not in text.split()
        assert all(need.quantity >= 0.0 for need in task.needs)
    assert all(out.because for out in gone)
    assert tasks == tasks_for(build)


@pytest.mark.parametrize("name", list(SOUND_BUILDS))
def test_engines_of_all_kinds(name: str) -> None:
    sound(with_its_map(SOUND_BUILDS[name]))


def _choice(path: str) -> st.SearchStrategy[str]:
    return st.sampled_from([f'"{key}"' for key in catalogue().field(path).choices])


fields = st.fixed_dictionaries(
    {},
    optional={
        **{path: _choice(path) for path in CHOSEN.split()},
        **{path: st.sampled_from(["true", "false"]) for path in FLAGS.split()},
        **{path: st.none() for path in LOST.split()},
        "oil.relief_shim": st.sampled_from(['"0 mm"', '"0.5 mm"', '"1.5 mm"']),
        "engine.distance": st.integers(0, 900_000).map(lambda km: f'"{km} km"'),
        "goal.boost": st.floats(0.1, 1.0).map(lambda bar: f'"{bar:.2f} bar"'),
    },
)


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(said=fields)
def test_any_mixture_of_what_a_file_can_say(said: dict[str, str | None]) -> None:
    sound(changed(said))

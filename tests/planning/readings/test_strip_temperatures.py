"""What the strips on the neighbours may show: each its own, by the limits that the check judges with."""

from __future__ import annotations

import dataclasses

from boostwright import verbs
from boostwright.build.recorded import Standing
from boostwright.library.measurements import measurements
from boostwright.planning.readings import Ground, expected_of
from boostwright.planning.readings.judged import judge_values
from tests.labels import check

STRIPS = measurements()["strip_temperatures"]


@check(
    "published",
    id="LD22",
    source="fmvss116",
    note="DOT 4: wet boiling point of 155 degC at least, printed; the hose of the demo's clutch carries it",
)
def test_each_named_neighbour_has_its_limit_in_words() -> None:
    build = verbs.demo_build("sound")
    found = expected_of(STRIPS, Ground(build, None, {}))
    assert found is not None
    for row in build.table("neighbours"):
        assert str(row["what"].value) in found.why
    assert "clutch hose 155 degC" in found.why
    assert found.low is None
    assert found.high is not None
    assert judge_values(STRIPS, (273.15 + 90.0, found.high - 1.0), found)[0] is Standing.INSIDE
    state, place, _ = judge_values(STRIPS, (273.15 + 90.0, found.high + 30.0), found)
    assert state in (Standing.OUTSIDE, Standing.FAR)
    assert place == 1


def test_without_neighbours_there_is_no_range() -> None:
    build = verbs.demo_build("sound")
    bare = dataclasses.replace(build, tables={**build.tables, "neighbours": ()}, _defaults={})
    assert expected_of(STRIPS, Ground(bare, None, {})) is None

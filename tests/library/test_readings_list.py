"""Cheap readings and the measurements of the job: one place for instrument and minutes, one field."""

from __future__ import annotations

from boostwright.build.catalogue import catalogue
from boostwright.build.values import Source
from boostwright.library.measurements import measurements
from boostwright.library.readings import cheap_readings
from boostwright.library.repeatability import repeatability


def test_linked_readings_are_the_same_thing() -> None:
    linked = [one for one in cheap_readings().values() if one.measurement]
    assert len(linked) >= 6
    for one in linked:
        same = measurements()[one.measurement]
        assert same.field in one.settles, one.key
        assert (one.instrument, one.minutes) == (same.instrument, same.minutes)


def test_repeatability_comes_from_the_measurements_alone() -> None:
    for field, repeat in repeatability().items():
        stating = [one for one in measurements().values() if one.field == field and one.repeat is not None]
        assert stating[0].repeat == repeat.spread
        assert repeat.source


def test_a_reading_scatters_no_less_than_its_value_is_known() -> None:
    """From day to day at least half of what one measured value of the field is uncertain by."""
    for one in measurements().values():
        if one.field not in catalogue().fields or one.repeat is None or one.possible is None:
            continue
        middle = 0.5 * (one.possible[0] + one.possible[1])
        known = catalogue().field(one.field).spread_for(Source.MEASURED).at(middle)
        assert one.repeat.at(middle) > 0.0, one.key
        assert one.repeat.at(middle) >= 0.2 * known, one.key

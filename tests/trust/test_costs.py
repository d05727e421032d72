"""What readings cost, as the list has it and as a builder changes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.errors import BuildFileError
from boostwright.library.readings import WHEN, cheap_readings
from boostwright.trust.costs import costs_of


def build(tmp_path: Path, more: str) -> Build:
    file = tmp_path / "car.toml"
    file.write_text(verbs.new_build() + more)
    return verbs.load_build(file)


def test_every_reading_settles_fields_that_there_are_and_says_how() -> None:
    assert len(cheap_readings()) >= 25
    for reading in cheap_readings().values():
        assert reading.settles
        assert reading.when in WHEN
        assert reading.words
        assert reading.instrument
        assert reading.basis
        assert reading.minutes >= 0.0 <= reading.price
        for path, after in reading.settles.items():
            known = catalogue().field(path)
            assert "check" in known.used_by, path
            assert (after.fixed > 0.0) != (after.proportional > 0.0)
            default = catalogue().default(path, "four-valve")
            if default is not None and isinstance(default.value, float) and default.value:
                assert after.at(default.value) < default.spread.at(default.value), path


def test_readings_with_petrol_or_hot_parts_carry_a_caution() -> None:
    for key in ("static_fuel_pressure", "pump_flow", "rail_under_load", "fuel_lines", "exhaust_temperature"):
        assert cheap_readings()[key].caution


def test_time_and_price_of_the_file_go_before_the_list(tmp_path: Path) -> None:
    usual = costs_of(build(tmp_path, ""))
    changed = costs_of(
        build(
            tmp_path,
            '\n[[costs]]\nreading = "static_fuel_pressure"\nminutes = "1 h"\nprice = "0 EUR"\n'
            '\n[[costs]]\nreading = "throttle_bore"\nprice = "7 EUR"\n',
        )
    )
    assert usual["static_fuel_pressure"].whole == pytest.approx(10.0 / 60.0 * 20.0 + 25.0)
    assert changed["static_fuel_pressure"] == pytest.approx((60.0, 0.0, 20.0))
    assert changed["throttle_bore"].price == 7.0
    assert changed["throttle_bore"].minutes == usual["throttle_bore"].minutes
    assert changed["barometer"] == usual["barometer"]


def test_a_reading_that_is_none_is_answered_with_line_and_near_names(tmp_path: Path) -> None:
    bad = build(tmp_path, '\n[[costs]]\nreading = "static_fuel_presure"\nminutes = "5 min"\n')
    with pytest.raises(BuildFileError, match="static_fuel_pressure") as told:
        costs_of(bad)
    assert told.value.faults[0].line > 1
    twice = build(tmp_path, "\n" + 2 * '[[costs]]\nreading = "barometer"\nminutes = "5 min"\n')
    with pytest.raises(BuildFileError, match="twice"):
        costs_of(twice)

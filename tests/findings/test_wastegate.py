"""Boost wanted, cut and sensor in their order; torque wanted; what nobody reads is said."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from boostwright.build.document import Build
from boostwright.findings.judgement import _not_judged
from boostwright.findings.model import Verdict
from boostwright.readers.build_file import read_build
from boostwright.views.document import to_json
from boostwright.views.numbers import fill
from boostwright.views.terminal import terminal_report
from tests.findings.test_subjects import MINIMAL, build, case, found
from tests.sample import result


def test_the_cut_stands_between_boost_and_the_top_of_the_sensor() -> None:
    def with_cut(cut: str, top: str = "250 kPa") -> str:
        return f'[controller]\nboost_cut = "{cut}"\n[pressure_sensor]\nhighest = "{top}"\n'

    assert found("boost.cut", case(build(rest=with_cut("205 kPa")))).verdict is Verdict.HOLDS
    low = found("boost.cut", case(build(rest=with_cut("165 kPa"))))
    assert low.verdict is Verdict.BREAKS
    assert low.demand is not None
    assert low.demand.value == pytest.approx(1.0e5 + 0.6e5 + 8e3 + 10e3)  # creep and spike by default
    stiff = '[wastegate]\nspring = "0.9 bar"\n' + with_cut("205 kPa")
    assert found("boost.cut", case(build(rest=stiff))).verdict is not Verdict.HOLDS
    assert found("sensor.cut", case(build(rest=with_cut("205 kPa")))).verdict is Verdict.HOLDS
    assert found("sensor.cut", case(build(rest=with_cut("205 kPa", "150 kPa")))).verdict is Verdict.BREAKS


def test_torque_wanted_is_set_against_the_torque_computed() -> None:
    def wanting(torque: int) -> Verdict:
        return found("goal.torque", case(_wanting(torque))).verdict

    given = case()
    assert given.goal is not None
    best = float(given.goal.result.torque.max())
    assert wanting(round(0.8 * best)) is Verdict.HOLDS
    assert wanting(round(1.2 * best)) is Verdict.BREAKS
    one = found("goal.torque", case(_wanting(round(1.2 * best))))
    assert "more boost" in fill(one.remedy)


def _wanting(torque: int) -> Build:
    text = MINIMAL.format(engine="", fuel="", rest="").replace("[goal]", f'[goal]\ntorque = "{torque} Nm"')
    return read_build(text.encode())


def test_what_is_stated_and_read_by_nobody_is_said_on_every_door() -> None:
    rest = '[wastegate]\nspring = "0.5 bar"\n[controller]\nknock_sensor = true\n'
    assert _not_judged(build(rest=rest)) == ("controller.knock_sensor",)
    told = replace(result(), not_judged=("controller.knock_sensor",))
    assert "Stated but not judged yet: controller.knock_sensor." in terminal_report(told)
    assert json.loads(to_json(told))["not_judged"] == ["controller.knock_sensor"]
    assert "Stated but not judged yet" not in terminal_report(result())

"""The register of rules, the limits and the notes."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from boostwright.errors import UnknownField
from boostwright.findings.limits import LimitEdit, shipped_limits
from boostwright.findings.model import Amount, Kind
from boostwright.findings.notes import cautions_for, deference, not_covered
from boostwright.findings.registry import rules
from boostwright.quantity import Dimension, find_unit
from boostwright.views.units import SHOWN


def test_every_rule_describes_itself() -> None:
    assert len(rules()) >= 15
    for rule in rules():
        assert re.fullmatch(r"[a-z]+\.[a-z_]+", rule.code)
        assert rule.asks.endswith("?")
        for words in (rule.subject, rule.demand, rule.capacity, rule.harm_words):
            assert words.strip() == words
            assert words
        assert len(rule.subject) <= 40
        for key in rule.limits:
            assert key in shipped_limits()


def test_every_limit_has_a_reason_a_spread_and_a_source_and_is_used() -> None:
    used = {key for rule in rules() for key in rule.limits}
    for key, limit in shipped_limits().items():
        assert limit.amount.sd is not None
        assert len(limit.record.reason) > 20
        assert limit.record.source
        assert not limit.record.edited
        assert key in used, f"limit {key} is used by no rule"


def test_a_rule_finds_its_limits_on_its_own_side() -> None:
    for rule in rules():
        for key in rule.limits:
            limit = shipped_limits()[key]
            if (
                limit.amount.kind is not Kind.CRANK_DIFFERENCE
                and key != "pump_reserve"
                and rule.code != "fuel.octane"
            ):
                assert limit.sense is rule.sense, f"{rule.code} and {key} disagree on the safe side"


def test_an_edited_limit_shows_as_edited() -> None:
    edit = LimitEdit("injector_duty", 0.9, None, "bench-flowed set, closed at 92 %")
    changed = shipped_limits().edited((edit,))
    limit = changed["injector_duty"]
    assert limit.amount.value == 0.9
    assert limit.amount.sd == shipped_limits()["injector_duty"].amount.sd
    assert limit.record.edited
    assert "bench-flowed" in limit.record.edit_reason
    assert not shipped_limits()["injector_duty"].record.edited


def test_an_edit_without_a_reason_is_refused() -> None:
    with pytest.raises(ValueError, match="say why"):
        shipped_limits().edited((LimitEdit("injector_duty", 0.9, None, " "),))


def test_an_unknown_limit_is_named() -> None:
    with pytest.raises(UnknownField, match="no limit named 'duty'"):
        shipped_limits()["duty"]


def test_cautions_stand_where_work_can_hurt() -> None:
    for code in ("fuel.pump_flow", "exhaust.valve", "sensor.range", "engine.leak_down", "knock.half_burned"):
        assert cautions_for(code), code
    assert "vehicle manual" in deference()
    assert "law" in deference()


def test_what_is_not_covered_is_a_list_of_sentences() -> None:
    assert len(not_covered()) >= 6
    assert all(item.endswith(".") for item in not_covered())


UNITS = {
    Kind.PRESSURE: ("bar", Dimension.PRESSURE),
    Kind.PRESSURE_DIFFERENCE: ("bar", Dimension.PRESSURE),
    Kind.TEMPERATURE: ("degC", Dimension.TEMPERATURE),
    Kind.CRANK_ANGLE: ("deg", Dimension.ANGLE),
    Kind.ENGINE_SPEED: ("rpm", Dimension.ROTATION),
    Kind.SHAFT_SPEED: ("rpm", Dimension.ROTATION),
    Kind.VELOCITY: ("m/s", Dimension.SPEED),
    Kind.FORCE: ("kN", Dimension.FORCE),
    Kind.SPRING_LOAD: ("N", Dimension.FORCE),
    Kind.POWER: ("kW", Dimension.POWER),
    Kind.SHARE: ("%", Dimension.SHARE),
    Kind.MASS_FLOW: ("g/s", Dimension.MASS_FLOW),
    Kind.VOLUME_FLOW: ("L/h", Dimension.VOLUME_FLOW),
    Kind.INJECTOR_FLOW: ("cc/min", Dimension.VOLUME_FLOW),
    Kind.TIME: ("min", Dimension.TIME),
    Kind.LENGTH: ("mm", Dimension.LENGTH),
}


@pytest.mark.parametrize("kind", list(UNITS))
def test_units_shown_are_the_units_read(kind: Kind) -> None:
    name, dimension = UNITS[kind]
    unit = find_unit(name, dimension)
    assert SHOWN[kind].factor == pytest.approx(unit.factor, rel=1e-15)
    assert SHOWN[kind].offset == unit.offset
    assert SHOWN[kind].unit.split()[0] == name


def test_every_kind_has_a_unit() -> None:
    assert set(SHOWN) == set(Kind)


def test_limits_are_in_si() -> None:
    assert shipped_limits()["exhaust_valve"].amount == Amount(
        1273.15, 25.0, Kind.TEMPERATURE, "exhaust valve of a naturally aspirated engine"
    )
    assert shipped_limits()["peak_pressure_stock"].amount.value == 105e5
    assert shipped_limits()["usual_torque_four_valve"].amount.value == pytest.approx(85e3)  # 85 N m/L


def test_the_findings_page_is_current() -> None:
    """docs/findings.md is what tools/make_findings_page.py writes."""
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, str(root / "tools" / "make_findings_page.py"), "--check"],
        capture_output=True,
        timeout=120,
    )
    assert done.returncode == 0, "run: .venv/bin/python tools/make_findings_page.py"

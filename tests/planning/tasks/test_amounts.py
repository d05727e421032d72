"""Quantities follow the build, in the unit that the list names."""

from __future__ import annotations

import pytest

from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.amounts import amounts, how_much
from boostwright.planning.tasks.ground import Ground
from boostwright.verbs import demo_build, demo_builds
from tests.labels import check
from tests.planning.tasks.builds import changed


def need(key: str, item: str, fields: dict[str, str | None]) -> tuple[float, str]:
    task = next(one for one in tasks_for(changed(fields)) if one.key == key)
    found = next(one for one in task.needs if one.item == item)
    return found.quantity, found.unit


@check("limit", note="sums of stated volumes and lengths, reckoned by hand; lengths with a tenth to spare")
@pytest.mark.parametrize(
    ("key", "item", "fields", "expected", "unit"),
    [
        ("oil.fill", "engine oil", {}, 3.9 + 0.3 + 0.3, "L"),
        ("oil.fill", "engine oil", {"oil.sump_volume": '"5 L"', "oil.extra_fill": '"0 L"'}, 5.3, "L"),
        ("prove.coolant", "coolant", {"turbo.water_cooled": "true", "cooling.volume": '"6 L"'}, 6.0, "L"),
        (
            "battery.cable",
            "battery cable",
            {"battery.position": '"boot"', "battery.cable_length": '"5 m"'},
            5.5,
            "m",
        ),
        (
            "battery.cable",
            "cable clips",
            {"battery.position": '"boot"', "battery.cable_length": '"5 m"'},
            17.0,
            "pieces",
        ),
        ("fuel.pump_wiring", "pump wire", {}, 3.6 * 2 * 1.1, "m"),
        ("fuel.pump_wiring", "pump wire", {"pump.earth": '"body"'}, 3.6 * 1.1, "m"),
        ("charge.pipes", "charge pipe", {"pipes.length": '"3 m"'}, 3.3, "m"),
        ("charge.plugs", "spark plugs, colder", {}, 4.0, "pieces"),
        ("turbo.manifold_on", "manifold studs", {}, 9.0, "pieces"),
        ("turbo.on", "locking nuts, turbo", {}, 4.0, "pieces"),
        ("breathing.vent", "breather hose", {"breather.hoses": "2"}, 0.6 * 2 * 1.1, "m"),
        ("charge.gate_hose", "hose clamps, small", {"wastegate.control": '"spring"'}, 2.0, "pieces"),
    ],
)
def test_how_much(key: str, item: str, fields: dict[str, str | None], expected: float, unit: str) -> None:
    quantity, found_unit = need(key, item, fields)
    assert quantity == pytest.approx(expected, rel=1e-9)
    assert found_unit == unit


@pytest.mark.parametrize("name", demo_builds())
def test_what_is_needed_is_a_number_above_nothing_or_a_sentence_asks_for_the_field(name: str) -> None:
    for task in tasks_for(demo_build(name)):
        for one in task.needs:
            asked = any("state " in text or "not stated" in text for text in task.amounts)
            assert one.quantity > 0.0 or asked, (task.key, one)


@pytest.mark.parametrize("name", list(amounts()))
def test_every_rule_answers_for_every_demo_and_ends_its_sentence(name: str) -> None:
    for demo in demo_builds():
        found = how_much(Ground(demo_build(demo)), name)
        assert found.value is None or found.value >= 0.0
        assert found.words == "" or found.words.endswith(".")


def test_an_unstated_length_asks_for_its_field() -> None:
    found = how_much(Ground(changed({"pump.cable_length": None, "pump.cable_area": None})), "pump wire")
    assert found.value is None
    assert "pump.cable_length" in found.words


def test_the_law_is_asked_about_what_the_file_plans_and_never_advised_around() -> None:
    build = changed({"exhaust.catalyst": "false", "breather.outlet": '"open"', "blow_off.outlet": '"open"'})
    words = how_much(Ground(build), "law").words
    assert "offence" in words
    assert "nothing in this plan takes one out" in words
    assert "open air" in words
    assert how_much(Ground(changed({})), "law").words == ""

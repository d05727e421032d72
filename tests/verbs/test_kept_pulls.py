"""Pulls that are kept: bit for bit what was computed; stale and damaged ones are computed anew."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import boostwright.planning.ladder as planning
from boostwright import verbs
from boostwright.build.document import Build
from boostwright.planning.ladder import Air, Condition, air_of
from boostwright.planning.ladder.conditions import Broken, Gives
from boostwright.planning.ladder.kept import conditions_from, conditions_text, mark_of
from boostwright.verbs.kept_pulls import kept_conditions, pulls_of
from tests.planning.ladder.made import RPM, build, condition

Pair = tuple[Condition, Condition | None]


def full() -> Pair:
    """Two conditions in which every kind of part holds something, with numbers that do not print short."""
    awkward = np.array([0.1, 1.0 / 3.0, math.nan, math.inf, 5e-324, -0.0])
    spring = condition(
        idle=math.pi * 1e4, back=awkward, knock=Gives(1.0 / 3.0, 0.1, "knock"),
        broken=(Broken("Duty", "fuel.injector_duty"),), rods_from=2777.7 * RPM, warnings=("one",),
        sure_cut=math.inf,
    )  # fmt: skip
    return spring, condition(38.0e3, strength=Gives(2.2e5, 3.0, "rods"), crankcase=np.empty(0))


def same(one: Condition | None, other: Condition | None) -> bool:
    """Equal to the last bit, NaN included; what it was made from is not kept."""
    if one is None or other is None:
        return one is other
    for part in dataclasses.fields(Condition):
        a, b = getattr(one, part.name), getattr(other, part.name)
        if part.name == "case":
            continue
        if isinstance(a, np.ndarray):
            if not isinstance(b, np.ndarray) or a.tobytes() != b.tobytes() or a.shape != b.shape:
                return False
        elif part.name == "limits":
            if dict(a) != dict(b):
                return False
        elif repr(a) != repr(b) or type(a) is not type(b):
            return False
    return True


def test_they_come_back_bit_for_bit() -> None:
    pair = full()
    found = conditions_from(conditions_text(pair, "m"), "m", build())
    assert found is not None
    assert same(found[0], pair[0])
    assert same(found[1], pair[1])
    alone = conditions_from(conditions_text((pair[0], None), "m"), "m", build())
    assert alone is not None
    assert alone[1] is None
    assert not same(pair[0], pair[1])


def test_the_ladder_of_kept_ones_is_the_ladder_of_fresh_ones() -> None:
    pair = full()
    kept = conditions_from(conditions_text(pair, "m"), "m", build())
    assert kept is not None
    ladders = [planning.ladder_for(build(), None, (), conditions=each) for each in (pair, kept)]
    assert repr(ladders[0].rungs) == repr(ladders[1].rungs)
    assert ladders[0].gates == ladders[1].gates


def test_a_real_match_comes_back_bit_for_bit() -> None:
    from boostwright.planning.ladder.matched import condition as matched

    made = matched(build(), air_of(build()), "spring", speeds=np.array([2500.0, 4000.0, 5900.0]) * RPM)
    assert made.case is not None
    found = conditions_from(conditions_text((made, None), "m"), "m", build())
    assert found is not None
    assert found[0].case is None
    assert same(found[0], made)


@given(st.data())
def test_no_damage_is_taken_for_pulls_and_none_is_an_error(data: st.DataObject) -> None:
    text = conditions_text(full(), "m")
    at = data.draw(st.integers(0, len(text) - 1))
    how = data.draw(st.sampled_from(["cut", "change", "insert"]))
    other = data.draw(st.characters(codec="utf-8"))
    broken = {
        "cut": text[:at],
        "change": text[:at] + other + text[at + 1 :],
        "insert": text[:at] + other + text[at:],
    }[how]
    found = conditions_from(broken, "m", build())
    if found is not None:  # a blank between the parts, or the same character again, changes nothing
        assert same(found[0], full()[0])
        assert json.loads(broken)["body"] == json.loads(text)["body"]


@pytest.mark.parametrize(
    "text", ["", "[]", "null", "{}", '{"mark": "m"}', "[" * 100_000, '{"mark": "m", "sum": 1, "body": 2}']
)
def test_what_is_no_such_text_is_none(text: str) -> None:
    assert conditions_from(text, "m", build()) is None


def test_the_mark_moves_with_what_moves_a_pull_and_with_nothing_else() -> None:
    made, air = build(), air_of(build())
    mark = mark_of(made, air, "1")
    assert mark == mark_of(verbs.demo_build("sound"), air, "1")

    def edited(path: str, value: object) -> Build:
        values = {**made.values, path: dataclasses.replace(made[path], path=path, value=value)}
        return dataclasses.replace(made, values=values, _defaults={})

    others = [
        mark_of(edited("wastegate.spring", math.nextafter(made.number("wastegate.spring"), 1e9)), air, "1"),
        mark_of(made, air._replace(pressure=air.pressure + 1.0), "1"),
        mark_of(made, air._replace(words="on another day"), "1"),
        mark_of(made, air, "2"),
        mark_of(dataclasses.replace(made, tables={}), air, "1"),
        mark_of(dataclasses.replace(made, maps={}), air, "1"),
    ]
    assert len({mark, *others}) == len(others) + 1
    assert mark_of(edited("build.name", "Another"), air, "1") == mark
    assert mark_of(dataclasses.replace(made, tables={**made.tables, "people": ()}), air, "1") == mark


@pytest.fixture
def counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Air]:
    """A cache folder of its own, and the airs that were computed."""
    monkeypatch.setenv("BOOSTWRIGHT_CACHE", str(tmp_path / "kept"))
    calls: list[Air] = []

    def made(_: Build, air: Air, __: object) -> Pair:
        calls.append(air)
        return full()

    monkeypatch.setattr(planning, "conditions_for", made)
    return calls


def quiet(_: str) -> None:
    """Say nothing."""


def test_it_is_computed_once(counted: list[Air], tmp_path: Path) -> None:
    air = air_of(build())
    first, second = pulls_of(build(), air, quiet), pulls_of(build(), air, quiet)
    assert len(counted) == 1
    assert same(first[0], second[0])
    pulls_of(build(), air._replace(temperature=280.0), quiet)
    assert len(counted) == 2
    for file in (tmp_path / "kept").iterdir():
        file.write_bytes(b"\xff\x00 no text")
    assert same(pulls_of(build(), air, quiet)[0], first[0])
    assert len(counted) == 3


def test_where_nothing_can_be_kept_it_is_computed(
    counted: list[Air], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a file").write_text("no folder", "utf-8")
    for place in ("off", str(tmp_path / "a file" / "below")):
        monkeypatch.setenv("BOOSTWRIGHT_CACHE", place)
        pulls_of(build(), air_of(build()), quiet)
        assert kept_conditions(build(), air_of(build())) is None
    assert len(counted) == 2
    assert not (tmp_path / "off").exists()


def test_old_ones_go(counted: list[Air], tmp_path: Path) -> None:
    for degrees in range(65):
        pulls_of(build(), air_of(build())._replace(temperature=270.0 + degrees), quiet)
    assert len(counted) == 65
    assert len(list((tmp_path / "kept").iterdir())) == 60

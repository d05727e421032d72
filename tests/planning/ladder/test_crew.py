"""The crew of the first fire: by the people that the build names; never one alone."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.planning.ladder import Rung, State
from boostwright.views.numbers import fill
from tests.planning.ladder.made import build, condition, ladder, reading, tasks_done


def named(*names: str) -> Build:
    rows = tuple({"name": StatedValue("people[].name", name, 0.0, Source.CHOSEN)} for name in names)
    return dataclasses.replace(build(), tables={**build().tables, "people": rows}, _defaults={})


def first_fire(of: Build) -> Rung:
    return ladder(of=of, spring=condition(of=of)).rung("first-fire")


def text_of(rung: Rung) -> str:
    return " ".join(fill(one) for one in rung.do)


def test_three_have_three_places() -> None:
    rung = first_fire(named("Ada", "Ben", "Cleo", "Dan"))
    text = text_of(rung)
    assert "Ada sits at the key" in text
    assert "oil pressure and nothing else" in text
    assert "Ben stands at the fuel rail" in text
    assert "extinguisher in hand" in text
    assert "Cleo walks round" in text
    assert "Dan" not in text
    assert len(rung.people) == 3


def test_two_have_the_form_for_two() -> None:
    rung = first_fire(named("Ada", "Ben"))
    text = text_of(rung)
    assert "Ben stands at the open bonnet" in text
    assert "extinguisher in one hand" in text
    assert "only once oil pressure is called out" in text
    assert rung.people == ("lead", "helper")


@pytest.mark.parametrize("names", [(), ("Ada",)])
def test_one_is_told_that_one_alone_does_not_do_it(names: tuple[str, ...]) -> None:
    rung = first_fire(named(*names))
    assert "Nobody fires an engine for the first time alone" in fill(rung.do[0])
    assert "The second person stands at the open bonnet" in text_of(rung)
    assert len(rung.people) == 2


def test_one_alone_opens_no_gate_and_no_override_does() -> None:
    rung = ladder().rung("first-fire")
    crew = rung.of("first_fire_crew")
    assert crew is not None
    assert crew.witness
    assert "alone" in crew.never
    done = tasks_done(ladder())
    said = reading(rung, "first_fire_crew", 0.0)

    def state(answer: str, witness: str) -> State:
        one = dataclasses.replace(said, answer=answer, witness=witness)
        stands = ladder([*done, one]).gate("first-fire").readings
        return next(s.state for s in stands if s.expected.measurement == "first_fire_crew")

    assert state("two", "A") is State.GOOD
    assert state("three", "A") is State.GOOD
    assert state("two", "") is State.ALONE
    assert state("two", "n") is State.ALONE  # the same person
    assert state("alone", "A") is State.BROKEN_OFF


@given(st.lists(st.text(min_size=1, max_size=20), max_size=5))
def test_any_name_can_stand_there(names: list[str]) -> None:
    rung = first_fire(named(*names))
    for one in rung.do:
        assert fill(one)


def test_the_rod_has_its_own_lines() -> None:
    made = ladder()
    for step, name in (
        ("first-drive", "rod_tied"),
        ("cut-test", "rod_still_tied"),
        ("pull-low", "rod_untied"),
    ):
        expected = made.rung(step).of(name)
        assert expected is not None, step
        assert expected.good
    assert made.rung("pull-low").of("rod_untied").witness  # type: ignore[union-attr]
    assert "untie" in text_of(made.rung("pull-low")).casefold()

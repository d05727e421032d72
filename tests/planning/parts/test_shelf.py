"""Where lines stand: tables of the file, events of the history, both in order."""

from __future__ import annotations

import re
import tomllib
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.job import PartEvent, Withdrawal
from boostwright.library import read_text
from boostwright.library.supplies import part_rules
from boostwright.planning.parts import PartsList, State, money, parts_for
from boostwright.planning.tasks import tasks_for
from boostwright.readers.build_file import read_build
from boostwright.verbs import parts_events

BARE = verbs.demo_text("sound").split("[[shelf]]")[0]


def shelf(*rows: str) -> PartsList:
    text = BARE + "".join(f'\n[[shelf]]\nsource = "maker"\n{row}\n' for row in rows)
    return parts_for(read_build(text.encode()))


def event(part: str, what: str, time: str = "2025-05-03T10:00:00+00:00", **more: object) -> PartEvent:
    return PartEvent(f"{part}{what}{time}", "N", time, part, what, **more)  # type: ignore[arg-type]


def test_states_of_the_file() -> None:
    found = shelf(
        'line = "part.turbo"\nstate = "have"\ntried = true',
        'line = "part.manifold"\nstate = "ordered"\nfrom = "smith"\n'
        "ordered_on = 2025-05-01\nexpected = 2025-05-12",
        'line = "part.cooler"\nstate = "not-needed"',
        'line = "seal.drain-hose-top"',
    )
    assert found.line("part.turbo").state is State.HAVE
    assert found.line("part.turbo").tried
    manifold = found.line("part.manifold")
    assert (manifold.state, manifold.seller, manifold.order) == (State.ORDERED, "smith", "smith, 2025-05-01")
    assert (manifold.lead.days, manifold.lead.source) == (11.0, "the seller's day")
    assert found.line("part.cooler").state is State.NOT_NEEDED
    assert not found.line("part.cooler").counts
    assert found.line("seal.drain-hose-top").state is State.MISSING


def test_a_price_comes_with_its_spread_and_a_lead_time_in_days() -> None:
    line = shelf(
        'line = "part.turbo"\nprice = "400 EUR"\nlead = "3 weeks"'.replace("3 weeks", "21 days")
    ).line("part.turbo")
    assert line.cost.middle == pytest.approx(400.0)
    assert line.cost.high / 400.0 == pytest.approx(1.0 + 1.2816 * 0.03, rel=2e-3)  # 3 % for a maker's price
    assert line.lead.days == pytest.approx(21.0)
    paid = shelf('line = "part.turbo"\nprice = { value = "400 EUR", source = "measured" }').line("part.turbo")
    assert (paid.cost.low, paid.cost.high) == (pytest.approx(400.0), pytest.approx(400.0))


def test_words_answer_what_is_asked_and_only_a_length_answers_for_a_hose() -> None:
    assert shelf().line("bolt.drain-at-the-turbo").state is State.FIND
    answered = shelf('line = "bolt.drain-at-the-turbo"\nstate = "have"\nis = "M8x1.25, 20 mm, 8.8"')
    assert answered.line("bolt.drain-at-the-turbo").state is State.HAVE
    assert "M8x1.25, 20 mm" in answered.line("bolt.drain-at-the-turbo").what
    unmeasured = shelf('line = "hose.drain-hose"\nstate = "have"\nis = "oil hose"')
    assert unmeasured.line("hose.drain-hose").state is State.FIND
    cut = shelf('line = "hose.drain-hose"\nstate = "have"\nlength = "36 cm"').line("hose.drain-hose")
    assert (cut.state, cut.quantity, cut.unit) == (State.HAVE, pytest.approx(0.36), "m")


def test_too_few_are_missing() -> None:
    found = shelf('line = "stud.manifold-to-head"\nstate = "have"\nquantity = "8"')
    line = found.line("stud.manifold-to-head")
    assert (line.quantity, line.there, line.state) == (9.0, 8.0, State.MISSING)
    enough = shelf('line = "stud.manifold-to-head"\nstate = "have"\nquantity = "9"')
    assert enough.line("stud.manifold-to-head").state is State.HAVE


def test_what_nothing_asks_for_is_said_with_the_nearest_key() -> None:
    (sentence,) = shelf('line = "part.turbi"\nstate = "have"').strange
    assert "'part.turbi' (line " in sentence
    assert "Near it: part.turbo" in sentence


# ------------------------------------------------------------------------------------------------ events


def test_events_follow_the_file_in_their_order() -> None:
    build = read_build(BARE.encode())
    events = [
        event("part.turbo", "ordered", expected="2025-05-20", price=410.0, seller="yard"),
        event("part.manifold", "have", quantity=1.0),
        event("part.manifold", "broken"),
    ]
    found = parts_for(build, (), events)
    turbo = found.line("part.turbo")
    assert (turbo.state, turbo.ordered_on, turbo.expected) == (
        State.ORDERED,
        date(2025, 5, 3),
        date(2025, 5, 20),
    )
    assert (turbo.cost.low, turbo.cost.high, turbo.seller) == (410.0, 410.0, "yard")
    assert found.line("part.manifold").state is State.MISSING
    came = parts_for(build, (), [*events, event("part.turbo", "have")]).line("part.turbo")
    assert came.state is State.HAVE


def test_an_event_that_was_taken_back_does_not_count() -> None:
    one = event("part.turbo", "have")
    back = Withdrawal("w", "N", "2025-05-04", one.id)
    assert parts_events([one, back]) == ()
    assert parts_events([one]) == (one,)


def test_events_that_no_line_knows_are_said() -> None:
    build = read_build(BARE.encode())
    found = parts_for(build, (), [event("part.nothing", "have"), event("part.turbo", "eaten")])
    assert "'part.nothing' (recorded by N, 2025-05-03)" in found.strange[0]
    assert "nobody knows what 'eaten' means" in found.strange[1]


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.builds(
            PartEvent,
            id=st.uuids().map(str),
            who=st.text(max_size=8),
            time=st.one_of(st.just("2025-05-03T10:00:00"), st.text(max_size=12)),
            part=st.sampled_from(
                ["part.turbo", "hose.drain-hose", "find.way-gate", "seal.actuator-hose", "?"]
            ),
            what=st.sampled_from(["have", "ordered", "missing", "used", "broken", "not needed", "lent"]),
            quantity=st.one_of(st.none(), st.floats(0.0, 1e4)),
            price=st.one_of(st.none(), st.floats(0.0, 1e5)),
            expected=st.one_of(st.just(""), st.just("2025-06-01"), st.text(max_size=10)),
            seller=st.text(max_size=10),
            said=st.text(max_size=20),
        ),
        max_size=12,
    )
)
def test_any_history_gives_a_list(events: list[PartEvent]) -> None:
    build = read_build(BARE.encode())
    found = parts_for(build, (), events)
    assert {line.key for line in found.lines} == {line.key for line in parts_for(build).lines}
    known = [one for one in events if one.part != "?" and one.what != "lent"]
    last = {one.part: one.what for one in known}
    for key, what in last.items():
        if key not in {line.key for line in found.lines}:
            continue
        if what == "not needed":
            assert found.line(key).state is State.NOT_NEEDED
        elif what in ("missing", "broken"):
            assert found.line(key).state in (State.MISSING, State.FIND)


def test_a_tool_may_stand_on_the_shelf() -> None:
    text = BARE + '\n[[shelf]]\nline = "tool.welder"\nstate = "have"\n'
    build = read_build(text.encode())
    tasks = tasks_for(build)
    found, without = parts_for(build, tasks), parts_for(read_build(BARE.encode()), tasks)
    (welder,) = [tool for tool in found.tools if tool.key == "tool.welder"]
    assert welder.there
    assert welder.way == "hire"
    assert welder.cost is not None
    assert not any("welder" in sentence for sentence in found.strange)
    saved = money(build, without).tools.mean - money(build, found).tools.mean
    assert saved == pytest.approx(welder.cost.mean)


def test_an_answer_to_a_question_comes_first_at_the_counter() -> None:
    """A question that was answered is named by its answer, any other line by itself."""
    parts = parts_for(verbs.demo_build("sound"))
    assert parts.line("find.other-end-downpipe").what == (
        "slip joint 66 mm on the old pipe before the catalyst, with its clamp (where the other end of the"
        " downpipe goes)"
    )
    assert parts.line("bolt.drain-at-the-turbo").what.startswith("bolts of the flange of ")


@pytest.mark.parametrize(
    ("heat", "words"),
    [
        ("0", "of the car's own heat range"),
        ("1", "1 step colder than the car's own"),
        ("2", "2 steps colder than the car's own"),
        ("-1", "1 step hotter than the car's own"),
    ],
)
def test_what_to_buy_is_said_as_one_asks_for_it(heat: str, words: str) -> None:
    text = verbs.demo_text("sound")
    assert text.count("plug_heat") == 1
    changed = re.sub(r"(plug_heat\s*=\s*)\S+", rf"\g<1>{heat}", text)
    assert changed != text or heat == "2"
    plugs = parts_for(read_build(changed.encode())).line("part.spark-plugs").what
    assert plugs == f"spark plugs: {words}, to be gapped to 0.65 mm"


def test_no_part_is_said_by_the_words_of_a_question() -> None:
    """Labels of fields ask ('what it is made of'); a seller is told ('stainless steel')."""
    for name in ("sound", "highland", "planted"):
        for line in parts_for(verbs.demo_build(name)).lines:
            if line.key.startswith("part."):
                asked = re.search(r"\b(what|where|how|kind of|by so many)\b|[{}]", line.what)
                assert asked is None, line.what


def test_every_field_that_is_said_belongs_to_a_part() -> None:
    said = tomllib.loads(read_text("supplies.toml"))["say"]
    fields = {path for rule in part_rules().values() for path in (*rule.by, *rule.like)}
    assert said.keys() <= fields
    assert all(
        form.count("{}") == 1 or "|" in form or path == "turbo.water_cooled" for path, form in said.items()
    )

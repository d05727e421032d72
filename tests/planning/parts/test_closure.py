"""The list is closed: whatever is taken out of a complete build, the list names it."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.library.supplies import bolt_length, nut_height, sealing_ring
from boostwright.planning.parts import Group, State, parts_for
from boostwright.planning.parts.from_fasteners import least_length
from boostwright.planning.parts.records import slug
from boostwright.planning.task import Effort, Need, Task
from boostwright.systems.stated.fasteners import fasteners_of
from tests.labels import check
from tests.planning.parts.complete import (
    complaints,
    complete,
    plan,
    without_field,
    without_row,
    without_value,
)

SOUND = verbs.demo_build("sound")


def numbers(section: str) -> list[int]:
    return list(range(len(SOUND.table(section))))


def name_of(build: Build, section: str, number: int) -> str:
    return str(build.table(section)[number]["name"].value)


def task(key: str, *needs: Need, tools: tuple[str, ...] = (), **more: object) -> Task:
    made = Task(key, "do it", key.partition(".")[0], ("lead",), "bay", Effort(1.0, 2.0, 3.0), needs=needs)
    return dataclasses.replace(made, tools=tools, **more)


def test_the_sound_demo_is_closed() -> None:
    for tasks in ((), plan()):
        found = parts_for(SOUND, tasks)
        assert found.closed, complaints(found)
    assert not parts_for(SOUND, plan()).strange


@pytest.mark.parametrize("number", numbers("joints"))
def test_a_joint_that_is_gone_is_named(number: int) -> None:
    build = complete()
    row = build.table("joints")[number]
    said = complaints(parts_for(without_row(build, "joints", number), plan()))
    for side in ("from", "to"):
        assert f"nothing is joined to '{row[side].value}'" in said


@pytest.mark.parametrize("number", numbers("ports"))
def test_a_port_that_is_gone_is_named_by_its_joint(number: int) -> None:
    build = complete()
    port = name_of(build, "ports", number)
    (joint,) = [
        str(row["name"].value)
        for row in build.table("joints")
        if port in (str(row["from"].value), str(row["to"].value))
    ]
    said = complaints(parts_for(without_row(build, "ports", number), plan()))
    assert f"joint '{joint}': a half is no port and no half that is known" in said


@pytest.mark.parametrize("number", numbers("ports"))
def test_a_port_of_no_part_is_named(number: int) -> None:
    build = complete()
    port = name_of(build, "ports", number)
    said = complaints(parts_for(without_field(build, "ports", number, "of"), plan()))
    assert f"which part has '{port}'" in said


@pytest.mark.parametrize(
    "number", [n for n in numbers("joints") if str(SOUND.table("joints")[n]["seal"].value) != "nothing"]
)  # a flare is tight by itself
def test_a_seal_that_nobody_listed_is_named(number: int) -> None:
    build = complete()
    name = name_of(build, "joints", number)
    said = complaints(parts_for(without_field(build, "joints", number, "seal"), plan()))
    assert f"what makes '{name}' tight is not stated" in said


@pytest.mark.parametrize("side", ["from", "to", "carries"])
@pytest.mark.parametrize("number", numbers("joints"))
def test_a_half_or_a_fluid_that_is_not_stated_is_named(number: int, side: str) -> None:
    build = complete()
    name = name_of(build, "joints", number)
    said = complaints(parts_for(without_field(build, "joints", number, side), plan()))
    assert f"joint '{name}': '{side}'" in said or f"what goes through '{name}'" in said


@pytest.mark.parametrize("number", numbers("fasteners"))
def test_a_bolted_joint_that_is_gone_is_named(number: int) -> None:
    build = complete()
    word = slug(name_of(build, "fasteners", number))
    said = complaints(parts_for(without_row(build, "fasteners", number), plan()))
    assert f"washer.{word}" in said
    assert "nothing in this build asks for it" in said


@pytest.mark.parametrize("name", ["size", "class", "count", "grip_length", "parent_material", "lubricant"])
@pytest.mark.parametrize("number", numbers("fasteners"))
def test_what_is_not_known_of_bolts_is_asked(number: int, name: str) -> None:
    build = complete()
    word = slug(name_of(build, "fasteners", number))
    found = parts_for(without_field(build, "fasteners", number, name), plan())
    asked = [ask.kind for line in found.open if line.key.endswith(word) for ask in line.asks]
    assert name in asked


@pytest.mark.parametrize("number", numbers("fasteners"))
def test_a_gasket_that_is_not_stated_is_asked(number: int) -> None:
    build = complete()
    name = name_of(build, "fasteners", number)
    said = complaints(parts_for(without_field(build, "fasteners", number, "gasket"), plan()))
    assert f"what lies between the faces of '{name}'" in said


def test_whatever_is_taken_off_the_shelf_is_missing_or_asked_for() -> None:
    build = complete()
    for number, row in enumerate(build.table("shelf")):
        key = str(row["line"].value)
        found = parts_for(without_row(build, "shelf", number), plan())
        line = found.line(key)
        assert line.state in (State.MISSING, State.FIND), key
        assert {one.key for one in found.lines if one.state is not State.HAVE} == {key}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_no_line_vanishes_without_a_word_when_a_task_does(data: st.DataObject) -> None:
    build, tasks = complete(), plan()
    gone = data.draw(st.sets(st.sampled_from(range(len(tasks))), min_size=1, max_size=8))
    before = {line.key for line in parts_for(build, tasks).lines}
    found = parts_for(build, tuple(task for n, task in enumerate(tasks) if n not in gone))
    vanished = before - {line.key for line in found.lines}
    named = {sentence.split("'")[1] for sentence in found.strange}
    assert vanished <= named


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ("turbo.turbine_housing", "part.turbo"),
        ("injectors.flow", "part.injectors"),
        ("pipes.length", "part.charge-pipe"),
        ("pump.cable_area", "part.pump-wire"),
        ("oil.grade", "fluid.engine-oil"),
        ("exhaust.bore", "part.down-pipe"),
        ("breather.can_volume", "part.catch-can"),
    ],
)
def test_a_field_that_says_what_to_buy_is_asked_for(path: str, key: str) -> None:
    found = parts_for(without_value(SOUND, path))
    line = found.line(key)
    assert line.state is State.FIND
    assert path in " ".join(ask.words for ask in line.asks)


def test_every_joint_has_its_seal_on_the_list() -> None:
    for demo in verbs.demo_builds():
        build = verbs.demo_build(demo)
        found = parts_for(build, plan())
        for row in build.table("joints"):
            name = str(row["name"].value)
            if str(row["seal"].value) == "nothing":
                continue
            sealed = [
                line for line in found.lines if name in line.joints and line.key.startswith(("seal.", "use."))
            ]
            asked = [line for line in found.open if name in line.joints]
            assert sealed or asked, name


def test_the_planted_build_gets_its_adapter_and_no_tape() -> None:
    found = parts_for(verbs.demo_build("planted"), plan())
    adapter = found.line("fitting.adapter-oil-feed-at-the-block")
    assert "1/8-27" in adapter.what
    said = complaints(found)
    assert "instead of PTFE tape" in said
    assert "which part brings the spigot 9.5 mm of 'drain at the sump'" in said
    assert "the charge air's way: no joint of the file carries it" in said
    assert "where the other end of the drain hose goes" in said


# ------------------------------------------------------------------------------------- tasks and needs


def test_needs_are_added_up_in_one_unit() -> None:
    found = parts_for(
        SOUND,
        [
            task("a.one", Need("cleaning solvent, free of chlorine", 1.5, "L")),
            task("a.two", Need("solvent", 500.0, "cc")),
            task("a.three", Need("engine oil", 30.0, "L")),
        ],
    )
    solvent = found.line("use.solvent")
    assert (solvent.quantity, solvent.unit) == (pytest.approx(2.0), "L")
    assert solvent.tasks == ("a.one", "a.two")
    assert found.line("fluid.engine-oil").quantity == pytest.approx(30.0)


def test_the_builds_own_volume_wins_over_a_smaller_need() -> None:
    found = parts_for(SOUND, [task("oil.fill", Need("engine oil", 1.0, "L"))])
    first, second = 3.9 + 0.3, 3.9  # sump_volume + added_volume, then the change
    assert found.line("fluid.engine-oil").quantity == pytest.approx(first + second, abs=0.95)
    assert found.line("fluid.engine-oil").quantity >= first + second


def test_a_need_that_no_table_knows_stands_in_its_own_words() -> None:
    found = parts_for(SOUND, [task("a.one", Need("blue unobtainium", 2.0, "pieces"))])
    line = found.line("use.blue-unobtainium")
    assert (line.what, line.quantity, line.note) == ("blue unobtainium", 2.0, "its price is a guess")


def test_a_need_without_its_size_is_asked_for() -> None:
    found = parts_for(SOUND, [task("a.one", Need("hose clamps", 2.0, "pieces"))])
    (line,) = [line for line in found.open if line.tasks == ("a.one",)]
    assert "size of the hose clamps for a.one" in line.asks[0].words


def test_what_only_a_broken_stud_needs_is_laid_in_and_does_not_count() -> None:
    found = parts_for(
        SOUND,
        [
            task("a.sure", Need("penetrant")),
            task("a.perhaps", Need("thread insert, M8x1.25", 1.0, "piece"), odds=0.3),
        ],
    )
    (line,) = [line for line in found.lines if "a.perhaps" in line.tasks]
    assert not line.needed
    assert found.line("use.penetrant").needed


def test_tools_say_how_to_come_by_them() -> None:
    found = parts_for(
        SOUND, [task("a.one", tools=("leak-down tester", "spanner")), task("a.two", tools=("spanner",))]
    )
    ways = {tool.words: (tool.way, tool.tasks) for tool in found.tools}
    assert ways == {"leak-down tester": ("borrow", ("a.one",)), "spanner": ("own", ("a.one", "a.two"))}


def test_spares_are_there_for_what_breaks_or_leaks() -> None:
    found = parts_for(SOUND)
    spares = {line.key.removeprefix("spare."): line for line in found.lines if line.group is Group.SPARE}
    for key in ("stud.manifold-to-head", "seal.oil-feed-at-the-turbo", "gasket.turbo-to-manifold"):
        assert spares[key].quantity >= 1.0
        assert not spares[key].needed
    assert spares["seal.oil-feed-at-the-turbo"].quantity == found.line("seal.oil-feed-at-the-turbo").quantity
    assert not any(line.needed for line in spares.values())


# -------------------------------------------------------------------------------------- sizes of bolts


@check("published", id="Y1", source="iso4032", note="greatest heights m of style 1 nuts, from memory")
def test_heights_of_nuts() -> None:
    for thread, height in ((6.0, 5.2), (8.0, 6.8), (10.0, 8.4), (12.0, 10.8)):
        assert nut_height(thread * 1e-3) == pytest.approx(height * 1e-3, abs=1e-9)


@check(
    "published",
    id="Y2",
    source="iso888",
    note="nominal lengths, from memory: 5 mm steps from 20 to 70, then 10",
)
def test_lengths_of_bolts() -> None:
    for least, made in ((19.9, 20.0), (20.0, 20.0), (20.1, 25.0), (67.3, 70.0), (70.5, 80.0), (12.1, 16.0)):
        assert bolt_length(least * 1e-3) == pytest.approx(made * 1e-3, abs=1e-9)
    assert bolt_length(0.2) is None


@check(
    "published",
    id="Y3",
    source="din7603",
    note="inside diameters of form A for M10, M12, M14, M18, from memory",
)
def test_sealing_rings() -> None:
    for thread, inside, outside in (
        (10.0, 10.0, 14.0),
        (12.0, 12.0, 16.0),
        (14.0, 14.0, 18.0),
        (18.0, 18.0, 22.0),
    ):
        found = sealing_ring(thread * 1e-3)
        assert found is not None
        assert found[:2] == (pytest.approx(inside * 1e-3), pytest.approx(outside * 1e-3))
    assert sealing_ring(0.09) is None


@check("limit", id="Y4", note="length = what is clamped + what holds + nut + two turns, added up by hand")
def test_length_of_a_stud_by_hand() -> None:
    bolts = {bolt.name: bolt for bolt in fasteners_of(SOUND)}
    assert least_length(bolts["manifold to head"], nut=True) == pytest.approx(0.038 + 0.020 + 0.0068 + 0.0025)
    assert least_length(bolts["turbo to manifold"], nut=True) == pytest.approx(0.046 + 0.0084 + 0.003)
    assert least_length(bolts["charge pipe to throttle"], nut=False) == pytest.approx(0.026 + 0.014)
    found = parts_for(SOUND)
    assert found.line("stud.manifold-to-head").what == "stud M8x1.25 x 70 mm, class 10.9"
    assert found.line("stud.manifold-to-head").quantity == 9.0


def test_keys_are_the_same_again_and_never_twice() -> None:
    for demo in verbs.demo_builds():
        build = verbs.demo_build(demo)
        keys = [line.key for line in parts_for(build, plan()).lines]
        assert len(keys) == len(set(keys))
        assert keys == [line.key for line in parts_for(build, plan()).lines]

"""What `explain` and `new` say."""

from __future__ import annotations

import pytest

from boostwright.build.catalogue import Ask, catalogue
from boostwright.build.explain import Explained, explain
from boostwright.build.new_file import new_build
from boostwright.errors import UnknownField
from boostwright.readers.build_file import read_build
from boostwright.views.explained import explained


@pytest.mark.parametrize("path", [f.shown_path for f in catalogue().fields.values()])
def test_every_field_is_explained(path: str) -> None:
    said = explain(path)
    assert said.about is Explained.FIELD
    assert said.path == path
    assert said.words
    assert "=" in said.written
    assert said.used
    assert said.wanted


@pytest.mark.parametrize("name", catalogue().sections)
def test_every_section_is_explained(name: str) -> None:
    said = explain(f"[{name}]")
    assert said.about is Explained.SECTION
    assert said.fields


def test_names_are_found() -> None:
    assert explain("rod_length").path == "engine.rod_length"
    assert explain("bore").about is Explained.SEVERAL
    assert ("engine.bore", "cylinder bore") in explain("bore").fields
    assert ("ignition.plug_gap", "gap of the plugs") in explain("plugs").fields
    assert explain("engine.intake_opens").units == "deg btdc, deg atdc"
    near = explain("engine.rodlength")
    assert (near.path, near.asked) == ("engine.rod_length", "engine.rodlength")
    with pytest.raises(UnknownField, match="no field"):
        explain("flux capacitor")
    with pytest.raises(UnknownField):
        explain("")


def test_an_explanation_is_whole() -> None:
    said = explain("wastegate.spring")
    assert said.pressure.startswith("Counted from the air around")
    assert said.allowed == "0.1 bar gauge to 2 bar gauge"
    assert said.usual == "0.3 bar gauge to 1 bar gauge"
    assert "Hand pump" in said.measure
    assert said.defaults[0][1].startswith("0.5 bar gauge +/- 0.3 bar")
    assert dict(said.spreads)["measured"] == "0.04 bar"
    assert said.used == "used by check today"
    assert explain("goal.boost").used == "used by check today"
    timing = explain("engine.intake_opens")
    assert timing.usual == "45 deg btdc to 25 deg atdc"
    assert [name for name, _ in timing.defaults] == ["four-valve", "two-valve"]
    assert ("direct", explain("engine.injection").refused[0][1]) in explain("engine.injection").refused


@pytest.mark.parametrize("name", catalogue().classes)
def test_a_new_file_passes_as_it_is(name: str) -> None:
    text = new_build(name, "Trial")
    build = read_build(text.encode())
    assert build.name == "Trial"
    assert build.engine_class == name
    assert not build.notes
    assert "!" not in text


@pytest.mark.parametrize("name", catalogue().classes)
def test_every_line_of_a_new_file_reads(name: str) -> None:
    """With every remark sign taken away the file reads, but for the cam timing that it shows in two ways."""
    text = new_build(name)
    twice = tuple(f"#{side}_{what}" for side in ("intake", "exhaust") for what in ("duration", "centre"))
    lines = [
        line[1:] if line.startswith("#") and not line.startswith(("# ", "#=")) else line
        for line in text.split("\n")
        if not line.startswith(twice)
    ]  # fmt: skip
    build = read_build("\n".join(lines).encode())
    shapes = {name.replace("#", "engine.") for name in twice}
    stated = {value.path for value in build.stated()}
    assert stated == {p for p in catalogue().fields if "[]" not in p} - shapes
    for section in catalogue().sections.values():
        if section.many:
            assert set(build.table(section.name)[0]) == {field.name for field in section.fields}


def test_a_new_file_asks_for_the_needful_first() -> None:
    text = new_build()
    live = [line for line in text.split("\n") if line and not line.startswith("#") and "=" in line]
    must = {f.name for f in catalogue().fields.values() if f.ask is Ask.MUST and "[]" not in f.path}
    assert {line.partition(" ")[0] for line in live} == must | {"class", "source"}
    body = text[text.index("[engine]") :]
    assert body.index("stroke =") < body.index("#rod_length") < body.index("#port_flow")
    for line in live:
        at = text.split("\n").index(line)
        assert text.split("\n")[at - 1].startswith(("#", "[", "source")), line


def test_unknown_class() -> None:
    with pytest.raises(UnknownField, match="four-valve"):
        new_build("five-valve")


def test_a_word_of_a_finding_finds_it_and_a_word_of_nothing_says_where_to_look() -> None:
    """What a person asks who has read 'Room to surge' in a report, or 'MBT' in a table."""
    assert explained("surge").startswith("turbo.surge:")
    assert "fuel.injector_duty:" in explained("injector duty")
    with pytest.raises(UnknownField, match="lists the sections and the findings"):
        explained("MBT")


def test_a_name_of_a_field_and_a_finding_explains_both() -> None:
    said = explained("engine.leak_down")
    assert "Leak-down tester" in said  # how to measure the field
    assert "blow-by floods the turbo's drain" in said  # what the finding warns of

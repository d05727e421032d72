"""The field catalogue: complete, in order, and the same in its written and its compiled form."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import boostwright
from boostwright.build.catalogue import Ask, FieldType, catalogue
from boostwright.build.document import Build
from boostwright.build.new_file import new_build
from boostwright.build.schema import build_schema
from boostwright.errors import UnknownField
from boostwright.library import demo_builds, demo_path, read_text
from boostwright.quantity import Dimension, PressureKind, read
from boostwright.readers.build_file import read_build
from tools import make_catalogue

FIELDS = tuple(catalogue().fields.values())
EMPTY = Build({})


def test_the_compiled_files_are_current() -> None:
    """If this fails: .venv/bin/python tools/make_catalogue.py"""
    for name, text in make_catalogue.texts().items():
        assert read_text(name) == text, name


SECTIONS = (
    "build goal engine baseline fuel place corners turbo wastegate manifold cooler pipes throttle exhaust "
    "injectors pump regulator pressure_sensor ignition oil breather battery clutch cooling people budget "
    "readings choices joints"
)


@pytest.mark.parametrize("section", SECTIONS.split())
def test_every_section_is_there(section: str) -> None:
    assert catalogue().sections[section].fields


@pytest.mark.parametrize("field", FIELDS, ids=lambda f: f.path)
def test_a_field_says_what_a_person_needs(field: Any) -> None:
    assert field.words
    assert field.words[0].islower() or field.words[0].isupper()
    assert not field.words.endswith(".")
    assert field.example
    assert "!" not in field.words + field.measure + field.harm + field.reason
    if field.type is FieldType.QUANTITY:
        assert field.low is not None
        assert field.high is not None
        assert field.reason
        if field.usual_low is not None:
            assert field.low <= field.usual_low <= field.usual_high <= field.high
    if field.dimension is Dimension.PRESSURE:
        assert isinstance(field.kind, PressureKind)
    if (
        field.ask is not Ask.MAY
        and field.type is FieldType.QUANTITY
        and not field.whole
        and "[]" not in field.path
    ):
        assert field.measure, "what a new file asks for must say how to find it out"


@pytest.mark.parametrize("field", [f for f in FIELDS if f.type is FieldType.QUANTITY], ids=lambda f: f.path)
def test_examples_are_usual(field: Any) -> None:
    if field.many:
        return  # rows are read where new files with all their lines are read
    value = read(field.example, field.dimension).value + field.counts_from
    low = field.usual_low if field.usual_low is not None else field.low
    high = field.usual_high if field.usual_high is not None else field.high
    assert low <= value <= high


@pytest.mark.parametrize("name", catalogue().classes)
def test_defaults_are_usual_and_have_a_spread(name: str) -> None:
    """The defaults of a class engine lie inside the usual ranges, and every number has a spread."""
    text = new_build(name)
    build = read_build(text.encode())
    for value in build.assumed():
        field = build.field(value.path)
        if field.type is not FieldType.QUANTITY or field.whole:
            continue
        assert field.low <= value.value <= field.high, value.path  # type: ignore[operator]
        if field.usual_low is not None:
            assert field.usual_low <= value.value <= field.usual_high, value.path  # type: ignore[operator]
        if not field.chosen:
            assert value.sd > 0, value.path
        assert value.note, value.path


def test_unknown_fields_name_the_nearest() -> None:
    with pytest.raises(UnknownField, match=r"engine\.bore"):
        catalogue().field("engine.boer")
    with pytest.raises(UnknownField, match=r"goal\.boost"):
        catalogue().field("engine.boost")


def test_a_bad_record_is_refused_when_compiling() -> None:
    good = {
        "words": "x", "dimension": "length", "unit": "mm", "range": ["1 mm", "2 mm"], "reason": "r",
        "example": "1 mm", "chosen": True,
    }  # fmt: skip
    make_catalogue.field("s", False, "f", good, 1)
    for change in (
        {"range": ["2 mm", "1 mm"]}, {"unit": "kg"}, {"reason": ""}, {"chosen": False}, {"sort": 1},
        {"dimension": "pressure", "unit": "bar", "range": ["1 bar", "2 bar"]}, {"default": {"value": "1 mm"}},
    ):  # fmt: skip
        with pytest.raises((make_catalogue.CatalogueError, KeyError)):
            make_catalogue.field("s", False, "f", {**good, **change}, 1)


INDIRECT = {  # used by check without being named where the models and findings are
    "build.name",  # on every page
    *(f"corners.{name}" for name in ("name", "temperature", "altitude", "barometer", "humidity")),  # by row
    "place.altitude",  # gives the barometer
    *("limits.limit", "limits.value", "limits.reason"),  # read as a table
    *("readings.field", "readings.value", "readings.date", "readings.when"),  # the same
    "engine.class",  # gives the defaults
    # rows of their tables are read name by name
    *(f"ports.{name}" for name in ("name", "half", "of", "material", "pressure", "temperature", "ethanol")),
    *(f"joints.{name}" for name in ("name", "from", "to", "seal", "carries", "tried", "tested")),
    "engine.injection",  # refused by the reader unless it is modelled
    "engine.variable_valve_timing",
    # for each side by one name, or turned into events
    *(
        f"engine.{side}_{what}"
        for side in ("intake", "exhaust")
        for what in ("duration", "centre", "opens", "closes", "lift", "valve_diameter")
    ),
}


def test_what_check_uses_is_marked_so() -> None:
    """If this fails: set or take out used_by = ["check"] in library/fields, and compile."""
    package = Path(boostwright.__file__).parent
    code = "".join(
        file.read_text("utf-8") for room in ("systems", "findings") for file in (package / room).rglob("*.py")
    )
    named = {field.shown_path for field in FIELDS if f'"{field.shown_path}"' in code}
    marked = {field.shown_path for field in FIELDS if "check" in field.used_by}
    assert named - marked == set(), "used and not marked"
    assert marked - named - INDIRECT == set(), "marked and not used"


SCHEMA = build_schema(catalogue())


@cache
def _validator() -> Any:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    return jsonschema.Draft202012Validator(SCHEMA)


def test_the_shipped_schema_is_the_catalogues() -> None:
    assert json.loads(read_text("build.schema.json")) == SCHEMA


@pytest.mark.parametrize("name", demo_builds())
def test_demo_builds_are_valid_by_the_schema(name: str) -> None:
    document = tomllib.loads(demo_path(name).read_text("utf-8"))
    assert list(_validator().iter_errors(document)) == []


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"engine": {"cylinders": 4, "bore": "86 mm", "stroke": 86}}, "86"),
        ({"engine": {"cylinders": 4, "bore": "86 mm"}}, "stroke"),
        ({"engine": {"cylinders": 4, "bore": "86 mm", "stroke": "86 mm", "borre": "86 mm"}}, "borre"),
        ({"enigne": {}}, "enigne"),
        ({"turbo": {"bearing": "magnetic"}}, "magnetic"),
        ({"turbo": {"source": "uncle"}}, "uncle"),
        ({"joints": {"name": "x"}}, "array"),
        ({"engine": {"cylinders": 4, "bore": {"source": "maker"}, "stroke": "86 mm"}}, "maker"),
    ],
)
def test_the_schema_refuses(change: dict[str, Any], word: str) -> None:
    good = {
        "build": {"name": "x"},
        "goal": {"boost": "0.5 bar"},
        "engine": {"cylinders": 4, "bore": "86 mm", "stroke": {"value": "86 mm", "source": "maker"}},
    }
    assert list(_validator().iter_errors(good)) == []
    errors = list(_validator().iter_errors({**good, **change}))
    assert errors
    assert any(word in error.message for error in errors)

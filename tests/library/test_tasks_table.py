"""The tables of tasks, cautions and hold-point measurements agree with each other and with the contracts."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from itertools import product
from pathlib import Path

import pytest

from boostwright.build.catalogue import catalogue
from boostwright.findings.registry import rules
from boostwright.library import read_text
from boostwright.library.cautions import caution_rows
from boostwright.library.measurements import measurements
from boostwright.library.task_rules import task_rules
from boostwright.library.tasks import PHASES, TaskRow, task_rows
from boostwright.planning.task import CREW, PLACES
from boostwright.planning.tasks.amounts import FILE, amounts
from boostwright.planning.tasks.conditions import conditions
from boostwright.planning.tasks.joints import KINDS
from boostwright.planning.tasks.studs import ODDS
from boostwright.sources import SOURCES

ROWS = tuple(task_rows().values())
ids = [row.key for row in ROWS]
NO_SOURCE = "common practice, no source"
OPEN_THINGS = frozenset(tomllib.loads(read_text("tasks/open_things.toml"))["things"])


def every_wording(row: TaskRow) -> list[str]:
    """What a task says under each combination of the conditions that its words name."""
    names = sorted({name for _, when in row.says for name in (*when.if_all, *when.unless)})
    found = []
    for answers in product((True, False), repeat=len(names)):
        holds = dict(zip(names, answers, strict=True))
        pieces = [
            text
            for text, when in row.says
            if all(holds[name] for name in when.if_all) and not any(holds[name] for name in when.unless)
        ]
        found.append(" ".join(pieces))
    return found


@pytest.mark.parametrize("row", ROWS, ids=ids)
def test_a_task_says_who_where_how_long(row: TaskRow) -> None:
    low, likely, high = row.times
    assert 0.0 < low <= likely <= high
    assert row.crew
    assert set(row.crew) <= set(CREW)
    assert row.place in PLACES
    for words in every_wording(row):
        assert 30 <= len(words) <= 420
        assert words.endswith((".", "first.", "?"))


@pytest.mark.parametrize("row", ROWS, ids=ids)
def test_what_a_task_names_is_there(row: TaskRow) -> None:
    assert set(row.cautions) <= caution_rows().keys()
    assert {*row.opens, *row.closes} <= OPEN_THINGS
    named = {*row.amounts, *(need.amount for need in row.needs if need.amount)}
    fields = {name.removeprefix(FILE) for name in named if name.startswith(FILE)}
    assert {name for name in named if not name.startswith(FILE)} <= amounts().keys()
    assert fields <= catalogue().fields.keys()
    assert set(row.findings) <= {rule.code for rule in rules()}
    assert not row.odds_of or row.odds_of in ODDS
    assert set(row.joints) <= KINDS.keys()
    assert {*row.when.if_all, *row.when.unless} <= conditions().keys()
    if row.hold is not None:
        assert {key for key, _ in row.hold.readings} <= measurements().keys()


@pytest.mark.parametrize("row", ROWS, ids=ids)
def test_a_source_is_a_publication_or_says_that_there_is_none(row: TaskRow) -> None:
    assert row.source == NO_SOURCE or row.source.partition(",")[0] in SOURCES


@pytest.mark.parametrize("row", ROWS, ids=ids)
def test_a_need_has_a_quantity_or_a_rule_for_it(row: TaskRow) -> None:
    for need in row.needs:
        assert need.item.strip()
        assert need.unit.strip()
        assert need.quantity > 0.0 or need.amount


@pytest.mark.parametrize("row", [row for row in ROWS if row.hold is not None], ids=lambda row: row.key)
def test_a_witness_is_asked_for_only_where_two_are_there_or_a_reading_asks(row: TaskRow) -> None:
    """A hold that wants a witness names at least one reading that the witness can sign."""
    assert row.hold is not None
    assert not row.hold.witness or row.hold.readings


BY_THE_CHECK = {"decide.feasible"}
"""Holds whose data are the findings themselves, not a reading."""


@pytest.mark.parametrize("row", [row for row in ROWS if row.hold is not None], ids=lambda row: row.key)
def test_a_hold_is_opened_by_readings_and_not_by_words(row: TaskRow) -> None:
    assert row.hold is not None
    assert (row.key in BY_THE_CHECK) is (row.hold.readings == ())


def test_every_phase_has_tasks_and_keys_are_plain_words() -> None:
    assert {row.phase for row in ROWS} == set(PHASES)
    for row in ROWS:
        assert re.fullmatch(r"[a-z]+\.[a-z_0-9]+", row.key)


def test_no_two_tasks_say_the_same() -> None:
    words = [row.words for row in ROWS]
    assert len(set(words)) == len(words)


def test_every_open_thing_that_a_task_opens_is_closed_by_one() -> None:
    opened = {thing for row in ROWS for thing in row.opens}
    assert opened <= {thing for row in ROWS for thing in row.closes}


FORBIDDEN = re.compile(
    r"(remove|take out|cut out|delete|hollow|bypass|disable|switch off|unplug|raise)\s+(the\s+)?"
    r"(catalyst|catalytic|lambda|knock|boost cut|speed cut|cut\b|limiter|purge|crankcase valve|egr)",
    re.IGNORECASE,
)


def test_the_rule_against_bad_advice_can_find_some() -> None:
    assert FORBIDDEN.search("Remove the catalyst and weld a pipe in.")
    assert FORBIDDEN.search("Raise the boost cut until it stops cutting.")
    assert FORBIDDEN.search("Disable knock control for the pull.")


@pytest.mark.parametrize("row", ROWS, ids=ids)
def test_no_task_advises_to_defeat_emission_control_or_a_cut(row: TaskRow) -> None:
    text = " ".join([row.words, row.stop, row.hold.rule if row.hold else "", *row.tools])
    assert not FORBIDDEN.search(text)


def test_rules_are_odds_and_times() -> None:
    rules = task_rules()
    assert len(rules.stud_distance) == len(rules.stud_odds)
    assert list(rules.stud_distance) == sorted(rules.stud_distance)
    assert list(rules.stud_odds) == sorted(rules.stud_odds)
    assert all(0.0 < odds < 1.0 for odds in (*rules.stud_odds, rules.stud_odds_unknown))
    assert rules.stud_shortest < rules.stud_median < rules.stud_ninth
    assert min(rules.cable_spare, rules.fuel_spare, rules.drain_spare, rules.fuel_reserve) > 1.0


@pytest.mark.parametrize("key", list(caution_rows()))
def test_a_caution_is_one_concrete_sentence_and_a_short_reminder(key: str) -> None:
    row = caution_rows()[key]
    assert 60 <= len(row.text) <= 420
    assert 10 <= len(row.short) <= 80
    assert row.short != row.text


def test_every_caution_stands_beside_a_finding_a_task_or_a_reading() -> None:
    used = {key for row in ROWS for key in row.cautions} | {"tired"}
    used |= {key for one in measurements().values() for key in one.cautions}
    assert {key for key, row in caution_rows().items() if not row.subjects} <= used


def test_the_list_of_tasks_is_current() -> None:
    """docs/task_list.md is what tools/make_task_list.py writes."""
    tool = Path(__file__).resolve().parents[2] / "tools" / "make_task_list.py"
    done = subprocess.run([sys.executable, str(tool), "--check"], timeout=120, check=False)
    assert done.returncode == 0, "run: .venv/bin/python tools/make_task_list.py"

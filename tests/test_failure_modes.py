"""The table of failures is honest: all of them, in order, and nothing in it points to what is not there."""

from __future__ import annotations

import copy
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from boostwright.build.catalogue import catalogue
from boostwright.cli.commands import COMMANDS
from boostwright.findings.registry import rules
from boostwright.library.ladder import ladder_steps
from boostwright.library.readings import cheap_readings
from boostwright.library.tasks import task_rows

ROOT = Path(__file__).resolve().parent.parent
FILE = ROOT / "docs" / "failure_modes.toml"
STAGES = (
    "planning",
    "before strip-down",
    "electrics",
    "breathing",
    "exhaust",
    "oil",
    "fuel",
    "sensors",
    "air",
    "settings",
    "first start",
    "road",
    "log",
    "afterwards",
    "shop",
)
LATER = {"drive", "settings", "pages", "shop"}
COVERS = {"findings", "readings", "commands", "tasks", "steps", "later", "not_covered"}
OF_A_FAILURE = {"stage", "fails", "because", "foreseen"} | COVERS
OF_A_COMPUTATION = {"ranked", "words", "against", "foreseen"} | COVERS
LONGEST = 110

Table = dict[str, Any]


def shipped() -> Table:
    return tomllib.loads(FILE.read_text(encoding="utf-8"))


def failures(table: Table) -> Table:
    return {key: row for key, row in table.items() if key.isdigit()}


def rows(table: Table) -> dict[str, Table]:
    """Failures and computations, each with the name by which a fault speaks of it."""
    return failures(table) | {f"computation {row.get('ranked')}": row for row in table["computations"]}


def order_faults(table: Table) -> list[str]:
    """129 failures and 25 computations, numbered without a gap, stages in the order of the job."""
    found = []
    if list(failures(table)) != [f"{n:03}" for n in range(1, 130)]:
        found.append("the failures are not 001 to 129 in order")
    if [row.get("ranked") for row in table["computations"]] != list(range(1, 26)):
        found.append("the computations are not 1 to 25 in order")
    if list(dict.fromkeys(row["stage"] for row in failures(table).values())) != list(STAGES):
        found.append("the stages are others, or not in order")
    strange = set(table) - set(failures(table)) - {"computations", "own", "own_foreseen"}
    return [*found, *(f"{name} is none of the table's parts" for name in sorted(strange))]


def word_faults(table: Table) -> list[str]:
    """Nothing empty, nothing long, no key misspelt, no two failures with the same words."""
    found, seen = [], set()
    for name, row in rows(table).items():
        allowed = OF_A_FAILURE if name.isdigit() else OF_A_COMPUTATION
        found += [f"{name}: {key} is none of its keys" for key in sorted(set(row) - allowed)]
        for key in ("fails", "because") if name.isdigit() else ("words",):
            words = row.get(key, "")
            if not 15 <= len(words) <= LONGEST or words in seen or "|" in words:
                found.append(f"{name}: {key} is short, over {LONGEST} characters, said twice, or has a bar")
            seen.add(words)
    return found


def cover_faults(table: Table) -> list[str]:
    """Each row is covered by something that is there, or comes later, or says why not."""
    codes, commands = {rule.code for rule in rules()}, {command.name for command in COMMANDS}
    fields = catalogue().fields
    found = []
    for name, row in rows(table).items():
        if not any(row.get(key) for key in COVERS):
            found.append(f"{name}: no cover and no reason")
        if "later" in row and row["later"] not in LATER:
            found.append(f"{name}: {row['later']} is no later part")
        if len(row.get("not_covered", "a reason that is long enough")) < 14:
            found.append(f"{name}: that is no reason")
        found += [f"{name}: no rule {code}" for code in row.get("findings", ()) if code not in codes]
        found += [f"{name}: no command {one}" for one in row.get("commands", ()) if one not in commands]
        found += [f"{name}: no task {one}" for one in row.get("tasks", ()) if one not in task_rows()]
        for key in row.get("readings", ()):
            if key not in cheap_readings() and key not in fields:
                found.append(f"{name}: no reading and no field {key}")
            elif key in fields and not fields[key].used_by:
                found.append(f"{name}: nothing reads the field {key}, so it covers nothing")
        steps = {step.key for step in ladder_steps()}
        found += [f"{name}: no step {one}" for one in row.get("steps", ()) if one not in steps]
        for key in ("findings", "readings", "commands", "tasks", "steps"):
            if len(set(row.get(key, ()))) != len(row.get(key, ())):
                found.append(f"{name}: {key} names one thing twice")
    return found


def rule_faults(table: Table) -> list[str]:
    """Each rule of the program stands for a failure, or is one of our own with a reason; never both."""
    named = {code for row in failures(table).values() for code in row.get("findings", ())}
    own, codes = table["own"], {rule.code for rule in rules()}
    return [
        *(f"{code} stands for no failure and is not in [own]" for code in sorted(codes - named - set(own))),
        *(f"{code} is in [own] and stands for a failure" for code in sorted(named & set(own))),
        *(f"[own] names {code}, which is no rule" for code in sorted(set(own) - codes)),
        *(f"{code} in [own] has no reason" for code, why in own.items() if len(why) < 10),
    ]


def against_faults(table: Table) -> list[str]:
    """A computation prevents failures of the table, and shares its findings with at least one of them."""
    known, found = failures(table), []
    for row in table["computations"]:
        name, against = f"computation {row['ranked']}", row.get("against", ())
        if not against or set(against) - set(known):
            found.append(f"{name}: against nothing, or against what is no failure")
            continue
        theirs = {code for number in against for code in known[number].get("findings", ())}
        found += [
            f"{name}: {code} covers none of {', '.join(against)}"
            for code in row.get("findings", ())
            if code not in theirs
        ]
    return found


CHECKS: tuple[Callable[[Table], list[str]], ...] = (
    order_faults,
    word_faults,
    cover_faults,
    rule_faults,
    against_faults,
)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_the_table_is_honest(check: Callable[[Table], list[str]]) -> None:
    assert not check(shipped())


def _lose_a_failure(table: Table) -> None:
    del table["064"]


def _swap_two_failures(table: Table) -> None:
    table["001"] = table.pop("001")


def _lose_a_computation(table: Table) -> None:
    del table["computations"][7]


def _another_stage(table: Table) -> None:
    table["001"]["stage"] = "paperwork"


def _misspell_a_key(table: Table) -> None:
    table["002"]["finding"] = table["002"].pop("findings")


def _say_too_much(table: Table) -> None:
    table["003"]["because"] += " and so on, and so on, and so on"


def _no_such_rule(table: Table) -> None:
    table["004"]["findings"].append("exhaust.colour")


def _no_such_reading(table: Table) -> None:
    table["004"]["readings"].append("colour_of_the_gas")


def _a_field_that_nothing_reads(table: Table) -> None:
    table["004"]["readings"].append("build.owner")


def _no_such_command(table: Table) -> None:
    table["026"]["commands"].append("mend")


def _no_such_task(table: Table) -> None:
    table["040"]["tasks"].append("strip.luck")


def _no_such_step(table: Table) -> None:
    table["106"]["steps"].append("victory-lap")


def _no_such_part(table: Table) -> None:
    table["013"]["later"] = "some day"


def _no_cover(table: Table) -> None:
    del table["013"]["commands"]


def _a_poor_excuse(table: Table) -> None:
    table["011"]["not_covered"] = "no"


def _only_foreseen(table: Table) -> None:
    del table["011"]["not_covered"]
    table["011"]["foreseen"] = ["law.papers"]


def _a_rule_of_nobody(table: Table) -> None:
    table["015"]["findings"].remove("turbo.play")


def _a_rule_on_both_sides(table: Table) -> None:
    table["own"]["turbo.play"] = "play is play is play"


def _an_old_rule(table: Table) -> None:
    table["own"]["turbo.colour"] = "was a rule once upon a time"


def _against_nothing(table: Table) -> None:
    table["computations"][0]["against"] = ["130"]


def _claims_another_rule(table: Table) -> None:
    table["computations"][0]["findings"].append("goal.power")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (_lose_a_failure, "001 to 129"),
        (_swap_two_failures, "001 to 129"),
        (_lose_a_computation, "1 to 25"),
        (_another_stage, "stages"),
        (_misspell_a_key, "002: finding is none of its keys"),
        (_say_too_much, "003: because"),
        (_no_such_rule, "004: no rule exhaust.colour"),
        (_no_such_reading, "004: no reading and no field colour_of_the_gas"),
        (_a_field_that_nothing_reads, "004: nothing reads the field build.owner"),
        (_no_such_command, "026: no command mend"),
        (_no_such_task, "040: no task strip.luck"),
        (_no_such_step, "106: no step victory-lap"),
        (_no_such_part, "013: some day is no later part"),
        (_no_cover, "013: no cover"),
        (_a_poor_excuse, "011: that is no reason"),
        (_only_foreseen, "011: no cover"),
        (_a_rule_of_nobody, "turbo.play stands for no failure"),
        (_a_rule_on_both_sides, "turbo.play is in [own] and stands for a failure"),
        (_an_old_rule, "[own] names turbo.colour"),
        (_against_nothing, "computation 1: against nothing"),
        (_claims_another_rule, "computation 1: goal.power covers none"),
    ],
)
def test_a_spoilt_table_is_found_out(spoil: Callable[[Table], None], says: str) -> None:
    table = copy.deepcopy(shipped())
    spoil(table)
    found = [fault for check in CHECKS for fault in check(table)]
    assert any(says in fault for fault in found), found


def test_the_page_is_current() -> None:
    """docs/failure_modes.md is what tools/make_failure_page.py writes."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "make_failure_page.py"), "--check"],
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, "run: .venv/bin/python tools/make_failure_page.py"


def test_the_page_shows_every_row_and_its_counts_add_up() -> None:
    text = (ROOT / "docs" / "failure_modes.md").read_text(encoding="utf-8")
    shown = re.findall(r"^\| (\d{3}) \|", text, flags=re.MULTILINE)
    assert shown == list(failures(shipped()))
    head = re.search(
        r"^\*\*(\d+) failures: (\d+) covered now, (\d+) covered in part, (\d+) later,"
        r" (\d+) not covered\.\*\*$",
        text,
        flags=re.MULTILINE,
    )
    assert head is not None
    total, *parts = (int(number) for number in head.groups())
    assert total == sum(parts) == len(shown)
    assert "foreseen" not in text

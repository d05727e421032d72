"""A build whose parts list is closed and all there: the sound demo with a table [[shelf]] for every line."""

from __future__ import annotations

import dataclasses
from functools import cache

from boostwright import verbs
from boostwright.build.document import Build, Row
from boostwright.planning.parts import PartsList, State, parts_for
from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.readers.build_file import read_build


@cache
def plan() -> tuple[Task, ...]:
    return tasks_for(verbs.demo_build("sound"))


def _with_every_line(text: str, found: PartsList, listed: set[str]) -> str:
    rows = [
        f'[[shelf]]\nsource = "measured"\nline = "{line.key}"\nstate = "have"\n'
        for line in found.lines
        if line.key not in listed
    ]
    return text.replace('state = "ordered"', 'state = "have"') + "\n" + "\n".join(rows)


@cache
def complete() -> Build:
    text = verbs.demo_text("sound")
    build = verbs.demo_build("sound")
    listed = {str(row["line"].value) for row in build.table("shelf")}
    made = read_build(_with_every_line(text, parts_for(build, plan()), listed).encode())
    found = parts_for(made, plan())
    assert not found.open
    assert not found.strange
    assert {line.state for line in found.lines} == {State.HAVE}
    return made


def without_row(build: Build, section: str, number: int) -> Build:
    rows = build.table(section)
    return _with(build, section, rows[:number] + rows[number + 1 :])


def without_field(build: Build, section: str, number: int, name: str) -> Build:
    rows = list(build.table(section))
    rows[number] = {key: value for key, value in rows[number].items() if key != name}
    return _with(build, section, tuple(rows))


def _with(build: Build, section: str, rows: tuple[Row, ...]) -> Build:
    return dataclasses.replace(build, tables={**build.tables, section: rows}, _defaults={})


def without_value(build: Build, path: str) -> Build:
    values = {key: value for key, value in build.values.items() if key != path}
    return dataclasses.replace(build, values=values, _defaults={})


def complaints(found: PartsList) -> str:
    """Everything that the list says is wrong, in one text."""
    asked = [f"{line.key}: {line.what}: {'; '.join(a.words for a in line.asks)}" for line in found.open]
    absent = [f"missing: {line.key}: {line.what}: {', '.join(line.joints)}" for line in found.missing]
    return "\n".join((*asked, *absent, *found.strange))

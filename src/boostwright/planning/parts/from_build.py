"""What the sections of a build ask for: turbo, injectors, cable, fluids; and ways that must be closed."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping

from boostwright.build.document import Build
from boostwright.build.limits import value_text
from boostwright.library.supplies import (
    PartRule,
    Way,
    is_of_the_car,
    part_rules,
    said_at_the_counter,
    supplies,
    ways,
)
from boostwright.planning.parts.making import Gathered, cost_of, made, question
from boostwright.planning.parts.records import Ask, Group
from boostwright.systems.joints import Joint
from boostwright.systems.stated.joints import joints_of

__all__ = ["add_fluids", "add_parts", "add_ways"]

_PARTS_PER_L = 1000.0
_FORMS = 3  # of a phrase that counts: none, one, more


def _holds(build: Build, when: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether the build states what a rule asks for."""
    for path, values in when.items():
        if "*" in values:
            if not build.is_stated(path):
                return False
            continue
        found = build.get(path)
        said = "" if found is None else str(found.value)
        if said.casefold() not in {value.casefold() for value in values}:
            return False
    return True


def _said(build: Build, path: str) -> str:
    """A stated field as one says it to a seller: 'valve seat 25 mm'; '' for what is not so."""
    known, value, form = build.field(path), build[path].value, said_at_the_counter(path)
    if isinstance(value, bool):
        return form if value else ""
    if isinstance(value, (int, float)):
        forms = form.split("|")
        if len(forms) == _FORMS:
            return _steps(forms, float(value))
        return form.format(value_text(known, float(value)))
    return form.format(known.choices.get(str(value), value))


def _steps(forms: list[str], steps: float) -> str:
    """None, one or more steps; below none they are the other way."""
    form = forms[0] if steps == 0.0 else forms[1] if abs(steps) == 1.0 else forms[2]
    return (form.replace("colder", "hotter") if steps < 0.0 else form).format(f"{abs(steps):g}")


def add_parts(build: Build, planned: frozenset[str], into: Gathered) -> None:
    """Append the parts that the sections ask for, or say more of those that the joints have brought in."""
    for rule in part_rules().values():
        wanted = rule.task in planned if planned else _holds(build, rule.when)
        key = f"part.{rule.key}"
        if wanted or key in into.lines:
            _add_part(build, rule, key, into)


def _add_part(build: Build, rule: PartRule, key: str, into: Gathered) -> None:
    supply = supplies()[rule.key]
    stated = [path for path in (*rule.by, *rule.like) if build.is_stated(path)]
    asks = [Ask(path, f"{build.field(path).words} ({path})") for path in rule.by if not build.is_stated(path)]
    quantity: float | None = 1.0
    if rule.number and rule.number in build:
        quantity = float(build.count(rule.number))
    if rule.length:
        quantity = build.number(rule.length) if build.is_stated(rule.length) else None
        if quantity is None:
            asks.append(Ask("length", f"{build.field(rule.length).words} ({rule.length})"))
        else:
            quantity = math.ceil(10.0 * quantity - 1e-9) / 10.0
    words = ", ".join(filter(None, (_said(build, path) for path in stated))).replace(", at ", " at ")
    old = into.lines.get(key)
    if old is None:
        text = f"{supply.words}: {words}" if words else supply.words
        into.add(made(key, Group.PART, supply, text, quantity, tasks=[rule.task], asks=asks))
        return
    into.lines[key] = dataclasses.replace(
        old.also((), [rule.task]),
        what=f"{old.what}; {words}" if words else old.what,
        quantity=quantity,
        cost=cost_of(supply, quantity),
        asks=(*old.asks, *asks),
    )


# --------------------------------------------------------------------------------------------- fluids


def add_fluids(build: Build, planned: frozenset[str], into: Gathered) -> None:
    """Append oil, filter and coolant by the volumes of the build."""

    def tasks(*keys: str) -> tuple[str, ...]:
        return tuple(key for key in keys if not planned or key in planned)

    grade = build.get("oil.grade")
    known = grade is not None and build.is_stated("oil.grade")
    first = build.number("oil.sump_volume") + max(
        *(build.number(path) if path in build else 0.0 for path in ("oil.added_volume", "oil.extra_fill")),
        0.0,
    )
    second = build.number("oil.sump_volume")
    litres = math.ceil(_PARTS_PER_L * (first + second) - 1e-6)
    what = f"engine oil {grade.value}" if known and grade is not None else "engine oil"
    asks = [] if known else [Ask("grade", "grade of the oil (oil.grade)")]
    note = (
        f"{_PARTS_PER_L * first:.1f} L for the first fill, {_PARTS_PER_L * second:.1f} L for the change after"
        " the first few hundred kilometres"
    )
    oil = supplies()["engine-oil"]
    into.add(
        made(
            "fluid.engine-oil", Group.FLUID, oil, what, float(litres),
            tasks=tasks("oil.fill", "run.oil_change"), asks=asks, note=note,
        )
    )  # fmt: skip
    into.add(
        made(
            "fluid.oil-filter", Group.FLUID, supplies()["oil-filter"], "", 2.0,
            tasks=tasks("oil.fill", "run.oil_change"), note="one for each fill",
        )
    )  # fmt: skip
    if _holds(build, {"turbo.water_cooled": ("true",)}):
        _add_coolant(build, tasks("prove.coolant"), into)


def _add_coolant(build: Build, tasks: tuple[str, ...], into: Gathered) -> None:
    """Concentrate and water for a whole fill."""
    asks = [
        Ask(path, f"{build.field(path).words} ({path})")
        for path in ("cooling.volume", "cooling.glycol")
        if path not in build
    ]
    for key, part in (("coolant", 1.0), ("distilled-water", -1.0)):
        quantity = None
        if not asks:
            share = build.number("cooling.glycol")
            amount = _PARTS_PER_L * build.number("cooling.volume") * (share if part > 0 else 1.0 - share)
            quantity = math.ceil(2.0 * amount - 1e-6) / 2.0
        into.add(made(f"fluid.{key}", Group.FLUID, supplies()[key], "", quantity, tasks=tasks, asks=asks))


# ----------------------------------------------------------------------------------------------- ways


def add_ways(build: Build, into: Gathered) -> None:
    """Append a question for each way between turbo and car that the joints do not close."""
    joints = joints_of(build)
    clamps = {str(row["clamps"].value) for row in build.table("fasteners") if "clamps" in row}
    for way in ways():
        if not _holds(build, way.when):
            continue
        if way.bolted and set(way.bolted) <= clamps:
            continue
        why = _broken(way, joints, clamps)
        if why:
            into.add(question(f"way-{way.key}", f"{way.words}: {why}"))


def _broken(way: Way, joints: Iterable[Joint], clamps: set[str]) -> str:
    """Why a way is not closed; '' when it is."""
    on_it = [j for j in joints if j.carries is not None and j.carries.value in way.by]
    if not on_it:
        if way.bolted:
            absent = [clamp for clamp in way.bolted if clamp not in clamps]
            return f"no joint carries it, and no table [[fasteners]] holds '{' or '.join(absent)}'"
        return "no joint of the file carries it"
    if way.bolted or way.far:
        return ""
    if all(not end.part for joint in on_it for end in joint.ends):
        return ""  # asked for already: ports that belong to no part
    at_turbo = sum(any(_is_turbo(end.part) for end in joint.ends) for joint in on_it)
    if at_turbo < way.least:
        return f"{at_turbo} of its joints end at the turbo, and {way.least} must"
    reached = {end.part for joint in on_it for end in joint.ends if _is_turbo(end.part)}
    grown = True
    while grown:
        before = len(reached)
        for joint in on_it:
            names = {end.part for end in joint.ends}
            if names & reached:
                reached |= names
        grown = len(reached) > before
    if any(is_of_the_car(part) for part in reached):
        return ""
    ends = ", ".join(sorted(part for part in reached if part and not _is_turbo(part))) or "the turbo"
    return f"it goes from the turbo to {ends} and ends there; what joins it to the car?"


def _is_turbo(part: str) -> bool:
    return "turbo" in part.casefold()

"""What the tasks of a plan ask for beyond the joints: consumables, fluids, tools."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable
from typing import Final

from boostwright.build.document import Build
from boostwright.library.supplies import Supply, find_supply, find_tool, likes, size_field, supplies
from boostwright.planning.parts.making import Gathered, cost_of, made
from boostwright.planning.parts.records import Ask, Band, Group, Line, ToolLine, slug
from boostwright.planning.task import Need, Task
from boostwright.quantity import Dimension, find_unit

__all__ = ["add_needs", "tools_of"]

_DIMENSIONS: Final = (Dimension.VOLUME, Dimension.LENGTH, Dimension.AREA)
_PIECES: Final = frozenset(
    {"", "piece", "pieces", "set", "sets", "tube", "tubes", "can", "cans", "pair", "pairs", "bottle", "sheet",
     "sheets", "box", "roll", "pack", "kit"}
)  # fmt: skip


def add_needs(build: Build, tasks: Iterable[Task], into: Gathered, left: list[str]) -> None:
    """Append what the tasks use up; what a joint or a section has brought in serves the task, too."""
    fluids: dict[str, tuple[Supply, float, list[str]]] = {}
    for task in tasks:
        for need in task.needs:
            supply = find_supply(need.item)
            quantity, unit = _in_unit(need, supply)
            if supply is not None and supply.fluid:
                _, amount, keys = fluids.get(supply.key, (supply, 0.0, []))
                fluids[supply.key] = (supply, amount + quantity, [*keys, task.key])
            elif supply is None:
                line = made(
                    f"use.{slug(need.item)}", Group.CONSUMABLE, None, need.item, quantity,
                    tasks=[task.key], unit=unit, note="its price is a guess",
                )  # fmt: skip
                into.more(line)
            elif supply.like == "sealing" and _made_otherwise(task.key, into):
                left.append(f"{need.item} for {task.key}: the joints made there are sealed otherwise")
            else:
                _add(build, task, need, supply, quantity, unit, into)
    for supply, amount, keys in fluids.values():
        _add_fluid(supply, amount, keys, into)


def _made_otherwise(task: str, into: Gathered) -> bool:
    """Whether joints of the file are made in a task, and none of them has a sealing ring."""
    there = [line for line in into.lines.values() if task in line.tasks and line.joints]
    rings = [line for line in there if line.item and supplies()[line.item].like == "sealing"]
    hoses = [line for line in there if line.group is Group.HOSE]
    return bool(hoses) and not rings and not any(line.group is Group.FIND for line in there)


def _size(build: Build, task: Task, supply: Supply) -> str:
    """The size of what a task needs: the bore of a hose or a clamp, of the field that says it, else of the
    task's other hose; the thread of a stud that may break.
    """
    if supply.like in ("stud", "insert"):
        return next(
            (
                str(row["size"].value)
                for row in build.table("fasteners")
                if "size" in row and "clamps" in row and row["clamps"].value == "manifold"
            ),
            "",
        )
    if supply.like not in ("hose", "clamp"):
        return ""
    path = size_field(task.key)
    if path and build.is_stated(path):
        bore = f"{1e3 * build.number(path):.4g} mm"
        return f"for hose {bore}" if supply.like == "clamp" else bore
    for need in task.needs:
        size = re.search(r"(\d+(?:\.\d+)?) ?mm\b", need.item)
        if size and "hose" in need.item.casefold():
            return f"for hose {size[1]} mm" if supply.like == "clamp" else f"{size[1]} mm"
    return ""


def _add(
    build: Build, task: Task, need: Need, supply: Supply, quantity: float, unit: str, into: Gathered
) -> None:
    served = _served(task.key, supply, into)
    for key in served:
        line = into.lines[key].also((), [task.key])
        if any(ask.kind == "length" for ask in line.asks) and unit == "m" and not line.note:
            line = dataclasses.replace(line, note=f"the plan reckons with {quantity:g} m")
        into.lines[key] = line
    if served:
        return
    said = need.item.casefold().strip()
    what = supply.words if said in (supply.key, supply.words.casefold()) else need.item
    bore = _size(build, task, supply) if supply.sized and not re.search(r"\d", need.item) else ""
    if bore:
        what = f"{what}, {bore}"
        into.more(_consumable(f"use.{slug(what)}", supply, what, quantity, unit, task))
    elif supply.sized and not re.search(r"\d", need.item):
        ask = Ask("size", f"size of the {need.item} for {task.key}: no joint of the file says it")
        key = f"use.{supply.key}-{slug(task.key)}"
        into.more(_consumable(key, supply, what, quantity, unit, task, [ask]))
    elif supply.serves:
        into.share(_consumable(f"use.{supply.key}", supply, what, 1.0, "", task))
    else:
        key = f"use.{slug(need.item)}" if supply.sized else f"use.{supply.key}"
        into.more(_consumable(key, supply, what, quantity, unit, task))


def _consumable(
    key: str, supply: Supply, what: str, quantity: float, unit: str, task: Task, asks: Iterable[Ask] = ()
) -> Line:
    return made(key, Group.CONSUMABLE, supply, what, quantity, tasks=[task.key], unit=unit, asks=asks)


def _served(task: str, supply: Supply, into: Gathered) -> list[str]:
    """Keys of the lines, brought in by joints and sections, that are what a task asks for."""
    like, found = likes(), []
    for key, line in into.lines.items():
        if not line.item or line.group is Group.FIND or line.group is Group.CONSUMABLE:
            continue
        same = line.item == supply.key and (not supply.sized or (supply.one and bool(line.joints)))
        alike = supply.sized and bool(line.joints) and task in line.tasks and like[line.item] == supply.like
        if same or alike:
            found.append(key)
    return found


def _add_fluid(supply: Supply, amount: float, tasks: list[str], into: Gathered) -> None:
    """A fluid: the greater of what the build's volumes and what the tasks ask for."""
    key = f"fluid.{supply.key}"
    old = into.lines.get(key)
    if old is None:
        into.add(made(key, Group.FLUID, supply, "", amount, tasks=dict.fromkeys(tasks)))
        return
    most = None if old.quantity is None else max(old.quantity, amount)
    into.lines[key] = dataclasses.replace(
        old.also((), tasks), quantity=most, cost=cost_of(supply, most if most is not None else amount)
    )


def _in_unit(need: Need, supply: Supply | None) -> tuple[float, str]:
    """The quantity in the supply's unit, where both measure the same; else as the task has it."""
    unit = "" if need.unit in _PIECES else need.unit
    if supply is None or unit == supply.unit or not unit or not supply.unit:
        return need.quantity, unit or (supply.unit if supply is not None else "")
    for dimension in _DIMENSIONS:
        try:
            given, wanted = find_unit(unit, dimension), find_unit(supply.unit, dimension)
        except KeyError:
            continue
        return need.quantity * given.factor / wanted.factor, supply.unit
    return need.quantity, unit


def tools_of(tasks: Iterable[Task]) -> tuple[ToolLine, ...]:
    """The tools of all tasks; those that have to be hired or borrowed first."""
    found: dict[str, ToolLine] = {}
    for task in tasks:
        for name in task.tools:
            tool = find_tool(name)
            key = f"tool.{tool.key if tool else slug(name)}"
            old = found.get(key)
            if old is not None:
                found[key] = old._replace(tasks=tuple(dict.fromkeys((*old.tasks, task.key))))
                continue
            cost = Band(*tool.price, "common practice, no source") if tool else None
            found[key] = ToolLine(key, name, tool.way if tool else "own", (task.key,), cost, False)
    return tuple(sorted(found.values(), key=lambda one: ("hire", "borrow", "own").index(one.way)))

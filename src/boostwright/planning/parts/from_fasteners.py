"""What the bolted joints of a build ask for: bolts by length and class, nuts, washers, gasket, paste."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from boostwright.build.document import Build, Row
from boostwright.library.supplies import bolt_length, clamp_tasks, nut_height, supplies
from boostwright.planning.parts.making import Gathered, made, question
from boostwright.planning.parts.records import Ask, Group, Line, slug
from boostwright.planning.task import Task
from boostwright.systems.fasteners import Fastener
from boostwright.systems.stated.fasteners import fasteners_of

__all__ = ["add_fasteners", "least_length"]

_HOT: Final = ("manifold", "turbine", "turbine-outlet")
_TIGHT: Final = (*_HOT, "charge", "oil", "coolant", "fuel", "head")
_STAY: Final = ("head", "driveline", "brake")  # not undone by a conversion unless its plan says so
_TURNING: Final = (*_HOT, "driveline", "brake")
_THREADS_OUT: Final = 2.0  # turns of thread that stand out of a nut (common practice)
_HOT_CLASSES: Final = ("660", "21CrMoV5-7")
_STATES: Final = {"hot-paste": "hot-paste", "molybdenum": "molybdenum-paste"}
_GASKETS: Final = {"charge": "gasket-charge", **dict.fromkeys(_HOT, "gasket-hot")}


def least_length(bolt: Fastener, nut: bool) -> float | None:
    """Length that a bolt or stud needs at least [m]: what it clamps, what it holds in, the nut and two turns
    of thread beyond it; None where one of them is not stated.
    """
    if bolt.grip is None or bolt.thread is None:
        return None
    length = bolt.grip.value
    if not bolt.in_nut:
        if bolt.engaged is None:
            return None
        length += bolt.engaged.value
    if nut:
        length += nut_height(bolt.thread.major) + _THREADS_OUT * bolt.thread.pitch
    return length


def add_fasteners(build: Build, tasks: Iterable[Task], into: Gathered, left: list[str]) -> None:
    """Append the lines that the bolted joints ask for."""
    plan = tuple(tasks)
    planned = frozenset(task.key for task in plan)
    for row, bolt in zip(build.table("fasteners"), fasteners_of(build), strict=True):
        tightened = tuple(task.key for task in plan if bolt.name in task.joints)
        if not tightened and bolt.clamps in _STAY:
            left.append(f"{bolt.name}: stays as it is, no task undoes it")
            continue
        usual = clamp_tasks(bolt.clamps)
        keys = tightened or tuple(task for task in usual if not planned or task in planned) or usual
        _add(row, bolt, keys, into)


def _word(row: Row, name: str) -> str:
    found = row.get(name)
    return "" if found is None else str(found.value)


def _add(row: Row, bolt: Fastener, tasks: tuple[str, ...], into: Gathered) -> None:
    name, word = bolt.name, slug(bolt.name)
    locking, tapped = _word(row, "locking"), bolt.parent is not None
    nuts = bolt.in_nut or locking == "nut"
    stud = nuts and tapped
    asks = _asks(row, bolt)
    size = bolt.thread.name if bolt.thread else "size to be found out"
    strength = _word(row, "class")
    count = None if bolt.count is None else float(bolt.count)
    least = least_length(bolt, nuts)
    length = None if least is None else bolt_length(least)
    said = "" if length is None else f" x {1e3 * length:.0f} mm"
    if least is not None and length is None:
        said = f" x {1e3 * least:.0f} mm at least, made to order"
    kind = "stud" if stud else "bolt-hot" if strength in _HOT_CLASSES else "bolt"
    what = f"{'stud' if stud else 'bolt'} {size}{said}" + (f", class {strength}" if strength else "")

    def line(sort: str, key: str, text: str, number: float | None, more: Iterable[Ask] = ()) -> Line:
        return made(
            f"{sort}.{word}", Group.FASTENER, supplies()[key], text, number,
            joints=[name], tasks=tasks, asks=more,
        )  # fmt: skip

    into.add(line("stud" if stud else "bolt", kind, what, count, asks))
    if nuts:
        key = "nut-locking" if locking == "nut" else "nut"
        into.add(line("nut", key, f"{supplies()[key].words} {size}", count))
    into.add(line("washer", "washer", f"washer, hardened, for {size}", _washers(bolt, stud)))
    if locking == "tab":
        into.add(line("tab", "tab-washer", f"locking tab for {size}", count))
    if locking == "adhesive":
        lock = supplies()["thread-lock"]
        into.share(made("use.thread-lock", Group.CONSUMABLE, lock, joints=[name], tasks=tasks))
    state = _word(row, "lubricant")
    if state in _STATES:
        paste = supplies()[_STATES[state]]
        into.share(made(f"use.{paste.key}", Group.CONSUMABLE, paste, joints=[name], tasks=tasks))
    _add_gasket(row, bolt, tasks, into)


def _washers(bolt: Fastener, stud: bool) -> float | None:
    """One under each face that turns or bears: two for a bolt through a nut, else one."""
    if bolt.count is None:
        return None
    return float(bolt.count * (2 if bolt.in_nut and not stud else 1))


def _asks(row: Row, bolt: Fastener) -> list[Ask]:
    """What is not known of the bolts themselves."""
    asks = []
    for name, words in (
        ("size", "thread of the bolts"),
        ("class", "strength class"),
        ("count", "how many"),
        ("grip_length", "thickness that they clamp, from which their length follows"),
        ("parent_material", "what they are screwed into, a hole or a nut"),
        ("lubricant", "state of the thread for which the torque holds: dry, oiled, paste"),
    ):
        if name not in row:
            asks.append(Ask(name, words))
    if bolt.unread:
        asks.append(Ask("size", bolt.unread.rstrip(".")))
    if bolt.parent is not None and bolt.engaged is None:
        asks.append(Ask("engaged_length", "thread engaged in the hole, from which their length follows"))
    if bolt.clamps in _TURNING and "locking" not in row:
        asks.append(Ask("locking", "what keeps them from turning back"))
    return asks


def _add_gasket(row: Row, bolt: Fastener, tasks: tuple[str, ...], into: Gathered) -> None:
    between = _word(row, "gasket")
    if between == "none":
        return
    name, word = bolt.name, slug(bolt.name)
    if not between:
        if bolt.clamps in _TIGHT:
            words = f"what lies between the faces of '{name}'"
            into.add(question(f"gasket-{word}", words, [name], tasks))
        return
    key = "o-ring" if between == "ring" else _GASKETS.get(bolt.clamps, "gasket-flange")
    text = f"{supplies()[key].words} of '{name}'" + ("" if between == "ring" else f", {between}")
    into.add(made(f"gasket.{word}", Group.SEAL, supplies()[key], text, joints=[name], tasks=tasks))

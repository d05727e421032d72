"""What the joints of a build ask for: parts with their halves, seals, adapters, bolts of flanges."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from boostwright.build.document import Build
from boostwright.library.halves import Half, Kind
from boostwright.library.seals import Seal
from boostwright.library.supplies import (
    Supply,
    carried,
    find_supply,
    hose_wall,
    is_of_the_car,
    part_rules,
    sealing_ring,
    supplies,
)
from boostwright.planning.parts.making import Gathered, made, question
from boostwright.planning.parts.records import Ask, Group, slug
from boostwright.systems.joints import Carried, End, Joint, Sureness, judge_seal, mates
from boostwright.systems.stated.joints import joints_of, open_ports

__all__ = ["add_joints", "tasks_of"]

_TWO_ENDED: Final = ("hose", "adapter", "adaptor", "pipe", "coupler", "reducer", "tee")
_BOLTED: Final[Mapping[Carried, str]] = {
    Carried.OIL: "oil", Carried.OIL_DRAIN: "oil", Carried.COOLANT: "coolant", Carried.FUEL: "fuel",
    Carried.AIR: "charge", Carried.COOLED_AIR: "charge", Carried.EXHAUST: "turbine",
    Carried.EXHAUST_OUT: "turbine-outlet",
}  # fmt: skip
_CLAMPS: Final = {"worm": "clamp-worm", "bolt": "clamp-bolt", "spring": "clamp-spring", "tie": "ties"}


def tasks_of(joint: Joint, planned: frozenset[str]) -> tuple[str, ...]:
    """The tasks in which a joint is made: of the two of an oil line the one at the turbo or the one at the
    engine; without a plan, all that could be.
    """
    if joint.carries is None:
        return ()
    tasks, _ = carried(joint.carries.value)
    if len(tasks) > 1:
        at_turbo = any("turbo" in end.part.casefold() for end in joint.ends)
        tasks = tasks[-1:] if at_turbo else tasks[:1]
    return tuple(task for task in tasks if not planned or task in planned) or tasks[-1:]


def add_joints(build: Build, planned: frozenset[str], into: Gathered, left: list[str]) -> None:
    """Append the lines that ports and joints ask for."""
    joints = joints_of(build)
    _unread(build, joints, into)
    _add_parts(joints, open_ports(build), planned, into, left)
    for joint in joints:
        tasks = tasks_of(joint, planned)
        _add_halves(joint, tasks, into)
        _add_mating(joint, tasks, into)
        _add_seals(build, joint, tasks, into)
        _add_flange_bolts(build, joint, tasks, into)
    for end in open_ports(build):
        why = "a joint left out, or a hole that wants a plug"
        words = f"nothing is joined to '{end.port}' ({end.half.name}): {why}"
        into.add(question(f"port-{slug(end.port)}", words))


def _unread(build: Build, joints: Iterable[Joint], into: Gathered) -> None:
    """Joints of the file of which a half cannot be made out."""
    read = {joint.line for joint in joints}
    for number, row in enumerate(build.table("joints"), 1):
        name = row.get("name")
        if name is not None and name.line in read and {"from", "to"} <= row.keys():
            continue
        said = str(name.value) if name is not None else f"joint number {number}"
        gone = [side for side in ("from", "to") if side not in row]
        why = (
            f"'{' and '.join(gone)}' is not stated" if gone else "a half is no port and no half that is known"
        )
        into.add(question(f"joint-{slug(said)}", f"joint '{said}': {why}", joints=[said]))


# --------------------------------------------------------------------------------------------- parts


def _add_parts(
    joints: Iterable[Joint], unused: Iterable[End], planned: frozenset[str], into: Gathered, left: list[str]
) -> None:
    parts: dict[str, list[tuple[End, Joint | None]]] = {}
    ends = [(end, joint) for joint in joints for end in joint.ends]
    for end, joint in [*ends, *((end, None) for end in unused)]:
        if not end.port:
            continue
        if end.part:
            parts.setdefault(" ".join(end.part.split()), []).append((end, joint))
        else:
            words = f"which part has '{end.port}' ({end.half.name})? 'of' is not stated"
            into.add(question(f"part-of-{slug(end.port)}", words, [joint.name] if joint else []))
    for name, halves in parts.items():
        if is_of_the_car(name):
            left.append(f"{name}: part of the car, taken for there with {_ends(halves)}")
        else:
            _add_part(name, halves, planned, into)


def _ends(halves: Iterable[tuple[End, Joint | None]]) -> str:
    """The ends of a part in words, those that are alike together: '2 x spigot 54 mm'."""
    found: dict[str, int] = {}
    for end, _ in halves:
        name = end.half.name
        if end.half.kind is Kind.HOSE:
            name = f"for spigot {name.removeprefix('hose ')}"
        found[name] = found.get(name, 0) + 1
    both = len(found) == 1 and sum(found.values()) == 2
    return ", ".join(
        f"{name} at both ends" if both else f"{count} x {name}" if count > 1 else name
        for name, count in found.items()
    )


def _add_part(
    name: str, halves: list[tuple[End, Joint | None]], planned: frozenset[str], into: Gathered
) -> None:
    used = [joint for _, joint in halves if joint is not None]
    supply = _supply(name, halves)
    rule = part_rules().get(supply.key)
    hose = any(end.half.kind is Kind.HOSE for end, _ in halves) or "hose" in name.casefold()
    by_length = hose and supply.key != "coupler"
    asks = []
    if by_length:
        asks.append(Ask("length", f"how long the {name} is, as it has to be cut"))
    if len(halves) < 2 and any(word in name.casefold() for word in _TWO_ENDED):
        words = f"where the other end of the {name} goes: only '{halves[0][0].port}' is stated"
        into.add(question(f"other-end-{slug(name)}", words, [joint.name for joint in used]))
    group = Group.HOSE if hose else Group.PART if rule is not None else Group.FITTING
    start = {Group.HOSE: "hose", Group.PART: "part", Group.FITTING: "fitting"}[group]
    word = supply.key if rule is not None else slug(name)
    materials = sorted({end.material.words for end, _ in halves if end.material_stated})
    what = f"{name}: {_ends(halves)}" + (f"; {', '.join(materials)}" if materials else "")
    tasks = [task for joint in used for task in tasks_of(joint, planned)]
    into.add(
        made(
            f"{start}.{word}",
            group,
            supply,
            what,
            None if by_length and supply.unit == "m" else 1.0,
            joints=dict.fromkeys(joint.name for joint in used),
            tasks=dict.fromkeys(([rule.task] if rule else []) + tasks),
            asks=asks,
            tried=bool(used) and all(joint.tried for joint in used),
            other=_other(supply, halves),
        )
    )


def _supply(name: str, halves: Iterable[tuple[End, Joint | None]]) -> Supply:
    """The supply that a part's name means; else a hose for what it carries; else a part."""
    found = find_supply(name)
    if found is not None and found.key != "hose-any":
        return found
    for end, joint in halves:
        if (
            (end.half.kind is Kind.HOSE or found is not None)
            and joint is not None
            and joint.carries is not None
        ):
            return supplies()[carried(joint.carries.value)[1]]
    return found or supplies()["part"]


def _other(supply: Supply, halves: Iterable[tuple[End, Joint | None]]) -> str:
    """What a substitute must satisfy: the supply's rule and the greatest figures of its ends."""
    least = []
    for name, unit, scale, offset in (("pressure", "bar", 1e5, 0.0), ("temperature", "degC", 1.0, 273.15)):
        stated = [getattr(end, name).value for end, _ in halves if name in end.stated]
        if stated:
            least.append(f"{(max(stated) - offset) / scale:.3g} {unit}")
    tested = [joint.tested.value for _, joint in halves if joint is not None and joint.tested is not None]
    if tested:
        least.append(f"the test at {max(tested) / 1e5:.3g} bar")
    return supply.other + (f"; must stand {', '.join(least)}" if least else "")


# ------------------------------------------------------------------------------- halves, seals, bolts


def _add_halves(joint: Joint, tasks: tuple[str, ...], into: Gathered) -> None:
    for side, end in (("from", joint.a), ("to", joint.b)):
        if not end.port:
            words = f"which part brings the {end.half.name} of '{joint.name}'? It is no port of any part"
            into.add(question(f"half-{slug(joint.name)}-{side}", words, [joint.name], tasks))


def _add_mating(joint: Joint, tasks: tuple[str, ...], into: Gathered) -> None:
    """An adapter where the halves do not mate; a question where that cannot be told."""
    mating = mates(joint.a.half, joint.b.half)
    if not mating.mates:
        if mating.adapter:
            into.add(
                made(
                    f"fitting.adapter-{slug(joint.name)}",
                    Group.FITTING,
                    supplies()["adapter"],
                    mating.adapter,
                    joints=[joint.name],
                    tasks=tasks,
                    note=mating.words,
                )
            )
        else:
            into.add(question(f"mate-{slug(joint.name)}", mating.words, [joint.name], tasks))
    elif mating.sure is Sureness.GUESS and not joint.tried:
        into.add(question(f"mate-{slug(joint.name)}", mating.words, [joint.name], tasks))
    if joint.carries is None:
        words = f"what goes through '{joint.name}': hose, seal and paste hang on it"
        into.add(question(f"carries-{slug(joint.name)}", words, [joint.name], tasks))


def _add_seals(build: Build, joint: Joint, tasks: tuple[str, ...], into: Gathered) -> None:
    oil, fuel = joint.carries is Carried.OIL, joint.carries is Carried.FUEL
    a, b = joint.a.half, joint.b.half
    if joint.carries is Carried.NOTHING and not joint.seals:
        return
    nothing = judge_seal(a, b, Seal.NOTHING, oil, fuel)
    if not joint.seals and not nothing.suits:
        words = f"what makes '{joint.name}' tight is not stated. {nothing.words}"
        into.add(question(f"seal-{slug(joint.name)}", words, [joint.name], tasks))
    for seal in sorted(joint.seals, key=lambda one: one.value):
        judged = judge_seal(a, b, seal, oil, fuel)
        if not judged.suits:
            words = f"the right seal for '{joint.name}' instead of {seal.value}. {judged.words}"
            into.add(question(f"seal-{slug(joint.name)}", words, [joint.name], tasks))
            continue
        _add_seal(build, joint, seal, tasks, into)


def _add_seal(build: Build, joint: Joint, seal: Seal, tasks: tuple[str, ...], into: Gathered) -> None:
    key, what, count, group = "", "", 1.0, Group.SEAL
    halves = (joint.a.half, joint.b.half)
    if seal is Seal.PASTE:
        key, group = "thread-paste", Group.CONSUMABLE
    elif seal is Seal.TAPE:
        key, group = "ptfe-tape", Group.CONSUMABLE
    elif seal is Seal.WASHER:
        key, what = "sealing-ring", _ring(halves)
        count = 2.0 if any(half.kind is Kind.BANJO for half in halves) else 1.0
    elif seal is Seal.O_RING:
        key, what = "o-ring", f"O-ring for {halves[0].name} in {halves[1].name}"
    elif seal is Seal.CLAMP:
        key, what = _clamp(build, joint)
    elif seal is Seal.GASKET:
        hot = joint.carries in (Carried.EXHAUST, Carried.EXHAUST_OUT)
        key, what = "gasket-hot" if hot else "gasket-flange", f"gasket for {halves[0].name}"
    if not key:  # nothing, or a quick connector's own
        return
    supply = supplies()[key]
    if group is Group.CONSUMABLE:
        note = f"cures for {supply.cure:g} h before it may be wetted" if supply.cure else ""
        into.share(made(f"use.{key}", group, supply, joints=[joint.name], tasks=tasks, note=note))
        return
    seal_key = f"seal.{slug(joint.name)}"
    into.add(made(seal_key, group, supply, what, count, joints=[joint.name], tasks=tasks, tried=joint.tried))


def _ring(halves: Iterable[Half]) -> str:
    thread = next((half.thread for half in halves if half.thread is not None), None)
    ring = None if thread is None else sealing_ring(thread.major)
    if thread is None or ring is None:
        return "sealing ring"
    size = " x ".join(f"{1e3 * part:g}" for part in ring)
    return f"sealing ring, copper, {size} mm, for {thread.name}"


def _clamp(build: Build, joint: Joint) -> tuple[str, str]:
    """Supply and words of the clamp of a joint."""
    for end in joint.ends:
        half = end.half
        if half.kind is Kind.V_BAND:
            return "clamp-v", f"v-band clamp {1e3 * (half.size or 0.0):.4g} mm"
        if half.kind is Kind.HOSE and half.size:
            over = half.size + 2.0 * hose_wall(end.material.name)
            charge = joint.carries in (Carried.AIR, Carried.COOLED_AIR)
            stated = build.get("pipes.clamp") if charge else None
            key = _CLAMPS.get(str(stated.value), "clamp-worm") if stated is not None else "clamp-worm"
            size = f"for hose {1e3 * half.size:.4g} mm, about {1e3 * over:.0f} mm outside"
            what = f"{supplies()[key].words}, {size}"
            return key, what
    return "clamp-worm", "clamp"


def _add_flange_bolts(build: Build, joint: Joint, tasks: tuple[str, ...], into: Gathered) -> None:
    """Bolts of a flange that no table [[fasteners]] covers."""
    count = next((half.bolts for half in (joint.a.half, joint.b.half) if half.kind is Kind.FLANGE), None)
    if not count or joint.carries is None:
        return
    clamps = _BOLTED.get(joint.carries, "other")
    for row in build.table("fasteners"):
        stated, number = row.get("clamps"), row.get("count")
        if stated is not None and str(stated.value) == clamps and (number is None or number.value == count):
            return
    ask = Ask(
        "size", f"thread, length and class of the {count} bolts of '{joint.name}', or a table [[fasteners]]"
    )
    into.add(
        made(
            f"bolt.{slug(joint.name)}",
            Group.FASTENER,
            supplies()["bolt"],
            f"bolts of the flange of '{joint.name}'",
            float(count),
            joints=[joint.name],
            tasks=tasks,
            asks=[ask],
            tried=joint.tried,
        )
    )

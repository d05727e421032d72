"""Single faults: where each is planted, how large it may be, and which findings must see it.

A kind names a field, how a harmful value is drawn for it, the findings of which one must raise its voice,
and the beginnings of those that may break along with it because the fault is theirs too. Which finding
belongs to which fault is decided here, before anything is computed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from boostwright.build.document import Build
from tests.mutation_draws import Kind
from tests.mutation_kinds import KINDS

__all__ = ["KINDS", "Kind", "Mutation", "plant", "planted_text"]


@dataclass(frozen=True, slots=True)
class Mutation:
    """One fault planted in one build."""

    build: str
    kind: Kind
    value: str | None
    text: str  # the whole file


def planted_text(text: str, kind: Kind, value: str | None) -> str | None:
    """The file with the field changed, or taken out for None; None when the file does not state the field.

    A field that is not stated is added to its section where a value is given; of a list of tables the first
    one is changed.
    """
    section, name = kind.field.split(".")
    head = re.search(rf"^\[\[?{section}\]\]?$", text, re.MULTILINE)  # of a list, its first table
    if head is None:
        return None
    rest = text[head.end() :]
    end = re.search(r"^\[", rest, re.MULTILINE)
    body, after = (rest, "") if end is None else (rest[: end.start()], rest[end.start() :])
    line = re.search(rf"^{name} = .*$\n", body, re.MULTILINE)
    new = "" if value is None else f"{name} = {value}\n"
    if line is None:
        if value is None:
            return None
        body = f"{body.rstrip()}\n{new}\n"
    else:
        body = body[: line.start()] + new + body[line.end() :]
    for along in re.findall(r"\n(\w+) = ", new):  # what came with it takes the place of what was there
        body = re.sub(rf"^{along} = .*$\n", "", body.replace(new, "@@\n"), flags=re.MULTILINE)
        body = body.replace("@@\n", new)
    if kind.field == "turbo.compressor_inducer":  # map and known point were of another wheel
        body = re.sub(r"^(compressor_map|known_\w+|map_reference_\w+) = .*$\n", "", body, flags=re.MULTILINE)
    made = text[: head.end()] + body + after
    if kind.field == "goal.boost":  # a cut below the wish is another fault
        made = re.sub(r"^boost_cut = .*$\n", "", made, flags=re.MULTILINE)
    return made


def _has_its_table(kind: Kind, build: Build) -> bool:
    """False for a fault in a list of tables that the build does not have."""
    section = kind.field.partition(".")[0]
    return section != "fasteners" or bool(build.table(section))


def plant(builds: dict[str, tuple[str, Build]], count: int, seed: int) -> list[Mutation]:
    """`count` single faults: every kind once, then every kind in every build, shuffled, sizes drawn
    anew each time.
    """
    rng = np.random.default_rng(seed)
    pairs = [(name, kind) for name in builds for kind in KINDS]
    made: list[Mutation] = []
    while len(made) < count:
        shuffled = [pairs[place] for place in rng.permutation(len(pairs))]
        first = {kind.label: (name, kind) for name, kind in shuffled if kind.harms(builds[name][1])}
        once = list(first.values())
        for name, kind in once + [pair for pair in shuffled if pair not in once]:
            text, build = builds[name]
            if not _has_its_table(kind, build) or not kind.harms(build):
                continue
            value = kind.draw(build, rng)
            changed = planted_text(text, kind, value)
            if changed is not None:
                made.append(Mutation(name, kind, value, changed))
            if len(made) == count:
                break
    return made

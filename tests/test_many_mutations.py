"""Two hundred single faults of drawn sizes in five sound builds: nearly all must be found, and nothing else
may break.

The part of a build that a fault does not touch is computed once: where `Kind.computed` is not set, the fault
cannot move cycle or match, and only the rules run again. Only the ordinary day is computed, for time; what
corners add is tested where they are made.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest

import boostwright.findings.prepare as preparing
from boostwright.build.document import Build
from boostwright.errors import BoostwrightError, BuildFileError
from boostwright.findings.case import Case
from boostwright.findings.model import Finding, Verdict
from boostwright.findings.prepare import prepare
from boostwright.findings.registry import find_all
from tests.mutation_builds import SOUND_BUILDS, with_its_map
from tests.mutations import KINDS, Mutation, plant

COUNT, SEED = 200, 20250614
PARTS = 2  # so that two workers share them
LEAST_FOUND = 0.95
_RANK = {Verdict.HOLDS: 0, Verdict.TIGHT: 1, Verdict.UNKNOWN: 2, Verdict.BREAKS: 2}
RPM = np.pi / 30.0


@dataclass(frozen=True)
class Judged:
    """One build before any fault."""

    text: str
    build: Build
    case: Case
    findings: dict[str, Finding]

    @property
    def speeds(self) -> np.ndarray:
        return speeds_of(self.build)


def speeds_of(build: Build) -> np.ndarray:
    """Three speeds up to the limit of the build: low, middle, top."""
    top = min(6000.0, build.number("engine.speed_limit") / RPM)
    return np.array([1800.0, 3200.0, top]) * RPM


@pytest.fixture(scope="module", autouse=True)
def the_ordinary_day_alone() -> Iterator[None]:
    """No corners, for time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(preparing, "corners_of", lambda _: ())
        yield


@pytest.fixture(scope="module")
def judged(the_ordinary_day_alone: None) -> dict[str, Judged]:
    made = {}
    for name, text in SOUND_BUILDS.items():
        build = with_its_map(text)
        case = prepare(build, speeds_of(build)).case
        made[name] = Judged(text, build, case, {f.code: f for f in find_all(case)})
    return made


def findings_of(mutation: Mutation, base: Judged) -> dict[str, Finding]:
    """The findings of a build with a fault in it."""
    build = with_its_map(mutation.text)
    if mutation.kind.computed:
        case = prepare(build, base.speeds).case
    else:
        case = replace(base.case, build=build)
    return {f.code: f for f in find_all(case)}


def found(mutation: Mutation, now: dict[str, Finding], base: Judged) -> bool:
    """Whether one of the findings that belong to the fault is worse than before."""
    for code, finding in now.items():
        if not any(_is(code, name) for name in mutation.kind.found_by):
            continue
        before = base.findings.get(code)
        if _RANK[finding.verdict] > (0 if before is None else _RANK[before.verdict]):
            return True
    return False


def strangers(mutation: Mutation, now: dict[str, Finding], base: Judged) -> list[str]:
    """Findings that break although the fault is none of theirs."""
    own = (*mutation.kind.found_by, *mutation.kind.related)
    return [
        code
        for code, finding in now.items()
        if finding.verdict is Verdict.BREAKS
        and (code not in base.findings or base.findings[code].verdict is not Verdict.BREAKS)
        and not any(_is(code, name) for name in own)
    ]


def _is(code: str, name: str) -> bool:
    return code.startswith(name) if name.endswith((".", "_")) else code == name


@pytest.mark.parametrize("name", list(SOUND_BUILDS))
def test_the_builds_to_plant_in_are_sound(name: str, judged: dict[str, Judged]) -> None:
    bad = [f.code for f in judged[name].findings.values() if f.verdict is Verdict.BREAKS]
    unknown = [f.code for f in judged[name].findings.values() if f.verdict is Verdict.UNKNOWN]
    assert bad == []
    assert unknown == []


@pytest.mark.parametrize("part", range(PARTS))
def test_two_hundred_single_faults_are_found_and_nothing_else_breaks(
    part: int, judged: dict[str, Judged]
) -> None:
    """Every part by itself reaches the share, so all of them do."""
    mutations = plant({n: (j.text, j.build) for n, j in judged.items()}, COUNT, SEED)[part::PARTS]
    missed: Counter[str] = Counter()
    odd: list[str] = []
    for one in mutations:
        base = judged[one.build]
        try:
            now = findings_of(one, base)
        except BuildFileError as refusal:
            if one.kind.field not in str(refusal):  # refused for what was planted: that is found, too
                missed[f"{one.kind.label}: refused, {refusal}"] += 1
            continue
        except BoostwrightError as mishap:
            missed[f"{one.kind.label}: refused, {mishap}"] += 1
            continue
        if not found(one, now, base):
            seen = {c: now[c].verdict.value for c in now if any(_is(c, n) for n in one.kind.found_by)}
            missed[f"{one.kind.label} = {one.value} in {one.build}: {seen}"] += 1
        odd += [f"{one.kind.label} = {one.value} in {one.build}: {c}" for c in strangers(one, now, base)]
    share = 1.0 - sum(missed.values()) / len(mutations)
    told = "\n".join(f"  missed: {what}" for what in missed)
    print(f"{100 * share:.1f} % found\n{told}")  # noqa: T201  (pytest -rP shows it)
    assert share >= LEAST_FOUND, f"{100 * share:.1f} % found\n{told}"
    assert odd == [], "\n".join(odd)


def test_every_kind_is_planted_and_names_a_rule_that_exists(judged: dict[str, Judged]) -> None:
    mutations = plant({n: (j.text, j.build) for n, j in judged.items()}, COUNT, SEED)
    assert {m.kind.label for m in mutations} == {k.label for k in KINDS}
    assert len({m.text for m in mutations}) == COUNT


def test_a_fault_that_moves_no_cycle_gives_the_same_verdicts_when_all_is_computed_again(
    judged: dict[str, Judged],
) -> None:
    """The short cut of this file, against the whole way, for a few of its kinds."""
    mutations = plant({n: (j.text, j.build) for n, j in judged.items()}, COUNT, SEED)
    for one in [m for m in mutations if not m.kind.computed and m.build == "sound"][:4]:
        base = judged[one.build]
        short = findings_of(one, base)
        whole = findings_of(replace(one, kind=replace(one.kind, computed=True)), base)
        assert {c: f.verdict for c, f in short.items()} == {c: f.verdict for c, f in whole.items()}, one.kind

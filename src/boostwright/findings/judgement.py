"""The whole of a check: prepare the case, ask every rule, and gather what a person must see with it."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from boostwright.build.catalogue import Ask, FieldType, catalogue
from boostwright.build.document import Build
from boostwright.build.limits import value_text
from boostwright.build.values import StatedValue
from boostwright.errors import OutOfRange
from boostwright.findings.drawing import drawing_of
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.limits import LimitEdit
from boostwright.findings.model import Amount, Finding, Kind
from boostwright.findings.notes import not_covered
from boostwright.findings.prepare import prepare
from boostwright.findings.registry import find_all
from boostwright.findings.result import AssumedValue, CheckResult, SummaryRow
from boostwright.library.version import data_version
from boostwright.systems.corners import Begin

__all__ = ["Judged", "judge", "judged"]


class Judged(NamedTuple):
    """A check, and where the match of a like build may begin; None where that is not known."""

    result: CheckResult
    begin: Begin | None


def judge(
    build: Build,
    speeds: ArrayLike | None,
    limits: tuple[LimitEdit, ...],
    progress: Callable[[str], None],
    version: str,
) -> CheckResult:
    """Judge one build; see `verbs.check`. version: of the program, to stand on the result."""
    return judged(build, speeds, limits, progress, version).result


def judged(
    build: Build,
    speeds: ArrayLike | None,
    limits: tuple[LimitEdit, ...],
    progress: Callable[[str], None],
    version: str,
) -> Judged:
    """The same, with what draws of a sampled check begin from."""
    began = time.perf_counter()
    chosen = None if speeds is None else _checked(speeds)
    prepared = prepare(build, chosen, (*edits_of(build), *limits), progress)
    progress("judging")
    case = prepared.case
    findings = find_all(case)
    # unusual values first, then what is only said for the record
    notes = tuple(n.sentence() for n in sorted(build.notes, key=lambda n: not n.is_unusual))
    result = CheckResult(
        version=version,
        data_version=data_version(),
        fingerprint=build.fingerprint,
        created_with=_created_with(build),
        name=build.name,
        summary=_summary(build),
        engine=case.engine,
        fuel=case.fuel,
        baseline=case.baseline,
        goal=case.goal,
        strength=case.strength,
        no_goal=case.no_goal,
        findings=findings,
        assumed=_assumed(build, findings),
        not_covered=not_covered(),
        warnings=prepared.warnings,
        unusual=notes,
        not_judged=_not_judged(build),
        seconds={**prepared.seconds, "total": time.perf_counter() - began},
        drawing=drawing_of(case),
        corners=case.corners,
        gate_shut=case.gate_shut,
        threshold=case.threshold,
        arrival=case.arrival,
        gate=case.extra.get("gate"),
    )
    return Judged(result, case.extra.get("begin"))


def _checked(speeds: ArrayLike) -> np.ndarray:
    array = np.atleast_1d(np.asarray(speeds, dtype=np.float64))
    if array.ndim != 1 or array.size < 3 or not np.all(np.isfinite(array)) or np.any(np.diff(array) <= 0):
        raise OutOfRange("speeds must be a row of three or more engine speeds [rad/s] that rises")
    return array


def _created_with(build: Build) -> str:
    made_with = build.get("build.file_version")
    return "" if made_with is None else f"form {made_with.value:g}"


def _summary(build: Build) -> tuple[SummaryRow, ...]:
    cylinders = build.count("engine.cylinders")
    bore, stroke = build.number("engine.bore") * 1e3, build.number("engine.stroke") * 1e3
    valves = build.count("engine.intake_valves") + build.count("engine.exhaust_valves")
    sizes = f"{build.displacement * 1e6:.0f} cc, {cylinders} cylinders, {bore:.1f} x {stroke:.1f} mm"
    sizes += f", {valves} valves each"
    rows = [
        SummaryRow("engine", words=sizes),
        SummaryRow("compression ratio", _amount(build, "engine.compression_ratio", Kind.COMPRESSION)),
        SummaryRow("boost wanted", _amount(build, "goal.boost", Kind.PRESSURE_GAUGE)),
        SummaryRow("power wanted", _amount(build, "goal.power", Kind.POWER)),
        SummaryRow("usual fuel", _amount(build, "fuel.octane", Kind.OCTANE)),
        SummaryRow("ethanol in it", _amount(build, "fuel.ethanol", Kind.SHARE)),
        SummaryRow(
            "outside air", Amount(build.barometer, build["place.barometer"].sd, Kind.PRESSURE_ABSOLUTE)
        ),
        SummaryRow("air temperature", _amount(build, "place.temperature", Kind.TEMPERATURE)),
    ]
    return tuple(row for row in rows if row.amount is not None or row.words)


def _amount(build: Build, path: str, kind: Kind) -> Amount | None:
    stated = build.get(path)
    return None if stated is None else Amount(float(stated.value), float(stated.sd), kind)


def _assumed(build: Build, findings: tuple[Finding, ...]) -> tuple[AssumedValue, ...]:
    """The assumed values that the check used, by the weight of the findings that rest on them."""
    found = []
    for value in build.assumed("check"):
        rests = tuple(f for f in findings if value.path in f.about)
        known = catalogue().field(value.path)
        asked = 0.01 if known.ask is Ask.SHOULD else 0.0  # among equals, what a new file asks for comes first
        found.append(
            AssumedValue(
                value.path,
                known.words,
                _text(value),
                sum(f.weight for f in rests) + asked,
                tuple(f.code for f in rests),
            )
        )
    return tuple(sorted(found, key=lambda a: (-a.weight, a.field)))


_READERS = {"check", "odds", "fit"}
"""Who reads a field for a verdict: a plain check, one with odds from draws, or the fit before it."""

_SAID_ELSEWHERE = ("build", "limits", "model", "people")
"""Sections that are no part of a verdict, or are read by other means than a field of the check."""


def _not_judged(build: Build) -> tuple[str, ...]:
    """The stated fields that no finding and no computation of a check reads, in the order of the file; then
    the lists of which it reads no field.
    """
    known = catalogue()
    stated = [(value.path, known.field(value.path).used_by) for value in build.stated()]
    single = [path for path, by in stated if not _READERS & set(by)]
    lists = [
        section
        for section, rows in build.tables.items()
        if rows
        and not any(_READERS & set(known.field(f"{section}[].{key}").used_by) for row in rows for key in row)
    ]
    return tuple(path for path in single + lists if path.partition(".")[0] not in _SAID_ELSEWHERE)


def _text(value: StatedValue) -> str:
    known = catalogue().field(value.path)
    if known.type is not FieldType.QUANTITY:
        return (
            {True: "yes", False: "no"}.get(value.value, str(value.value)) if value.value is not None else ""
        )
    if isinstance(value.value, tuple):
        return ", ".join(value_text(known, v) for v in value.value)
    return value_text(known, float(value.value), float(value.sd) if value.sd else None).replace("+/-", "±")

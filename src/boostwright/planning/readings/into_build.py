"""Recorded readings stand in the build as if its file had stated them, measured and dated."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Sequence
from statistics import NormalDist, fmean
from typing import Any, Final

from boostwright.build.catalogue import Field, FieldType, catalogue
from boostwright.build.document import Build, Row
from boostwright.build.recorded import Recorded, Standing
from boostwright.build.values import Source, StatedValue
from boostwright.job.records import Reading, Record
from boostwright.planning.readings.compared import REAL
from boostwright.planning.readings.judged import JudgedReading, judged_readings

__all__ = ["with_readings", "without_readings"]

_ROW_SIDES: Final = ("before", "after")  # that a row of [[readings]] can say


def with_readings(build: Build, records: Sequence[Record]) -> Build:
    """The build with the standing readings of its job in it.

    The newest reading of a field stands in for what the file states of it or leaves to be assumed; each
    reading of a field is a row of [[readings]] besides. One far outside what was expected waits until a
    second one says the same. What the readings replaced is kept in `recorded`. Applying it twice
    is the same as once.
    """
    bare = without_readings(build)
    judged = judged_readings(bare, None, records)
    if not judged:
        return bare
    values, rows = dict(bare.values), list(bare.tables.get("readings", ()))
    was: dict[str, StatedValue | None] = {}
    recorded: list[Recorded] = []
    fallen = _fallen([one.reading for one in judged])
    for one in judged:
        used = _usable(one, bare)
        fields = _fields(one, bare) if used else ()
        for path in fields:
            was.setdefault(path, bare.values.get(path))
            values[path] = _value(path, one)
        if used and _of_one_place(one.measurement.field) and one.side in _ROW_SIDES:
            row = _row(one)
            if row is not None:
                rows.append(row)
        kept = _recorded(one, bare, fields, used)
        recorded.append(dataclasses.replace(kept, fell=fallen.get(kept.id, "")))
    tables = dict(bare.tables)
    if rows:
        tables["readings"] = tuple(rows)
    return dataclasses.replace(bare, values=values, tables=tables, recorded=tuple(recorded), _defaults={})


def _fallen(readings: Sequence[Reading]) -> dict[str, str]:
    """For the newest power of each step, by its id, how far it fell against the best pull before it.

    What was changed of the build in between is not known here; the sentence leaves that open.
    """
    steps = {one.step for one in readings if one.measurement == "pull_power"}
    found = {}
    for step in steps:
        power, peaks = (
            [one for one in readings if one.step == step and one.measurement == name]
            for name in ("pull_power", "pull_peak")
        )
        if len(power) < 2:
            continue
        from boostwright.planning.ladder.gates import moment_at
        from boostwright.planning.ladder.like import power_against_before
        from boostwright.planning.ladder.records import State

        told = power_against_before(power, peaks, moment_at, -math.inf)
        if told is not None and told[0] is State.OUTSIDE:
            found[power[-1].id] = told[1]
    return found


def without_readings(build: Build) -> Build:
    """The build as its file alone states it."""
    if not build.recorded:
        return build
    before: dict[str, StatedValue | None] = {}
    for one in build.recorded:
        for path, value in zip(one.fields, one.was, strict=True):
            before.setdefault(path, value)
    values = {
        path: before.get(path) or value
        for path, value in build.values.items()
        if path not in before or before[path] is not None
    }
    tables = {name: rows for name, rows in build.tables.items() if name != "readings"}
    kept = tuple(row for row in build.table("readings") if not _is_ours(row))
    if kept or ("readings" in build.tables and not build.tables["readings"]):
        tables["readings"] = kept
    return dataclasses.replace(build, values=values, tables=tables, recorded=(), _defaults={})


_OURS: Final = "recorded"


def _is_ours(row: Row) -> bool:
    field = row.get("field")
    return field is not None and field.line is None and field.note == _OURS


def _usable(one: JudgedReading, build: Build) -> bool:
    """Whether a reading may stand in the build: not far outside unless repeated, and with all its places."""
    if one.against is not None or (one.state is Standing.FAR and one.repeated < 2):
        return False
    if one.measurement.dimension is None:
        return bool(one.reading.answer)
    if not one.reading.values:
        return False
    cylinders = build.get("engine.cylinders")
    return (
        one.measurement.each != "cylinder" or cylinders is None or len(one.reading.values) == cylinders.value
    )


def _of_one_place(path: str) -> bool:
    """Whether a path names one field of the file, and not one in each table of a list."""
    return "[]" not in path and path in catalogue().fields


def _fields(one: JudgedReading, build: Build) -> tuple[str, ...]:
    """The fields of the file that a reading states."""
    m = one.measurement
    if not _of_one_place(m.field):  # none, or one of a list of tables: which of them, nobody knows
        return ()
    if one.side == "before" and m.field_before:
        return (m.field_before,) if build.is_stated(m.field) else (m.field_before, m.field)
    return (m.field,) if not m.field_on or one.side in m.field_on else ()


def _spread(one: JudgedReading, known: Field, value: float) -> float:
    """Of one value: as the person wrote it, else what a measured value of the field has, else its scatter."""
    if one.reading.sd is not None:
        return one.reading.sd
    own = known.spread_for(Source.MEASURED).at(value)
    if own > 0.0:
        return own
    return 0.0 if one.measurement.repeat is None else one.measurement.repeat.at(value)


def _content(path: str, one: JudgedReading) -> tuple[Any, Any]:
    """Value and spread as the field has them."""
    known = catalogue().field(path)
    if known.type is not FieldType.QUANTITY:
        return one.reading.answer, 0.0
    values = one.reading.values if known.many else (fmean(one.reading.values),)
    spreads = tuple(_spread(one, known, v) for v in values)
    if known.many:
        return values, spreads
    return values[0], spreads[0]


def _value(path: str, one: JudgedReading) -> StatedValue:
    value, sd = _content(path, one)
    known = catalogue().field(path)
    source = Source.MEASURED if known.type is FieldType.QUANTITY and not known.chosen else Source.CHOSEN
    note = f"recorded {one.reading.time[:10]} by {one.reading.who}"
    if one.reading.instrument:
        note += f", {one.reading.instrument}"
    return StatedValue(path, value, sd, source, None, one.reading.text, known.kind, note)


def _row(one: JudgedReading) -> Row | None:
    """The reading as a row of [[readings]]; None where the field is no quantity."""
    path = one.measurement.field
    if catalogue().field(path).type is not FieldType.QUANTITY:
        return None
    value, sd = _content(path, one)

    def word(name: str, said: Any) -> StatedValue:
        return StatedValue(f"readings[].{name}", said, 0.0, Source.CHOSEN, None, str(said), None, _OURS)

    row = {
        "field": word("field", path),
        "value": StatedValue(
            "readings[].value",
            value,
            sd,
            Source.MEASURED,
            None,
            one.reading.text,
            one.measurement.pressure,
            _OURS,
        ),
        "when": word("when", one.side),
    }
    day = _day(one.reading)
    if day is not None:
        row["date"] = word("date", day)
    return row


def _day(reading: Reading) -> dt.date | None:
    try:
        return dt.date.fromisoformat(reading.time[:10])
    except ValueError:
        return None


def _recorded(one: JudgedReading, build: Build, fields: tuple[str, ...], used: bool) -> Recorded:
    m, reading, expected = one.measurement, one.reading, one.expected
    value = one.value if one.value is not None else 0.0
    sd = reading.sd
    if sd is None:
        sd = 0.0 if m.repeat is None else m.repeat.at(value)
    return Recorded(
        id=reading.id,
        key=m.key,
        words=m.words,
        side=one.side,
        time=reading.time,
        who=reading.who,
        instrument=reading.instrument,
        standing=one.state,
        values=reading.values,
        sd=sd,
        answer=reading.answer,
        text=reading.text,
        dimension=m.dimension,
        pressure=m.pressure,
        unit=m.unit,
        place=one.place,
        each=m.each,
        low=None if expected is None else expected.low,
        high=None if expected is None else expected.high,
        why="" if expected is None else expected.why,
        source="" if expected is None else expected.source,
        repeated=one.repeated,
        fields=fields,
        was=tuple(build.values.get(path) for path in fields),
        contradicts=max((_distance(path, one, build) for path in _said(one, build, fields)), default=0.0),
        used=used,
        harm=m.harm,
        at_once=one.at_once,
        against="" if one.against is None else f"{one.against.time[:10]} by {one.against.who}",
    )


def _said(one: JudgedReading, build: Build, fields: tuple[str, ...]) -> tuple[str, ...]:
    """The fields in which the file says something of the very thing that was read."""
    if fields:
        return fields
    return _fields(one, build)  # a reading that waits contradicts the file all the same


def _distance(path: str, one: JudgedReading, build: Build) -> float:
    """Greatest distance from what the file states, in joint standard deviations; 0 where scatter explains it.

    A wish or a setting of the file contradicts nothing; another word than a measured one does.
    """
    stated = build.values.get(path)
    if stated is None:
        return 0.0
    known = catalogue().field(path)
    if known.type is not FieldType.QUANTITY:
        return 0.0 if stated.value == one.reading.answer else math.inf
    if known.chosen:
        return 0.0
    own = stated.value if isinstance(stated.value, tuple) else (stated.value,)
    spreads = stated.sd if isinstance(stated.sd, tuple) else (stated.sd,) * len(own)
    values = one.reading.values if known.many else (fmean(one.reading.values),)
    if len(values) != len(own):
        return 0.0
    repeat = one.measurement.repeat
    far = 0.0
    for value, filed, sd in zip(values, own, spreads, strict=True):
        joint = math.hypot(
            _spread(one, known, value), float(sd or 0.0), 0.0 if repeat is None else repeat.at(value)
        )
        far = max(far, abs(value - float(filed)) / max(joint, 1e-12))
    once = 2.0 * NormalDist().cdf(-far)
    chance = 1.0 - (1.0 - once) ** len(own)  # that one of so many places lies as far off by scatter alone
    return far if chance < REAL else 0.0

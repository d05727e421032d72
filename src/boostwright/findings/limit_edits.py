"""The limits that a build file changes, read into edits; every fault in them is found with its line."""

from __future__ import annotations

from collections.abc import Mapping

from boostwright.build.document import Build, Row
from boostwright.build.faults import Fault
from boostwright.errors import BuildFileError
from boostwright.findings.limits import Limit, LimitEdit, shipped_limits
from boostwright.findings.model import Kind
from boostwright.quantity import Dimension, PressureKind, QuantityError, nearest, read

__all__ = ["edits_of"]

_DIMENSIONS: Mapping[Kind, Dimension] = {
    Kind.PRESSURE: Dimension.PRESSURE,
    Kind.PRESSURE_ABSOLUTE: Dimension.PRESSURE,
    Kind.PRESSURE_GAUGE: Dimension.PRESSURE,
    Kind.PRESSURE_DIFFERENCE: Dimension.PRESSURE,
    Kind.PRESSURE_SMALL: Dimension.PRESSURE,
    Kind.TEMPERATURE: Dimension.TEMPERATURE,
    Kind.TEMPERATURE_DIFFERENCE: Dimension.TEMPERATURE_DIFFERENCE,
    Kind.CRANK_ANGLE: Dimension.ANGLE,
    Kind.CRANK_DIFFERENCE: Dimension.ANGLE,
    Kind.ANGLE: Dimension.ANGLE,
    Kind.VELOCITY: Dimension.SPEED,
    Kind.ENGINE_SPEED: Dimension.ROTATION,
    Kind.LENGTH: Dimension.LENGTH,
    Kind.SHARE: Dimension.SHARE,
    Kind.RATIO: Dimension.RATIO,
    Kind.TORQUE_PER_VOLUME: Dimension.TORQUE,  # written for one litre
    Kind.DELAY: Dimension.TIME,
    Kind.PULSE: Dimension.TIME,
    Kind.AGE: Dimension.TIME,
    Kind.VOLTAGE_DROP: Dimension.VOLTAGE,
    Kind.COIL_CURRENT: Dimension.CURRENT,
    Kind.OIL_FLOW: Dimension.VOLUME_FLOW,
    Kind.VOLUME: Dimension.VOLUME,
}
_PRESSURES = {
    Kind.PRESSURE_ABSOLUTE: PressureKind.ABSOLUTE,
    Kind.PRESSURE_GAUGE: PressureKind.GAUGE,
    Kind.PRESSURE_SMALL: PressureKind.GAUGE,
}
_PER_LITRE = 1.0e3  # 1/m3


def edits_of(build: Build) -> tuple[LimitEdit, ...]:
    """The edits of the tables [[limits]]: key, value in SI, and the person's reason.

    A value without a spread keeps the shipped spread. Raises BuildFileError with every fault: an unknown
    key, a value that cannot be read, a reason that says nothing, a limit changed twice.
    """
    faults: list[Fault] = []
    edits: dict[str, LimitEdit] = {}
    for row in build.table("limits"):
        edit = _edit(row, faults)
        if edit is None:
            continue
        if edit.key in edits:
            faults.append(_fault(row, "limit", "this limit is changed twice", "Keep one of the two."))
        edits[edit.key] = edit
    if faults:
        faults.sort(key=lambda fault: fault.line)
        raise BuildFileError(f"{build.file or 'the build file'}: {faults[0].sentence()}", tuple(faults))
    return tuple(edits.values())


def _edit(row: Row, faults: list[Fault]) -> LimitEdit | None:
    key = str(row["limit"].value).strip()
    known = shipped_limits()
    before = len(faults)
    if key not in known:
        near = ", ".join(nearest(key, tuple(known), 3, 0.5))
        help_line = f"Nearest: {near}." if near else "Every finding names its limit."
        faults.append(_fault(row, "limit", "there is no limit of that name", help_line))
        return None
    reason = str(row["reason"].value).strip()
    if len(reason) < 3:
        faults.append(_fault(row, "reason", "a limit without a reason is a wish", "Say why you know better."))
    value = _value(row, known[key], faults)
    if value is None or len(faults) > before:
        return None
    line = row["limit"].line
    source = "the build file" if line is None else f"the build file, line {line}"
    return LimitEdit(key, value[0], value[1], reason, source)


def _value(row: Row, limit: Limit, faults: list[Fault]) -> tuple[float, float | None] | None:
    text = str(row["value"].value).strip()
    kind = limit.amount.kind
    written = text
    if kind is Kind.TORQUE_PER_VOLUME:
        written = text.replace("/L", "").replace("/l", "")
    try:
        found = read(written, _DIMENSIONS[kind])
    except QuantityError as problem:
        faults.append(_fault(row, "value", problem.why, f'Write it like "{_example(limit)}".'))
        return None
    unit_kind = found.unit.kind if found.unit is not None else None
    if unit_kind is not None and kind in _PRESSURES and unit_kind is not _PRESSURES[kind]:
        wanted = _PRESSURES[kind].value
        faults.append(_fault(row, "value", f"this limit is {wanted}", f'Write it like "{_example(limit)}".'))
        return None
    factor = _PER_LITRE if kind is Kind.TORQUE_PER_VOLUME else 1.0
    sd = None if found.sd is None else factor * found.sd
    return factor * found.value, sd


def _example(limit: Limit) -> str:
    """The shipped limit as one would write it."""
    value, kind = limit.amount.value, limit.amount.kind
    shown = {
        Kind.TEMPERATURE: (value - 273.15, "degC"),
        Kind.TEMPERATURE_DIFFERENCE: (value, "K"),
        Kind.SHARE: (100.0 * value, "%"),
        Kind.PRESSURE: (value / 1e5, "bar"),
        Kind.PRESSURE_GAUGE: (value / 1e5, "bar"),
        Kind.PRESSURE_ABSOLUTE: (value / 1e3, "kPa"),
        Kind.PRESSURE_DIFFERENCE: (value / 1e5, "bar"),
        Kind.VOLTAGE_DROP: (value, "V"),
        Kind.COIL_CURRENT: (value, "A"),
        Kind.PRESSURE_SMALL: (value / 1e3, "kPa"),
        Kind.CRANK_ANGLE: (value * 57.29577951308232, "deg"),
        Kind.CRANK_DIFFERENCE: (value * 57.29577951308232, "deg"),
        Kind.ANGLE: (value * 57.29577951308232, "deg"),
        Kind.VELOCITY: (value, "m/s"),
        Kind.TORQUE_PER_VOLUME: (value / _PER_LITRE, "Nm/L"),
        Kind.RATIO: (value, ""),
        Kind.ENGINE_SPEED: (value * 9.549296585513721, "rpm"),
        Kind.LENGTH: (1e3 * value, "mm"),
        Kind.DELAY: (value, "s"),
        Kind.PULSE: (1e3 * value, "ms"),
        Kind.OIL_FLOW: (6e4 * value, "L/min"),
        Kind.VOLUME: (1e3 * value, "L"),
        Kind.AGE: (value / 86400.0, "days"),
    }[kind]
    return f"{shown[0]:.4g} {shown[1]}".rstrip()


def _fault(row: Row, name: str, why: str, remedy: str) -> Fault:
    stated = row[name]
    return Fault("limit", stated.line or 1, f"limits.{name}", str(stated.value), "", why, remedy)

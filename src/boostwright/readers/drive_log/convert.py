"""From columns as written to channels in SI: units, gauge and absolute, and the barometer for these."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.library.channels import channel_kinds
from boostwright.quantity import PressureKind
from boostwright.readers.drive_log.evidence import SEA_LEVEL, Scene, rules
from boostwright.readers.drive_log.mapping import CLOCK, ColumnMapping
from boostwright.readers.drive_log.pieces import Piece, RawClock
from boostwright.readers.drive_log.recording import Channel, Clock, Recording
from boostwright.readers.drive_log.units import unit_named

__all__ = ["Air", "air_of", "recording_of"]

Array = NDArray[np.float64]


class Air(NamedTuple):
    """The air outside by which gauge pressures are made absolute."""

    pressure: float  # [Pa]
    origin: str  # words: where it is from
    known: bool  # False where it is only the standard atmosphere's
    needed: bool  # by a column of the file


def needs_air(mapped: ColumnMapping) -> bool:
    """True where the column is kept the other way than it is written."""
    kind = channel_kinds()[mapped.key]
    if kind.pressure not in (PressureKind.ABSOLUTE, PressureKind.GAUGE):
        return False
    unit = unit_named(mapped.unit, kind.dimension)
    return unit is not None and unit.kind is not None and unit.kind is not kind.pressure


def air_of(columns: Sequence[ColumnMapping], scene: Scene, place: float | None) -> Air:
    """The barometer: the file's own, else an absolute pressure with the engine at rest, else the place's."""
    read = [c for c in columns if c.key and c.key != CLOCK]
    needed = any(needs_air(c) for c in read)
    own = [c for c in read if c.key == "barometer"]
    if own and scene.looks[own[0].column].distinct:
        pressure = float(_si(own[0], np.array([scene.looks[own[0].column].middle]))[0])
        return Air(pressure, "the barometer of the file", True, needed)
    speed = next((c for c in read if c.key == "engine_speed"), None)
    if speed is not None:
        for mapped in read:
            unit = unit_named(mapped.unit, channel_kinds()[mapped.key].dimension)
            if mapped.key not in ("manifold_pressure", "charge_pressure") or unit is None:
                continue
            if unit.kind is not PressureKind.ABSOLUTE:
                continue
            value, revs = scene.beside(mapped.column, speed.column)
            rest = np.abs(_si(speed, revs)) < rules()["pressure"]["resting"]
            if rest.sum() >= 3:
                pressure = float(np.median(_si(mapped, value[rest])))
                if 5e4 < pressure < 1.1e5:
                    return Air(pressure, f"'{mapped.heading}' with the engine at rest", True, needed)
    if place is not None:
        return Air(place, "the pressure of the place", True, needed)
    return Air(SEA_LEVEL, "the standard atmosphere", False, needed)


def _si(mapped: ColumnMapping, value: Array) -> Array:
    """A column's values in SI, as they are counted in the file."""
    unit = unit_named(mapped.unit, channel_kinds()[mapped.key].dimension)
    assert unit is not None, mapped
    return unit.to_si(value)


def recording_of(
    name: str,
    pieces: dict[int, Piece],
    columns: Sequence[ColumnMapping],
    clocks: Sequence[RawClock],
    starts: dict[int, float],
    air: Air,
    notes: tuple[str, ...] = (),
    unknown: tuple[str, ...] = (),
    first: int | None = None,
) -> Recording:
    """The recording of joined pieces, by clock."""
    numbers = sorted(pieces)
    place = {clock: k for k, clock in enumerate(numbers)}
    made_clocks = tuple(
        Clock(pieces[c].stamp, pieces[c].row, clocks[c].source, starts.get(c, math.nan)) for c in numbers
    )
    channels = []
    barometer = _barometer(pieces, columns)
    for mapped in columns:
        if not mapped.key or mapped.key == CLOCK:
            continue
        for clock in numbers:
            value = pieces[clock].value.get(mapped.column)
            if value is None:
                continue
            channels.append(_channel(mapped, value, place[clock], barometer, air))
    if first is None:
        first = min((int(p.row[0]) for p in pieces.values() if len(p.row)), default=0)
    return Recording(name, made_clocks, tuple(channels), first, notes, unknown)


def _barometer(pieces: dict[int, Piece], columns: Sequence[ColumnMapping]) -> tuple[Array, Array] | None:
    """Stamps and readings (n,) [Pa] of the file's barometer."""
    for mapped in columns:
        if mapped.key == "barometer":
            for piece in pieces.values():
                value = piece.value.get(mapped.column)
                if value is not None:
                    pressure = _si(mapped, value)
                    good = (
                        np.isfinite(pressure)
                        & np.isfinite(piece.stamp)
                        & (pressure > 5e4)
                        & (pressure < 1.1e5)
                    )
                    if good.any():
                        return piece.stamp[good], pressure[good]
    return None


def _channel(
    mapped: ColumnMapping,
    value: Array,
    clock: int,
    barometer: tuple[Array, Array] | None,
    air: Air,
) -> Channel:
    kind = channel_kinds()[mapped.key]
    unit = unit_named(mapped.unit, kind.dimension)
    assert unit is not None, mapped
    si = unit.to_si(value)
    note, confidence = "", mapped.confidence
    if needs_air(mapped):
        sign = 1.0 if kind.pressure is PressureKind.ABSOLUTE else -1.0
        outside: Array | float = air.pressure
        if barometer is not None and mapped.key != "barometer":
            outside = float(np.median(barometer[1]))
        si = si + sign * outside
        was = unit.kind.value if unit.kind is not None else ""
        note = f"{was}, with {air.origin}, {float(np.mean(outside)) / 1e3:.1f} kPa"
        if not air.known:
            confidence = round(confidence * 0.9, 3)
    if mapped.key in ("throttle", "pedal") and len(si):
        low = np.nanmin(si) if np.isfinite(si).any() else 0.0
        if low > 0.03:
            note = f"closed it shows {100.0 * low:.0f} %"
    return Channel(
        mapped.key,
        si,
        clock,
        mapped.heading,
        mapped.unit,
        mapped.unit_said,
        confidence,
        mapped.cylinder,
        note,
    )

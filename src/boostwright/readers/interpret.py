"""From values as written to stated values in SI, each checked against its field's record."""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from boostwright.build.catalogue import Catalogue, Field, FieldType
from boostwright.build.faults import Fault, Severity
from boostwright.build.limits import allowed_text, example_line
from boostwright.build.values import Source, StatedValue
from boostwright.quantity import PressureKind, nearest
from boostwright.readers.assemble import Entry, Filled
from boostwright.readers.numbers import NumberReader
from boostwright.readers.refused import Refused, shown
from boostwright.readers.words import LONGEST_TEXT, leave_out, read_words

__all__ = ["Interpreter"]

_INLINE: Final = ("value", "values", "unit", "source", "spread", "note", "date", "with")
_STATABLE: Final = {s.value: s for s in (Source.MEASURED, Source.MAKER, Source.HANDBOOK, Source.ASSUMED)}
_SOURCES: Final = ", ".join(_STATABLE)

_Read = tuple[Any, Any, str, PressureKind | None]  # value, standard deviation, text, kind of pressure
_Row = dict[str, StatedValue]


class Interpreter:
    """Reads sections of one file; faults go to the list that it was given."""

    def __init__(
        self, known: Catalogue, faults: list[Fault], top_source: Entry | None, most_faults: int
    ) -> None:
        self.known = known
        self.faults = faults
        self.most_faults = most_faults
        self.numbers = NumberReader(faults)
        self.top_source = self._source(top_source, "source") if top_source else None

    def section(self, filled: Filled) -> _Row:
        """The values of one section that can be used; the others are reported."""
        names = self.known.names_by_section[filled.section]
        stated = self._source(filled.source, f"{filled.section}.source") if filled.source else None
        section_source = stated or self.top_source
        found: _Row = {}
        faulty: set[str] = set()
        unsourced = 0
        for name, entry in filled.entries.items():
            if len(self.faults) >= self.most_faults:
                break
            if entry.broken:
                faulty.add(name)
                continue
            known = names[name]
            if known.type is FieldType.VALUE and "field" in faulty:
                continue  # the line that names the field has its own fault
            try:
                value, said = self._value(known, entry, section_source, found)
            except Refused as refused:
                faulty.add(name)
                refused.remedy = leave_out(known, entry.value) or refused.remedy
                allowed = refused.allowed if refused.allowed is not None else allowed_text(known)
                written = entry.written or shown(entry.value)
                path = f"{filled.section}.{name}"
                self.faults.append(
                    Fault(
                        refused.code,
                        entry.line,
                        path,
                        written,
                        allowed,
                        refused.why,
                        refused.remedy,
                        entry.column,
                    )
                )
                continue
            found[name] = value
            unsourced += not said and section_source is None and _has_source(known)
        if unsourced and stated is None:
            count = "its value comes" if unsourced == 1 else f"its {unsourced} values come"
            why = f"[{filled.section}] does not say where {count} from; taken as 'handbook'"
            remedy = 'Add a line: source = "measured", "maker" or "handbook".'
            self.faults.append(
                Fault(
                    "no-source",
                    filled.line,
                    filled.section,
                    "",
                    _SOURCES,
                    why,
                    remedy,
                    None,
                    Severity.NOTE,
                )
            )
        return found

    def _source(self, entry: Entry, field: str) -> Source | None:
        """The source that a `source = ...` line names, or None with a fault."""
        word = entry.value
        if isinstance(word, str) and word.strip().casefold() in _STATABLE:
            return _STATABLE[word.strip().casefold()]
        if entry.broken:
            return None
        near = nearest(word, _STATABLE, count=1) if isinstance(word, str) else ()
        remedy = f'Write "{near[0]}".' if near else 'Write "measured", "maker", "handbook" or "assumed".'
        written = entry.written or shown(word)
        why = "this is not a source"
        self.faults.append(
            Fault("wrong-choice", entry.line, field, written, _SOURCES, why, remedy, entry.column)
        )
        return None

    def _value(
        self, known: Field, entry: Entry, section_source: Source | None, row: _Row
    ) -> tuple[StatedValue, bool]:
        """The stated value of one entry, and whether it says its own source."""
        raw = entry.value
        inline: dict[str, Any] = {}
        if isinstance(raw, dict):
            inline = _inline(known, raw)
            raw = inline.get("value", inline.get("values"))
        source = section_source or Source.HANDBOOK
        if "source" in inline:
            word = inline["source"]
            if not isinstance(word, str) or word.strip().casefold() not in _STATABLE:
                remedy = 'Write "measured", "maker", "handbook" or "assumed".'
                raise Refused("wrong-choice", f"'{shown(word)}' is not a source", remedy, _SOURCES)
            source = _STATABLE[word.strip().casefold()]
        if not _has_source(known):
            source = Source.CHOSEN
        value, sd, text, kind = self._read(known, raw, inline, source, entry, row)
        note = inline.get("note", "")
        return StatedValue(known.path, value, sd, source, entry.line, text, kind, note), "source" in inline

    def _read(
        self, known: Field, raw: Any, inline: dict[str, Any], source: Source, entry: Entry, row: _Row
    ) -> _Read:
        if known.type is FieldType.QUANTITY:
            if known.many:
                values, sds = self.numbers.row(known, raw, inline, source, entry)
                return values, sds, entry.written, known.kind
            _not_several(known, raw)
            quantity = self.numbers.quantity(known, raw)
            spread = self.numbers.own_spread(known, inline, quantity)
            value, sd = self.numbers.checked(known, quantity, spread, source, entry)
            return value, sd, quantity.text, known.kind
        if known.type is FieldType.VALUE:
            return self._reading(raw, row, entry)
        _not_several(known, raw)
        return read_words(self.known, known, raw), 0.0, entry.written or shown(raw), None

    def _reading(self, raw: Any, row: _Row, entry: Entry) -> _Read:
        """A reading's value, read as the field that the same table names on a line before it."""
        target = row.get("field")
        known = self.known.fields.get(str(target.value)) if target else None
        if known is None or known.type is not FieldType.QUANTITY:
            raise Refused(
                "missing-value",
                "a reading needs the field that it is a reading of, on a line before it",
                'Write field = "engine.compression_pressure", then the value.',
                "",
            )
        try:
            return self._read(known, raw, {}, Source.MEASURED, entry, row)
        except Refused as refused:
            if refused.allowed is None:
                refused.allowed = allowed_text(known)
            raise


def _inline(known: Field, raw: dict[str, Any]) -> dict[str, Any]:
    """An inline table with its names and side remarks checked; its value is still raw."""
    for name in raw:
        if name not in _INLINE:
            near = nearest(name, _INLINE, count=1)
            remedy = f"Did you mean {near[0]}?" if near else f"Use {', '.join(_INLINE)}."
            allowed = ", ".join(_INLINE)
            raise Refused("unknown-key", f"'{name[:40]}' has no place in a value", remedy, allowed)
    if "value" not in raw and "values" not in raw:
        example = known.example or "..."
        raise Refused("missing-value", "the value itself is missing", f'Write {{ value = "{example}" }}.')
    note = raw.get("note", "")
    if not isinstance(note, str) or len(note) > LONGEST_TEXT:
        raise Refused("wrong-type", "a note is a text", 'Write note = "...".', "a text")
    if raw.get("date") is not None and not isinstance(raw["date"], date):
        raise Refused("wrong-type", "date is not a date", "Write date = 2025-03-31.", "a date")
    if not isinstance(raw.get("with", ""), str):
        raise Refused("wrong-type", "the instrument is a text", 'Write with = "bore gauge".', "a text")
    return raw


def _not_several(known: Field, raw: Any) -> None:
    if isinstance(raw, (list, dict)):
        remedy = f"Write {example_line(known)}."
        raise Refused("wrong-type", "one value belongs here, not several", remedy)


def _has_source(known: Field) -> bool:
    return known.type is FieldType.QUANTITY and not known.chosen

"""What a field is, how to find it out, what is usual, what stands in for it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final

from boostwright.build.catalogue import Ask, Catalogue, Default, Field, FieldType, Section, catalogue
from boostwright.build.limits import allowed_text, example_line, offered_units, usual_text, value_text
from boostwright.build.values import Source
from boostwright.errors import UnknownField
from boostwright.quantity import COVERAGE, Dimension, nearest, unit_names, write
from boostwright.uncertainty import Spread

__all__ = ["Explained", "Explanation", "default_text", "explain"]

_NEAR_ENOUGH: Final = 0.8
_ASKS: Final = {
    Ask.MUST: "the file is refused without it",
    Ask.SHOULD: "moves a verdict; worth an evening",
    Ask.MAY: "the default does until something hangs on it",
}
_SOURCE_WORDS: Final = {
    Source.MEASURED: "measured",
    Source.MAKER: "maker's figure",
    Source.HANDBOOK: "handbook",
}


class Explained(Enum):
    """What an explanation is about."""

    FIELD = "field"
    SECTION = "section"
    SEVERAL = "several"  # a name that stands in several sections


@dataclass(frozen=True, slots=True)
class Explanation:
    """One field or section in plain words. Empty texts mean that there is nothing to say."""

    about: Explained
    path: str
    asked: str  # as it was asked, where a near spelling was taken
    words: str
    written: str = ""  # an example line
    units: str = ""
    pressure: str = ""  # what a bare pressure means here
    allowed: str = ""
    reason: str = ""  # why the range ends there
    usual: str = ""
    measure: str = ""
    harm: str = ""
    defaults: tuple[tuple[str, str], ...] = ()  # (engine class or "", what stands in, with its ground)
    spreads: tuple[tuple[str, str], ...] = ()  # (source, +/- that is taken when none is stated)
    choices: tuple[tuple[str, str], ...] = ()  # (word, meaning)
    refused: tuple[tuple[str, str], ...] = ()  # (word, what to do instead)
    wanted: str = ""  # how hard a new file asks for it
    used: str = ""  # what hangs on it today
    fields: tuple[tuple[str, str], ...] = ()  # of a section: (path, words)


def explain(name: str) -> Explanation:
    """The explanation of a field ('engine.bore'), a section ('engine') or a bare field name ('bore').

    A near spelling is taken; `asked` then keeps what was asked. A word that fields speak of lists those
    fields. Raises UnknownField, which names the nearest.
    """
    known = catalogue()
    asked = name.strip().strip("[]").replace("[]", "")
    by_path = {field.shown_path: field for field in known.fields.values()}
    if asked in by_path:
        return _field(known, by_path[asked], "")
    if asked in known.sections:
        return _section(known.sections[asked], "")
    same = [field for field in known.fields.values() if field.name == asked]
    if len(same) == 1:
        return _field(known, same[0], "")
    if same:
        listed = tuple((field.shown_path, field.words) for field in same)
        return Explanation(
            Explained.SEVERAL, asked, "", f"'{asked}' stands in several sections", fields=listed
        )
    near = nearest(asked, (*by_path, *known.sections), count=2, cutoff=_NEAR_ENOUGH)
    if not near and "." not in asked:
        names = {field.name: field for field in known.fields.values()}
        near = tuple(names[n].shown_path for n in nearest(asked, names, 1, _NEAR_ENOUGH))
    if near:
        if near[0] in by_path:
            return _field(known, by_path[near[0]], asked)
        return _section(known.sections[near[0]], asked)
    spoken = [field for field in known.fields.values() if len(asked) > 2 and asked.casefold() in field.words]
    if spoken:
        listed = tuple((field.shown_path, field.words) for field in spoken)
        return Explanation(Explained.SEVERAL, asked, "", f"fields that speak of '{asked}'", fields=listed)
    raise UnknownField(known.unknown(asked))


def _section(section: Section, asked: str) -> Explanation:
    brackets = f"[[{section.name}]]" if section.many else f"[{section.name}]"
    fields = tuple((field.shown_path, field.words) for field in section.fields)
    wanted = "the file is refused without it" if section.required else ""
    return Explanation(
        Explained.SECTION,
        section.name,
        asked,
        f"{section.words}. {section.about}",
        written=brackets,
        wanted=wanted,
        used=_used(section.part, {verb for field in section.fields for verb in field.used_by}),
        fields=fields,
    )


def _field(known: Catalogue, field: Field, asked: str) -> Explanation:
    quantity = field.type is FieldType.QUANTITY and field.dimension is not None
    names = (offered_units(field) or unit_names(field.dimension)) if quantity and field.dimension else ()
    return Explanation(
        Explained.FIELD,
        field.shown_path,
        asked,
        field.words,
        written=example_line(field),
        units=", ".join(f"deg {point}" for point in field.points) or ", ".join(names[:8]),
        pressure=_pressure(field),
        allowed=allowed_text(field) if quantity else "",
        reason=field.reason,
        usual=usual_text(field),
        measure=field.measure,
        harm=field.harm,
        defaults=_defaults(known, field),
        spreads=tuple(
            (words, spread_text(field, field.spreads[source]))
            for source, words in _SOURCE_WORDS.items()
            if source in field.spreads
        ),
        choices=tuple(field.choices.items()),
        refused=tuple(field.refused.items()),
        wanted=_wanted(field),
        used=_used(field.part, set(field.used_by)),
    )


def _pressure(field: Field) -> str:
    if field.kind is None:
        return ""
    return {
        "gauge": "Counted from the air around (gauge). 'bara' or 'psia' is turned into gauge.",
        "absolute": "Counted from vacuum (absolute). 'barg' or 'psig' is turned into absolute.",
        "difference": "A difference between two pressures.",
    }[field.kind.value]


def _wanted(field: Field) -> str:
    if field.ask is Ask.SHOULD and "check" not in field.used_by:
        return "worth an evening; it will move a verdict once one hangs on it"
    return _ASKS[field.ask]


def _used(part: int, verbs: set[str]) -> str:
    if verbs:
        return f"used by {' and '.join(sorted(verbs))} today"
    return "kept in the file; no verdict hangs on it yet" if part > 1 else "kept in the file"


def _defaults(known: Catalogue, field: Field) -> tuple[tuple[str, str], ...]:
    per_class = {name: known.default(field.path, name) for name in known.classes}
    texts = {name: default_text(field, default) for name, default in per_class.items() if default is not None}
    if not texts:
        return ()
    if len(set(texts.values())) == 1:
        return (("", next(iter(texts.values()))),)
    return tuple(texts.items())


def default_text(field: Field, default: Default) -> str:
    """What stands in for a field that nobody stated, with its spread and ground."""
    spread = default.spread
    if default.air_at:
        text = f"standard air at {default.air_at}"
    elif default.of:
        of = f"the {default.of}" if " " in default.of or "." not in default.of else default.of
        text = f"{default.times:.4g} x {of}" if default.times != 1 else of
        if default.of in ("swept volume", "displacement"):
            text = f"in proportion to {of}"
    elif isinstance(default.value, bool):
        text = "true" if default.value else "false"
    elif isinstance(default.value, (int, float)):
        text = value_text(field, float(default.value))
    else:
        text = str(default.value)
    if spread.fixed or spread.proportional:
        text += f" +/- {spread_text(field, spread)}"
    return f"{text} ({default.why})" if default.why else text


def spread_text(field: Field, spread: Spread) -> str:
    """A spread as it would stand after +/-: `COVERAGE` standard deviations."""
    parts: list[str] = []
    if spread.proportional:
        parts.append(f"{spread.proportional * 100 * COVERAGE:.3g} %")
    if spread.fixed:
        dimension = field.dimension or Dimension.RATIO
        unit = field.unit
        if dimension is Dimension.TEMPERATURE:
            dimension, unit = Dimension.TEMPERATURE_DIFFERENCE, "K"
        elif dimension is Dimension.CAM_EVENT:
            dimension, unit = Dimension.ANGLE, "deg"
        elif dimension is Dimension.MIXTURE:
            unit = "lambda"
        parts.append(write(spread.fixed * COVERAGE, unit, dimension, digits=2))
    return " and ".join(parts) or "nothing"

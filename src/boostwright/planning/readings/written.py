"""From what a person wrote, '13,1 13,2 13,0 13,1 bar' or 'yes', to the values of a reading in SI."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from boostwright.build.catalogue import Field, FieldType
from boostwright.build.faults import Fault
from boostwright.build.limits import allowed_text, offered_units
from boostwright.build.values import Source
from boostwright.errors import ReadingError
from boostwright.library.ladder import ladder_steps
from boostwright.library.measurements import Measurement, measurements
from boostwright.quantity import nearest
from boostwright.readers.assemble import Entry
from boostwright.readers.numbers import NumberReader
from boostwright.readers.refused import Refused

__all__ = ["LONGEST_WORDS", "Written", "as_field", "measurement_named", "read_written", "step_named"]

LONGEST_WORDS: Final = 2000
"""An answer in words, or a note, is never longer than this [characters]."""

_YES: Final = frozenset({"yes", "y", "true", "ja", "si", "ok", "done"})
_THOUSANDS: Final = re.compile(r"(\d{1,3}(?:[.,]\d{1,6})?)\s*k(?:rpm|1/min|u/min)", re.IGNORECASE)
_NO: Final = frozenset({"no", "n", "false", "nein"})


class Written(NamedTuple):
    """A reading as written: values [SI] with the spread that the text states, or an answer."""

    values: tuple[float, ...]
    sd: float | None  # one standard deviation of one value [SI]
    answer: str
    text: str
    notes: tuple[str, ...]  # what was taken for granted, such as gauge or absolute


def measurement_named(name: str) -> Measurement:
    """The measurement of that key; spaces and hyphens count as '_'. Raises ReadingError with near names."""
    known = measurements()
    key = "_".join(name.strip().casefold().replace("-", "_").split())
    if key in known:
        return known[key]
    near = nearest(key, tuple(known), count=3)
    meant = f"Did you mean {' or '.join(near)}?" if near else ""
    raise ReadingError(
        f"There is no measurement '{name[:60]}'.",
        f"{meant} 'boostwright record FILE --table' lists them all.".strip(),
    )


def step_named(name: str) -> str:
    """The key of a step of the ladder; '' for none. Raises ReadingError for one that there is not."""
    key, keys = name.strip().casefold(), tuple(step.key for step in ladder_steps())
    if not key or key in keys:
        return key
    near = nearest(key, keys, count=2)
    meant = f"Did you mean {' or '.join(near)}?" if near else f"The steps: {', '.join(keys)}."
    raise ReadingError(f"The ladder has no step '{name[:60]}'.", f"{meant} Nothing is recorded.")


def as_field(one: Measurement) -> Field:
    """The measurement as the record of a field, so that its values are read as those of a build file."""
    low, high = one.possible or (None, None)
    unit = one.unit
    return Field(
        path=f"record.{one.key}",
        words=one.words[0].lower() + one.words[1:],
        type=FieldType.QUANTITY,
        dimension=one.dimension,
        unit=unit,
        kind=one.pressure,
        many=bool(one.each),
        low=low,
        high=high,
        reason="more cannot be true",
        measure=one.how,
        example=f"12.5 {unit}".strip(),
    )


def read_written(one: Measurement, text: str, barometer: float, places: int | None = None) -> Written:
    """The reading that a text states.

    barometer: air pressure of the place [Pa absolute], for gauge and absolute. places: how many values belong
    to it where one is taken at each place; None for any number. Raises ReadingError: no unit, wrong unit,
    more than can be true, too few or too many values, an answer that is none.
    """
    shown = text.strip()
    if not shown:
        raise ReadingError(f"{one.words}: there is no value.", _how_to_write(one, places))
    if one.dimension is None:
        return Written((), None, _answer(one, shown), shown, ())
    known = as_field(one)
    notes: list[Fault] = []
    reader = NumberReader(notes)
    reader.barometer = barometer
    entry = Entry(shown, 1, 1, shown)
    try:
        if one.each:
            values, sds = reader.row(known, shown, {}, Source.MEASURED, entry)
        else:
            quantity = reader.quantity(known, shown)
            value, one_sd = reader.checked(known, quantity, quantity.sd, Source.MEASURED, entry)
            values, sds = (value,), (one_sd,)
    except Refused as refused:
        allowed = refused.allowed if refused.allowed is not None else allowed_text(known)
        ends = f" Possible: {allowed}." if allowed else ""
        remedy = refused.remedy.replace(f"{known.name} = ", "")
        if refused.code == "no-unit":  # an echo of the number with a unit would be taken over unseen
            units = ", ".join(offered_units(known)[:4] or (one.unit,))
            remedy = f"Write what the instrument shows after the number: {units}."
        thousands = _THOUSANDS.fullmatch(shown)
        if one.unit == "rpm" and thousands is not None:
            rpm = 1000.0 * float(thousands[1].replace(",", "."))
            remedy = f"Did you mean {rpm:.4g} rpm? Write it so."
        if refused.code == "out-of-range":
            remedy = "Look at the decimal point and the unit, and read it again."
        raise ReadingError(f"{one.words}: {refused.why}.{ends}", remedy) from None
    if one.each and places is not None and len(values) != places:
        raise ReadingError(
            f"{one.words}: {len(values)} {_plural('value', len(values))} for {places}"
            f" {_plural(one.each, places)}.",
            _how_to_write(one, places),
        )
    sd = max(sds) or None
    return Written(tuple(float(v) for v in values), sd, "", shown, tuple(n.why for n in notes))


def _plural(word: str, count: int) -> str:
    return word if count == 1 else f"{word}s"


def _how_to_write(one: Measurement, places: int | None) -> str:
    if one.dimension is None:
        if one.answers == "yes-no":
            return "Write yes or no."
        return f"Write one of: {', '.join(one.choices)}." if one.choices else "Write a few words."
    if one.each:
        count = f"{places} values" if places else f"one value for each {one.each}"
        return f"Write {count} in their order, then the unit, like '12.5 12.6 ... {one.unit}'."
    return f"Write the number and its unit, like '12.5 {one.unit}'."


def _answer(one: Measurement, text: str) -> str:
    if len(text) > LONGEST_WORDS:
        raise ReadingError(
            f"{one.words}: {len(text)} characters are too many.",
            f"At most {LONGEST_WORDS} characters are kept.",
        )
    word = text.casefold()
    if one.answers == "yes-no":
        if word in _YES or word in _NO:
            return "yes" if word in _YES else "no"
        raise ReadingError(f"{one.words}: '{text[:40]}' is neither yes nor no.", _how_to_write(one, None))
    if one.answers == "choice":
        choices = tuple(one.choices or ())
        if word in choices:
            return word
        near = nearest(word, choices, count=1)
        meant = f"Did you mean {near[0]}? " if near else ""
        raise ReadingError(
            f"{one.words}: '{text[:40]}' is no answer to it.", meant + _how_to_write(one, None)
        )
    return text

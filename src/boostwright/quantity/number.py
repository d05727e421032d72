"""Reading a plain number strictly: comma or point as decimal sign, never a silent thousands separator."""

from __future__ import annotations

import math
import re

from boostwright.quantity.problem import QuantityError

__all__ = ["NUMBER_START", "read_number"]

# the run of characters at the start of a text that belongs to its number, thousands marks and fractions
# included
NUMBER_START = re.compile(
    r"[+\-]?\s*(?:[0-9](?:[0-9.,'_]|[ ](?=[0-9])|/(?=[0-9]))*|[.,][0-9]+)(?:[eE][+\-]?[0-9]+(?![0-9A-Za-z]))?"
)
_SIMPLE = re.compile(r"[+\-]?[0-9]+(?:\.[0-9]*)?(?:[eE][+\-]?[0-9]{1,4})?")
_COMMA = re.compile(r"([+\-]?)([0-9]*),([0-9]+)((?:[eE][+\-]?[0-9]{1,4})?)")
_POINT_ONLY = re.compile(r"[+\-]?\.[0-9]+(?:[eE][+\-]?[0-9]{1,4})?")
_FRACTION = re.compile(r"([+\-]?)(?:([0-9]{1,3}) )?([0-9]{1,3})/([0-9]{1,3})")
_ROW = re.compile(r"[0-9.,]+(?: [0-9.,]+)+")
_GROUPED = re.compile(r"[+\-]?[0-9]{1,3}(?:[ '_.,][0-9]{3})+(?:[.,][0-9]+)?")


def read_number(text: str) -> float:
    """The number that the text is, with comma or point as its decimal sign; inch fractions like 1 1/2 too.

    Raises QuantityError with code 'ambiguous-number' for forms that two people read differently (1,500), 'no-
    number' for anything that is not one number, 'not-finite' for a number beyond floating point.
    """
    text = text.strip()
    if text[:1] in "+-":
        text = text[0] + text[1:].lstrip()
    if _SIMPLE.fullmatch(text) or _POINT_ONLY.fullmatch(text):
        return _finite(text, text)
    comma = _COMMA.fullmatch(text)
    if comma:
        sign, whole, decimals, exponent = comma.groups()
        if len(decimals) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"):
            raise QuantityError(
                "ambiguous-number",
                f"'{text}' can be read as {whole}.{decimals} or as {whole}{decimals}",
                f"Write {whole}.{decimals} or {whole}{decimals}, without a comma.",
            )
        return _finite(f"{sign}{whole or '0'}.{decimals}{exponent}", text)
    fraction = _FRACTION.fullmatch(text)
    if fraction:
        sign, units, top, bottom = fraction.groups()
        if int(bottom) == 0:
            raise QuantityError("no-number", f"'{text}' divides by zero", "Write one number, like 0.5.")
        value = int(units or 0) + int(top) / int(bottom)
        return -value if sign == "-" else value
    if text.count(" ") > 1 and _ROW.fullmatch(text):
        raise QuantityError(
            "two-numbers", "several numbers stand where one belongs", "Write one number, like 86 or 86.5."
        )
    if _GROUPED.fullmatch(text):
        raise QuantityError(
            "ambiguous-number",
            f"'{text}' groups its thousands, which is read differently from country to country",
            "Write the digits in one piece, with a point before the decimals: 1500 or 1500.5.",
        )
    raise QuantityError("no-number", f"'{text}' is not one number", "Write one number, like 86 or 86.5.")


def _finite(digits: str, text: str) -> float:
    value = float(digits) if len(digits) <= 64 else math.inf
    if not math.isfinite(value):
        raise QuantityError(
            "not-finite", f"'{text[:24]}' is too large to be a number here", "Write a smaller number."
        )
    return value

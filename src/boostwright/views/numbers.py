"""How a number is said: rounded by its spread, with its unit, never with more digits than it deserves.

What stands after ± is `COVERAGE` standard deviations, in a report as in a build file: it holds the truth 19
times out of 20.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_EVEN, Decimal

from boostwright.findings.model import Amount, Kind, Phrase
from boostwright.quantity import COVERAGE
from boostwright.views.units import SHOWN

__all__ = ["fill", "say", "say_band", "say_number", "say_span", "shown_value", "spread_step"]

THIN = "\u00a0"  # between a number and its unit, so that a line never breaks there


def spread_step(spread: float) -> float:
    """The last decimal that a spread deserves, as a power of ten.

    The three leading digits of the spread decide: 100 to 354 keep two digits, 355 to 949 one, 950 to 999
    round up to 1000 and keep two. Source: pdg2022, section 5.3, from memory.

    spread: greater than 0. returns: the step in the same unit.
    """
    exponent = math.floor(math.log10(spread))
    three = math.floor(spread / 10.0 ** (exponent - 2) + 0.5)
    if three >= 1000:
        exponent, three = exponent + 1, 100
    if three <= 354:
        return 10.0 ** (exponent - 1)
    return 10.0**exponent  # 950 to 999 becomes 1000, whose two digits end at this very step


def _digits_step(value: float, digits: int) -> float:
    if value == 0.0:
        return 1.0
    return 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)


def say_number(value: float, step: float) -> str:
    """A number rounded half to even at `step` (a power of ten), thousands set apart by a space from 10 000
    on.
    """
    value = float(value)
    if abs(value) >= 1.0e15 * step or abs(value) >= 1.0e15 or step >= 1.0e15:
        return f"{value:.3g}"  # no spread deserves that many digits
    exponent = round(math.log10(step))
    rounded = Decimal(repr(value)).quantize(Decimal(1).scaleb(exponent), rounding=ROUND_HALF_EVEN)
    if exponent > 0:
        rounded = rounded.quantize(Decimal(1))
    if rounded == 0:
        rounded = abs(rounded)  # never '-0'
    text = f"{rounded:f}"
    whole, _, part = text.partition(".")
    sign, whole = ("-", whole[1:]) if whole.startswith("-") else ("", whole)
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", THIN)
    return sign + whole + (f".{part}" if part else "")


def shown_value(amount: Amount) -> tuple[float, float | None, str]:
    """Value and spread in the unit shown, and that unit's name."""
    shown = SHOWN[amount.kind]
    sd = None if amount.sd is None else amount.sd / shown.factor
    if sd is not None and not math.isfinite(COVERAGE * sd):
        sd = None
    return (amount.value - shown.offset) / shown.factor, sd, shown.unit


def _step(amount: Amount) -> float:
    shown = SHOWN[amount.kind]
    value, sd, _ = shown_value(amount)
    if sd is not None and sd > 1.0e-280:
        step = spread_step(COVERAGE * sd)
    else:  # an exact value keeps three digits, one of unknown spread what its kind deserves
        step = _digits_step(value, shown.digits if sd is None else max(3, shown.digits))
    if shown.least_step:
        step = max(step, 10.0 ** math.floor(math.log10(shown.least_step) + 1e-9))
    return step


def say(amount: Amount) -> str:
    """Value and unit: '158 L/h'. Rounded as its spread allows."""
    value, sd, unit = shown_value(amount)
    if not math.isfinite(value):
        return "not known"
    number = say_number(value, _step(amount))
    if SHOWN[amount.kind].bare and not sd and "." in number:
        number = number.rstrip("0").rstrip(".")
    return _with_unit(number, unit)


def say_band(amount: Amount) -> str:
    """Value, spread and unit: '158 ± 12 L/h'; the plain value when there is no spread.

    Where the spread would reach below zero and nothing of the kind can, '2.2 (0 to 4.5) s'.
    """
    value, sd, unit = shown_value(amount)
    if not math.isfinite(value):
        return "not known"
    if sd is None or not math.isfinite(sd):
        return _with_unit(f"about {say_number(value, _step(amount))}", unit)
    if sd <= 1.0e-280:
        return say(amount)
    step = _step(amount)
    spread = say_number(COVERAGE * sd, step)
    if float(spread.replace(THIN, "")) == 0.0:
        return say(amount)
    if SHOWN[amount.kind].positive and 0.0 <= value < COVERAGE * sd:
        return _with_unit(_from_zero(value, COVERAGE * sd, step), unit)
    return _with_unit(f"{say_number(value, step)}{THIN}±{THIN}{spread}", unit)


def _from_zero(value: float, spread: float, step: float) -> str:
    """A value whose spread reaches below zero, where nothing lies: its place and how far up it may be."""
    most, middle = say_number(value + spread, step), say_number(value, step)
    if float(middle.replace(THIN, "")) == 0.0:
        return f"up to {most}"
    return f"{middle}{THIN}(0{THIN}to{THIN}{most})"


def say_span(low: Amount, high: Amount) -> str:
    """'22 to 30 deg': two values of one kind, one unit."""
    if low.kind is not high.kind:
        raise ValueError(f"a span needs one kind, not {low.kind.value} and {high.kind.value}")
    step = max(_step(low), _step(high))
    (a, _, unit), (b, _, _) = shown_value(low), shown_value(high)
    return _with_unit(f"{say_number(a, step)} to {say_number(b, step)}", unit)


def _with_unit(number: str, unit: str) -> str:
    if not unit:
        return number
    return f"{number}{THIN}{unit.replace(' ', THIN)}"


_GAP = re.compile(r"\{(\w+)(:band)?\}")


def fill(phrase: Phrase) -> str:
    """The sentence with its amounts in words. `{name}` shows the value, `{name:band}` value and spread."""

    def one(match: re.Match[str]) -> str:
        amount = phrase.amounts[match[1]]
        return say_band(amount) if match[2] else say(amount)

    return _GAP.sub(one, phrase.text)


def angle_words(amount: Amount) -> str:
    """A crank angle with its side: '12 deg before' or '8 deg after top dead centre'."""
    if amount.kind is not Kind.CRANK_ANGLE:
        raise ValueError(f"{amount.kind.value} is not a crank angle")
    value = abs(shown_value(amount)[0])
    side = "before" if amount.value < 0 else "after"
    step = max(_step(amount), 0.1)
    return f"{say_number(value, step)}{THIN}deg {side} top dead centre"

"""Readings after the conversion against those before it: is the change larger than the test's scatter?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boostwright.findings.before_after import Change, Sides, change_of, sides_of
from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations
from boostwright.library.repeatability import repeatability

__all__ = ["compression", "coolant", "crankcase", "leak_down", "oil_idle", "oil_speed"]

_REAL = 0.05  # a change that an unchanged engine shows more rarely is called real [-]; common practice
_ODD = 3.0  # deviations by which a reading gets better only by another gauge or oil [-] (judgement)
_MOST_TESTS = 6  # nobody tests more often [-]


@dataclass(frozen=True, slots=True)
class _Asked:
    """One reading that is compared."""

    code: str
    field: str
    words: str  # 'compression'
    limit: str
    kind: Kind  # of the change
    reads: Kind  # of the reading itself
    worse_is_less: bool
    harm: Harm
    harm_words: str
    find: str  # what to look for when it is real
    how: str

    @property
    def relative(self) -> bool:
        """Whether the change counts as a share."""
        return self.kind is Kind.SHARE and self.reads is not Kind.SHARE

    @property
    def direction(self) -> str:
        """How it gets worse."""
        return "fell" if self.worse_is_less else "rose"


def _rule(asked: _Asked) -> Rule:
    side = "fall" if asked.worse_is_less else "rise"

    def function(rule: Rule, case: Case) -> Finding | None:
        """The change with the spread of repeatability against the limit; silent without a later reading."""
        return _judged(rule, case, asked)

    return rule(
        asked.code,
        f"{asked.words[0].upper()}{asked.words[1:]}, then and now",
        asks=f"Did the conversion change {asked.words} by more than the test's own scatter, and by too much?",
        demand=f"{side} from the readings before to those after, worst cylinder, with the scatter of both",
        capacity=f"{side} that a sound conversion shows at most",
        harm=asked.harm,
        harm_words=asked.harm_words,
        sense=Sense.AT_MOST,
        limits=(asked.limit,),
    )(function)


def _judged(rule: Rule, case: Case, asked: _Asked) -> Finding | None:
    sides = sides_of(case, asked.field)
    if sides is None:
        return None
    change = change_of(asked.field, sides, asked.worse_is_less, asked.relative)
    if change is None:
        return _untold(rule, asked, sides)
    limit = case.limits[asked.limit]
    demand = Amount(change.value, change.sd, asked.kind, f"change of {asked.words}")
    tests = _tests_wanted(change, limit.amount)
    amounts = {
        "old": Amount(change.before, None, asked.reads),
        "new": Amount(change.after, None, asked.reads),
        "by": Amount(abs(change.value), change.sd, asked.kind),
        "chance": Amount(change.chance, None, Kind.SHARE),
        "tests": Amount(float(tests or 0), 0.0, Kind.COUNT),
        "most": limit.amount,
    }
    where = f"cylinder {change.place + 1} of {change.places}, counted from the belt end"
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words=where if change.places > 1 else "the engine as it stands today"),
        cause=_cause(asked, change, amounts),
        remedy=_remedy(asked, change, limit.amount, tests, amounts),
        reading=Reading(asked.how, 1800.0),
        notes=_notes(sides),
        about=(asked.field, "build.converted_on"),
    )


_BY_FIELD = Phrase("No earlier row stands in [[readings]]; the value in [engine] is taken as the one before.")


def _notes(sides: Sides) -> tuple[Phrase, ...]:
    """What stood in for an earlier row, and what was left out."""
    found = [_BY_FIELD] if sides.by_field else []
    if sides.unplaced:
        left = Amount(float(sides.unplaced), 0.0, Kind.COUNT)
        found.append(Phrase(_UNPLACED, {"left": left}))
    return tuple(found)


_UNPLACED = (
    "Left out are {left} of the rows: neither a date beside converted_on nor 'when' tells on which side of"
    " the conversion they stand."
)


def _cause(asked: _Asked, change: Change, amounts: dict[str, Amount]) -> Phrase:
    which = f"Cylinder {change.place + 1}" if change.places > 1 else "The reading"
    if change.value < -_ODD * change.sd:
        return Phrase(
            f"{which} went from {{old}} to {{new}}, which no engine does by itself: another gauge, oil on"
            " the pistons, or another oil in the sump.",
            amounts,
        )
    if change.value <= 0.0:
        return Phrase(f"{which} got no worse: {{old}} before, {{new}} after.", amounts)
    text = f"{which} {asked.direction} from {{old}} to {{new}}."
    text += " An unchanged engine shows as much in {chance} of such pairs of tests"
    if change.chance < _REAL:
        return Phrase(f"{text}: the change is real.", amounts)
    return Phrase(f"{text}: it may well be nothing but the test's own scatter.", amounts)


def _remedy(
    asked: _Asked, change: Change, limit: Amount, tests: int | None, amounts: dict[str, Amount]
) -> Phrase:
    if change.value > limit.value:
        return Phrase(f"Stop boosting until it is found: {asked.find}.", amounts)
    if _sure(change, limit, change.counts):
        return Phrase("Go on, and read it again after the next thousand kilometres.")
    if tests is None:
        return Phrase(f"Watch it, and look: {asked.find}. More tests alone would not tell.", amounts)
    return Phrase(
        "Repeat the test until there are {tests} readings on each side, each a row of its own in"
        " [[readings]]; if the means stay, that is a sure hold.",
        amounts,
    )


def _sure(change: Change, limit: Amount, counts: tuple[int, int]) -> bool:
    now = 1.0 / change.counts[0] + 1.0 / change.counts[1]
    then = 1.0 / counts[0] + 1.0 / counts[1]
    sd = math.hypot(change.sd * math.sqrt(then / now), limit.sd or 0.0)
    return limit.value - change.value >= deviations(Harm.DAMAGE) * sd


def _tests_wanted(change: Change, limit: Amount) -> int | None:
    """Readings on each side with which this change would hold for sure; None when no sane number does."""
    for n in range(1, _MOST_TESTS + 1):
        counts = (max(n, change.counts[0]), max(n, change.counts[1]))
        if _sure(change, limit, counts):
            return n
    return None


def _untold(rule: Rule, asked: _Asked, sides: Sides) -> Finding:
    """Readings that cannot be set against each other."""
    if sides.before and sides.after:
        why = "The readings before and after are not of the same number of cylinders"
        do = "Write one value for each cylinder into every row."
    elif sides.after:
        why = f"There is a reading of {asked.words} after the conversion and none before it"
        do = "Nothing brings the old value back: take this one as the base, with when = 'before' beside it."
    else:
        why = "Nobody can tell which readings were taken before the conversion"
        do = "State converted_on in [build] and a date in each row, or when = 'before' or 'after' there."
    return rule.finding(
        None,
        None,
        LimitRecord("readings", "the build file", repeatability()[asked.field].source),
        cause=Phrase(f"{why}."),
        remedy=Phrase(do),
        reading=Reading(asked.how, 1800.0),
        about=(asked.field, "build.converted_on"),
    )


compression = _rule(
    _Asked(
        "engine.change_compression",
        "engine.compression_pressure",
        "compression",
        "change_compression",
        Kind.SHARE,
        Kind.PRESSURE_GAUGE,
        True,
        Harm.DAMAGE,
        "a broken land or a burnt valve goes on under boost until the piston is through",
        "leak-down on that cylinder, then a camera through the plug hole",
        "Compression as the first time: engine hot, all plugs out, throttle open, battery charged, same"
        " gauge.",
    )
)

leak_down = _rule(
    _Asked(
        "engine.change_leak_down",
        "engine.leak_down",
        "leak-down",
        "change_leak_down",
        Kind.SHARE,
        Kind.SHARE,
        False,
        Harm.DAMAGE,
        "rings or valves have begun to go, and blow-by floods the turbo's drain",
        "listen at intake, exhaust, filler and coolant while it leaks",
        "Leak-down as the first time: engine warm, top dead centre, same tester, crank held.",
    )
)

oil_idle = _rule(
    _Asked(
        "engine.change_oil_idle",
        "engine.oil_pressure_idle",
        "oil pressure at hot idle",
        "change_oil_idle",
        Kind.SHARE,
        Kind.PRESSURE_GAUGE,
        True,
        Harm.DAMAGE,
        "the turbo's feed takes more than the pump can spare, or a bearing is going",
        "the feed's restrictor and its bore first, then the relief valve, the oil's grade and the bearings",
        "Mechanical gauge at the block, oil at the same temperature and of the same grade as the first time.",
    )
)

oil_speed = _rule(
    _Asked(
        "engine.change_oil_speed",
        "engine.oil_pressure_3000",
        "oil pressure at 3000 rpm",
        "change_oil_speed",
        Kind.SHARE,
        Kind.PRESSURE_GAUGE,
        True,
        Harm.DAMAGE,
        "bearings and turbo run short of oil at load",
        "the feed's restrictor and its bore first, then the relief valve, the oil's grade and the bearings",
        "Mechanical gauge at the block at 3000 rpm, oil at the same temperature and grade as the first time.",
    )
)

crankcase = _rule(
    _Asked(
        "engine.change_crankcase",
        "engine.crankcase_pressure",
        "crankcase pressure",
        "change_crankcase",
        Kind.PRESSURE_SMALL,
        Kind.PRESSURE_SMALL,
        False,
        Harm.WEAR,
        "the turbo's drain backs up and its seals leak, then the engine's own",
        "the breather's hose and one-way valve first, then the turbo's seals, then leak-down",
        "Water manometer at the dipstick tube, warm, 4000 rpm, as the first time.",
    )
)

coolant = _rule(
    _Asked(
        "engine.change_coolant",
        "engine.coolant_drop",
        "hold of the cooling system",
        "change_coolant",
        Kind.PRESSURE_SMALL,
        Kind.PRESSURE_SMALL,
        False,
        Harm.DAMAGE,
        "boost has lifted the head, coolant goes, and the head overheats",
        "the turbo's own water lines first, then combustion gas in the coolant, then the gasket",
        "Hand pump on the filler neck of the cold engine, ten minutes, as the first time. Never open a hot"
        " system.",
    )
)

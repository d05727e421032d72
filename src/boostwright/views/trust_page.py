"""What draws add to the report on a terminal: how sure it is, where that comes from, what to measure."""

from __future__ import annotations

import math
from statistics import median
from typing import Protocol

from boostwright.findings.model import Amount, Finding, Kind
from boostwright.findings.result import CheckResult
from boostwright.findings.trust_records import Trust, WorthOfReading
from boostwright.views.numbers import say_band
from boostwright.views.odds_words import chance_words, corner_words, trust_words
from boostwright.views.tables import band_table

__all__ = ["how_sure", "listed_first", "measure_first", "where_from", "with_bands"]

_READINGS = 7  # shown at most
_SHARES = 4
_LEAST_SHARE = 0.03  # of the variance, below which a share is not worth a line
_MOST = 0.5  # of a variance not explained, from which on more draws are asked for
_ENOUGH = 256  # draws that explain what draws can
_SETTLED = 0.005  # probability from either end at which a finding needs no reasons


class Page(Protocol):
    """A report under way; see `terminal`."""

    width: int

    def heading(self, text: str) -> None:
        """Begin a section."""
        ...

    def text(self, text: str, first: str = "", indent: int = 11) -> None:
        """Add wrapped text."""
        ...

    def add(self, *lines: str) -> None:
        """Add lines as they are."""
        ...


def how_sure(page: Page, result: CheckResult) -> None:
    """The chance of the whole, and on what it rests; for a plain check, how to have it."""
    trust = result.trust
    if trust is None:
        return
    page.heading("How sure this is")
    page.text(chance_words(trust.whole), "", 0)
    page.text(chance_words(trust.safe), "", 0)
    page.text(trust_words(trust), "", 0)
    for why, count in trust.failed.items():
        page.text(f"{count} draws gave nothing: {why}", "note")


def measure_first(page: Page, result: CheckResult) -> None:
    """The readings that change most for their cost."""
    trust = result.trust
    if trust is None:
        return
    page.heading("What to measure first")
    if not trust.shares:
        page.text(
            f"{trust.draws} draws are too few to tell where the spreads come from, what to measure first, and"
            " whether a static fuel-pressure reading before strip-down is worth its ten minutes; 64 or more"
            " can tell.",
            "",
            0,
        )
        return
    worth = _worth(trust)
    if not worth:
        page.text("No reading of the list would change what to do by more than chance.", "", 0)
    for number, reading in enumerate(worth[:_READINGS], 1):
        page.text(_reading(reading, result), f" {number}", 4)
    if len(worth) > _READINGS:
        page.text(f"{len(worth) - _READINGS} more are in the JSON results.", "", 4)
    page.text(
        "In the order of what a reading takes off the harm for each 10\u00a0EUR of its time and price. Harm"
        " counts what may be lost times its odds: 100 an engine destroyed, 30 damaged, 10 worn, 3 poor"
        " running, 1 a nuisance. Time and price can be changed under [[costs]] in the file.",
        "",
        0,
    )
    if _explains_little(trust):
        page.text(
            f"{trust.draws} draws explain less than half of most spreads: more of them may add readings to"
            " this list and change its order.",
            "",
            0,
        )
    for line in static_pressure(trust):
        page.text(line, "", 0)


def _worth(trust: Trust) -> list[WorthOfReading]:
    """The readings that change more than chance, the best for its cost first."""
    return [r for r in trust.readings if r.drop > 2.0 * r.error and r.drop > 0.0]


def _explains_little(trust: Trust) -> bool:
    """Whether so few draws were taken that most spreads stay unexplained."""
    return trust.draws < _ENOUGH and bool(trust.unexplained) and median(trust.unexplained.values()) > _MOST


def listed_first(finding: Finding, trust: Trust | None) -> str:
    """Which reading of the list helps a finding, in words to stand before the reading that is its own; ''
    where none does.
    """
    for number, reading in enumerate([] if trust is None else _worth(trust)[:_READINGS], 1):
        if finding.code in reading.findings:
            words = f"{reading.words[0].lower()}{reading.words[1:]}"
            return f"Number {number} of the list above helps here: {words}. For this finding alone: "
    return ""


def _reading(reading: WorthOfReading, result: CheckResult) -> str:
    names = {f.code: f.subject for f in result.findings}
    helps = ", ".join(names[c][0].lower() + names[c][1:] for c in reading.findings[:2] if c in names)
    price = f", {reading.price:.0f}\u00a0EUR" if reading.price else ""
    said = (
        f"{reading.words} ({reading.instrument}; {reading.minutes:.0f}\u00a0min{price}): takes off"
        f" {_off(reading)} of harm for {reading.cost:.0f}\u00a0EUR of time and price together,"
        f" {10.0 * reading.rate:.2g} for each 10\u00a0EUR"
    )
    said += f"; most for {helps}." if helps else "."
    return said + (f" {reading.caution}" if reading.caution else "")


def _off(reading: WorthOfReading) -> str:
    """How much harm a reading takes off, rounded by what chance may make of it."""
    return say_band(Amount(reading.drop, reading.error, Kind.RATIO))


_STATIC = "static_fuel_pressure"


def static_pressure(trust: Trust) -> tuple[str, ...]:
    """Whether a static fuel-pressure reading before strip-down is worth its minutes, in a sentence."""
    what = "A static fuel-pressure reading before strip-down"
    if _STATIC in trust.read_already:
        return (f"{what}: your file has it already, as well as a gauge can tell.",)
    found = next((r for r in trust.readings if r.key == _STATIC), None)
    if found is None:
        return ()
    worth = _worth(trust)
    place = next((i for i, r in enumerate(worth, 1) if r.key == _STATIC), None)
    if place is None:
        chance = f"({_off(found)} of harm, which may be chance)"
        return (
            f"{what} is not worth its {found.minutes:.0f} minutes: it would change nothing here {chance}.",
        )
    word = "is worth" if found.rate >= _worthwhile(trust) else "can wait: others give more for"
    return (f"{what} {word} its {found.minutes:.0f} minutes (number {place} of {len(worth)} in the list).",)


def _worthwhile(trust: Trust) -> float:
    """The rate of the middle one of the readings that change anything."""
    rates = sorted(r.rate for r in trust.readings if r.drop > 2.0 * r.error)
    return rates[len(rates) // 2] if rates else math.inf


def where_from(page: Page, finding: Finding, trust: Trust | None) -> None:
    """Under a finding that is not sure: where its spread comes from, and in which corner it was worst."""
    if trust is None or finding.code not in trust.findings or finding.probability is None:
        return
    if not _SETTLED < finding.probability < 1.0 - _SETTLED or finding.of_the_file:
        return
    shares = [s for s in trust.shares.get(finding.code, ()) if s.alone >= _LEAST_SHARE][:_SHARES]
    if shares:
        said = ", ".join(f"{s.words} {100 * s.alone:.0f}\u00a0%" for s in shares)
        page.text(f"Its spread comes from: {said}{_not_explained(finding, trust)}.", "  from")
    elif trust.unexplained.get(finding.code, 0.0) > _MOST and trust.draws < _ENOUGH:
        page.text(f"{trust.draws} draws are too few to tell where its spread comes from.", "  from")
    corners = corner_words(trust.findings[finding.code])
    if corners:
        page.text(corners, "  days")


def _not_explained(finding: Finding, trust: Trust) -> str:
    """What the shares leave open, and whether more draws would tell."""
    left = trust.unexplained.get(finding.code, math.nan)
    if not left > 0.1:
        return ""
    if left > _MOST and trust.draws < _ENOUGH:
        return f"; {trust.draws} draws are too few to tell where the other {100 * left:.0f}\u00a0% come from"
    return f"; {100 * left:.0f}\u00a0% not explained"


def with_bands(page: Page, result: CheckResult) -> None:
    """A table of what 5 and 95 of a hundred draws lie below."""
    trust = result.trust
    if trust is None or "goal.torque" not in trust.curves or result.goal is None:
        return
    page.heading("The same as draws scatter it: from 5 to 95 of 100")
    page.add(*band_table(result.goal.speed, trust.curves, page.width))

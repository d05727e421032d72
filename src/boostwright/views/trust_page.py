"""What draws add to the report on a terminal: how sure it is, where that comes from, what to measure."""

from __future__ import annotations

import math
from typing import Protocol

from boostwright.findings.model import Finding
from boostwright.findings.result import CheckResult
from boostwright.findings.trust_records import Trust, WorthOfReading
from boostwright.views.odds_words import chance_words, corner_words, trust_words
from boostwright.views.tables import band_table

__all__ = ["how_sure", "measure_first", "where_from", "with_bands"]

_READINGS = 7  # shown at most
_SHARES = 4
_LEAST_SHARE = 0.03  # of the variance, below which a share is not worth a line
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
    worth = [r for r in trust.readings if r.drop > 2.0 * r.error and r.drop > 0.0]
    if not worth:
        page.text("No reading of the list would change what to do by more than chance.", "", 0)
    for number, reading in enumerate(worth[:_READINGS], 1):
        page.text(_reading(reading, result), f" {number}", 4)
    if len(worth) > _READINGS:
        page.text(f"{len(worth) - _READINGS} more are in the JSON results.", "", 4)
    page.text(
        "Harm counts what may be lost times its odds: 100 an engine destroyed, 30 damaged, 10 worn, 3 poor"
        " running, 1 a nuisance. Time and price can be changed under [[costs]] in the file.",
        "",
        0,
    )
    for line in static_pressure(trust):
        page.text(line, "", 0)


def _reading(reading: WorthOfReading, result: CheckResult) -> str:
    names = {f.code: f.subject for f in result.findings}
    helps = ", ".join(names[c][0].lower() + names[c][1:] for c in reading.findings[:2] if c in names)
    price = f", {reading.price:.0f}\u00a0EUR" if reading.price else ""
    said = (
        f"{reading.words} ({reading.instrument}; {reading.minutes:.0f}\u00a0min{price}): worth"
        f" {reading.drop:.2g}\u00a0±\u00a0{2 * reading.error:.1g} of harm"
    )
    said += f", most for {helps}." if helps else "."
    return said + (f" {reading.caution}" if reading.caution else "")


_STATIC = "static_fuel_pressure"


def static_pressure(trust: Trust) -> tuple[str, ...]:
    """Whether a static fuel-pressure reading before strip-down is worth its minutes, in a sentence."""
    what = "A static fuel-pressure reading before strip-down"
    if _STATIC in trust.read_already:
        return (f"{what}: your file has it already, as well as a gauge can tell.",)
    found = next((r for r in trust.readings if r.key == _STATIC), None)
    if found is None:
        return ()
    place = next(i for i, r in enumerate(trust.readings, 1) if r.key == _STATIC)
    if found.drop <= 2.0 * found.error or found.drop <= 0.0:
        word = "would change nothing here: it is not worth"
    else:
        word = "is worth" if found.rate >= _worthwhile(trust) else "can wait, others give more for"
    said = (
        f"{what} {word} its {found.minutes:.0f} minutes (place {place} of {len(trust.readings)},"
        f" {found.drop:.2g}\u00a0±\u00a0{2 * found.error:.1g} of harm)."
    )
    return (said,)


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
        left = trust.unexplained.get(finding.code, math.nan)
        unknown = f"; {100 * left:.0f}\u00a0% not explained" if left > 0.1 else ""
        page.text(f"Its spread comes from: {said}{unknown}.", "  from")
    corners = corner_words(trust.findings[finding.code])
    if corners:
        page.text(corners, "  days")


def with_bands(page: Page, result: CheckResult) -> None:
    """A table of what 5 and 95 of a hundred draws lie below."""
    trust = result.trust
    if trust is None or "goal.torque" not in trust.curves or result.goal is None:
        return
    page.heading("The same as draws scatter it: from 5 to 95 of 100")
    page.add(*band_table(result.goal.speed, trust.curves, page.width))

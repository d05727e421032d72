"""The report on a terminal or in a pipe: plain text, verdict first, worst finding first, colour last.

`terminal_report` returns one string that fits the width given; nothing here prints.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator

from boostwright.findings.limits import shipped_limits
from boostwright.findings.model import Amount, Finding, Kind, Verdict
from boostwright.findings.notes import deference
from boostwright.findings.result import CheckResult
from boostwright.views.bar import margin_bar, text_bar
from boostwright.views.numbers import fill, say, say_band
from boostwright.views.tables import baseline_table, goal_table
from boostwright.views.trust_page import how_sure, listed_first, measure_first, where_from, with_bands
from boostwright.views.words import (
    MARKS,
    chance_of_whole,
    even_words,
    headline,
    odds_of,
    rule_words,
    threshold_words,
)

__all__ = ["terminal_report"]

_INDENT = 11
_SEVERE = "\033[31m"  # red lead, for what can hurt
_LIGHT = "\033[2m"
_BOLD = "\033[1m"
_OFF = "\033[0m"


class _Page:
    """Lines of one report; knows the width and whether colour is wanted."""

    def __init__(self, width: int, colour: bool) -> None:
        self.width = width
        self.colour = colour
        self.lines: list[str] = []

    def add(self, *lines: str) -> None:
        self.lines += [line.rstrip() for line in lines]

    def paint(self, text: str, code: str) -> str:
        return f"{code}{text}{_OFF}" if self.colour and text else text

    def heading(self, text: str) -> None:
        self.add("", self.paint(text, _BOLD), "─" * self.width)

    def text(self, text: str, first: str = "", indent: int = _INDENT) -> None:
        self.add(*wrap(text, self.width, first, indent))


def wrap(text: str, width: int, first: str = "", indent: int = 0) -> list[str]:
    """The text broken at spaces; the first line starts with `first`, all others with `indent` spaces."""
    pad = " " * indent
    return textwrap.wrap(
        text, width, initial_indent=first.ljust(indent), subsequent_indent=pad, break_long_words=True,
        break_on_hyphens=False,
    )  # fmt: skip


def terminal_report(result: CheckResult, width: int = 80, colour: bool = False, every: bool = False) -> str:
    """The report as one text ending in a line break.

    width: columns, at least 60. colour: whether to use it. every: also write out the findings that hold.
    """
    page = _Page(max(60, min(width, 110)), colour)
    _top(page, result)
    how_sure(page, result)
    _next(page, result)
    measure_first(page, result)
    _findings(page, result, every)
    _cautions(page, result.findings)
    _engine(page, result)
    _assumed(page, result)
    _unusual(page, result)
    if result.not_judged:
        page.add("")
        page.text(f"Stated but not judged yet: {', '.join(result.not_judged)}.", "", 0)
    _ends(page, result)
    return "\n".join(page.lines) + "\n"


def _top(page: _Page, result: CheckResult) -> None:
    title = result.name or "unnamed build"
    page.add(title + f"boostwright {result.version}".rjust(max(1, page.width - len(title))), "─" * page.width)
    mark = f"{MARKS[result.verdict]} {result.verdict.value}"
    lines = wrap(
        headline(result.findings, result.verdict, chance_of_whole(result)), page.width, mark, _INDENT
    )
    code = _SEVERE if result.verdict is Verdict.BREAKS else _BOLD
    lines[0] = page.paint(mark, code) + lines[0][len(mark) :]
    page.add(*lines)
    worst = _open(result)[:1]
    for finding in worst:
        so = "then" if finding.verdict is Verdict.BREAKS else "if not"
        page.text(f"Worst: {finding.subject[0].lower()}{finding.subject[1:]}, {odds_of(finding)}; "
                  f"{so}: {finding.harm_words}.")  # fmt: skip
    for warning in result.warnings:
        page.text(warning, "note")
    if result.unusual:
        count = len(result.unusual)
        points = "1 point deserves" if count == 1 else f"{count} points deserve"
        page.text(f"{points} a second look in the file; see the list below.", "note")


def _open(result: CheckResult) -> tuple[Finding, ...]:
    """The findings that ask for something, worst first."""
    return tuple(f for f in result.findings if f.verdict is not Verdict.HOLDS)


def _next(page: _Page, result: CheckResult) -> None:
    todo = _open(result)
    if not todo:
        return
    page.heading("What to do next")
    steps: dict[str, list[str]] = {}  # two findings may share one remedy
    for finding in todo:
        steps.setdefault(_step(finding), []).append(finding.subject)
    for number, (step, subjects) in enumerate(list(steps.items())[:5], 1):
        page.text(f"{', '.join(dict.fromkeys(subjects))}: {step}", f" {number}", 4)
    if len(steps) > 5:
        page.text(f"{len(steps) - 5} more below.", "", 4)


def _step(finding: Finding) -> str:
    """The reading that settles an unknown, else the remedy."""
    wants_reading = finding.verdict is Verdict.UNKNOWN
    return finding.reading.what if wants_reading and finding.reading.what else fill(finding.remedy)


def _findings(page: _Page, result: CheckResult, every: bool) -> None:
    page.heading("Findings, worst first")
    for finding in result.findings:
        if finding.verdict is Verdict.HOLDS and not every:
            continue
        _one_finding(page, finding, result)
    holds = result.of(Verdict.HOLDS)
    if holds and not every:
        page.add("")
        for finding in holds:
            _holding_line(page, finding)


def _one_finding(page: _Page, finding: Finding, result: CheckResult) -> None:
    mark = f"{MARKS[finding.verdict]} {finding.verdict.value}"
    code = _SEVERE if finding.verdict is Verdict.BREAKS else _BOLD
    said = odds_of(finding)
    title = finding.subject
    page.add("")
    room = page.width - _INDENT - len(title)
    if len(said) + 2 <= room:
        page.add(
            page.paint(mark, code) + " " * (_INDENT - len(mark)) + page.paint(title, _BOLD) + said.rjust(room)
        )
    else:
        page.add(
            page.paint(mark, code) + " " * (_INDENT - len(mark)) + page.paint(title, _BOLD),
            " " * _INDENT + said,
        )
    _bar(page, finding)
    rows: list[tuple[str, str]] = [("where", _where(finding))]
    if finding.remedy and finding.verdict is not Verdict.HOLDS:
        rows.append(("do", fill(finding.remedy)))
    if finding.reading.what and finding.verdict is not Verdict.HOLDS:
        first = listed_first(finding, result.trust)
        rows.append(("measure", first + finding.reading.what + _minutes(finding)))
    rows += [
        ("why", fill(finding.cause)),
        ("if not", f"{finding.harm_words[0].upper()}{finding.harm_words[1:]}."),
    ]
    rows.append(("odds", even_words(finding)))
    rows += [("also", fill(note)) for note in finding.notes]
    rows.append(("limit", _limit(finding)))
    for label, text in rows:
        if text:
            page.text(text, f"  {label}")
    where_from(page, finding, result.trust)


def _bar(page: _Page, finding: Finding) -> None:
    bar = margin_bar(finding)
    texts = [say_band(a) if a is not None else "not known" for a in (finding.demand, finding.capacity)]
    if bar is None:
        for label, side, text in zip(
            ("asked", "stands"), (finding.demand, finding.capacity), texts, strict=True
        ):
            page.text(f"{text}{', ' + side.name if side is not None and side.name else ''}", f"  {label}")
        return
    length = max(len(t) for t in texts)
    beside = page.width - _INDENT - length - 2 >= 24  # else the figures stand below the bar
    width = page.width - _INDENT - (length + 2 if beside else 0)
    demand, capacity, scale = text_bar(bar, width)
    pad = " " * _INDENT
    page.add(
        "  asked".ljust(_INDENT) + demand + (f"  {texts[0]}" if beside else ""),
        "  stands".ljust(_INDENT) + capacity + (f"  {texts[1]}" if beside else ""),
        page.paint(pad + scale, _LIGHT),
    )
    if not beside:
        page.text(f"Asked {texts[0]}; stands {texts[1]}.")
    both = (finding.demand, finding.capacity)
    names = list(dict.fromkeys(a.name for a in both if a is not None and a.name))
    if names:
        page.text(
            f"{names[0][0].upper()}{names[0][1:]}" + (f"; limit: {names[1]}." if len(names) > 1 else ".")
        )


def _holding_line(page: _Page, finding: Finding) -> None:
    mark = f"{MARKS[finding.verdict]} {finding.verdict.value}"
    sides = [say_band(a) for a in (finding.demand, finding.capacity) if a is not None]
    word = "against" if len(sides) == 2 else ""
    edited = " Limit edited by you." if finding.limit.edited else ""
    first = finding.demand  # a ratio has no unit that tells what it counts
    named = f", {first.name}," if first is not None and first.kind is Kind.RATIO and first.name else ":"
    page.text(f"{finding.subject}{named} {f' {word} '.join(sides)}; {odds_of(finding)}.{edited}", mark)


def _where(finding: Finding) -> str:
    parts = []
    if finding.place.speed is not None and math.isfinite(finding.place.speed):
        parts.append(f"worst at {say(Amount(finding.place.speed, None, Kind.ENGINE_SPEED))}")
    if finding.place.words:
        parts.append(finding.place.words)
    if parts and finding.place.speed is not None and finding.corner:
        parts.append(finding.corner)
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _minutes(finding: Finding) -> str:
    if finding.reading.time is None:
        return ""
    return f" About {say(Amount(finding.reading.time, None, Kind.TIME))}."


def _limit(finding: Finding) -> str:
    record = finding.limit
    edited = f" Edited by you: {record.edit_reason.rstrip('.')}." if record.edited else ""
    key = f" Key: {record.key}." if record.key in shipped_limits() else ""
    return f"{record.reason.rstrip('.')}. Source: {record.source}.{edited}{key}"


def _cautions(page: _Page, findings: Iterable[Finding]) -> None:
    seen: dict[str, str] = {}
    for finding in findings:
        if finding.verdict is not Verdict.HOLDS:
            seen.update({c.key: c.text for c in finding.cautions})
    if not seen:
        return
    page.heading("Before you put a hand to it")
    for key, text in seen.items():
        page.text(text, f"  {key}")
    page.text(deference(), "  first")


def _engine(page: _Page, result: CheckResult) -> None:
    page.heading("The engine before the turbo, full load")
    page.add(*baseline_table(result.baseline, page.width))
    if result.goal is not None:
        page.heading("With the turbo, full load")
        page.add(*goal_table(result.goal, page.width))
        with_bands(page, result)
        if result.threshold is not None:
            page.add("")
            page.text(threshold_words(result.threshold), "", 0)
    elif result.no_goal:
        page.add("")
        page.text(result.no_goal, "note")
    page.heading("The build")
    for row in result.summary:
        said = row.words if row.amount is None else say(row.amount)
        page.text(said, f"  {row.label}", 26)


def _assumed(page: _Page, result: CheckResult) -> None:
    if not result.assumed:
        return
    page.heading("Assumed values that matter most")
    most = [value for value in result.assumed if value.findings][:8]
    for value in most:
        page.text(f"{value.text}: {value.title}", f"  {value.field}", max(30, len(value.field) + 4))
    if len(result.assumed) > len(most):
        left = len(result.assumed) - len(most)
        page.text(f"{left} more are assumed; they are listed in the JSON results.", "", 2)


def _unusual(page: _Page, result: CheckResult) -> None:
    if not result.unusual:
        return
    page.heading("Worth a second look")
    for note in result.unusual:
        page.text(note, "  ·", 4)


def _ends(page: _Page, result: CheckResult) -> None:
    page.heading("What 'holds' does not cover")
    for item in result.not_covered:
        page.text(item, "  ·", 4)
    page.add("", "─" * page.width)
    page.text("What stands after ± or in brackets beside a value holds the truth 19 times out of 20.", "", 0)
    page.text(rule_words(), "", 0)
    page.add(*_fold(_identity(result), page.width))


def _identity(result: CheckResult) -> Iterator[str]:
    yield f"boostwright {result.version}"
    yield f"data {result.data_version}"
    yield f"inputs {result.fingerprint}"
    if result.created_with:
        yield f"build file {result.created_with}"
    if "total" in result.seconds:
        yield f"{result.seconds['total']:.1f}\u00a0s"


def _fold(parts: Iterable[str], width: int) -> list[str]:
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + 3 + len(part) <= width:
            lines[-1] += " · " + part
        else:
            lines.append(part)
    return lines

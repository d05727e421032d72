"""The report in characters."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from boostwright.findings.model import LimitRecord, Phrase, Verdict
from boostwright.findings.notes import deference, not_covered
from boostwright.views.document import document
from boostwright.views.terminal import terminal_report
from boostwright.views.words import plain
from tests.sample import changed, finding, result


@pytest.mark.parametrize("width", [60, 72, 80, 100, 200])
@pytest.mark.parametrize("with_goal", [True, False])
def test_it_fits_the_width(width: int, with_goal: bool) -> None:
    lines = terminal_report(result(with_goal), width, every=True).splitlines()
    assert max(map(len, lines)) <= min(width, 110)
    assert all(line == line.rstrip() for line in lines)


def test_the_order_is_verdict_worst_do_why_baseline_assumed_not_covered() -> None:
    text = terminal_report(result(), 80)
    marks = ["It does not hold", "What to do next", "Findings, worst first", "The engine before the turbo",
             "Assumed values", "does not cover", "inputs fedcba"]  # fmt: skip
    places = [text.index(m) for m in marks]
    assert places == sorted(places)
    finding = text[text.index("Findings, worst first") :]
    inside = [finding.index(m) for m in ("  do ", "  why ", "  limit ")]
    assert inside == sorted(inside)


def test_colour_only_when_asked_and_last() -> None:
    coloured, bare = terminal_report(result(), 80, colour=True), terminal_report(result(), 80)
    assert "\033[" not in bare
    assert "\033[31m" in coloured
    assert re.sub(r"\033\[\d+m", "", coloured) == bare


def test_it_can_be_said_in_ascii() -> None:
    assert plain(terminal_report(result(), 80)).isascii()


def test_the_numbers_are_those_of_the_document() -> None:
    given = result()
    text = " ".join(terminal_report(given, 80, every=True).split())
    for found in document(given)["findings"]:
        assert " ".join(found["demand"]["text"].split()) in text
        assert " ".join(found["capacity"]["text"].split()) in text
        assert " ".join(found["odds"].split()) in text


def test_cautions_stand_there_and_defer() -> None:
    text = " ".join(terminal_report(result(), 80).split())
    assert "Petrol under pressure burns" in text
    assert deference() in text
    for item in not_covered():
        assert item in text


def test_an_edited_limit_says_so_on_the_short_line_too() -> None:
    """A finding that holds only by an edited limit must not look like one that holds by ours."""
    given = result()
    held = next(f for f in given.findings if f.verdict is Verdict.HOLDS)
    edited = replace(held, limit=replace(held.limit, edited=True, edit_reason="fresh rings"))
    assert "edited by you" not in terminal_report(replace(given, findings=(held,)), 80)
    assert "Limit edited by you." in " ".join(terminal_report(replace(given, findings=(edited,)), 80).split())


def test_an_edited_limit_says_so() -> None:
    given = result()
    edited = changed(
        given.findings[0],
        limit=LimitRecord("injector_duty", "the build file", "Because.", True, "bench-flowed set."),
    )
    text = terminal_report(replace(given, findings=(edited,)), 80)
    assert "Edited by you: bench-flowed set." in " ".join(text.split())


def test_an_empty_remedy_and_no_findings_do_not_upset_it() -> None:
    given = result(False)
    bare = changed(given.findings[0], remedy=Phrase(""), demand=None, capacity=None, notes=())
    assert "not known" in terminal_report(replace(given, findings=(bare,)), 80)
    assert "It cannot be told yet" in terminal_report(replace(given, findings=()), 80)


def test_two_findings_with_one_remedy_ask_for_it_once() -> None:
    twice = replace(result(), findings=(finding("a.a"), finding("b.b")))
    steps = terminal_report(twice).split("What to do next")[1].split("Findings, worst first")[0]
    assert " 1 " in steps
    assert " 2 " not in steps

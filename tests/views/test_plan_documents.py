"""The plan as text, JSON, CSV, calendar file and sheet: they agree, and each keeps its form."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import UTC, datetime
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.planning.levers import Lever
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.uncertainty.odds import Odds
from boostwright.views.plan_document import _escaped, _folded, plan_csv, plan_document, plan_ics
from boostwright.views.plan_page import head_report, list_report, plan_report
from boostwright.views.plan_words import chance_words, length_words
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

TWO = '[[people]]\nname = "L"\n[[people]]\nname = "H"\nskill = "helper"\n[hours]\nevenings = 2\n'
STAMP = datetime(2026, 11, 30, 12, tzinfo=UTC)


@cache
def plan(text: str = TWO) -> Plan:
    return plan_for(build_with(text), small_job(), MONDAY, LISBON, wishes=Wishes(samples=1000, seconds=0.0))


def test_the_verdict_stands_first() -> None:
    lines = plan_report(plan()).splitlines()
    assert lines[2].startswith("Done by Sunday 6 December 20:00: ")
    assert max(map(len, lines)) <= 80


def test_every_task_of_the_hours_stands_in_the_list_once() -> None:
    for text in (plan_report(plan()), list_report(plan())):
        for slot in plan().schedule.slots:
            assert len(re.findall(rf"^\d\d:\d\d.*  {re.escape(slot.task)}(  \[|$)", text, re.MULTILINE)) == 1


def test_json_csv_and_calendar_hold_the_same_times() -> None:
    made = plan()
    document = json.loads(plan_document(made, "1", "2", "f" * 64))
    rows = list(csv.DictReader(io.StringIO(plan_csv(made))))
    assert document["format"] == 1
    assert {"version", "data", "fingerprint", "seed"} <= document.keys()
    assert [s["task"] for s in document["slots"]] == [r["task"] for r in rows]
    assert [(s["start"], s["end"]) for s in document["slots"]] == [(r["start"], r["end"]) for r in rows]
    events = plan_ics(made, STAMP, "f" * 64, "1").split("BEGIN:VEVENT")[1:]
    pieces = [p for s in made.schedule.slots for p in s.pieces if p.end > p.start]
    assert len(events) == len(pieces)
    for event, piece in zip(events, pieces, strict=True):
        start = made.calendar.moment(piece.start).astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
        assert f"DTSTART:{start}" in event


@check(
    "published",
    source="rfc5545",
    note="sections 3.1, 3.4, 3.6, 3.6.1: CR LF, 75 octets, calendar with VERSION 2.0 and PRODID,"
    " events with UID, DTSTAMP, DTSTART; from memory",
)
def test_the_calendar_file_keeps_to_its_standard() -> None:
    text = plan_ics(plan(), STAMP, "f" * 64, "1")
    assert text.startswith("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:")
    assert text.endswith("END:VCALENDAR\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    for event in text.split("BEGIN:VEVENT")[1:]:
        for name in ("UID:", "DTSTAMP:", "DTSTART:", "DTEND:", "END:VEVENT"):
            assert event.count(f"\r\n{name}") == 1
    uids = re.findall(r"^UID:(.+?)\r$", text.replace("\r\n ", ""), re.MULTILINE)
    assert len(set(uids)) == len(uids) > 0


@given(st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\r\n"), max_size=400))
def test_a_folded_line_is_the_line_again(line: str) -> None:
    folded = _folded(line)
    assert folded.replace("\r\n ", "") == line
    assert all(len(piece.encode()) <= 75 for piece in folded.split("\r\n"))


@given(st.text(alphabet=st.sampled_from("ab\\;,\n"), max_size=30))
def test_escaped_text_can_be_read_back(text: str) -> None:
    back = re.sub(r"\\(.)", lambda m: "\n" if m[1] == "n" else m[1], _escaped(text))
    assert back == text


def test_what_would_help_says_which_fits() -> None:
    lever = Lever("with six more evenings", Odds(0.9, 0.01, 1000), STAMP, True)
    text = plan_report(plan('[[people]]\nname = "L"\n[hours]\nend = "Saturday 20:00"\n'), (lever,))
    assert "It does not fit. What would make it fit" in text
    assert "with six more evenings" in text


def test_each_caution_stands_once_in_full() -> None:
    from boostwright import verbs
    from boostwright.library.cautions import caution_rows
    from boostwright.planning.tasks import tasks_for

    build = verbs.demo_build("sound")
    made = plan_for(
        build, tasks_for(build), MONDAY, LISBON, wishes=Wishes(samples=200, seconds=0.0), quick=True
    )
    flat = re.sub(r"\s+", " ", list_report(made))
    used = {key for slot in made.schedule.slots for key in made.by_key[slot.task].cautions}
    for key in used:
        assert flat.count(re.sub(r"\s+", " ", caution_rows()[key].text)) == 1, key


@pytest.mark.parametrize(
    ("chance", "words"),
    [(Odds(0.0, 0.001, 1000), "under 1\u00a0%"), (Odds(1.0, 0.001, 1000), "over 99\u00a0%"),
     (Odds(0.5, 0.001, 1000), "50\u00a0%"), (Odds(0.5, 0.01, 1000), "50 ± 2\u00a0%")],
)  # fmt: skip
def test_a_chance_is_said_with_its_error_and_never_as_sure(chance: Odds, words: str) -> None:
    assert chance_words(chance) == words


@pytest.mark.parametrize(
    ("seconds", "words"), [(1500, "25 min"), (5100, "1 h 25 min"), (68400, "19 h"), (7200, "2 h")]
)
def test_lengths_in_words(seconds: float, words: str) -> None:
    assert length_words(seconds) == words


def test_the_sheet_is_the_same_twice_and_whole() -> None:
    import matplotlib as mpl

    from boostwright.views.plots.plan import plan_sheet
    from boostwright.views.plots.style import RC

    drawn = []
    with mpl.rc_context(RC):  # type: ignore[arg-type]
        for _ in range(2):
            text = io.StringIO()
            plan_sheet(plan(), "foot").figure.savefig(text, format="svg", metadata={"Date": None})
            drawn.append(text.getvalue())
    assert drawn[0] == drawn[1]
    sheet = plan_sheet(plan(), "foot")
    days = {plan().calendar.moment(p.start).date() for s in plan().schedule.slots for p in s.pieces}
    assert len(sheet.figure.axes) == len(days) + 1


def test_what_the_check_breaks_stands_in_the_first_lines() -> None:
    text = " ".join(head_report(plan(), breaks=["rods.load", "fuel.pump"]).split())
    assert "2 findings of the check break: rods.load, fuel.pump." in text
    assert "settle it before money is spent" in text
    assert "findings of the check" not in head_report(plan())

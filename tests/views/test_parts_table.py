"""The parts list as CSV and JSON: RFC 4180 by a parser of our own, formulas shut off, the same figures."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.planning.parts import Group, Line, PartsList, State
from boostwright.views.parts_page import parts_report
from boostwright.views.parts_table import PARTS_COLUMNS, parts_csv, parts_document
from tests.labels import check

SOUND = verbs.demo_build("sound")
FOUND = verbs.parts(SOUND)
ACCOUNT = verbs.parts_account(SOUND, FOUND, day=date(2025, 5, 10), today=date(2025, 4, 12))


def records(text: str, delimiter: str = ",") -> list[list[str]]:
    """The records of a text by the grammar of RFC 4180, section 2; asserts on what it does not allow."""
    found: list[list[str]] = []
    record: list[str] = []
    at = 0
    while at < len(text):
        if text[at] == '"':
            field, at = "", at + 1
            while True:
                end = text.index('"', at)
                field, at = field + text[at:end], end + 1
                if text[at : at + 1] != '"':
                    break
                field, at = field + '"', at + 1
        else:
            start = at
            while text[at] not in (delimiter, "\r", "\n", '"'):
                at += 1
            field = text[start:at]
        record.append(field)
        if text[at] == delimiter:
            at += 1
            continue
        assert text[at : at + 2] == "\r\n", repr(text[max(0, at - 20) : at + 20])
        at += 2
        found.append(record)
        record = []
    return found


@check(
    "published",
    id="Y19",
    source="rfc4180",
    note="section 2, rules 1 to 7, from memory, by a parser of our own",
)
def test_the_csv_keeps_to_the_rules() -> None:
    for semicolon in (False, True):
        rows = records(parts_csv(ACCOUNT, semicolon), ";" if semicolon else ",")
        assert tuple(rows[0]) == PARTS_COLUMNS
        assert {len(row) for row in rows} == {len(PARTS_COLUMNS)}
        assert [row[0] for row in rows[1:]] == [line.key for line in FOUND.lines]


def test_semicolons_go_with_decimal_commas() -> None:
    plain = list(csv.DictReader(io.StringIO(parts_csv(ACCOUNT))))
    other = list(csv.DictReader(io.StringIO(parts_csv(ACCOUNT, semicolon=True)), delimiter=";"))
    for one, two, line in zip(plain, other, FOUND.lines, strict=True):
        assert float(one["price_low_EUR"]) == float(two["price_low_EUR"].replace(",", "."))
        assert float(one["price_high_EUR"]) == float(f"{line.cost.high:.2f}")
        assert "." not in two["price_low_EUR"] + two["quantity"] + two["lead_days"]


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=30), st.text(max_size=30))
def test_any_words_stay_one_cell_and_no_formula(what: str, seller: str) -> None:
    line = Line("seal.x", Group.SEAL, what, seller=seller, state=State.MISSING)
    account = ACCOUNT._replace(parts=PartsList((line,)), due=None)
    text = parts_csv(account)
    (row,) = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    for column, said in (("what", what), ("seller", seller)):
        assert row[column].removeprefix("'") == said.removeprefix("'")
        assert not row[column].startswith(("=", "+", "-", "@", "\t", "\r"))
    if "\n" not in what + seller and "\r" not in what + seller:
        assert records(text)[1][0] == "seal.x"


def test_the_document_says_what_the_list_says() -> None:
    said = json.loads(parts_document(ACCOUNT, SOUND.name, "1", "2", SOUND.fingerprint))
    assert said["format"] == 1
    assert said["fingerprint"] == SOUND.fingerprint
    assert said["closed"] is FOUND.closed is True
    assert [one["line"] for one in said["lines"]] == [line.key for line in FOUND.lines]
    assert said["odds"]["independent"] == ACCOUNT.odds.independent
    assert said["odds"]["lines"][0].keys() == {"line", "wrong", "late"}
    assert said["money"]["total"]["middle"] == ACCOUNT.money.total.middle
    assert said["order_first"][0]["line"] == (ACCOUNT.due or ())[0].key
    assert said["defer"]


def test_the_printed_list_fits_and_holds_every_line() -> None:
    for width in (60, 80, 100):
        text = parts_report(ACCOUNT, SOUND.name, "stamp", width)
        assert max(map(len, text.splitlines())) <= width
        joined = " ".join(text.split())
        for line in FOUND.lines:
            assert line.key in joined, line.key
    short = parts_report(ACCOUNT, SOUND.name, missing=True)
    assert "part.turbo;" not in short
    assert "gasket.turbo-to-manifold" in short


def test_every_state_and_a_line_without_a_quantity_can_be_printed() -> None:
    lines = tuple(
        dataclasses.replace(FOUND.lines[0], key=f"x.{state.name.lower()}", state=state, quantity=None)
        for state in State
    )
    text = parts_report(verbs.parts_account(SOUND, PartsList(lines)), "x")
    for mark in ("[x]", "[>]", "[ ]", "[?]", "[-]"):
        assert f"  {mark} ? " in text


def test_what_a_spreadsheet_would_run_is_shut_off_even_behind_a_blank() -> None:
    for start in ("=", "+", "-", "@", " =", "\t=", "\r=", "\uff1d", "\u00a0@", "|"):
        line = Line("part.x", Group.PART, f"{start}cmd()", seller=f"{start}x", note=f"{start}y")
        account = ACCOUNT._replace(parts=PartsList((line,)))
        (row,) = csv.DictReader(io.StringIO(parts_csv(account), newline=""))
        assert row["what"] == f"'{start}cmd()"
        assert row["seller"] == f"'{start}x"
        assert row["note"] == f"'{start}y"
    assert parts_csv(ACCOUNT, mark=True) == "\ufeff" + parts_csv(ACCOUNT)

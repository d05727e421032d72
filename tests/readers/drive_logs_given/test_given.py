"""Log files of many habits, made without a look at the reader, and what a reader must make of them."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from boostwright.library.channels import channel_kinds
from tests.labels import check

FOLDER = Path(__file__).parent
ANSWERS = sorted(FOLDER.glob("*.json"))
LARGEST = 60_000  # bytes
LOTS = ("asks_about", "may_ask_about", "not_recognised", "not_guessed")
REASONS = {  # words of which a refusal's or a limit's message must hold at least one
    "sweep": r"sweep|demo|ramp",
    "emulator": r"emulat|unrelated|do not (belong|go|fit) together|no car|not of one engine",
    "standardised": r"standardi[sz]ed|normali[sz]ed|scaled",
    "bench": r"bench|test rig|no drive",
    "diesel": r"diesel|compression.ignition",
    "not a log": r"not a (drive )?log|no (engine )?log|no table|no column|no engine|not text|binary",
    "empty": r"empty|no rows?|nothing|no data",
}


class Outcome(NamedTuple):
    """What the reader made of a file: a refusal's words, or an open log and what it read."""

    refusal: str
    log: Any
    recording: Any


def told(path: Path) -> dict[str, Any]:
    return json.loads(path.read_text(encoding="utf-8"))


def file_of(path: Path) -> Path:
    (found,) = (p for p in FOLDER.glob(path.stem + ".*") if p.suffix != ".json")
    return found


@cache
def outcome(path: Path) -> Outcome:
    from boostwright.errors import LogRefused
    from boostwright.readers.drive_log import open_log

    place = told(path).get("place_pressure")
    more = {} if place is None else {"place_pressure": place}
    try:
        log = open_log(file_of(path), mapping=None, **more)
        return Outcome("", log, log.read())
    except LogRefused as refusal:
        return Outcome(str(refusal) or "(a refusal without words)", None, None)


def plain(heading: str) -> str:
    """A heading without the differences that nobody cares for: blanks, quotes, case."""
    return re.sub(r"\s+", " ", heading.strip().strip("\"'")).casefold()


def same(heading: str, wanted: str) -> bool:
    """Whether two headings are one, where a reader may leave the unit or a group's name off or put it on."""
    a, b = plain(heading), plain(wanted)
    return a == b or (bool(a) and bool(b) and (a.startswith(b) or b.startswith(a) or a.endswith(" " + b)))


def nearest(heading: str, answer: dict[str, Any]) -> str:
    """The heading of the answer that is meant: an equal one goes before one that only begins alike."""
    known = [c["heading"] for c in answer.get("channels", ())]
    known += [name for lot in (*LOTS, "may_read") for name in answer.get(lot, ())]
    equal = [name for name in known if plain(name) == plain(heading)]
    alike = [name for name in known if same(heading, name)]
    return max(equal or alike, key=len, default="")


def by_outcome(*wanted: str) -> list[Any]:
    return [pytest.param(p, id=p.stem) for p in ANSWERS if told(p)["outcome"] in wanted]


def refused_is_right(answer: dict[str, Any]) -> bool:
    return "refused" in (answer["outcome"], *answer.get("also_right", ()))


def read_or_refused(path: Path) -> Outcome:
    """What was read; a refusal only where the answer allows one as well."""
    got = outcome(path)
    assert not got.refusal or refused_is_right(told(path)), f"refused: {got.refusal}"
    return got


# ------------------------------------------------------------------------------ the pairs themselves


def test_there_are_pairs_of_every_outcome() -> None:
    outcomes = [told(p)["outcome"] for p in ANSWERS]
    assert len(ANSWERS) >= 35
    assert set(outcomes) == {"read", "asks", "limited", "refused"}
    assert {told(p)["reason_about"] for p in ANSWERS if "reason_about" in told(p)} == set(REASONS)
    assert sum(file_of(p).suffix == ".mf4" for p in ANSWERS) >= 3


@pytest.mark.parametrize("path", [pytest.param(p, id=p.stem) for p in ANSWERS])
def test_a_pair_is_whole(path: Path) -> None:
    answer = told(path)
    assert file_of(path).stat().st_size <= LARGEST
    assert len(answer["why"]) > 15
    assert ("reason_about" in answer) == (answer["outcome"] in ("limited", "refused"))
    assert bool(answer.get("asks_about")) == (answer["outcome"] == "asks")
    for channel in answer.get("channels", ()):
        kind = channel_kinds()[channel["key"]]
        assert kind.by_cylinder or channel["cylinder"] == 0
        assert 3 <= len(channel["samples"]) <= 8
        assert channel["tolerance"] > 0.0


# ---------------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize("path", by_outcome("refused", "limited"))
def test_what_is_no_log_of_a_petrol_engine_is_refused_or_limited_with_the_reason(path: Path) -> None:
    answer, got = told(path), outcome(path)
    right = {answer["outcome"], *answer.get("also_right", ())}
    found = "refused" if got.refusal else "limited" if got.log.limits else "read"
    assert found in right, f"{found}; {answer['why']}"
    words = got.refusal or " ".join(str(limit) for limit in got.log.limits)
    about = [answer["reason_about"], *answer.get("also_about", ())]
    assert re.search("|".join(REASONS[name] for name in about), words, re.IGNORECASE), words


@pytest.mark.parametrize("path", by_outcome("read", "asks"))
def test_a_log_of_a_petrol_engine_is_not_refused(path: Path) -> None:
    assert not outcome(path).refusal


# ---------------------------------------------------------------------------- what is asked or mapped


@pytest.mark.parametrize("path", by_outcome("asks"))
def test_it_asks_rather_than_guesses(path: Path) -> None:
    answer, got = told(path), read_or_refused(path)
    asked = [q.heading for q in got.log.questions]
    for heading in answer["asks_about"]:
        noted = [c.note for c in got.recording.channels if same(c.heading, heading)]
        enough = answer.get("note_is_enough", {}).get(heading)
        said = enough is not None and any(re.search(enough, note, re.IGNORECASE) for note in noted)
        assert said or any(same(q, heading) for q in asked), f"not about {heading!r}, but about {asked}"


@pytest.mark.parametrize("path", by_outcome("read", "asks", "limited"))
def test_it_asks_about_nothing_that_is_clear(path: Path) -> None:
    answer, got = told(path), read_or_refused(path)
    if got.refusal:
        return
    clear = {plain(c["heading"]) for c in answer.get("channels", ())}
    clear -= {plain(name) for name in answer.get("may_ask_about", ())}
    asked = [q.heading for q in got.log.questions if plain(nearest(q.heading, answer)) in clear]
    assert not asked, f"asked without need: {asked}"


@pytest.mark.parametrize("path", by_outcome("read", "asks", "limited"))
def test_nothing_is_taken_for_what_it_is_not(path: Path) -> None:
    answer, got = told(path), read_or_refused(path)
    if got.refusal:
        return
    right = {(plain(c["heading"]), c["key"], c["cylinder"]) for c in answer.get("channels", ())}
    right |= {(plain(heading), key, 0) for heading, key in answer.get("may_read", {}).items()}
    wrong = [
        f"{c.heading!r} as {c.key}" + (f" of cylinder {c.cylinder}" if c.cylinder else "")
        for c in got.recording.channels
        if (plain(nearest(c.heading, answer)), c.key, c.cylinder) not in right
    ]
    assert not wrong, wrong


@pytest.mark.parametrize("path", by_outcome("read", "asks", "limited"))
def test_what_is_left_out_is_named(path: Path) -> None:
    answer, got = told(path), read_or_refused(path)
    if got.refusal:
        return
    left = [plain(name) for name in got.recording.unknown] + [plain(q.heading) for q in got.log.questions]
    silent = [
        name
        for name in answer.get("not_recognised", ())
        if name and not any(same(heading, name) for heading in left)
    ]
    assert not silent, f"left out without a word: {silent}; named are {left}"


# ---------------------------------------------------------------------------------------- the values


def found_at(clock: Any, value: np.ndarray, place: float, by_row: bool) -> float:
    """The value in a row, or at a moment since the first stamp: the first finite one."""
    if by_row:
        hit = np.flatnonzero(clock.row == int(place))
        assert len(hit), f"no row {place:g}"
        return float(value[hit[0]])
    since = clock.stamp - clock.stamp[np.isfinite(clock.stamp)][0]
    hit = np.flatnonzero(np.abs(since - place) < 6e-4)
    if not len(hit):  # a long file may give each quantity a clock of its own: then no row stands there
        return float("nan")
    finite = hit[np.isfinite(value[hit])]
    return float(value[finite[0] if len(finite) else hit[0]])


def faults_of(channel: Any, recording: Any, wanted: dict[str, Any], by_row: bool) -> list[str]:
    clock = recording.clocks[channel.clock]
    wrong = []
    for place, true in wanted["samples"]:
        got = found_at(clock, channel.value, place, by_row)
        if true is None:
            if np.isfinite(got):
                wrong.append(f"at {place:g}: {got:g} where no number stands")
        elif not abs(got - true) <= wanted["tolerance"]:
            wrong.append(f"at {place:g}: {got:g} and not {true:g} +/- {wanted['tolerance']:g}")
    return wrong


@check(
    "limit", note="true values before they were written; tolerance: half of the last digit that was printed"
)
@pytest.mark.parametrize("path", by_outcome("read", "asks", "limited"))
def test_values_are_what_the_file_was_written_from(path: Path) -> None:
    answer, got = told(path), read_or_refused(path)
    if got.refusal:
        return
    by_row = answer.get("samples_at") == "row"
    asked = {plain(nearest(q.heading, answer)) for q in got.log.questions}
    may_ask = {plain(name) for name in answer.get("may_ask_about", ())}
    wrong = []
    for wanted in answer["channels"]:
        if plain(wanted["heading"]) in may_ask & asked:
            continue
        name = f"{wanted['heading']!r} as {wanted['key']} {wanted['cylinder'] or ''}"
        alike = [
            c
            for c in got.recording.channels
            if (c.key, c.cylinder) == (wanted["key"], wanted["cylinder"])
            and plain(nearest(c.heading, answer)) == plain(wanted["heading"])
        ]
        if not alike:
            wrong.append(f"{name}: not there")
            continue
        faults = min((faults_of(c, got.recording, wanted, by_row) for c in alike), key=len)
        if faults:
            wrong.append(f"{name}: " + "; ".join(faults))
    assert not wrong, "\n".join(wrong)


# ------------------------------------------------------------------------------------- rows and time


@check("limit", note="rows and stamps as they were written; stamps to a tenth of the last digit or 1 ms")
@pytest.mark.parametrize("path", by_outcome("read", "asks", "limited"))
def test_rows_and_span(path: Path) -> None:
    answer, got = told(path), read_or_refused(path)
    if got.refusal:
        return
    used = {c.clock for c in got.recording.channels}
    clocks = [got.recording.clocks[i] for i in sorted(used)]
    assert clocks, "no channel at all"
    if answer.get("clock_rows") is not None:  # several sources: each with its own clock
        rows = sorted(int(np.isfinite(c.stamp).sum()) for c in clocks)
        assert rows == sorted(answer["clock_rows"])
    elif answer.get("rows") is not None:
        assert max(len(c.stamp) for c in clocks) == answer["rows"]
    if answer.get("span") is not None:
        stamps = [c.stamp[np.isfinite(c.stamp)] for c in clocks]
        longest = max(float(s[-1] - s[0]) for s in stamps)
        assert longest == pytest.approx(answer["span"], abs=1.1e-3)
    if answer.get("start") is not None:
        assert min(c.start for c in clocks) == pytest.approx(answer["start"], abs=2e-3)

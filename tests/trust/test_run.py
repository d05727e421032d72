"""The sampled check of a whole build, with few draws at few speeds."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.findings.form import Form
from boostwright.findings.judgement import Judged, judged
from boostwright.findings.prepare import prepare
from boostwright.findings.registry import find_all
from boostwright.findings.result import CheckResult
from boostwright.trust import draw as draw_module
from boostwright.trust import pool as pool_module
from boostwright.trust import run as run_module
from boostwright.trust.draw import Draw, Request, side_of
from boostwright.trust.pool import BrokenOff, drawn
from boostwright.trust.run import REPLICATES, STOPPING, Draws, sampled
from boostwright.trust.unknowns import unknowns_of
from boostwright.uncertainty.design import Design
from boostwright.views.document import document
from boostwright.views.plots.book import draw_all
from boostwright.views.schema import results_schema
from boostwright.views.terminal import terminal_report
from tests.labels import check

SPEEDS = np.array([2000.0, 2750.0, 3500.0, 5000.0]) * np.pi / 30.0
COUNT = 48
_BY_SPREAD = {"boost.reached"}  # its sides are chosen by the spread, which a draw does not have


@pytest.fixture(scope="module")
def build() -> Build:
    return verbs.demo_build("sound")


@pytest.fixture(scope="module")
def middle(build: Build) -> Judged:
    return judged(build, SPEEDS, (), lambda _: None, "test")


@pytest.fixture(scope="module")
def seen() -> list[CheckResult]:
    return []


@pytest.fixture(scope="module")
def bank() -> dict[int, Draw]:
    """The draws of `result`, for tests of what is made of them."""
    return {}


@pytest.fixture(scope="module")
def result(
    build: Build, middle: Judged, seen: list[CheckResult], bank: dict[int, Draw]
) -> Iterator[CheckResult]:
    def kept(
        request: Request, rows: list[np.ndarray], processes: int | None, *_: object
    ) -> Iterator[tuple[int, Draw]]:
        for place, one in drawn(request, rows, processes):
            bank[place] = one
            yield place, one

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run_module, "drawn", kept)
        yield sampled(build, middle, Draws(COUNT, seed=2), partial=seen.append)


def from_bank(bank: dict[int, Draw], places: Iterable[int]) -> Iterator[tuple[int, Draw]]:
    for place in places:
        yield place, bank[place]


def test_one_draw_at_the_middle_is_the_check_itself(build: Build, middle: Judged) -> None:
    """The rougher match of draws moves no side of a finding by more than a small part of its spread."""
    rough = prepare(build, SPEEDS, form=replace(Form(), drawn=True), begin=middle.begin).case
    found = {f.code: f for f in find_all(rough)}
    for finding in middle.result.findings:
        if finding.code in _BY_SPREAD:
            continue
        there = found[finding.code]
        for ours, theirs in ((there.demand, finding.demand), (there.capacity, finding.capacity)):
            if theirs is None or ours is None or not theirs.known:
                continue
            # the threshold lies between few speeds only
            share = 1.0 if finding.code in ("boost.arrival", "strength.full_boost") else 0.2
            allowed = share * (theirs.sd or 0.0) + 0.004 * abs(theirs.value) + 1e-9
            assert abs(ours.value - theirs.value) <= allowed, (finding.code, ours, theirs)


def test_the_same_seed_gives_the_same_odds_on_one_processor_and_on_two(build: Build, middle: Judged) -> None:
    one, two = (sampled(build, middle, Draws(8, seed=5, processes=n)) for n in (1, 2))
    assert one.trust is not None
    assert two.trust is not None
    assert [f.probability for f in one.findings] == [f.probability for f in two.findings]
    assert one.trust.whole == two.trust.whole
    for name, band in one.trust.curves.items():
        assert np.array_equal(band.low, two.trust.curves[name].low, equal_nan=True)


def test_it_says_how_it_was_made_and_streams_what_it_has(
    result: CheckResult, seen: list[CheckResult]
) -> None:
    trust = result.trust
    assert trust is not None
    assert trust.draws + sum(trust.failed.values()) == COUNT
    assert trust.asked == COUNT
    assert trust.seed == 2
    assert [r.trust.draws if r.trust else 0 for r in seen] == [32]
    assert trust.whole.odds.probability <= trust.safe.odds.probability + 1e-9
    assert trust.whole.counted > trust.safe.counted


def test_odds_stand_on_the_findings_and_bands_about_the_lines(result: CheckResult, middle: Judged) -> None:
    trust = result.trust
    assert trust is not None
    before = {f.code: f for f in middle.result.findings}
    assert {f.code for f in result.findings} == set(before)
    for finding in result.findings:
        if finding.of_the_file:
            assert finding == before[finding.code]
        elif finding.code in trust.findings and finding.probability is not None:
            assert finding.probability == trust.findings[finding.code].odds.probability
            assert finding.sampling_error == trust.findings[finding.code].odds.sampling_error
    band = trust.curves["goal.torque"]
    line = np.asarray(middle.result.goal.result.torque)  # type: ignore[union-attr]
    assert np.all(band.low < band.middle)
    assert np.all(band.middle < band.high)
    assert np.all((band.low < line) & (line < band.high))
    assert np.all(band.told >= 0.9)


def test_shares_and_readings_make_sense(result: CheckResult) -> None:
    trust = result.trust
    assert trust is not None
    assert trust.shares
    for code, shares in trust.shares.items():
        assert sum(s.alone for s in shares) <= 1.1, code
        assert all(0.0 <= s.alone <= s.total + 1e-9 for s in shares)
        assert 0.0 <= trust.unexplained[code] <= 1.0
    rates = [r.rate for r in trust.readings]
    assert rates == sorted(rates, reverse=True)
    assert "static_fuel_pressure" in trust.read_already  # the file has it measured
    keys = {r.key for r in trust.readings}
    assert not keys & set(trust.read_already)


def test_a_reading_that_costs_more_moves_down(
    build: Build,
    middle: Judged,
    result: CheckResult,
    bank: dict[int, Draw],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The same draws, gathered anew with another price for the reading that stood first."""
    monkeypatch.setattr(run_module, "drawn", lambda *_: from_bank(bank, range(COUNT)))
    assert result.trust is not None
    best = result.trust.readings[0]
    row = {
        "reading": StatedValue("costs[].reading", best.key, 0.0, Source.CHOSEN, 1),
        "price": StatedValue("costs[].price", 5000.0, 0.0, Source.CHOSEN, 2),
    }
    dearer = replace(build, tables={**build.tables, "costs": (row,)})
    dear = sampled(dearer, middle, Draws(COUNT, seed=2)).trust
    assert dear is not None
    assert dear.readings[0].key != best.key
    there = next(r for r in dear.readings if r.key == best.key)
    assert there.drop == pytest.approx(best.drop)
    assert there.price == 5000.0


def test_every_door_shows_it(result: CheckResult, tmp_path: Path) -> None:
    whole = document(result)
    jsonschema.Draft202012Validator(results_schema()).validate(json.loads(json.dumps(whole)))
    assert whole["trust"]["draws"] == result.trust.draws  # type: ignore[union-attr]
    text = terminal_report(result, 80)
    for words in (
        "How sure this is",
        "What to measure first",
        "static fuel-pressure",
        "Its spread comes from",
    ):
        assert words in text
    assert max(len(line) for line in text.splitlines()) <= 80
    written = dict(draw_all(result, tmp_path))
    assert any("draws" in sentence for sentence in written.values())


def test_what_is_done_is_kept_when_somebody_breaks_off(
    build: Build,
    middle: Judged,
    result: CheckResult,
    bank: dict[int, Draw],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(*_: object) -> Iterator[tuple[int, Draw]]:
        yield from from_bank(bank, (1, 0, *range(2, 19)))
        raise BrokenOff

    monkeypatch.setattr(run_module, "drawn", broken)
    found = sampled(build, middle, Draws(COUNT, seed=2))
    assert found.trust is not None
    assert found.trust.draws == 16  # whole blocks only, so that all nets are alike
    assert "Broken off" in found.trust.ended

    def at_once(*_: object) -> Iterator[tuple[int, Draw]]:
        yield from ()
        raise BrokenOff

    monkeypatch.setattr(run_module, "drawn", at_once)
    assert sampled(build, middle, Draws(COUNT)).trust is None

    def while_gathering(*_: object) -> Iterator[tuple[int, Draw]]:
        yield from from_bank(bank, range(32))

    def broken_gathering(_: CheckResult) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run_module, "drawn", while_gathering)
    said: list[str] = []
    found = sampled(build, middle, Draws(COUNT, seed=2), progress=said.append, partial=broken_gathering)
    assert said[-1] == STOPPING
    assert found.trust is not None
    assert "Broken off" in found.trust.ended


@pytest.mark.parametrize("processes", [1, 2])
def test_who_breaks_off_is_answered_before_the_draws_under_way_end(
    build: Build, monkeypatch: pytest.MonkeyPatch, processes: int
) -> None:
    """The words come first; only then the processes are waited for."""
    happened: list[str] = []

    class Pool(pool_module.ProcessPoolExecutor):
        def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
            happened.append("waited")
            super().shutdown(wait=wait, cancel_futures=cancel_futures)

    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(pool_module, "ProcessPoolExecutor", Pool)
    monkeypatch.setattr(pool_module, "wait" if processes > 1 else "draw", interrupted)
    rows = [np.array([])] * 3
    coming = drawn(
        Request(build, (), np.array([300.0]), ()), rows, processes, lambda: happened.append("said")
    )
    with pytest.raises(BrokenOff):
        next(coming)
    assert happened == (["said", "waited"] if processes > 1 else ["said"])


def test_draws_that_the_models_refuse_are_counted_and_said(
    build: Build,
    middle: Judged,
    result: CheckResult,
    bank: dict[int, Draw],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def some(*_: object) -> Iterator[tuple[int, Draw]]:
        for place in range(16):
            yield place, Draw(trouble="the wheel is too small") if place % 5 == 0 else bank[place]

    monkeypatch.setattr(run_module, "drawn", some)
    said: list[str] = []
    found = sampled(build, middle, Draws(16, seed=2), progress=said.append)
    assert said == ["draws: 16 of 16, 0 s left"]
    assert found.trust is not None
    assert found.trust.failed == {"the wheel is too small": 4}
    assert "the wheel is too small" in terminal_report(found, 80)

    def none(*_: object) -> Iterator[tuple[int, Draw]]:
        for place in range(16):
            yield place, Draw(trouble="nothing")

    monkeypatch.setattr(run_module, "drawn", none)
    empty = sampled(build, middle, Draws(16))
    assert empty.trust is None
    assert any("No draw" in w for w in empty.warnings)


def test_a_draw_in_which_the_program_goes_wrong_is_said_as_that(
    build: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(*_: object, **__: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(draw_module, "prepare", wrong)
    request = Request(build, (), np.array([300.0]), ())
    assert draw_module.draw(request, np.array([])).trouble == (
        "the program itself went wrong (ZeroDivisionError: division by zero)"
    )


def test_as_many_as_it_takes_stops_by_the_rule_or_says_that_it_did_not(
    build: Build, middle: Judged, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Draws of a toy: the greatest torque is normal, one finding nearly always holds."""
    unknowns = unknowns_of(build)
    made = side_of(next(f for f in middle.result.findings if f.code == "turbo.outlet"))
    assert made is not None

    def toys(spread: float):
        def drawing(
            request: Request, rows: list[np.ndarray], processes: int | None, *_: object
        ) -> Iterator[tuple[int, Draw]]:
            design = Design(unknowns.marginals, unknowns.correlation, replicates=REPLICATES, seed=1)
            for place in range(len(rows)):
                z = design.scores(place // REPLICATES)[place % REPLICATES, 0]
                curve = {"goal.torque": np.array([200.0 + spread * z])}
                yield place, Draw({"turbo.outlet": replace(made, room=50.0)}, curve)

        return drawing

    monkeypatch.setattr(run_module, "drawn", toys(20.0))
    found = sampled(build, middle, Draws(None, seed=1))
    assert found.trust is not None
    assert found.trust.draws < 512
    assert "known to 2%" in found.trust.ended


@check("limit", note="odds of a demand that is its own unknown: Phi of room over spread")
def test_a_finding_on_one_value_has_the_odds_of_that_value(result: CheckResult, build: Build) -> None:
    """Compression readings are judged by themselves: draws change nothing."""
    found = result.trust.findings["engine.compression"].odds  # type: ignore[union-attr]
    before = next(f for f in result.findings if f.code == "engine.compression")
    assert found.sampling_error == pytest.approx(0.0, abs=1e-3)
    assert before.probability == pytest.approx(found.probability)

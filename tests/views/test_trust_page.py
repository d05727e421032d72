"""What a sampled check says of readings and of where spreads come from; its numbers here are invented."""

from __future__ import annotations

from dataclasses import replace

from boostwright.findings.result import CheckResult
from boostwright.findings.trust_records import Chance, FindingOdds, Trust, UnknownShare, WorthOfReading
from boostwright.uncertainty.odds import Odds
from boostwright.views.terminal import terminal_report
from tests.sample import result as plain_result

DUTY, PEAK = "fuel.injector_duty", "strength.peak_pressure"
THREE = (1.0, 2.0, 3.0)


def reading(key: str, drop: float, error: float, cost: float, *helps: str) -> WorthOfReading:
    return WorthOfReading(
        key, f"Reading of {key}", "a gauge", "before", 20.0, 5.0, drop, error, cost, helps, "Goggles on."
    )


def sampled(draws: int = 64, left: float = 0.8, share: float = 0.15) -> CheckResult:
    odds = Odds(0.3, 0.02, draws)
    found = {
        code: FindingOdds(code, odds, THREE, THREE, 1.0, 1.0, {"a cold day": 1.0}, 1.0)
        for code in (DUTY, PEAK)
    }
    trust = Trust(
        draws, draws, {}, 1, "Done.", 40, found, Chance("everything holds", odds, 5, ()),
        Chance("nothing is damaged", odds, 5, ()), {},
        shares={c: (UnknownShare(("a.b",), "flow of an injector", share, share, 0.02),) for c in found},
        unexplained=dict.fromkeys(found, left),
        readings=(
            reading("rail", 0.3141, 0.05, 10.0, DUTY), reading("static_fuel_pressure", 0.2, 0.04, 20.0, PEAK),
            reading("chance", 0.05, 0.04, 30.0, DUTY),
        ),
    )  # fmt: skip
    whole = plain_result()
    findings = tuple(replace(f, sampling_error=0.02) for f in whole.findings)
    return replace(whole, trust=trust, findings=findings)


def said(result: CheckResult) -> str:
    return " ".join(terminal_report(result, 100).replace("\u00a0", " ").split())


def test_the_list_shows_worth_cost_and_their_ratio_in_its_own_order() -> None:
    text = said(sampled())
    assert (
        "1 Reading of rail (a gauge; 20 min, 5 EUR): takes off 0.31 ± 0.10 of harm for 10 EUR of time and"
        " price together, 0.31 for each 10 EUR; most for injector duty at the goal. Goggles on."
    ) in text
    first = text.index("0.31 for each 10 EUR")
    assert first < text.index("0.1 for each 10 EUR")
    assert "Reading of chance" not in text  # may be nothing but chance
    assert "In the order of what a reading takes off the harm for each 10 EUR" in text


def test_findings_and_the_fuel_pressure_sentence_point_into_the_same_list() -> None:
    text = said(sampled())
    assert "Number 1 of the list above helps here: reading of rail. For this finding alone:" in text
    assert "Number 2 of the list above helps here: reading of static_fuel_pressure." in text
    assert "(number 2 of 2 in the list)" in text
    assert "Number 1 of the list" not in said(plain_result())  # a plain check has no list


def test_a_fuel_pressure_reading_that_changes_nothing_is_said_as_that() -> None:
    given = sampled()
    assert given.trust is not None
    none = replace(given.trust, readings=(reading("static_fuel_pressure", 0.02, 0.04, 20.0, DUTY),))
    text = said(replace(given, trust=none))
    assert "is not worth its 20 minutes: it would change nothing here" in text
    assert "No reading of the list would change what to do" in text


def test_few_draws_do_not_pass_for_a_spread_that_nothing_explains() -> None:
    few = said(sampled(48))
    assert "48 draws are too few to tell where the other 80 % come from" in few
    assert "not explained" not in few
    assert "48 draws explain less than half of most spreads" in few
    none = said(sampled(48, share=0.0))
    assert "48 draws are too few to tell where its spread comes from" in none
    many = said(sampled(512))
    assert "80 % not explained" in many
    assert "too few" not in many
    assert "explain less than half" not in many
    little = said(sampled(48, left=0.2))
    assert "20 % not explained" in little
    assert "too few" not in little

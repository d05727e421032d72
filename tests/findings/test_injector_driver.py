"""Coils on their driver: Ohm's law by hand, the remedy at its word, silence where nothing was read."""

from __future__ import annotations

import re

import pytest

from boostwright.findings.model import Finding, Verdict
from boostwright.views.numbers import fill
from tests.findings.test_subjects import build, case, found, maybe
from tests.labels import check

CODE = "electrics.injector_driver"


def driven(coil: str | None, **controller: str) -> Finding | None:
    rest = "[controller]\n" + "\n".join(f"{k} = {v}" for k, v in controller.items()) + "\n"
    if coil is not None:
        rest += f'[injectors]\nresistance = {{ value = "{coil}", source = "measured" }}\n'
    return maybe(CODE, case(build(rest=rest)))


@check("limit", note="Ohm's law: 13.8 V over 12 ohm, and twice that for two coils on one output")
@pytest.mark.parametrize(("each", "amps"), [(1, 1.15), (2, 2.30)])
def test_the_current_by_hand(each: int, amps: float) -> None:
    one = driven("12 ohm", injector_driver='"plain"', injectors_per_output=str(each))
    assert one is not None
    assert one.demand is not None
    assert one.demand.value == pytest.approx(amps)


@check(
    "common practice", note="12 ohm and more for plain drivers, 3 ohm and less for such as limit the current"
)
def test_coils_of_both_trades() -> None:
    for coil, verdict in (("12.5 ohm", Verdict.HOLDS), ("2.4 ohm", Verdict.BREAKS)):
        one = driven(coil, injector_driver='"plain"')
        assert one is not None
        assert one.verdict is verdict
    assert driven("2.4 ohm", injector_driver='"limited"') is None


def test_an_output_that_is_not_described_cannot_break() -> None:
    one = driven("2.4 ohm")
    assert one is not None
    assert one.verdict is Verdict.UNKNOWN
    assert "not stated" in fill(one.cause)
    assert driven(None) is None


def test_the_maker_s_current_wins_and_the_remedy_holds() -> None:
    one = driven("2.4 ohm", injector_driver='"plain"', driver_current='{ value = "4 A", source = "maker" }')
    assert one is not None
    assert one.capacity is not None
    assert one.capacity.value == 4.0
    needed = re.search(r"coils of ([\d.]+)", fill(one.remedy))
    assert needed is not None
    output = 'injector_driver = "plain"\ndriver_current = { value = "4 A", source = "maker" }'
    coil = f'resistance = {{ value = "{float(needed[1]) * 1.05} +/- 0.05 ohm" }}'
    again = found(CODE, case(build(rest=f"[controller]\n{output}\n[injectors]\n{coil}\n")))
    assert again.verdict is Verdict.HOLDS

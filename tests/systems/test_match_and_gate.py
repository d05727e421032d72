"""The match with a wastegate, against the gate's own answers along the line that the match leaves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.systems.match import MatchStatus
from boostwright.systems.wastegate import Control, Gate, gate_answers
from tests.labels import check
from tests.systems.gate_line import CORE, EXHAUST
from tests.systems.test_match import run
from tests.systems.test_wastegate import BLEED, GATE, RPM, SMALL
from tests.systems.turbo_parts import AMBIENT, parts

TURBO = parts(cooler=CORE, exhaust=EXHAUST)


@check(
    "conservation",
    note="two searches for one balance, turbine power and gate area: boost within 0.5 kPa, 0.3 %",
)
@pytest.mark.parametrize("gate", [GATE, SMALL, replace(BLEED, dead=0.075, full=0.875)])
def test_match_and_gate_agree(gate: Gate) -> None:
    line = run(RPM * np.pi / 30, turbo=TURBO, gate=gate, ceiling=260e3)
    assert line.settled.all()
    answers = gate_answers(gate, line.gate_line, AMBIENT.pressure, 180e3)
    np.testing.assert_allclose(answers.boost_held, line.boost(AMBIENT), atol=500.0)
    at_stop = line.status == MatchStatus.AT_STOP
    np.testing.assert_array_equal(answers.gate_at_stop, at_stop)
    if gate.control is not Control.SPRING:
        assert np.all(answers.boost_control_top[1:] > answers.boost_asked[1:])

"""The wastegate at work: what its spring, diaphragm, lever and port make of signal and exhaust pressure.

A match knows, along a line of plenum pressures, how much gas must pass the gate so that the turbine gives
what the compressor takes. The gate knows what area it opens at each of these pressures. The boost that really
stands is where the two agree; cracking, droop, control range and creep are what comes out.
"""

from boostwright.systems.wastegate.answers import GateAnswers, controlled_pressure, gate_answers
from boostwright.systems.wastegate.gate import (
    Control,
    Gate,
    GateOpening,
    GateSpread,
    GateState,
    Tap,
    duty_for_area,
    gate_state,
    spring_for_area,
)
from boostwright.systems.wastegate.held import (
    GATE_STATUS_WORDS,
    GateStatus,
    Held,
    duty_to_hold,
    held_deviation,
    held_pressure,
    opening_pressure,
    pressure_gate_open,
)
from boostwright.systems.wastegate.line import GateLine, TurboSide, gate_line, line_at

__all__ = [
    "GATE_STATUS_WORDS",
    "Control",
    "Gate",
    "GateAnswers",
    "GateLine",
    "GateOpening",
    "GateSpread",
    "GateState",
    "GateStatus",
    "Held",
    "Tap",
    "TurboSide",
    "controlled_pressure",
    "duty_for_area",
    "duty_to_hold",
    "gate_answers",
    "gate_line",
    "gate_state",
    "held_deviation",
    "held_pressure",
    "line_at",
    "opening_pressure",
    "pressure_gate_open",
    "spring_for_area",
]

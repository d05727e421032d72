"""What findings on bolted joints share: the joints of the file, and the gas in them from the match."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.joint_case import boost_and_spike
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.systems.fasteners import Fastener, Known, SheetRow, torque_sheet
from boostwright.systems.fasteners.clamp import Heat, heat_of
from boostwright.systems.stated.fasteners import fasteners_of

__all__ = ["Gas", "area_of", "gas_in", "heat_in", "hottest_gas", "middle", "sheet_of"]

_PULSE_SD = 0.10  # of a computed pulse peak, beyond that of the mean pressure
_TAIL_SD = 0.20  # of a computed pressure behind the turbine
_GAS_SD = 40.0  # of a computed exhaust temperature without a thermocouple [K]
_PORT_SD, _HOUSING_SD, _PIPE_SD = 0.15, 0.25, 0.15  # of an opening taken from ports, wheels, pipes


class Gas(NamedTuple):
    """Greatest pressure of the gas in a joint above the air outside [Pa], and where it stands."""

    pressure: Known
    found: Worst


def sheet_of(case: Case) -> tuple[SheetRow, ...]:
    """The torque sheet of the case's build, made once for it."""
    of, rows = case.extra.get("torque_sheet", (None, ()))
    if of is not case.build:
        rows = torque_sheet(fasteners_of(case.build))
        case.extra["torque_sheet"] = (case.build, rows)
    return tuple(rows)


def middle(row: SheetRow) -> float | None:
    """Torque in the middle of a row's window [N m]; None for a blank one and for one turned by angle."""
    if row.low is None or row.high is None or row.bolt.angle is not None:
        return None
    return (row.low + row.high) / 2


def gas_in(case: Case, bolt: Fastener) -> Gas | None:
    """The greatest pressure that the match gives in a joint, in charge pipes with creep and spike; None where
    it says nothing of it.
    """
    if bolt.clamps == "charge":
        highest = boost_and_spike(case, discharge=True)
        if highest is None or highest[0].value <= 0.0:
            return None
        return Gas(Known(highest[0].value, highest[0].sd or 0.0), highest[1])
    asked = _PRESSURES.get(bolt.clamps)
    if asked is None:
        return None
    of, sd = asked
    seen = worst_number(case, of)
    if seen is None or seen[0] <= 0.0:
        return None
    value, found = seen
    return Gas(Known(value, case.left(sd) * value), found)


def _pulse(line: Line) -> np.ndarray:
    return np.asarray(line.goal.pulse_peak_pressure - line.ambient_pressure)


def _behind(line: Line) -> np.ndarray:
    return np.asarray(line.goal.turbine_outlet_pressure - line.ambient_pressure)


_PRESSURES: dict[str, tuple[Callable[[Line], np.ndarray], float]] = {
    "manifold": (_pulse, _PULSE_SD),
    "turbine": (_pulse, _PULSE_SD),
    "turbine-outlet": (_behind, _TAIL_SD),
}


def hottest_gas(case: Case) -> Known | None:
    """The hottest gas before the turbine over speeds and corners [K]; None where the match gives none."""
    seen = worst_number(case, lambda line: line.goal.turbine_inlet_temperature)
    return None if seen is None else Known(seen[0], case.left(_GAS_SD))


def heat_in(case: Case, bolt: Fastener, gas: Known | None) -> Heat | None:
    """How warm a joint on the exhaust becomes with the hottest gas; None for a cool joint."""
    coolant = case.stated("engine.coolant_temperature")
    if gas is None or coolant is None:
        return None
    return heat_of(bolt.clamps, gas, float(coolant.value))


def area_of(case: Case, bolt: Fastener) -> tuple[Known, int]:
    """Opening of a joint [m2] and its number of ports: as stated, else from ports, wheels or pipe."""
    ports = case.engine.cylinders if bolt.clamps == "manifold" else 1
    if bolt.opening is not None:
        return bolt.opening, ports
    if bolt.clamps == "manifold":
        return _round(case.engine.exhaust_port_diameter, _PORT_SD, ports), ports
    if bolt.clamps == "charge":
        bore = case.stated("pipes.bore")
        return _round(0.06 if bore is None else float(bore.value), _PIPE_SD), ports
    wheel = case.stated("turbo.turbine_inducer")
    return _round(0.65 * case.engine.bore if wheel is None else float(wheel.value), _HOUSING_SD), ports


def _round(diameter: float, share: float, ports: int = 1) -> Known:
    area = ports * math.pi / 4 * diameter**2
    return Known(area, share * area)

"""What drawings need beside the findings: every day's line, the compressor's chart, the fuel side over
speed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import BoostwrightError
from boostwright.findings.case import Case
from boostwright.findings.fuel_case import usual_line
from boostwright.findings.joint_graph import DrawnJoint, drawn_joints, open_ends
from boostwright.findings.subjects.arrival import arrival_of
from boostwright.findings.worst import Line, lines
from boostwright.physics.compressor import (
    GAMMA_AIR,
    R_AIR,
    CompressorMap,
    corrected_flow,
    pressure_ratio_of_head,
)
from boostwright.systems.stated.turbo import turbo_of
from boostwright.systems.transient import Arrival
from boostwright.systems.turbo import TurboParts

__all__ = ["CompressorChart", "Drawing", "FuelOverSpeed", "drawing_of"]

Array = NDArray[np.float64]

_T_REF, _P_REF = 298.15, 100.0e3  # to which flow and speed of the chart are corrected [K], [Pa]
_FLOWS = 40  # points of one speed line
_EDGE = 60  # points of surge line and line ends
_LINES = 10  # speed lines at most
_ABOVE = 1.12  # of the highest pressure ratio less one on any day, up to which the chart is drawn


class CompressorChart(NamedTuple):
    """A compressor map to draw, corrected to `temperature` and `pressure`."""

    temperature: float  # [K]
    pressure: float  # [Pa]
    top: float  # pressure ratio up to which it is worth drawing [-]
    speed: Array  # of each speed line, shape (k,) [rad/s]
    flow: Array  # shape (k, m), surge to end [kg/s]
    ratio: Array  # shape (k, m) [-]
    surge_flow: Array  # shape (j,), rising [kg/s]
    surge_ratio: Array  # shape (j,) [-]
    end_flow: Array  # shape (j,) [kg/s]
    end_ratio: Array  # shape (j,) [-]
    points: tuple[tuple[Array, Array], ...]  # corrected flow [kg/s] and pressure ratio of each day's line


class FuelOverSpeed(NamedTuple):
    """The fuel side along one day's line, shape (n,)."""

    duty: Array  # of the injectors, dead time included [-]
    pump_margin: Array  # pump flow at its pressure and voltage over the flow needed [-]


class Drawing(NamedTuple):
    """What the plots draw; `fuel` has one entry for each of `lines`."""

    lines: tuple[Line, ...]
    chart: CompressorChart | None
    fuel: tuple[FuelOverSpeed, ...]
    arrival: Arrival | None = None  # of boost after the throttle opens
    joints: tuple[DrawnJoint, ...] = ()  # in the order of the file
    open_ends: tuple[DrawnJoint, ...] = ()  # ports that nothing is joined to


def drawing_of(case: Case) -> Drawing:
    """The drawing of a case; without a turbo line it is empty."""
    found = lines(case)
    return Drawing(
        found, _chart(case, found), _fuel(case, found), arrival_of(case), drawn_joints(case), open_ends(case)
    )


def _fuel(case: Case, found: tuple[Line, ...]) -> tuple[FuelOverSpeed, ...]:
    if not found:
        return ()
    over = (usual_line(case, line) for line in found)
    return tuple(FuelOverSpeed(np.asarray(f.duty), np.asarray(f.pump_margin)) for f in over)


def _chart(case: Case, found: tuple[Line, ...]) -> CompressorChart | None:
    """Speed lines from just below the lowest to just above the highest pressure ratio of any day."""
    try:
        parts = turbo_of(case.build)
    except BoostwrightError:
        return None
    if parts is None or not found:
        return None
    points = tuple(_point(parts, line) for line in found)
    top = 1.0 + _ABOVE * max(float(np.nanmax(ratio)) - 1.0 for _, ratio in points)
    chart, D2 = parts.compressor_map, parts.exducer
    sound = float(np.sqrt(GAMMA_AIR * R_AIR * _T_REF))
    flow_of = sound * D2**2 * _P_REF / (R_AIR * _T_REF)  # flow for each unit of phi M [kg/s]
    low, high = chart.mach_range
    mach = np.linspace(low, high, 400)
    wide_limits = chart(0.0 * mach, mach)
    least = float(np.interp(1.03, _ratio(chart, wide_limits.phi_surge, mach), mach))
    past = np.flatnonzero(_ratio(chart, wide_limits.phi_end, mach) >= top)
    most = float(mach[past[0]]) if past.size else high
    edge = np.linspace(max(low, 0.6 * least), most, _EDGE)
    limits = chart(0.0 * edge, edge)
    chosen = _round_speeds(least * sound * 2.0 / D2, most * sound * 2.0 / D2)
    line_mach = chosen * D2 / (2.0 * sound)
    ends = chart(0.0 * line_mach, line_mach)
    share = np.linspace(0.0, 1.0, _FLOWS)[None, :]
    phi = ends.phi_surge[:, None] + (ends.phi_end - ends.phi_surge)[:, None] * share
    wide = np.broadcast_to(line_mach[:, None], phi.shape)
    return CompressorChart(
        _T_REF, _P_REF, top, chosen, phi * wide * flow_of, _ratio(chart, phi, wide),
        limits.phi_surge * edge * flow_of, _ratio(chart, limits.phi_surge, edge),
        limits.phi_end * edge * flow_of, _ratio(chart, limits.phi_end, edge), points,
    )  # fmt: skip


def _ratio(chart: CompressorMap, phi: Array, mach: Array) -> Array:
    return np.asarray(pressure_ratio_of_head(chart(np.asarray(phi), np.asarray(mach)).psi, mach))


def _round_speeds(least: float, most: float) -> Array:
    """Whole ten, twenty or fifty thousands of rpm between two speeds, no more than some of them [rad/s]."""
    for thousands in (10.0, 20.0, 50.0, 100.0):
        unit = thousands * 1.0e3 * np.pi / 30.0
        first = int(np.ceil(least / unit - 1e-9))
        chosen = unit * np.arange(first, int(np.floor(most / unit)) + 1)
        if 0 < chosen.size <= _LINES:
            return np.asarray(chosen, dtype=np.float64)
    return np.array([0.9 * most])


def _point(parts: TurboParts, line: Line) -> tuple[Array, Array]:
    goal = line.goal
    flow = np.asarray(goal.result.air_flow, dtype=np.float64)
    inlet = getattr(goal, "compressor_inlet_pressure", None)
    if inlet is None:
        density = line.ambient_pressure / (R_AIR * line.ambient_temperature)
        inlet = line.ambient_pressure - parts.inlet.at(np.nan_to_num(flow), density)
    corrected = corrected_flow(flow, line.ambient_temperature, inlet, _T_REF, _P_REF)
    good = goal.settled & np.isfinite(flow)
    return np.where(good, corrected, np.nan), np.where(good, goal.pressure_ratio, np.nan)

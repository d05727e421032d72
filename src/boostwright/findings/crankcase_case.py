"""Crankcase pressure along the lines of a case, from blow-by, the reading before, the breather."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.build.catalogue import catalogue
from boostwright.findings.blow_by_case import BlowBy
from boostwright.findings.case import Case
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.library.oil import oil_constant
from boostwright.physics.nozzle import nozzle_flow
from boostwright.systems.oil import breather_pressure
from boostwright.systems.stated.oil import breather_of

__all__ = ["Crankcase", "CrankcaseLine", "crankcase_line", "crankcase_worst", "read_standing", "reading"]

Array = NDArray[np.float64]

_READING: Final = "engine.crankcase_pressure"
_TO_INLET: Final = "inlet"
_R_AIR, _GAMMA_AIR = 287.05, 1.4
_HALVINGS: Final = 14


class CrankcaseLine(NamedTuple):
    """Along one line (n,); pressures above the air outside [Pa], flows [kg/s]."""

    gas: Array  # past the rings
    seals: Array  # past the turbo's seals, down its drain
    leak: Array  # boost through the ventilation
    inside: Array  # lost in the engine's passages
    hose: Array  # lost in the breather
    outside: Array  # at the breather's far end
    before: float  # past the rings at the reading

    @property
    def pressure(self) -> Array:
        """In the crankcase."""
        return np.asarray(self.inside + self.hose + self.outside)


class Crankcase(NamedTuple):
    """The worst place; pressures [Pa], flows [kg/s]."""

    value: float
    sd: float
    there: Worst
    gas: float
    seals: float
    leak: float
    times: float  # blow-by over that of the reading [-]
    inside: float
    hose: float
    outside: float
    without_leak: float  # pressure with the ventilation shut off from the manifold
    without_sd: float  # its standard deviation


def crankcase_line(case: Case, line: Line, sealed: bool | None = None) -> CrankcaseLine | None:
    """Crankcase pressure along one line.

    p = p_read (m/m_read)^2 p_0/p_a + p_hose(m) + p_outside, m of blow-by, of the turbo's seals, and of boost
    that blows backwards; m_read at full load without the turbo, in the ordinary day's air p_0: the thinner
    air p_a of a higher place costs more for the same mass. The pressure itself holds the backward flow down:
    solved by halving.

    sealed: whether boost is kept out; None: as the file says. None without blow-by.
    """
    blow_by: BlowBy | None = case.extra.get("blow_by")
    if blow_by is None or line.corner not in blow_by.along:
        return None
    service = oil_constant("rings", "service").value
    gas = service * np.asarray(blow_by.along[line.corner])
    shut = case.build.flag("breather.one_way_valve") if sealed is None else sealed
    before = service * blow_by.before
    read = max(reading(case)[0], 0.0)
    breather = breather_of(case.build)
    to_inlet = case.word("breather.outlet") == _TO_INLET
    outside = line.goal.compressor_inlet_pressure - line.ambient_pressure if to_inlet else np.zeros_like(gas)
    outside = np.asarray(outside)

    seals = _seals(line)
    thinner = case.ambient_pressure / line.ambient_pressure

    def at(leak: Array) -> CrankcaseLine:
        whole = gas + seals + leak
        inside = read * (whole / before) ** 2 * thinner
        hose = breather_pressure(breather, whole, np.zeros_like(gas), line.ambient_pressure)
        return CrankcaseLine(gas, seals, leak, inside, hose, outside, before)

    if shut:
        return at(np.zeros_like(gas))
    low, high = np.zeros_like(gas), _backwards(case, line, 0.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        more = _backwards(case, line, at(middle).pressure) > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return at(0.5 * (low + high))


def _seals(line: Line) -> Array:
    """What passes the seals of the turbo's shaft into its drain [kg/s]: a small hole under the compressor's
    outlet pressure stands for both ends.
    """
    goal = line.goal
    behind = np.maximum(goal.pressure_ratio * goal.compressor_inlet_pressure, line.ambient_pressure)
    area = oil_constant("blow_by", "seals").value
    T = goal.compressor_outlet_temperature
    return np.asarray(nozzle_flow(area, behind, T, line.ambient_pressure, _R_AIR, _GAMMA_AIR))


def reading(case: Case) -> tuple[float, float]:
    """Crankcase pressure before the conversion, 4000 rpm at full throttle, and its standard deviation [Pa].

    What was read standing says little of full load; the usual one stands in for it, as where nobody read it.
    """
    usual = catalogue().default(_READING, case.build.engine_class)
    if read_standing(case) and usual is not None:
        return float(usual.value), usual.spread.at(float(usual.value))
    read = case.build[_READING]
    return float(read.value), float(read.sd or 0.0)


def read_standing(case: Case) -> bool:
    """Whether the crankcase pressure was read without load."""
    return bool(case.build.is_stated(_READING)) and case.word("engine.crankcase_pressure_load") == "standing"


def _backwards(case: Case, line: Line, pressure: ArrayLike) -> Array:
    """What boost blows through the ventilation valve against a crankcase pressure [Pa above outside]."""
    bore = case.build.number("breather.manifold_bore")
    area = oil_constant("blow_by", "leak").value * 0.25 * math.pi * bore**2
    down = line.ambient_pressure + np.maximum(np.asarray(pressure), 0.0)
    up = np.maximum(line.goal.plenum_pressure, down)
    flow = nozzle_flow(area, up, line.goal.plenum_temperature, down, _R_AIR, _GAMMA_AIR)
    return np.asarray(flow)


def crankcase_worst(case: Case) -> Crankcase | None:
    """The highest crankcase pressure over every speed and day, with its spread; None without blow-by."""
    if case.goal is None or case.extra.get("blow_by") is None:
        return None

    def pressure(line: Line) -> Array:
        found = crankcase_line(case, line)
        return np.full(line.goal.speed.shape, np.nan) if found is None else found.pressure

    seen = worst_number(case, pressure)
    if seen is None:
        return None
    value, there = seen
    line, i = there.line, there.place
    at, shut = crankcase_line(case, line), crankcase_line(case, line, sealed=True)
    assert at is not None
    assert shut is not None
    thinner = case.ambient_pressure / line.ambient_pressure
    return Crankcase(
        value=value,
        sd=_spread(case, at, i, thinner),
        there=there,
        gas=float(at.gas[i]),
        seals=float(at.seals[i]),
        leak=float(at.leak[i]),
        times=float(at.gas[i]) / at.before,
        inside=float(at.inside[i]),
        hose=float(at.hose[i]),
        outside=float(at.outside[i]),
        without_leak=float(shut.pressure[i]),
        without_sd=_spread(case, shut, i, thinner),
    )


def _spread(case: Case, at: CrankcaseLine, i: int, thinner: float) -> float:
    """Standard deviation of the pressure [Pa], from that of the reading, of blow-by by speed and boost, of
    its level, of the turbo's seals, of what leaks backwards, and of the breather.

    thinner: air of the reading over that of the line, by pressure [-].
    """
    gas, seals, leak = float(at.gas[i]), float(at.seals[i]), float(at.leak[i])
    whole = gas + seals + leak
    inside, hose = float(at.inside[i]), float(at.hose[i])
    service, shape = oil_constant("rings", "service"), oil_constant("blow_by", "shape").value
    coefficient = oil_constant("blow_by", "leak")
    bore = case.build["breather.manifold_bore"]
    level = service.sd / service.value
    leaks = math.hypot(coefficient.sd / coefficient.value, 2.0 * float(bore.sd or 0.0) / float(bore.value))
    hose_bore = case.build["breather.hose_bore"]
    heads = oil_constant("breather", "heads")
    by_read = reading(case)[1] * (whole / at.before) ** 2 * thinner
    by_shape = (2.0 * inside + 2.0 * hose) * shape * gas / whole
    by_level = 2.0 * hose * level * gas / whole - 2.0 * inside * level * (seals + leak) / whole
    hole = oil_constant("blow_by", "seals")
    by_seals = (2.0 * inside + 2.0 * hose) * hole.sd / hole.value * seals / whole
    by_leak = (2.0 * inside + 2.0 * hose) * leaks * leak / whole
    by_hose = hose * math.hypot(
        4.0 * float(hose_bore.sd or 0.0) / float(hose_bore.value), 0.5 * heads.sd / heads.value
    )
    return math.hypot(by_read, by_shape, by_level, by_seals, by_leak, by_hose)

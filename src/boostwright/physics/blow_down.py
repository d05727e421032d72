"""What a cylinder blows down from and through: burned gas; volume, valve area and wall over the crank."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.gas import mixture
from boostwright.physics.slider_crank import cylinder_volume, volume_slope
from boostwright.physics.turbine import ExhaustGas
from boostwright.physics.valves import EXHAUST_PORT, cam_lift, effective_area

if TYPE_CHECKING:
    from boostwright.physics.kernels.manifold import ExhaustTables

__all__ = ["FINE_STEPS", "BurnedGas", "ExhaustEngine", "burned_gas", "exhaust_tables"]

Array = NDArray[np.float64]

FINE_STEPS: Final = tuple(np.radians(a) for a in (0.18, 0.25, 0.4, 0.64, 1.0))
"""Fine crank-angle steps to choose from [rad]."""

_COARSE: Final = 3.0  # steps where no pressures meet, over the fine ones [-]
_BLOW_DOWN: Final = np.radians(70.0)  # after exhaust opening: fine steps
_BEFORE_TDC: Final = np.radians(30.0)  # of a cylinder nearly empty, to exhaust closing: fine steps
_ENDS: Final = 2.12  # crown and chamber roof over the bore's area (judgement) [-]
_SPAN: Final = 200.0  # temperature drop that the turbine's gas is straight over [K]


class _Valves(Protocol):
    """Exhaust valves of one cylinder."""

    @property
    def count(self) -> int:
        """Valves on this side."""
        ...

    @property
    def diameter(self) -> float:
        """Inner seat diameter [m]."""
        ...

    @property
    def lift(self) -> float:
        """Greatest lift [m]."""
        ...

    @property
    def opens(self) -> float:
        """At zero lift [rad]."""
        ...

    @property
    def closes(self) -> float:
        """At zero lift [rad]."""
        ...

    @property
    def cam_powers(self) -> tuple[int, int, int]:
        """Exponents of the cam polynomial."""
        ...

    @property
    def flow_factor(self) -> float:
        """Class factor on the discharge coefficient [-]."""
        ...


class ExhaustEngine(Protocol):
    """What of an engine's geometry the exhaust side needs; SI, angles as everywhere; frozen."""

    def __hash__(self) -> int:
        """Tables are kept for each engine."""
        ...

    @property
    def cylinders(self) -> int:
        """Number of cylinders."""
        ...

    @property
    def bore(self) -> float:
        """[m]."""
        ...

    @property
    def stroke(self) -> float:
        """[m]."""
        ...

    @property
    def rod(self) -> float:
        """Centre distance [m]."""
        ...

    @property
    def compression_ratio(self) -> float:
        """[-]."""
        ...

    @property
    def exhaust(self) -> _Valves:
        """Exhaust valves of one cylinder."""
        ...


class BurnedGas(NamedTuple):
    """Burned gas of each point as polynomials in T/1000, arrays (n,) and (n, 7)."""

    R: Array  # [J/kg/K]
    cp: Array  # [J/kg/K]

    def heat_capacity(self, T: Array) -> Array:
        """cp [J/kg/K] at T (n,) [K]."""
        return np.asarray(np.sum(self.cp * (1e-3 * T)[:, None] ** np.arange(7), axis=1))

    def enthalpy(self, T: Array) -> Array:
        """Enthalpy above 0 K of the polynomial [J/kg] at T (n,) [K]."""
        powers = np.arange(7)
        return np.asarray(T * np.sum(self.cp / (powers + 1) * (1e-3 * T)[:, None] ** powers, axis=1))

    def near(self, T: Array) -> ExhaustGas:
        """The turbine's gas record, straight between T - 200 K and T [K]."""
        hot, cold = self.heat_capacity(T), self.heat_capacity(T - _SPAN)
        return ExhaustGas(self.R, hot, (hot - cold) / _SPAN, T)


def burned_gas(lam: ArrayLike, ethanol_share: float, petrol_heating_value: float) -> BurnedGas:
    """Frozen burned gas at each lambda (n,) [-] of a fuel; raises OutOfRange outside the gas tables."""
    found = [
        mixture(float(v), ethanol_share, petrol_heating_value)
        for v in np.atleast_1d(np.asarray(lam, dtype=np.float64))
    ]
    return BurnedGas(np.array([m.R_b for m in found]), np.ascontiguousarray([m.cp_b for m in found]))


@lru_cache(maxsize=64)
def exhaust_tables(engine: ExhaustEngine, entries: int = 1, step: float = FINE_STEPS[0]) -> ExhaustTables:
    """Cylinder volume and exhaust valve area over the crank angle from exhaust opening on.

    Fine steps where pressures meet - blow-down, and a nearly empty cylinder with its valve open - and coarse
    ones between.

    engine: frozen record. entries: of the turbine. step: fine step [rad]. Raises OutOfRange for a twin entry
    on an odd number of cylinders.
    """
    from boostwright.physics.kernels.manifold import ExhaustTables

    if entries == 2 and engine.cylinders % 2:
        raise OutOfRange(
            f"A turbine with two entries wants an even number of cylinders, every second one on the same "
            f"entry; this engine has {engine.cylinders}."
        )
    valves = engine.exhaust
    firing = 4 * np.pi / engine.cylinders
    slots = int(np.ceil((valves.closes - valves.opens) / firing - 1e-9))
    slots += (slots % 2) if entries == 2 else 0
    phase = _phases(valves.opens, valves.closes, firing, slots, step)
    steps = phase.size - 1
    theta = (
        np.append((phase[:-1] + firing * np.arange(slots)[:, None]).ravel(), slots * firing) + valves.opens
    )
    lift = cam_lift(theta, valves.opens, valves.closes, valves.lift, valves.cam_powers)
    area = effective_area(lift, valves.diameter, valves.count, EXHAUST_PORT, valves.flow_factor)
    area[theta >= valves.closes - 1e-12] = 0.0
    return ExhaustTables(
        steps=steps,
        slots=slots,
        halves=entries,
        width=np.ascontiguousarray(np.diff(phase)),
        volume=np.ascontiguousarray(
            cylinder_volume(theta, engine.bore, engine.stroke, engine.rod, engine.compression_ratio)
        ),
        volume_slope=np.ascontiguousarray(volume_slope(theta, engine.bore, engine.stroke, engine.rod)),
        area=np.ascontiguousarray(area),
        wall=np.ascontiguousarray(_walls(engine, theta)),
        reverse=EXHAUST_PORT.reverse,
    )


def _walls(engine: ExhaustEngine, theta: Array) -> Array:
    """Wall area of a cylinder: crown, chamber roof and the liner that the piston leaves free [m2]."""
    volume = cylinder_volume(theta, engine.bore, engine.stroke, engine.rod, engine.compression_ratio)
    clearance = cylinder_volume(0.0, engine.bore, engine.stroke, engine.rod, engine.compression_ratio)
    return np.asarray(_ENDS * np.pi / 4 * engine.bore**2 + 4 * (volume - clearance) / engine.bore)


def _phases(opens: float, closes: float, firing: float, slots: int, step: float) -> Array:
    """Nodes from 0 to one firing interval: fine steps after an opening and around an empty cylinder."""
    spans = [(0.0, _BLOW_DOWN)]
    for j in range(slots):
        spans.append((2 * np.pi - _BEFORE_TDC - opens - j * firing, closes - opens - j * firing))
    inside = sorted(m for span in spans for m in span if 1e-6 < m < firing - 1e-6)
    marks = [0.0, *(m for m, n in zip(inside, [*inside[1:], firing], strict=True) if n - m > 1e-6), firing]
    nodes: list[Array] = [np.zeros(1)]
    for a, b in pairwise(marks):
        middle = 0.5 * (a + b)
        fine = any(low < middle < high for low, high in spans)
        count = int(np.ceil((b - a) / (step if fine else _COARSE * step) - 1e-9))
        nodes.append(np.asarray(a + (b - a) / count * np.arange(1, count + 1), dtype=np.float64))
    return np.concatenate(nodes)

"""The turbo side in a compiled form, for a search that asks for tens of thousands of points.

It reads the compressor from its table and leaves out what no search asks (turbine efficiency, surge and choke
ratios: NaN); whoever searches with it asks `turbo_point` at the end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.compressor import R_AIR, CompressorPoint, PointStatus
from boostwright.physics.compressor_table import tabulated
from boostwright.physics.turbine import ExhaustGas, bearing_loss
from boostwright.systems.turbo.parts import OutsideAir, PressureLoss, Pulses, TurboParts
from boostwright.systems.turbo.point import NOT_ASKED, TurboPoint

if TYPE_CHECKING:
    from boostwright.physics.kernels.turbo_side import TurboNumbers

__all__ = ["QuickAnswer", "QuickTurbo"]

Array = NDArray[np.float64]

_PROBES: Final = (np.array([0.011, 0.06, 0.17, 0.43]), np.array([0.4, 1.1, 1.8, 2.6]))  # [kg/s], [kg/m3]
_SAME: Final = 1e-12  # relative, between a part and its numbers
_REFERENCE_SPEED: Final = 1e4  # shaft [rad/s]
_STATUS: Final = np.array([int(PointStatus.IDLING), int(PointStatus.ON_MAP), int(PointStatus.TOO_FAST)])


class QuickAnswer(NamedTuple):
    """Points of the turbo side, and the gate that they need."""

    point: TurboPoint
    gate_area: Array  # effective area that passes what the turbine leaves over [m2]


class QuickTurbo:
    """The parts of one turbo side as numbers for the compiled form."""

    def __init__(self, parts: TurboParts, numbers: TurboNumbers) -> None:
        self._parts, self._numbers = parts, numbers

    @classmethod
    def of(cls, parts: TurboParts) -> QuickTurbo | None:
        """The compiled form of these parts; None where one of them is more than its numbers say."""
        from boostwright.physics.kernels.turbo_side import TurboNumbers

        unit = parts.turbine_unit
        parabola = getattr(unit, "parabola", None)
        core = None if parts.cooler is None else parts.cooler.loss
        inlet, pipes, core_terms, exhaust = (
            _terms(passage) for passage in (parts.inlet, parts.charge_pipes, core, parts.exhaust)
        )
        if parabola is None or inlet is None or pipes is None or core_terms is None or exhaust is None:
            return None
        friction, exponent = _bearing(parts)
        return cls(
            parts,
            TurboNumbers(
                exducer=float(parts.exducer),
                turbine_diameter=float(unit.diameter),
                turbine_area=float(unit.area),
                exponent=float(unit.exponent),
                peak=float(parabola.peak),
                best_ratio=float(parabola.best_speed_ratio),
                floor=float(parabola.floor),
                friction=friction,
                friction_exponent=float(exponent),
                inlet=inlet,
                charge_pipes=pipes,
                core=core_terms,
                exhaust=exhaust,
                **tabulated(parts.compressor_map)._asdict(),
            ),
        )

    def at(
        self,
        ambient: OutsideAir,
        air_flow: Array,
        fuel_share: Array,
        plenum_pressure: Array,
        exhaust_temperature: Array,
        gas: ExhaustGas,
        pulses: Pulses,
        near: tuple[Array, Array] | None = None,
    ) -> QuickAnswer:
        """Points in columns that have outside air and exhaust in common.

        ambient, fuel_share (over air), exhaust_temperature, gas, pulses: one for each column, shape (n,), or
        one for all. air_flow, plenum_pressure: (k, n) or (n,). near: guesses of plenum temperature [K] and
        exhaust pressure [Pa] that save time, as the air flow. The rest as `turbo_point`, whose errors it
        raises; results have the shape of the air flow.
        """
        from boostwright.physics.kernels.turbo_side import Columns, Found, turbo_side

        shape = air_flow.shape
        air = np.ascontiguousarray(np.atleast_2d(air_flow), dtype=np.float64)
        plenum = _whole(plenum_pressure, air.shape)
        near = near or (np.asarray(ambient.temperature), np.asarray(ambient.pressure))
        columns = np.empty((air.shape[1], len(Columns)))
        outside = (ambient.pressure, ambient.temperature)
        told = (*outside, fuel_share, exhaust_temperature, *gas, pulses.flow, pulses.power)
        for row, value in enumerate(told):
            columns[:, row] = value
        cooler = self._parts.cooler
        if cooler is None:
            effectiveness = np.zeros(air.shape)
        else:
            density = columns[:, Columns.pressure] / (R_AIR * columns[:, Columns.temperature])
            effectiveness = _whole(cooler.effectiveness_at(air, density=density), air.shape)
        found = np.empty((len(Found), *air.shape))
        T_near, p3_near = (_whole(guess, air.shape) for guess in near)
        wrong = turbo_side(plenum, air, effectiveness, T_near, p3_near, columns, self._numbers, found)
        if wrong == 1:
            raise OutOfRange(NOT_ASKED)
        if wrong:
            what = "losses between compressor and plenum" if wrong == 2 else "exhaust pressure"
            raise NotConverged(f"The {what} did not settle at one of {air.size} points of the turbo side.")
        found = found.reshape(len(Found), *shape)
        return QuickAnswer(
            _point(found, plenum.reshape(shape), effectiveness.reshape(shape), self._numbers.exducer),
            found[Found.gate_area],
        )


def _point(found: Array, plenum: Array, effectiveness: Array, exducer: float) -> TurboPoint:
    from boostwright.physics.kernels.turbo_side import Found as F

    nothing = np.broadcast_to(np.nan, plenum.shape)
    flow, through = found[F.exhaust_flow], found[F.turbine_flow]
    speed = found[F.speed]
    compressor = CompressorPoint(
        speed=speed,
        mach=found[F.mach],
        tip_speed=speed * (exducer / 2),
        pressure_ratio=found[F.ratio],
        efficiency=nothing,
        outlet_temperature=found[F.outlet_temperature],
        power=found[F.power],
        surge_ratio=nothing,
        choke_ratio=nothing,
        status=_STATUS[found[F.compressor_status].astype(np.int64) + 1],
    )
    past = flow - through
    return TurboPoint(
        plenum_pressure=plenum,
        plenum_temperature=found[F.plenum_temperature],
        inlet_pressure=found[F.inlet_pressure],
        outlet_pressure=found[F.outlet_pressure],
        compressor=compressor,
        cooler_effectiveness=effectiveness,
        exhaust_pressure=found[F.p3],
        turbine_outlet_pressure=found[F.p4],
        expansion_ratio=found[F.p3] / found[F.p4],
        exhaust_flow=flow,
        turbine_flow=through,
        gate_flow=past,
        gate_share=past / flow,
        turbine_power=nothing,
        turbine_efficiency=nothing,
        blade_speed_ratio=nothing,
        bearing_loss=found[F.friction],
        surplus=found[F.surplus],
        status=found[F.status].astype(np.int64),
    )


def _whole(values: ArrayLike, shape: tuple[int, ...]) -> Array:
    """The values in one piece of memory and of that shape."""
    if np.shape(values) != shape:
        values = np.broadcast_to(values, shape)
    return np.ascontiguousarray(values, dtype=np.float64)


def _terms(passage: PressureLoss | None) -> Array | None:
    """Coefficient and exponent of each term of a loss, (terms, 2); None where it is not just these."""
    if passage is None:
        return np.empty((0, 2))
    terms = getattr(passage, "terms", None)
    if terms is None:
        return None
    flow, density = _PROBES
    said = sum((c * flow**n for c, n in terms), np.zeros(flow.shape)) / density
    if not np.allclose(said, passage.at(flow, density), rtol=_SAME, atol=0.0):
        return None
    return np.array(terms, dtype=np.float64).reshape(-1, 2)


def _bearing(parts: TurboParts) -> tuple[float, float]:
    """Friction at 1 rad/s [W] and its exponent over the shaft speed [-]."""
    exponent = parts.turbine_recipe.bearing_speed_exponent
    there = bearing_loss(_REFERENCE_SPEED, parts.shaft, parts.bearing, parts.turbine_recipe)
    return float(parts.turbine_factors.bearing * there) / _REFERENCE_SPEED**exponent, exponent

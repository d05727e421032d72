"""The turbo and what the air and the exhaust pass on its way: parts, and one operating point of all of them.

`turbo_point` answers one question: at this engine air flow, can the turbine drive the compressor to this
plenum pressure, and if so, at which exhaust pressure and with how much gas past the gate. It knows nothing of
the engine; `match` brings the two together.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import IntEnum
from typing import Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import NotConverged, OutOfRange
from boostwright.library import turbo_sizes
from boostwright.physics.compressor import (
    R_AIR,
    CompressorMap,
    CompressorPoint,
    PointStatus,
    operating_point,
)
from boostwright.physics.compressor_sizes import WheelFactors, WheelMap, check_wheel, wheel_sizes
from boostwright.physics.compressor_table import CompressorTable, table_point
from boostwright.physics.cooler import charge_effectiveness, cooled_temperature, pressure_loss
from boostwright.physics.roots import bracketed_root
from boostwright.physics.turbine import (
    Bearing,
    ExhaustGas,
    TurbineRecipe,
    TurbineSizes,
    bearing_loss,
    check_turbine,
)
from boostwright.physics.turbine_unit import (
    SizedTurbine,
    Turbine,
    TurbineWork,
    flow_through,
    pressure_before,
    work_of,
)

__all__ = [
    "NO_PULSES",
    "Ambient",
    "AmbientEach",
    "Cooler",
    "OutsideAir",
    "Pulses",
    "Restriction",
    "TurbineFactors",
    "TurboParts",
    "TurboPoint",
    "TurboStatus",
    "turbo_point",
    "unboosted_plenum_pressure",
]

Array = NDArray[np.float64]

_CHARGE_ITERATIONS: Final = 20
_CHARGE_TOLERANCE: Final = 1e-6  # of the last change; what is left after it is a hundredth of that
_TABLE_TOLERANCE: Final = 2e-5  # the same, where the table itself is no closer
_COLDEST_OUTLET: Final = 0.5  # of the inlet temperature; below it no turbine can stand anyway
_POWER_EXPONENT: Final = 1.6  # of turbine power over the pressure across it, to begin with
_SECANT_STEPS: Final = 8
_SECANT_TOLERANCE: Final = 1e-7  # of the pressure across the turbine, in the last step
_LEAST_PRESSURE: Final = (
    0.3  # of ambient, behind the air filter; a clogged one is no reason to divide by zero
)


class TurboStatus(IntEnum):
    """Whether the turbo holds the plenum pressure that was asked."""

    HOLDS = 0  # and the gate lets the rest of the gas past
    TURBINE_SHORT = 1  # the gate is shut and the turbine gives less than the compressor takes
    COMPRESSOR_SHORT = 2  # the compressor map ends before this pressure ratio


class OutsideAir(Protocol):
    """The air around the car, one for all points or one for each."""

    @property
    def pressure(self) -> Array | float:
        """Station pressure [Pa absolute]."""
        ...

    @property
    def temperature(self) -> Array | float:
        """[K]."""
        ...


@dataclass(frozen=True, slots=True)
class Ambient:
    """The air around the car, one for all points."""

    pressure: float  # station pressure [Pa absolute]
    temperature: float  # [K]


class AmbientEach(NamedTuple):
    """The air around the car, one for each point; shape (n,)."""

    pressure: Array  # station pressure [Pa absolute]
    temperature: Array  # [K]


class PressureLoss(Protocol):
    """A part, or a row of parts, that costs pressure."""

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at a flow [kg/s] and a mean density [kg/m3]."""
        ...


class ChargeCooling(Protocol):
    """A charge-air cooler."""

    @property
    def loss(self) -> PressureLoss:
        """Of pressure on the charge side."""
        ...

    def effectiveness_at(self, flow: ArrayLike, *, density: ArrayLike | None = None) -> Array:
        """Effectiveness on the charge side [-] at a charge flow [kg/s]; density: of the outside air
        [kg/m3]."""
        ...


@dataclass(frozen=True, slots=True)
class Restriction:
    """A part that costs pressure, stated by one known point: loss = loss (m/flow)^exponent density/rho."""

    loss: float  # at the known point [Pa]
    flow: float  # of the known point [kg/s]
    density: float  # of the known point [kg/m3]
    exponent: float = 2.0  # 2 for pipes and fittings, 1.8 for a core's fins [-]

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at a flow [kg/s] and a mean density [kg/m3]."""
        return pressure_loss(flow, density, self.loss, self.flow, self.density, self.exponent)


@dataclass(frozen=True, slots=True)
class Cooler:
    """Charge-air cooler: a known effectiveness, or a conductance and the cooling air it sees."""

    loss: Restriction
    effectiveness: float | None = None  # on the charge side; where given, the other two are not used [-]
    conductance: float = 0.0  # UA [W/K]
    cooling_flow: float = 0.0  # [kg/s]

    def effectiveness_at(self, flow: ArrayLike, *, density: ArrayLike | None = None) -> Array:  # noqa: ARG002
        """Effectiveness on the charge side [-] at a charge flow [kg/s]; the cooling air's flow is stated as
        it is, whatever the density outside."""
        flow = np.asarray(flow, dtype=np.float64)
        if self.effectiveness is not None:
            return np.full(flow.shape, self.effectiveness)
        return charge_effectiveness(self.conductance, flow, self.cooling_flow)


@dataclass(frozen=True, slots=True)
class TurbineFactors:
    """Where this turbine lies inside the band of the estimate; the default is the middle of the band."""

    area: float = 1.0  # on the effective area [-]
    efficiency: float = 0.0  # added to the best efficiency [-]
    bearing: float = 1.0  # on the bearing loss [-]


@dataclass(frozen=True, slots=True)
class Pulses:
    """What exhaust pulses do to a turbine that is fed by mean values; one value per point, or one for all."""

    flow: Array | float = 1.0  # flow over that at the mean pressure [-]
    power: Array | float = 1.0  # power over that at the mean pressure [-]
    valve: Array | float = 1.0  # pressure that a gate's valve feels over the mean [-]


NO_PULSES: Final = Pulses()


@dataclass(frozen=True, slots=True)
class TurboParts:
    """The turbo, and the pipes, filter, cooler and exhaust that it works with. SI units."""

    compressor_map: CompressorMap
    exducer: float  # compressor exducer diameter [m]
    turbine: TurbineSizes
    turbine_recipe: TurbineRecipe
    inlet: PressureLoss  # filter and pipe before the compressor
    charge_pipes: PressureLoss  # pipes and open throttle after the cooler
    exhaust: PressureLoss  # from turbine outlet to tail pipe
    cooler: ChargeCooling | None = None
    bearing: Bearing = Bearing.PLAIN
    shaft: float = 6.5e-3  # journal diameter [m]
    turbine_factors: TurbineFactors = field(default_factory=TurbineFactors)
    measured_turbine: Turbine | None = None  # by its map; goes before the sizes
    worse_turbines: tuple[Turbine, ...] = ()  # the measured one, one thing each a deviation worse
    worse_map: CompressorMap | None = None  # efficiency one deviation lower; None: by the wheel's band

    @classmethod
    def from_sizes(
        cls,
        compressor: tuple[float, float],
        turbine: tuple[float, float, float],
        *,
        inlet: PressureLoss,
        charge_pipes: PressureLoss,
        exhaust: PressureLoss,
        cooler: ChargeCooling | None = None,
        bearing: Bearing = Bearing.PLAIN,
        shaft: float = 6.5e-3,
        wheel_factors: WheelFactors | None = None,
        turbine_factors: TurbineFactors | None = None,
        **known: float,
    ) -> TurboParts:
        """Parts of a turbo of which only the sizes are known.

        compressor: inducer and exducer diameter [m]. turbine: wheel diameter, exducer diameter, A/R as a
        length [m]. known: what else is known of the compressor wheel, see `compressor_sizes.wheel_sizes`. The
        rest: see the fields. Raises OutOfRange for a wheel or a housing outside the ground of the estimates.
        """
        recipe = turbo_sizes.compressor_recipe()
        wheel = wheel_sizes(*compressor, recipe, **known)
        check_wheel(wheel, recipe)
        turbine_recipe = turbo_sizes.turbine_recipe()
        sizes = TurbineSizes(*turbine)
        check_turbine(sizes, turbine_recipe)
        return cls(
            compressor_map=WheelMap(wheel, recipe, wheel_factors or WheelFactors()),
            exducer=wheel.D2,
            turbine=sizes,
            turbine_recipe=turbine_recipe,
            inlet=inlet,
            charge_pipes=charge_pipes,
            exhaust=exhaust,
            cooler=cooler,
            bearing=bearing,
            shaft=shaft,
            turbine_factors=turbine_factors or TurbineFactors(),
        )

    @property
    def turbine_unit(self) -> Turbine:
        """The turbine as it swallows and works: by its map where there is one, else by its sizes."""
        if self.measured_turbine is not None:
            return self.measured_turbine
        factors = self.turbine_factors
        return SizedTurbine(self.turbine, self.turbine_recipe, factors.area, factors.efficiency)

    @property
    def turbine_area(self) -> float:
        """Effective area of the turbine [m2]."""
        return self.turbine_unit.area

    def one_deviation_worse(self) -> tuple[TurboParts, ...]:
        """These parts with one uncertain factor each moved by one standard deviation to the side of less
        boost.

        The factors are independent of each other.
        """
        band = turbo_sizes.turbine_band()
        turbine = self.turbine_factors
        slower = replace(turbine, bearing=turbine.bearing * (1 + band.bearing))
        moved = [replace(self, turbine_factors=slower)]
        if self.measured_turbine is not None:
            moved += [replace(self, measured_turbine=worse) for worse in self.worse_turbines]
        else:
            wider = replace(turbine, area=turbine.area * (1 + band.area))
            weaker = replace(turbine, efficiency=turbine.efficiency - band.efficiency)
            moved += [replace(self, turbine_factors=factors) for factors in (wider, weaker)]
        wheel_map = self.compressor_map
        if self.worse_map is not None:
            moved.append(replace(self, compressor_map=self.worse_map))
        elif isinstance(wheel_map, WheelMap):  # no band was stated: that of the wheel's sizes
            down = wheel_map.factors.efficiency - turbo_sizes.compressor_band().efficiency
            factors = wheel_map.factors._replace(efficiency=down)
            moved.append(replace(self, compressor_map=wheel_map._replace(factors=factors)))
        for name in ("inlet", "charge_pipes", "exhaust", "cooler"):
            worse = getattr(getattr(self, name), "worse", None)
            if worse is not None:
                moved.append(replace(self, **{name: worse(1.0)}))
        return tuple(moved)


class TurboPoint(NamedTuple):
    """One or many operating points of the turbo side; every array has the broadcast shape of the
    arguments."""

    plenum_pressure: Array  # as asked [Pa]
    plenum_temperature: Array  # after the cooler [K]
    inlet_pressure: Array  # before the compressor [Pa]
    outlet_pressure: Array  # after the compressor, as the plenum pressure needs it [Pa]
    compressor: CompressorPoint
    cooler_effectiveness: Array  # on the charge side [-]
    exhaust_pressure: Array  # exhaust manifold [Pa]
    turbine_outlet_pressure: Array  # [Pa]
    expansion_ratio: Array  # exhaust manifold over turbine outlet [-]
    exhaust_flow: Array  # air and fuel [kg/s]
    turbine_flow: Array  # [kg/s]
    gate_flow: Array  # past the wastegate [kg/s]
    gate_share: Array  # of the exhaust flow [-]
    turbine_power: Array  # [W]
    turbine_efficiency: Array  # total to static, without bearing loss [-]
    blade_speed_ratio: Array  # [-]
    bearing_loss: Array  # [W]
    surplus: Array  # turbine power with the gate shut less what compressor and bearings take [W]
    status: NDArray[np.int64]  # TurboStatus


def turbo_point(
    parts: TurboParts,
    ambient: OutsideAir,
    air_flow: ArrayLike,
    fuel_flow: ArrayLike,
    plenum_pressure: ArrayLike,
    exhaust_temperature: ArrayLike,
    gas: ExhaustGas,
    pulses: Pulses = NO_PULSES,
    table: CompressorTable | None = None,
) -> TurboPoint:
    """Operating point of the turbo at a given engine flow and plenum pressure.

    The charge side gives the compressor's pressure ratio and speed, hence the power wanted, P_c + P_f. With
    the gate shut the turbine takes the whole exhaust flow; where that gives more than is wanted, the exhaust
    pressure is lowered until it gives just that, and the rest of the gas passes the gate. Where it gives
    less, the point comes back with the gate shut, status TURBINE_SHORT and a negative surplus: it cannot
    stand, and a caller must ask for less.

    parts, ambient: records. air_flow, fuel_flow: of the engine [kg/s], above 0. plenum_pressure: wanted [Pa
    absolute]. exhaust_temperature: at the turbine inlet [K]. gas: exhaust gas about that temperature. pulses:
    factors. table: the compressor's map as a table, for a search; None asks the map itself. All broadcast to
    one shape. Returns arrays of that shape. Gas and turbine gain no heat from each
    other or the walls; the pressure drop of the open gate's flow rejoining the exhaust is left out.

    Raises OutOfRange for a flow, temperature or pressure that is not positive; NotConverged if an inner solve
    does not close.
    """
    air, fuel, plenum, T3 = np.broadcast_arrays(
        *(
            np.asarray(a, dtype=np.float64)
            for a in (air_flow, fuel_flow, plenum_pressure, exhaust_temperature)
        )
    )
    if not all(np.all(np.isfinite(a) & (a > 0)) for a in (air, fuel, plenum, T3)):
        raise OutOfRange(
            "A turbo point needs an air flow, a fuel flow, a plenum pressure and an exhaust temperature, "
            "each above zero."
        )
    charge = _charge_side(parts, ambient, air, plenum, table)
    compressor = charge.compressor
    factors = parts.turbine_factors
    friction = factors.bearing * bearing_loss(
        compressor.speed, parts.shaft, parts.bearing, parts.turbine_recipe
    )
    wanted = compressor.power + friction

    exhaust_flow = air + fuel
    T4 = np.maximum(T3 - wanted / (exhaust_flow * gas.cp(T3)), _COLDEST_OUTLET * T3)
    p4 = _turbine_outlet_pressure(parts.exhaust, ambient, exhaust_flow, T4, gas)
    unit = parts.turbine_unit
    feed = _Feed(*np.broadcast_arrays(pulses.flow, pulses.power, compressor.speed, p4, T3, *gas))
    shut_pressure = pressure_before(unit, exhaust_flow, T3, p4, gas, feed.flow_factor)
    surplus = _turbine_power(unit, feed, exhaust_flow, shut_pressure).power - wanted
    p3 = _exhaust_pressure(unit, feed, shut_pressure, wanted, surplus > 0)
    flow = np.where(surplus > 0, flow_through(unit, p3, T3, p4, gas, feed.flow_factor), exhaust_flow)
    turbine = _turbine_power(unit, feed, flow, p3)

    status = np.where(surplus >= 0, int(TurboStatus.HOLDS), int(TurboStatus.TURBINE_SHORT)).astype(np.int64)
    status[compressor.status == PointStatus.TOO_FAST] = TurboStatus.COMPRESSOR_SHORT
    return TurboPoint(
        plenum_pressure=np.array(plenum),
        plenum_temperature=charge.plenum_temperature,
        inlet_pressure=charge.inlet_pressure,
        outlet_pressure=charge.outlet_pressure,
        compressor=compressor,
        cooler_effectiveness=charge.effectiveness,
        exhaust_pressure=p3,
        turbine_outlet_pressure=p4,
        expansion_ratio=p3 / p4,
        exhaust_flow=exhaust_flow,
        turbine_flow=flow,
        gate_flow=exhaust_flow - flow,
        gate_share=1 - flow / exhaust_flow,
        turbine_power=turbine.power,
        turbine_efficiency=turbine.efficiency,
        blade_speed_ratio=turbine.speed_ratio,
        bearing_loss=friction,
        surplus=surplus,
        status=status,
    )


def unboosted_plenum_pressure(parts: TurboParts, ambient: OutsideAir, air_flow: ArrayLike) -> Array:
    """Plenum pressure [Pa] at an air flow [kg/s] with a compressor that neither raises nor lowers it."""
    air = np.asarray(air_flow, dtype=np.float64)
    density = ambient.pressure / (R_AIR * ambient.temperature)
    loss = parts.inlet.at(air, density) + parts.charge_pipes.at(air, density)
    if parts.cooler is not None:
        loss = loss + parts.cooler.loss.at(air, density)
    return np.asarray(np.maximum(ambient.pressure - loss, _LEAST_PRESSURE * ambient.pressure))


class _ChargeSide(NamedTuple):
    """From the air filter to the plenum."""

    inlet_pressure: Array
    outlet_pressure: Array
    plenum_temperature: Array
    effectiveness: Array
    compressor: CompressorPoint


def _charge_side(
    parts: TurboParts, ambient: OutsideAir, air: Array, plenum: Array, table: CompressorTable | None
) -> _ChargeSide:
    """Compressor point whose outlet pressure is the plenum's plus the losses on the way, by fixed point.

    The losses are a few per cent of the pressure and hang weakly on temperature: each round gains two digits.
    """
    density = ambient.pressure / (R_AIR * ambient.temperature)
    inlet = np.maximum(ambient.pressure - parts.inlet.at(air, density), _LEAST_PRESSURE * ambient.pressure)
    cooler = parts.cooler
    effectiveness = np.zeros(air.shape) if cooler is None else cooler.effectiveness_at(air, density=density)
    T_out = ambient.temperature * np.maximum(plenum / inlet, 1.0) ** 0.4
    outlet = plenum
    tolerance = _CHARGE_TOLERANCE if table is None else _TABLE_TOLERANCE
    for _ in range(_CHARGE_ITERATIONS):
        T_plenum = cooled_temperature(T_out, ambient.temperature, effectiveness)
        before = outlet
        outlet = plenum + parts.charge_pipes.at(air, plenum / (R_AIR * T_plenum))
        if cooler is not None:  # density of the mean pressure and temperature of the core
            in_core = (outlet + before) / (R_AIR * (T_out + T_plenum))
            outlet = outlet + cooler.loss.at(air, in_core)
        here = (parts.exducer, air, outlet / inlet, ambient.temperature, inlet)
        if table is None:
            compressor = operating_point(parts.compressor_map, *here)
        else:
            compressor = table_point(table, *here)
        T_out = compressor.outlet_temperature
        if np.all(np.abs(outlet - before) <= tolerance * outlet):
            break
    else:
        raise NotConverged(
            f"The losses between compressor and plenum did not settle in {_CHARGE_ITERATIONS} rounds; the "
            f"largest change was {np.max(np.abs(outlet / before - 1)):.1e} of the pressure."
        )
    T_plenum = cooled_temperature(T_out, ambient.temperature, effectiveness)
    return _ChargeSide(inlet, outlet, T_plenum, effectiveness, compressor)


def _turbine_outlet_pressure(
    exhaust: PressureLoss, ambient: OutsideAir, flow: Array, T4: Array, gas: ExhaustGas
) -> Array:
    """Pressure after the turbine [Pa], with the density of the mean pressure: p4^2 = p_amb^2 + 2 R T4 (rho
    dp)."""
    product = exhaust.at(flow, 1.0)  # density times loss does not depend on the density itself
    return np.asarray(np.sqrt(ambient.pressure**2 + 2 * np.asarray(gas.R) * T4 * product))


class _Feed(NamedTuple):
    """What the turbine is fed with, all of one shape so that single points can be picked out."""

    flow_factor: Array  # of pulses [-]
    power_factor: Array  # of pulses [-]
    speed: Array  # shaft [rad/s]
    p4: Array  # [Pa]
    T3: Array  # [K]
    R: Array  # of the exhaust gas, as in ExhaustGas
    cp_ref: Array
    slope: Array
    T_ref: Array

    @property
    def gas(self) -> ExhaustGas:
        return ExhaustGas(self.R, self.cp_ref, self.slope, self.T_ref)


def _turbine_power(unit: Turbine, feed: _Feed, flow: Array, p3: Array) -> TurbineWork:
    """Turbine work at a flow [kg/s] and an exhaust pressure [Pa], pulses included."""
    work = work_of(unit, flow, p3 / feed.p4, feed.T3, feed.speed, feed.gas)
    return work._replace(power=np.asarray(feed.power_factor * work.power))


def _exhaust_pressure(
    unit: Turbine, feed: _Feed, shut_pressure: Array, wanted: Array, open_gate: NDArray[np.bool_]
) -> Array:
    """Exhaust pressure at which the turbine gives the power wanted; with the gate shut where it cannot [Pa].

    Flow and drop both rise with the pressure, so one root lies between the outlet pressure and that of the
    gate shut.
    """
    p3 = np.array(shut_pressure)
    if not open_gate.any():
        return p3
    there = _Feed(*(column[open_gate] for column in feed))
    needed, shut = wanted[open_gate], shut_pressure[open_gate]

    def power(p: Array) -> Array:
        flow = flow_through(unit, p, there.T3, there.p4, there.gas, there.flow_factor)
        return _turbine_power(unit, there, flow, p).power

    # over the pressure across the wheel the power is close to a straight line in logarithms
    u, slope = np.log(shut - there.p4), np.full(shut.shape, _POWER_EXPONENT)
    error = np.log(power(shut) / needed)
    closed = np.zeros(shut.shape, dtype=bool)
    for _ in range(_SECANT_STEPS):
        step = np.clip(-error / slope, -3.0, 3.0)
        u, was = u + step, error
        closed = np.abs(step) <= _SECANT_TOLERANCE
        if closed.all():
            break
        error = np.log(np.maximum(power(there.p4 + np.exp(u)), 1e-9) / needed)
        with np.errstate(divide="ignore", invalid="ignore"):
            measured = (error - was) / step
        slope = np.where((measured > 0.5) & (measured < 5.0), measured, slope)
    found = there.p4 + np.exp(u)
    stray = ~closed | (found > shut * (1 + 1e-9))
    if stray.any():
        root = bracketed_root(lambda p: power(p) - needed, there.p4, shut)
        if not np.all(root.closed | ~stray):
            raise NotConverged(
                f"The exhaust pressure was not found at {int(np.sum(~root.closed & stray))} of {stray.size} "
                "points."
            )
        found = np.where(stray, root.x, found)
    p3[open_gate] = found
    return p3

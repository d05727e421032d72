"""Fuel: the injector's pulse in each cell, its dead time, cranking, warm-up and the air's temperature."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.cells import MIXTURE_SD, Moved
from boostwright.calibration.records import TWO_WAYS, Axis, Origin, Setting, Table
from boostwright.calibration.work import Work, coolant_axis, origins
from boostwright.library.calibration import Rule, rule_of
from boostwright.physics.fuel import stoichiometric_air_fuel_ratio
from boostwright.physics.fuel_line import rail_difference
from boostwright.physics.injection import DEAD_TIME_VOLTAGE, dead_time, delivered_mass_flow
from boostwright.quantity import Dimension, PressureKind
from boostwright.systems.fuel_side import FuelLine, FuelParts, fuel_line
from boostwright.systems.sensing import LoadFrom
from boostwright.systems.stated.fuel_side import fuel_side_of, uncertain_of

__all__ = [
    "Pulses",
    "air_temperature_table",
    "cold_tables",
    "dead_time_table",
    "full_flow",
    "pulse_table",
    "pulses_of",
]

Array = NDArray[np.float64]

VOLTS: Final = np.arange(8.0, 16.5, 1.0)  # battery [V]
DIFFERENCES: Final = 5  # breakpoints of pressure across the injector
AIR: Final = np.arange(-30.0, 91.0, 15.0) + 273.15  # in the plenum [K]
_OWN_ERROR: Final = 1.0e-4  # of a computed dead time between 10 and 15 V [s]; see physics.injection
_LEAST_DIFFERENCE: Final = 1.0e4  # across an injector, below which it is no injector any more [Pa]


class Pulses(NamedTuple):
    """The fuel side in every cell, shape of the grid."""

    line: FuelLine  # flat
    fuel: Array  # of one cylinder and cycle [kg]
    pulse: Array  # open and dead time [s]
    sd: Array  # of the pulse that would bring the wanted mixture [s]
    duty: Array  # [-]


def full_flow(work: Work) -> float:
    """Greatest fuel flow of the trajectory, at which a stated droop of the rail holds [kg/s]."""
    case = work.case
    every = case.baseline.result.fuel_flow if case.goal is None else case.goal.result.fuel_flow
    every = every[np.isfinite(every)]
    return float(every.max()) if every.size else 1.0e-6


def pulses_of(work: Work) -> Pulses:
    """Pulse of each cell: the fuel of the charge, through the injector at the pressure of that cell.

    m_f = VE p V_d/(R T)/(lambda AFR_st); the pulse is m_f over the injector's flow at the pressure that the
    regulator holds there, and the dead time at running voltage.
    """
    grid, cells = work.grid, work.cells
    flow = work.fuel_flow
    line = fuel_line(
        work.parts, flow, grid.pressure, grid.speed, grid.ambient, cells.lam, full_flow=full_flow(work)
    )
    turns = 4.0 * np.pi / grid.speed
    pulse = line.open_time + line.dead_time
    sd = _pulse_sd(work, flow, pulse, line)
    return Pulses(
        line,
        work.square(flow * turns / work.case.engine.cylinders),
        work.square(pulse),
        work.square(sd),
        work.square(line.duty),
    )


def _simple_pulse(parts: FuelParts, work: Work, flow: Array, droop: Array, feed: Array) -> Array:
    """The pulse without pump and lines, which do not set it; `droop` and feed loss as they are."""
    grid, regulator, injectors = work.grid, parts.regulator, parts.injectors
    difference = rail_difference(
        regulator.reference, regulator.pressure, grid.pressure, grid.ambient, regulator.droop * droop, feed
    )
    each = flow * 4.0 * np.pi / grid.speed / injectors.count
    q = delivered_mass_flow(
        injectors.flow, difference, parts.density, injectors.rated_difference, injectors.test_density
    )
    with np.errstate(divide="ignore"):
        opened = each / q
    return np.asarray(
        opened
        + dead_time(
            injectors.voltage,
            difference,
            injectors.dead_time,
            injectors.dead_time_slope,
            injectors.dead_time_difference,
        )
    )


def _pulse_sd(work: Work, flow: Array, pulse: Array, line: FuelLine) -> Array:
    """Standard deviation [s]: of the charge, of the mixture really run, and of everything at the injector."""
    droop = np.minimum(flow / full_flow(work), 1.0)
    in_tank = work.parts.regulator.reference.value == "tank"
    feed = line.feed_loss if in_tank else np.zeros(flow.shape)
    middle = _simple_pulse(work.parts, work, flow, droop, feed)
    total = ((pulse - line.dead_time) * np.hypot(work.cells.air_sd, MIXTURE_SD)) ** 2
    for path, value, sd in uncertain_of(work.build):
        moved = fuel_side_of(work.build, {path: np.array([value + sd])})
        change = _simple_pulse(moved, work, flow, droop, feed) - middle
        total = total + np.where(np.isfinite(change), change, 0.0) ** 2
    return np.asarray(np.sqrt(total))


def pulse_table(work: Work, pulses: Pulses) -> Table:
    """Injector pulse, dead time included, over speed and pressure."""
    limits = work.case.limits
    most, least = limits["injector_duty"].amount, limits["smallest_pulse"].amount
    turns = work.square(4.0 * np.pi / work.grid.speed)
    voltage = work.parts.injectors.voltage
    origin = work.engine_origins()
    notes = [
        f"Warm engine, dead time at {voltage:.1f} V included; the charge of the cell at its lambda.",
        f"Rail against {_reference_words(work)}.",
        TWO_WAYS,
    ]
    if np.any(pulses.duty[work.visited] > most.value):
        notes.append("Where the duty passes its limit the injectors are too small: do not drive there.")
    never = pulses.duty > 1.0
    value = np.where(np.isfinite(pulses.pulse) & ~never, pulses.pulse, np.nan)
    if never.any():
        notes.append(
            "No number where the pulse would last longer than the cycle: the injector stays open and the"
            " mixture"
            " goes lean whatever is written there. Cut fuel below it."
        )
    if (~np.isfinite(pulses.pulse)).any():
        notes.append("No number where the rail does not reach above the manifold: nothing would flow.")
    return work.engine_table(
        "injector_pulse",
        "injector pulse, dead time included",
        Dimension.TIME,
        value,
        np.where(np.isfinite(value), pulses.sd, np.nan),
        tuple(notes),
        origin,
        low=(np.full(value.shape, least.value), "a shorter pulse does not repeat"),
        high=(most.value * turns, "a longer pulse leaves the injector no time to close"),
    )


def _reference_words(work: Work) -> str:
    return {
        "manifold": "manifold pressure, which it follows",
        "atmosphere": "the outside air: boost takes its pressure off the injectors",
        "tank": "the outside air, with the regulator in the tank: boost takes its pressure off the injectors",
    }[work.parts.regulator.reference.value]


def dead_time_table(work: Work, pulses: Pulses) -> Table:
    """Dead time over battery voltage and pressure across the injector."""
    injectors = work.parts.injectors
    seen = pulses.line.set_difference[np.isfinite(pulses.line.set_difference)]
    low = max(0.5 * float(np.min(seen, initial=injectors.rated_difference)), _LEAST_DIFFERENCE)
    high = 1.3 * float(np.max(seen, initial=injectors.rated_difference))
    step = 1.0e4
    at = np.unique(np.round(np.linspace(low, high, DIFFERENCES) / step)) * step
    V, p = np.meshgrid(VOLTS, at, indexing="ij")

    def lag(known: float, slope: float) -> Array:
        return dead_time(V, p, known, slope, injectors.dead_time_difference)

    value = lag(injectors.dead_time, injectors.dead_time_slope)
    sd_known = float(work.build["injectors.dead_time"].sd or 0.0)
    sd_slope = float(work.build["injectors.dead_time_slope"].sd or 0.0)
    rule = rule_of("dead_time_error")
    far = rule.number * 1e-3 * np.abs(V - DEAD_TIME_VOLTAGE)
    sd = np.sqrt(
        sd_known**2
        + (lag(injectors.dead_time, injectors.dead_time_slope + sd_slope) - value) ** 2
        + np.hypot(far, _OWN_ERROR) ** 2
    )
    stated = work.build.is_stated("injectors.dead_time")
    at_known = (np.abs(V - DEAD_TIME_VOLTAGE) < 0.6) & (
        np.abs(p / injectors.dead_time_difference - 1.0) < 0.2
    )
    axes = (
        Axis("battery_voltage", "battery voltage at the injectors", Dimension.VOLTAGE, VOLTS.copy()),
        Axis(
            "injector_difference",
            "pressure across the injector",
            Dimension.PRESSURE,
            at,
            PressureKind.DIFFERENCE,
        ),
    )
    notes: tuple[str, ...] = (
        "From the dead time at one voltage and its growth for each volt lost: flux of the coil over voltage.",
        TWO_WAYS,
    )
    if not stated:
        notes += ("Nobody has stated the injectors' dead time; that of usual ones stands in. Measure it.",)
    return Table(
        "dead_time",
        "injector dead time",
        Dimension.TIME,
        axes,
        value,
        sd,
        origins(value.shape, Origin.MODEL, Origin.MAKER, at_known & stated),
        (VOLTS >= 11.0)[:, None] & (VOLTS <= 15.0)[:, None] & np.isfinite(value),
        notes,
    )


def _rule_table(key: str, words: str, dimension: Dimension, rule: Rule, value: Array, sd: Array) -> Table:
    n = value.size
    return Table(
        key,
        words,
        dimension,
        (coolant_axis(rule.at),),
        value,
        sd,
        origins((n,), Origin.RULE),
        rule.at >= 273.15,
        (f"{rule.reason} ({rule.source})",),
    )


def cold_tables(work: Work) -> tuple[tuple[Table, ...], tuple[Setting, ...]]:
    """Cranking, after-start and warm-up fuel over coolant temperature: rules, made heavier for ethanol."""
    ethanol = work.case.fuel.ethanol_share
    crank, more = rule_of("cranking_fuel"), rule_of("cranking_ethanol")
    factor = crank.value * (1.0 + ethanol * more.value)
    air = (
        rule_of("cranking_filling").number
        * work.case.ambient_pressure
        * work.case.engine.swept_volume
        / (287.05 * work.case.ambient_temperature)
    )
    fuel = factor * air / float(stoichiometric_air_fuel_ratio(ethanol))
    warm, warm_more = rule_of("warm_up_fuel"), rule_of("warm_up_ethanol")
    warm_factor = 1.0 + (warm.value - 1.0) * (1.0 + ethanol * warm_more.value)
    start, time = rule_of("after_start_fuel"), rule_of("after_start_time")
    tables = (
        _rule_table(
            "cranking_fuel", "fuel of one cylinder and cycle while cranking", Dimension.MASS, crank, fuel,
            fuel * np.hypot(crank.spread, rule_of("cranking_filling").spread),
        ),
        _rule_table(
            "after_start_fuel", "fuel right after the start, over that of warm-up", Dimension.RATIO, start,
            start.value.copy(), start.spread * np.ones(start.value.size),
        ),
        _rule_table(
            "warm_up_fuel", "fuel while the engine warms up, over the warm engine's", Dimension.RATIO, warm,
            warm_factor, np.maximum(warm.spread * (warm_factor > 1.0), 0.01),
        ),
    )  # fmt: skip
    settings = (
        Setting(
            "after_start_time", time.words, Dimension.TIME, time.number, time.spread * time.number,
            Origin.RULE, f"{time.reason} ({time.source})",
        ),
    )  # fmt: skip
    return tables, settings


def air_temperature_table(
    work: Work, kelvin: tuple[float, ...], hot: list[Moved], reference: float
) -> tuple[Table | None, str]:
    """Fuel over the temperature of the air in the plenum; or why there is none.

    kelvin, hot: what air warmer by so much does to the cells. reference: plenum temperature at which the
    tables hold [K]. Density is physics: T_ref/T. The engine's own filling grows a little with warmth, as the
    port's walls warm such air less: its exponent is asked of the cycle.
    """
    if work.controller.load is LoadFrom.AIR_METER:
        return None, "No air-temperature correction of the fuel: the air meter counts mass."
    where = work.grid.visited & work.cells.burns & (work.grid.pressure >= 0.9 * work.grid.ambient)
    where = where if where.any() else work.cells.burns
    exponents = []
    for more, moved in zip(kelvin, hot, strict=True):
        T = work.grid.temperature[where]
        exponents.append(moved.log_air[where] / np.log((T + more) / T))
    exponent, scatter = float(np.mean(exponents)), float(np.std(exponents))
    value = (reference / AIR) ** (1.0 - exponent)
    sd = np.maximum(value * np.abs(np.log(reference / AIR)) * max(scatter, 0.1), 0.002)
    axis = Axis("plenum_temperature", "air temperature in the plenum", Dimension.TEMPERATURE, AIR.copy())
    return (
        Table(
            "air_temperature_fuel",
            "fuel over the air's temperature, against the tables' own",
            Dimension.RATIO,
            (axis,),
            value,
            sd,
            origins(AIR.shape, Origin.MODEL),
            (reference - 35.0 <= AIR) & (reference + 45.0 >= AIR),
            (
                (
                    f"Density T_ref/T with T_ref {reference - 273.15:.0f} degC, and (T/T_ref)^{exponent:.2f}"
                    " by which"
                    " the filling itself grows with warmth (own cycles)."
                ),
                (
                    "A controller that divides by absolute temperature itself takes only"
                    f" (T/T_ref)^{exponent:.2f}."
                ),
            ),
        ),
        "",
    )

"""Tables over speed and pressure that describe and drive the engine: charge, lambda, spark."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.cells import EARLIEST
from boostwright.calibration.mixture import TURBINE_SD, closed_loop_top, turbine_limit
from boostwright.calibration.records import Origin, Table
from boostwright.calibration.work import Work, origins
from boostwright.library.calibration import rule_of
from boostwright.quantity import Dimension
from boostwright.systems.sensing import LoadFrom

__all__ = ["Sparks", "charge_tables", "lambda_table", "spark_table", "sparks_of"]

Array = NDArray[np.float64]

LATE_SLOPE: Final = 1.2  # half-burned point for each degree of spark, late in the cycle (own cycles) [-]
SMOOTHED: Final = np.radians(0.05)  # of a spark, from which on smoothing is worth a word [rad]
_NEAR_IDLE_SPEED: Final = 1.3  # of idle speed, up to which the idle spark stands [-] (judgement)
_NEAR_IDLE_PRESSURE: Final = 1.25  # the same, of its manifold pressure [-] (judgement)


class Sparks(NamedTuple):
    """Sparks of the table in the shape of the grid, and which of them are no plain result of the model."""

    value: Array  # [rad]
    idle: NDArray[np.bool_]  # set by the rule for idle
    held: NDArray[np.bool_]  # knock asks for a later spark than still burns evenly
    smoothed: NDArray[np.bool_]  # moved later, so that spark does not rise with boost
    latest: Array  # spark at which the charge is half burned as late as it may be for a moment [rad]


def charge_tables(work: Work) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    """Volumetric efficiency, or a cylinder's air where an air meter counts it; and what is left out."""
    cells = work.cells
    result = cells.made.result
    unburnt = ~cells.burns
    notes: tuple[str, ...] = (
        "On manifold pressure and plenum temperature: air = VE p V_d/(R T), R of dry air.",
    )
    if unburnt.any():
        notes += ("Below idle's load the model's charge does not burn to the end; there it is a rule.",)
    origin = work.engine_origins()
    origin[work.flags(unburnt)] = Origin.RULE
    efficiency = result.volumetric_efficiency
    if work.controller.load is LoadFrom.PRESSURE:
        sd = efficiency * cells.air_sd
        ve = work.engine_table(
            "volumetric_efficiency", "volumetric efficiency", Dimension.RATIO, efficiency, sd, notes, origin
        )
        return (ve,), ()
    air = cylinder_air(work)
    table = work.engine_table(
        "cylinder_air",
        "air of one cylinder in one cycle",
        Dimension.MASS,
        air,
        air * work.square(cells.air_sd),
        (
            (
                "For turning manifold pressure into the load that an air meter counts; the meter itself"
                " measures it."
            ),
            *notes[1:],
        ),
        origin,
    )
    why = (
        "No table of volumetric efficiency: this controller counts air with a meter and does not work it out"
        " from pressure."
    )
    return (table,), (why,)


def cylinder_air(work: Work) -> Array:
    """Air that one cylinder draws in each cell, shape of the grid [kg]: VE p V_d/(R T)."""
    from boostwright.physics.injection import air_per_cylinder

    grid, result = work.grid, work.cells.made.result
    air = air_per_cylinder(
        result.volumetric_efficiency, grid.pressure, grid.temperature, work.case.engine.swept_volume
    )
    return work.square(air)


def lambda_table(work: Work, lam: Array, enriched: NDArray[np.bool_]) -> Table:
    """Lambda wanted. lam, enriched: flat, as `mixture.protected` gives them."""
    build, case = work.build, work.case
    top, why = closed_loop_top(build, case)
    limit, _ = turbine_limit(case)
    notes = [
        f"Lambda 1 up to {top / 1e3:.0f} kPa absolute. {why}",
        f"Under boost {build.number('fuel.lambda_boost'):.2f}, as chosen in the build file.",
        rule_of("richest").reason,
    ]
    if enriched.any():
        notes.append(
            f"{int(enriched.sum())} cells are richer than that, to keep the turbine below"
            f" {limit - 273.15:.0f} degC at the chosen probability; with a thermocouple they can be"
            " leaned out."
        )
    chosen = build.is_stated("fuel.lambda_boost")
    origin = origins(work.grid.shape, Origin.RULE, Origin.MODEL, work.flags(enriched))
    boosted = (work.grid.pressures >= work.case.ambient_pressure)[None, :] & (origin != Origin.MODEL)
    origin[boosted] = Origin.MAKER if chosen else Origin.RULE
    leanest = case.limits["leanest_boost"].amount.value
    bearable = limit - work.score * TURBINE_SD
    hot = work.cells.made.result.exhaust_manifold_temperature
    with np.errstate(invalid="ignore"):
        by_heat = np.where(np.isfinite(hot), lam + (bearable - hot) / 700.0, np.nan)
    high = np.fmin(by_heat, np.where(lam <= leanest, leanest, np.inf))
    high = np.where(work.grid.pressure > work.case.ambient_pressure, np.fmax(high, lam), np.nan)
    return work.engine_table(
        "lambda_target",
        "lambda wanted",
        Dimension.MIXTURE,
        lam,
        np.where(lam < 1.0, rule_of("richest").spread, 0.01),
        tuple(notes),
        origin,
        low=(np.full(lam.shape, rule_of("richest").number), "richer than that mostly washes the bores"),
        high=(high, "leaner than that under boost is hot and knocks"),
    )


def sparks_of(work: Work) -> Sparks:
    """The later of MBT and the knock limit behind its margin, made fit to be driven.

    Near idle the rule for idle stands. Where knock asks for a spark so late that half of the charge would
    burn after the latest point for a moment, that point's spark stands instead: later ones misfire. From the
    outside air's pressure on, spark never rises with pressure: where the model's does, it is held.
    """
    grid, cells = work.grid, work.cells
    rule = rule_of("idle_spark")
    value = work.square(cells.made.used)
    late = work.case.limits["half_burned_moment"].amount.value
    over = work.square(cells.made.result.ca50) - late
    latest = value - np.where(np.isfinite(over), over, 0.0) / LATE_SLOPE
    held = np.isfinite(over) & (over > 0.0)
    value = np.where(held, latest, value)
    idle_speed = work.build.number("engine.idle_speed")
    light = work.case.extra.get("light_loads")
    low = 0.4 * grid.ambient if light is None else float(light.plenum_pressure[0])
    near = (grid.speeds <= _NEAR_IDLE_SPEED * idle_speed)[:, None]
    near = near & (grid.pressures <= _NEAR_IDLE_PRESSURE * low)[None, :]
    idle = near | ~(work.flags(cells.burns))
    value = np.where(idle, np.fmax(np.radians(rule.number), np.where(held, value, -np.inf)), value)
    first = int(np.searchsorted(grid.pressures, 0.98 * grid.ambient))
    before = value.copy()
    value[:, first:] = np.maximum.accumulate(value[:, first:], axis=1)
    smoothed = value > before + 1e-9
    return Sparks(np.maximum(value, EARLIEST), idle, held, smoothed, latest)


def spark_table(work: Work, sparks: Sparks) -> Table:
    """Spark over speed and pressure, with the knock limit as the place where an edit does harm."""
    cells = work.cells
    knock = work.square(cells.middle.knock)
    used, best = work.square(cells.made.used), work.square(cells.made.best)
    limited = used > best + np.radians(0.1)
    sd = np.where(limited, work.square(cells.knock_sd), work.square(cells.best_sd))
    rule = rule_of("idle_spark")
    sd = np.where(sparks.idle, np.radians(rule.spread), sd)
    margin = work.score * work.square(cells.knock_sd)
    shown = margin[work.visited & limited]
    notes = [
        "The lesser advance of MBT and of the knock limit less a margin that covers its spread with"
        f" {100 * work.probability:.0f} % probability"
        + (f": {np.degrees(np.median(shown)):.0f} degrees in the middle." if shown.size else "."),
        "The knock limit is that of the poorest fuel that the file expects.",
    ]
    if sparks.held.any():
        notes.append(
            f"In {int(sparks.held.sum())} cells knock asks for a later spark than still burns evenly; the"
            " latest"
            " that does stands there. They are no place to drive in before knock detection has spoken."
        )
    if (sparks.smoothed & (sparks.value > used + SMOOTHED)).any():
        notes.append("Held over pressure where the model's spark would have risen with boost.")
    if sparks.idle.any():
        notes.append(f"Near idle: {rule.number:.0f} degrees, a rule. {rule.reason}")
    origin = work.engine_origins()
    origin[sparks.idle] = Origin.RULE
    origin[sparks.held] = Origin.RULE
    return work.engine_table(
        "spark",
        "spark, crank angle before firing top dead centre",
        Dimension.SPARK,
        sparks.value,
        sd,
        tuple(notes),
        origin,
        low=(
            np.where(np.isfinite(knock), np.where(knock > EARLIEST + 1e-6, knock, np.nan), sparks.value),
            "earlier than that the model's end gas knocks",
        ),
        high=(
            np.fmax(sparks.latest, sparks.value),
            "later than that the charge burns unevenly and the exhaust grows too hot",
        ),
    )

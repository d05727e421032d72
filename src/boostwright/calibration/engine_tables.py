"""Tables over speed and pressure that describe and drive the engine: charge, lambda, spark."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.calibration.cells import EARLIEST
from boostwright.calibration.mixture import TURBINE_SD, boost_lambda, closed_loop_top, turbine_limit
from boostwright.calibration.records import NO_PLACE, TWO_WAYS, Origin, Table
from boostwright.calibration.work import Work, origins
from boostwright.library.calibration import rule_of
from boostwright.quantity import Dimension
from boostwright.systems.sensing import LoadFrom

__all__ = ["charge_tables", "lambda_table", "spark_table"]

Array = NDArray[np.float64]

SMOOTHED: Final = np.radians(0.05)  # of a spark, from which on smoothing is worth a word [rad]


def charge_tables(work: Work) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    """Volumetric efficiency, or a cylinder's air where an air meter counts it; and what is left out."""
    cells = work.cells
    unburnt = ~(cells.middle.result.status == 0)
    notes: tuple[str, ...] = (
        (
            "On manifold pressure and plenum temperature: air = VE p V_d/(R T), R of dry air; at the table's"
            " spark."
        ),
        TWO_WAYS,
    )
    if unburnt.any():
        notes += (
            "Where the model's charge does not burn to the end, below idle's load, its spread is doubled.",
        )
    air_sd = cells.air_sd * np.where(unburnt, 2.0, 1.0)
    origin = work.engine_origins()
    efficiency = work.efficiency
    if work.controller.load is LoadFrom.PRESSURE:
        sd = efficiency * air_sd
        ve = work.engine_table(
            "volumetric_efficiency", "volumetric efficiency", Dimension.RATIO, efficiency, sd, notes, origin
        )
        return (ve,), ()
    air = work.square(work.air)
    table = work.engine_table(
        "cylinder_air",
        "air of one cylinder in one cycle",
        Dimension.MASS,
        air,
        air * work.square(air_sd),
        (
            (
                "For turning manifold pressure into the load that an air meter counts; the meter itself"
                " measures it."
            ),
            *(note for note in notes[1:] if note != TWO_WAYS),
        ),
        origin,
    )
    why = (
        "No table of volumetric efficiency: this controller counts air with a meter and does not work it out"
        " from pressure."
    )
    return (table,), (why,)


def _chosen(build: Build) -> str:
    """What the build file has to do with the mixture under boost, in words."""
    if not build.is_stated("fuel.lambda_boost"):
        return ", the usual one: the file states none"
    if build.number("fuel.lambda_boost") > boost_lambda(build) + 1e-9:
        return (
            f", as at full load without boost: the file's {build.number('fuel.lambda_boost'):.2f} is leaner"
        )
    return ", as chosen in the build file"


def lambda_table(work: Work, lam: Array, enriched: NDArray[np.bool_]) -> Table:
    """Lambda wanted. lam, enriched: flat, as `mixture.protected` gives them."""
    build, case = work.build, work.case
    top, why = closed_loop_top(build, case)
    limit, _ = turbine_limit(case)
    notes = [
        f"Lambda 1 up to {top / 1e3:.0f} kPa absolute. {why}",
        f"Under boost {boost_lambda(build):.2f}{_chosen(build)}.",
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
    hot = work.driven.exhaust_manifold_temperature
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
        low=(np.minimum(rule_of("richest").number, lam), "richer than that mostly washes the bores"),
        high=(high, "leaner than that under boost is hot and knocks"),
    )


def spark_table(work: Work) -> Table:
    """Spark over speed and pressure, with the knock limit as the place where an edit does harm."""
    cells, sparks = work.cells, work.sparks
    knock = work.square(cells.middle.knock)
    used, best = work.square(cells.made.used), work.square(cells.made.best)
    limited = used > best + np.radians(0.1)
    sd = np.where(limited, work.square(cells.knock_sd), work.square(cells.best_sd))
    rule = rule_of("idle_spark")
    sd = np.where(sparks.idle, np.radians(rule.spread), sd)
    margin = work.square(cells.margin / np.abs(cells.middle.slope))
    shown = margin[work.visited & limited]
    notes = [
        "The lesser advance of MBT and of the knock limit less a margin that covers its spread with"
        f" {100 * work.probability:.0f} % probability"
        + (f": {np.degrees(np.median(shown)):.0f} degrees in the middle." if shown.size else "."),
        "The knock limit is that of the poorest fuel that the file expects.",
    ]
    if cells.lived:
        notes.append(
            "It counts that this engine ran full load without knock before, at about the spark that"
            " engines are"
            " sold with; if its compression was raised since, that is no longer true."
        )
    if sparks.held.any():
        driven = int((sparks.held & work.visited).sum())
        notes.append(
            f"In {int(sparks.held.sum())} cells ({driven} of them on the predicted way) knock asks for a"
            f" later spark than still burns evenly; the latest that does stands there. They are {NO_PLACE}"
            " before knock detection has spoken."
        )
    if (sparks.smoothed & (sparks.value > used + SMOOTHED)).any():
        notes.append("Held over pressure where the model's spark would have risen with boost.")
    if sparks.idle.any():
        notes.append(f"Near idle: {-rule.number:.0f} degrees before top dead centre, a rule. {rule.reason}")
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

"""Whether a calibration holds together: with its own arithmetic, with the parts, and with what must never
cross.

Each check reads the calibration as it is handed in, so that a person's edit is judged as ours is. `work` is
what it was made from; nothing of the tables themselves is taken from there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.fuel_tables import full_flow
from boostwright.calibration.idle_check import idle_level
from boostwright.calibration.part_checks import listed, part_checks
from boostwright.calibration.records import Calibration, Check, Origin, Table
from boostwright.calibration.settings import Cut
from boostwright.calibration.work import Work
from boostwright.physics.fuel import stoichiometric_air_fuel_ratio
from boostwright.physics.injection import (
    dead_time,
    delivered_mass_flow,
    volumetric_efficiency_of_pulse,
)
from boostwright.systems.fuel_side import FuelLine, fuel_line

__all__ = ["SIZING_TOLERANCE", "checks_of"]

Array = NDArray[np.float64]
Cells = tuple[tuple[str, int, int], ...]

SIZING_TOLERANCE: Final = 2.0e-3  # of a cell's charge, worked back from its pulse [-]: rounding of an export
_ANGLE: Final = math.radians(0.05)  # by which a spark may rise with pressure unnoticed [rad]
_LAMBDA: Final = 5.0e-4  # the same for lambda [-]


def checks_of(calibration: Calibration, work: Work, cut: Cut) -> tuple[Check, ...]:
    """Every check in a fixed order."""
    by_key = {table.key: table for table in calibration.tables}
    found = [
        _sizing(by_key, work),
        _spark_falls(by_key, work),
        idle_level(by_key, work),
        _spark_behind_knock(by_key, work),
        _lambda_falls(by_key),
        _dead_time_falls(by_key),
        _cut_above_boost(calibration, cut),
        *_cut_below(calibration, cut),
        _tables_reach(by_key, calibration, work),
        *part_checks(by_key, work, _fuel_line(by_key, work)),
        _speed_limit(calibration, work),
    ]
    return tuple(found)


def _missing(key: str, words: str, what: Iterable[str]) -> Check:
    return Check(key, f"{words} Cannot be told: there is no {' and no '.join(what)}.", None)


def _sizing(tables: dict[str, Table], work: Work) -> Check:
    """Pulse less dead time, through the injector, at the table's lambda: the charge that comes back is the
    table's.
    """
    words = "Every pulse worked back through injector, lambda and gas law gives the charge of its cell."
    charge = tables.get("volumetric_efficiency", tables.get("cylinder_air"))
    pulse, lam = tables.get("injector_pulse"), tables.get("lambda_target")
    if charge is None or pulse is None or lam is None:
        return _missing("sizing", words, ["table of charge, lambda or pulse"])
    grid, injectors = work.grid, work.parts.injectors
    line = _fuel_line(tables, work)
    difference = work.square(line.set_difference)
    flow = delivered_mass_flow(
        injectors.flow, difference, work.parts.density, injectors.rated_difference, injectors.test_density
    )
    lag = dead_time(
        injectors.voltage,
        difference,
        injectors.dead_time,
        injectors.dead_time_slope,
        injectors.dead_time_difference,
    )
    fuel = (pulse.value - lag) * flow * injectors.count / work.case.engine.cylinders
    ratio = lam.value * float(stoichiometric_air_fuel_ratio(work.case.fuel.ethanol_share))
    shown = volumetric_efficiency_of_pulse(
        fuel, ratio, work.square(grid.pressure), work.square(grid.temperature), work.case.engine.swept_volume
    )
    wanted = charge.value
    if charge.key == "cylinder_air":
        shown = fuel * ratio
    with np.errstate(invalid="ignore"):
        off = np.abs(shown / wanted - 1.0)
    flows = np.isfinite(wanted) & (difference > 0.0) & (work.square(line.duty) <= 1.0)
    bad = (off > SIZING_TOLERANCE) | (flows & ~np.isfinite(pulse.value))
    worst = float(np.nanmax(off)) if np.isfinite(off).any() else math.nan
    return Check(
        "sizing",
        f"{words} Worst {100 * worst:.2f} %.",
        not bad.any(),
        listed("injector_pulse", bad),
        "Change charge, lambda and pulse together: one of them was edited alone." if bad.any() else "",
    )


def _fuel_line(tables: dict[str, Table], work: Work) -> FuelLine:
    """The fuel side at what the tables ask for: their charge at their lambda."""
    grid = work.grid
    lam = tables["lambda_target"].value.ravel()
    if "volumetric_efficiency" in tables:
        efficiency = tables["volumetric_efficiency"].value.ravel()
        air = efficiency * grid.pressure * work.case.engine.swept_volume / (287.05 * grid.temperature)
    else:
        air = tables["cylinder_air"].value.ravel()
    ratio = lam * float(stoichiometric_air_fuel_ratio(work.case.fuel.ethanol_share))
    flow = air / ratio * grid.speed / (4.0 * np.pi) * work.case.engine.cylinders
    return fuel_line(
        work.parts, flow, grid.pressure, grid.speed, grid.ambient, lam, full_flow=full_flow(work)
    )


def _spark_falls(tables: dict[str, Table], work: Work) -> Check:
    spark = tables["spark"]
    first = int(np.searchsorted(work.grid.pressures, 0.98 * work.grid.ambient))
    rising = np.zeros(spark.value.shape, dtype=bool)
    rising[:, first + 1 :] = np.diff(spark.value[:, first:], axis=1) < -_ANGLE
    return Check(
        "spark_falls",
        "From the outside air's pressure on, spark never rises with manifold pressure.",
        not rising.any(),
        listed("spark", rising),
        "Take the cell back to the one on its left." if rising.any() else "",
    )


def _spark_behind_knock(tables: dict[str, Table], work: Work) -> Check:
    """No visited spark earlier than the knock limit less the margin."""
    spark = tables["spark"]
    cells = work.cells
    with np.errstate(invalid="ignore"):
        latest = work.square(np.fmax(cells.made.used, cells.made.best))
        early = work.visited & (spark.value < latest - np.radians(0.25))
    early &= np.asarray(spark.origin != Origin.RULE, dtype=bool)
    percent = 100 * work.probability
    return Check(
        "spark_margin",
        "No spark on ground that is driven stands earlier than the knock limit less what covers its"
        " spread with"
        f" {percent:.0f} % probability, but where a rule says so.",
        not early.any(),
        listed("spark", early),
        "Take the spark back to the table's own, or measure the knock limit there and fit the model."
        if early.any()
        else "",
    )


def _lambda_falls(tables: dict[str, Table]) -> Check:
    lam = tables["lambda_target"]
    rising = np.zeros(lam.value.shape, dtype=bool)
    rising[:, 1:] = np.diff(lam.value, axis=1) > _LAMBDA
    return Check(
        "lambda_falls",
        "Lambda never rises with manifold pressure.",
        not rising.any(),
        listed("lambda_target", rising),
        "Take the cell down to the one on its left." if rising.any() else "",
    )


def _dead_time_falls(tables: dict[str, Table]) -> Check:
    lag = tables["dead_time"]
    rising = np.zeros(lag.value.shape, dtype=bool)
    rising[1:, :] = np.diff(lag.value, axis=0) >= 0.0
    return Check(
        "dead_time_falls",
        "Dead time falls as the voltage rises.",
        not rising.any(),
        listed("dead_time", rising),
        "A coil at less voltage is never quicker: check the two readings." if rising.any() else "",
    )


def _cut_value(calibration: Calibration) -> float:
    try:
        return calibration.setting("boost_cut").value
    except KeyError:
        return math.nan


def _cut_above_boost(calibration: Calibration, cut: Cut) -> Check:
    words = "The boost cut lies above what ordinary driving reaches: spring, creep and spike on it."
    value, highest = _cut_value(calibration), cut.highest
    if not math.isfinite(highest.pressure):
        return Check("cut_above_boost", f"{words} Cannot be told: {highest.words}.", None)
    numbers = f" Highest {highest.pressure / 1e3:.0f} kPa absolute"
    if not math.isfinite(value):
        return Check("cut_above_boost", f"{words}{numbers}; there is no cut.", False, (), cut.why)
    holds = value >= highest.pressure - 1.0
    return Check(
        "cut_above_boost",
        f"{words}{numbers}, cut {value / 1e3:.0f} kPa.",
        holds,
        (),
        "" if holds else "Calm creep and spike, or ask for less boost; do not raise the cut past the parts.",
    )


def _cut_below(calibration: Calibration, cut: Cut) -> list[Check]:
    """The cut below the sensor's end, and below what knock and parts leave in the worst corner."""
    value = _cut_value(calibration)
    remedies = {
        "sensor": "Fit a sensor that reads further, or ask for less boost.",
        "knock": "Ask for less boost, run fuel of more octane or cool the charge.",
        "strength": "Ask for less boost, or fit parts that stand more.",
        "check": "Do what the check's own finding on the boost cut says.",
    }
    found = []
    rooms = {room.key: room for room in cut.above}
    for key, remedy in remedies.items():
        room = rooms.get(key)
        name = f"cut_below_{key}"
        if room is None:
            if key != "check":
                found.append(Check(name, f"The boost cut against {key}. Cannot be told: not computed.", None))
            continue
        words = f"The boost cut lies below {room.words.rstrip(',')}"
        if not math.isfinite(room.pressure):
            found.append(Check(name, f"{words}.", None, (), "State it from the sensor's sheet."))
            continue
        if not math.isfinite(value):
            found.append(
                Check(name, f"{words}: {room.pressure / 1e3:.0f} kPa; there is no cut.", False, (), remedy)
            )
            continue
        holds = value <= room.pressure + 1.0
        found.append(
            Check(
                name, f"{words}: {room.pressure / 1e3:.0f} kPa, cut {value / 1e3:.0f} kPa absolute.", holds,
                (), "" if holds else remedy,
            )
        )  # fmt: skip
    return found


def _tables_reach(tables: dict[str, Table], calibration: Calibration, work: Work) -> Check:
    """Tables, and the controller's own, reach above the cut."""
    value = _cut_value(calibration)
    words = "The tables, and the controller's own last breakpoint, lie above the boost cut."
    if not math.isfinite(value):
        return Check("tables_reach", f"{words} Cannot be told: there is no cut.", None)
    top = float(tables["spark"].axes[1].values[-1])
    own = work.controller.table_top
    holds = top >= value and (own is None or own >= value)
    said = "" if own is None else f", the controller's {own / 1e3:.0f} kPa"
    return Check(
        "tables_reach",
        f"{words} Tables end at {top / 1e3:.0f} kPa{said}; cut {value / 1e3:.0f} kPa.",
        holds,
        (),
        ""
        if holds
        else "Stretch the pressure axis past the cut: beyond its last row the spark stays as it is there.",
    )


def _speed_limit(calibration: Calibration, work: Work) -> Check:
    value = calibration.setting("speed_limit").value
    own = work.build.number("engine.speed_limit")
    holds = value <= 1.05 * own
    return Check(
        "speed_limit",
        f"The speed cut lies no more than 5 % above the engine's own limit of {own * 30 / math.pi:.0f} rpm.",
        holds,
        (),
        "" if holds else "Bring it down: rods and valve springs know the engine's own limit.",
    )

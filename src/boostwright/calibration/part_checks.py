"""What a calibration asks of the parts: injectors, pump, air meter, coil, an even burn, the turbine."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.mixture import TURBINE_SD, turbine_limit
from boostwright.calibration.records import Check, Table
from boostwright.calibration.work import Work
from boostwright.findings.model import Verdict
from boostwright.findings.registry import rules
from boostwright.library.calibration import rule_of
from boostwright.systems.fuel_side import FuelLine
from boostwright.systems.sensing import LoadFrom

__all__ = ["listed", "part_checks"]

_MOST_LISTED: Final = 400
_FULL_SHARE: Final = 0.5  # of the boost asked for, from which a point counts as boosted
_STEP_LEFT: Final = 10.0  # of a temperature, that one step of enrichment may leave over [K]
_PER_LAMBDA: Final = 700.0  # that a richer mixture takes off the exhaust, for each unit of lambda [K]


def listed(key: str, where: NDArray[np.bool_]) -> tuple[tuple[str, int, int], ...]:
    """Places where a two-axis array of one table is true."""
    return tuple((key, int(i), int(j)) for i, j in np.argwhere(where)[:_MOST_LISTED])


def part_checks(tables: dict[str, Table], work: Work, line: FuelLine) -> tuple[Check, ...]:
    """All of them. line: the fuel side at what the tables ask for."""
    return (
        *_fuel(tables, work, line),
        *_meter(work),
        _coil(work),
        _even_burn(work),
        _turbine(tables, work),
    )


def _fuel(tables: dict[str, Table], work: Work, line: FuelLine) -> list[Check]:
    """No visited cell outside what injectors and pump can do; none with a pulse too short to repeat."""
    pulse = tables["injector_pulse"]
    limits = work.case.limits
    duty_most = limits["injector_duty"].amount.value
    least = limits["smallest_pulse"].amount.value
    turns = work.square(4.0 * np.pi / work.grid.speed)
    with np.errstate(invalid="ignore"):
        duty = pulse.value / turns
        over = work.visited & ((duty > duty_most) | ~np.isfinite(pulse.value))
        short = work.visited & (pulse.value < least)
    margin = work.square(line.pump_margin)
    need = limits["pump_reserve"].amount.value
    with np.errstate(invalid="ignore"):
        starved = work.visited & (margin < need)
        boosted = work.visited & np.isfinite(duty)
    highest = float(np.max(duty[boosted], initial=0.0))
    lowest = float(np.min(margin[work.visited & np.isfinite(margin)], initial=99.0))
    return [
        Check(
            "injectors",
            f"No cell that is driven asks more than {100 * duty_most:.0f} % duty of the injectors; highest"
            f" {100 * highest:.0f} %.",
            not over.any(),
            listed("injector_pulse", over),
            "Larger injectors, or less boost: a pulse that does not end lets the mixture go lean."
            if over.any()
            else "",
        ),
        Check(
            "smallest_pulse",
            f"No pulse that is driven is shorter than {least * 1e3:.1f} ms.",
            not short.any(),
            listed("injector_pulse", short),
            "Lower the rail's pressure or fit smaller injectors; light load will hunt."
            if short.any()
            else "",
        ),
        Check(
            "pump",
            f"The pump gives {need:.2f} times what every driven cell needs; least {lowest:.2f} times.",
            not starved.any(),
            listed("injector_pulse", starved),
            "A larger pump, a thicker wire to it, or less boost." if starved.any() else "",
        ),
    ]


def _meter(work: Work) -> list[Check]:
    """The air of every driven cell within what the air meter reads; nothing where none counts the air."""
    if work.controller.load is not LoadFrom.AIR_METER:
        return []
    highest = work.controller.meter_highest
    words = "The air meter reads as far as any driven cell needs."
    if highest is None:
        said = "Cannot be told: nobody has stated how far it reads."
        return [Check("meter", f"{words} {said}", None, (), "State controller.meter_highest from its sheet.")]
    sd = float(work.build["controller.meter_highest"].sd or 0.0)
    air = work.square(work.driven.air_flow)
    with np.errstate(invalid="ignore"):
        over = work.visited & (air > highest - 2.0 * sd)
    most = float(np.nanmax(np.where(work.visited, air, np.nan)))
    return [
        Check(
            "meter",
            f"{words} Most {most * 1e3:.0f} g/s, the meter's end {highest * 1e3:.0f} g/s.",
            not over.any(),
            listed("cylinder_air", over),
            "A larger meter: past its end fuel stands still while air grows." if over.any() else "",
        )
    ]


def _coil(work: Work) -> Check:
    """The finding of the check on plug and coil, which stands on the same trajectory."""
    words = "The coil jumps the plugs' gap in the densest charge of every day."
    rule = next((rule for rule in rules() if rule.code == "ignition.spark_voltage"), None)
    finding = None if rule is None else rule(work.case)
    if finding is None:
        return Check("coil", f"{words} Cannot be told: no gap, no coil or no boost computed.", None)
    holds = {Verdict.HOLDS: True, Verdict.BREAKS: False}.get(finding.verdict)
    told = "" if holds is not None else " Cannot be told for sure."
    return Check("coil", words + told, holds, (), "" if holds else "A narrower gap or a stronger coil.")


def _trajectory(work: Work) -> NDArray[np.bool_]:
    """The cells nearest to full boost of the ordinary day, shape of the grid: half of what is asked or
    more.
    """
    found = np.zeros(work.grid.shape, dtype=bool)
    goal = work.case.goal
    if goal is None:
        return found
    boosted = goal.settled & (goal.boost >= _FULL_SHARE * work.build.number("goal.boost"))
    for n, p in zip(goal.speed[boosted], goal.plenum_pressure[boosted], strict=True):
        i = int(np.argmin(np.abs(work.grid.speeds - n)))
        found[i, int(np.argmin(np.abs(work.grid.pressures - p)))] = True
    return found


def _even_burn(work: Work) -> Check:
    """Where boost is on, the margin of the spark leaves a burn that is even."""
    words = "Where boost is on, the spark with its margin still burns evenly."
    goal = work.case.goal
    if goal is None or not goal.settled.any():
        return Check("even_burn", f"{words} Cannot be told: no boost was computed.", None)
    ca50 = work.square(work.cells.made.result.ca50)
    late = work.case.limits["half_burned_moment"].amount.value
    with np.errstate(invalid="ignore"):
        bad = _trajectory(work) & (ca50 > late)
    return Check(
        "even_burn",
        f"{words} Half burned no later than {math.degrees(late):.0f} degrees after top dead centre.",
        not bad.any(),
        listed("spark", bad),
        "Less boost there, fuel of more octane, or a baseline run and a fit, which narrow the margin."
        if bad.any()
        else "",
    )


def _turbine(tables: dict[str, Table], work: Work) -> Check:
    """Where even the richest useful mixture leaves the turbine too hot."""
    limit, limit_sd = turbine_limit(work.case)
    hot = work.square(work.driven.exhaust_manifold_temperature)
    lam = tables["lambda_target"].value
    more = (lam - work.square(work.cells.lam)) * _PER_LAMBDA
    bearable = limit - work.score * math.hypot(TURBINE_SD, limit_sd)
    with np.errstate(invalid="ignore"):
        bad = _trajectory(work) & (hot + more > bearable + _STEP_LEFT)
    return Check(
        "turbine_heat",
        f"No cell of full boost puts more than {limit - 273.15:.0f} degC into the turbine, with"
        f" {100 * work.probability:.0f} % probability and no mixture richer than"
        f" {rule_of('richest').number:.2f}.",
        not bad.any(),
        listed("lambda_target", bad),
        "Keep full load there short and watch a thermocouple; more octane or less boost lets the spark come"
        " forward."
        if bad.any()
        else "",
    )

"""Plots of the engine over speed: before the turbo, and with it where there is an operating line."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.model import Amount, Kind
from boostwright.findings.result import CheckResult
from boostwright.findings.worst import Line
from boostwright.library.part_spreads import part_spread
from boostwright.systems.engine.types import CycleResult
from boostwright.views.numbers import say
from boostwright.views.plots.bands import band_note, draw_band
from boostwright.views.plots.days import Extreme, draw_days, extreme, lines_of, on_day
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    PAPER,
    WIDE,
    EndName,
    Sheet,
    edge,
    forbid,
    mark_worst,
    name_ends,
    new_sheet,
    speed_axis,
    whole_ticks,
)

__all__ = ["breathing", "fuel_and_residual", "spark", "temperatures", "torque_and_power"]

Array = NDArray[np.float64]
RPM = math.pi / 30.0
DEG = math.pi / 180.0
_HOT_LIMITS = (
    ("exhaust.valve", "limit at the valve"),
    ("exhaust.manifold", "limit after the port"),
    ("exhaust.turbine", "limit at the turbine"),
)


def _at(speed: float) -> str:
    return say(Amount(speed, None, Kind.ENGINE_SPEED))


def torque_and_power(result: CheckResult, foot: str) -> Sheet:
    """Torque and power over speed, before the turbo and with it."""
    base = result.baseline
    rpm, torque, power = base.speeds / RPM, base.result.torque, base.result.power / 1e3
    best, strongest = int(np.nanargmax(torque)), int(np.nanargmax(power))
    per_litre = Amount(float(torque[best]) / result.engine.displacement, None, Kind.TORQUE_PER_VOLUME)
    sentence = (
        f"Before the turbo: greatest torque {say(_torque(torque[best]))} at {_at(base.speeds[best])}"
        f" ({say(per_litre)}), greatest power {say(_power(power[strongest] * 1e3))} at"
        f" {_at(base.speeds[strongest])}."
    )
    days = lines_of(result)
    for words, quantity, amount in (("With it: greatest torque", _torque_of, _torque),
                                    ("greatest power", _power_of, _power)):  # fmt: skip
        most, least = _best_and_poorest(days, quantity)
        if most is None or least is None:
            continue
        sentence += f" {words} {say(amount(most.value))} {on_day(most, days)}"
        if least.day != most.day:
            sentence += f" (poorest: {say(amount(least.value))}, {least.corner})"
        sentence += "," if words.startswith("With") else "."
    sentence += band_note(result, "The pale bands")
    sheet, (upper, lower) = new_sheet(
        "torque_and_power", "Torque and power at full load", sentence, foot, 2, 7.4
    )
    for axis, values, quantity, scale, words in (
        (upper, torque, _torque_of, 1.0, "torque [N m]"),
        (lower, power, _power_of, 1e-3, "power [kW]"),
    ):
        axis.plot(rpm, values, color=GREY, linewidth=1.6)
        field = "torque" if axis is upper else "power"
        draw_band(axis, rpm, result, f"baseline.{field}", scale, colour=GREY)
        draw_band(axis, rpm, result, f"goal.{field}", scale)
        names = [EndName(float(values[-1]), "before the turbo", INK, WIDE)]
        names += draw_days(axis, days, _scaled(quantity, scale), "with turbo")
        axis.lines[0].set(linewidth=4.5, alpha=0.45)
        axis.set_ylim(bottom=0)
        axis.set_ylabel(words)
        name_ends(axis, names)
        most, _ = _best_and_poorest(days, quantity)
        if most is not None:
            mark_worst(axis, most.speed / RPM, scale * most.value, "", INK)
    mark_worst(upper, float(rpm[best]), float(torque[best]), "", INK)
    mark_worst(lower, float(rpm[strongest]), float(power[strongest]), "", INK)
    speed_axis((upper, lower), rpm)
    return sheet


def _scaled(quantity: Callable[[CycleResult], Array], scale: float) -> Callable[[int, Line], Array]:
    return lambda _, day: scale * quantity(day.goal.result)


def _torque_of(cycle: CycleResult) -> Array:
    return np.asarray(cycle.torque)


def _power_of(cycle: CycleResult) -> Array:
    return np.asarray(cycle.power)


def _best_and_poorest(
    days: Sequence[Line], quantity: Callable[[CycleResult], Array]
) -> tuple[Extreme | None, Extreme | None]:
    """The greatest value on the ordinary day, and the least of the greatest values of all days."""
    tops = [extreme([day], lambda _, d: quantity(d.goal.result)) for day in days]
    found = [top._replace(day=k) for k, top in enumerate(tops) if top is not None]
    if not found:
        return None, None
    return found[0], min(found, key=lambda top: top.value)


def _torque(value: float) -> Amount:
    return Amount(float(value), None, Kind.TORQUE)


def _power(value: float) -> Amount:
    return Amount(float(value), None, Kind.POWER)


def breathing(result: CheckResult, foot: str) -> Sheet:
    """Volumetric efficiency and air flow before the turbo."""
    base = result.baseline
    rpm = base.speeds / RPM
    filling = 100 * base.result.volumetric_efficiency
    air = 1e3 * base.result.air_flow
    outside = getattr(base, "volumetric_efficiency_ambient", None)
    best, most = int(np.nanargmax(filling)), int(np.nanargmax(air))
    sentence = (
        f"The cylinders fill best at {_at(base.speeds[best])}, to {filling[best]:.0f} % of the density in"
        f" the plenum; most air passes at {_at(base.speeds[most])}: {air[most]:.0f} g/s."
    )
    sheet, (upper, lower) = new_sheet(
        "breathing",
        "How the engine breathes before the turbo",
        sentence + band_note(result, "The pale bands"),
        foot,
        2,
        5.8,
    )
    draw_band(upper, rpm, result, "baseline.volumetric_efficiency", 100.0, colour=GREY)
    draw_band(lower, rpm, result, "baseline.air_flow", 1e3, colour=GREY)
    upper.plot(rpm, filling, color=INK)
    names = [EndName(float(filling[-1]), "on plenum density")]
    if outside is not None:
        upper.plot(rpm, 100 * outside, color=INK, linestyle=(0, (2, 2)), linewidth=1.2)
        names.append(EndName(float(100 * outside[-1]), "on outside air"))
    whole_ticks(upper)
    upper.set_ylabel("volumetric efficiency [%]")
    name_ends(upper, names)
    mark_worst(upper, float(rpm[best]), float(filling[best]), "", INK)
    lower.plot(rpm, air, color=INK)
    lower.set_ylim(bottom=0)
    lower.set_ylabel("air flow [g/s]")
    name_ends(lower, [EndName(float(air[-1]), "air")])
    mark_worst(lower, float(rpm[most]), float(air[most]), "", INK)
    speed_axis((upper, lower), rpm)
    return sheet


def spark(result: CheckResult, foot: str) -> Sheet:
    """Spark for greatest torque and at the knock limit, and where half of the charge has burned."""
    base = result.baseline
    rpm = base.speeds / RPM
    mbt, knock, used = (-a / DEG for a in (base.mbt_spark, base.knock_spark, base.used_spark))
    retreat = mbt - used
    worst = int(np.nanargmax(retreat))
    if retreat[worst] > 0.05:
        sentence = (
            f"Knock costs most at {_at(base.speeds[worst])}: the spark must stand {retreat[worst]:.0f}"
            " deg later than the one of greatest torque."
        )
    else:
        sentence = "Before the turbo knock does not limit the spark at any speed on this fuel."
    goal = result.goal
    if goal is not None:
        late = (goal.used_spark - goal.mbt_spark) / DEG
        g = int(np.nanargmax(late))
        if late[g] >= 0.5:
            sentence += f" With the turbo it must retreat most at {_at(goal.speed[g])}, by {late[g]:.0f} deg."
        else:
            sentence += " With the turbo knock does not hold it back on the ordinary day."
    sentence += band_note(result, "The pale bands")
    sheet, (upper, lower) = new_sheet(
        "spark", "Spark: greatest torque and knock limit", sentence, foot, 2, 6.2
    )
    draw_band(upper, rpm, result, "baseline.used_spark", -1.0 / DEG, colour=GREY)
    draw_band(upper, rpm, result, "goal.used_spark", -1.0 / DEG)
    draw_band(lower, rpm, result, "baseline.ca50", 1.0 / DEG, colour=GREY)
    draw_band(lower, rpm, result, "goal.ca50", 1.0 / DEG)
    upper.plot(rpm, mbt, color=GREY, linewidth=4.5, alpha=0.45)  # wide and pale: a line upon it shows
    upper.plot(rpm, used, color=INK, marker="s", markersize=4.5, markerfacecolor=PAPER)
    names = [
        EndName(float(mbt[-1]), "greatest torque\n(MBT)", INK, WIDE),
        EndName(float(used[-1]), "used before", INK, "-", "s"),
    ]
    if goal is not None:
        spark_goal = -goal.used_spark / DEG
        upper.plot(goal.speed / RPM, spark_goal, color=BLUE, linestyle=(0, (6, 2)))
        names.append(EndName(float(spark_goal[-1]), "used with turbo", BLUE, (0, (6, 2))))
    low, high = upper.get_ylim()
    upper.set_ylim(min(low, 0.0), high + 0.12 * (high - low))
    forbid(upper, rpm, knock, above=True)
    if np.isfinite(knock).sum() > 1:
        i = int(np.flatnonzero(np.isfinite(knock))[len(np.flatnonzero(np.isfinite(knock))) // 3])
        upper.annotate("knock, before the turbo", (rpm[i], upper.get_ylim()[1]), xytext=(0, -12),
                       textcoords="offset points", fontsize=8.2, color=INK,
                       bbox={"facecolor": "#fbf7ee", "edgecolor": "none", "pad": 1.5})  # fmt: skip
    upper.set_ylabel("spark before\ntop dead centre [deg]")
    name_ends(upper, names)
    if retreat[worst] > 0.05:
        mark_worst(upper, float(rpm[worst]), float(used[worst]))
    half = base.result.ca50 / DEG
    lower.plot(rpm, half, color=INK)
    ends = [EndName(float(half[-1]), "before")]
    if goal is not None:
        half_goal = goal.result.ca50 / DEG
        lower.plot(goal.speed / RPM, half_goal, color=BLUE, linestyle=(0, (6, 2)))
        ends.append(EndName(float(half_goal[-1]), "with turbo", BLUE))
    whole_ticks(lower)
    lower.set_ylabel("half burned, after\ntop dead centre [deg]")
    name_ends(lower, ends)
    speed_axis((upper, lower), rpm)
    return sheet


def temperatures(result: CheckResult, foot: str) -> Sheet:
    """Exhaust gas temperature at the valve, after the port and at the end of the manifold."""
    goal = result.goal
    cycle, speed, state = (
        (result.baseline.result, result.baseline.speeds, "before the turbo")
        if goal is None
        else (goal.result, goal.speed, "with the turbo")
    )
    rpm = speed / RPM
    lines = (
        ("at the valve", cycle.exhaust_valve_temperature, "-"),
        ("after the port", cycle.exhaust_port_temperature, (0, (6, 2))),
        ("end of manifold", cycle.exhaust_manifold_temperature, (0, (2, 2))),
    )
    days = lines_of(result)
    hottest = extreme(days, lambda _, day: day.goal.result.exhaust_valve_temperature)
    if hottest is None:
        hot = int(np.nanargmax(cycle.exhaust_valve_temperature))
        top, at, end = float(cycle.exhaust_valve_temperature[hot]), float(speed[hot]), cycle
        where = f"at {_at(at)}"
    else:
        hot, top, at = hottest.i, hottest.value, hottest.speed
        end, where = days[hottest.day].goal.result, on_day(hottest, days)
    manifold = float(end.exhaust_manifold_temperature[hot])
    below = part_spread("exhaust_probe", "below_gas")
    sentence = (
        f"Hottest {state} {where}: {say(Amount(top, None, Kind.TEMPERATURE))} at the valve,"
        f" {say(Amount(manifold, None, Kind.TEMPERATURE))} at the end of the manifold, where a probe would"
        f" show about {say(Amount(manifold - below, None, Kind.TEMPERATURE))}."
    )
    if len(days) > 1:
        sentence += " The tone about the upper line spans all days."
    at_end = "goal" if goal is not None else "baseline"
    if result.trust is not None:
        sentence += " The blue band holds 90 of 100 draws at the end of the manifold."
    sheet, (axis,) = new_sheet("temperatures", "Exhaust gas temperature at full load", sentence, foot, 1, 5.0)
    draw_band(axis, rpm, result, f"{at_end}.exhaust_manifold_temperature", offset=-273.15)
    if len(days) > 1 and all(day.goal.speed.shape == speed.shape for day in days):
        every = np.stack([day.goal.result.exhaust_valve_temperature - 273.15 for day in days])
        axis.fill_between(rpm, every.min(axis=0), every.max(axis=0), color=GREY, alpha=0.25, linewidth=0)
    names = []
    for words, values, style in lines:
        axis.plot(rpm, values - 273.15, color=INK, linestyle=style)
        names.append(EndName(float(values[-1] - 273.15), words, leader=True))
    if goal is not None:
        before = result.baseline.result.exhaust_valve_temperature - 273.15
        axis.plot(result.baseline.speeds / RPM, before, color=GREY, linewidth=1.0)
        names.append(EndName(float(before[-1]), "valve, before\nthe turbo", GREY, leader=True))
    limits = [
        (f.capacity.value - 273.15, words)
        for f in result.findings
        for code, words in _HOT_LIMITS
        if f.code == code and f.capacity is not None and math.isfinite(f.capacity.value)
    ]
    axis.set_ylabel("gas temperature [degC]")
    speed_axis((axis,), rpm)
    low, high = axis.get_ylim()
    lowest, highest = (f([value for value, _ in limits], default=low + 40.0) for f in (min, max))
    axis.set_ylim(min(low, lowest - 40.0), max(high, highest + 40.0))
    for value, words in limits:
        edge(axis, value)
        names.append(EndName(value, words, leader=True))
    name_ends(axis, names)
    mark_worst(axis, at / RPM, top - 273.15)
    return sheet


def fuel_and_residual(result: CheckResult, foot: str) -> Sheet:
    """Fuel per work and burned gas left in the charge, before the turbo."""
    base = result.baseline
    rpm = base.speeds / RPM
    thirst = base.result.fuel_flow / base.result.power * 3.6e9
    left = 100 * base.result.residual
    best, most = int(np.nanargmin(thirst)), int(np.nanargmax(left))
    sentence = (
        f"Least fuel for the work at {_at(base.speeds[best])}: {thirst[best]:.0f} g/kWh at full load."
        f" Most burned gas stays in the charge at {_at(base.speeds[most])}: {left[most]:.1f} %."
    )
    sheet, (upper, lower) = new_sheet(
        "fuel_and_residual",
        "Fuel per work and burned gas left behind, before the turbo",
        sentence + band_note(result, "The pale bands"),
        foot,
        2,
        5.6,
    )
    for axis, values, words, name in (
        (upper, thirst, "fuel per work [g/kWh]", "brake specific\nfuel"),
        (lower, left, "burned gas in charge [%]", "residual gas"),
    ):
        axis.plot(rpm, values, color=INK)
        if axis is upper:
            draw_band(axis, rpm, result, "baseline.fuel_per_work", 3.6e9, colour=GREY)
        else:
            draw_band(axis, rpm, result, "baseline.residual", 100.0, colour=GREY)
        axis.set_ylabel(words)
        axis.margins(y=0.15)
        if axis is lower:
            axis.set_ylim(bottom=0)
        whole_ticks(axis)
        name_ends(axis, [EndName(float(values[-1]), name)])
    mark_worst(upper, float(rpm[best]), float(thirst[best]), "", INK)
    mark_worst(lower, float(rpm[most]), float(left[most]), "", INK)
    speed_axis((upper, lower), rpm)
    return sheet

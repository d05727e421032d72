"""Plots of the fuel side on every day: injector duty and what the pump has left."""

from __future__ import annotations

import math

from boostwright.findings.model import Finding
from boostwright.findings.result import CheckResult
from boostwright.views.plots.bands import band_note, draw_band
from boostwright.views.plots.days import RPM, draw_days, extreme, lines_of, on_day
from boostwright.views.plots.style import (
    GREY,
    EndName,
    Sheet,
    edge,
    mark_worst,
    name_ends,
    new_sheet,
    speed_axis,
)

__all__ = ["fuel_supply"]


def fuel_supply(result: CheckResult, foot: str) -> Sheet | None:
    """Injector duty above, pump flow over need below, on every day; None without a turbo."""
    days = lines_of(result)
    fuel = () if result.drawing is None else result.drawing.fuel
    if not days or len(fuel) != len(days):
        return None
    duty = extreme(days, lambda k, _: 100.0 * fuel[k].duty)
    pump = extreme(days, lambda k, _: fuel[k].pump_margin, largest=False)
    if duty is None or pump is None:
        return None
    sentence = (
        f"Longest open {on_day(duty, days)}: the injectors stand at {duty.value:.0f} % duty, dead time"
        f" included. The pump has least left {on_day(pump, days)}: {pump.value:.2f} times what the engine"
        " takes."
    )
    sentence += band_note(result, "The pale bands")
    sheet, (upper, lower) = new_sheet(
        "fuel_supply", "Injector duty and pump at full load", sentence, foot, 2, 6.8
    )
    rpm = days[0].goal.speed / RPM
    draw_band(upper, rpm, result, "goal.duty", 100.0)
    draw_band(lower, rpm, result, "goal.pump_margin")
    names = draw_days(upper, days, lambda k, _: 100.0 * fuel[k].duty, "duty")
    limit = _limit(result, "fuel.injector_duty")
    most = max(100.0 if duty.value > 90.0 else 0.0, 1.08 * duty.value)
    upper.set_ylim(0.0, most if limit is None else max(most, 100.0 * limit + 8.0))
    upper.set_ylabel("injector duty [%]")
    below = draw_days(lower, days, lambda k, _: fuel[k].pump_margin, "pump over\nneed")
    # beyond some three times what is left at worst nobody wants to know by how much
    lower.set_ylim(min(0.9, 0.95 * pump.value), 1.0 + 3.0 * max(pump.value - 1.0, 0.3))
    lower.set_ylabel("pump flow over\nneed, ratio")
    speed_axis((upper, lower), rpm)
    if limit is not None:
        edge(upper, 100.0 * limit)
        names.append(EndName(100.0 * limit, "most useful duty", leader=True))
    lower.axhspan(lower.get_ylim()[0], 1.0, facecolor="none", hatch="////", linewidth=0.0, zorder=0.5,
                  edgecolor=GREY)  # fmt: skip
    lower.axhline(1.0, color=GREY, linewidth=0.8)
    name_ends(upper, names)
    name_ends(lower, [*below, EndName(1.0, "need", leader=True)])
    mark_worst(upper, duty.speed / RPM, duty.value)
    mark_worst(lower, pump.speed / RPM, pump.value)
    return sheet


def _limit(result: CheckResult, code: str) -> float | None:
    for finding in result.findings:
        if finding.code == code and _known(finding):
            assert finding.capacity is not None
            return finding.capacity.value
    return None


def _known(finding: Finding) -> bool:
    return finding.capacity is not None and math.isfinite(finding.capacity.value)

"""The breathing correction of a drive as far as the fields of the build do not hold it already."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from boostwright.build.document import Build
from boostwright.calibration.breathing import Breathing
from boostwright.drive.learned import Learned, learned_build
from boostwright.systems.stated.engine import factors_of

__all__ = ["charge_left"]


_FIELDS: Final = ("breathing", "breathing_slope", "breathing_curve")


def charge_left(build: Build, learned: Learned) -> Breathing:
    """What is left of the charge's factor for tables that are made of the build with what a drive taught.

    build: the one that is to be given what was learned, fitted or not. The map that was learned is a factor
    on the charge of the build that the drive was set beside; level, slope and curve of breathing move with
    the build's own fields (`learned_build`), so their moves are divided out, and what the drive read from
    place to place is left.
    """
    chart = learned.breathing
    taken = learned_build(build, learned)
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    lines = {line.name: line for line in learned.fields}
    for name in _FIELDS:
        line = lines.get(f"model.{name}")
        if line is not None:
            moved = taken.number(line.name) == line.after  # else the drive told nothing of it, and it stays
            before[name], after[name] = line.before, line.after if moved else line.before
    factors = factors_of(build)
    own = replace(factors, **after).breathing_at(chart.speed)
    own = own / replace(factors, **before).breathing_at(chart.speed)
    log_sd = chart.sd / chart.factor
    return Breathing(
        chart.speed, chart.pressure, chart.factor / own[:, None], log_sd, chart.covered.astype(bool)
    )

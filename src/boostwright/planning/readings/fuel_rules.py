"""Expected ranges of rail pressure and mixture."""

from __future__ import annotations

import math
from dataclasses import replace

from boostwright.library.expected import expected_constant
from boostwright.physics.fuel_line import Reference
from boostwright.planning.readings.engine_rules import idle_manifold_pressure
from boostwright.planning.readings.ground import Expected, Ground

__all__ = ["full_load_lambda", "rail_dip", "rail_hose_off", "rail_idle", "rail_static"]


_FALLS = (
    "The file says that the regulator does not follow the manifold (regulator.reference), and the rail falls"
    " at idle as one that does; or pump, filter or regulator lose pressure. Pull the hose off and plug it:"
    " back at its static pressure, it follows the manifold, and regulator.reference is to be corrected; still"
    " low, find the loss."
)
_STAYS = (
    "The file says that the regulator follows the manifold (regulator.reference), and the rail does not fall"
    " at idle: its hose is off, split or on the wrong side of the throttle, or it does not follow at all, and"
    " regulator.reference is to be corrected."
)


def rail_static(ground: Ground) -> Expected:
    """The regulator's own pressure: that before the conversion where the file states it, else the planned."""
    build, share = ground.build, expected_constant("regulator")
    path = "baseline.fuel_pressure" if build.is_stated("baseline.fuel_pressure") else "regulator.pressure"
    value = build[path]
    pressure = float(value.value)
    where = f"the build file, line {value.line}" if value.line else f"class default: {value.note}"
    return Expected.band(
        pressure,
        math.hypot(float(value.sd or 0.0), share.sd * pressure),
        "The pressure that the regulator is set to: with the engine off nothing sucks at it.",
        f"{where}; {share.source}",
        (path,),
    )


def _static(ground: Ground) -> tuple[float, float]:
    """Static pressure, as read if it was, and its standard deviation [Pa]."""
    read = ground.others.get("rail_pressure_static")
    if read is not None:
        return read, 6e3
    model = rail_static(ground)
    return float(model.middle or 0.0), float(model.sd or 0.0)


def rail_idle(ground: Ground) -> Expected:
    """p = p_static - (p_air - p_manifold) where the regulator follows the manifold, else p_static."""
    build = ground.build
    static, sd = _static(ground)
    about = ("regulator.reference", "regulator.pressure")
    if build.words("regulator.reference") != Reference.MANIFOLD.value:
        why = "The regulator follows the air around: idle changes nothing."
        band = Expected.band(static, math.hypot(sd, 5e3), why, "computed from the stated reference", about)
        return replace(band, if_low=_FALLS)
    read = ground.others.get("idle_manifold_pressure")
    model = idle_manifold_pressure(ground)
    manifold, spread = (
        (read, 2e3) if read is not None else (float(model.middle or 0.0), float(model.sd or 0.0))
    )
    band = Expected.band(
        static - (build.barometer - manifold),
        math.hypot(sd, spread, 5e3),
        "The regulator follows the manifold: static pressure less the vacuum of the plenum.",
        "computed from the stated reference",
        (*about, *model.about),
    )
    return replace(band, if_high=_STAYS)


def rail_hose_off(ground: Ground) -> Expected:
    """Static pressure, whatever the reference."""
    static, sd = _static(ground)
    return Expected.band(
        static,
        math.hypot(sd, 5e3),
        "With the hose off, every regulator shows its static pressure.",
        "computed from the static pressure",
        ("regulator.pressure",),
    )


def rail_dip(ground: Ground) -> Expected | None:
    """A little under the static pressure where the rail does not follow the manifold, else nothing."""
    if ground.build.words("regulator.reference") == Reference.MANIFOLD.value:
        return None
    static, sd = _static(ground)
    dip = expected_constant("rail_dip")
    return Expected.band(
        static * (1.0 - dip.value),
        math.hypot(sd, dip.sd * static),
        "A rail that does not follow the manifold stands still, but for a short dip.",
        dip.source,
        ("regulator.reference", "regulator.pressure"),
    )


def full_load_lambda(ground: Ground) -> Expected:
    """Stated or usual mixture at full load before the conversion."""
    probe, value = expected_constant("probe"), ground.build["fuel.lambda_full_load"]
    where = f"the build file, line {value.line}" if value.line else f"class default: {value.note}"
    return Expected.band(
        float(value.value),
        math.hypot(float(value.sd or 0.0), probe.sd),
        "Mixture at full load as delivered.",
        f"{where}; {probe.source}",
        ("fuel.lambda_full_load",),
    )

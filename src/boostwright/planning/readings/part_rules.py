"""Expected ranges of parts in the hand and of what is counted while the car is apart."""

from __future__ import annotations

import math

from boostwright.build.document import Build
from boostwright.physics.fuel_line import Reference
from boostwright.physics.pump import pump_flow
from boostwright.planning.readings.engine_rules import limit_of
from boostwright.planning.readings.ground import Expected, Ground
from boostwright.systems.stated.fuel_side import fuel_side_of
from boostwright.systems.stated.hot_zone import neighbours_of

__all__ = [
    "caps_out",
    "charge_leak_from",
    "gate_crack",
    "gate_travel",
    "injector_flow",
    "plug_gap",
    "strip_temperatures",
    "timed_fuel_flow",
]

_ZERO = 273.15  # of the Celsius scale [K]


def _as_filed(build: Build, path: str, share: float, why: str) -> Expected | None:
    """The stated or usual value with its spread and a share more; None where there is none."""
    value = build.get(path)
    if value is None:
        return None
    number = float(value.value)
    where = f"the build file, line {value.line}" if value.line else f"class default: {value.note}"
    sd = math.hypot(float(value.sd or 0.0), share * number)
    return Expected.band(number, sd, why, where, (path,))


def gate_crack(ground: Ground) -> Expected | None:
    """The spring as the file states it."""
    return _as_filed(ground.build, "wastegate.spring", 0.05, "The spring that the verdict rests on.")


def gate_travel(ground: Ground) -> Expected | None:
    """The rod's travel as the file states it."""
    return _as_filed(ground.build, "wastegate.rod_travel", 0.05, "The travel that the gate's port rests on.")


def plug_gap(ground: Ground) -> Expected | None:
    """The gap as the file states it."""
    return _as_filed(ground.build, "ignition.plug_gap", 0.05, "The gap that the spark's voltage rests on.")


def injector_flow(ground: Ground) -> Expected | None:
    """The flow as the file states it; None where it does not."""
    return _as_filed(ground.build, "injectors.flow", 0.02, "The flow that the fuel side rests on.")


def timed_fuel_flow(ground: Ground) -> Expected | None:
    """The pump's curve at rail pressure with the boost asked for, at its own voltage; None without a flow."""
    build = ground.build
    if build.get("pump.flow") is None:
        return None
    pressure = build.number("regulator.pressure")
    if build.words("regulator.reference") == Reference.MANIFOLD.value:
        pressure += build.number("goal.boost")
    flow = float(pump_flow(fuel_side_of(build).pump, pressure, build.number("pump.voltage")))
    if not flow > 0.0:
        return None
    return Expected.band(
        flow,
        0.08 * flow,
        "The pump's curve at the pressure of a pull and at its own voltage.",
        "computed from the stated pump; spread 8 %, judgement",
        ("pump.flow", "pump.voltage", "regulator.pressure", "goal.boost"),
    )


def charge_leak_from(ground: Ground) -> Expected | None:
    """About the boost that is asked for: less shows no leak of that pressure, more bursts hoses."""
    boost = ground.build.get("goal.boost")
    if boost is None:
        return None
    wanted = float(boost.value)
    return Expected.band(
        wanted, 0.15 * wanted, "A leak shows at the boost that is asked for.", "common practice, no source",
        ("goal.boost",)
    )  # fmt: skip


def caps_out(ground: Ground) -> Expected | None:
    """As many caps come out as went in; None where nobody counted them."""
    gone_in = ground.others.get("caps_in")
    if gone_in is None:
        return None
    return Expected(gone_in, gone_in, None, None, "Every cap that went in comes out.", "the count on record")


def strip_temperatures(ground: Ground) -> Expected | None:
    """At most what the strongest of the named neighbours stands for long, with what each stands in words;
    None where the file names no neighbour. A reading does not say which of them it was taken at.
    """
    neighbours = neighbours_of(ground.build)
    if not neighbours:
        return None
    from boostwright.findings.subjects.neighbours import limit_key  # what computes is not loaded to print

    limits = [limit_of(ground.build, limit_key(ground.build, one.kind)).amount for one in neighbours]
    each = ", ".join(
        f"{one.what} {limit.value - _ZERO:.0f} degC" for one, limit in zip(neighbours, limits, strict=True)
    )
    return Expected(
        None,
        max(limit.value for limit in limits),
        None,
        None,
        f"Printed is the most that any named neighbour stands for long. EACH HAS ITS OWN: {each}.",
        "limits of 'neighbours.heat'",
        ("neighbours[].kind", "car.brake_fluid"),
    )

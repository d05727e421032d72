"""The wastegate that a build states."""

from __future__ import annotations

import math
from typing import Final

from boostwright.build.document import Build
from boostwright.library.gate_parts import gate_constant, gate_flow
from boostwright.systems.wastegate import Control, Gate, GateSpread, Tap

__all__ = ["gate_of"]

_UNIFORM: Final = 1 / math.sqrt(12)  # standard deviation of an even spread over its width


def gate_of(build: Build) -> Gate:
    """The gate as the match sees it; what the file leaves out is assumed with its spread.

    The spring is what a hand pump shows, so its preload follows from the diaphragm. Its stiffness is the one
    stated, or what the bench shows at full stroke, or the usual one. An external valve sits on the rod and
    has no levers. A restrictor and a vent that are both stated replace the usual share that a bleed takes
    away.
    """
    external = build.words("wastegate.type") == "external"
    flow, flow_sd = gate_flow("poppet" if external else "flap")
    diameter, diameter_sd = _number(build, "wastegate.diaphragm_diameter")
    effective, fall = gate_constant("diaphragm", "effective"), gate_constant("diaphragm", "fall")
    area = effective.value * math.pi / 4 * diameter**2
    pulse, dead, full = (
        gate_constant("exhaust", "pulse_share"),
        gate_constant("signal", "dead"),
        gate_constant("signal", "full"),
    )
    crack, crack_sd = _number(build, "wastegate.spring")
    rate, rate_sd = _number(build, "wastegate.spring_rate")
    bench_full, bench_full_sd = _bench_full(build, crack)
    if bench_full is not None:
        rate_sd = 0.0
    travel, travel_sd = _number(build, "wastegate.rod_travel")
    port, port_sd = _number(build, "wastegate.valve_diameter")
    rod, rod_sd = (1.0, 0.0) if external else _number(build, "wastegate.rod_arm")
    valve, valve_sd = (1.0, 0.0) if external else _number(build, "wastegate.valve_arm")
    control = _control(build)
    gain = gate_constant("signal", "three_port_gain" if control is Control.THREE_PORT else "bleed_gain")
    pulsed = build.words("wastegate.control") == "solenoid"
    return Gate(
        bench_crack=crack,
        diaphragm_area=area,
        port_diameter=port,
        rod_travel=travel,
        flow=flow,
        rate=rate,
        bench_full=bench_full,
        area_fall=fall.value,
        rod_arm=rod,
        valve_arm=valve,
        control=control,
        duty=_duty(build),
        tap=Tap.PLENUM if build.words("wastegate.signal") == "plenum" else Tap.COMPRESSOR_OUTLET,
        gain=gain.value,
        vent_over_inlet=_orifices(build, control),
        dead=dead.value if pulsed else 0.0,
        full=full.value if pulsed else 1.0,
        pulse_share=pulse.value,
        spread=GateSpread(
            bench_crack=crack_sd,
            bench_full=bench_full_sd,
            rate=rate_sd,
            diaphragm_area=area * math.hypot(2 * diameter_sd / diameter, effective.sd / effective.value),
            area_fall=0.0 if bench_full is not None else fall.sd,
            port_diameter=port_sd,
            rod_travel=travel_sd,
            rod_arm=rod_sd,
            valve_arm=valve_sd,
            curtain=flow_sd.curtain,
            port=flow_sd.port,
            hysteresis=gate_constant("diaphragm", "hysteresis").value * _UNIFORM,
            pulse_share=pulse.sd,
            gain=gain.sd if control is not Control.SPRING else 0.0,
            dead=dead.sd if pulsed else 0.0,
            full=full.sd if pulsed else 0.0,
        ),
    )


def _number(build: Build, path: str) -> tuple[float, float]:
    """A value and its standard deviation."""
    stated = build[path]
    return float(stated.value), float(stated.sd or 0.0)


def _bench_full(build: Build, crack: float) -> tuple[float | None, float]:
    """The bench reading at full stroke, unless a stiffness is stated or it does not lie above the spring."""
    if build.is_stated("wastegate.spring_rate") or not build.is_stated("wastegate.full_open"):
        return None, 0.0
    value, sd = _number(build, "wastegate.full_open")
    return (value, sd) if value > crack else (None, 0.0)


def _control(build: Build) -> Control:
    words = build.words("wastegate.control")
    if words == "spring":
        return Control.SPRING
    if words == "solenoid" and build.words("wastegate.solenoid") == "three-port":
        return Control.THREE_PORT
    return Control.BLEED


def _duty(build: Build) -> float | None:
    """The setting of a bleed valve turned by hand; None where a controller finds it, or nobody said."""
    if build.words("wastegate.control") != "bleed" or not build.is_stated("wastegate.bleed"):
        return None
    return build.number("wastegate.bleed")


def _orifices(build: Build, control: Control) -> float | None:
    """Area of the vent over that of the restrictor, where both bores are stated."""
    both = build.is_stated("wastegate.restrictor") and build.is_stated("wastegate.vent")
    if control is not Control.BLEED or not both:
        return None
    return (build.number("wastegate.vent") / build.number("wastegate.restrictor")) ** 2

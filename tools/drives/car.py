"""The invented car: sizes and aims out of a build file, and our own for what no build file states."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright import load_build

R = 287.0
CP = 1005.0
CP_EX = 1180.0
GAMMA_EX = 1.32
HEATING = 43.5e6  # J/kg, petrol without alcohol; Heywood 1988 appendix D, from memory
DENSITY = 745.0  # kg/m3


class Car(NamedTuple):
    """One car. SI throughout."""

    displacement: float
    cylinders: float
    compression: float
    top: float  # speed limit [rad/s]
    idle: float
    p_a: float
    t_a: float
    boost: float  # aim, gauge [Pa]
    boost_from: float  # [rad/s]
    cut: float  # boost cut, absolute
    loop_below: float
    lam_full: float
    lam_boost: float
    afr: float
    heating: float
    q_injector: float  # kg/s at the regulator's pressure
    dead_time: float
    rail: float  # regulator [Pa over manifold]
    wheel: float  # compressor, outer diameter [m]
    v_pipe: float
    v_plenum: float
    v_exhaust: float
    a_throttle: float
    a_turbine: float
    a_gate: float
    a_blow: float
    blow_opens: float
    spring: float
    j_turbo: float
    inertance: float  # length over area of the charge pipe [1/m]
    k_filter: float
    k_tail: float
    cooler: float
    oil_relief: float
    oil_rate: float  # Pa per rad/s at 100 degC
    t_thermostat: float
    mass: float
    wheel_radius: float
    drag_area: float
    rolling: float
    final: float
    gears: NDArray[np.float64]
    clutch: float
    j_engine: float
    j_wheels: float
    efficiency: float  # driveline
    burn: float  # gross indicated efficiency at MBT, lambda 1


def _tyre_radius(words: str) -> float:
    """Free radius from '185/60 R14' [m]."""
    found = re.match(r"\s*(\d+)\s*/\s*(\d+)\s*Z?R?\s*(\d+)", words)
    if found is None:
        return 0.30
    width, aspect, rim = (float(part) for part in found.groups())
    return (width * aspect / 100.0 * 2.0 + rim * 25.4) / 2000.0


def _turbine_area(m_air: float, ratio: float, p_a: float, t_a: float, lam_afr: float) -> float:
    """Orifice area of the turbine that just carries the compressor with the gate shut [m2].

    Power balance and the equation of compressible flow through an orifice (Saint-Venant and Wantzel 1839).
    """
    power = m_air * CP * t_a * (ratio ** (R / CP) - 1.0) / 0.70
    m_gas = m_air * (1.0 + 1.0 / lam_afr)
    k = (GAMMA_EX - 1.0) / GAMMA_EX
    drop = power / (m_gas * CP_EX * 1050.0 * 0.62 * 0.95)
    pressure = (1.0 - drop) ** (-1.0 / k)
    r = 1.0 / pressure
    flow = math.sqrt(2.0 / k * (r ** (2.0 / GAMMA_EX) - r ** (1.0 + 1.0 / GAMMA_EX)))
    return m_gas * math.sqrt(R * 1050.0) / (pressure * p_a * 1.02 * flow)


def read_car(build_file: str | Path) -> tuple[Car, dict[str, str]]:
    """The car of a build file, and what of the file was set aside and why.

    The car is sound: what a build states is taken as far as a sound car can have it. Raises what `load_build`
    raises.
    """
    build = load_build(build_file)
    aside: dict[str, str] = {}

    def number(path: str, otherwise: float) -> float:
        found = build.get(path)
        if found is None or not isinstance(found.value, (int, float)):
            aside[path] = f"not stated; {otherwise:g} taken"
            return otherwise
        return float(found.value)

    volume = number("engine.displacement", 1.8e-3)
    top = number("engine.speed_limit", 650.0)
    p_a, t_a = number("place.barometer", 100e3), number("place.temperature", 293.15)
    boost = min(max(number("goal.boost", 40e3), 25e3), 100e3)
    boost_from = min(max(number("goal.boost_by", 0.55 * top), 0.38 * top), 0.65 * top)
    ethanol = number("fuel.ethanol", 0.05)
    afr = 14.7 * (1.0 - ethanol) + 9.0 * ethanol  # mass shares, near enough for a recorded drive
    lam_boost = min(number("fuel.lambda_boost", 0.80), 0.86)
    flow_at = lambda w, p: 0.88 * p * volume * w / (4.0 * math.pi) / (R * 318.0)  # noqa: E731
    most = flow_at(0.96 * top, p_a + boost) / (afr * lam_boost) / number("engine.cylinders", 4.0)
    rail = number("regulator.pressure", 300e3)
    stated = (
        number("injectors.flow", 7e-6) * DENSITY * math.sqrt(rail / number("injectors.flow_pressure", 300e3))
    )
    cylinder_time = 4.0 * math.pi / (0.96 * top)
    needed = most * cylinder_time / (0.80 * cylinder_time - 1.0e-3)
    if stated < needed:
        aside["injectors.flow"] = f"{stated:.4g} kg/s is too little for a sound car; {needed:.4g} kg/s taken"
    if build.get("regulator.reference") is not None and build["regulator.reference"].value != "manifold":
        aside["regulator.reference"] = "the drive's car has a rail that follows the manifold"
    bore = number("pipes.bore", 0.055)
    area = math.pi / 4.0 * bore**2
    at_threshold = flow_at(0.80 * boost_from, p_a + boost)
    a_turbine = _turbine_area(at_threshold, (p_a + boost + 4e3) / (p_a - 1e3), p_a, t_a, afr * lam_boost)
    wheel = max(
        number("turbo.compressor_exducer", 0.054), 0.052 * math.sqrt(flow_at(top, p_a + boost) / 0.12)
    )
    idle, at_3000 = number("engine.oil_pressure_idle", 1.4e5), number("engine.oil_pressure_3000", 4e5)
    if idle < 1.0e5 or at_3000 < 3.0e5:
        aside["engine.oil_pressure_idle"] = "too low for a sound car; 1.4 and 4 bar taken"
        idle, at_3000 = 1.4e5, 4.0e5
    diameter, lift = number("blow_off.diameter", 0.025), number("blow_off.lift", 0.007)
    relief = at_3000 * 1.12
    m_top = flow_at(top, p_a + boost)
    gears = build["car.gears"].value if build.get("car.gears") is not None else (3.5, 2.0, 1.35, 1.0, 0.8)
    car = Car(
        displacement=volume,
        cylinders=float(min(int(number("engine.cylinders", 4.0)), 6)),
        compression=number("engine.compression_ratio", 9.5),
        top=top,
        idle=number("engine.idle_speed", 89.0),
        p_a=p_a,
        t_a=t_a,
        boost=boost,
        boost_from=boost_from,
        cut=max(number("controller.boost_cut", p_a + boost + 25e3), p_a + boost + 15e3),
        loop_below=min(number("controller.closed_loop_below", 85e3), 0.88 * p_a),
        lam_full=number("fuel.lambda_full_load", 0.89),
        lam_boost=lam_boost,
        afr=afr,
        heating=HEATING * (1.0 - ethanol) + 26.8e6 * ethanol,
        q_injector=max(stated, needed),
        dead_time=number("injectors.dead_time", 1.0e-3),
        rail=rail,
        wheel=wheel,
        v_pipe=0.0035 + area * number("pipes.length", 2.2),
        v_plenum=1.6 * volume,
        v_exhaust=max(number("manifold.volume", 2.5e-3), 1.5e-3),
        a_throttle=math.pi / 4.0 * 0.058**2 * 0.85 * (volume / 1.8e-3) ** 0.5,
        a_turbine=a_turbine,
        a_gate=1.3 * a_turbine,
        a_blow=max(0.6 * math.pi * diameter * lift, 2.8e-4 * volume / 1.7e-3),  # a sound car does not surge
        blow_opens=min(number("blow_off.opens_at", 9e3), 9e3),
        spring=min(number("wastegate.spring", 0.7 * boost), 0.8 * boost),
        j_turbo=2.2e-5 * (wheel / 0.0545) ** 5,  # grows as the fifth power of size; the figure from memory
        inertance=1.2 / area,
        k_filter=number("pipes.filter_loss", 1.6e3) / m_top**2,
        k_tail=min(number("exhaust.back_pressure", 10e3), 25e3) / m_top**2,
        cooler=min(max(number("cooler.effectiveness", 0.7), 0.6), 0.85),
        oil_relief=relief,
        oil_rate=idle / 89.0,
        t_thermostat=min(max(number("engine.coolant_temperature", 363.0), 358.0), 368.0),
        mass=number("car.mass", 1200.0),
        wheel_radius=0.97 * _tyre_radius(str(build["car.tyre"].value) if build.get("car.tyre") else ""),
        drag_area=min(number("car.drag_area", 0.68), 0.8),
        rolling=0.012,
        final=number("car.final_drive", 4.0),
        gears=np.array([0.0, *gears], dtype=np.float64),
        clutch=max(number("clutch.torque", 300.0), 1.6 * 100.0 * volume / 1e-3 * (p_a + boost) / 100e3),
        j_engine=0.15 * (volume / 1.8e-3),
        j_wheels=3.2,
        efficiency=0.92,
        burn=0.78 * (1.0 - number("engine.compression_ratio", 9.5) ** -0.30),
    )
    return car, aside

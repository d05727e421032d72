"""From an engine and its mixtures to the tables that the compiled cycle reads."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.flame_geometry import flame_table
from boostwright.physics.flame_speed import blend_law
from boostwright.physics.gas import Mixture, mixture
from boostwright.physics.kernels.records import CylinderTables, GasTables
from boostwright.physics.slider_crank import cylinder_volume, volume_slope
from boostwright.physics.valves import EXHAUST_PORT, INTAKE_PORT, PortCoefficient, cam_lift, effective_area
from boostwright.systems.engine.types import EngineGeometry, Fuel, ValveTrain

__all__ = ["cylinder_tables", "gas_tables", "mixtures", "valve_areas"]

Array = NDArray[np.float64]

NODES = 1440  # crank-angle nodes of a cycle; the cubic between them is good to 1e-8 of the swept volume
SETTLING = np.radians(15.0)  # after the overlap, until the port's pressure has settled


def _check_valve_events(engine: EngineGeometry) -> None:
    """Refuse timings that the order compress, burn, expand, exchange cannot hold."""
    deg = np.degrees
    checks = (
        (engine.exhaust.opens, 0.35 * np.pi, np.pi, "exhaust opening", "63 to 180 degrees after firing TDC"),
        (engine.intake.closes, 3.0 * np.pi, 3.75 * np.pi, "intake closing", "0 to 135 degrees after BDC"),
        (engine.intake.opens, 1.5 * np.pi, 2.5 * np.pi, "intake opening", "within 90 degrees of TDC"),
        (engine.exhaust.closes, 1.5 * np.pi, 2.5 * np.pi, "exhaust closing", "within 90 degrees of TDC"),
    )
    for value, low, high, name, words in checks:
        if not low < value < high:
            raise OutOfRange(
                f"{name} at {deg(value):.0f} degrees crank (0 = firing TDC); the cycle takes {words}. "
                "Check whether the cam card means another lift or another dead centre."
            )


def valve_areas(valves: ValveTrain, port: PortCoefficient, theta: Array) -> Array:
    """Effective area of one side's valves [m2] at crank angles ``theta`` [rad]."""
    lift = cam_lift(theta, valves.opens, valves.closes, valves.lift, valves.cam_powers)
    return effective_area(lift, valves.diameter, valves.count, port, valves.flow_factor)


@lru_cache(maxsize=64)
def cylinder_tables(engine: EngineGeometry, burn_factor: float = 1.0) -> CylinderTables:
    """Tables of one engine over the crank angle; ``burn_factor`` multiplies the turbulence intensity [-].

    Raises OutOfRange for valve timings that the cycle cannot hold.
    """
    _check_valve_events(engine)
    ivc = engine.intake.closes
    theta0 = ivc - 4 * np.pi
    step = 4 * np.pi / NODES
    theta: Array = theta0 + step * np.arange(NODES + 1, dtype=np.float64)
    small = 1.0e-4
    area = 0.25 * np.pi * engine.bore**2

    def table(valves: ValveTrain, port: PortCoefficient) -> tuple[Array, Array]:
        value = valve_areas(valves, port, theta)
        slope = (valve_areas(valves, port, theta + small) - valve_areas(valves, port, theta - small)) / (
            2 * small
        )
        return np.ascontiguousarray(value), np.ascontiguousarray(slope)

    intake, intake_slope = table(engine.intake, INTAKE_PORT)
    exhaust, exhaust_slope = table(engine.exhaust, EXHAUST_PORT)
    last = max(engine.exhaust.closes, engine.intake.opens) + SETTLING
    marks = {engine.exhaust.opens, np.pi, engine.intake.opens, engine.exhaust.closes, last, 3 * np.pi}
    edges = np.array([*sorted(m for m in marks if engine.exhaust.opens <= m < ivc), ivc])
    middle = 0.5 * (edges[1:] + edges[:-1])
    first = min(engine.intake.opens, engine.exhaust.closes)
    part = np.select([middle < np.pi, middle < first, middle < last], [0.0, 1.0, 2.0], 3.0)
    flame = flame_table(engine.plug_offset)
    runner = engine.runner_length > 0.0
    return CylinderTables(
        theta0=theta0,
        dtheta=step,
        volume=np.ascontiguousarray(
            cylinder_volume(theta, engine.bore, engine.stroke, engine.rod, engine.compression_ratio)
        ),
        volume_slope=np.ascontiguousarray(volume_slope(theta, engine.bore, engine.stroke, engine.rod)),
        intake_area=intake,
        intake_slope=intake_slope,
        exhaust_area=exhaust,
        exhaust_slope=exhaust_slope,
        evo=engine.exhaust.opens,
        intake_opens=engine.intake.opens,
        edges=edges,
        part=part,
        ivc=ivc,
        intake_reverse=INTAKE_PORT.reverse,
        exhaust_reverse=EXHAUST_PORT.reverse,
        bore=engine.bore,
        stroke=engine.stroke,
        swept=engine.swept_volume,
        clearance=engine.clearance_volume,
        piston_area=engine.piston_area_ratio * area,
        head_area=engine.head_area_ratio * area,
        liner_offset=4.0e-3,
        bore_area=area,
        ln_disc=float(np.log(area * 0.5 * engine.bore)),
        runner_length=engine.runner_length,
        runner_area=engine.runner_area,
        port_volume=engine.port_volume if runner else 0.0,
        runner_loss=engine.runner_loss,
        tumble=engine.tumble * burn_factor,
        kernel_radius=engine.kernel_radius,
        flame_lnh0=flame.ln_h0,
        flame_dlnh=flame.dln_h,
        flame_area=flame.area,
        flame_radius=flame.radius,
    )


def mixtures(fuel: Fuel, lam: Array) -> tuple[list[Mixture], NDArray[np.int64]]:
    """The distinct mixtures of ``lam`` (n,) with this fuel, and the row of each point (n,)."""
    if (lam == lam[0]).all():
        one = mixture(float(np.round(lam[0], 9)), fuel.ethanol_share, fuel.petrol_heating_value)
        return [one], np.zeros(lam.size, dtype=np.int64)
    values, rows = np.unique(np.round(lam, 9), return_inverse=True)
    found = [mixture(float(v), fuel.ethanol_share, fuel.petrol_heating_value) for v in values]
    return found, rows.astype(np.int64)


@lru_cache(maxsize=64)
def gas_tables(fuel: Fuel, lam: tuple[float, ...]) -> GasTables:
    """Side-by-side arrays of the mixtures of a fuel at several lambdas [-]; not to be written to."""
    found = [mixture(v, fuel.ethanol_share, fuel.petrol_heating_value) for v in lam]

    def stack(values: list[float]) -> Array:
        return np.ascontiguousarray(values, dtype=np.float64)

    def pile(values: list[Array]) -> Array:
        return np.ascontiguousarray(np.stack(values))

    ratio = stack([m.lam for m in found])
    law = blend_law(1.0 / ratio, np.array([m.ethanol_share for m in found]))
    table = found[0].table
    return GasTables(
        R_f=stack([m.R_f for m in found]),
        R_b=stack([m.R_b for m in found]),
        h0_f=stack([m.h0_f for m in found]),
        h0_b=stack([m.h0_b for m in found]),
        cp_f=pile([m.cp_f for m in found]),
        cp_b=pile([m.cp_b for m in found]),
        h_f=pile([m.cp_f / np.arange(1, 8) for m in found]),
        h_b=pile([m.cp_b / np.arange(1, 8) for m in found]),
        T0=table.T0,
        dT=table.dT,
        lnp0=table.lnp0,
        dlnp=table.dlnp,
        h_spline=pile([m.table.h_spline for m in found]),
        r_spline=pile([m.table.r_spline for m in found]),
        fuel_fraction=stack([m.fuel_fraction for m in found]),
        lhv=stack([m.lhv for m in found]),
        lam=ratio,
        flame_speed=np.ascontiguousarray(np.atleast_1d(law.speed)),
        flame_T=np.ascontiguousarray(np.atleast_1d(law.T_exponent)),
        flame_p=np.ascontiguousarray(np.atleast_1d(law.p_exponent)),
        burned_moles=stack([m.R_b / m.R_f for m in found]),
    )

"""The arrays over speed that leave the house, and the SI unit of each."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["CYCLE_UNITS", "GATE_UNITS", "GOAL_UNITS", "PULL_UNITS"]

CYCLE_UNITS: Mapping[str, str] = {
    "torque": "N m",
    "power": "W",
    "imep": "Pa",
    "pmep": "Pa",
    "fmep": "Pa",
    "bmep": "Pa",
    "air_flow": "kg/s",
    "fuel_flow": "kg/s",
    "volumetric_efficiency": "1",
    "residual": "1",
    "trapped_mass": "kg",
    "charge_temperature": "K",
    "peak_pressure": "Pa",
    "peak_angle": "rad",
    "ca10": "rad",
    "ca50": "rad",
    "ca90": "rad",
    "peak_burned_temperature": "K",
    "peak_unburned_temperature": "K",
    "exhaust_valve_temperature": "K",
    "exhaust_port_temperature": "K",
    "exhaust_manifold_temperature": "K",
    "wall_heat": "1",
    "knock_a": "1",
    "knock_c": "1",
    "fuel_energy": "J",
    "unburnt_energy": "J",
    "periodicity": "1",
    "status": "1",
}
"""Fields of a cycle result, one number for each engine speed."""

GOAL_UNITS: Mapping[str, str] = {
    "speed": "rad/s",
    "boost": "Pa",
    "boost_sd": "Pa",
    "plenum_pressure": "Pa",
    "plenum_temperature": "K",
    "exhaust_pressure": "Pa",
    "lam": "1",
    "mbt_spark": "rad",
    "knock_spark": "rad",
    "used_spark": "rad",
    "settled": "1",
    "turbine_enough": "1",
    "flow_over_surge": "1",
    "flow_over_choke": "1",
    "tip_speed": "m/s",
    "shaft_speed": "rad/s",
    "pressure_ratio": "1",
    "compressor_outlet_temperature": "K",
    "turbine_inlet_temperature": "K",
    "compressor_inlet_pressure": "Pa",
    "turbine_outlet_pressure": "Pa",
    "pulse_peak_pressure": "Pa",
}
"""Fields of the operating line with the turbo. Crank angles: 0 at firing top dead centre, negative before."""

GATE_UNITS: Mapping[str, str] = {
    "boost_asked": "Pa",
    "boost_spring_only": "Pa",
    "boost_spring_only_sd": "Pa",
    "boost_crack": "Pa",
    "boost_gate_open": "Pa",
    "boost_control_top": "Pa",
    "boost_held": "Pa",
    "gate_lift": "m",
    "gate_area": "m2",
    "gate_at_stop": "1",
    "gate_area_needed": "m2",
    "gate_duty": "1",
}
"""What spring and control make of the boost, one number for each engine speed of the operating line."""

PULL_UNITS: Mapping[str, str] = {"time": "s", "boost": "Pa", "crank": "rad/s", "shaft": "rad/s"}
"""One pull over time. Boost is in Pa above the outside air."""

"""Reading of ``transient.toml``: inertia of turbos, heat lag of exhaust walls, control and road constants."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text
from boostwright.physics.driveline import RotatingMass
from boostwright.physics.shaft import InertiaRecipe

__all__ = [
    "Control",
    "HeatLagConstants",
    "RoadConstants",
    "TransientConstant",
    "constants",
    "control",
    "heat_lag",
    "inertia_recipe",
    "road",
]

_SI_UNITS = {"-", "m", "s", "K", "kg m2", "rad/s"}


class TransientConstant(NamedTuple):
    """One row of the table."""

    value: float
    unit: str
    source: str


class HeatLagConstants(NamedTuple):
    """How exhaust walls warm after easy driving."""

    fast_share: float  # of what the walls take, by parts that warm fast [-]
    fast_time: float  # [s]
    slow_time: float  # cast manifold [s]
    tubular_time: float  # manifold of tubes [s]
    start_temperature: float  # [K]
    start_spread: float  # one standard deviation [K]
    path_length: float  # of one cylinder's gas from valve to turbine wheel [m]


class Control(NamedTuple):
    """How boost is held, and when it counts as there."""

    gate_time: float  # lag of the gate behind its signal [s]
    gate_band: float  # share of the boost, below the goal, in which control bleeds surplus off [-]
    arrived: float  # share of the boost wanted [-]
    idle_shaft: float  # least shaft speed [rad/s]
    usual_shaft: float  # after easy driving [rad/s]


class RoadConstants(NamedTuple):
    """What stands against the car."""

    rolling: float  # coefficient of rolling resistance [-]
    efficiency: float  # of gearbox and axle [-]
    rotating: RotatingMass
    rolling_radius: float  # over the free radius [-]


@cache
def _table() -> dict[str, dict[str, TransientConstant]]:
    raw: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(read_text("transient.toml"))
    table = {
        section: {name: TransientConstant(**row) for name, row in rows.items()}
        for section, rows in raw.items()
    }
    if not {row.unit for rows in table.values() for row in rows.values()} <= _SI_UNITS:
        raise ValueError("transient.toml holds a unit that is not SI")
    return table


def constants(section: str) -> dict[str, TransientConstant]:
    """Rows of one section ('inertia', 'heat_lag', 'control', 'road') with unit and source."""
    return dict(_table()[section])


def _values(section: str) -> dict[str, float]:
    return {name: row.value for name, row in _table()[section].items()}


@cache
def inertia_recipe() -> InertiaRecipe:
    """Constants of the inertia estimate, SI."""
    return InertiaRecipe(**_values("inertia"))


@cache
def heat_lag() -> HeatLagConstants:
    """Constants of the heat that cold walls take, SI."""
    return HeatLagConstants(**_values("heat_lag"))


@cache
def control() -> Control:
    """Constants of boost control, SI."""
    return Control(**_values("control"))


@cache
def road() -> RoadConstants:
    """Constants of the car on the road, SI."""
    values = _values("road")
    rotating = RotatingMass(values["rotating_wheels"], values["rotating_engine"])
    return RoadConstants(values["rolling"], values["efficiency"], rotating, values["rolling_radius"])

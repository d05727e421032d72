"""Measured points of a turbine map, as a file states them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["TurbinePoints"]


@dataclass(frozen=True, slots=True)
class TurbinePoints:
    """Points of a turbine map, SI; equal files give equal records.

    Flows are corrected mass flows at the reference state, speeds corrected to the reference temperature; None
    where a point does not state its speed or efficiency, or the file its reference state.
    """

    expansion_ratio: tuple[float, ...]  # total inlet over static outlet, absolute [-]
    flow: tuple[float, ...]  # [kg/s]
    efficiency: tuple[float | None, ...]  # total to static [-]
    speed: tuple[float | None, ...]  # [rad/s]
    line: tuple[int, ...]  # of the file, the first is 1
    reference_temperature: float | None = None  # [K]
    reference_pressure: float | None = None  # [Pa absolute]
    file: str = ""

"""Measured points of a compressor map, as a file states them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MapPoints"]


@dataclass(frozen=True, slots=True)
class MapPoints:
    """Points of a compressor map, SI; equal files give equal records.

    Speeds are corrected speeds [rad/s], or tip speeds at the reference temperature [m/s] where `tip_speed`
    says so, and None for a point of a contour of efficiency; flows are corrected mass flows [kg/s], or volume
    flows at the reference state [m3/s] where `volume_flow` says so. The reference state is None where the
    file does not state it.
    """

    speed: tuple[float | None, ...]
    flow: tuple[float, ...]
    pressure_ratio: tuple[float, ...]  # absolute over absolute [-]
    efficiency: tuple[float | None, ...]  # isentropic [-]
    line: tuple[int, ...]  # of the file, the first is 1
    tip_speed: bool = False
    volume_flow: bool = False
    reference_temperature: float | None = None  # [K]
    reference_pressure: float | None = None  # [Pa absolute]
    file: str = ""

    @property
    def with_efficiency(self) -> bool:
        """True when at least one point has its efficiency."""
        return any(eta is not None for eta in self.efficiency)

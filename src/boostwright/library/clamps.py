"""Reading of ``clamps.toml``: what tension a hose clamp's band has, and what hose and pipe make of it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["KINDS", "Clamp", "HoseGrip", "clamp", "hose_grip"]

KINDS = ("worm", "bolt", "spring", "tie")


class Clamp(NamedTuple):
    """One kind of clamp."""

    words: str
    tension: float  # of the band as fitted [N]
    sd: float  # [N]
    source: str
    torque: float = 0.0  # on the screw that gives this tension [N m]; 0 without a screw
    screw_sd: float = 0.0  # relative, of the tension at a known torque: friction in the screw [-]

    def at_torque(self, torque: float, torque_sd: float) -> Clamp:
        """The same clamp drawn to a known torque: its tension goes with it; as it is without a screw."""
        if self.torque <= 0.0:
            return self
        tension = self.tension * torque / self.torque
        return self._replace(tension=tension, sd=tension * math.hypot(self.screw_sd, torque_sd / torque))


class HoseGrip(NamedTuple):
    """What hose, pipe and bead make of a band's tension; value and standard deviation of each."""

    setting: tuple[float, float]  # share of the tension left when the hose has set [-]
    friction: tuple[float, float]  # [-]
    flank: tuple[float, float]  # of a bead, from the pipe's axis [rad]
    width: tuple[float, float]  # of the band [m]
    burst: tuple[float, float]  # of the hose [Pa]


@cache
def _rows() -> Mapping[str, Mapping[str, float | str]]:
    return tomllib.loads(read_text("clamps.toml"))


@cache
def clamp(kind: str) -> Clamp:
    """One kind of clamp. Raises KeyError for a kind that the table does not have."""
    if kind not in KINDS:
        raise KeyError(kind)
    row = _rows()[kind]
    return Clamp(
        words=str(row["words"]),
        tension=float(row["tension"]),
        sd=float(row["sd"]),
        source=str(row["source"]),
        torque=float(row["torque"]),
        screw_sd=float(row["screw_sd"]),
    )


@cache
def hose_grip() -> HoseGrip:
    """Setting, friction, flank and width of the table."""

    def pair(name: str, factor: float = 1.0) -> tuple[float, float]:
        row = _rows()[name]
        return factor * float(row["value"]), factor * float(row["sd"])

    return HoseGrip(
        setting=pair("after_setting"),
        friction=pair("friction"),
        flank=pair("flank", math.pi / 180.0),
        width=pair("width", 1e-3),
        burst=pair("hose", 1e5),
    )

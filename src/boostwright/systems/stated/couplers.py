"""The couplers of the charge pipes that a build states: bore, clamps, bead."""

from __future__ import annotations

from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.library.clamps import Clamp, clamp

__all__ = ["Couplers", "couplers_of"]

USUAL_CLAMP = "worm"  # where nobody says; common practice, no source


class Couplers(NamedTuple):
    """The couplers of one charge path."""

    bore: float  # inside of the hose on the pipe [m]
    bore_sd: float
    clamp: Clamp
    bead: bool
    left_out: tuple[str, ...]  # what nobody stated, in words


def couplers_of(build: Build) -> Couplers:
    """Clamps and beads; worm-drive bands on plain ends stand in for what is not stated."""
    kind, bead, bore = build.get("pipes.clamp"), build.get("pipes.bead"), build["pipes.bore"]
    left_out = []
    if kind is None:
        left_out.append("clamps")
    if bead is None:
        left_out.append("bead")
    fitted = clamp(USUAL_CLAMP if kind is None else str(kind.value))
    torque = build.get("pipes.clamp_torque")
    if torque is not None:
        fitted = fitted.at_torque(float(torque.value), float(torque.sd))
    return Couplers(
        bore=float(bore.value),
        bore_sd=float(bore.sd),
        clamp=fitted,
        bead=False if bead is None else bool(bead.value),
        left_out=tuple(left_out),
    )

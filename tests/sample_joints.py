"""Invented joints for tests of views: a tee, a part without a name, one of each verdict, a long name."""

from __future__ import annotations

from boostwright.findings.joint_graph import DrawnJoint, Part
from boostwright.findings.model import Verdict
from boostwright.systems.joints import Carried

__all__ = ["drawn"]


def drawn() -> tuple[DrawnJoint, ...]:
    """Six joints in two circuits and one that nobody said what it carries."""
    block, tee, turbo, hose = Part("engine block"), Part("tee"), Part("turbo"), Part("feed hose")
    holds, breaks = Verdict.HOLDS, Verdict.BREAKS
    return (
        DrawnJoint("tee at the block", (block, tee), ("Rc 1/8 female", "1/8-27 NPT male"), "PTFE tape",
                   Carried.OIL, breaks, "halves do not mate (flank angle)"),
        DrawnJoint("switch in the tee", (tee, Part("pressure switch")), ("Rc 1/8 female", "R 1/8 male"),
                   "paste", Carried.OIL, holds, ""),
        DrawnJoint("feed hose at the tee", (hose, tee),
                   ("-4 flare 37 degree female", "-4 flare 37 degree male"), "nothing",
                   Carried.OIL, Verdict.TIGHT, "tested too low"),
        DrawnJoint("feed hose at the turbo, under the shield that nobody can reach with two hands",
                   (hose, turbo), ("banjo bolt M10x1 male", "M10x1 female"), "washer", Carried.OIL,
                   Verdict.UNKNOWN, "not tried"),
        DrawnJoint("drain", (turbo, Part("a part not named", 9)), ("hose 16 mm", "spigot 16 mm"), "clamp",
                   Carried.OIL_DRAIN, holds, ""),
        DrawnJoint("odd one", (Part("a part not named", 11), Part("a part not named", 12)),
                   ("hose 5 mm", "spigot 5 mm"), "", None, Verdict.UNKNOWN, "seal not stated"),
    )  # fmt: skip

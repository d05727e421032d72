"""What pulls the couplers off the charge pipes, and what clamps and beads hold."""

from __future__ import annotations

import math
from typing import NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.subjects.cuts import highest_pressure
from boostwright.findings.sure import deviations
from boostwright.library.clamps import Clamp, clamp, hose_grip
from boostwright.physics.coupler import band_friction, bead_resistance, pull_off_force
from boostwright.systems.stated.couplers import Couplers, couplers_of

__all__ = ["coupler"]


class _Grip(NamedTuple):
    """What one band holds on one pipe end."""

    tension: float  # [N]
    setting: float  # [-]
    friction: float  # [-]
    flank: float  # [rad]; 0 without a bead
    width: float  # [m]
    pressure: float  # [Pa above ambient]
    bore: float  # [m]
    burst: float  # of the hose [Pa]

    def holds(self) -> float:
        """The plain end by friction less what creeps under the hose, the bead by its flank; the hose at
        the most, which stands twice its burst pressure along its axis [N].
        """
        left = self.tension * self.setting
        tear = 2.0 * float(pull_off_force(self.burst, self.bore))
        held = float(band_friction(left, self.friction, self.pressure, self.bore, self.width))
        if self.flank > 0.0:
            held = max(held, float(bead_resistance(left, self.friction, self.flank)))
        return min(held, tear)


def _grip(parts: Couplers, kind: Clamp, bead: bool, pressure: float) -> tuple[float, float]:
    """Force that a coupler holds and its standard deviation, to first order in each uncertain part [N]."""
    table = hose_grip()
    middle = _Grip(
        kind.tension,
        table.setting[0],
        table.friction[0],
        table.flank[0] if bead else 0.0,
        table.width[0],
        pressure,
        parts.bore,
        table.burst[0],
    )
    spreads: dict[str, float] = {
        "tension": kind.sd,
        "setting": table.setting[1],
        "friction": table.friction[1],
        "width": table.width[1],
        "burst": table.burst[1],
    }
    if bead:
        spreads["flank"] = table.flank[1]
    value = middle.holds()

    def moved(name: str, by: float) -> float:
        return middle._replace(**{name: getattr(middle, name) + by}).holds()

    parts_sd = [moved(n, 0.5 * s) - moved(n, -0.5 * s) for n, s in spreads.items()]
    return value, math.hypot(*parts_sd)


@rule(
    "charge.coupler",
    "Couplers of the charge pipes",
    asks="Do clamps and beads hold the hoses on the pipes at the highest boost?",
    demand="pressure of the match on the worst day with creep and spike, on the pipe's cross-section",
    capacity="friction of the clamp's band on the pipe, and its bead where there is one",
    harm=Harm.DAMAGE,
    harm_words="a hose jumps off at full load: boost is gone at once, the turbo runs away, and with an air"
    " meter the engine drowns in fuel",
    sense=Sense.AT_MOST,
)
def coupler(rule: Rule, case: Case) -> Finding | None:
    """F = p pi/4 D^2 against mu (2 pi T - p pi D w), on a bead 2 pi T (mu + tan b)/(1 - mu tan b)."""
    found = highest_pressure(case) if case.goal is not None else None
    if found is None or case.build.count("pipes.couplers") == 0:
        return None
    top, there = found
    i = there.place
    goal = there.goal
    loss = float(goal.compressor_inlet_pressure[i] * goal.pressure_ratio[i] - goal.plenum_pressure[i])
    gauge = top.value - there.line.ambient_pressure + max(loss, 0.0)
    parts = couplers_of(case.build)
    pull = float(pull_off_force(gauge, parts.bore))
    pull_sd = pull * math.hypot((top.sd or 0.0) / gauge, 2.0 * parts.bore_sd / parts.bore)
    demand = Amount(pull, pull_sd, Kind.PULL, "pull on the coupler")
    value, sd = _grip(parts, parts.clamp, parts.bead, gauge)
    capacity = Amount(value, sd, Kind.PULL, "what clamp and pipe end hold")
    amounts = {
        "pressure": Amount(gauge, top.sd, Kind.PRESSURE_GAUGE),
        "bore": Amount(parts.bore, None, Kind.LENGTH),
        "pull": demand,
        "holds": capacity,
    }
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "pipes.clamp", parts.clamp.source, "Tension, friction with oil mist, and a hose that has set."
        ),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            f"{{pressure}} on a bore of {{bore}} pulls with {{pull}}; {parts.clamp.words} on"
            f" {'beaded' if parts.bead else 'plain'} ends hold {{holds:band}}, with oil mist between and"
            " the hose set.",
            amounts,
        ),
        remedy=_remedy(parts, gauge, demand, capacity),
        reading=Reading(
            "Look at every pipe end and every clamp: a bead under the hose, the band behind it, no oil."
            " Then press the pipes to a fifth above the boost wanted, from a distance, and mark whether a"
            " hose has moved.",
            1800.0,
        ),
        about=("pipes.clamp", "pipes.clamp_torque", "pipes.bead", "pipes.bore"),
        assumed=_assumed(parts),
    )


def _assumed(parts: Couplers) -> str:
    if not parts.left_out:
        return ""
    said = {"clamps": "what clamps there are", "bead": "whether the pipe ends have a bead"}
    listed = " and ".join(said[name] for name in parts.left_out)
    usual = {"clamps": "worm-drive bands", "bead": "plain ends"}
    stand = " on ".join(usual[name] for name in parts.left_out)
    return f"The file does not say {listed}; {stand} are assumed."


def _sure(demand: Amount, capacity: Amount) -> bool:
    room = capacity.value - demand.value
    return room >= deviations(Harm.DAMAGE) * math.hypot(demand.sd or 0.0, capacity.sd or 0.0)


def _remedy(parts: Couplers, gauge: float, demand: Amount, capacity: Amount) -> Phrase:
    """What holds for sure, from the cheapest: beads for the same bands, other bands, both."""
    if _sure(demand, capacity):
        return Phrase(
            "Leave them. Wipe pipe and hose free of oil, clamp behind the bead, and tighten once more after"
            " the first heat."
        )

    def with_(kind: Clamp, bead: bool) -> Amount:
        value, sd = _grip(parts, kind, bead, gauge)
        return Amount(value, sd, Kind.PULL)

    bolt = clamp("bolt")
    screwed = parts.clamp.torque > 0.0
    beaded, bolted, both = with_(parts.clamp, True), with_(bolt, parts.bead), with_(bolt, True)
    amounts = {
        name: Amount(grip.value, None, Kind.PULL)
        for name, grip in (("bead", beaded), ("bolt", bolted), ("both", both))
    }
    if not parts.bead and screwed and _sure(demand, beaded):
        return Phrase(
            "Roll or weld a bead on every pipe end and clamp behind it: the same bands then hold {bead}.",
            amounts,
        )
    if _sure(demand, bolted):
        return Phrase("Fit bands with a bolt across: they hold {bolt} on these ends.", amounts)
    return Phrase(
        "Roll or weld a bead on every pipe end and fit bands with a bolt across behind it: they hold"
        " {both}. Brace each bend, so that the coupler need not hold it.",
        amounts,
    )

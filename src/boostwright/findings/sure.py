"""How far a demand or a limit must move for a verdict of 'holds': the numbers of remedies."""

from __future__ import annotations

import math
from statistics import NormalDist

from boostwright.findings.judge import HOLDS_FROM
from boostwright.findings.model import Amount, Harm, Sense

__all__ = ["deviations", "sure_demand", "sure_loss"]

_CLEAN = 0.2  # spread of a loss over new cables and clean joints, as a share (judgement)


def deviations(harm: Harm) -> float:
    """Standard deviations of room from which a finding holds: Phi^-1 of the probability wanted [-]."""
    return NormalDist().inv_cdf(HOLDS_FROM[harm])


def sure_demand(capacity: Amount, demand: Amount, sense: Sense, harm: Harm, relative: bool = False) -> float:
    """The demand that just holds against a capacity [unit of both].

    d = c -/+ z sqrt(sd_c^2 + sd_d^2), z of `deviations`; minus for a demand that must stay below.

    relative: the demand's spread shrinks and grows with the demand; then sd_d = r d and the equation is
    solved for d. A spread that nobody knows counts as none.
    """
    z, side = deviations(harm), -1.0 if sense is Sense.AT_MOST else 1.0
    own = capacity.sd or 0.0
    if not relative or demand.value <= 0.0:
        return capacity.value + side * z * math.hypot(own, demand.sd or 0.0)
    r = (demand.sd or 0.0) / demand.value
    # (d - c)^2 = z^2 (sd_c^2 + r^2 d^2), the root on the safe side, without a difference of like numbers
    a = 1.0 - (z * r) ** 2
    if a <= 0.0:
        return math.nan  # so uncertain that no demand is sure
    root = math.sqrt((r * capacity.value) ** 2 + a * own**2)
    return (capacity.value + side * z * root) / a


def sure_loss(capacity: Amount, demand: Amount, sense: Sense, harm: Harm) -> float:
    """The loss over cables and joints that just holds [unit of both].

    As `sure_demand` with a spread that shrinks with the loss; where today's is so wide that no loss would be
    sure, that of new cables and clean joints counts.
    """
    found = sure_demand(capacity, demand, sense, harm, relative=True)
    if math.isfinite(found) and found > 0.0:
        return found
    clean = Amount(capacity.value, _CLEAN * capacity.value, capacity.kind)
    return sure_demand(capacity, clean, sense, harm, relative=True)

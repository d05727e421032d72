"""Engine and turbo brought together into operating lines: `match`, and what is asked of it and answered."""

from boostwright.systems.match.breathing import Housing, exhaust_gas
from boostwright.systems.match.deviation import boost_deviation
from boostwright.systems.match.knock_limited import KnockLimited
from boostwright.systems.match.rounds import match
from boostwright.systems.match.types import (
    STATUS_WORDS,
    Branch,
    CycleRunner,
    GateModel,
    MatchResult,
    MatchSettings,
    MatchStart,
    MatchStatus,
    PulseLead,
    SparkFinder,
)

__all__ = [
    "STATUS_WORDS",
    "Branch",
    "CycleRunner",
    "GateModel",
    "Housing",
    "KnockLimited",
    "MatchResult",
    "MatchSettings",
    "MatchStart",
    "MatchStatus",
    "PulseLead",
    "SparkFinder",
    "boost_deviation",
    "exhaust_gas",
    "match",
]

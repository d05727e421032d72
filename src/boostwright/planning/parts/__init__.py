"""The parts list: closed over every joint and task, with odds that something is missing, and costs."""

from boostwright.planning.parts.arrivals import (
    Arrivals,
    MissingSample,
    arrivals,
    needed_on,
    sample_missing,
)
from boostwright.planning.parts.closing import parts_for
from boostwright.planning.parts.money import Due, Money, money, order_first
from boostwright.planning.parts.odds import MissingOdds, missing_odds
from boostwright.planning.parts.records import Ask, Band, Group, Lead, Line, PartsList, State, ToolLine

__all__ = [
    "Arrivals",
    "Ask",
    "Band",
    "Due",
    "Group",
    "Lead",
    "Line",
    "MissingOdds",
    "MissingSample",
    "Money",
    "PartsList",
    "State",
    "ToolLine",
    "arrivals",
    "missing_odds",
    "money",
    "needed_on",
    "order_first",
    "parts_for",
    "sample_missing",
]

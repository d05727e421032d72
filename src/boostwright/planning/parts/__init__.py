"""The parts list: closed over every joint and task, with odds that something is missing, and costs."""

from boostwright.planning.parts.closing import parts_for
from boostwright.planning.parts.records import Ask, Band, Group, Lead, Line, PartsList, State, ToolLine

__all__ = ["Ask", "Band", "Group", "Lead", "Line", "PartsList", "State", "ToolLine", "parts_for"]

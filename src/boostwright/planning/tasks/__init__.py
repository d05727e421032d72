"""The tasks of one build: what is to be done, by whom, in what order, with what, and why."""

from __future__ import annotations

from boostwright.planning.tasks.make import LeftOut, left_out_for, tasks_for

__all__ = ["LeftOut", "left_out_for", "tasks_for"]

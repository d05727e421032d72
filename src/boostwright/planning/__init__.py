"""The work itself: tasks, parts list, schedule, readings, commissioning steps; all made for one build."""

"""Checks of the simulator of recorded drives."""

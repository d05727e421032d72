"""Checks of the reader of recorded drives."""

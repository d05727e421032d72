"""Tests of the parts list."""

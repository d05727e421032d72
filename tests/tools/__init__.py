"""Checks of the tools that stand beside the package."""

"""Plots on paper and in folders. Importing this package does not import matplotlib; making a plot does."""

from __future__ import annotations

from boostwright.views.plots.book import draw_all, plot_names

__all__ = ["draw_all", "plot_names"]

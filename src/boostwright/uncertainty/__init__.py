"""Spreads of values and what becomes of them."""

from boostwright.uncertainty.spread import Spread

__all__ = ["Spread"]

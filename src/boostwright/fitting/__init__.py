"""The model fitted to the engine in front of the builder."""

from boostwright.fitting.fitted import fitted_build
from boostwright.fitting.record import Fit, FitLine
from boostwright.fitting.solve import fit

__all__ = ["Fit", "FitLine", "fit", "fitted_build"]

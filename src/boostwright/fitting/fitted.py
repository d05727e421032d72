"""A build with the factors that a fit found, where nobody stated them."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from boostwright.build.document import Build
from boostwright.fitting.record import Fit

__all__ = ["FITTED", "fitted_build"]

FITTED: Final = "fitted to this engine's own figures"  # note of a value that a fit has moved


def fitted_build(build: Build, fit: Fit, *, for_draws: bool = False) -> Build:
    """The same build, its assumed factors replaced by fitted ones with their spreads.

    What the file states always wins and is never overwritten; the values stay 'assumed' for every reader, as
    nobody stated them. build: the one that was fitted, or one with the same file. for_draws: with the values
    half-way between the laws of the model, about which draws with either law scatter (`Fit.together`).
    """
    found = {}
    values, sds = (fit.between, fit.between_sd) if for_draws else (fit.value, fit.sd)
    for path, value, sd in zip(fit.paths, values, sds, strict=True):
        if build.is_stated(path):
            continue
        found[path] = replace(build[path], value=float(value), sd=float(sd), note=FITTED)
    return replace(build, _defaults=found)

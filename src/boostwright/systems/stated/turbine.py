"""The turbine that a build states: its map before its sizes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from boostwright.build.document import Build
from boostwright.library import turbo_sizes
from boostwright.physics.turbine import TurbineSizes, check_turbine, peak_turbine_efficiency
from boostwright.physics.turbine_map import TurbineFit, fit_turbine
from boostwright.physics.turbine_unit import SizedTurbine, Turbine

__all__ = ["StatedTurbine", "turbine_of"]


class StatedTurbine(NamedTuple):
    """A turbine, and the same one deviation worse in one thing each."""

    turbine: Turbine
    worse: tuple[Turbine, ...]  # wider, less efficient
    area_sd: float  # relative [-]
    efficiency_sd: float  # absolute [-]
    fit: TurbineFit | None  # None: from sizes
    warnings: tuple[str, ...]


def turbine_of(build: Build) -> StatedTurbine:
    """The turbine of the turbo, from its map where the build names one that was read, else from its sizes.

    Raises OutOfRange for a map through which no swallowing runs, and, where there is no map, for wheels or
    housings outside the ground of the estimate.
    """
    recipe, band = turbo_sizes.turbine_recipe(), turbo_sizes.turbine_band()
    sizes = TurbineSizes(
        build.number("turbo.turbine_inducer"),
        build.number("turbo.turbine_exducer"),
        build.number("turbo.turbine_housing"),
    )
    points = build.turbine_map
    if points is None:
        check_turbine(sizes, recipe)
        unread = (
            ("The turbine map that the file names was not read; the sizes are used instead.",)
            if build.get("turbo.turbine_map") is not None
            else ()
        )
        middle = SizedTurbine(sizes, recipe)
        worse = (
            middle._replace(area_factor=1 + band.area),
            middle._replace(efficiency_shift=-band.efficiency),
        )
        return StatedTurbine(middle, worse, band.area, band.efficiency, None, unread)
    fit = fit_turbine(
        points.expansion_ratio,
        points.flow,
        np.array([np.nan if eta is None else eta for eta in points.efficiency]),
        np.array([np.nan if n is None else n for n in points.speed]),
        sizes.Dt,
        recipe,
        usual_peak=float(peak_turbine_efficiency(sizes.Dt, recipe)),
        efficiency_sd=band.efficiency,
        reference=(points.reference_temperature, points.reference_pressure),
    )
    return StatedTurbine(fit.turbine, fit.one_worse(), fit.area_sd, fit.efficiency_sd, fit, fit.taken)

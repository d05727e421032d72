"""One row of readings beside the model, and the slopes that every quantity of the cycle shares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.model_at import FACTOR_PATHS, Predicted
from boostwright.drive.points import Points

__all__ = ["Row", "light_load", "sensor_slopes"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Row:
    """Readings of one quantity at some points, arrays (m,), in the scale in which they are compared.

    at: places in the points. read, expected: SI, logarithms where `log`. own_sd: of each reading and of how
    it moves within its step. form_sd: of the model there, beside its unknowns. slopes: by unknown, of
    expectation less reading.
    """

    key: str
    words: str
    dimension: str
    at: NDArray[np.int64]
    read: Array
    expected: Array
    own_sd: Array
    form_sd: Array
    slopes: Mapping[str, Array]
    log: bool = False

    @property
    def off(self) -> Array:
        """Reading less expectation, in the scale of the row."""
        return self.read - self.expected

    def band(self, sds: Mapping[str, float]) -> Array:
        """Standard deviation of the expectation less reading by the unknowns and the model's form, (m,)."""
        total = self.form_sd**2
        for name, slope in self.slopes.items():
            total = total + (slope * sds.get(name, 0.0)) ** 2
        return np.asarray(np.sqrt(total))


def light_load(pressure: Array) -> Array:
    """How light a load is: 0 from 100 kPa in the manifold upwards, 1 at no pressure [-]."""
    return np.asarray(np.clip(1.0 - np.asarray(pressure) / 1.0e5, 0.0, 1.0))


def sensor_slopes(quantity: str, points: Points, model: Predicted, at: NDArray[np.int64]) -> dict[str, Array]:
    """Slopes of one of `model_at.QUANTITIES` over factors and over what the sensors are off by, at points."""
    found = {path: model.slopes[path][quantity][at] for path, _ in FACTOR_PATHS}

    def by(name: str) -> Array:
        return model.slopes[name][quantity][at]

    found["sensor.manifold_pressure"] = -by("pressure")
    found["sensor.intake_temperature"] = -by("temperature")
    found["sensor.lambda"] = -by("lambda") * points.mean["lambda"][at]
    found["sensor.spark_advance"] = by("spark")
    found["form.light_load"] = found["model.breathing"] * light_load(points.pressure[at])
    found["form.back"] = by("back") * np.maximum(points.back - 1.0e5, 0.0)[at]
    return found
